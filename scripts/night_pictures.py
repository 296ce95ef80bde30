"""Draw pictures of the stage Night and of the night screen.

A real window under Xvfb shows a night of the simulated house and is driven by its keys.

    python scripts/night_pictures.py FOLDER [WIDTHxHEIGHT ...]
"""

from __future__ import annotations

import itertools
import os
import sys
import tempfile
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # so that the tree itself can be imported

from logger.clock import NS_PER_S
from logger.metrology.setup import Setup
from logger.simulation.fast_forward import FastForward
from logger.simulation.house.scene import read_scene
from logger.visit import VisitLog
from scripts.screenshots import at_each_size
from scripts.window_user import Keys
from scripts.x_screen import Screen

HEATER = "every 41 min from 20 min: aquarium heater on\nevery 41 min from 34 min: aquarium heater off\n"
OFF = "at 60 min: breaker 1 off\nat 7.5 h: breaker 1 on\n"
HOURS = 9.0


def record(path: Path, script: str, days_ago: int, seed: int) -> None:
    """A night from 22:00 at one line a second."""
    scene = read_scene(
        f'title = "a night"\nstart = "Bed, left"\nscript = """\n{script}"""\n'
        "[body]\nmotions_per_hour = 5\nshift = 0.03\nstrength = 0.8\nbreaths_per_minute = 13\n",
        "pictures",
        None,
    )
    began = (datetime.now(UTC) - timedelta(days=days_ago)).replace(hour=22, minute=0, second=0, microsecond=0)
    log = VisitLog.create(path)
    log.setup.set(Setup(reference="earth rod", on_battery=True, link_isolated=True))
    log.facts.set("schedule", "23:00 breakers off; 05:30 breakers on; 02:00 timer of the pump")
    log.close()
    run = FastForward(
        path,
        replace(scene, meter=replace(scene.meter, rate_hz=1.0)),
        int(began.timestamp()) * NS_PER_S,
        "UTC",
        seed,
    )
    run.run(HOURS * 3600)
    run.end()


def drive(screen: Screen, folder: Path, name: str, work: Path) -> None:
    """The morning, then the night screen."""
    # Long: the keys of one evening and morning in their order, as a user presses them.
    number = itertools.count(1)

    def shot(what: str) -> None:
        screen.picture(folder / f"{name}-night-{next(number):02d}-{what}.png")

    def open_window(visit: Path, *more: str) -> Keys:
        return Keys(screen, ["logger", "--visit", str(visit), *more], {**screen.environment, "TZ": "UTC"})

    user = open_window(work / "Upper flat, breakers off.visit")
    user.act("stage.night")
    time.sleep(8)
    shot("morning")
    user.keys(*["Down"] * 14)
    shot("further-down")
    user.keys(*["Down"] * 9)
    user.act("night.show")
    shot("a-step-in-the-trace")
    user.act("night.whole", *["trace.zoom_in"] * 3)
    shot("zoomed")
    user.act("night.whole", "page.next", "night.compare")
    shot("asks-other-night")
    user.confirm()
    time.sleep(8)
    shot("before-and-after")
    user.act("view.dark")
    shot("before-and-after-dark")
    user.act("page.previous")
    shot("morning-dark")
    user.act("page.previous", "night.plan")
    shot("asks-planned")
    user.act("view.back", "view.dark")
    shot("start")
    user.act("file.quit")
    user.window.wait(20)

    live = work / f"{name}.visit"
    user = open_window(live, "--port", "sim://house?seed=3")
    user.act("stage.night")
    shot("start-empty")
    user.act("measure.primary")
    user.wait("it asks what is on", lambda: bool(user.asked()))
    shot("asks-what-is-on")
    user.answer("everything on")
    log = VisitLog.open(live)
    user.wait("it records", lambda: log.recorder.live() is not None)
    user.wait(
        "it is settled", lambda: (now := log.recorder.live()) is not None and now.state.value == "settled"
    )
    shot("start-recording")
    user.act("night.screen")
    time.sleep(1)
    shot("night-screen")
    user.keys("space")
    shot("night-screen-marked")
    log.recorder.request_stop()
    time.sleep(8)
    shot("night-screen-not-recording")
    user.keys("Escape")
    time.sleep(1)
    shot("left")
    user.act("file.quit")
    user.window.wait(20)
    log.close()


def main() -> None:
    """Two nights, then their pictures."""
    os.environ["TZ"] = "UTC"
    work = Path(tempfile.mkdtemp(prefix="stillvolt-night-"))
    record(work / "Upper flat, breakers on.visit", HEATER, 3, 2)
    record(work / "Upper flat, breakers off.visit", HEATER + OFF, 2, 1)
    at_each_size(lambda screen, folder, size: drive(screen, folder, size, work))


if __name__ == "__main__":
    main()
