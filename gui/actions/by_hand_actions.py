"""Values that were read from the meter's display by eye, spot after spot."""

from __future__ import annotations

from collections.abc import Callable

from gui.actions.base import ActionContext, Actions
from gui.actions.round_actions import RoundActions
from gui.actions.spot_actions import SpotActions
from gui.model.visit_access import Message
from gui.shell.prompt import Choice, Prompt
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON


class ByHandActions(Actions):
    """Ask for values by hand.

    Args:
        context: the parts of the window.
        spot_actions: ask for a spot where none is chosen.
        round_actions: offer the next round.
    """

    def __init__(
        self,
        context: ActionContext,
        spot_actions: SpotActions,
        round_actions: RoundActions,
    ) -> None:
        super().__init__(context)
        self._spot_actions = spot_actions
        self._round_actions = round_actions

    def ask_by_hand(self, condition: str = "", typed: str = "") -> None:
        """Ask for values that were read from the meter's display by eye, spot after spot.

        Args:
            condition: what was on when they were read, such as on a form that is entered afterwards; empty: what is
                on now.
            typed: what was typed and not understood.
        """
        controller, spot = self.controller, self.controller.route.chosen
        if spot is None:
            if controller.route.removed_spot is not None:
                self._spot_actions.ask_where(then=lambda: self.ask_by_hand(condition))
            else:
                controller.message = Message(
                    "There is no spot to enter a value for. A adds one.", refused=True
                )
            return
        if not controller.condition.at(spot, condition):
            self._ask_condition_by_hand()
            return

        def keep(text: str) -> None:
            on_before = controller.readings.count_read(EVERYTHING_ON)
            if not controller.readings.enter_by_hand(text, condition):
                self.ask_by_hand(condition, text)
            elif not condition and self._round_actions.offer_round(on_before):
                pass
            elif controller.route.choose_next_unread(condition):
                self.ask_by_hand(condition)
            elif condition == EVERYTHING_ON and controller.route.choose_first_unread(EVERYTHING_OFF):
                self.ask_by_hand(EVERYTHING_OFF)  # the other column of the form

        self.prompt.ask(
            Prompt(
                f"By hand at “{spot.name}”, {controller.condition.at(spot, condition)}",
                "Such as 0.27, 270 mV, or with how far it wandered: 0.27 +- 0.02. On and off at once, as on the form: "
                "0.9 (0.05). The next spot follows.",
                on_text=keep,
                prefilled=typed,
                enter_text="enter it",
                escape_text="that is all",
            )
        )

    def _ask_condition_by_hand(self) -> None:
        """Ask what was on when the values were read; says nothing of what is on now."""

        def begin(condition: str) -> Callable[[], None]:
            def do() -> None:
                self.ask_by_hand(condition)

            return do

        def by_name() -> None:
            self.prompt.ask(
                Prompt(
                    "What was on?",
                    "Name the circuits and cords that were live.",
                    on_text=lambda text: begin(text)(),
                )
            )

        self.prompt.ask(
            Prompt(
                "What was on when they were read?",
                "For the values by hand that follow.",
                (
                    Choice("O", "Everything on, as in the evening", begin(EVERYTHING_ON), ("1",)),
                    Choice("F", "Everything off", begin(EVERYTHING_OFF), ("2",)),
                    Choice("T", "Something else: type it", by_name, ("3",)),
                ),
            )
        )
