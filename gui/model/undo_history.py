"""What this window did to the visit, in order: the newest is undone (an edit) or voided (a reading or a mark)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from gui.model.visit_access import VisitAccess
from logger.visit import Mark, Reading
from logger.visit.results.chronology import in_order


@dataclass(frozen=True, slots=True)
class UndoableEdit:
    """A change of a list or of the set-up made by this window, with the way back."""

    undone_text: str
    """The message once it is undone."""
    undo: Callable[[], None]


class UndoHistory:
    """Readings and marks made by this window, and its edits, in the order in which they were done.

    Args:
        access: the visit.
    """

    def __init__(self, access: VisitAccess) -> None:
        self._access = access
        self._done: list[tuple[type, int] | UndoableEdit] = []

    def remember(self, item: Reading | Mark) -> None:
        """Note a reading or a mark that this window has made."""
        self._done.append((type(item), item.id))

    def was_done_here(self, item: Reading | Mark) -> bool:
        """Whether this window has made a reading or a mark."""
        return (type(item), item.id) in self._done

    def remember_edit(self, edit: UndoableEdit) -> None:
        """Note an edit that this window has made."""
        self._done.append(edit)

    def last_voidable(self) -> Reading | Mark | None:
        """The newest valid reading or mark: the last one of this window, else the last one of the log."""
        snapshot = self._access.snapshot
        items = in_order(snapshot.readings, snapshot.marks)
        valid = reversed([item for item in items if item.void_reason is None])
        # By the order of doing: a mark's time is that of its key press, a little before it was written.
        order = {done: place for place, done in enumerate(self._done)}
        return max(valid, key=lambda i: order.get((type(i), i.id), -1), default=None)

    def last_edit(self) -> UndoableEdit | None:
        """The edit that is undone next; None when a valid reading or mark came after it."""
        snapshot = self._access.snapshot
        items: list[Reading | Mark] = [*snapshot.readings, *snapshot.marks]
        void = {(type(item), item.id) for item in items if item.void_reason is not None}
        last = next((done for done in reversed(self._done) if done not in void), None)
        return last if isinstance(last, UndoableEdit) else None

    def undo(self, edit: UndoableEdit) -> None:
        """Undo an edit."""

        def do() -> str:
            self._done.remove(edit)
            edit.undo()
            return edit.undone_text

        self._access.do(do)
