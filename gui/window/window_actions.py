"""All actions of the window by the names that the table of keys gives them."""

from __future__ import annotations

from collections.abc import Callable

from gui.actions.base import ActionContext
from gui.actions.by_hand_actions import ByHandActions
from gui.actions.condition_actions import ConditionActions
from gui.actions.hands_free_actions import HandsFreeActions
from gui.actions.history_actions import HistoryActions
from gui.actions.other_visit_actions import OtherVisitActions, VisitRequest
from gui.actions.reading_actions import ReadingActions
from gui.actions.reading_questions import ReadingQuestions
from gui.actions.round_actions import RoundActions
from gui.actions.spot_actions import SpotActions
from gui.model.stages import CHECK
from gui.trace.trace_plot import TracePlot
from gui.window.navigator import Navigator
from gui.window.practice_actions import PracticeActions
from gui.window.recording_actions import RecordingActions
from gui.window.stage_pages import StagePages

PAN_SHARE = 0.25
"""Of the stretch in sight, for one key press."""
ZOOM_FACTOR = 2.0


class WindowActions:
    """The actions of one window.

    Args:
        context: the parts that actions act on.
        pages: all pages.
        navigator: goes from stage to stage.
        trace: is zoomed and panned.
        recording: the actions of recorder and meter.
        practice: the actions of the practice house.
        request_visit: is given the visit to show in the window's place.
    """

    def __init__(
        self,
        context: ActionContext,
        pages: StagePages,
        navigator: Navigator,
        trace: TracePlot,
        recording: RecordingActions,
        practice: PracticeActions,
        request_visit: Callable[[VisitRequest], None],
    ) -> None:
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
        self.other_visit = OtherVisitActions(context.controller, context.prompt.ask, request_visit)

    def by_name(self) -> dict[str, Callable[[], None]]:
        """What each action does, but for those of the window itself."""
        spots, trace, go_to, toggle = self.spots, self._trace, self._navigator.go_to, self._navigator.toggle
        return {
            "take": self.readings.take,
            "take_unsettled": lambda: self.readings.take(override=True),
            "next": lambda: spots.choose_along(1),
            "previous": lambda: spots.choose_along(-1),
            "unread": spots.choose_first_unread,
            "hands_free": self.hands_free.arm_or_disarm,
            "hands_free_time": self.hands_free.ask_still_for,
            "by_hand": self.by_hand.ask_by_hand,
            "round_off": self.rounds.ask_round,
            "outside_walk": self.rounds.go_outside,
            "show_checks": lambda: go_to(CHECK),
            "budget": lambda: toggle(self._pages.budget),
            "room": spots.ask_room,
            "condition_note": spots.ask_reminder,
            "condition": self.condition.ask_condition,
            "mark": self.history.ask_mark,
            "undo": self.history.ask_undo,
            "add": spots.ask_new_spot,
            "rename": spots.ask_spot_name,
            "move_down": lambda: spots.move_spot(1),
            "move_up": lambda: spots.move_spot(-1),
            "remove": spots.ask_remove_spot,
            "zoom_in": lambda: trace.zoom(1 / ZOOM_FACTOR),
            "zoom_out": lambda: trace.zoom(ZOOM_FACTOR),
            "next_stretch": trace.next_span,
            "pan_back": lambda: trace.pan(-PAN_SHARE),
            "pan_on": lambda: trace.pan(PAN_SHARE),
            "follow": trace.follow,
            "fit": trace.toggle_fit,
            "record": self.recording.start_or_ask_stop,
            "form": spots.show_form,
            "visits": self.other_visit.ask,
            "practice": self.practice.show_or_hide,
            "practice_night": self.practice.record_or_cancel_night,
            "help": lambda: toggle(self._pages.shortcuts),
        }
