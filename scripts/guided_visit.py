"""Walks the guided first visit of gui/practice/README.md in the real window, by its keys alone, and makes its pictures.

    python scripts/guided_visit.py [FOLDER]        FOLDER: fixtures/pictures

What `./scripts/run` opens: the practice house, already recorded by a recorder of its own. Every action that is run
here stands in that page; keys and minutes are counted. Needs Xvfb, xdotool, ImageMagick and pdftoppm.
"""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # so that the tree itself can be imported

from logger.clock import NS_PER_S
from logger.metrology.checks import MIN_STEP_S, REQUIRED_CHECKS, CheckKind
from logger.settling.events import State
from logger.sweep.sweep_progress import Combination, circuits_of, sweep_progress
from logger.sweep.switch_off_plan import SwitchOffPlan, switch_off_plan
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from scripts.screenshots import Screen, wait_for

PICTURES = Path(__file__).parents[1] / "fixtures" / "pictures"
SIZE = (1280, 720)
COLOURS = 64
"""Of each picture: keeps them small."""

CIRCUITS = {"Bedroom outlets": "1", "Bedroom light": "2", "Study outlets": "3"}
"""Those that are swept, with what chooses them in the practice house."""
LAMP = "lamp"

READ_S = 2.0
"""How long a person looks before the next key; the walk is timed with it."""
NIGHT_WAIT_S = 300.0
REPORT_WAIT_S = 180.0
"""For the PDF of it, on a slow computer."""


class Walk:
    """Somebody who follows the page of the guided visit.

    Args:
        screen: where the window is.
        home: a home folder of its own.
        pictures: where they go.
    """

    def __init__(self, screen: Screen, home: Path, pictures: Path) -> None:
        self._screen, self._pictures = screen, pictures
        self._folder = home / "Documents" / "Stillvolt"
        self.keys: Counter[str] = Counter()
        self.seconds: dict[str, float] = {}
        self._part, self._since_s = "", time.monotonic()
        self.live: dict[str, bool] = dict.fromkeys((*CIRCUITS, LAMP), True)
        """What is switched on in the house, of what is swept."""

    @property
    def visit(self) -> Path:
        """The one that the window made."""
        return next(iter(self._folder.glob("*.visit")), Path())

    def begin(self, part: str) -> None:
        """The next heading of that page."""
        now_s = time.monotonic()
        if self._part:
            self.seconds[self._part] = now_s - self._since_s
        self._part, self._since_s = part, now_s

    def press(self, *names: str) -> None:
        """Press keys, by their X names."""
        self.keys[self._part] += len(names)
        self._screen.keys(*names)
        time.sleep(0.3)

    def act(self, *action_ids: str) -> None:
        """Run actions by their keys or through the menu bar."""
        self.keys[self._part] += self._screen.act(*action_ids)
        time.sleep(0.3)

    def choose(self, number: int) -> None:
        """Give the answer of the open question that is the `number`-th button."""
        self.keys[self._part] += self._screen.choose(number)
        time.sleep(0.3)

    def switch(self, *names: str) -> None:
        """Go to the switches of the practice house; type each name, and Enter switches it."""
        self.act("practice.switches")
        for name in names:
            self.enter(name)

    def enter(self, text: str) -> None:
        """Type and press Enter."""
        self.keys[self._part] += len(text) + 1
        self._screen.type(text)
        self._screen.keys("Return")
        time.sleep(0.3)

    def shot(self, name: str) -> None:
        """Save a picture, small."""
        path = self._pictures / f"visit-{name}.png"
        self._screen.picture(path)
        subprocess.run(
            ["convert", str(path), "-strip", "+dither", "-colors", str(COLOURS), f"PNG8:{path}"], check=True
        )

    def look(self) -> None:
        """Read what the window says."""
        time.sleep(READ_S)


def settle(log: VisitLog, still_s: float = 4.0) -> None:
    """Wait, as a person does, for SETTLED after what was just done."""
    time.sleep(2.5)  # until the value has begun to follow

    def settled() -> bool:
        live = log.recorder.live()
        if live is None or live.state is not State.SETTLED:
            return False
        return (live.beat_steady_utc_ns - live.since_steady_utc_ns) / NS_PER_S >= still_s

    wait_for("it is settled", settled)
    time.sleep(0.3)


def expect(what: str, true: Callable[[], bool]) -> None:
    """The walk goes on only as that page says."""
    wait_for(what, true)


