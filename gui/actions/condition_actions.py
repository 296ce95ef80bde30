"""Asks what is on; it is never assumed."""

from __future__ import annotations

from collections.abc import Callable

from gui.actions.base import Actions
from gui.model.wording import moment_text
from gui.shell.prompt import Choice, Prompt
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON


class ConditionActions(Actions):
    """Questions about what is on."""

    def ask_condition(self, then: Callable[[], None] | None = None, about: str = "") -> None:
        """Ask what is on now.

        Args:
            then: what goes on once it is stated.
            about: which value the answer is for, in a sentence; empty where it is for none.
        """

        def state(condition: str) -> None:
            self.controller.condition.state(condition)
            if then is not None:
                then()
            self.redraw()

        def by_name() -> None:
            self.prompt.ask(
                Prompt(
                    "What is on?",
                    "Name the circuits and cords that are live.",
                    on_text=state,
                    prefilled=self.controller.snapshot.condition,
                )
            )

        stated = self.controller.snapshot.stated
        text = "What you enter counts for every reading until you change it."
        still: tuple[Choice, ...] = ()
        if stated.condition and not self.controller.snapshot.condition:
            text = f"Last stated {moment_text(stated.utc_ns)}: {stated.condition}. Is it still so?"
            still = (Choice("S", f"Still {stated.condition}", lambda: state(stated.condition)),)
        self.prompt.ask(
            Prompt(
                "What is on now?",
                " ".join(filter(None, (about, text))),
                (*still, *condition_choices(state, by_name)),
            )
        )


def condition_choices(take: Callable[[str], None], by_name: Callable[[], None]) -> tuple[Choice, ...]:
    """The usual answers to what is on. None has a digit as its key: who types a value there states nothing by it.

    Args:
        take: takes the condition.
        by_name: asks for another condition.
    """
    return (
        Choice("O", "Everything on, as in the evening", lambda: take(EVERYTHING_ON)),
        Choice("F", "Everything off", lambda: take(EVERYTHING_OFF)),
        Choice("T", "Something else: type it", by_name),
    )
