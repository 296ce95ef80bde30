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
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # so that the tree itself can be imported

from gui.shell.answer_guard import OWN_GUARD_S
from logger.visit import VisitLog
from scripts.pty_meter import PtyMeter
from scripts.window_keys import keys_of

RATE_HZ = 5.0
WAIT_S = 60.0
ANSWER_S = OWN_GUARD_S + 0.1
"""After what may open a question, seconds: an answer that comes sooner does not count."""

MENU_S = 0.3
"""How long a menu takes to open."""
MOVE_S = 0.1
"""From the mouse at its place to its button: what is below it learns of it first."""


class StuckError(Exception):
    """What a script waited for did not come; in words."""


class Screen:
    """An X display of its own, with keys, mouse and pictures."""

    def __init__(self, width: int, height: int) -> None:
        read, write = os.pipe()
        self._server = subprocess.Popen(
            ["Xvfb", "-displayfd", str(write), "-screen", "0", f"{width}x{height}x24", "-nolisten", "tcp"],
            pass_fds=(write,),
            stderr=subprocess.DEVNULL,
        )
        os.close(write)
        self.size = (width, height)
        with os.fdopen(read) as told:
            self.environment = {
                **os.environ,
                "DISPLAY": f":{told.readline().strip()}",
                "QT_QPA_PLATFORM": "xcb",
            }

    def run(self, *words: str) -> str:
        """Run a program on this display."""
        done = subprocess.run(words, env=self.environment, capture_output=True, text=True, check=True)
        return done.stdout

    def fill_with(self, title: str) -> None:
        """Wait for a window and make it as large as the screen (there is no window manager)."""
        found = self.run("xdotool", "search", "--sync", "--onlyvisible", "--name", title).split()[0]
        self.run("xdotool", "windowmove", found, "0", "0", "windowsize", found, *map(str, self.size))
        self.run("xdotool", "windowfocus", found)

    def keys(self, *names: str) -> None:
        """Press keys, by their X names; a question that Enter has opened takes no answer at once."""
        self.run("xdotool", "key", "--delay", "60", *names)
        if "Return" in names:
            time.sleep(ANSWER_S)

    def click(self, x: int, y: int) -> None:
        """Click with the left button, at a place in pixels of the screen."""
        self.run("xdotool", "mousemove", str(x), str(y))
        time.sleep(MOVE_S)
        self.run("xdotool", "click", "1")

    def act(self, *action_ids: str) -> int:
        """Run actions of the window by their keys, as the table of actions has them; returns how many keys it took."""
        pressed = [key for action_id in action_ids for key in keys_of(action_id)]
        for key in pressed:
            self.keys(key)
            time.sleep(MENU_S if key.startswith("alt+") else 0.0)
        time.sleep(ANSWER_S)
        return len(pressed)

    def choose(self, number: int) -> int:
        """Give the answer of the open question that is the `number`-th button; returns how many keys it took."""
        self.keys(*["Tab"] * number, "Return")
        return number + 1

    def quit(self, stop: bool) -> None:
        """Close the window, which asks first while it records.

        Args:
            stop: whether recording is stopped; else it goes on.
        """
        self.act("file.quit")
        time.sleep(1.0)
        self.keys(*(["Tab"] if stop else []), "Return")

    def type(self, text: str) -> None:
        """Type a text."""
        self.run("xdotool", "type", "--delay", "20", text)

    def picture(self, path: Path) -> None:
        """Save what is on the screen."""
        time.sleep(0.4)  # for the last key to be drawn
        self.run("import", "-window", "root", str(path))
        print(path)

    def close(self) -> None:
        """End the X server."""
        self._server.terminate()
        self._server.wait()


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


def wait_for(what: str, true: Callable[[], bool], wait_s: float = WAIT_S) -> None:
    """Wait until something is so; `StuckError` where it is not in time.

    Args:
        what: in words, for who waits in vain.
        true: whether it is so.
        wait_s: how long it may take.
    """
    until = time.monotonic() + wait_s
    while not true():
        if time.monotonic() > until:
            raise StuckError(f"waited in vain until {what}")
        time.sleep(0.05)


