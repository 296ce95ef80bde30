"""The main window: makes the parts, connects them, and refreshes them from the visit log."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from PySide6.QtCore import QEvent, QSize, Qt, QTimer, Signal
from PySide6.QtGui import (
    QCloseEvent,
    QGuiApplication,
    QKeyEvent,
    QKeySequence,
    QResizeEvent,
    QShortcut,
    QShowEvent,
)
from PySide6.QtWidgets import QAbstractButton, QApplication, QComboBox, QMainWindow, QWidget

from gui.actions.menus import add_context_menu, fill_menu_bar, forget_alt
from gui.actions.registry import ANSWER_FIRST, ActionRegistry
from gui.actions.table import PRIMARY, SPECS, ActionSpec
from gui.model.night_controller import NightController
from gui.model.plan_controller import PlanController
from gui.model.practice_controller import PracticeController
from gui.model.report_controller import ReportController
from gui.model.stages import CHECK, CONNECT, NIGHT, PLAN, PREPARE, REPORT, SOURCES, SPOTS, Stage
from gui.model.status import status
from gui.model.sweep_controller import SweepController
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.model.visit_file_watch import VisitFileWatch
from gui.practice.practice_dock import PracticeDock
from gui.practice.practice_panel import PracticePanel
from gui.settings.preferences import (
    COLOURS,
    HOUSE_PLACE,
    LANGUAGE,
    PRESENTER,
    REPORT_LANGUAGE,
    REPORT_PAPER,
    SOUNDS,
    ColourScheme,
    Preferences,
)
from gui.shell.action_bar import ActionBar
from gui.shell.announcer import Announcer
from gui.shell.answer_guard import UNASKED_GUARD_S
from gui.shell.question import QuestionPanel
from gui.shell.readout import Readout
from gui.shell.stage_list import StageList
from gui.sound.sounds import Sounds, Tone
from gui.stages.night.night_screen import NightScreen
from gui.stages.spots.action_context import ActionContext
from gui.trace.trace_plot import TracePlot
from gui.widgets import theme
from gui.widgets.appearance import Appearance
from gui.widgets.icons import icon
from gui.widgets.open_file import open_file
from gui.widgets.page import Page, PrimaryAction
from gui.widgets.paged_stage import PagedStage
from gui.widgets.theme import style_sheet
from gui.window.about_dialog import show_about
from gui.window.automatic_actions import AutomaticActions
from gui.window.close_dialog import CloseAnswer, ask_close
from gui.window.copy_actions import CopyActions
from gui.window.frame import Frame
from gui.window.navigator import Navigator
from gui.window.other_visit_actions import VisitRequest
from gui.window.practice_actions import PracticeActions
from gui.window.recording_actions import RecordingActions
from gui.window.remembered import Remembered
from gui.window.stage_pages import StagePages
from gui.window.unfinished_dialog import Work, may_leave
from gui.window.window_actions import WindowActions
from logger.clock import NS_PER_S
from logger.translation import marked, tr
from logger.visit.storage.visit_brief import visit_title

POLL_MS = 33
"""How often the log is read: the longest wait between a sample on disk and its pixel."""

PRIMARY_MENU_CHARACTERS = 60
"""The big button's text in the menu is at most as wide as so many letters, so that its key is in sight at 1024x600."""

TYPED_SPACE = marked("You were typing, so Space took no reading. Press it again.")
_COMMANDS = (
    Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier | Qt.KeyboardModifier.MetaModifier
)
REMOTE_KEYS = (("PgDown", "spots.next"), ("PgUp", "spots.previous"), ("B", PRIMARY), (".", PRIMARY))
"""What the keys of a presenter's remote do, once it is switched on."""

ACTIONS_NS = NS_PER_S // 2
"""Every action is asked this often whether it may run, where only lines of the meter are new: all take some ms."""

NIGHT_POLL_MS = 250
"""The same while the night screen is shown, all night, on battery."""

