"""The frame of the keyboard round a part that is filled by others, so that it cannot draw one itself."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

WIDTH = 3
"""Of the line, in pixels."""


class FocusRing(QWidget):
    """Lies over a part while that has the keyboard; the mouse goes through it.

    Args:
        part: what it is drawn round.
    """

    def __init__(self, part: QWidget) -> None:
        super().__init__(part)
        self._part = part
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.hide()
        part.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Come and go with the keyboard, and be as large as the part; see Qt."""
        if event.type() in (QEvent.Type.FocusIn, QEvent.Type.FocusOut, QEvent.Type.Resize):
            self.setGeometry(self._part.rect())
            self.raise_()
            self.setVisible(self._part.hasFocus())
        return super().eventFilter(watched, event)

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        painter = QPainter(self)
        painter.setPen(QPen(self.palette().highlight().color(), WIDTH))
        painter.drawRect(self.rect().adjusted(1, 1, -2, -2))
        painter.end()
