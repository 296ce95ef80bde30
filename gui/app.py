"""Opens the window: finds or makes the visit log, attaches to a recorder that is at work."""

from __future__ import annotations

import os
import sys
from datetime import datetime
from pathlib import Path

import platformdirs
from PySide6.QtWidgets import QApplication

from gui.session import Session
from gui.window import Window
from logger.errors import StillvoltError
from logger.recorder import is_recording
from logger.visit import VisitLog

SUFFIX = ".visit"


def visits_folder() -> Path:
    """Where visit logs go that were given no name."""
    return Path(platformdirs.user_documents_dir()) / "Stillvolt"


def choose_visit(folder: Path, now: datetime) -> Path:
    """The visit log that the window opens when none is named.

    The one that is being recorded, so that reopening attaches to it; else one that was opened last and never used;
    else a new name by the time of day.
    """
    newest_first = sorted(folder.glob(f"*{SUFFIX}"), key=lambda path: path.stat().st_mtime, reverse=True)
    for path in newest_first:
        if is_recording(path):
            return path
    if newest_first and _is_unused(newest_first[0]):
        return newest_first[0]
    return folder / f"{now:%Y-%m-%d %H.%M.%S}{SUFFIX}"


def _is_unused(path: Path) -> bool:
    try:
        log = VisitLog.open(path)
    except StillvoltError:
        return False
    unused = not (log.runs() or log.spots() or log.readings() or log.marks())
    log.close()
    return unused


def open_visit(path: Path) -> VisitLog:
    """Open a visit log, or make it; raises StillvoltError."""
    if path.exists():
        return VisitLog.open(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StillvoltError(
            f"The folder {path.parent} cannot be made ({error.strerror}).",
            "Nothing was written.",
            "Name a visit log in another folder: stillvolt --visit FILE.",
        ) from error
    return VisitLog.create(path)


def make_application() -> QApplication:
    """The one application object, set up alike for the window, its parts opened alone, and the tests."""
    application = QApplication.instance()
    if not isinstance(application, QApplication):
        application = QApplication(["stillvolt"])
    application.setApplicationName("Stillvolt")
    application.setStyle("Fusion")
    return application


def _no_screen() -> bool:
    """Qt would end the program without a word that a user understands."""
    named = any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"))
    return sys.platform.startswith("linux") and not named


def open_window(visit: Path | None = None, port: str | None = None, start: bool = False) -> int:
    """Open the window and stay until it is closed.

    Args:
        visit: the visit log, made if missing; None chooses one (`choose_visit`).
        port: URL of the port to choose first.
        start: start recording at once.

    Raises:
        StillvoltError: the visit log cannot be opened or made.
    """
    if _no_screen():
        raise StillvoltError(
            "There is no screen to open a window on.",
            "Recording works without one.",
            "Use: stillvolt record --port URL --visit FILE.",
        )
    path = visit or choose_visit(visits_folder(), datetime.now())
    log = open_visit(path)
    application = make_application()
    window = Window(Session(log), port)
    window.show()
    if start and not window.session.feed.recording:
        window.start_recording()
    try:
        return application.exec()
    finally:
        log.close()


if __name__ == "__main__":
    sys.exit(open_window())
