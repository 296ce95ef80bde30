"""A box to choose one of a few in."""

from __future__ import annotations

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPolygonF
from PySide6.QtWidgets import QComboBox, QStyleOptionComboBox

from gui.widgets.wheel_boxes import WheelPassesOn

ARROW_PIXELS = 24
"""So much of the right belongs to the arrow."""


class ChoiceBox(WheelPassesOn, QComboBox):
    """A combo box with the arrow that Qt leaves out of a styled one, which the mouse wheel leaves alone."""

    def initStyleOption(self, option: QStyleOptionComboBox) -> None:
        """See Qt: a text that has no room is shortened, where Qt would cut it."""
        super().initStyleOption(option)
        room = self.width() - ARROW_PIXELS - 2 * self.fontMetrics().averageCharWidth()
        option.currentText = self.fontMetrics().elidedText(
            self.currentText(), Qt.TextElideMode.ElideRight, room
        )

    def paintEvent(self, event: QPaintEvent) -> None:
        """See Qt."""
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self.palette().text())
        x, y = self.width() - 15.0, self.height() / 2
        painter.drawPolygon(QPolygonF([QPointF(x - 5, y - 3), QPointF(x + 5, y - 3), QPointF(x, y + 4)]))
