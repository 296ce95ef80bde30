"""Takes a reading; whatever is not known is asked first."""

from __future__ import annotations

from gui.actions.base import ActionContext, Actions
from gui.actions.condition_actions import ConditionActions
from gui.actions.round_actions import RoundActions
from gui.actions.spot_actions import SpotActions
from gui.model.visit_access import Message
from gui.sound.sounds import Tone
from logger.visit.records.condition import EVERYTHING_ON


class ReadingActions(Actions):
    """Take a reading at the chosen spot.

    Args:
        context: the parts of the window.
        spot_actions: ask for a spot where none is chosen.
        condition_actions: ask what is on where that is not known.
        round_actions: offer the next round.
    """

    def __init__(
        self,
        context: ActionContext,
        spot_actions: SpotActions,
        condition_actions: ConditionActions,
        round_actions: RoundActions,
    ) -> None:
        super().__init__(context)
        self._spot_actions = spot_actions
        self._condition_actions = condition_actions
        self._round_actions = round_actions

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
            self._spot_actions.ask_where(then=lambda: self.take(override))
            return
        if not controller.condition.at(controller.route.chosen):
            self._condition_actions.ask_condition(then=lambda: self.take(override))
            return
        on_before = controller.readings.count_read(EVERYTHING_ON)
        if controller.readings.take(override) is not None:
            self.sounds.play(Tone.TAKEN)
            self._round_actions.offer_round(on_before)
        else:
            self.action_bar.flash()
        self.redraw()
