"""Binds the actions that belong to no single page: readings, spots, trace, recorder, visits, practice house, help."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import QPoint, Qt

from gui.actions.menus import context_menu
from gui.actions.registry import ActionRegistry
from gui.model.stages import REPORT, SOURCES, STAGES, Stage
from gui.model.visit_access import Message
from gui.shell.help.help_pages import FIRST_VISIT, GLOSSARY, OF_STAGES, HelpPage
from gui.stages.spots.action_context import ActionContext
from gui.stages.spots.by_hand_actions import ByHandActions
from gui.stages.spots.condition_actions import ConditionActions
from gui.stages.spots.detail_actions import DetailActions
from gui.stages.spots.entry_actions import EntryActions
from gui.stages.spots.hands_free_actions import HandsFreeActions
from gui.stages.spots.history_actions import HistoryActions
from gui.stages.spots.reading_actions import ReadingActions
from gui.stages.spots.reading_questions import ReadingQuestions
from gui.stages.spots.round_actions import RoundActions
from gui.stages.spots.spot_actions import SpotActions
from gui.trace.trace_plot import TracePlot
from gui.widgets.file_dialog import Wanted, ask_path
from gui.widgets.page import TabPage
from gui.widgets.paged_stage import PagedStage
from gui.window.navigator import Navigator
from gui.window.other_visit_actions import OtherVisitActions, VisitRequest
from gui.window.practice_actions import PracticeActions
from gui.window.recording_actions import RecordingActions
from gui.window.stage_pages import StagePages
from logger.translation import marked, tr

TRACE_MENU = (
    "trace.copy", "trace.show_selection", "trace.clear_selection", "trace.select", "", "measure.mark", "",
    "trace.go_live", "trace.whole", "trace.fit", "trace.zoom_in", "trace.zoom_out", "", "trace.save_picture",
)  # fmt: skip
"""What a right click on the trace offers."""

NO_SPOT = marked("There is no spot yet. Add one first.")


class WindowActions:
    """The actions of one window.

    Args:
        registry: where they are bound.
        context: the parts that actions act on.
        pages: all pages.
        navigator: goes from stage to stage.
        trace: is zoomed and panned.
        recording: the actions of recorder and meter.
        practice: the actions of the practice house.
        request_visit: is given the visit to show in the window's place.
        may_leave: asks what becomes of work under way, before what the sentence says follows; whether it may.
    """

    def __init__(
        self,
        registry: ActionRegistry,
        context: ActionContext,
        pages: StagePages,
        navigator: Navigator,
        trace: TracePlot,
        recording: RecordingActions,
        practice: PracticeActions,
        request_visit: Callable[[VisitRequest], None],
        may_leave: Callable[[str], bool],
    ) -> None:
        self._registry = registry
        self._controller = context.controller
        self._pages = pages
        self._navigator = navigator
        self._trace = trace
        self.recording = recording
        self.practice = practice
        self.spots = SpotActions(context)
        self.condition = ConditionActions(context)
        self.history = HistoryActions(context, self.condition)
        self.rounds = RoundActions(context, self.history)
        questions = ReadingQuestions(self.spots, self.condition, self.rounds)
        self.readings = ReadingActions(context, questions)
        self.hands_free = HandsFreeActions(context, questions)
        self.by_hand = ByHandActions(context, questions)
        self.other_visit = OtherVisitActions(context.controller, context.prompt.ask, request_visit, may_leave)
        pages.spots.take = self.readings.take
        self.choose_picture: Callable[[Path], Path | None] = choose_picture_file
        """Shows the system's dialog with a file that is proposed; a test gives its own."""
        page = pages.spots
        self.entries = EntryActions(
            context.controller,
            lambda: page.appearance,
            page.chosen_entry,
            page.window,
            context.redraw,
            self.history.ask_void_of,
        )
        self.details = DetailActions(context.controller, page.window, context.show_spots, context.redraw)
        page.photo_opened.connect(self.details.open_photo)
        page.files_dropped.connect(self.details.add_files)
        self._bind_visits()
        self._bind_stages()
        self._bind_trace()
        self._bind_measuring()
        self._bind_spots()
        self._bind_readings()

    def refresh(self) -> None:
        """Show in texts and ticks of actions what they would do now."""
        history = self._controller.history
        voids = tr("void the last reading...") if history.newest_act() is not None else ""
        for action_id, alone, named, name in (
            ("edit.undo", tr("&Undo"), tr("&Undo: {edit}"), voids or history.undo_name()),
            ("edit.redo", tr("&Redo"), tr("&Redo: {edit}"), history.redo_name()),
        ):
            text = named.format(edit=name.replace("&", "&&")) if name else alone
            self._registry[action_id].setText(text)
        asks = self.spots.asks_before_removing
        self._registry["spots.remove"].setText(tr("Remo&ve spot...") if asks else tr("Remo&ve spot"))
        self.entries.refresh()
        self.details.refresh()
        self._registry["measure.hands_free"].setChecked(self._controller.hands_free.is_armed)

    # --- visits and edits ----------------------------------------------------------------------------------

    def _bind_visits(self) -> None:
        bind, history = self._registry.bind, self._controller.history
        bind("file.new", self.other_visit.ask_new)
        bind("file.continue", self.other_visit.ask_continue)
        bind("file.open", self.other_visit.choose_file)
        bind("file.visits", self.other_visit.ask)
        bind("file.go_on", self.other_visit.go_on)
        offered = self.other_visit.go_on_with
        self._registry["file.go_on"].setVisible(offered is not None)
        if offered is not None:
            text = tr("&Go on with “{visit}”").format(visit=offered.title.replace("&", "&&"))
            self._registry["file.go_on"].setText(text)
        bind("file.save", self._say_saved)
        bind("file.form", self.spots.show_form)
        bind("edit.undo", self.history.undo, self.history.why_not_undo)
        bind(
            "edit.redo",
            history.redo,
            lambda: "" if history.redo_name() else tr("There is nothing to do again."),
        )
        bind("edit.find", self._find)
        bind("report.compare", lambda: self._on_report(self._pages.report.show_compare))
        bind("report.archive", lambda: self._on_report(self._pages.report.show_archive))
        bind("connect.practise", self.practice.practise, self._pages.connect.why_not_free)
        bind("practice.house", self.practice.show_or_hide)
        bind("practice.float", self.practice.move_out_or_in, self.practice.why_not_move)
        bind("practice.switches", self.practice.give_keyboard)
        bind("practice.examples", self.other_visit.ask_example)
        bind("practice.night", self.practice.record_or_cancel_night, self.practice.why_no_night)
        bind("help.stage", lambda: self._show_help(OF_STAGES[self._navigator.stage]))
        bind("help.first_visit", lambda: self._show_help(FIRST_VISIT))
        bind("help.glossary", lambda: self._show_help(GLOSSARY))
        bind("help.actions", lambda: self._show_help(None))

    def _show_help(self, page: HelpPage | None) -> None:
        from gui.shell.help.help_window import show_help  # noqa: PLC0415  start-up time

        show_help(self._pages.spots.window(), self._pages.spots.appearance, page)

    def _say_saved(self) -> None:
        path = self._controller.log.path
        self._controller.message = Message(tr("Everything is saved at once, in {path}.").format(path=path))

    def _on_report(self, then: Callable[[], None]) -> None:
        self._navigator.go_to(REPORT)
        then()

    def _find(self) -> None:
        self._on_report(self._pages.report.show_archive)
        self._pages.report.archive.ask_search()

    # --- stages and pages ----------------------------------------------------------------------------------

    def _bind_stages(self) -> None:
        def bind_stage(stage: Stage) -> None:
            self._registry.bind(stage.action_id, lambda: self._navigator.go_to(stage))

        for stage in STAGES:
            bind_stage(stage)
        bind = self._registry.bind
        bind("stage.next", lambda: self._go_along(1), lambda: self._why_no_stage(1))
        bind("stage.previous", lambda: self._go_along(-1), lambda: self._why_no_stage(-1))
        bind("page.next", lambda: self._turn_page(1), self._why_one_page)
        bind("page.previous", lambda: self._turn_page(-1), self._why_one_page)
        pages = ("steps.show", "sweep.show", "tonight.show", "panel.show")
        for action_id, page in zip(pages, self._pages.sources.pages, strict=True):
            bind(action_id, partial(self._show_sources, page))

    def _show_sources(self, page: TabPage) -> None:
        self._navigator.go_to(SOURCES)
        self._pages.sources.show_page(self._pages.sources.pages.index(page))

    def _along(self, places: int) -> int:
        return STAGES.index(self._navigator.stage) + places

    def _go_along(self, places: int) -> None:
        self._navigator.go_to(STAGES[self._along(places)])

    def _why_no_stage(self, places: int) -> str:
        return "" if 0 <= self._along(places) < len(STAGES) else tr("There is no further stage.")

    def _turn_page(self, places: int) -> None:
        stage = self._pages.current
        if isinstance(stage, PagedStage):
            stage.show_page(stage.pages.index(stage.page) + places)

    def _why_one_page(self) -> str:
        return "" if isinstance(self._pages.current, PagedStage) else tr("This stage has one page.")

    # --- the trace -----------------------------------------------------------------------------------------

    def _bind_trace(self) -> None:
        bind, trace = self._registry.bind, self._trace
        bind("trace.zoom_in", trace.zoom_in)
        bind("trace.zoom_out", trace.zoom_out)
        bind("trace.next_stretch", trace.next_span)
        bind("trace.pan_back", trace.pan_back)
        bind("trace.pan_forward", trace.pan_forward)
        bind("trace.go_live", trace.go_live, trace.why_not_go_live)
        bind("trace.fit", trace.toggle_fit)
        bind("trace.whole", trace.fit)
        bind("trace.select", trace.select_in_sight, trace.why_not_select_in_sight)
        bind("trace.show_selection", trace.show_selection, trace.why_not_clear_selection)
        bind("trace.clear_selection", trace.clear_selection, trace.why_not_clear_selection)
        bind("trace.save_picture", self._save_picture, trace.why_not_save_picture)
        trace.stretch_menu_requested.connect(self._show_trace_menu)

    def _save_picture(self) -> None:
        """Ask by the system's dialog where the picture goes; it has asked about a file that exists already."""
        path = self.choose_picture(self._controller.log.path.with_suffix(".png"))
        if path is None:
            return

        def do() -> str:
            self._trace.save_picture(path, replace=True)
            return tr("The picture is in {path}.").format(path=path)

        self._controller.do(do)

    def _show_trace_menu(self, _start_s: float, _end_s: float, place: QPoint) -> None:
        menu = context_menu(self._registry, TRACE_MENU, self._trace)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        menu.popup(place)

    # --- measuring -----------------------------------------------------------------------------------------

    def _bind_measuring(self) -> None:
        bind, by_hand = self._registry.bind, self.by_hand
        bind("measure.take_unsettled", self.readings.ask_unsettled, self.readings.why_not_unsettled)
        bind("measure.record", self.recording.start, self.recording.why_not_start)
        bind("measure.stop", self.recording.ask_stop, self.recording.why_not_stop)
        bind("measure.condition", self.condition.ask_condition)
        bind("measure.mark", self.history.ask_mark)
        bind("measure.hands_free", self.hands_free.arm_or_disarm)
        bind("measure.hands_free_time", self.hands_free.ask_still_for)
        bind("measure.by_hand", by_hand.ask_by_hand, by_hand.why_not)
        bind("measure.round_off", self.rounds.ask_round, self._why_no_indoor_spot)
        bind("measure.outside_walk", self.rounds.go_outside)
        bind("measure.void_last", self.history.ask_void, self.history.why_not_void)

    def _why_no_indoor_spot(self) -> str:
        return "" if self._controller.route.indoor_spots() else tr("There is no spot to read. Add one first.")

    def _bind_spots(self) -> None:
        bind, spots = self._registry.bind, self.spots
        bind("spots.next", lambda: spots.choose_along(1), lambda: self._why_no_further_spot(1))
        bind("spots.previous", lambda: spots.choose_along(-1), lambda: self._why_no_further_spot(-1))
        bind("spots.choose", spots.ask_which_spot, self._why_no_spots)
        bind("spots.unread", spots.choose_first_unread, self._why_no_spots)
        bind("spots.add", spots.ask_new_spot)
        bind("spots.room", spots.ask_room)
        again = self._controller.readings
        bind("spots.again", again.read_again, again.why_not_again)
        bind("spots.rename", spots.ask_spot_name, spots.why_no_spot)
        bind("spots.describe", self.details.describe, self.details.why_not_describe)
        bind("spots.photos", self.details.add_photos, self.details.why_not_add)
        bind("spots.reminder", spots.ask_reminder, spots.why_no_spot)
        bind("spots.up", lambda: spots.move_spot(-1), lambda: self._why_no_further_spot(-1))
        bind("spots.down", lambda: spots.move_spot(1), lambda: self._why_no_further_spot(1))
        bind("spots.remove", spots.ask_remove_spot, spots.why_no_spot)
        bind("spots.budget", lambda: self._navigator.toggle(self._pages.budget), self._why_no_spots)

    def _bind_readings(self) -> None:
        bind, entries = self._registry.bind, self.entries
        bind("reading.open", entries.open, entries.why_not_open)
        bind("reading.move", entries.move, entries.why_not_move)
        self._pages.spots.reading_dragged.connect(entries.move_to)
        bind("reading.condition", entries.correct_condition, entries.why_not_condition)
        bind("reading.reference", entries.correct_reference, entries.why_not_reference)
        bind("reading.void", entries.void, entries.why_not_void)
        bind("reading.valid", entries.make_valid, entries.why_not_valid)
        self._pages.spots.entry_activated.connect(lambda _: self._registry.trigger("reading.open"))

    def _why_no_spots(self) -> str:
        return "" if self._controller.snapshot.spots else tr(NO_SPOT)

    def _why_no_further_spot(self, places: int) -> str:
        """Why there is no spot before or after the chosen one; empty where there is.

        Args:
            places: 1 for the next one, -1 for the one before.
        """
        spots, chosen = self._controller.snapshot.spots, self._controller.route.chosen
        end = spots[-1 if places > 0 else 0] if spots else None
        if end is None or chosen is None or chosen.id != end.id:
            return self._why_no_spots()
        return tr("This is the last spot.") if places > 0 else tr("This is the first spot.")


def choose_picture_file(proposed: Path) -> Path | None:
    """Show the system's dialog for a picture; None where it was cancelled."""
    return ask_path(Wanted.NEW_FILE, tr("Save the trace"), proposed, tr("Pictures (*.png *.svg)"))
