"""Marks, and undo: the last edit is undone, the last reading or mark is voided with a reason."""

from __future__ import annotations

from collections.abc import Callable

from gui.actions.base import ActionContext, Actions
from gui.actions.condition_actions import ConditionActions
from gui.model.visit_access import Message
from gui.model.wording import clock_text, reading_text
from gui.shell.prompt import Choice, Prompt
from logger.visit import Reading

WRONG_CONDITION = "wrong about what was on"
"""Why a reading is void; what is on is then asked again."""


class HistoryActions(Actions):
    """Mark a moment, undo what was done last.

    Args:
        context: the parts of the window.
        condition_actions: ask again what is on, where that was the mistake.
    """

    def __init__(self, context: ActionContext, condition_actions: ConditionActions) -> None:
        super().__init__(context)
        self._condition_actions = condition_actions

    def ask_mark(self) -> None:
        """Ask for the text of a mark; its moment is that of the key, not of the last letter."""
        snapshot = self.controller.snapshot
        moment = snapshot.live if snapshot.recording and not snapshot.stale else None
        self.prompt.ask(
            Prompt(
                "Mark",
                f"What happened at {clock_text(moment.beat_utc_ns) if moment else 'this moment'}?",
                on_text=lambda text: self.controller.readings.mark(text, moment),
                enter_text="put the mark",
            )
        )

    def ask_undo(self) -> None:
        """Undo the last change of the route at once; ask why the last reading or mark is void."""
        change = self.controller.history.last_edit()
        if change is not None:
            self.controller.history.undo(change)
            return
        last = self.controller.history.last_voidable()
        if last is None:
            self.controller.message = Message("There is nothing to undo.", refused=True)
            return
        if isinstance(last, Reading):
            reasons: tuple[tuple[str, str], ...] = (
                ("1", "moved"),
                ("2", "wrong spot"),
                ("3", WRONG_CONDITION),
            )
            what = f"{reading_text(last)} at “{last.spot_name}”, {last.condition}"
        else:
            what = f"the mark “{last.text}”"
            reasons = (("1", "mistyped"), ("2", "wrong moment"))

        def because(reason: str) -> Callable[[], None]:
            def do() -> None:
                self.controller.readings.void(last, reason)
                if reason == WRONG_CONDITION:
                    self.controller.condition.forget()
                    self._condition_actions.ask_condition()

            return do

        def by_words() -> None:
            self.prompt.ask(
                Prompt(
                    "Why is it void?",
                    what,
                    on_text=lambda text: self.controller.readings.void(last, text),
                    enter_text="void it",
                )
            )

        answers = tuple(Choice(key, reason, because(reason)) for key, reason in reasons)
        last_key = str(len(reasons) + 1)
        self.prompt.ask(
            Prompt(
                "Void the last one? Why?",
                f"{what}\nIt stays in the log with the reason.",
                (*answers, Choice(last_key, "another reason: type it", by_words)),
                escape_text="it stands",
            )
        )