def walk(me: Walk) -> VisitLog:
    """The visit from the first look to its report."""
    # Long: the keys of one visit in their order, as the README names them; to be read beside it.
    expect("there is a visit", lambda: me.visit.is_file())
    log = VisitLog.open(me.visit)
    expect("it records", lambda: log.recorder.live() is not None)
    time.sleep(6.0)
    me.begin("look")
    me.look()
    me.shot("01-start")

    me.begin("prepare")
    me.act("stage.prepare", "measure.primary")
    me.enter("Practice house")
    me.shot("02-prepare")
    for number in (1, 1, 2):
        me.choose(number)
    me.enter("12")
    me.enter("15")
    for number in (1, 2, 1, 1):
        me.choose(number)
    me.act("view.back")  # the meter is left open
    expect("the set-up is stated", lambda: not log.setup.current().missing())
    me.look()

    me.begin("check")
    me.act("stage.check")
    me.switch()
    for before in ("probe", "", "wet", "lamp"):
        if before:
            me.enter(before)
        else:
            me.press("Return")
        settle(log)
        if before == "probe":
            me.shot("03-check")
        me.act("measure.primary")
    me.press("Return", "shift+Return")
    settle(log)
    me.act("measure.primary")
    me.press("Return")
    settle(log)
    me.act("measure.primary")
    expect("three checks", lambda: {check.kind for check in log.checks.all()} >= set(REQUIRED_CHECKS))
    me.press("Return", "Escape", "Down")
    me.switch("second")
    settle(log)
    me.act("measure.primary")
    me.enter("wire")
    time.sleep(MIN_STEP_S)  # between good rods nothing changes
    settle(log)
    me.act("measure.primary")
    expect("the two-rod check", lambda: CheckKind.TWO_RODS in {check.kind for check in log.checks.all()})
    me.enter("probe")
    me.look()

    me.begin("spots")
    me.act("stage.spots", "spots.room")
    me.enter("Bedroom")
    me.press("Down", "space", "Down", "space", "Return")  # two of the usual spots are left out
    me.act("spots.unread")
    me.switch("centre")
    settle(log)
    me.act("measure.primary")
    me.choose(1)  # then the next spot is chosen
    me.switch("left")
    settle(log)
    me.shot("04-spots")
    me.act("measure.primary")
    expect("two readings", lambda: len(log.readings.all()) == 2)
    me.look()
    me.switch("all")
    me.shot("05-everything-off")
    me.press("Escape")
    me.choose(1)
    me.switch("centre")
    settle(log)
    me.act("measure.primary")  # the round goes on to the next spot
    me.switch("left")
    settle(log)
    me.act("measure.primary")
    expect("four readings", lambda: len(log.readings.all()) == 4)
    conditions = [reading.condition for reading in log.readings.all()]
    assert conditions == [EVERYTHING_ON] * 2 + [EVERYTHING_OFF] * 2, conditions
    me.look()
    me.shot("06-on-and-off")
    me.switch("all")
    settle(log)

    me.begin("steps")
    me.act("stage.sources", "steps.ignore_all")
    me.switch(LAMP)
    settle(log)
    me.act("measure.primary")
    me.enter("Bedside lamp")
    me.press("Return")
    me.switch()
    me.press("Return")
    settle(log)
    me.act("measure.primary")
    expect("two named steps", lambda: sum(n.source_id is not None for n in log.step_labels.all()) >= 2)
    me.look()
    me.shot("07-steps")

    me.begin("breakers")
    me.act("page.next", "sweep.add")
    me.enter(", ".join(CIRCUITS))
    expect("the circuits are listed", lambda: len(circuits_of(log.circuits.all())) == len(CIRCUITS))
    me.switch("all")
    me.live.update(dict.fromkeys(CIRCUITS, False))
    half = False
    while (combination := _next(log)) is not None:
        left = sweep_progress(log.readings.all(), log.spots.all()[1].id, log.circuits.all()).left
        if not left:
            break
        _switch(me, log, combination)
        if not half and len(left) < 4:
            me.shot("08-breakers")
            half = True
    me.look()

    me.begin("tonight")
    me.act("page.next")
    time.sleep(2.0)
    for _ in range(4):
        combination = _next(log)
        if combination is None:
            break
        _switch(me, log, combination)
        time.sleep(2.0)
    me.look()
    me.shot("09-tonight")

    me.begin("night")
    me.act("measure.stop")
    me.press("Return")
    expect("the recorder has ended", lambda: (live := log.recorder.live()) is not None and live.ended)
    time.sleep(1.0)
    me.act("practice.night")
    until_s = time.monotonic() + NIGHT_WAIT_S
    while len(log.runs.all()) < 2 or not (live := log.recorder.live()) or not live.ended:
        assert time.monotonic() < until_s, "the night did not end"
        time.sleep(0.5)
    time.sleep(1.0)
    me.act("stage.night", "page.next")
    time.sleep(4.0)
    me.look()
    me.shot("10-night")

    me.begin("report")
    me.act("stage.report")
    me.look()
    me.shot("11-report")
    me.act("measure.primary")
    pdf = me.visit.with_name(f"{me.visit.stem} report.pdf")
    wait_for("the report is written", pdf.exists, REPORT_WAIT_S)
    me.begin("")
    subprocess.run(
        [
            "pdftoppm",
            "-r",
            "80",
            "-f",
            "1",
            "-l",
            "1",
            "-png",
            "-singlefile",
            str(pdf),
            str(pdf.with_suffix("")),
        ],
        check=True,
    )
    page = me._pictures / "visit-12-report.png"
    subprocess.run(
        [
            "convert",
            str(pdf.with_suffix(".png")),
            "-strip",
            "+dither",
            "-colors",
            str(COLOURS),
            f"PNG8:{page}",
        ],
        check=True,
    )
    return log


