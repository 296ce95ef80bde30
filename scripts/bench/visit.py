"""A whole visit in the real window by keys alone or by mouse alone, on the simulated practice house.

    python scripts/bench/visit.py keys|mouse [WIDTHxHEIGHT [FOLDER]]

Three rooms, nine spots, all checks, everything on (each reading by the big button) and everything off (hands-free). The
house does what a person does between the keys: goes to a spot, holds the probe to the reference wire, wets the soil,
switches everything off. Keys, clicks and minutes are counted by part; by mouse the names are typed, and their keys
counted apart. Pictures go to FOLDER if one is given. Where a step does not do what it must, the visit ends there with
a sentence and a picture. Needs Xvfb, xdotool and ImageMagick's `import`.
"""

from __future__ import annotations

import contextlib
import sys
import tempfile
from collections import Counter
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.metrology.checks import REQUIRED_CHECKS, STEPS, CheckKind, CheckVerdict
from logger.settling.events import State
from logger.simulation.house.control import send_command
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.results.on_off_result import SpotResult
from scripts.window_user import Keys, Mouse, User, state_set_up
from scripts.x_screen import Screen, StuckError

ROOMS: dict[str, tuple[str, tuple[str, ...]]] = {
    # Room: the usual spot that it has not, and where in the house each other one is.
    "Bedroom": ("desk", ("Bedroom, centre", "Bed, right", "Bed, left")),
    "Study": ("bed", ("Study, centre", "Study, window", "Desk")),
    "Living": ("bed", ("Living room, centre", "Armchair", "Sofa, left")),
}

HANDS = {"keys": Keys, "mouse": Mouse}

SETTLE_S = 180.0
"""How long a value may take to settle, or a round without hands to the next reading, on a slow computer."""
STILL_S = 4.0
"""For so long a value is settled before it is taken."""
CHECK_STILL_S = 12.0
"""The same in a check: a shorter rest between two changes may be called a motion afterwards, and be in doubt."""


class Person:
    """Somebody in the simulated house, at the window.

    Args:
        user: their hand.
        folder: where the visit and the control file of the house are.
        pictures: where pictures go; None draws none.
    """

    def __init__(self, user: User, control: Path, log: VisitLog, pictures: Path | None) -> None:
        self.user = user
        self.log = log
        self._control = control
        self._pictures = pictures

    def do(self, *commands: str) -> None:
        """Do something in the house."""
        for command in commands:
            send_command(self._control, command)

    def shot(self, name: str) -> None:
        """Save a picture."""
        if self._pictures is not None:
            self.user.screen.picture(self._pictures / f"{self.user.screen.size[0]}-{name}.png")

    def do_and_settle(self, *commands: str, still_s: float = STILL_S) -> None:
        """Do something and wait for a value that settled after it, and has been so for some seconds."""
        live = self.log.recorder.live()
        before = live.beat_steady_utc_ns if live else 0
        self.do(*commands)

        def settled() -> bool:
            now = self.log.recorder.live()
            return (
                now is not None
                and now.state is State.SETTLED
                and now.since_steady_utc_ns > before
                and now.beat_steady_utc_ns - now.since_steady_utc_ns >= still_s * 1e9
            )

        self.user.wait(f"it is settled after {commands}", settled, SETTLE_S)

    def take_check(self, kind: CheckKind, *steps: tuple[str, ...]) -> None:
        """Do a check: what is done in the house before each of its values, and the value."""
        before = len(self.log.checks.all())
        for step, commands in zip(STEPS[kind], steps, strict=True):
            self.do_and_settle(*commands, still_s=CHECK_STILL_S)
            self.user.wait(
                "the window no longer asks to hold still for longer",
                lambda: not self.user.sees("gets more certain"),
                SETTLE_S,
            )
            if step is STEPS[kind][-1]:
                self.shot(f"check-{kind.split()[0]}")
            self.user.take(f"{kind}, {step.name}", partial(self._is_taken, step.name, before))
        result = self.log.checks.all()[-1]
        if (result.kind, result.outcome.verdict) != (kind, CheckVerdict.PASSED):
            raise StuckError(f"{result.kind}: {result.outcome.verdict}. {result.outcome.sentence}")

    def _is_taken(self, step: str, results_before: int) -> bool:
        """Whether a step of a check has its value: the check has its result, or the page shows the value."""
        return len(self.log.checks.all()) > results_before or any(
            seen.within == "Steps of the check" and seen.text.startswith(step) and " V" in seen.text
            for seen in self.user.look()
        )

    def take_reading(self) -> None:
        """Take the settled value at the chosen spot."""
        before = self._count()
        self.user.take("a reading", lambda: self._count() > before or bool(self.user.asked()))
        if self._count() == before:
            # Where the way there left no motion on the trace, the window asks whether somebody went: they did.
            self.user.answer("everything on" if self.user.asked()[0].startswith("What is on") else "yes")
            self.user.wait("it is taken", lambda: self._count() == before + 1)

    def _count(self) -> int:
        return len(self.log.readings.all())


