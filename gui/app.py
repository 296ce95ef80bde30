"""Opens the window: finds or makes the visit log, attaches to a recorder that is at work."""

from __future__ import annotations

import faulthandler
import os
import sys
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication

from gui.collector import collecting_between_events
from gui.language import choose_language
from gui.model.stages import REPORT
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.model.visits_folder import usual_visits_folder
from gui.settings.preferences import LANGUAGE, Preferences, preferences_path
from gui.sound.sounds import Sounds
from gui.widgets.icons import application_icon
from gui.window import Window
from gui.window.other_visit_actions import VisitRequest
from logger.diagnostics import log_exception
from logger.errors import StillvoltError
from logger.plan.continued_plan import continue_home
from logger.recording.recorder_lock import is_recording
from logger.simulation import register_simulated_port
from logger.translation import shown_language, tr
from logger.visit import VisitLog
from logger.visit.storage.read_only import open_checked
from logger.visit.storage.visit_brief import read_brief, remove_if_empty
from logger.visit.storage.visit_folder import default_name, new_visit, visits_in


def choose_visit(folder: Path, now: datetime) -> Path:
    """The visit log that the window opens when none is named.

    The one that is being recorded, so that reopening attaches to it; else one that was opened last and never used;
    else a new name by the time of day.
    """
    newest_first = visits_in(folder)
    for path in newest_first:
        if is_recording(path):
            return path
    if newest_first and read_brief(newest_first[0]).is_unused:
        return newest_first[0]
    return new_visit(folder, default_name(now))


def open_visit(path: Path) -> VisitLog:
    """Open a visit log, or make it; raises StillvoltError."""
    if path.exists():
        return open_checked(path)
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise StillvoltError(
            tr("The folder {folder} cannot be made ({reason}).").format(
                folder=path.parent, reason=error.strerror
            ),
            tr("Nothing was written."),
            tr("Name a visit log in another folder: stillvolt --visit FILE."),
        ) from error
    return VisitLog.create(path)


def make_application() -> QApplication:
    """The one application object, set up alike for the window, its parts opened alone, and the tests."""
    register_simulated_port()
    application = QApplication.instance()
    if not isinstance(application, QApplication):
        application = QApplication(["stillvolt"])
    application.setApplicationName("Stillvolt")
    application.setStyle("Fusion")
    application.setWindowIcon(application_icon())
    return application


class WindowSwitcher:
    """The one window of this program, on one visit after another.

    Args:
        window: on the first visit.
        made: visit logs that the program chose or made by itself: where nothing comes into them, they are removed.
    """

    def __init__(self, window: Window, made: tuple[Path, ...] = ()) -> None:
        self.window = window
        self.all_closed: Callable[[], object] = lambda: None
        """Called when the user has closed the window; not where another one takes its place."""
        self._made = set(made)
        self._connect_window()

    def close(self) -> None:
        """Close the visit log that is open now; one in which nothing is, and that was made here, is removed."""
        self._leave(self.window.controller.log)

    def _leave(self, log: VisitLog, *, stays_open: bool = False) -> None:
        """Close a visit log.

        Args:
            log: the one.
            stays_open: another window shows the same visit from now on.
        """
        overwritten = log.is_overwritten()
        log.close()
        if log.path in self._made and not overwritten and not stays_open:
            remove_if_empty(log.path)

    def show(self, request: VisitRequest) -> None:
        """Show another visit in place of this one; where it cannot be opened, this one stays."""
        old = self.window
        try:
            log = _log_of(request)
        except StillvoltError as error:
            old.controller.message = Message(str(error), refused=True)
            old.redraw()
            return
        if request.new and request.continues is None:
            self._made.add(log.path)
        shown = shown_language()
        choose_language(old.preferences.get(LANGUAGE))
        try:
            self.window = Window(VisitController(log), sounds=old.sounds, preferences=old.preferences)
        except Exception:  # a mistake of the program's own: the visit that is open stays usable
            choose_language(shown)
            log_exception("opening a window on another visit")
            self._leave(log)
            old.controller.message = Message(
                tr("The visit cannot be shown. This one stays open."), refused=True
            )
            old.redraw()
            return
        if request.stop:
            old.controller.recording.stop()
        if old.navigator.stage is REPORT and not request.new:
            # Who compares visits, or looks for one, goes on where that was.
            self.window.pages.report.show_page(old.pages.report.stack.currentIndex())
            self.window.navigator.go_to(REPORT)
        if request.message:
            self.window.controller.message = Message(request.message)
            self.window.redraw()
        self.window.setGeometry(old.normalGeometry())  # where it goes back to from the whole screen
        self.window.setWindowState(old.windowState())
        self._connect_window()
        self.window.show()
        old.may_close = True
        old.close()
        self._leave(old.controller.log, stays_open=old.controller.log.path == log.path)
        old.deleteLater()

    def _connect_window(self) -> None:
        window = self.window
        # After the key that asked for it has been dealt with, since its window goes away.
        window.visit_requested.connect(lambda request: QTimer.singleShot(0, lambda: self.show(request)))
        window.closed.connect(lambda: self._closed(window))

    def _closed(self, window: Window) -> None:
        if window is self.window:
            self.all_closed()


def _log_of(request: VisitRequest) -> VisitLog:
    """The log of the visit that is to be shown, made where it is a new one; raises StillvoltError."""
    if request.continues is not None:
        continue_home(request.continues, request.path)
    elif request.new:
        return VisitLog.create(request.path)
    return open_checked(request.path)


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
            tr("There is no screen to open a window on."),
            tr("Recording works without a screen."),
            tr("Use: stillvolt record --port URL --visit FILE."),
        )
    path = visit or choose_visit(usual_visits_folder(), datetime.now())
    application = make_application()
    preferences = Preferences(preferences_path())
    choose_language(preferences.get(LANGUAGE))
    log = open_visit(path)
    if sys.stderr is not None and not faulthandler.is_enabled():
        faulthandler.enable()  # a fault of a library then leaves a trace, where there is somewhere to print it
    window = Window(VisitController(log), port, Sounds(), preferences=preferences)
    shown = WindowSwitcher(window, () if visit else (log.path,))
    # Qt's own rule looks which windows are in sight at the moment that one goes. Here only the user ends the program.
    application.setQuitOnLastWindowClosed(False)
    shown.all_closed = application.quit
    if preferences.warning:
        shown.window.controller.message = Message(preferences.warning)
    shown.window.show()
    if start and not shown.window.controller.snapshot.recording:
        shown.window.window_actions.recording.start()
    try:
        with collecting_between_events():
            return application.exec()
    finally:
        shown.close()


if __name__ == "__main__":
    sys.exit(open_window())
