"""What a screen reader is told of a list: rows that change, come and go, and which row has the keyboard.

In: a list of Qt. Out: accessibility events that Qt itself does not send; without them a reader goes on saying what it
found in a row when it first met that row.
"""

from __future__ import annotations

from PySide6.QtCore import QItemSelectionModel, QModelIndex
from PySide6.QtGui import QAccessible, QAccessibleEvent
from PySide6.QtWidgets import QAbstractItemView, QListView
from shiboken6 import isValid


def tell_row_changes(view: QListView) -> None:
    """Tell a screen reader from now on of each row that comes, goes, or whose text changes.

    Args:
        view: a list with its model.
    """
    model = view.model()

    def is_heard() -> bool:
        # A list widget empties its model while it is deleted itself.
        return isValid(view) and QAccessible.isActive()

    def tell(kind: QAccessible.Event, first: int, last: int) -> None:
        if is_heard():
            for row in range(first, last + 1):
                event = QAccessibleEvent(view, kind)
                event.setChild(row)
                QAccessible.updateAccessibility(event)

    def changed(first: QModelIndex, last: QModelIndex) -> None:
        tell(QAccessible.Event.NameChanged, first.row(), last.row())

    def inserted(_: QModelIndex, first: int, last: int) -> None:
        tell(QAccessible.Event.ObjectCreated, first, last)
        tell(QAccessible.Event.NameChanged, last + 1, model.rowCount() - 1)  # those below have moved

    def going(first: int, last: int) -> None:
        rows = QAccessible.queryAccessibleInterface(view) if is_heard() else None
        for row in [rows.child(row) for row in range(first, last + 1)] if rows is not None else []:
            QAccessible.updateAccessibility(QAccessibleEvent(row, QAccessible.Event.ObjectDestroyed))

    def gone(_: QModelIndex, first: int, __: int) -> None:
        tell(QAccessible.Event.NameChanged, first, model.rowCount() - 1)

    model.dataChanged.connect(changed)
    model.rowsInserted.connect(inserted)
    model.rowsAboutToBeRemoved.connect(lambda _, first, last: going(first, last))
    model.rowsRemoved.connect(gone)
    model.modelAboutToBeReset.connect(lambda: going(0, model.rowCount() - 1))
    model.modelReset.connect(lambda: inserted(QModelIndex(), 0, model.rowCount() - 1))


def chosen_index(view: QAbstractItemView) -> QModelIndex:
    """The row that is chosen, whether the keyboard is in the list or not; invalid where none is."""
    return next(iter(view.selectionModel().selectedIndexes()), QModelIndex())


def let_claim_keyboard(view: QAbstractItemView, claims: bool) -> None:
    """Have the chosen row of a list say that it has the keyboard, or not: Qt says so of every current row.

    Args:
        view: a list of which one row can be chosen.
        claims: the keyboard is in the list.
    """
    index = chosen_index(view) if claims else QModelIndex()
    if view.currentIndex() != index:
        view.selectionModel().setCurrentIndex(index, QItemSelectionModel.SelectionFlag.NoUpdate)