def drive(screen: Screen, folder: Path, name: str) -> None:
    """The whole first part of the job, by keyboard only."""
    # Long: the keys of one visit in their order, as a user presses them.
    work = Path(tempfile.mkdtemp(prefix="stillvolt-pictures-"))
    visit, port, body = work / "Upper flat, evening.visit", work / "meter", Body()
    meter = PtyMeter(port, body.lines(), RATE_HZ)
    number = itertools.count(1)

    def shot(what: str) -> None:
        screen.picture(folder / f"{name}-{next(number):02d}-{what}.png")

    def open_window() -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", "logger", "--visit", str(visit), "--port", str(port)]
        window = subprocess.Popen(command, env=screen.environment)
        screen.fill_with("Stillvolt")
        return window

    window = open_window()
    screen.act("connect.fields")
    shot("connect-settings")
    screen.act("connect.fields")
    shot("connect")
    screen.act("measure.record")
    log = VisitLog.open(visit)
    wait_for("it records", lambda: log.recorder.live() is not None)
    shot("settling")

    def state() -> str:
        live = log.recorder.live()
        return live.state.value if live else ""

    wait_for("it is settled", lambda: state() == "settled")
    screen.act("stage.spots", "spots.room")
    screen.type("Bedroom")
    for _ in range(2):
        screen.keys("Return")
    screen.act("spots.next", "spots.next")
    time.sleep(4)
    screen.act("measure.primary")
    shot("asks-what-is-on")
    screen.choose(1)
    shot("desk-taken")
    body.moving = True
    wait_for("it moves", lambda: state() == "moving")
    time.sleep(2)
    screen.act("measure.primary")
    shot("moving-refused")
    body.moving, body.level_volts = False, 0.27
    wait_for("it is settled", lambda: state() == "settled")
    time.sleep(8)
    screen.act("measure.primary")
    shot("bed-taken")
    body.level_volts = 0.44
    wait_for("the step is known", lambda: any(e.event.kind == "step" for e in log.events.after()))
    screen.act("measure.mark")
    screen.type("bedside lamp plugged in")
    shot("mark")
    screen.keys("Return")
    wait_for("it is settled", lambda: state() == "settled")
    screen.act("spots.previous", "spots.previous", "measure.primary")
    time.sleep(3)
    screen.act("measure.void_last")
    shot("asks-why-it-is-void")
    screen.choose(2)
    shot("voided")
    screen.act("measure.primary", "help.actions")
    shot("all-actions")
    screen.act("view.back")
    meter.pull()
    wait_for(
        "the port is lost", lambda: (live := log.recorder.live()) is not None and live.port_state == "lost"
    )
    time.sleep(2)
    shot("port-lost")
    meter.put_back()
    wait_for(
        "the port is back", lambda: (live := log.recorder.live()) is not None and live.port_state == "open"
    )
    wait_for("it is settled", lambda: state() == "settled")
    screen.act("stage.connect")
    shot("connect-while-recording")
    screen.act("stage.spots", "view.dark")
    shot("dark")
    screen.act("trace.whole", "view.dark")
    shot("all-of-the-trace")
    screen.act("file.quit")
    time.sleep(1)
    shot("closing-asks")
    screen.keys("Return")
    window.wait(10)
    window = open_window()
    screen.act("stage.spots")
    time.sleep(1)
    shot("reopened")
    live = log.recorder.live()
    assert live is not None
    os.kill(live.pid, signal.SIGKILL)
    time.sleep(4)
    screen.act("stage.connect")
    shot("recorder-killed")
    screen.act("measure.record")
    wait_for("a new run", lambda: (now := log.recorder.live()) is not None and now.run_id > live.run_id)
    wait_for("it is settled", lambda: state() == "settled")
    screen.act("stage.spots")
    shot("recording-again")
    screen.quit(stop=True)
    window.wait(10)
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
