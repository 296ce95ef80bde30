"""Asks what is on; it is never assumed."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from gui.model.wording import moment_text
from gui.shell.question import Choice, Question
from gui.stages.spots.action_context import Actions
from logger.translation import tr, tr_kept
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON


class ConditionActions(Actions):
    """Questions about what is on."""

    def ask_condition(self, then: Callable[[], None] | None = None, about: str = "", doubt: str = "") -> None:
        """Ask what is on now.

        Args:
            then: what goes on once it is stated.
            about: which value the answer is for, in a sentence; empty where it is for none.
            doubt: what speaks against the last statement, in a sentence; empty where nothing does.
        """

        def state(condition: str) -> None:
            self.controller.condition.state(condition)
            if then is not None:
                then()
            self.redraw()

        def named(typed: str) -> str | None:
            # What was prefilled and left as it is stays what it was, in every language.
            self.controller.condition.state(now if typed == tr_kept(now) else typed)
            if self.controller.message.refused:
                return self.controller.message.text
            if then is not None:
                then()
            self.redraw()
            return None

        def by_name() -> None:
            self.prompt.ask(
                Question(
                    tr("What is on?"),
                    tr("Name the circuits and cords that are live."),
                    on_text=named,
                    prefilled=tr_kept(now),
                )
            )

        stated, now = self.controller.snapshot.stated, self.controller.snapshot.condition
        text = tr("What you enter counts for every reading until you change it.")
        still: tuple[Choice, ...] = ()
        if stated.condition and doubt:
            text = tr("{doubt} Is it still {condition}?").format(
                doubt=doubt, condition=tr_kept(stated.condition)
            )
            still = (
                Choice(
                    tr("Still {condition}").format(condition=tr_kept(stated.condition)),
                    lambda: state(stated.condition),
                ),
            )
        elif stated.condition and not self.controller.snapshot.condition:
            entered = moment_text(stated.utc_ns, self.controller.snapshot.zone)
            text = tr("Last entered {entered}: {condition}. Is it still so?").format(
                entered=entered, condition=tr_kept(stated.condition)
            )
            still = (
                Choice(
                    tr("Still {condition}").format(condition=tr_kept(stated.condition)),
                    lambda: state(stated.condition),
                ),
            )

        self.prompt.ask(
            Question(
                tr("What is on now?"),
                " ".join(filter(None, (about, text))),
                (*still, *condition_choices(state, by_name, offered=stated.condition if doubt else "")),
            )
        )


def condition_choices(
    take: Callable[[str], None], by_name: Callable[[], None], *, offered: str = ""
) -> tuple[Choice, ...]:
    """The usual answers to what is on.

    Args:
        take: takes the condition.
        by_name: asks for another condition.
        offered: a condition that is offered already; empty where none is.
    """
    usual = {
        EVERYTHING_ON: tr("Everything on, as in the evening"),
        EVERYTHING_OFF: tr("Everything off"),
    }
    return (
        *(
            Choice(text, partial(take, condition))
            for condition, text in usual.items()
            if condition != offered
        ),
        Choice(tr("Something else: type it"), by_name),
    )
