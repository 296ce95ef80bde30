"""Marks of the visit: put at a moment, voided with a reason; both can be undone, and the log keeps each row."""

from __future__ import annotations

from gui.model.undo_history import UndoableEdit, UndoHistory
from gui.model.visit_access import VisitAccess
from gui.model.wording import mark_text
from logger.translation import tr, tr_kept
from logger.visit import Live, Mark
from logger.visit.records.mark_about import MarkAbout


class MarkController:
    """Puts and voids marks.

    Args:
        access: the visit.
        history: notes what was done, so that it can be undone.
    """

    def __init__(self, access: VisitAccess, history: UndoHistory) -> None:
        self._access = access
        self._history = history
        self._newest: dict[int, list[Mark]] = {}
        """The newest row of a mark that was voided and put again by turns, found by the id of each of its rows."""

    def put(self, text: str, moment: Live | None = None) -> Mark | None:
        """Put free text at a moment of the log; returns the mark, None where it could not be written.

        Args:
            text: as it was typed.
            moment: the heartbeat whose moment is marked; None marks the present one.
        """
        put: list[Mark] = []

        def do() -> str:
            mark = self._access.log.marks.add(text, moment)
            put.append(mark)
            self._history.remember(mark)
            self._newest[mark.id] = [mark]
            self._history.remember_edit(
                UndoableEdit(
                    tr("mark “{mark}”").format(mark=mark_text(mark)),
                    lambda: self._void_newest(mark, "undone"),
                    lambda: self._put_again(mark),
                    tr("Voided: mark “{mark}” (undone)").format(mark=mark_text(mark)),
                )
            )
            return tr("Marked: “{mark}”").format(mark=mark_text(mark))

        self._access.do(do)
        return next(iter(put), None)

    def state_about(self, mark: Mark, about: MarkAbout) -> None:
        """State which readings a mark is about."""

        def do() -> str:
            self._access.log.marks.state_about(mark.id, about)
            return tr("Entered: what the mark “{mark}” is about").format(mark=mark_text(mark))

        self._access.do(do)

    def void(self, mark: Mark, reason: str) -> None:
        """Declare a mark mistaken; it stays in the log."""

        def do() -> str:
            self._newest.setdefault(mark.id, [mark])
            self._void_newest(mark, reason)
            self._history.remember_edit(
                UndoableEdit(
                    tr("void mark “{mark}”").format(mark=mark_text(mark)),
                    lambda: self._put_again(mark),
                    lambda: self._void_newest(mark, reason),
                )
            )
            return tr("Voided: mark “{mark}” ({reason})").format(mark=mark_text(mark), reason=tr_kept(reason))

        self._access.do(do)

    def _void_newest(self, mark: Mark, reason: str) -> None:
        self._access.log.marks.void(self._newest[mark.id][0].id, reason)

    def _put_again(self, mark: Mark) -> None:
        newest = self._newest[mark.id]
        newest[0] = self._access.log.marks.add_again(newest[0])
        self._newest[newest[0].id] = newest
        self._history.remember(newest[0])
