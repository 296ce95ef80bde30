"""The main window: value band, stage rail, trace, sheet, bottom line; and the one place where keys are dispatched."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import QEvent, QSize, Qt, QTimer, QUrl, Signal
from PySide6.QtGui import QCloseEvent, QDesktopServices, QGuiApplication, QKeyEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QMainWindow, QStackedWidget, QVBoxLayout, QWidget

from gui.actions.base import ActionContext
from gui.actions.other_visit_actions import OtherVisitActions
from gui.actions.reading_actions import ReadingActions
from gui.actions.spot_actions import SpotActions
from gui.model.night_controller import ANEW_S, NightController
from gui.model.practice_controller import PracticeController
from gui.model.report_controller import ReportController
from gui.model.status import status
from gui.model.sweep_controller import SweepController
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.model.wording import spoken_change, volts_text
from gui.practice.practice_panel import PracticePanel
from gui.shell.action_bar import ActionBar
from gui.shell.message_bar import MessageBar
from gui.shell.prompt import Choice, Prompt, PromptPanel
from gui.shell.readout import HEIGHT_SHARE, Readout
from gui.shell.shortcuts_page import ShortcutsPage
from gui.shell.stage_list import (
    CHECK,
    CONNECT,
    NIGHT,
    PREPARE,
    REPORT,
    SOURCES,
    SPOTS,
    STAGES,
    Stage,
    StageList,
)
from gui.sound.sounds import Sounds, Tone
from gui.stages.check.check_page import CheckPage
from gui.stages.connect.connect_page import ConnectPage
from gui.stages.connect.identify_page import IdentifyPage
from gui.stages.night.night_screen import NightScreen
from gui.stages.night.night_stage import NightStage
from gui.stages.prepare.prepare_page import PreparePage
from gui.stages.report.report_stage import ReportStage
from gui.stages.sources.sources_stage import SourcesStage
from gui.stages.spots.budget_page import BudgetPage
from gui.stages.spots.spots_page import SpotsPage
from gui.trace.trace_plot import TracePlot, ViewRange
from gui.widgets import theme
from gui.widgets.appearance import Appearance, separator
from gui.widgets.keys import ACTION_OF, key_name
from gui.widgets.page import Page
from gui.widgets.theme import Sizes, Theme, style_sheet
from logger.errors import StillvoltError
from logger.meter.description_folder import folder, list_descriptions, load
from logger.meter.port import PortSettings
from logger.settling.events import State
from logger.simulation.practice_house import control_of, is_house

POLL_MS = 33
"""How often the log is looked at: the longest wait between a sample on disk and its pixel."""

NIGHT_POLL_MS = 250
"""The same while the night screen is shown, all night, on battery."""

REPEATING = ("Up", "Down", "Left", "Right", "+", "-", "=")
"""Keys that may be held down."""

PAN_SHARE = 0.25
ZOOM_FACTOR = 2.0

_TONE_OF = {
    State.SETTLED: Tone.SETTLED,
    State.CHANGING: Tone.MOVING,
    State.CHANGING_LONG: Tone.MOVING,
    State.LOST: Tone.LOST,
}
"""The tone on entering a state; the others are silent."""


class Window(QMainWindow):
    """One window on one visit.

    Args:
        controller: the visit.
        port: URL of the port to choose first.
        sounds: plays the tones.
        polls: looks at the log by itself; a test calls `refresh` instead.
        night: the work of the stage Night; a test gives one with a computer of its own.
        practice: the practice house; a test gives one whose nights begin at once.
        reporting: the work of the stage Report; a test gives one that is done at once.
    """

    visit_wanted = Signal(object)
    """A `gui.actions.other_visit_actions.VisitRequest` to show in this window's place."""

    def __init__(
        self,
        controller: VisitController,
        port: str | None = None,
        sounds: Sounds | None = None,
        polls: bool = True,
        night: NightController | None = None,
        practice: PracticeController | None = None,
        report_controller: ReportController | None = None,
    ) -> None:
        super().__init__()
        self.controller = controller
        self.sweep_controller = SweepController(controller)
        self.night = night or NightController(controller)
        self.practice = practice or PracticeController(controller)
        self.report_controller = report_controller or ReportController(controller, opens=_open_file)
        self.sounds = sounds or Sounds()
        self.appearance = Appearance(theme.current(), Sizes.for_height(720))
        self._told_state = status(controller.snapshot).state
        self._theme: Theme | None = None  # chosen by key; None follows the system
        self.may_close = False
        self._close_prompt: Prompt | None = None
        self.readout = Readout(controller, self.appearance)
        self.stage_list = StageList(controller, self.appearance)
        self.trace = TracePlot(controller, self.appearance)
        self.connect_page = ConnectPage(controller, self.appearance, port)
        self.spots_page = SpotsPage(controller, self.appearance)
        self.identify_page = IdentifyPage(controller, self.appearance)
        self.prepare_page = PreparePage(controller, self.appearance)
        self.check_page = CheckPage(controller, self.appearance)
        self.sources_stage = SourcesStage(self.sweep_controller, self.appearance)
        self.night_stage = NightStage(self.night, self.appearance)
        self.report_stage = ReportStage(self.report_controller, self.appearance)
        self.panel = PracticePanel(self.practice, self.appearance)
        self.budget_page = BudgetPage(controller, self.appearance)
        self.shortcuts_page = ShortcutsPage(controller, self.appearance)
        self.action_bar = ActionBar(controller, self.appearance)
        self.prompt = PromptPanel(self._question_changed)
        self.stack = QStackedWidget()
        self._page_of: dict[str, Page] = {
            CONNECT.name: self.connect_page,
            PREPARE.name: self.prepare_page,
            CHECK.name: self.check_page,
            SPOTS.name: self.spots_page,
            SOURCES.name: self.sources_stage,
            NIGHT.name: self.night_stage,
            REPORT.name: self.report_stage,
        }
        for page in (*self._page_of.values(), self.identify_page, self.budget_page, self.shortcuts_page):
            self.stack.addWidget(page)
        self.stack.currentChanged.connect(self._page_changed)
        self.other_visit = OtherVisitActions(controller, self.prompt.ask, self.visit_wanted.emit)
        self._lay_out()
        self.night_screen = NightScreen(self, self.night, self.sounds, controller.clock)
        self._sight_before: ViewRange | None = None
        """What the trace showed before the stage Night."""
        self._state_before = self.windowState()
        context = ActionContext(
            controller, self.prompt, self.sounds, self.action_bar, self.redraw, self.show_spots
        )
        self.spot_actions = SpotActions(context)
        self.reading_actions = ReadingActions(context, self.spot_actions)
        self._actions = self._make_actions()
        self.stage_list.asked_for.connect(self.go_to)
        for part in (self.action_bar, self.prompt):
            part.clicked.connect(self.handle_key)
        self.sources_stage.reading_taken.connect(lambda: self.sounds.play(Tone.TAKEN))
        for stage_page in self._page_of.values():
            stage_page.key_clicked.connect(self.handle_key)
            stage_page.prompt_requested.connect(self.prompt.ask)
        self.night_stage.night_screen_requested.connect(self.enter_night)
        self.night_stage.recording_requested.connect(self.start_recording)
        self.night_stage.stretch_requested.connect(self._show_stretch)
        self.night_screen.left.connect(self._leave_night)
        self.report_stage.visit_requested.connect(self.other_visit.open)
        self.panel.key_clicked.connect(self.handle_key)
        self.action_bar.primary_action = lambda: self.page.primary_action()
        self.check_page.reading_taken.connect(lambda: self.sounds.play(Tone.TAKEN))
        self.connect_page.recording_requested.connect(self.start_recording)
        self.connect_page.identify_requested.connect(self.identify)
        self.connect_page.meter_choice_requested.connect(self.ask_meter)
        self.identify_page.key_clicked.connect(self.handle_key)
        self.identify_page.recording_requested.connect(self._record_with)
        self.identify_page.kept.connect(self.connect_page.use)
        self.spots_page.spot_clicked.connect(self.spot_actions.choose_spot)
        QGuiApplication.styleHints().colorSchemeChanged.connect(self._restyle)
        self.setWindowTitle(f"{controller.log.path.stem} — Stillvolt")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.resize(1280, 720)
        self.setMinimumSize(QSize(960, 540))
        self._restyle()
        self.go_to(STAGES.index(self._stage_at_work() if controller.snapshot.recording else CONNECT))
        if port is not None and control_of(port) is not None and self.practice.open(port):
            self.panel.show()  # whoever brings a house wants to switch in it
            self._restyle()
        self._timer = QTimer(self, interval=POLL_MS)
        self._timer.timeout.connect(self.refresh)
        if polls:
            self._timer.start()

    # --- what is shown -----------------------------------------------------------------------------------

    @property
    def page(self) -> Page:
        """The sheet in sight."""
        page = self.stack.currentWidget()
        assert isinstance(page, Page)
        return page

    def refresh(self) -> None:
        """Read what is new in the log and draw it."""
        was_starting = self.controller.recording.starting
        news = [
            self.controller.refresh(),
            self.sweep_controller.has_news(),
            self.night.has_news(),
            self.practice.has_news(),
            self.report_controller.has_news(),
        ]
        if any(news):
            self._tell_steps()
            self.redraw()
        if (
            was_starting
            and not self.controller.recording.starting
            and self.controller.snapshot.recording
            and self._on(CONNECT.name)
        ):
            self.go_to(STAGES.index(self._stage_at_work()))
        if self._may_take_alone() and self.controller.hands_free.is_time():
            self.reading_actions.take_hands_free()
        if self.sweep_controller.waiting is not None and self.sweep_controller.left_s() == 0.0:
            self._take_switched()
        state = status(self.controller.snapshot).state
        if state is not self._told_state:
            self._told_state = state
            if state in _TONE_OF:
                self.sounds.play(_TONE_OF[state])

    def _stage_at_work(self) -> Stage:
        """Where the work of a visit that is recorded goes on."""
        begun = self.controller.snapshot.spots or not self.controller.setup.stated.missing()
        return SPOTS if begun else PREPARE

    def redraw(self) -> None:
        """Draw everything as it is known now."""
        if self.night_screen.is_shown:
            self.night_screen.refresh()
            return
        for part in (self.readout, self.stage_list, self.trace, self.page, self.action_bar, self.panel):
            part.refresh()
        self.message_bar.refresh()

    def go_to(self, index: int) -> None:
        """Show a stage's sheet; hands-free reading belongs to the spots and ends when they are left."""
        if STAGES[index] is not SPOTS and self.controller.hands_free.on:
            self.controller.hands_free.disarm()
            self.controller.message = Message("Hands-free reading ended: the sheet of the spots was left.")
        self.stage_list.current = index
        self.trace.asks_labels = STAGES[index] is SOURCES
        self.stack.setCurrentWidget(self._page_of[STAGES[index].name])
        self._choose_sight(STAGES[index] is NIGHT)
        self.redraw()

    def _on(self, stage_name: str) -> bool:
        return self.page is self._page_of[stage_name]

    def _lay_out(self) -> None:
        self.message_bar = MessageBar(self.controller, self.appearance)
        side = QWidget()
        side.setProperty("role", "panel")
        side.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        column = QVBoxLayout(side)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        holder = QVBoxLayout()
        holder.setContentsMargins(10, 10, 10, 0)
        holder.addWidget(self.prompt)
        column.addLayout(holder)
        column.addWidget(self.stack, 1)
        column.addStretch(0)
        column.addWidget(self.message_bar)
        self._side = side
        middle = QHBoxLayout()
        middle.setSpacing(0)
        middle.addWidget(self.stage_list)
        middle.addWidget(separator(vertical=True))
        pictured = QVBoxLayout()
        pictured.setSpacing(0)
        pictured.addWidget(self.trace, 1)
        pictured.addWidget(self.panel)
        middle.addLayout(pictured, 1)
        middle.addWidget(separator(vertical=True))
        middle.addWidget(side)
        whole = QWidget()
        whole.setObjectName("window")
        rows = QVBoxLayout(whole)
        rows.setContentsMargins(0, 0, 0, 0)
        rows.setSpacing(0)
        rows.addWidget(self.readout)
        rows.addWidget(separator())
        rows.addLayout(middle, 1)
        rows.addWidget(separator())
        rows.addWidget(self.action_bar)
        self.setCentralWidget(whole)

    def _restyle(self) -> None:
        """Take over the system's theme and the sizes that belong to the window's height."""
        self.appearance = Appearance(self._theme or theme.current(), Sizes.for_height(self.height()))
        self.setStyleSheet(style_sheet(self.appearance.theme, self.appearance.sizes))
        self.readout.setFixedHeight(round(self.height() * HEIGHT_SHARE))
        self.action_bar.setFixedHeight(round(self.appearance.sizes.normal * 2.7))
        self.stage_list.setFixedWidth(min(round(self.appearance.sizes.normal * 10.6), self.width() // 5))
        self._side.setFixedWidth(min(round(self.appearance.sizes.normal * 24), round(self.width() * 0.36)))
        for part in (
            self.readout, self.stage_list, self.trace, self.action_bar, self.message_bar, self.panel,
            *self._page_of.values(), self.identify_page, self.budget_page, self.shortcuts_page,
        ):  # fmt: skip
            part.set_appearance(self.appearance)
        self.panel.fit(self.height() - self.readout.height() - self.action_bar.height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._restyle()
        self.night_screen.cover()

    def showEvent(self, event: QShowEvent) -> None:
        """See Qt."""
        super().showEvent(event)
        self.setFocus()

    # --- keys --------------------------------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """See Qt."""
        name = key_name(event)
        if event.isAutoRepeat() and name not in REPEATING:
            return
        if not self.handle_key(name):
            super().keyPressEvent(event)

    def focusNextPrevChild(self, forward: bool) -> bool:
        """Tab is a key like others on the stage Sources and in a question that it answers; see Qt."""
        name = "Tab" if forward else "Shift+Tab"
        if self.prompt.prompt is not None:
            answered = self.prompt.handle(name)
            self.redraw()
            return answered or super().focusNextPrevChild(forward)
        if any(self._on(stage.name) for stage in (SOURCES, NIGHT, REPORT)):
            return self.handle_key(name)
        return super().focusNextPrevChild(forward)

    def handle_key(self, name: str) -> bool:
        """One press, one action: a question first, then the sheet, then the window. False: no such key."""
        if self.night_screen.is_shown:
            self.night_screen.handle(name)
            return True
        if ACTION_OF.get(name) == "practice" and self.prompt.line is None:
            self.show_or_hide_practice()  # to switch what a question asks for, before it is answered
        elif self.panel.has_keyboard and self.panel.handle(name):
            pass
        elif self.prompt.prompt is not None:
            if not self.prompt.handle(name) and ACTION_OF.get(name) == "close":
                self.close()
        elif self.panel.has_keyboard and self.panel.handle(name):
            pass
        elif name == "Esc":
            self._escape()
        elif self.page.handle(name):
            pass
        elif name.isdigit() and 1 <= int(name) <= len(STAGES):
            self.go_to(int(name) - 1)
        elif name in ACTION_OF:
            self._actions[ACTION_OF[name]]()
        else:
            return False
        self.redraw()
        return True

    def _make_actions(self) -> dict[str, Callable[[], None]]:
        trace = self.trace
        return {
            "take": self.reading_actions.take,
            "override": lambda: self.reading_actions.take(override=True),
            "next": lambda: self.spot_actions.choose_along(1),
            "previous": lambda: self.spot_actions.choose_along(-1),
            "unread": self.spot_actions.choose_first_unread,
            "hands_free": self.reading_actions.arm_or_disarm,
            "still_for": self.reading_actions.ask_still_for,
            "by_hand": self.reading_actions.ask_by_hand,
            "round": self.reading_actions.ask_round,
            "walk": self.reading_actions.go_outside,
            "results": lambda: self.go_to(STAGES.index(CHECK)),
            "budget": lambda: self._show_or_leave(self.budget_page),
            "room": self.spot_actions.ask_room,
            "remind": self.spot_actions.ask_reminder,
            "condition": self.reading_actions.ask_condition,
            "mark": self.reading_actions.ask_mark,
            "undo": self.reading_actions.ask_undo,
            "add": self.spot_actions.ask_new_spot,
            "rename": self.spot_actions.ask_spot_name,
            "later": lambda: self.spot_actions.move_spot(1),
            "earlier": lambda: self.spot_actions.move_spot(-1),
            "remove": self.spot_actions.ask_remove_spot,
            "zoom_in": lambda: trace.zoom(1 / ZOOM_FACTOR),
            "zoom_out": lambda: trace.zoom(ZOOM_FACTOR),
            "span": trace.next_span,
            "pan_back": lambda: trace.pan(-PAN_SHARE),
            "pan_on": lambda: trace.pan(PAN_SHARE),
            "follow": trace.follow,
            "fit": trace.toggle_fit,
            "record": self.start_or_stop,
            "sound": self._switch_sound,
            "dark": self._switch_dark,
            "form": self.spot_actions.show_form,
            "visits": self.other_visit.ask,
            "practice": self.show_or_hide_practice,
            "practice_night": lambda: self.practice.sleep(self._house_url()),
            "help": lambda: self._show_or_leave(self.shortcuts_page),
            "close": self._close,
        }

    def _close(self) -> None:
        self.close()

    def _escape(self) -> None:
        """Back to the window from a field, back to the stage from the keys or from identifying."""
        self.setFocus()
        if self.page is self.identify_page and self.identify_page.escape():
            return
        if self.sweep_controller.give_up_waiting():
            self.controller.message = Message("Nothing is awaited any more.")
            return
        if self._on(REPORT.name) and self.report_stage.handle("Esc"):
            return
        if self.page in (self.shortcuts_page, self.budget_page, self.identify_page):
            self.go_to(self.stage_list.current)

    def _show_or_leave(self, page: Page) -> None:
        if self.page is page:
            self.go_to(self.stage_list.current)
        else:
            self.stack.setCurrentWidget(page)

    # --- what is taken by itself ----------------------------------------------------------------------------

    def _may_take_alone(self) -> bool:
        return self.controller.hands_free.on and self.prompt.prompt is None

    def _tell_steps(self) -> None:
        """A new step is heard on the page Steps; one that the detector takes back is told there. During a sweep it is
        known what is switched: the steps say nothing new, and what is spoken then is what to switch next.
        """
        work = self.sources_stage.steps.step_controller
        news = work.news()
        if not self._on(SOURCES.name) or self.sources_stage.page is not self.sources_stage.steps:
            return
        if news.steps:
            self.sounds.play(Tone.STEP)
            self.sounds.say(f"step, {spoken_change(news.steps[-1].change_volts)}")
        for known in news.sure:
            self.sounds.say(f"{work.name_of(known)} is sure")
        if news.taken_back:
            self.controller.message = Message(work.say_taken_back(news.taken_back[-1]), refused=True)

    def _take_switched(self) -> None:
        """Take the reading that the sweep or tonight's list awaits, and say aloud what to switch next."""
        reading = self.sweep_controller.take_when_due()
        if reading is None:
            self.action_bar.flash()
            self.sounds.say("Not taken.")
        else:
            self.sounds.play(Tone.TAKEN)
            volts = volts_text(reading.volts)
            self.sounds.say(f"{volts} volts taken. {self.sweep_controller.what_to_switch()}".strip())
        self.redraw()

    def show_spots(self) -> None:
        """Show the sheet of the spots."""
        self.go_to(STAGES.index(SPOTS))

    # --- the meter ---------------------------------------------------------------------------------------

    def identify(self) -> None:
        """Find out what the meter at the chosen port sends."""
        self.setFocus()
        self.stack.setCurrentWidget(self.identify_page)
        self.identify_page.begin(self.connect_page.settings())

    def ask_meter(self) -> None:
        """Ask which of the kept meters is connected."""

        def use(name: str) -> None:
            try:
                self.connect_page.use(load(name).settings(""))
                self.controller.message = Message(f"Meter: {name}")
            except StillvoltError as error:
                self.controller.message = Message(str(error), refused=True)

        def use_none() -> None:
            url = self.connect_page.settings().url
            self.connect_page.use(PortSettings(url))
            self.controller.message = Message("No kept meter; settings as usual")

        names = list_descriptions()
        if not names:
            self.controller.message = Message(
                "No meter is kept yet. I identifies one, and keeps it under a name.", True
            )
            return
        answers = [Choice(str(n), name, partial(use, name)) for n, name in enumerate(names[:9], 1)]
        answers.append(Choice("0", "none of them", use_none))
        self.prompt.ask(Prompt("Which meter?", f"They are kept in {folder()}.", tuple(answers)))

    def _record_with(self, settings: PortSettings) -> None:
        self.connect_page.use(settings)
        self.go_to(STAGES.index(CONNECT))
        self.start_recording()

    def _page_changed(self) -> None:
        if self.page is not self.identify_page:
            self.identify_page.leave()  # the port is given back

    # --- recording ---------------------------------------------------------------------------------------

    def start_recording(self) -> None:
        """Start the recorder on the chosen port."""
        self.setFocus()
        self.identify_page.leave()
        self.controller.recording.start(self.connect_page.settings())
        self.redraw()

    def start_or_stop(self) -> None:
        """Start recording, or ask whether to stop it."""
        if not self.controller.snapshot.recording:
            self.start_recording()
            return
        self.prompt.ask(
            Prompt(
                "Stop recording?",
                "Everything recorded is kept. Recording can go on later in the same visit log.",
                (Choice("R", "stop recording", self.controller.recording.stop, ("Return",)),),
                escape_says="go on recording",
            )
        )

    def closeEvent(self, event: QCloseEvent) -> None:
        """Ask whether recording goes on. Closing twice closes: recording goes on, as the safe answer."""
        self.night_screen.leave()
        asked_already = self._close_prompt is not None and self.prompt.prompt is self._close_prompt
        if (
            self.may_close
            or asked_already
            or self.practice.sleeping
            or not self.controller.snapshot.recording
        ):
            self._timer.stop()
            self.night.close()
            self.practice.close()
            self.report_controller.close()
            self.identify_page.leave()
            event.accept()
            return
        event.ignore()

        def close() -> None:
            self.may_close = True
            self.close()

        def stop_and_close() -> None:
            self.controller.recording.stop()
            close()

        self._close_prompt = Prompt(
            "Close the window. Does recording go on?",
            "It can go on without the window. Opening the visit again shows it from where it is.",
            (
                Choice("G", "recording goes on", close, ("Return",)),
                Choice("S", "stop recording", stop_and_close),
            ),
            escape_says="do not close",
        )
        self.prompt.ask(self._close_prompt)

    # --- the night ---------------------------------------------------------------------------------------

    def enter_night(self) -> None:
        """Cover the whole screen with the night screen."""
        self._state_before = self.windowState()
        self.setWindowState(self._state_before | Qt.WindowState.WindowFullScreen)
        self.night_screen.enter()
        self._timer.setInterval(NIGHT_POLL_MS)

    def _leave_night(self) -> None:
        self._timer.setInterval(POLL_MS)
        self.setWindowState(self._state_before)
        self.redraw()

    def _choose_sight(self, of_night: bool) -> None:
        """The whole night on the stage Night at first; elsewhere the trace as it was before."""
        if of_night and self._sight_before is None:
            self._sight_before = self.trace.view_range
            whole = self.night_stage.morning.whole()
            if whole is None:
                self.trace.show_all()
            else:
                self._show_stretch(*whole)
        elif not of_night and self._sight_before is not None:
            self.trace.view_range, self._sight_before = self._sight_before, None

    def _show_stretch(self, start_s: float, end_s: float) -> None:
        """Show a stretch of the trace; a whole night that is still recorded is followed."""
        goes_on = self.controller.snapshot.recording and end_s >= self.controller.snapshot.now_s - ANEW_S
        if goes_on and start_s <= 1.0:
            self.trace.show_all()
        else:
            self.trace.show_stretch(start_s, end_s)

    # --- the practice house ------------------------------------------------------------------------------

    def show_or_hide_practice(self) -> None:
        """The practice house below the trace, with the keyboard; hidden again by the same key."""
        if self.panel.has_keyboard:
            self.panel.set_keyboard(False)
            self.panel.hide()
        elif self.practice.open(self._house_url()):
            self.panel.show()
            self.panel.set_keyboard(True)
            self._restyle()

    def _house_url(self) -> str:
        """The port that is recorded or chosen; a simulated house in which things happen by themselves gives way to one
        that is switched, unless it is being recorded.
        """
        live = self.controller.snapshot.live
        if self.controller.snapshot.recording and live is not None:
            return live.port
        url = self.connect_page.settings().url
        if is_house(url) and control_of(url) is None:
            url = self.practice.own_url()
            self.connect_page.use(PortSettings(url))
        return url

    # --- the window itself -------------------------------------------------------------------------------

    def _switch_sound(self) -> None:
        self.sounds.on = not self.sounds.on
        self.controller.message = Message("Sounds are on" if self.sounds.on else "Sounds are off")

    def _switch_dark(self) -> None:
        self._theme = theme.LIGHT if self.appearance.theme is theme.DARK else theme.DARK
        self._restyle()

    def _question_changed(self) -> None:
        self.action_bar.asks = self.prompt.prompt is not None
        self.stack.setVisible(self.prompt.prompt is None)
        if self.prompt.prompt is None:
            self.panel.resume()
        else:
            self.panel.suspend()
        if self.prompt.prompt is None:
            self.setFocus()
        self.redraw()

    def changeEvent(self, event: QEvent) -> None:
        """See Qt."""
        super().changeEvent(event)
        if (
            event.type() == QEvent.Type.ActivationChange
            and self.isActiveWindow()
            and self.prompt.line is None
        ):
            self.setFocus()


def _open_file(path: Path) -> bool:
    """Open a file with the system's program for it."""
    return QDesktopServices.openUrl(QUrl.fromLocalFile(str(path)))