def _tonight(log: VisitLog) -> SwitchOffPlan | None:
    names = [(spot.id, spot.name) for spot in log.spots.all()]
    return switch_off_plan(log.readings.all(), names, log.circuits.all(), log.setup.current())


def _next(log: VisitLog) -> Combination | None:
    """What the window asks to switch next: planned, else wanted for tonight's list."""
    left = sweep_progress(log.readings.all(), log.spots.all()[1].id, log.circuits.all()).left
    if left:
        return left[0]
    found = _tonight(log)
    return found.next_combination if found else None


def _switch(me: Walk, log: VisitLog, combination: Combination) -> None:
    """Switch what the window says, press Space, wait until it has taken the value."""
    taken = len(log.readings.all())
    me.switch()
    for source in log.circuits.all():
        name = LAMP if source.kind == "cord" else source.name
        on = source.id in combination.live
        if me.live[name] != on:
            me.enter(LAMP if source.kind == "cord" else CIRCUITS[name])
            me.live[name] = on
    time.sleep(1.0)
    me.act("measure.primary")
    expect(f"{combination.label} is taken", lambda: len(log.readings.all()) > taken)


def main() -> int:
    """Returns the exit code."""
    pictures = Path(sys.argv[1]) if len(sys.argv) > 1 else PICTURES
    pictures.mkdir(parents=True, exist_ok=True)
    screen = Screen(*SIZE)
    with contextlib.closing(screen), tempfile.TemporaryDirectory(prefix="stillvolt-guided-") as folder:
        home = Path(folder)
        environment = screen.environment | {"HOME": folder, "BROWSER": "true", "XDG_CONFIG_HOME": folder}
        script = str(Path(__file__).with_name("demo_window.py"))
        window = subprocess.Popen([sys.executable, script], env=environment)
        me = Walk(screen, home, pictures)
        try:
            screen.fill_with("Stillvolt")
            log = walk(me)
            for check in log.checks.all():
                print(f"{check.kind}: {check.outcome.verdict}. {check.outcome.sentence}")
            for reading in log.readings.all():
                print(f"  {reading.spot_name}: {reading.condition}: {reading.volts:.3f} V")
            log.close()
            minutes = sum(me.seconds.values()) / 60
            for part, seconds in me.seconds.items():
                print(f"{part}: {seconds:.0f} s, {me.keys[part]} keys")
            print(f"{minutes:.1f} minutes, {me.keys.total()} keys")
        except BaseException:
            screen.picture(
                pictures.parent / "guided-stuck.png" if pictures == PICTURES else pictures / "stuck.png"
            )
            raise
        finally:
            screen.keys("Escape", "Escape")
            screen.quit(stop=True)
            with contextlib.suppress(subprocess.TimeoutExpired):
                window.wait(10)
            if window.poll() is None:
                os.kill(window.pid, 15)
    return 0


if __name__ == "__main__":
    sys.exit(main())
