"""The page of the stage Night: start, the morning's summary, before and after."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import Signal

from gui.actions.registry import ActionRegistry
from gui.model.night_controller import NightController
from gui.model.visit_access import Message
from gui.shell.question import Choice, Question
from gui.stages.night.morning_page import MorningPage
from gui.stages.night.night_compare_page import NightComparePage
from gui.stages.night.start_page import StartPage
from gui.stages.spots.condition_actions import condition_choices
from gui.widgets.appearance import Appearance
from gui.widgets.paged_stage import PagedStage
from logger.night.recorded_nights import Night
from logger.sweep.switch_off_plan import PlanState, SwitchOffPlan
from logger.translation import tr, tr_kept
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON


class NightStage(PagedStage):
    """Start, then the morning's summary, then before and after.

    Args:
        night_controller: what the window does on the stage Night.
        appearance: theme and sizes.
        actions: the actions of the window.
        tonight: what to switch off tonight; gives None while that is not known.
    """

    place = "night"
    night_screen_requested = Signal()
    """The night screen is to cover the window."""
    recording_requested = Signal()
    stretch_requested = Signal(float, float)
    """Show that stretch of the trace."""

    def __init__(
        self,
        night_controller: NightController,
        appearance: Appearance,
        actions: ActionRegistry,
        tonight: Callable[[], SwitchOffPlan | None],
    ) -> None:
        self.start, self.morning, self.compare = (
            StartPage(night_controller, appearance, actions),
            MorningPage(night_controller, appearance, actions),
            NightComparePage(night_controller, appearance, actions),
        )
        super().__init__(
            night_controller.controller, appearance, actions, (self.start, self.morning, self.compare)
        )
        self.night_controller = night_controller
        self.start.recording_requested.connect(lambda: self.with_condition(self.recording_requested.emit))
        self.compare.start_requested.connect(lambda: self.show_page(self.pages.index(self.start)))
        self.morning.stretch_requested.connect(self.stretch_requested)
        actions.bind("night.screen", self.night_screen_requested.emit)
        actions.bind("night.plan", self.ask_plan)
        actions.bind("night.condition", self.ask_condition)
        actions.bind("night.spot", self.ask_spot)
        self._tonight = tonight
        self._nights_shown = 0
        """How many nights there were when the morning was last shown by itself."""
        self._is_counted = False
        """Whether a night that is new is one that came while the window was open."""
        self.show_new_night()
        self._is_counted = True

    def show_new_night(self) -> None:
        """Show the morning once a night has come to its end, whoever recorded it and whatever stage is in sight.

        It goes by how many nights there are and not by the moment of the end: that is read bit by bit, in an order that
        nothing promises.
        """
        snapshot = self.controller.snapshot
        if snapshot.recording or snapshot.practice_night:
            return
        is_new = snapshot.night_count > self._nights_shown
        self._nights_shown = snapshot.night_count
        if is_new:
            if self._is_counted:
                self.night_controller.choose_newest()
            self.show_page(self.pages.index(self.morning))

    def with_condition(self, begin: Callable[[], object]) -> None:
        """Begin the recording of a night, once it was asked what is on in it where nobody entered that.

        What was stated for readings ends with their recording: it is no answer. While that recording goes on, and
        nothing speaks against it, the page shows it as the answer, and it is kept for the night.

        Args:
            begin: begins it.
        """
        conditions = self.night_controller.conditions
        if conditions.is_entered() or ((shown := conditions.tonight()) and conditions.state(shown, None)):
            begin()
        else:
            self._ask_condition(None, begin)

    def ask_condition(self) -> None:
        """Ask what is on in the night: on the page Start in the one to come, else in the one that is shown."""
        is_known, night = self._night_asked_about()
        if is_known:
            self._ask_condition(night)

    def _ask_condition(self, night: Night | None, then: Callable[[], object] = lambda: None) -> None:
        """Ask what is on in a night.

        Args:
            night: the night; None for the one to come.
            then: what follows once it was answered.
        """

        def state(condition: str) -> None:
            if self.night_controller.conditions.state(condition, night):
                then()

        def named(text: str) -> str | None:
            if not text.strip():
                return tr("Name the circuits and cords that are on.")
            if not self.night_controller.conditions.state(text, night):
                return self.controller.message.text
            then()
            return None

        def by_name() -> None:
            self.question_requested.emit(
                Question(title, tr("Name the circuits and cords that are on."), on_text=named)
            )

        title = (
            tr("What is on in the night?")
            if night is None
            else tr("What was on in the night of {began}?").format(began=night.began_text)
        )
        stated = self.night_controller.conditions.tonight() if night is None else ""
        now = "" if stated in (EVERYTHING_ON, EVERYTHING_OFF) else stated  # these are offered anyway
        as_listed = self._condition_as_listed()
        known = (
            [(tr("As now and as on tonight's list: {condition}"), now)]
            if now == as_listed
            else [(tr("As now: {condition}"), now), (tr("As on tonight's list: {condition}"), as_listed)]
        )
        answers = [
            *(
                Choice(text.format(condition=tr_kept(condition)), partial(state, condition))
                for text, condition in known
                if condition
            ),
            *condition_choices(state, by_name),
            Choice(tr("I do not know"), partial(state, "")),
        ]
        self.question_requested.emit(
            Question(
                title, tr("It is shown with the level of the night, also in the report."), tuple(answers)
            )
        )

    def ask_spot(self) -> None:
        """Ask where the person lies in the night: on the page Start in the one to come, else in the one shown."""
        is_known, night = self._night_asked_about()
        if not is_known:
            return
        spots = self.night_controller.spots
        suggested = spots.suggested()
        if not suggested:
            self.controller.message = Message(
                tr("There is no spot yet. Enter the spots on the stage Spots."), refused=True
            )
            return
        title = (
            tr("Where does the person lie in the night?")
            if night is None
            else tr("Where did the person lie in the night of {began}?").format(began=night.began_text)
        )
        answers = [Choice(spot.name, partial(spots.state, spot, night), is_name=True) for spot in suggested]
        self.question_requested.emit(
            Question(
                title,
                tr("With the answer the report can say whether tonight's list held through this night."),
                (*answers, Choice(tr("I do not know"), partial(spots.state, None, night))),
            )
        )

    def _night_asked_about(self) -> tuple[bool, Night | None]:
        """Whether there is a night to ask about, and which: None on the page Start, for the one to come."""
        if self.page is self.start:
            return True, None
        morning = self.night_controller.analysis()
        if morning is None:
            self.controller.message = Message(tr("Nothing has been recorded yet."), refused=True)
            return False, None
        return True, morning.night

    def _condition_as_listed(self) -> str:
        """What is on once tonight's list is switched off, as its readings name it; empty while it is not confirmed."""
        plan = self._tonight()
        if plan is None or plan.state is not PlanState.CONFIRMED:
            return ""
        read = {
            spot.confirming_reading.condition for spot in plan.spots if spot.confirming_reading is not None
        }
        return read.pop() if len(read) == 1 else ""

    def ask_plan(self) -> None:
        """Ask for the planned switchings."""

        def keep(text: str) -> str | None:
            return None if self.night_controller.plan_switchings(text) else self.controller.message.text

        self.question_requested.emit(
            Question(
                tr("Planned switchings"),
                tr(
                    "For example: 23:00 breakers off; 06:30 breakers on. The times are compared with the steps in "
                    "the recording. Type a single dash (-) if nothing is planned."
                ),
                on_text=keep,
                prefilled=self.night_controller.schedule,
                enter_text=tr("Keep them"),
            )
        )
