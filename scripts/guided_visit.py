"""Walks the first visit of the help in the real window, by its keys alone, and makes the pictures of gui/practice.

    python scripts/guided_visit.py [--language CODE] [FOLDER]        FOLDER: fixtures/pictures

What `./scripts/run` opens: the practice house, already recorded by a recorder of its own. Every action that is run
here stands on that page, else the walk ends; keys and minutes are counted. In another language the window is that of a
system set to it.
Needs Xvfb, xdotool, ImageMagick and pdftoppm.
"""

from __future__ import annotations

import argparse
import contextlib
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # so that the tree itself can be imported

from gui.shell.help.help_pages import FIRST_VISIT, FOLDER
from logger.catalogue import SOURCE_LANGUAGE, languages
from logger.clock import NS_PER_S
from logger.metrology.checks import MIN_STEP_S, CheckKind, CheckVerdict
from logger.settling.events import State
from logger.sweep.sweep_progress import Combination, circuits_of, sweep_progress
from logger.sweep.switch_off_plan import SwitchOffPlan, switch_off_plan
from logger.translation import set_language, tr
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from scripts.window_user import Keys, state_set_up
from scripts.x_screen import Screen, StuckError

PICTURES = Path(__file__).parents[1] / "fixtures" / "pictures"
SIZE = (1280, 720)
PAGE = (FOLDER / f"{FIRST_VISIT.name}.md").read_text(encoding="utf-8")
COLOURS = 64
"""Of each picture: keeps them small."""

CIRCUITS = {"Bedroom outlets": "1", "Bedroom light": "2", "Study outlets": "3"}
"""Those that are swept, with what chooses them in the practice house."""
LAMP = "lamp"

READ_S = 2.0
"""How long a person looks before the next key; the walk is timed with it."""
CHECK_STILL_S = 12.0
"""For so long a value is still in a check: a shorter rest may be called a motion afterwards, and be in doubt."""
SETTLE_S = 180.0
"""How long a value may take to settle, on a slow computer."""
NIGHT_WAIT_S = 300.0
REPORT_WAIT_S = 180.0
"""For the PDF of it, on a slow computer."""


class Reader(Keys):
    """Runs an action only where the page names it."""

    def act(self, *action_ids: str) -> None:
        """See `User`."""
        unnamed = [action_id for action_id in action_ids if f"{{{action_id}}}" not in PAGE]
        if unnamed:
            raise StuckError(f"the page names no {', '.join(unnamed)}")
        super().act(*action_ids)


