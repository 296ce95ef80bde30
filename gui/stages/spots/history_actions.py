"""Marks, and voiding: the last reading or mark is voided with a reason."""

from __future__ import annotations

from collections.abc import Callable

from gui.actions.registry import plain_text
from gui.actions.table import SPECS
from gui.model.reading_corrections import VOID_REASONS
from gui.model.visit_access import Message
from gui.model.wording import clock_text, mark_text, reading_text
from gui.shell.question import Choice, Question
from gui.stages.spots.action_context import ActionContext, Actions
from gui.stages.spots.condition_actions import ConditionActions
from logger.translation import kept_text, tr, tr_kept
from logger.visit import Mark, Reading
from logger.visit.records.home_records import Spot
from logger.visit.records.mark_about import AboutKind, MarkAbout
from logger.visit.records.reading_corrections import why_not_reason

MARK_REASONS = (kept_text("mistyped"), kept_text("wrong moment"))
"""Why a mark is void, as it is offered and kept in English."""


class HistoryActions(Actions):
    """Mark a moment, void what was taken or marked last.

    Args:
        context: the parts of the window.
        condition_actions: ask again what is on, where that was the mistake.
    """

    def __init__(self, context: ActionContext, condition_actions: ConditionActions) -> None:
        super().__init__(context)
        self.controller.corrections.on_forgotten = condition_actions.ask_condition

    def ask_mark(self) -> None:
        """Ask for the text of a mark; its moment is that of the key, not of the last letter."""
        snapshot = self.controller.snapshot
        moment = snapshot.live if snapshot.recording and not snapshot.stale else None
        spot = self.controller.route.chosen

        def put(text: str) -> None:
            if (mark := self.controller.marks.put(text, moment)) is not None:
                self._ask_about(mark, spot)

        self.prompt.ask(
            Question(
                tr("Mark"),
                tr("What happened at {time}?").format(time=clock_text(moment.beat_utc_ns, snapshot.zone))
                if moment
                else tr("What happened at this moment?"),
                on_text=put,
                enter_text=tr("Put the mark"),
            )
        )

    def _ask_about(self, mark: Mark, spot: Spot | None) -> None:
        """Ask which readings a mark is about: whoever reads the report cannot tell.

        Args:
            mark: that was put just now.
            spot: that was chosen when it was begun; None for none.
        """

        def of(kind: AboutKind, spot_id: int | None = None) -> Callable[[], None]:
            return lambda: self.controller.marks.state_about(mark, MarkAbout(kind, spot_id))

        here = (
            (Choice(tr("Those at “{spot}”").format(spot=spot.name), of(AboutKind.SPOT, spot.id)),)
            if spot
            else ()
        )
        self.prompt.ask(
            Question(
                tr("Which readings is it about?"),
                tr("The mark: “{mark}”.").format(mark=mark_text(mark)),
                (
                    *here,
                    Choice(tr("All from here on"), of(AboutKind.AFTER)),
                    Choice(tr("All up to here"), of(AboutKind.BEFORE)),
                    Choice(tr("All of the visit"), of(AboutKind.ALL)),
                    Choice(tr("No reading"), of(AboutKind.NONE)),
                ),
                escape_text=tr("Leave open"),
            )
        )

    def why_not_void(self) -> str:
        """Why nothing can be voided, in a whole sentence; empty where something can."""
        return (
            ""
            if self.controller.history.last_voidable() is not None
            else tr("There is no reading and no mark to void.")
        )

    def undo(self) -> None:
        """Undo the last edit; where a reading was taken since, ask whether that is to be voided."""
        history = self.controller.history
        if history.newest_act() is None:
            history.undo()
            return
        name = history.undo_name()
        instead = (Choice(tr("Undo instead: {name}").format(name=name), history.undo),) if name else ()
        self.ask_void(tr("A reading is not undone but voided."), instead)

    def why_not_undo(self) -> str:
        """Why nothing can be undone, in a whole sentence; empty where something can."""
        history = self.controller.history
        if history.undo_name() or history.newest_act() is not None:
            return ""
        if not isinstance(history.last_voidable(), Reading):
            return tr("There is nothing to undo.")
        spec = SPECS["measure.void_last"]
        return tr("There is nothing to undo. “{name}” ({key}) voids the last reading.").format(
            name=plain_text(tr(spec.text)), key=spec.shortcuts[0]
        )

    def _void_title(self, last: Reading | Mark) -> str:
        """What is asked about the reading or mark of this window; one of another may have come later."""
        if not isinstance(last, Reading):
            return tr("Why is the last mark invalid?")
        valid = [reading for reading in self.controller.snapshot.readings if reading.void_reason is None]
        if valid and max(valid, key=lambda reading: reading.id).id != last.id:
            return tr("Why is this window's last reading invalid? Another one came since.")
        return tr("Why is the last reading invalid?")

    def ask_void(self, note: str = "", further: tuple[Choice, ...] = ()) -> None:
        """Ask why the last reading or mark is not valid, and void it.

        Args:
            note: a sentence above the others of the question.
            further: answers besides the reasons.
        """
        last = self.controller.history.last_voidable()
        if last is None:
            self.controller.message = Message(self.why_not_void(), refused=True)
        else:
            self._ask_void_of(last, self._void_title(last), note, further)

    def ask_void_of(self, reading: Reading) -> None:
        """Ask why a reading that was chosen in the list is not valid, and void it."""
        self._ask_void_of(reading, tr("Why is this reading invalid?"))

    def _ask_void_of(
        self, last: Reading | Mark, title: str, note: str = "", further: tuple[Choice, ...] = ()
    ) -> None:
        newest = self.controller.history.last_voidable()
        is_newest = type(newest) is type(last) and newest is not None and newest.id == last.id
        if isinstance(last, Reading):
            reasons: tuple[str, ...] = VOID_REASONS
            what = tr("{reading} at “{spot}”, {condition}").format(
                reading=reading_text(last), spot=last.spot_name, condition=tr_kept(last.condition)
            )
        else:
            what = tr("the mark “{mark}”").format(mark=mark_text(last))
            reasons = MARK_REASONS

        def void(reason: str) -> None:
            if isinstance(last, Reading):
                self.controller.corrections.void(last, reason)
                spots = [spot.id for spot in self.controller.snapshot.spots]
                if is_newest and last.spot_id in spots:
                    self.controller.route.propose(last.spot_id)  # where whoever lies there reads again
            else:
                self.controller.marks.void(last, reason)

        def because(reason: str) -> Callable[[], None]:
            return lambda: void(reason)

        def by_words() -> None:
            self.prompt.ask(
                Question(
                    tr("Why is it invalid?"),
                    what,
                    on_text=void,
                    why_invalid=why_not_reason,
                    enter_text=tr("Void it"),
                )
            )

        answers = tuple(Choice(tr_kept(reason), because(reason)) for reason in reasons)
        kept = tr("It stays in the log with the reason.")
        self.prompt.ask(
            Question(
                title,
                "\n".join((what, " ".join(filter(None, (note, kept))))),
                (*answers, Choice(tr("Another reason: type it"), by_words), *further),
                escape_text=tr("Cancel"),
            )
        )
