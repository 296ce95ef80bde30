"""Values that were read from the meter's display by eye, spot after spot."""

from __future__ import annotations

from gui.model.condition_controller import in_words, refuse_value_as_condition
from gui.model.visit_access import Message
from gui.shell.question import Question
from gui.stages.spots.action_context import ActionContext, Actions
from gui.stages.spots.condition_actions import condition_choices
from gui.stages.spots.reading_questions import ReadingQuestions
from logger.translation import marked, tr, tr_kept
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, OUTSIDE_WALK, typed_condition

NO_SPOT = marked("There is no spot to enter a value for. Add one first.")


class ByHandActions(Actions):
    """Ask for values by hand.

    Args:
        context: the parts of the window.
        questions: what may have to be asked around a reading.
    """

    def __init__(self, context: ActionContext, questions: ReadingQuestions) -> None:
        super().__init__(context)
        self._questions = questions

    def ask_by_hand(self, condition: str = "") -> None:
        """Ask for values that were read from the meter's display by eye, spot after spot.

        Args:
            condition: what was on when they were read, such as on a form that is entered afterwards; empty: what is
                on now.
        """
        controller, spot = self.controller, self.controller.route.chosen
        if spot is None:
            if controller.route.removed_spot is not None:
                self._questions.spots.ask_where(then=lambda: self.ask_by_hand(condition))
            else:
                controller.message = Message(tr(NO_SPOT), refused=True)
            return
        if not controller.condition.at(spot, condition):
            self._ask_condition_by_hand()
            return

        def keep(text: str) -> str | None:
            on_before = controller.readings.count_read(EVERYTHING_ON)
            if not controller.readings.enter_by_hand(text, condition):
                return controller.message.text
            if not condition and self._questions.rounds.offer_round(on_before):
                pass
            elif controller.route.choose_next_unread(condition):
                self.ask_by_hand(condition)
            elif condition == EVERYTHING_ON and controller.route.choose_first_unread(EVERYTHING_OFF):
                self.ask_by_hand(EVERYTHING_OFF)  # the other column of the form
            return None

        self.prompt.ask(
            Question(
                tr("By hand at “{spot}”, {condition}").format(
                    spot=spot.name, condition=tr_kept(controller.condition.at(spot, condition))
                ),
                tr(
                    "Such as 0.27 or 270 mV; with how far it wandered: 0.27 +- 0.02. Then the next spot "
                    "is asked for."
                )
                if spot.room == OUTSIDE_WALK
                else tr(
                    "Such as 0.27 or 270 mV; with how far it wandered: 0.27 +- 0.02. Both values at "
                    "once, as on the form: 0.9 (0.05) is 0.9 V with everything on and 0.05 V with "
                    "everything off. Then the next spot is asked for."
                ),
                on_text=keep,
                enter_text=tr("Enter it"),
                escape_text=tr("That is all"),
            )
        )

    def why_not(self) -> str:
        """Why no value can be entered now, in a whole sentence; empty where one can."""
        route = self.controller.route
        return tr(NO_SPOT) if route.chosen is None and route.removed_spot is None else ""

    def _ask_condition_by_hand(self) -> None:
        """Ask what was on when the values were read; what is on now is not stated by it."""

        def named(text: str) -> str | None:
            condition = typed_condition(text)
            if not self.controller.do(lambda: _named(condition)):
                return self.controller.message.text
            self.ask_by_hand(condition)
            return None

        def by_name() -> None:
            self.prompt.ask(
                Question(tr("What was on?"), tr("Name the circuits and cords that were live."), on_text=named)
            )

        self.prompt.ask(
            Question(
                tr("What was on when they were read?"),
                tr("For the values by hand that follow."),
                condition_choices(self.ask_by_hand, by_name),
            )
        )


def _named(condition: str) -> str:
    refuse_value_as_condition(condition)
    return tr("For the values by hand: {condition}").format(condition=in_words(condition))
