"""Opens a file with the system's program for it, and learns whether that failed."""

from __future__ import annotations

import subprocess
import time
from collections.abc import Callable
from pathlib import Path
from shutil import which
from typing import ClassVar

from PySide6.QtCore import QObject, QTimer, QUrl
from PySide6.QtGui import QDesktopServices, QGuiApplication

FAILS_WITHIN_S = 10.0
"""A program that ends with an error after that was open, and was closed by the user."""

LINUX_DESKTOPS = ("xcb", "wayland")
"""Qt's names of the screens on which a starter is used."""

POLL_MS = 200
"""How often is looked whether the starter has ended."""


def open_file(path: Path, on_failure: Callable[[], object]) -> None:
    """Open a file with the system's program.

    On Linux Qt only learns that a starter exists, not that it found no program: here its end is looked at.

    Args:
        path: the file.
        on_failure: called, at once or within `FAILS_WITHIN_S`, where it could not be opened.
    """
    on_linux_desktop = QGuiApplication.platformName() in LINUX_DESKTOPS
    starter = which("xdg-open") if on_linux_desktop else None
    if starter is not None:
        _Opening([starter, str(path)], on_failure)
    elif not QDesktopServices.openUrl(QUrl.fromLocalFile(str(path))):
        on_failure()


class _Opening(QObject):
    """A starter at work. It is kept by its timer's connection until it is known how it ends.

    Args:
        command: the starter and its argument.
        on_failure: called where it ends with an error.
    """

    at_work: ClassVar[set[_Opening]] = set()
    """Those whose end is not known yet."""

    def __init__(self, command: list[str], on_failure: Callable[[], object]) -> None:
        super().__init__()
        self._on_failure = on_failure
        self._until_s = time.monotonic() + FAILS_WITHIN_S
        try:
            self._process = subprocess.Popen(
                command,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                start_new_session=True,
            )
        except OSError:
            on_failure()
            return
        self._timer = QTimer(self, interval=POLL_MS)
        self._timer.timeout.connect(self.poll)
        self._timer.start()
        _Opening.at_work.add(self)

    def poll(self) -> None:
        """Look whether the starter has ended, and how."""
        code = self._process.poll()
        if code is None and time.monotonic() < self._until_s:
            return
        self._timer.stop()
        _Opening.at_work.discard(self)
        if code:
            self._on_failure()