def prepare(me: Person) -> None:
    """The set-up, one question after the other."""
    user = me.user
    user.begin("prepare")
    me.shot("prepare-empty")
    user.stage("Prepare")
    state_set_up(user, "practice", lambda: me.shot("prepare-asks-reference"))
    setup = me.log.setup.current()
    if setup.reference != "earth rod" or not setup.on_battery or not setup.link_isolated:
        raise StuckError(f"the set-up is not what was answered: {setup}")
    me.shot("prepare-done")


def check(me: Person) -> None:
    """The three checks that readings ask for."""
    me.user.begin("check")
    me.user.stage("Check")
    me.take_check(CheckKind.ZERO, ("probe on reference wire", "lie still"))
    me.take_check(
        CheckKind.REFERENCE,
        ("probe in hand", "go to Bed, left"),
        ("wet the soil", "go to Bedroom, centre", "go to Bed, left"),
    )
    me.user.answer("yes")  # the soil was wetted
    me.take_check(
        CheckKind.FUNCTION,
        ("lamp unplug", "turn over", "lie still"),  # no cord near
        ("lamp plug", "lamp on"),
        ("lamp off", "lamp unplug"),
    )
    me.shot("check-done")
    done = {result.kind for result in me.log.checks.all()}
    if done != set(REQUIRED_CHECKS):
        raise StuckError(f"other checks were done: {done}")


def plan(me: Person) -> list[str]:
    """The spots of three rooms; returns where each is in the house."""
    user = me.user
    user.begin("plan the spots")
    user.stage("Spots")
    count = 0
    for room, (left_out, places) in ROOMS.items():
        user.act("spots.room")
        user.enter(room)
        user.tick(left_out, False)
        if room == "Bedroom":
            me.shot("spots-of-a-room")
        user.confirm()
        count += len(places)
        user.wait(f"{count} spots are planned", partial(_is_planned, me, count))
    me.shot("spots-planned")
    return [place for _, places in ROOMS.values() for place in places]


def _is_planned(me: Person, count: int) -> bool:
    return len(me.log.spots.all()) == count


def _is_chosen(me: Person, number: int) -> bool:
    return any(s.within == "Spots" and s.is_on and s.text.startswith(f"{number} ") for s in me.user.look())


def _is_read(me: Person, count: int) -> bool:
    return len(me.log.readings.all()) >= count


def read_everything_on(me: Person, places: list[str]) -> None:
    """The round with everything on, each reading by the big button."""
    user = me.user
    user.begin("on, by the big button")
    user.act("spots.unread")
    me.do("lamp plug", "everything on")
    for number, (place, spot) in enumerate(zip(places, me.log.spots.all(), strict=True), 1):
        user.wait(f"the window has gone on to spot {number}", partial(_is_chosen, me, number))
        me.do_and_settle(f"go to {place}")
        me.take_reading()
        read = me.log.readings.all()
        if len(read) != number or read[-1].spot_id != spot.id:
            raise StuckError(f"reading {number} is not that of “{spot.name}”: {[r.spot_name for r in read]}")
        if number == 5:
            me.shot("spots-half-read")
    me.shot("offers-everything-off")


