"""An X display of its own for a script that works in the real window: keys, mouse and pictures.

Needs Xvfb, xdotool and ImageMagick's `import`.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # so that the tree itself can be imported

from gui.shell.answer_guard import OWN_GUARD_S

WAIT_S = 60.0
ANSWER_S = OWN_GUARD_S + 0.1
"""After what may open a question, seconds: an answer that comes sooner does not count."""
MOVE_S = 0.1
"""From the mouse at its place to its button: what is below it learns of it first."""


class StuckError(Exception):
    """What a script waited for did not come; in words."""


class Screen:
    """An X display of its own, with keys, mouse and pictures.

    Args:
        width: in pixels.
        height: in pixels.
        language: of the system there, as a code; empty as it is here.
    """

    def __init__(self, width: int, height: int, *, language: str = "") -> None:
        read, write = os.pipe()
        self._server = subprocess.Popen(
            ["Xvfb", "-displayfd", str(write), "-screen", "0", f"{width}x{height}x24", "-nolisten", "tcp"],
            pass_fds=(write,),
            stderr=subprocess.DEVNULL,
        )
        os.close(write)
        self.size = (width, height)
        self._settings = tempfile.TemporaryDirectory(prefix="stillvolt-settings-")
        with os.fdopen(read) as told:
            self.environment = {
                **os.environ,
                "DISPLAY": f":{told.readline().strip()}",
                "QT_QPA_PLATFORM": "xcb",
                "XDG_CONFIG_HOME": self._settings.name,  # nobody's own settings, and none that others change
                **({"LC_ALL": f"{language}.UTF-8", "LANGUAGE": ""} if language else {}),
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

    def quit(self, stop: bool) -> None:
        """Close the window, which asks first while it records.

        Args:
            stop: whether recording is stopped; else it goes on.
        """
        self.keys("ctrl+q")
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
        self._settings.cleanup()


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