CALL_OFF_NIGHT = marked("Call off the practice night")

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
    """A `gui.window.other_visit_actions.VisitRequest` to show in this window's place."""
    closed = Signal()
    """The window was closed, and nothing works beside it any more."""

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
        self.report_controller = report_controller or ReportController(controller, opens=open_file)
        self.plan_controller = PlanController(controller, self.sweep_controller, self.night_controller)
        self.sounds = sounds or Sounds()
        self.remembered = Remembered(self.preferences, controller, self.sounds)
        self.remembered.begin()
        self._language = self.preferences.get(LANGUAGE)
        """The choice that its texts follow."""
        self.report_controller.before_writing.append(self.remembered.state_practitioner)
        self.report_controller.language = self.preferences.get(REPORT_LANGUAGE)
        self.report_controller.on_language.append(partial(self.preferences.set, REPORT_LANGUAGE))
        self.report_controller.paper = self.preferences.get(REPORT_PAPER)
        self.report_controller.on_paper.append(partial(self.preferences.set, REPORT_PAPER))
        self.appearance = self.remembered.appearance(FIRST_SIZE.height())
        self.may_close = False
        self.ask_close: Callable[[QWidget, Callable[[], bool]], CloseAnswer] = ask_close
        """Shows the dialog before closing; a test gives its own."""
        self.ask_unfinished: Callable[[QWidget, Sequence[Work], str, Callable[[], bool]], bool] = may_leave
        """Shows the dialog while work is under way that would be lost; a test gives its own."""
        self._moves_on = self._is_closed = False
        self._refused_by_question: Message | None = None
        self._refused_primary: Message | None = None
        """Why the big button could not do its work when it was pressed last."""
        """The message that something was refused while a question was open."""
        self._actions_asked_for: object = None
        """State, message and page for which every action was last asked whether it may run; None: it is asked anew."""
        self._actions_asked_ns = 0
        self._actions_wait = False
        """Something was shown since that may concern them."""
        self._icon_theme: theme.Theme | None = None
        self._parts_appearance: Appearance | None = None
        """What the parts of the window were drawn with last."""
        self._state_before_night = self.windowState()

        self.setMinimumSize(MIN_SIZE)
        self._take_place()
        # Before there are parts, since Qt styles all parts that are there anew when a style sheet is set.
        self._set_style()
        self.readout = Readout(controller, self.appearance)
        self.registry = ActionRegistry(self)
        self.stage_list = StageList(controller, self.appearance, self.registry)
        self.trace = TracePlot(controller, self.appearance)
        self.panel = PracticePanel(self.practice_controller, self.appearance)
        self.dock = PracticeDock(self.panel, self.registry)
        self.dock.last_place = self.preferences.get(HOUSE_PLACE)
        self.action_bar = ActionBar(controller, self.appearance)
        self.question = QuestionPanel(self._question_changed, controller.clock)
        self.question.works_elsewhere = self._works_beside_question
        self.question.over_list = self._works_in_list
        self.pages = StagePages(
            controller, self.sweep_controller, self.night_controller, self.report_controller, self.plan_controller,
            self.appearance, self.registry, port,
        )  # fmt: skip
        self.frame = Frame(
            self.readout, self.stage_list, self.trace, self.dock, self.question, self.pages,
            self.action_bar,
        )  # fmt: skip
        self.setCentralWidget(self.frame)
        self.night_screen = NightScreen(self, self.night_controller, self.sounds, controller.clock)

        self.navigator = Navigator(
            controller,
            self.pages,
            self.stage_list,
            self.trace,
            self.redraw,
            self._give_keyboard_to_page,
            self.question.close_question,
        )
        show_spots = partial(self.navigator.go_to, SPOTS)
        context = ActionContext(
            controller, self.question, self.sounds, self.action_bar, self.redraw, show_spots
        )
        recording = RecordingActions(controller, self.pages, self.navigator, self.question, self.redraw)
        practice = PracticeActions(
            self.practice_controller, self.dock, self.pages.connect, self._restyle, recording.start,
            self.question.ask, self.pages.night.with_condition,
        )  # fmt: skip
        controller.recording.before_start.append(lambda settings: practice.show_house(settings.url))
        self.window_actions = WindowActions(
            self.registry,
            context,
            self.pages,
            self.navigator,
            self.trace,
            recording,
            practice,
            self.visit_requested.emit,
            self._may_leave,
        )
        announcer = Announcer(self, controller.clock)
        self.automatic_actions = AutomaticActions(
            self.sweep_controller, self.window_actions.hands_free, self.pages, self.question, self.sounds,
            announcer, self.action_bar, self.redraw,
        )  # fmt: skip
        self.question.said.connect(self.automatic_actions.announce_question)
        controller.hands_free.is_asked = lambda: self.question.question is not None
        self._bind_own_actions()
        CopyActions(self.registry, controller, self.trace.selection_text, self.trace.why_not_clear_selection)
        self.readout.spot_clicked.connect(lambda: self.registry.trigger("spots.choose"))
        self.readout.condition_clicked.connect(lambda: self.registry.trigger("measure.condition"))
        add_context_menu(self.readout, self.registry, "edit.copy_value", "", "measure.mark")
        self.menus = fill_menu_bar(self.menuBar(), self.registry)
        self._space = QShortcut(QKeySequence(Qt.Key.Key_Space), self, self._press_space)
        self._typed_ns: int | None = None
        """When the newest letter was typed of a word that no text field takes, steady; None after any other key."""
        self._space.setAutoRepeat(False)
        self._remote = self._make_remote()
        self.set_remote_control(self.preferences.get(PRESENTER))
        self._connect_parts()

        self._show_name()
        self._restyle()
        if port is None and (last := self.remembered.last_port(self.pages.connect.ports)) is not None:
            self.pages.connect.use(last)
        self.navigator.go_to(self._stage_at_work() if controller.snapshot.recording else CONNECT)
        if port is None and controller.snapshot.recording and controller.snapshot.live is not None:
            port = controller.snapshot.live.port  # a recording that went on without the window
        if port is not None:
            self.window_actions.practice.show_house(port)
        self._timer = QTimer(self, interval=POLL_MS)
        self._timer.timeout.connect(self.refresh)
        if polls:
            self._timer.start()

    def _connect_parts(self) -> None:
        pages, start = self.pages, self.window_actions.recording.start
        self.stage_list.stage_requested.connect(self.navigator.go_to)
        self.registry.is_in_sight = lambda place: place in self.page.places()
        self.registry.belongs_text = pages.belongs_text
        self.registry.blocked = self._why_blocked
        self.registry.refused.connect(self._refused)
        self.registry.ran.connect(self.redraw)
        self.question.answered.connect(self.redraw)
        self.panel.left.connect(self._leave_panel)
        self.panel.question_waits = lambda: self.question.waits
        self.panel.used_now = lambda: self.page.used_switches()
        self.dock.visibilityChanged.connect(self._dock_changed)
        self.action_bar.pressed.connect(self.press_primary)
        self.action_bar.primary_action = self._primary_action
        self.action_bar.blocked = lambda: self._why_blocked(SPECS[PRIMARY])
        for page in pages.of_stages():
            page.question_requested.connect(self.question.ask)
            page.choice_made.connect(self.action_bar.refresh)
            if isinstance(page, PagedStage):
                page.page_changed.connect(self._page_changed)
        for taking in (pages.check, pages.sources):
            taking.reading_taken.connect(lambda: self.sounds.play(Tone.TAKEN))
        pages.stack.currentChanged.connect(self._page_changed)
        pages.connect.recording_requested.connect(start)
        pages.connect.identify_requested.connect(self.window_actions.recording.identify)
        pages.connect.meter_choice_requested.connect(self.window_actions.recording.ask_meter)
        pages.identify.recording_requested.connect(self.window_actions.recording.start_with)
        pages.identify.kept.connect(pages.connect.use)
        pages.spots.spot_clicked.connect(self.window_actions.spots.choose_spot)
        pages.spots.spot_dragged.connect(self.window_actions.spots.drag_spot)
        self.remembered.place_border(pages.spots)
        details = self.window_actions.details
        details.folder, details.remember_folder = (
            self.remembered.photo_folder(),
            self.remembered.keep_photo_folder,
        )
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
        with self.question.opening_by_itself():
            self._refresh()

    def _refresh(self) -> None:
        controller = self.controller
        was_starting = controller.recording.starting
        news = [
            controller.refresh(),
            self.sweep_controller.has_news(),
            self.night_controller.has_news(),
            self.practice_controller.has_news(),
            self.report_controller.has_news(),
            self.plan_controller.has_news(),
        ]
        if controller.file_watch.continued_in is not None:
            self._show_where_it_goes_on(controller.file_watch)
            return
        if any(news):
            self._show_name()
            self.automatic_actions.announce_steps()
            self.pages.night.show_new_night()
            self._come_back_to_plan()
            self.action_bar.is_unasked = True
            self._redraw_news()
            self.action_bar.is_unasked = False
        elif self._actions_wait:
            self._refresh_due_actions()
        started = was_starting and not controller.recording.starting and controller.snapshot.recording
        if started and self.pages.shows(CONNECT) and self.question.question is None:
            self.navigator.go_to(self._stage_after_start())
        self.automatic_actions.take_what_is_due()
        stays_set = self.navigator.stage is NIGHT and self.sweep_controller.is_set_for_night
        if self.navigator.stage is not SOURCES and not stays_set and self.sweep_controller.forget_condition():
            self.redraw()
        self.automatic_actions.announce_contradiction()
        self.automatic_actions.ask_what_is_open()
        self.automatic_actions.announce_state()
        self.automatic_actions.announce_result()
        self.automatic_actions.announce_spot()
        self.automatic_actions.announce_button()
        self.automatic_actions.announce_sweep()
        self.automatic_actions.announce_listed()

    def _come_back_to_plan(self) -> None:
        """Show the plan again once the reading was taken that the plan had asked for."""
        if self.plan_controller.came_back() and self.question.question is None:
            self.navigator.go_to(PLAN)

    def _show_name(self) -> None:
        household = " ".join(self.controller.setup.stated.household.split())
        text = (
            tr("{visit} (simulated) — Stillvolt")
            if self.controller.snapshot.simulated
            else tr("{visit} — Stillvolt")
        )
        title = text.format(visit=visit_title(household, self.controller.log.path))
        if title != self.windowTitle():
            self.setWindowTitle(title)

    def _show_where_it_goes_on(self, watch: VisitFileWatch) -> None:
        if watch.continued_in is not None and not self._moves_on:
            self._moves_on = True
            self.visit_requested.emit(VisitRequest(watch.continued_in, message=watch.reason))

    def redraw(self) -> None:
        """Show what is known now, without reading the log, and ask anew what may be done."""
        self._actions_asked_for = None
        self._redraw_news()

    def _redraw_news(self) -> None:
        """Show what is known now; what may be done is asked anew at once only where it is likely to differ."""
        self._show_name()
        if self.controller.message is self._refused_primary and not self.action_bar.why_not():
            self.controller.message = Message("")  # it may run by now: why it might not is over
        if self.night_screen.is_shown:
            self.night_screen.refresh()
        else:
            had_keyboard = self.focusWidget()
            self.frame.refresh()
            self._refresh_due_actions()
            has_keyboard = self.focusWidget()
            is_nowhere = has_keyboard in (None, self) or isinstance(has_keyboard, Page)
            if has_keyboard is not had_keyboard or is_nowhere:
                # What had the keyboard was hidden or disabled. Qt gives it to whatever comes next, such as a button.
                self._give_keyboard_to_page()

    def _refresh_due_actions(self) -> None:
        """Ask every action whether it may run, where state, message or page differ, else at most twice a second."""
        snapshot, now_ns = self.controller.snapshot, self.controller.clock.steady_ns()
        shown = status(snapshot)
        now = (shown.state, shown.word, snapshot.refusal, self.controller.message, self.page)
        self._actions_wait = now == self._actions_asked_for and now_ns - self._actions_asked_ns < ACTIONS_NS
        if not self._actions_wait:
            self._actions_asked_for, self._actions_asked_ns = now, now_ns
            self.refresh_actions()

    def _stage_at_work(self) -> Stage:
        """Where the work of a visit that is recorded goes on."""
        begun = self.controller.snapshot.spots or not self.controller.setup.stated.missing()
        return SPOTS if begun else PREPARE

    def _stage_after_start(self) -> Stage:
        """Where the work goes on once a recording was started here: the checks come before the first reading."""
        stage = self._stage_at_work()
        to_check = not self.controller.snapshot.readings and self.controller.checks.not_done()
        return CHECK if stage is SPOTS and to_check else stage

    def _restyle(self) -> None:
        """Take over the system's theme and the sizes that belong to the window's height."""
        self._set_style()
        if self.appearance.theme is not self._icon_theme:
            self._icon_theme = self.appearance.theme
            self.registry.set_icons(partial(icon, theme=self.appearance.theme))
        self.frame.fix_sizes(self.appearance.sizes, self.width(), self.height())
        if self.appearance != self._parts_appearance:
            self._parts_appearance = self.appearance
            for part in self.frame.styled_parts():
                part.set_appearance(self.appearance)
        self.frame.fit_panel(self.height() - self.menuBar().sizeHint().height())

    def _set_style(self) -> None:
        self.appearance = self.remembered.appearance(self.height())
        theme.colour_application(self.appearance.theme)
        sheet = style_sheet(self.appearance.theme, self.appearance.sizes)
        if sheet != self.styleSheet():  # Qt styles every part of the window anew, also by the same sheet
            self.setStyleSheet(sheet)

    def _take_place(self) -> None:
        """Be where the window was last; else as large as the screen lets it be, its frame included."""
        place = self.preferences.window_place
        if place is None or not self.restoreGeometry(place):
            self.resize(FIRST_SIZE.boundedTo(self.screen().availableSize() - FRAME_SIZE))

    def _say_value(self) -> None:
        """Say at once what the readout shows: to a screen reader, as the message, and aloud where speech is on."""
        self.controller.refresh()
        self.readout.refresh()
        text = self.readout.whole_text()
        self.controller.message = Message(text)
        self.sounds.speak(text)

    def _toggle_sound(self) -> None:
        self.preferences.set(SOUNDS, not self.sounds.on)
        self.remembered.apply()
        self.controller.message = Message(tr("Sounds are on") if self.sounds.on else tr("Sounds are off"))

    def _toggle_dark(self) -> None:
        is_dark = self.appearance.theme is theme.DARK
        self.preferences.set(COLOURS, ColourScheme.LIGHT if is_dark else ColourScheme.DARK)
        self._restyle()

    def _show_settings(self) -> None:
        from gui.settings.open_dialogs import show_settings  # noqa: PLC0415  start-up time

        show_settings(self)

    def _enter_name(self) -> None:
        from gui.settings.open_dialogs import show_settings  # noqa: PLC0415  start-up time

        show_settings(self).show_name()

    def _show_meters(self) -> None:
        from gui.settings.open_dialogs import show_meters  # noqa: PLC0415  start-up time

        show_meters(self)

    def apply_preferences(self) -> None:
        """Take over what was changed in the settings, here or in another window."""
        self.preferences.refresh()
        if self.night_screen.is_shown:  # it has sounds and colours of its own
            return
        self.remembered.apply()
        self.set_remote_control(self.preferences.get(PRESENTER))
        self._restyle()
        self.redraw()
        if self.preferences.get(LANGUAGE) != self._language:
            self._language = self.preferences.get(LANGUAGE)
            self.window_actions.other_visit.show_anew()

    def _page_changed(self) -> None:
        if self.page is not self.pages.identify:
            self.pages.identify.leave()  # the port is given back
        self.controller.snapshot.is_checking = self.page is self.pages.check
        self._give_keyboard_to_page()
        self.redraw()
        self.automatic_actions.announce_page()

    def _question_changed(self) -> None:
        is_open = self.question.question is not None
        self.pages.stack.setVisible(not is_open)
        if not is_open:
            if self.controller.message is self._refused_by_question:
                self.controller.message = Message("")  # there is nothing left to answer first
            if not self.question.keyboard_is_elsewhere:
                self._give_keyboard_to_page()
        self.redraw()

    def _works_beside_question(self) -> bool:
        """Whether the keyboard is in a part that is in sight and of use beside a question, such as the switches."""
        part = self.focusWidget()
        beside = (self.panel, self.trace, self.stage_list, self.readout)
        return self.panel.has_keyboard or (
            part is not None and part.isVisible() and any(p is part or p.isAncestorOf(part) for p in beside)
        )

    def _works_in_list(self) -> bool:
        """Whether the keyboard is in a list of the page, that a question takes the place of."""
        part = self.focusWidget()
        return part is not None and part.isVisible() and part is self.page.focus_part()

    def _dock_changed(self) -> None:
        """Show in menus whether the practice house is shown; also where the system closed it."""
        if not self._is_closed:
            self.refresh_actions()

    def _leave_panel(self) -> None:
        """Give the keyboard back from the practice house, which may be a window of its own."""
        self.activateWindow()
        self._give_keyboard_to_page()
        self.automatic_actions.announce_page()

    def _give_keyboard_to_page(self) -> None:
        """Let arrows and letters go to the list of the page in sight."""
        if self.question.question is not None:
            self.question.take_focus()
        elif not self.question.is_answering:
            (self.page.focus_part() or self.page).setFocus(Qt.FocusReason.OtherFocusReason)

    # --- actions -----------------------------------------------------------------------------------------

    def _bind_own_actions(self) -> None:
        bind = self.registry.bind
        bind(PRIMARY, self._do_primary, self._why_no_primary)
        bind("view.back", self._go_back, self._why_no_back)
        bind("view.say", self._say_value)
        bar = self.action_bar.message_bar
        bind("view.message", bar.show_whole, bar.why_not_whole)
        bind("view.dark", self._toggle_dark)
        bind("view.sound", self._toggle_sound)
        bind("view.full_screen", self._toggle_full_screen)
        bind("edit.settings", self._show_settings)
        bind("report.practitioner", self._enter_name)
        bind("tools.meters", self._show_meters)
        bind("file.quit", self.close)
        bind("help.about", partial(show_about, self))

    def press_primary(self) -> None:
        """Do what the big button says; where it may not be done, say why, and light up the line."""
        self.controller.refresh(force=True)  # another window may have changed just now what it is about
        self.automatic_actions.forget_page()
        self.action_bar.is_unasked = True
        self.action_bar.refresh()
        self.action_bar.is_unasked = False
        if why := self.action_bar.why_too_early():
            self._refused(PRIMARY, why)
        else:
            self.registry.trigger(PRIMARY)

    def _press_space(self) -> None:
        """What Space does: nothing within a word that somebody types where no text is asked for."""
        typed_ns = self._typed_ns
        if typed_ns is not None and self.controller.clock.steady_ns() - typed_ns < UNASKED_GUARD_S * NS_PER_S:
            self.controller.message = Message(tr(TYPED_SPACE), refused=True)
            self.redraw()
        else:
            self.press_primary()

    def _do_primary(self) -> None:
        primary = self._primary_action()
        if primary is not None:
            primary.run()

    def _primary_action(self) -> PrimaryAction | None:
        """What the page in sight offers; where recording is started, nothing while a practice night is recorded."""
        records = self.pages.shows(CONNECT) or self.pages.shows(NIGHT)
        if records and self.practice_controller.records_night:
            spec = SPECS["practice.night"]
            names = (name for name in (spec.menu, spec.submenu, CALL_OFF_NIGHT) if name)
            menu = " > ".join(tr(name).replace("&", "") for name in names)
            why_not = tr("A practice night is being recorded. “{menu}” ends it early.").format(menu=menu)
            return PrimaryAction(tr("Start recording"), lambda: None, why_not, does="record")
        primary = self.page.primary_action()
        switches = self.navigator.stage is SOURCES and primary is not None and primary.does == "switched"
        if switches and not (self.controller.snapshot.recording or self.controller.recording.starting):
            return PrimaryAction(
                tr("Nothing is recorded: go to Connect"),
                lambda: self.registry.trigger("stage.connect"),
                does="connect",
            )
        return primary

    def _why_no_primary(self) -> str:
        return self.action_bar.why_not()

    def _why_blocked(self, spec: ActionSpec) -> str:
        if self.night_screen.is_shown:
            return tr("The night screen covers the window.")
        return tr(ANSWER_FIRST) if self.question.question is not None and not spec.with_question else ""

    def _refused(self, action_id: str, sentence: str) -> None:
        self.controller.message = Message(sentence, refused=True)
        if self.question.question is not None:
            self._refused_by_question = self.controller.message
        elif action_id == PRIMARY and self.action_bar.why_not():
            self._refused_primary = self.controller.message
        if action_id == PRIMARY:
            self.action_bar.flash()
        self.redraw()

    def _go_back(self) -> None:
        """Back from what was opened last: a search, waiting for a reading, a page that any stage can open."""
        pages = self.pages
        if pages.current is pages.identify and pages.identify.escape():
            return
        if self.sweep_controller.cancel_waiting():
            self.controller.message = Message(tr("No longer waiting for a reading."))
        elif not (pages.shows(REPORT) and pages.report.go_back()):
            self.navigator.go_back()

    def _why_no_back(self) -> str:
        pages = self.pages
        anywhere = (
            pages.current in (pages.budget, pages.identify)
            or self.sweep_controller.waiting is not None
            or (pages.shows(REPORT) and pages.report.page is not pages.report.write)
        )
        return "" if anywhere else tr("There is no page to go back to.")

    def _toggle_full_screen(self) -> None:
        self.setWindowState(self.windowState() ^ Qt.WindowState.WindowFullScreen)

    def _make_remote(self) -> list[QShortcut]:
        """The keys of a presenter's remote, which act only once they are switched on."""
        remote = []
        for key, action_id in REMOTE_KEYS:
            shortcut = QShortcut(QKeySequence(key), self, partial(self.registry.trigger, action_id))
            shortcut.setAutoRepeat(False)
            shortcut.setEnabled(False)
            remote.append(shortcut)
        return remote

    def set_remote_control(self, on: bool) -> None:
        """Let a presenter's remote take readings and go from spot to spot, or not."""
        for shortcut in self._remote:
            shortcut.setEnabled(on)

    def refresh_actions(self) -> None:
        """Show in menus and buttons what may be done now."""
        self.window_actions.refresh()
        primary = self.registry[PRIMARY]
        name = self.action_bar.name()
        # The menu shall not be wider than a small screen: what does not fit stands on the big button.
        metrics = self.fontMetrics()
        menu_text = metrics.elidedText(
            name, Qt.TextElideMode.ElideRight, metrics.averageCharWidth() * PRIMARY_MENU_CHARACTERS
        )
        primary.setText(menu_text.replace("&", "&&"))
        night = CALL_OFF_NIGHT if self.practice_controller.records_night else SPECS["practice.night"].text
        self.registry["practice.night"].setText(tr(night))
        for action_id, is_on in (
            ("view.dark", self.appearance.theme is theme.DARK),
            ("view.sound", self.sounds.on),
            ("view.full_screen", self.isFullScreen()),
            ("practice.house", self.panel.is_shown),
            ("practice.float", self.dock.isFloating()),
        ):
            self.registry[action_id].setChecked(is_on)
        self.registry.refresh()

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
        self._give_keyboard_to_page()
        self.redraw()

    # --- events of Qt ------------------------------------------------------------------------------------

    def event(self, event: QEvent) -> bool:
        """Leave Space to a button that has the keyboard: it presses that one, and not the big button; see Qt."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            if event.key() == Qt.Key.Key_Space and isinstance(
                QApplication.focusWidget(), QAbstractButton | QComboBox
            ):
                event.accept()
                return True
            if event.modifiers() & Qt.KeyboardModifier.AltModifier and event.key() != Qt.Key.Key_Alt:
                forget_alt(self.menuBar())
            self._note_typed(event)
        return super().event(event)

    def _note_typed(self, event: QKeyEvent) -> None:
        """Note a letter that no text field takes; any other key than Space ends the word."""
        is_command = bool(event.modifiers() & _COMMANDS)
        if event.text().isprintable() and event.text().strip() and not is_command:
            self._typed_ns = self.controller.clock.steady_ns()
        elif event.key() not in (Qt.Key.Key_Space, Qt.Key.Key_Shift):
            self._typed_ns = None

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter and Esc answer an open question, wherever the keyboard is; a key that may not run says why; see Qt."""
        keys = (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Escape)
        is_question_open, is_repeated = self.question.question is not None, event.isAutoRepeat()
        has_ctrl = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
        is_command = has_ctrl or Qt.Key.Key_F1 <= event.key() <= Qt.Key.Key_F35
        if event.key() in keys and is_question_open and not is_repeated:
            self.question.keyPressEvent(event)
        elif (
            is_command and not is_repeated and self.registry.explain_key(QKeySequence(event.keyCombination()))
        ):
            event.accept()
        else:
            super().keyPressEvent(event)

    def setVisible(self, visible: bool) -> None:
        """See Qt: the sizes are those of the window before its parts are styled, which takes Qt long."""
        if visible and not self.isVisible():
            self._restyle()
        super().setVisible(visible)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._restyle()
        self.night_screen.cover()

    def showEvent(self, event: QShowEvent) -> None:
        """See Qt."""
        super().showEvent(event)
        self._give_keyboard_to_page()

    def changeEvent(self, event: QEvent) -> None:
        """See Qt."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.ActivationChange and self.isActiveWindow():
            self.apply_preferences()

    def _may_leave(self, then: str) -> bool:
        """Whether this window may go: nothing works beside it any more that would be lost.

        Args:
            then: what is about to follow, in a sentence.
        """
        before, report = self.controller.message, self.report_controller

        def failed() -> bool:
            message = self.controller.message
            is_refused = message.refused and message is not before
            return is_refused or report.has_question or self.question.question is not None

        leaves = self.ask_unfinished(
            self, (report, self.practice_controller, self.controller.photos), then, failed
        )
        self.controller.refresh(force=True)  # a run may have ended with the work
        return leaves

    def _may_close(self) -> bool:
        """Whether the user wants the window to close, with what is under way done or given up."""

        def ask() -> CloseAnswer:
            return self.ask_close(self, lambda: self.controller.snapshot.recording)

        leaves = self.may_close or self._may_leave(tr("Then the window closes."))
        return leaves and (self.may_close or self.window_actions.recording.may_close(ask))

    def closeEvent(self, event: QCloseEvent) -> None:
        """Close, or ask first what becomes of work under way, and whether recording goes on."""
        self.night_screen.leave()
        if self._is_closed:
            event.accept()
            return
        if not self._may_close():
            event.ignore()
            return
        self.remembered.keep_place(self.saveGeometry(), self.dock.own_place())
        self._is_closed = True
        self._timer.stop()
        self.sweep_controller.close()
        self.night_controller.close()
        self.practice_controller.close()
        self.report_controller.close()
        self.plan_controller.close()
        self.controller.photos.close()
        self.pages.identify.leave()
        event.accept()
        self.closed.emit()
