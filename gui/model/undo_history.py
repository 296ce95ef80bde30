"""What this window did to the visit: edits, which are undone and redone, and readings and marks, which are voided."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from weakref import finalize, ref

from PySide6.QtGui import QUndoCommand, QUndoStack

from gui.model.visit_access import VisitAccess
from logger.errors import StillvoltError
from logger.translation import tr
from logger.visit import Mark, Reading
from logger.visit.results.chronology import in_order

MAX_EDITS = 200
"""So many edits can be undone; older ones are of another hour."""


@dataclass(frozen=True, slots=True, weakref_slot=True)
class UndoableEdit:
    """A change of the set-up, of spots, lists, labels or marks that was made, with the way back and forth again."""

    name: str
    """What it was, as the menu Edit names it behind Undo: “rename “Sofa””."""
    undo: Callable[[], object]
    redo: Callable[[], object]
    undone_text: str = ""
    """The message once it is undone; empty takes one made of the name."""
    undo_name: str = ""
    """What undoing it does, as the menu Edit names it behind Undo, where its name alone could be taken for doing it."""


class _EditCommand(QUndoCommand):
    """An edit on Qt's stack. What an error in it means is kept, since none gets through Qt.

    It refers weakly to the edit and to the history, which leads back to the stack: Python's garbage collector frees
    the commands of a stack in a circle before Qt does, and Qt then frees them again.
    """

    def __init__(self, edit: UndoableEdit, history: UndoHistory) -> None:
        super().__init__(edit.name)
        self._edit = ref(edit)
        self._history = ref(history)
        self._is_done = True  # it is pushed once it has been carried out

    @property
    def edit(self) -> UndoableEdit | None:
        """The edit; None once its history is gone."""
        return self._edit()

    def undo(self) -> None:
        """See Qt."""
        self._is_done = False
        if (edit := self.edit) is not None:
            self._try(edit.undo)

    def redo(self) -> None:
        """See Qt."""
        if not self._is_done and (edit := self.edit) is not None:
            self._try(edit.redo)
        self._is_done = True

    def _try(self, run: Callable[[], object]) -> None:
        try:
            run()
        except Exception as error:
            # What it is about is no longer as it was, such as changed by another window.
            self.setObsolete(True)
            if (history := self._history()) is not None:
                history.note_error(error)


class UndoHistory:
    """The edits of this window on a `QUndoStack`, and which readings and marks it made.

    Args:
        access: the visit.
    """

    def __init__(self, access: VisitAccess) -> None:
        self._access = access
        self._made: list[tuple[type, int]] = []
        self._taken_since_edit: list[int] = []
        """Ids of the readings that were taken since the last edit was made, undone or done again."""
        self._error: Exception | None = None
        self.stack = QUndoStack()
        self.stack.setUndoLimit(MAX_EDITS)
        self._edits: list[UndoableEdit] = []
        """The edits that the commands on the stack refer to."""
        # Called also where the garbage collector finds the history: the stack is empty before anything of it is freed.
        finalize(self, self.stack.clear)

    # --- readings and marks ----------------------------------------------------------------------------------

    def remember(self, item: Reading | Mark) -> None:
        """Note a reading or a mark that this window has made."""
        self._made.append((type(item), item.id))
        if isinstance(item, Reading):
            self._taken_since_edit.append(item.id)

    def was_done_here(self, item: Reading | Mark) -> bool:
        """Whether this window has made a reading or a mark."""
        return (type(item), item.id) in self._made

    def last_voidable(self) -> Reading | Mark | None:
        """The newest valid reading or mark: the last one of this window, else the last one of the log."""
        snapshot = self._access.snapshot
        items = in_order(snapshot.readings, snapshot.marks)
        valid = reversed([item for item in items if item.void_reason is None])
        # By the order of doing: a mark's time is that of its key press, a little before it was written.
        order = {made: place for place, made in enumerate(self._made)}
        return max(valid, key=lambda i: order.get((type(i), i.id), -1), default=None)

    def newest_act(self) -> Reading | None:
        """The valid reading that this window took last, where nothing was edited, undone or done again since.

        Undo is then meant for that reading, which can be voided alone, with a reason.
        """
        last = self.last_voidable()
        return last if isinstance(last, Reading) and last.id in self._taken_since_edit else None

    # --- edits ---------------------------------------------------------------------------------------------

    def remember_edit(self, edit: UndoableEdit) -> None:
        """Note an edit that this window has made."""
        self._taken_since_edit.clear()
        self.stack.push(_EditCommand(edit, self))
        commands = (self.stack.command(at) for at in range(self.stack.count()))
        kept = [command.edit for command in commands if isinstance(command, _EditCommand)]
        self._edits = [kept_edit for kept_edit in kept if kept_edit is not None]

    def undo_name(self) -> str:
        """What would be undone; empty where there is nothing."""
        command = self.stack.command(self.stack.index() - 1)
        edit = command.edit if isinstance(command, _EditCommand) else None
        return (edit.undo_name if edit is not None else "") or self.stack.undoText()

    def redo_name(self) -> str:
        """What would be done again; empty where there is nothing."""
        return self.stack.redoText()

    def undo(self) -> bool:
        """Undo the last edit; False when refused."""
        command = self.stack.command(self.stack.index() - 1)
        text = command.edit.undone_text if isinstance(command, _EditCommand) and command.edit else ""
        return self._run(self.stack.undo, text or tr("Undone: {edit}").format(edit=self.undo_name()))

    def redo(self) -> bool:
        """Do again what was undone last; False when refused."""
        return self._run(self.stack.redo, tr("Done again: {edit}").format(edit=self.redo_name()))

    def note_error(self, error: Exception) -> None:
        """Keep why an edit could not be undone or done again."""
        self._error = error

    def _run(self, run: Callable[[], None], message: str) -> bool:
        def do() -> str:
            self._error = None
            self._taken_since_edit.clear()
            run()
            error, self._error = self._error, None
            if isinstance(error, OSError | StillvoltError):
                raise error
            if error is not None:
                raise StillvoltError(
                    tr("It cannot be undone any more."), tr("Nothing was changed.")
                ) from error
            return message

        return self._access.do(do)