class Walk:
    """Somebody who follows the page of the guided visit.

    Args:
        user: at the window.
        home: a home folder of its own.
        pictures: where they go.
    """

    def __init__(self, user: Keys, home: Path, pictures: Path) -> None:
        self.user = user
        self._pictures = pictures
        self._folder = home / "Documents" / "Stillvolt"
        self.live: dict[str, bool] = dict.fromkeys((*CIRCUITS, LAMP), True)
        """What is switched on in the house, of what is swept."""
        self.others_on = True
        """Whether the circuits are on that are not swept."""

    @property
    def visit(self) -> Path:
        """The one that the window made."""
        return next(iter(self._folder.glob("*.visit")), Path())

    def go_to_switches(self) -> None:
        """Give the keyboard to the practice house, where it has not got it already: the same key takes it back."""

        def have_it() -> bool:
            return any(seen.kind == "SwitchBoard" and seen.has_keyboard for seen in self.user.look())

        if not have_it():
            self.user.act("practice.switches")
            self.user.wait("the switches have the keyboard", have_it)

    def switch(self, *names: str) -> None:
        """Go to the switches; type each name, and Enter switches it."""
        self.go_to_switches()
        for name in names:
            self.flip(name)

    def flip(self, name: str = "", key: str = "Return") -> None:
        """Switch something while the switches have the keyboard; the house is told of it.

        Args:
            name: its first word is typed. Empty takes the one that is chosen.
            key: Enter, or Shift+Enter for a cord's own switch.
        """
        control = self.visit.with_suffix(".control")
        before = control.stat().st_size
        if name:
            typed = name.split()[0].lower()
            self.user.type(typed)
            told = tr("Practice house: {typed}").format(typed=typed)
            self.user.wait(f"“{typed}” is typed", lambda: self.user.sees(told))
        self.user.keys(key)
        self.user.wait(f"the house is told to switch “{name}”", lambda: control.stat().st_size > before)

    def shot(self, name: str) -> None:
        """Save a picture, small."""
        path = self._pictures / f"visit-{name}.png"
        self.user.screen.picture(path)
        make_small(path, path)

    def keep_picture(self, picture: Path, name: str) -> None:
        """Keep a picture that was drawn elsewhere, small."""
        make_small(picture, self._pictures / f"visit-{name}.png")

    def passed(self, log: VisitLog, kind: CheckKind) -> None:
        """Wait for the result of a check, which has to be that it passed."""
        self.user.wait(f"the {kind} has a result", lambda: kind in {check.kind for check in log.checks.all()})
        result = log.checks.all()[-1]
        if (result.kind, result.outcome.verdict) != (kind, CheckVerdict.PASSED):
            raise StuckError(f"{result.kind}: {result.outcome.verdict}. {result.outcome.sentence}")

    def look(self) -> None:
        """Read what the window says."""
        time.sleep(READ_S)

    def settle(self, log: VisitLog, still_s: float = 4.0) -> None:
        """Wait, as a person does, for SETTLED after what was just done, for as long as the window asks."""
        time.sleep(2.5)  # until the value has begun to follow

        def settled() -> bool:
            live = log.recorder.live()
            if live is None or live.state is not State.SETTLED:
                return False
            return (live.beat_steady_utc_ns - live.since_steady_utc_ns) / NS_PER_S >= still_s

        def good_enough() -> bool:
            # What the window says of it beside the state and in its message.
            live = log.recorder.live()
            return live is not None and live.growing_span is not None and not live.growing_span.hold_longer_s

        self.user.wait("it is settled", settled, SETTLE_S)
        self.user.wait("the window no longer asks to hold still for longer", good_enough, SETTLE_S)

    def take(self, log: VisitLog) -> None:
        """Wait for a value, and take it as a reading; what is on is everything, where that is asked."""
        before = len(log.readings.all())
        self.settle(log)
        self.user.take("a reading", lambda: len(log.readings.all()) > before or bool(self.user.asked()))
        if len(log.readings.all()) == before:
            self.user.answer("everything on")
        self.user.wait("it is taken", lambda: len(log.readings.all()) == before + 1)


def make_small(picture: Path, small: Path) -> None:
    """Keep a picture with few colours.

    Args:
        picture: any PNG.
        small: where it goes.
    """
    command = ["convert", str(picture), "-strip", "+dither", "-colors", str(COLOURS), f"PNG8:{small}"]
    subprocess.run(command, check=True)


def walk(me: Walk) -> VisitLog:
    """The visit from the first look to its report; each part is a heading of that page."""
    user = me.user
    user.wait("there is a visit", lambda: me.visit.is_file())
    log = VisitLog.open(me.visit)
    user.wait("it records", lambda: log.recorder.live() is not None)
    me.settle(log)
    user.begin("look")
    me.look()
    me.shot("01-start")
    prepare(me, log)
    check(me, log)
    check_rods(me, log)
    read_spots(me, log)
    label_steps(me, log)
    sweep(me, log)
    look_at_night(me, log)
    plan(me, log)
    write_report(me)
    return log


def prepare(me: Walk, log: VisitLog) -> None:
    """The set-up."""
    user = me.user
    user.begin("prepare")
    user.stage("Prepare")
    state_set_up(user, "Practice house", lambda: me.shot("02-prepare"))
    user.wait("the set-up is stated", lambda: not log.setup.current().missing())
    me.look()


def check(me: Walk, log: VisitLog) -> None:
    """The three checks that readings ask for."""
    user = me.user
    user.begin("check")
    user.stage("Check")
    me.go_to_switches()

    def take() -> None:
        me.settle(log, CHECK_STILL_S)
        user.primary("take")

    me.flip(tr("Probe"))
    me.settle(log, CHECK_STILL_S)
    me.shot("03-check")
    user.primary("take")
    me.passed(log, CheckKind.ZERO)
    me.flip()  # in hand again
    take()
    me.flip(tr("Wet the soil"))
    take()
    me.passed(log, CheckKind.REFERENCE)
    user.answer("yes")
    me.switch("lamp")  # out
    take()
    me.flip()  # in, and on
    me.flip(key="shift+Return")
    take()
    me.flip()  # out
    take()
    me.passed(log, CheckKind.FUNCTION)
    me.flip()  # in again
    me.look()


