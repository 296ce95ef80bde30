"""Takes a reading; whatever is not known is asked first."""

from __future__ import annotations

from gui.actions.base import ActionContext, Actions
from gui.actions.reading_questions import ReadingQuestions
from gui.model.visit_access import Message
from gui.sound.sounds import Tone
from logger.visit.records.condition import EVERYTHING_ON


class ReadingActions(Actions):
    """Take a reading at the chosen spot.

    Args:
        context: the parts of the window.
        questions: what may have to be asked around a reading.
    """

    def __init__(self, context: ActionContext, questions: ReadingQuestions) -> None:
        super().__init__(context)
        self._questions = questions

    def take(self, override: bool = False) -> None:
        """Take the value for the chosen spot; asks first for what is not known."""
        controller = self.controller
        # Another window may have stated what is on, or removed the spot, just now.
        controller.refresh(force=True)
        if not override and controller.snapshot.refusal:
            controller.message = Message(f"Not taken: {controller.snapshot.refusal}", refused=True)
            self.action_bar.flash()
            return
        if controller.route.chosen is None:
            self._questions.spots.ask_where(then=lambda: self.take(override))
            return
        if not controller.condition.at(controller.route.chosen):
            self._questions.condition.ask_condition(then=lambda: self.take(override))
            return
        on_before = controller.readings.count_read(EVERYTHING_ON)
        if controller.readings.take(override) is not None:
            self.sounds.play(Tone.TAKEN)
            self._questions.rounds.offer_round(on_before)
        else:
            self.action_bar.flash()
        self.redraw()
