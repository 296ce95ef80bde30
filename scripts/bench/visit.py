"""A whole visit in the real window by keyboard only, on the simulated practice house; counts keys and minutes.

    python scripts/bench/visit.py [WIDTHxHEIGHT [FOLDER]]

Three rooms, nine spots, all checks, everything on (each reading by Space) and everything off (hands-free). The house
does what a person does between the keys: goes to a spot, holds the probe to the reference wire, wets the soil, switches
everything off. Pictures go to FOLDER if one is given. Needs Xvfb, xdotool and ImageMagick's `import`.
"""

from __future__ import annotations

import contextlib
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.settling.events import State
from logger.simulation.house.control import send_command
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.results.on_off_result import SpotResult
from scripts.screenshots import Screen, wait_for

ROOMS: dict[str, tuple[int, tuple[str, ...]]] = {
    # Room: the number of the one usual spot that it has not, and where each other one is.
    "Bedroom": (3, ("Bedroom, centre", "Bed, right", "Bed, left")),
    "Study": (4, ("Study, centre", "Study, window", "Desk")),
    "Living": (4, ("Living room, centre", "Armchair", "Sofa, left")),
}


class Person:
    """Somebody in the simulated house with one hand on the keyboard of the window."""

    def __init__(self, screen: Screen, folder: Path, pictures: Path | None) -> None:
        self._screen = screen
        self._pictures = pictures
        self._control = folder / "control"
        self._control.touch()
        self.visit = folder / "Practice house.visit"
        self.port = f"sim://house?scene=practice&control={self._control}"
        self.keys_pressed: Counter[str] = Counter()
        self.part = "set up"
        self.log: VisitLog | None = None

    def press(self, *names: str) -> None:
        """Press keys."""
        self.keys_pressed[self.part] += len(names)
        self._screen.keys(*names)

    def act(self, *action_ids: str) -> None:
        """Run actions by their keys or through the menu bar."""
        self.keys_pressed[self.part] += self._screen.act(*action_ids)

    def choose(self, number: int) -> None:
        """Give the answer of the open question that is the `number`-th button."""
        self.keys_pressed[self.part] += self._screen.choose(number)

    def enter(self, text: str) -> None:
        """Type a text and press Enter."""
        self.keys_pressed[self.part] += len(text) + 1
        self._screen.type(text)
        self._screen.keys("Return")

    def do(self, *commands: str) -> None:
        """Do something in the house."""
        for command in commands:
            send_command(self._control, command)

    def shot(self, name: str) -> None:
        """Save a picture."""
        if self._pictures is not None:
            self._screen.picture(self._pictures / f"{self._screen.size[0]}-{name}.png")

    def do_and_settle(self, *commands: str, still_s: float = 4.0) -> None:
        """Do something and wait for a value that settled after it."""
        assert self.log is not None
        live = self.log.recorder.live()
        before = live.beat_steady_utc_ns if live else 0
        self.do(*commands)

        def settled() -> bool:
            assert self.log is not None
            now = self.log.recorder.live()
            return (
                now is not None
                and now.state is State.SETTLED
                and now.since_steady_utc_ns > before
                and now.beat_steady_utc_ns - now.since_steady_utc_ns >= still_s * 1e9
            )

        wait_for(f"it is settled after {commands}", settled)
        time.sleep(0.3)  # the window has seen it too