def check_rods(me: Walk, log: VisitLog) -> None:
    """The check that proves the rod."""
    user = me.user
    user.begin("check the rods")
    user.keys("Escape")
    user.keys("Down")
    me.switch(tr("Second rod"))
    me.settle(log, CHECK_STILL_S)
    user.primary("take")
    me.flip(tr("Wire"))
    time.sleep(MIN_STEP_S)  # between good rods nothing changes
    me.settle(log, CHECK_STILL_S)
    user.primary("take")
    me.passed(log, CheckKind.TWO_RODS)
    me.flip(tr("Probe"))
    me.look()


def read_spots(me: Walk, log: VisitLog) -> None:
    """Two spots, on and off."""
    user = me.user
    user.begin("spots")
    user.stage("Spots")
    user.act("spots.room")
    user.enter("Bedroom")
    for left_out in ("seat", "desk"):
        user.tick(left_out, False)
    user.confirm()
    user.wait("two spots are planned", lambda: len(log.spots.all()) == 2)
    user.act("spots.unread")
    me.switch("centre")
    me.take(log)  # the window goes on to the next spot
    me.switch("left")
    me.settle(log)
    me.shot("04-spots")
    me.take(log)
    me.look()
    me.switch(tr("All breakers"))
    me.shot("05-everything-off")
    user.keys("Escape")
    user.answer("everything is off now")
    me.switch("centre")
    me.take(log)
    me.switch("left")
    me.take(log)
    conditions = [reading.condition for reading in log.readings.all()]
    if conditions != [EVERYTHING_ON] * 2 + [EVERYTHING_OFF] * 2:
        raise StuckError(f"the readings are not two on and two off: {conditions}")
    me.look()
    me.shot("06-on-and-off")
    me.switch(tr("All breakers"))
    me.settle(log)


def label_steps(me: Walk, log: VisitLog) -> None:
    """A lamp out and in again."""
    user = me.user
    user.begin("steps")
    user.stage("Sources")
    user.act("steps.ignore_all")

    def labelled(count: int) -> None:
        user.wait(
            f"{count} steps have a name",
            lambda: sum(label.source_id is not None for label in log.step_labels.all()) >= count,
        )

    me.switch(LAMP)
    me.settle(log)
    user.primary("label")
    user.enter("Bedside lamp")
    user.answer("A cord")
    labelled(1)
    me.switch()
    me.flip()
    me.settle(log)
    user.primary("label")
    labelled(2)
    me.look()
    me.shot("07-steps")


def sweep(me: Walk, log: VisitLog) -> None:
    """The breakers, and tonight's list."""
    user = me.user
    user.begin("breakers")
    user.act("page.next", "sweep.add")
    user.enter(", ".join(CIRCUITS))
    user.answer("bedroom outlets")  # where the lamp is plugged in
    user.wait("the circuits are listed", lambda: len(circuits_of(log.circuits.all())) == len(CIRCUITS))
    is_first, half = True, False
    while (combination := _next(log)) is not None and (left := _left(log)):
        _switch(me, log, combination, is_first=is_first)
        is_first = False
        if not half and len(left) < 4:
            me.shot("08-breakers")
            half = True
    me.look()

    user.begin("tonight")
    user.act("page.next")
    me.look()
    for _ in range(4):
        combination = _next(log)
        if combination is None:
            break
        _switch(me, log, combination)
        me.look()
    user.wait("tonight's list is worked out", lambda: not user.sees("worked out"), SETTLE_S)
    me.shot("09-tonight")


def look_at_night(me: Walk, log: VisitLog) -> None:
    """A night in a minute, and its morning."""
    user = me.user
    user.begin("night")
    user.act("measure.stop")
    user.confirm()
    user.wait("the recorder has ended", lambda: (live := log.recorder.live()) is not None and live.ended)
    user.act("practice.night")
    user.answer("as on tonight's list")

    def is_over() -> bool:
        live, runs = log.recorder.live(), log.runs.all()
        return len(runs) >= 2 and live is not None and live.run_id == runs[-1].id and live.ended

    user.wait("the night is recorded", is_over, NIGHT_WAIT_S)
    user.stage("Night")
    user.page("Morning")
    user.wait("the night is summed up", lambda: not user.sees("summed up"), SETTLE_S)
    time.sleep(4.0)
    me.look()
    me.shot("10-night")


