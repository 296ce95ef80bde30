"""The main window: makes the parts, connects them, and refreshes them from the visit log."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QEvent, QSize, Qt, QTimer, QUrl, Signal
from PySide6.QtGui import QCloseEvent, QDesktopServices, QGuiApplication, QKeyEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QMainWindow

from gui.actions.base import ActionContext
from gui.actions.other_visit_actions import OtherVisitActions
from gui.actions.reading_actions import ReadingActions
from gui.actions.spot_actions import SpotActions
from gui.model.night_controller import NightController
from gui.model.practice_controller import PracticeController
from gui.model.report_controller import ReportController
from gui.model.stages import CHECK, CONNECT, PREPARE, SPOTS, Stage
from gui.model.sweep_controller import SweepController
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.practice.practice_panel import PracticePanel
from gui.shell.action_bar import ActionBar
from gui.shell.message_bar import MessageBar
from gui.shell.prompt import PromptPanel
from gui.shell.readout import Readout
from gui.shell.stage_list import StageList
from gui.sound.sounds import Sounds, Tone
from gui.stages.night.night_screen import NightScreen
from gui.trace.trace_plot import TracePlot
from gui.widgets import theme
from gui.widgets.appearance import Appearance
from gui.widgets.keys import key_name
from gui.widgets.page import Page
from gui.widgets.theme import Sizes, Theme, style_sheet
from gui.window.automatic_actions import AutomaticActions
from gui.window.frame import Frame
from gui.window.key_dispatcher import REPEATING_KEYS, KeyDispatcher
from gui.window.navigator import Navigator
from gui.window.practice_actions import PracticeActions
from gui.window.recording_actions import RecordingActions
from gui.window.stage_pages import StagePages

POLL_MS = 33
"""How often the log is read: the longest wait between a sample on disk and its pixel."""

NIGHT_POLL_MS = 250
"""The same while the night screen is shown, all night, on battery."""

FIRST_SIZE = QSize(1280, 720)
MIN_SIZE = QSize(960, 540)

PAN_SHARE = 0.25
"""Of the stretch in sight, for one key press."""
ZOOM_FACTOR = 2.0


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
    """

    visit_wanted = Signal(object)
    """A `gui.actions.other_visit_actions.VisitRequest` to show in this window's place."""

    def __init__(
        self,
        controller: VisitController,
        port: str | None = None,
        sounds: Sounds | None = None,
        polls: bool = True,
        night_controller: NightController | None = None,
        practice_controller: PracticeController | None = None,
        report_controller: ReportController | None = None,
    ) -> None:
        super().__init__()
        self.controller = controller
        self.sweep_controller = SweepController(controller)
        self.night_controller = night_controller or NightController(controller)
        self.practice_controller = practice_controller or PracticeController(controller)
        self.report_controller = report_controller or ReportController(controller, opens=_open_file)
        self.sounds = sounds or Sounds()
        self.appearance = Appearance(theme.current(), Sizes.for_height(FIRST_SIZE.height()))
        self._theme: Theme | None = None  # chosen by key; None follows the system
        self.may_close = False
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
        context = ActionContext(
            controller, self.prompt, self.sounds, self.action_bar, self.redraw, lambda: self.navigator.go_to(SPOTS)
        )  # fmt: skip
        self.spot_actions = SpotActions(context)
        self.reading_actions = ReadingActions(context, self.spot_actions)
        self.other_visit_actions = OtherVisitActions(controller, self.prompt.ask, self.visit_wanted.emit)
        self.recording_actions = RecordingActions(
            controller, self.pages, self.navigator, self.prompt, self.setFocus, self.redraw
        )
        self.practice_actions = PracticeActions(
            self.practice_controller, self.panel, self.pages.connect, self._restyle
        )
        self.automatic_actions = AutomaticActions(
            self.sweep_controller, self.reading_actions, self.pages, self.prompt, self.sounds, self.action_bar,
            self.redraw,
        )  # fmt: skip
        self.keys = KeyDispatcher(
            self._actions_by_name(), self.pages, self.navigator, self.prompt, self.panel, self.night_screen,
            self.sweep_controller, self.setFocus, self.redraw,
        )  # fmt: skip
        self._connect_parts()

        self.setWindowTitle(f"{controller.log.path.stem} — Stillvolt")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.resize(FIRST_SIZE)
        self.setMinimumSize(MIN_SIZE)
        self._restyle()
        self.navigator.go_to(self._stage_at_work() if controller.snapshot.recording else CONNECT)
        if port is not None:
            self.practice_actions.show_house(port)
        self._timer = QTimer(self, interval=POLL_MS)
        self._timer.timeout.connect(self.refresh)
        if polls:
            self._timer.start()

    def _connect_parts(self) -> None:
        pages, handle, start = self.pages, self.handle_key, self.recording_actions.start
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
        pages.connect.identify_requested.connect(self.recording_actions.identify)
        pages.connect.meter_choice_requested.connect(self.recording_actions.ask_meter)
        pages.identify.key_clicked.connect(handle)
        pages.identify.recording_requested.connect(self.recording_actions.start_with)
        pages.identify.kept.connect(pages.connect.use)
        pages.spots.spot_clicked.connect(self.spot_actions.choose_spot)
        pages.night.night_screen_requested.connect(self.enter_night)
        pages.night.recording_requested.connect(start)
        pages.night.stretch_requested.connect(self.navigator.show_stretch)
        pages.report.visit_requested.connect(self.other_visit_actions.open)
        self.night_screen.left.connect(self._leave_night)
        QGuiApplication.styleHints().colorSchemeChanged.connect(self._restyle)

    def _actions_by_name(self) -> dict[str, Callable[[], None]]:
        """What each action of `gui.widgets.keys.KEYS` does."""
        trace, spots, readings, pages = self.trace, self.spot_actions, self.reading_actions, self.pages
        return {
            "take": readings.take,
            "override": lambda: readings.take(override=True),
            "next": lambda: spots.choose_along(1),
            "previous": lambda: spots.choose_along(-1),
            "unread": spots.choose_first_unread,
            "hands_free": readings.arm_or_disarm,
            "still_for": readings.ask_still_for,
            "by_hand": readings.ask_by_hand,
            "round": readings.ask_round,
            "walk": readings.go_outside,
            "results": lambda: self.navigator.go_to(CHECK),
            "budget": lambda: self.navigator.toggle(pages.budget),
            "room": spots.ask_room,
            "remind": spots.ask_reminder,
            "condition": readings.ask_condition,
            "mark": readings.ask_mark,
            "undo": readings.ask_undo,
            "add": spots.ask_new_spot,
            "rename": spots.ask_spot_name,
            "later": lambda: spots.move_spot(1),
            "earlier": lambda: spots.move_spot(-1),
            "remove": spots.ask_remove_spot,
            "zoom_in": lambda: trace.zoom(1 / ZOOM_FACTOR),
            "zoom_out": lambda: trace.zoom(ZOOM_FACTOR),
            "span": trace.next_span,
            "pan_back": lambda: trace.pan(-PAN_SHARE),
            "pan_on": lambda: trace.pan(PAN_SHARE),
            "follow": trace.follow,
            "fit": trace.toggle_fit,
            "record": self.recording_actions.start_or_ask_stop,
            "sound": self._toggle_sound,
            "dark": self._toggle_dark,
            "form": spots.show_form,
            "visits": self.other_visit_actions.ask,
            "practice": self.practice_actions.show_or_hide,
            "practice_night": self.practice_actions.record_or_cancel_night,
            "help": lambda: self.navigator.toggle(pages.shortcuts),
            "close": self._request_close,
        }

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
        if any(news):
            self.automatic_actions.announce_steps()
            self.redraw()
        started = was_starting and not controller.recording.starting and controller.snapshot.recording
        if started and self.pages.shows(CONNECT):
            self.navigator.go_to(self._stage_at_work())
        self.automatic_actions.take_what_is_due()
        self.automatic_actions.play_state()

    def redraw(self) -> None:
        """Show what is known now, without reading the log."""
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
        self.appearance = Appearance(self._theme or theme.current(), Sizes.for_height(self.height()))
        self.setStyleSheet(style_sheet(self.appearance.theme, self.appearance.sizes))
        self.frame.fix_sizes(self.appearance.sizes, self.width(), self.height())
        for part in self.frame.styled_parts():
            part.set_appearance(self.appearance)
        self.frame.fit_panel(self.height())

    def _toggle_sound(self) -> None:
        self.sounds.on = not self.sounds.on
        self.controller.message = Message("Sounds are on" if self.sounds.on else "Sounds are off")

    def _toggle_dark(self) -> None:
        self._theme = theme.LIGHT if self.appearance.theme is theme.DARK else theme.DARK
        self._restyle()

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
        if activated and self.prompt.line is None:
            self.setFocus()

    def closeEvent(self, event: QCloseEvent) -> None:
        """Close, or ask first whether recording goes on."""
        self.night_screen.leave()
        at_once = self.may_close or self.practice_controller.records_night
        if not at_once and not self.recording_actions.confirms_closing(self._close_without_asking):
            event.ignore()
            return
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
