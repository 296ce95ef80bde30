"""A drop of a row as Qt sends it, without a drag of the mouse."""

from __future__ import annotations

from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt
from PySide6.QtGui import QDropEvent

from gui.widgets.row_list import RowList


class LetGo(QDropEvent):
    """A row of a list that the mouse lets go at a place of its viewport."""

    def __init__(self, at: QPoint, source: RowList) -> None:
        self._data = QMimeData()  # Qt keeps only its address
        super().__init__(
            QPointF(at), Qt.DropAction.MoveAction | Qt.DropAction.CopyAction, self._data, Qt.MouseButton.LeftButton,
            Qt.KeyboardModifier.NoModifier,
        )  # fmt: skip
        self._source = source

    def source(self) -> RowList:
        """See Qt."""
        return self._source
