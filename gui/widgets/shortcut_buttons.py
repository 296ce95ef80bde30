"""Keys drawn as keys, with what they do; a click does the same as the key."""

from __future__ import annotations

import math

from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QMouseEvent, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QLabel

from gui.widgets.appearance import Appearance, StyledWidget
from gui.widgets.keys import SHOWN_AS
from gui.widgets.theme import font


class KeyCap(QLabel):
    """A key's name, drawn as a key."""

    def __init__(self, key: str) -> None:
        super().__init__(key)
        self.setProperty("role", "key")
        self.setAlignment(Qt.AlignmentFlag.AlignCenter)


class ShortcutButtons(StyledWidget):
    """Keys with what they do, over as many lines as they need; a click does the same as the key.

    Args:
        appearance: theme and sizes.
        pairs: the key as people know it, and what it does in few words.
    """

    clicked = Signal(str)
    """The key's name, as `gui.widgets.keys.key_name` gives it."""

    def __init__(self, appearance: Appearance, *pairs: tuple[str, str]) -> None:
        super().__init__(appearance)
        self._pairs = pairs
        self._key_boxes: list[tuple[QRectF, str]] = []

    def set_appearance(self, appearance: Appearance) -> None:
        """See `VisitWidget`."""
        super().set_appearance(appearance)
        self.setFixedHeight(self._flow(self.width(), None))

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        for box, key in self._key_boxes:
            if box.contains(event.position()):
                self.clicked.emit(key)
                return

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self.setFixedHeight(self._flow(self.width(), None))

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._flow(self.width(), painter)
        painter.end()

    def _flow(self, width: int, painter: QPainter | None) -> int:
        """Lay the pairs out, drawing them if there is a painter; returns the height."""
        theme, small = self.appearance.theme, self.appearance.sizes.small
        bold, plain = font(small, True), font(small)
        bold_metrics, plain_metrics = QFontMetricsF(bold), QFontMetricsF(plain)
        line = bold_metrics.height() + small * 0.6
        x = y = 0.0
        self._key_boxes = []
        for key, action in self._pairs:
            cap = bold_metrics.horizontalAdvance(key) + small * 0.9
            whole = cap + small * 0.4 + plain_metrics.horizontalAdvance(action)
            if x and x + whole > width:
                x, y = 0.0, y + line
            if painter is not None:
                box = QRectF(x, y + small * 0.1, cap, line - small * 0.3)
                painter.setPen(Qt.PenStyle.NoPen)
                painter.setBrush(QColor(theme.key))
                painter.drawRoundedRect(box, 4, 4)
                painter.setPen(QColor(theme.on_key))
                painter.setFont(bold)
                painter.drawText(box, Qt.AlignmentFlag.AlignCenter, key)
                painter.setPen(QColor(theme.quiet))
                painter.setFont(plain)
                rest = QRectF(x + cap + small * 0.4, box.top(), whole, box.height())
                painter.drawText(rest, Qt.AlignmentFlag.AlignVCenter, action)
            self._key_boxes.append((QRectF(x, y, whole, line), SHOWN_AS.get(key, key)))
            x += whole + small * 1.1
        return math.ceil(y + line)
