"""A box to choose one of a few in."""

from __future__ import annotations

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPolygonF
from PySide6.QtWidgets import QComboBox


class ChoiceBox(QComboBox):
    """A combo box with the arrow that Qt leaves out of a styled one."""

    def paintEvent(self, event: QPaintEvent) -> None:
        """See Qt."""
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self.palette().text())
        x, y = self.width() - 15.0, self.height() / 2
        painter.drawPolygon(QPolygonF([QPointF(x - 5, y - 3), QPointF(x + 5, y - 3), QPointF(x, y + 4)]))
