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

    # long: one question, with what each of its answers does.
    def ask_condition(self, then: Callable[[], None] | None = None, about: str = "", doubt: str = "") -> None:
        """Ask what is on now.

        Args:
            then: what goes on once it is stated.
            about: which value the answer is for, in a sentence; empty where it is for none.
            doubt: what speaks against the last statement, in a sentence; empty where nothing does.
        """

        def state(condition: str) -> None:
            readings, is_same = self.controller.readings, condition == now
            self.controller.condition.state(condition)
            if then is None and is_same and readings.off_round_due() and not readings.why_not_again():
                readings.read_again()  # nothing else is meant by it, once every spot is read so
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
        before = ""
        if stated.condition and doubt:
            before = stated.condition
            text = tr("{doubt} Is it still {condition}?").format(doubt=doubt, condition=tr_kept(before))
        elif stated.condition and not now:
            before = stated.condition
            entered = moment_text(stated.utc_ns, self.controller.snapshot.zone)
            text = tr("Last entered {entered}: {condition}. Is it still so?").format(
                entered=entered, condition=tr_kept(before)
            )
        elif self.controller.condition.ended_with_sweep():
            text = tr("What the last step of the sweep had on counts no longer. {text}").format(text=text)
        self.prompt.ask(
            Question(
                tr("What is on now?"),
                " ".join(filter(None, (about, text))),
                condition_choices(state, by_name, before=before),
            )
        )


def condition_choices(
    take: Callable[[str], None], by_name: Callable[[], None], *, before: str = ""
) -> tuple[Choice, ...]:
    """The usual answers to what is on: each at the same place whatever was entered before, for who knows them by that.

    Args:
        take: takes the condition.
        by_name: asks for another condition.
        before: what was on before, and may be on still; empty where that is not known.
    """
    usual = {
        EVERYTHING_ON: tr("Everything on, as in the evening"),
        EVERYTHING_OFF: tr("Everything off"),
    }
    choices = [Choice(text, partial(take, condition)) for condition, text in usual.items()]
    choices.append(Choice(tr("Something else: type it"), by_name))
    if before and before not in usual:
        still = tr("Still {condition}").format(condition=tr_kept(before))
        choices.append(Choice(still, partial(take, before)))
    return tuple(choices)
