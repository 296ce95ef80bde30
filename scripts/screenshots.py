"""Opens the real window on a real recorder under Xvfb, drives it by its keys and saves pictures.

    python scripts/screenshots.py FOLDER [WIDTHxHEIGHT ...]

The meter is a pseudo-terminal that is written to in real time: it settles, moves, a lamp is plugged in, its cable is
pulled and put back, its recorder is killed. Needs Xvfb, xdotool and ImageMagick's `import`.
"""

from __future__ import annotations

import contextlib
import itertools
import os
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # so that the tree itself can be imported

from logger.visit import VisitLog
from scripts.pty_meter import PtyMeter
from scripts.window_user import Keys
from scripts.x_screen import Screen, wait_for

RATE_HZ = 5.0
SETTLE_S = 180.0
"""How long a value may take to settle, on a slow computer."""


class Body:
    """Somebody with a probe in the hand, as the lines of a meter; what is done is set from outside."""

    def __init__(self) -> None:
        self.level_volts = 0.62
        self.moving = False

    def lines(self) -> Iterator[bytes]:
        """The lines without end."""
        random = np.random.default_rng(7)
        volts = 1.1
        for _ in itertools.count():
            if self.moving:
                volts = self.level_volts + abs(random.normal(0.0, 0.9)) + 0.3
            else:
                volts += (self.level_volts - volts) * 0.55
            yield f"{max(volts + random.normal(0.0, 0.004), 0):.3f} V AC".encode()


def drive(screen: Screen, folder: Path, name: str) -> None:
    """The whole first part of the job, by keyboard only."""
    # Long: the keys of one visit in their order, as a user presses them.
    work = Path(tempfile.mkdtemp(prefix="stillvolt-pictures-"))
    visit, port, body = work / "Upper flat, evening.visit", work / "meter", Body()
    meter = PtyMeter(port, body.lines(), RATE_HZ)
    number = itertools.count(1)

    def shot(what: str) -> None:
        screen.picture(folder / f"{name}-{next(number):02d}-{what}.png")

    def open_window() -> Keys:
        return Keys(screen, ["logger", "--visit", str(visit), "--port", str(port)])

    user = open_window()
    user.act("connect.fields")
    shot("connect-settings")
    user.act("connect.fields")
    shot("connect")
    user.act("measure.record")  # Space would press the button that has the keyboard now
    log = VisitLog.open(visit)
    user.wait("it records", lambda: log.recorder.live() is not None)
    shot("settling")

    def is_in(state: str) -> bool:
        live = log.recorder.live()
        return live is not None and live.state is not None and live.state.value == state

    def settle() -> None:
        user.wait("it is settled", lambda: is_in("settled"), SETTLE_S)

    def move(level_volts: float, after: Callable[[], object] = lambda: None) -> None:
        """To a place of that level: a value that has not moved since its spot was chosen is asked about."""
        body.moving = True
        user.wait("it moves", lambda: is_in("moving"))
        time.sleep(2)
        after()
        body.moving, body.level_volts = False, level_volts
        settle()

    settle()
    user.act("stage.spots", "spots.room")
    user.enter("Bedroom")
    user.confirm()
    user.wait("the room has its spots", lambda: len(log.spots.all()) == 4)
    user.act("spots.next", "spots.next")
    move(0.62)
    user.primary("take")
    user.wait("it asks what is on", lambda: bool(user.asked()))
    shot("asks-what-is-on")
    user.answer("everything on")
    user.wait("a reading is taken", lambda: len(log.readings.all()) == 1)
    shot("desk-taken")

    def press_while_moving() -> None:
        user.act("measure.primary")
        shot("moving-refused")

    move(0.27, press_while_moving)
    time.sleep(8)
    user.take("the reading in bed", lambda: len(log.readings.all()) == 2)
    shot("bed-taken")
    body.level_volts = 0.44
    user.wait("the step is known", lambda: any(e.event.kind == "step" for e in log.events.after()), SETTLE_S)
    user.act("measure.mark")
    user.type("bedside lamp plugged in")
    shot("mark")
    user.keys("Return")
    user.wait("the mark is there", lambda: len(log.marks.all()) == 1)
    settle()
    user.act("measure.void_last")
    user.wait("it asks why", lambda: bool(user.asked()))
    shot("asks-why-it-is-void")
    user.answer(user.asked()[1])  # the first reason
    shot("voided")
    user.act("help.actions")
    shot("all-actions")
    user.act("view.back")
    meter.pull()
    user.wait(
        "the port is lost", lambda: (live := log.recorder.live()) is not None and live.port_state == "lost"
    )
    time.sleep(2)
    shot("port-lost")
    meter.put_back()
    user.wait(
        "the port is back", lambda: (live := log.recorder.live()) is not None and live.port_state == "open"
    )
    settle()
    user.stage("Connect")
    shot("connect-while-recording")
    user.stage("Spots")
    user.act("view.dark")
    shot("dark")
    user.act("trace.whole", "view.dark")
    shot("all-of-the-trace")
    user.act("file.quit")
    time.sleep(1)
    shot("closing-asks")
    user.keys("Return")
    user.window.wait(30)
    user = open_window()
    user.stage("Spots")
    shot("reopened")
    live = log.recorder.live()
    assert live is not None
    os.kill(live.pid, signal.SIGKILL)
    time.sleep(4)
    user.stage("Connect")
    shot("recorder-killed")
    user.act("measure.record")
    user.wait("a new run", lambda: (now := log.recorder.live()) is not None and now.run_id > live.run_id)
    settle()
    user.stage("Spots")
    shot("recording-again")
    user.close(stop=True)
    wait_for("the recorder has ended", lambda: (now := log.recorder.live()) is not None and now.ended)
    print(f"{visit}: {len(log.readings.all())} readings, {len(log.runs.all())} runs")
    log.close()
    meter.stop()


def at_each_size(draw: Callable[[Screen, Path, str], None]) -> None:
    """Draw pictures into the folder that the command line names first, at the sizes after it or both usual ones.

    Args:
        draw: takes a screen, the folder and the size in words.
    """
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for size in sys.argv[2:] or ["1280x720", "1920x1080"]:
        screen = Screen(*map(int, size.split("x")))
        with contextlib.closing(screen):
            draw(screen, folder, size)


if __name__ == "__main__":
    at_each_size(drive)