def read_everything_off(me: Person, places: list[str]) -> None:
    """The round with everything off, without hands."""
    user = me.user
    user.begin("off, hands-free")
    me.do_and_settle("everything off")  # so that going to the first spot is a motion of its own
    user.answer("everything is off now")
    user.act("measure.hands_free")
    for number, place in enumerate(places, len(places) + 1):
        me.do(f"go to {place}")
        if number == len(places) + 4:
            me.shot("hands-free-counts-down")
        user.wait(f"there is reading {number}", partial(_is_read, me, number), SETTLE_S)
    me.shot("finished")


def judge(me: Person) -> None:
    """Print what was found; `StuckError` where it is not what was done."""
    for result in me.log.checks.all():
        print(f"{result.kind}: {result.outcome.verdict}. {result.outcome.sentence}")
    for spot in me.log.spots.all():
        found = SpotResult.of(me.log.readings.all(), spot.id)
        print(f"{spot.name}: {found.pair()}  {found.meaning(me.log.setup.current().target_volts)}")
    conditions = Counter(reading.condition for reading in me.log.readings.all())
    if conditions != {EVERYTHING_ON: 9, EVERYTHING_OFF: 9}:
        raise StuckError(f"the readings are not nine on and nine off: {conditions}")


def draw_afterwards(me: Person) -> None:
    """Pictures of pages that the visit does not need."""
    me.user.begin("")
    me.user.act("spots.budget")
    me.shot("budget")
    me.user.act("view.back", "view.dark")
    me.shot("finished-dark")
    for stage in ("Prepare", "Check"):
        me.user.stage(stage)
        me.shot(f"{stage.lower()}-dark")


def visit(user: User, control: Path, path: Path, pictures: Path | None) -> None:
    """From an empty start to a finished visit.

    Args:
        user: at the window.
        control: the control file of the house.
        path: the visit log that the window makes.
        pictures: where pictures go; None draws none.
    """
    user.begin("connect")
    user.wait("the window is there", path.exists)
    with contextlib.closing(VisitLog.open(path)) as log:
        me = Person(user, control, log, pictures)
        user.primary("start recording")
        user.wait("it records", lambda: log.recorder.live() is not None)
        prepare(me)
        check(me)
        places = plan(me)
        read_everything_on(me, places)
        read_everything_off(me, places)
        user.begin("")
        judge(me)
        if pictures is not None:
            draw_afterwards(me)
        user.close(stop=True)
        user.wait("the recorder has ended", lambda: (now := log.recorder.live()) is not None and now.ended)


def main() -> int:
    """Returns the exit code."""
    if len(sys.argv) < 2 or sys.argv[1] not in HANDS:
        print(__doc__)
        return 2
    size = sys.argv[2] if len(sys.argv) > 2 else "1280x720"
    pictures = Path(sys.argv[3]) if len(sys.argv) > 3 else None
    if pictures is not None:
        pictures.mkdir(parents=True, exist_ok=True)
    screen = Screen(*map(int, size.split("x")))
    with contextlib.closing(screen), tempfile.TemporaryDirectory(prefix="stillvolt-visit-") as folder:
        control, path = Path(folder, "control"), Path(folder, "Practice house.visit")
        control.touch()
        port = f"sim://house?scene=practice&control={control}"
        user = HANDS[sys.argv[1]](screen, ["logger", "--visit", str(path), "--port", port])
        try:
            visit(user, control, path, pictures)
        except Exception as error:
            stuck = (pictures or Path(tempfile.gettempdir())) / "visit-stuck.png"
            screen.picture(stuck)
            if not isinstance(error, StuckError):
                raise
            print(f"visit: {error}", file=sys.stderr)
            return 1
        finally:
            user.close(stop=True)
        user.print_counts()
    return 0


if __name__ == "__main__":
    sys.exit(main())
