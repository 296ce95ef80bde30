"""The main window: makes the parts, connects them, and refreshes them from the visit log."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from PySide6.QtCore import QEvent, QSize, Qt, QTimer, QUrl, Signal
from PySide6.QtGui import QCloseEvent, QDesktopServices, QGuiApplication, QKeyEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QMainWindow

from gui.actions.base import ActionContext
from gui.actions.other_visit_actions import VisitRequest
from gui.model.night_controller import NightController
from gui.model.practice_controller import PracticeController
from gui.model.report_controller import ReportController
from gui.model.stages import CONNECT, PREPARE, SPOTS, Stage
from gui.model.sweep_controller import SweepController
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.model.visit_file_watch import VisitFileWatch
from gui.practice.practice_panel import PracticePanel
from gui.settings.preferences import COLOURS, SOUNDS, ColourScheme, Preferences
from gui.shell.action_bar import ActionBar
from gui.shell.message_bar import MessageBar
from gui.shell.prompt import PromptPanel
from gui.shell.readout import Readout
from gui.shell.stage_list import StageList
from gui.sound.sounds import Sounds, Tone
from gui.stages.night.night_screen import NightScreen
from gui.trace.trace_plot import TracePlot
from gui.widgets import theme
from gui.widgets.keys import key_name
from gui.widgets.page import Page
from gui.widgets.theme import style_sheet
from gui.window.automatic_actions import AutomaticActions
from gui.window.frame import Frame
from gui.window.key_dispatcher import REPEATING_KEYS, KeyDispatcher
from gui.window.navigator import Navigator
from gui.window.practice_actions import PracticeActions
from gui.window.recording_actions import RecordingActions
from gui.window.remembered import Remembered
from gui.window.stage_pages import StagePages
from gui.window.window_actions import WindowActions

POLL_MS = 33
"""How often the log is read: the longest wait between a sample on disk and its pixel."""

NIGHT_POLL_MS = 250
"""The same while the night screen is shown, all night, on battery."""

FIRST_SIZE = QSize(1280, 720)
MIN_SIZE = QSize(960, 540)
FRAME_SIZE = QSize(8, 48)
"""Room for the frame and title bar that the system puts round the window."""


# long: every part of the window is made and joined to the others here, so that no part knows the window.
class Window(QMainWindow):
    """One window on one visit.

    Args:
        controller: the visit.
        port: URL of the port to choose first.
        sounds: plays the tones.
        polls: reads the log by itself; a test calls `refresh` instead.
        night_controller: the work of the stage Night; a test gives one with a computer of its own.
        practice_controller: the practice house; a test gives one whose nights begin at once.
        report_controller: the work of the stage Report; a test gives one that is done at once.
        preferences: what is remembered from one start to the next; None remembers nothing.
    """

    visit_requested = Signal(object)
    """A `gui.actions.other_visit_actions.VisitRequest` to show in this window's place."""

    # long: every part is made here, once, and handed to those that need it, so that no part knows the window.
    def __init__(
        self,
        controller: VisitController,
        port: str | None = None,
        sounds: Sounds | None = None,
        polls: bool = True,
        night_controller: NightController | None = None,
        practice_controller: PracticeController | None = None,
        report_controller: ReportController | None = None,
        preferences: Preferences | None = None,
    ) -> None:
        super().__init__()
        self.preferences = preferences or Preferences()
        self.controller = controller
        self.sweep_controller = SweepController(controller)
        self.night_controller = night_controller or NightController(controller)
        self.practice_controller = practice_controller or PracticeController(controller)
        self.report_controller = report_controller or ReportController(controller, opens=_open_file)
        self.sounds = sounds or Sounds()
        self.remembered = Remembered(self.preferences, controller, self.sounds)
        self.remembered.begin()
        self.report_controller.before_writing.append(self.remembered.state_practitioner)
        self.appearance = self.remembered.appearance(FIRST_SIZE.height())
        self.may_close = False
        self._moves_on = False
        self._state_before_night = self.windowState()

        self.readout = Readout(controller, self.appearance)
        self.stage_list = StageList(controller, self.appearance)
        self.trace = TracePlot(controller, self.appearance)
        self.panel = PracticePanel(self.practice_controller, self.appearance)
        self.action_bar = ActionBar(controller, self.appearance)
        self.message_bar = MessageBar(controller, self.appearance)
        self.prompt = PromptPanel(self._prompt_changed)
        self.pages = StagePages(
            controller, self.sweep_controller, self.night_controller, self.report_controller, self.appearance, port
        )  # fmt: skip
        self.frame = Frame(
            self.readout, self.stage_list, self.trace, self.panel, self.prompt, self.pages, self.message_bar,
            self.action_bar,
        )  # fmt: skip
        self.setCentralWidget(self.frame)
        self.night_screen = NightScreen(self, self.night_controller, self.sounds, controller.clock)

        self.navigator = Navigator(controller, self.pages, self.stage_list, self.trace, self.redraw)
        show_spots = partial(self.navigator.go_to, SPOTS)
        context = ActionContext(
            controller, self.prompt, self.sounds, self.action_bar, self.redraw, show_spots
        )
        recording = RecordingActions(
            controller, self.pages, self.navigator, self.prompt, self.setFocus, self.redraw
        )
        practice = PracticeActions(self.practice_controller, self.panel, self.pages.connect, self._restyle)
        self.window_actions = WindowActions(
            context, self.pages, self.navigator, self.trace, recording, practice, self.visit_requested.emit
        )
        self.automatic_actions = AutomaticActions(
            self.sweep_controller, self.window_actions.hands_free, self.pages, self.prompt, self.sounds,
            self.action_bar, self.redraw,
        )  # fmt: skip
        of_window = {"sound": self._toggle_sound, "theme": self._toggle_dark, "close": self._request_close}
        self.keys = KeyDispatcher(
            self.window_actions.by_name() | of_window, self.pages, self.navigator, self.prompt, self.panel,
            self.night_screen, self.sweep_controller, self.setFocus, self.redraw,
        )  # fmt: skip
        self._connect_parts()

        self._show_name()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumSize(MIN_SIZE)
        self._take_place()
        self._restyle()
        if port is None and (last := self.remembered.last_port(self.pages.connect.ports)) is not None:
            self.pages.connect.use(last)
        self.navigator.go_to(self._stage_at_work() if controller.snapshot.recording else CONNECT)
        if port is not None:
            self.window_actions.practice.show_house(port)
        self._timer = QTimer(self, interval=POLL_MS)
        self._timer.timeout.connect(self.refresh)
        if polls:
            self._timer.start()

    def _connect_parts(self) -> None:
        pages, handle, start = self.pages, self.handle_key, self.window_actions.recording.start
        self.stage_list.stage_requested.connect(self.navigator.go_to)
        self.action_bar.clicked.connect(handle)
        self.action_bar.primary_action = lambda: self.page.primary_action()
        self.prompt.clicked.connect(handle)
        self.panel.key_clicked.connect(handle)
        for page in pages.of_stages():
            page.key_clicked.connect(handle)
            page.prompt_requested.connect(self.prompt.ask)
        for taking in (pages.check, pages.sources):
            taking.reading_taken.connect(lambda: self.sounds.play(Tone.TAKEN))
        pages.stack.currentChanged.connect(self._page_changed)
        pages.connect.recording_requested.connect(start)
        pages.connect.identify_requested.connect(self.window_actions.recording.identify)
        pages.connect.meter_choice_requested.connect(self.window_actions.recording.ask_meter)
        pages.identify.key_clicked.connect(handle)
        pages.identify.recording_requested.connect(self.window_actions.recording.start_with)
        pages.identify.kept.connect(pages.connect.use)
        pages.spots.spot_clicked.connect(self.window_actions.spots.choose_spot)
        pages.night.night_screen_requested.connect(self.enter_night)
        pages.night.recording_requested.connect(start)
        pages.night.stretch_requested.connect(self.navigator.show_stretch)
        pages.report.visit_requested.connect(self.window_actions.other_visit.open)
        self.night_screen.left.connect(self._leave_night)
        QGuiApplication.styleHints().colorSchemeChanged.connect(self._restyle)

    # --- what is shown -----------------------------------------------------------------------------------

    @property
    def page(self) -> Page:
        """The page in sight."""
        return self.pages.current

    def refresh(self) -> None:
        """Read what is new in the log, show it, and do what is due."""
        controller = self.controller
        was_starting = controller.recording.starting
        news = [
            controller.refresh(),
            self.sweep_controller.has_news(),
            self.night_controller.has_news(),
            self.practice_controller.has_news(),
            self.report_controller.has_news(),
        ]
        if controller.file_watch.continued_in is not None:
            self._show_where_it_goes_on(controller.file_watch)
            return
        if any(news):
            self._show_name()
            self.automatic_actions.announce_steps()
            self.redraw()
        started = was_starting and not controller.recording.starting and controller.snapshot.recording
        if started and self.pages.shows(CONNECT):
            self.navigator.go_to(self._stage_at_work())
        self.automatic_actions.take_what_is_due()
        self.automatic_actions.announce_contradiction()
        self.automatic_actions.ask_what_is_open()
        self.automatic_actions.play_state()

    def _show_name(self) -> None:
        mark = " (simulated)" if self.controller.snapshot.simulated else ""
        title = f"{self.controller.log.path.stem}{mark} — Stillvolt"
        if title != self.windowTitle():
            self.setWindowTitle(title)

    def _show_where_it_goes_on(self, watch: VisitFileWatch) -> None:
        if watch.continued_in is not None and not self._moves_on:
            self._moves_on = True
            self.visit_requested.emit(VisitRequest(watch.continued_in, message=watch.reason))

    def redraw(self) -> None:
        """Show what is known now, without reading the log."""
        self._show_name()
        if self.night_screen.is_shown:
            self.night_screen.refresh()
        else:
            self.frame.refresh()

    def _stage_at_work(self) -> Stage:
        """Where the work of a visit that is recorded goes on."""
        begun = self.controller.snapshot.spots or not self.controller.setup.stated.missing()
        return SPOTS if begun else PREPARE

    def _restyle(self) -> None:
        """Take over the system's theme and the sizes that belong to the window's height."""
        self.appearance = self.remembered.appearance(self.height())
        theme.colour_application(self.appearance.theme)
        sheet = style_sheet(self.appearance.theme, self.appearance.sizes)
        if sheet != self.styleSheet():  # Qt styles every part of the window anew, also by the same sheet
            self.setStyleSheet(sheet)
        self.frame.fix_sizes(self.appearance.sizes, self.width(), self.height())
        for part in self.frame.styled_parts():
            part.set_appearance(self.appearance)
        self.frame.fit_panel(self.height())

    def _take_place(self) -> None:
        """Be where the window was last; else as large as the screen lets it be, its frame included."""
        place = self.preferences.window_place
        if place is None or not self.restoreGeometry(place):
            self.resize(FIRST_SIZE.boundedTo(self.screen().availableSize() - FRAME_SIZE))

    def _toggle_sound(self) -> None:
        self.preferences.set(SOUNDS, not self.sounds.on)
        self.remembered.apply()
        self.controller.message = Message("Sounds are on" if self.sounds.on else "Sounds are off")

    def _toggle_dark(self) -> None:
        is_dark = self.appearance.theme is theme.DARK
        self.preferences.set(COLOURS, ColourScheme.LIGHT if is_dark else ColourScheme.DARK)
        self._restyle()

    def apply_preferences(self) -> None:
        """Take over what was changed in the settings, here or in another window."""
        self.preferences.refresh()
        if self.night_screen.is_shown:  # it has sounds and colours of its own
            return
        self.remembered.apply()
        self._restyle()
        self.redraw()

    def _page_changed(self) -> None:
        if self.page is not self.pages.identify:
            self.pages.identify.leave()  # the port is given back

    def _prompt_changed(self) -> None:
        is_open = self.prompt.prompt is not None
        self.action_bar.prompt_is_open = is_open
        self.pages.stack.setVisible(not is_open)
        if is_open:
            self.panel.suspend()
        else:
            self.panel.resume()
            self.setFocus()
        self.redraw()

    # --- the night screen --------------------------------------------------------------------------------

    def enter_night(self) -> None:
        """Cover the whole screen with the night screen."""
        self._state_before_night = self.windowState()
        self.setWindowState(self._state_before_night | Qt.WindowState.WindowFullScreen)
        self.night_screen.enter()
        self._timer.setInterval(NIGHT_POLL_MS)

    def _leave_night(self) -> None:
        self._timer.setInterval(POLL_MS)
        self.setWindowState(self._state_before_night)
        self.redraw()

    # --- events of Qt ------------------------------------------------------------------------------------

    def handle_key(self, name: str) -> bool:
        """Take a key; see `KeyDispatcher.handle`."""
        return self.keys.handle(name)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """See Qt."""
        name = key_name(event)
        if event.isAutoRepeat() and name not in REPEATING_KEYS:
            return
        if not self.handle_key(name):
            super().keyPressEvent(event)

    def focusNextPrevChild(self, forward: bool) -> bool:
        """See Qt."""
        taken = self.keys.handle_tab(forward)
        return super().focusNextPrevChild(forward) if taken is None else taken

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._restyle()
        self.night_screen.cover()

    def showEvent(self, event: QShowEvent) -> None:
        """See Qt."""
        super().showEvent(event)
        self.setFocus()

    def changeEvent(self, event: QEvent) -> None:
        """See Qt."""
        super().changeEvent(event)
        activated = event.type() == QEvent.Type.ActivationChange and self.isActiveWindow()
        if activated:
            self.apply_preferences()
        if activated and self.prompt.line is None:
            self.setFocus()

    def closeEvent(self, event: QCloseEvent) -> None:
        """Close, or ask first whether recording goes on."""
        self.night_screen.leave()
        at_once = self.may_close or self.practice_controller.records_night
        if not at_once and not self.window_actions.recording.confirms_closing(self._close_without_asking):
            event.ignore()
            return
        self.remembered.keep_place(self.saveGeometry())
        self._timer.stop()
        self.night_controller.close()
        self.practice_controller.close()
        self.report_controller.close()
        self.pages.identify.leave()
        event.accept()

    def _request_close(self) -> None:
        self.close()

    def _close_without_asking(self) -> None:
        self.may_close = True
        self.close()


def _open_file(path: Path) -> bool:
    """Open a file with the system's program for it."""
    return QDesktopServices.openUrl(QUrl.fromLocalFile(str(path)))