def visit(person: Person) -> None:
    """From an empty start to a finished visit."""
    # Long: the keys of one visit in their order, as a user presses them.
    person.act("measure.record")
    log = VisitLog.open(person.visit)
    person.log = log
    wait_for("it records", lambda: log.recorder.live() is not None)
    time.sleep(1.0)

    person.shot("prepare-empty")
    person.act("stage.prepare", "measure.primary")
    person.enter("practice")
    person.shot("prepare-asks-reference")
    for number in (1, 1, 2):
        person.choose(number)
    person.enter("12")
    person.enter("15")
    for number in (1, 2, 1, 1):
        person.choose(number)
    person.act("view.back")  # the meter is left open
    person.shot("prepare-done")

    person.part = "check"
    person.act("stage.check")
    person.do_and_settle("probe on reference wire", "lie still")
    person.shot("check-zero")
    person.act("measure.primary")
    person.do_and_settle("probe in hand", "go to Bed, left")
    person.act("measure.primary")
    person.do("wet the soil")
    person.do_and_settle("go to Bedroom, centre", "go to Bed, left")
    person.act("measure.primary")
    person.do_and_settle("lamp unplug", "turn over", "lie still")  # no cord near
    person.act("measure.primary")
    person.do_and_settle("lamp plug", "lamp on")
    person.shot("check-function")
    person.act("measure.primary")
    person.do_and_settle("lamp off", "lamp unplug")
    person.act("measure.primary")
    person.shot("check-done")

    person.part = "plan the spots"
    person.act("stage.spots")
    for room, (left_out, _) in ROOMS.items():
        person.act("spots.room")
        person.enter(room)
        if room == "Bedroom":
            person.shot("spots-of-a-room")
        person.press(*["Down"] * (left_out - 1), "space", "Return")
    person.shot("spots-planned")
    places = [place for _, places in ROOMS.values() for place in places]
    spots = log.spots.all()
    assert len(spots) == len(places) == 9, [spot.name for spot in spots]

    person.part = "on, by Space"
    person.act("spots.unread")
    person.do("lamp plug", "everything on")
    for index, place in enumerate(places):
        person.do_and_settle(f"go to {place}")
        person.act("measure.primary")
        if index == 0:
            person.choose(1)  # what is on: everything
        if index < len(places) - 1:
            person.act("spots.next")
        if index == 4:
            person.shot("spots-half-read")
    wait_for("nine readings", lambda: len(log.readings.all()) == 9)
    person.shot("offers-everything-off")

    person.part = "off, hands-free"
    person.do("everything off")
    person.choose(1)  # it is: the round begins
    person.act("measure.hands_free")
    for index, place in enumerate(places):
        person.do(f"go to {place}")
        if index == 3:
            time.sleep(8.0)
            person.shot("hands-free-counts-down")
        count = 10 + index
        wait_for(f"reading {count}", lambda count=count: len(log.readings.all()) == count)  # type: ignore[misc]
    person.shot("finished")
    person.part = "afterwards, for the pictures"
    person.act("spots.budget")
    person.shot("budget")
    person.act("spots.budget", "view.dark")
    person.shot("finished-dark")
    person.act("stage.prepare")
    person.shot("prepare-dark")
    person.act("stage.check")
    person.shot("check-dark")


def main() -> int:
    """Returns the exit code."""
    size = sys.argv[1] if len(sys.argv) > 1 else "1280x720"
    pictures = Path(sys.argv[2]) if len(sys.argv) > 2 else None
    if pictures is not None:
        pictures.mkdir(parents=True, exist_ok=True)
    screen = Screen(*map(int, size.split("x")))
    with contextlib.closing(screen), tempfile.TemporaryDirectory(prefix="stillvolt-visit-") as folder:
        person = Person(screen, Path(folder), pictures)
        command = [sys.executable, "-m", "logger", "--visit", str(person.visit), "--port", person.port]
        window = subprocess.Popen(command, env=screen.environment)
        try:
            screen.fill_with("Stillvolt")
            began = time.monotonic()
            visit(person)
            minutes = (time.monotonic() - began) / 60
            assert person.log is not None
            log = person.log
            for check in log.checks.all():
                print(f"{check.kind}: {check.outcome.verdict}. {check.outcome.sentence}")
            for spot in log.spots.all():
                result = SpotResult.of(log.readings.all(), spot.id)
                print(f"{spot.name}: {result.pair()}  {result.meaning(log.setup.current().target_volts)}")
            conditions = Counter(reading.condition for reading in log.readings.all())
            assert conditions == {EVERYTHING_ON: 9, EVERYTHING_OFF: 9}, conditions
            del person.keys_pressed["afterwards, for the pictures"]
            print(dict(person.keys_pressed), "keys,", person.keys_pressed.total(), "in all")
            print(f"{minutes:.1f} minutes")
        finally:
            screen.quit(stop=True)
            window.wait(15)
            if person.log is not None:
                wait_for(
                    "the recorder has ended", lambda: (now := log.recorder.live()) is not None and now.ended
                )
                person.log.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
