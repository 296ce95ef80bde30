"""Every text of a window that a person reads or hears, and whether what it is on can be reached."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QAbstractListModel, QModelIndex, Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractScrollArea,
    QComboBox,
    QLabel,
    QLineEdit,
    QMenu,
    QMenuBar,
    QScrollArea,
    QTextEdit,
    QWidget,
)

_ROLES = (
    Qt.ItemDataRole.DisplayRole,
    Qt.ItemDataRole.ToolTipRole,
    Qt.ItemDataRole.AccessibleTextRole,
    Qt.ItemDataRole.AccessibleDescriptionRole,
)


def texts_of(root: QWidget) -> Iterator[tuple[str, str]]:
    """Where a text is, and the text: of every part that is shown, with its tip and what a screen reader says of it.

    Args:
        root: a window, a dialog, or a part of one.
    """
    for widget in (root, *root.findChildren(QWidget)):
        if not widget.isVisibleTo(root.window()):
            continue
        place = f"{type(widget).__name__} {widget.objectName()}".strip()
        tip = " ".join(widget.toolTip().split())
        yield f"{place}, tip", tip
        yield f"{place}, name", widget.accessibleName()
        yield f"{place}, description", widget.accessibleDescription()
        if widget.isWindow():
            yield f"{place}, title", widget.windowTitle()
        if isinstance(widget, QMenu | QMenuBar):
            for action in widget.actions():
                yield f"{place}, entry", action.text()
                yield f"{place}, tip of an entry", " ".join(action.toolTip().split())
        elif isinstance(widget, QAbstractItemView):
            yield from ((place, text) for text in _rows(widget))
        elif isinstance(widget, QComboBox):
            yield from ((place, widget.itemText(row)) for row in range(widget.count()))
        elif isinstance(widget, QTextEdit):
            yield place, widget.toPlainText()
        elif isinstance(widget, QLineEdit):
            yield f"{place}, before it is filled", widget.placeholderText()
        elif isinstance(widget, QAbstractButton | QLabel):
            yield place, widget.text()


def _rows(view: QAbstractItemView) -> Iterator[str]:
    model = view.model()
    columns = 1 if isinstance(model, QAbstractListModel) else model.columnCount(QModelIndex())
    for column in range(columns):
        yield str(model.headerData(column, Qt.Orientation.Horizontal) or "")
        for row in range(model.rowCount(QModelIndex())):
            index = model.index(row, column)
            yield from (str(text) for role in _ROLES if (text := index.data(role)))


def unreached(root: QWidget) -> list[str]:
    """Controls that no key and no wheel brings into sight, and windows that are larger than the screen.

    Args:
        root: a window or a dialog that is shown.
    """
    found = []
    room = root.screen().availableGeometry().size()
    if root.isWindow() and (root.height() > room.height() or root.width() > room.width()):
        found.append(f"{type(root).__name__} of {root.width()} x {root.height()} on {room.toTuple()}")
    for control in root.findChildren(QWidget):
        if control.focusPolicy() is Qt.FocusPolicy.NoFocus or not control.isVisibleTo(root):
            continue
        whole = control.visibleRegion().boundingRect().size()
        if whole.isEmpty() and not _is_scrolled(control):
            found.append(f"{type(control).__name__} {control.objectName()} {control.accessibleName()}")
        elif (
            isinstance(control, QAbstractButton)
            and whole.height() < control.height()
            and not _is_scrolled(control)
        ):
            found.append(f"{type(control).__name__} {control.text()} cut")
    return found


def _is_scrolled(control: QWidget) -> bool:
    above = control.parentWidget()
    while above is not None:
        if isinstance(above, QScrollArea | QAbstractScrollArea):
            return True
        above = above.parentWidget()
    return False
