"""The rounds: with everything off after everything on, and the walk outside."""

from __future__ import annotations

from gui.actions.base import ActionContext, Actions
from gui.actions.history_actions import HistoryActions
from gui.model.visit_access import Message
from gui.shell.prompt import Choice, Prompt
from logger import cautions
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, OUTSIDE_WALK


class RoundActions(Actions):
    """Begin a round, and offer it when the one before is complete.

    Args:
        context: the parts of the window.
        history_actions: undo the last reading instead.
    """

    def __init__(self, context: ActionContext, history_actions: HistoryActions) -> None:
        super().__init__(context)
        self._history_actions = history_actions

    def offer_round(self, on_before: int) -> bool:
        """Offer the round with everything off after the reading that completes the one with everything on.

        Args:
            on_before: how many spots had been read with everything on before that reading.

        Returns:
            Whether it was offered.
        """
        controller = self.controller
        if (
            controller.readings.count_read(EVERYTHING_ON) == on_before
            or not controller.readings.off_round_due()
        ):
            return False
        self.ask_round()
        return True

    def ask_round(self) -> None:
        """Ask whether everything is off now, and begin that round."""
        controller = self.controller
        spots = len(controller.route.indoor_spots())
        if not spots:
            controller.message = Message(
                "There is no spot to read. A adds one, T those of a room.", refused=True
            )
            return
        read = controller.readings.count_read(EVERYTHING_ON)

        def begin() -> None:
            controller.condition.state(EVERYTHING_OFF)
            first = next(
                (s for s in controller.route.indoor_spots() if controller.readings.result(s).off is None),
                None,
            )
            controller.route.chosen_id = (first or controller.route.indoor_spots()[0]).id
            if controller.hands_free.is_armed:
                controller.hands_free.arm()
            self.show_spots()

        self.prompt.ask(
            Prompt(
                "Is everything off now?",
                f"{read} of {spots} spots are read with everything on. The same spots follow with everything off. "
                "Leave on what must not go off: refrigerator, alarm, medical device. Have a torch at hand.",
                (
                    Choice("F", "everything is off now: begin the round", begin),
                    Choice("U", "undo the last reading first", self._history_actions.ask_undo),
                ),
                escape_text="not now",
            )
        )

    def go_outside(self) -> None:
        """The next point of the walk outside, towards whatever may be the source."""

        def go() -> None:
            self.controller.route.add_walk_point()
            self.show_spots()

        if self.controller.route.chosen is not None and self.controller.route.chosen.room == OUTSIDE_WALK:
            go()
            return
        self.prompt.ask(
            Prompt(
                "Begin the outside walk?",
                "Readings along a path, such as towards a power line: does the value rise? "
                f"{cautions.OUTSIDE_WALK_CAUTION} G adds each further point.",
                (Choice("G", "the first point", go, ("Return",)),),
            )
        )