def plan(me: Walk, log: VisitLog) -> None:
    """The set of least effort, planned."""
    user = me.user
    user.begin("plan")
    user.stage("Plan")
    me.look()
    user.primary()
    me.look()
    user.primary()
    user.wait("the remedies are planned", lambda: bool(log.remedies.all()), SETTLE_S)
    me.look()


def write_report(me: Walk) -> None:
    """The report and its first page."""
    user = me.user
    user.begin("report")
    user.stage("Report")
    me.look()
    me.shot("11-report")
    user.primary()
    pdf = me.visit.with_name(f"{me.visit.stem} report.pdf")
    user.wait("the report is written", pdf.exists, REPORT_WAIT_S)
    user.begin("")
    page = pdf.with_suffix("")
    subprocess.run(
        ["pdftoppm", "-r", "80", "-f", "1", "-l", "1", "-png", "-singlefile", str(pdf), str(page)], check=True
    )
    me.keep_picture(pdf.with_suffix(".png"), "12-report")


def _tonight(log: VisitLog) -> SwitchOffPlan | None:
    names = [(spot.id, spot.name) for spot in log.spots.all()]
    return switch_off_plan(log.readings.all(), names, log.circuits.all(), log.setup.current())


def _next(log: VisitLog) -> Combination | None:
    """What the window asks to switch next: planned, else wanted for tonight's list."""
    if left := _left(log):
        return left[0]
    found = _tonight(log)
    return found.next_combination if found else None


def _left(log: VisitLog) -> Sequence[Combination]:
    """What is planned and not read yet."""
    return sweep_progress(log.readings.all(), log.spots.all()[1].id, log.circuits.all()).left


def _switch(me: Walk, log: VisitLog, combination: Combination, *, is_first: bool = False) -> None:
    """Switch what the window says, press Space, wait until it has taken the value.

    Args:
        me: the walk.
        log: its visit.
        combination: what the window asks for.
        is_first: it is the first of the sweep, at which the window asks where it is made.
    """
    taken = len(log.readings.all())
    me.switch()
    if combination.unlisted_on is not None and combination.unlisted_on != me.others_on:
        all_were_on = me.others_on and all(me.live[name] for name in CIRCUITS)
        me.flip(tr("All breakers"))  # where any is off, it switches all on
        if not combination.unlisted_on and not all_were_on:
            me.flip()
        me.others_on = combination.unlisted_on
        me.live.update(dict.fromkeys(CIRCUITS, me.others_on))
    for source in log.circuits.all():
        name = LAMP if source.kind == "cord" else source.name
        on = source.id in combination.live
        if me.live[name] != on:
            me.flip(LAMP if source.kind == "cord" else CIRCUITS[name])
            me.live[name] = on
    me.user.primary()
    if is_first:
        me.user.answer(log.spots.all()[1].name.lower())
    me.user.take_switched(combination.label, lambda: len(log.readings.all()) > taken)


def main() -> int:
    """Returns the exit code."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--language", default=SOURCE_LANGUAGE, choices=languages(), help="of the window")
    parser.add_argument("pictures", nargs="?", type=Path, default=PICTURES, help="folder for them")
    wanted = parser.parse_args()
    pictures: Path = wanted.pictures
    pictures.mkdir(parents=True, exist_ok=True)
    set_language(wanted.language)
    screen = Screen(*SIZE, language=wanted.language)
    with contextlib.closing(screen), tempfile.TemporaryDirectory(prefix="stillvolt-guided-") as folder:
        environment = screen.environment | {"HOME": folder, "BROWSER": "true", "XDG_CONFIG_HOME": folder}
        user = Reader(screen, [str(Path(__file__).with_name("demo_window.py"))], environment)
        me = Walk(user, Path(folder), pictures)
        try:
            log = walk(me)
        except Exception as error:
            screen.picture(Path(tempfile.gettempdir()) / "guided-stuck.png")
            if not isinstance(error, StuckError):
                raise
            print(f"guided_visit: {error}", file=sys.stderr)
            return 1
        finally:
            user.close(stop=True)
        for result in log.checks.all():
            print(f"{result.kind}: {result.outcome.verdict}. {result.outcome.sentence}")
        for reading in log.readings.all():
            print(f"  {reading.spot_name}: {reading.condition}: {reading.volts:.3f} V")
        log.close()
        user.print_counts()
    return 0


if __name__ == "__main__":
    sys.exit(main())
