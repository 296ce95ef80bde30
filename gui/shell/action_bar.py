"""The action bar: what Space would do now, or why it would be refused, and the other main keys."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QRectF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QMouseEvent, QPainter, QPaintEvent

from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.widgets.appearance import Appearance, VisitWidget, fitting_font_pixels
from gui.widgets.theme import font

HINTS = (("M", "mark"), ("U", "undo"), ("?", "all keys"))

FLASH_MS = 1500
"""How long a refused key press stays lit."""


class ActionBar(VisitWidget):
    """One line of keys; a click does the same as the key."""

    clicked = Signal(str)

    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__(controller, appearance)
        self._message = Message("")
        self._lit = QTimer(self, singleShot=True, interval=FLASH_MS)
        self._lit.timeout.connect(self.update)
        self._key_boxes: list[tuple[QRectF, str]] = []
        self.prompt_is_open = False
        """A question is open in place of the page."""
        self.primary_action: Callable[[], Message | None] = lambda: None
        """What Space does on the page in sight, where that is not taking a reading."""
        self.refresh()

    def refresh(self) -> None:
        """See `VisitWidget`."""
        message = self.primary_action() or self.controller.readings.next_take()
        if self.prompt_is_open:
            message = Message("a question is open in the sheet; its keys come first", refused=True)
        if message != self._message:
            self._message = message
            self.setAccessibleName(self.text())
            self.update()

    def text(self) -> str:
        """The text about Space."""
        return (
            f"Space refuses: {self._message.text}"
            if self._message.refused
            else f"Space: {self._message.text}"
        )

    def flash(self) -> None:
        """Light up for a moment: Space was pressed and refused."""
        self._lit.start()
        self.update()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        for box, key in self._key_boxes:
            if box.contains(event.position()):
                self.clicked.emit(key)
                return

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(600, 2 * self.appearance.sizes.normal + 8)

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        theme, sizes = self.appearance.theme, self.appearance.sizes
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        lit = self._lit.isActive()
        painter.fillRect(self.rect(), QColor(theme.ask if lit else theme.panel))
        pad = float(sizes.normal)
        right = self.width() - pad
        self._key_boxes = []
        for key, what in reversed(HINTS):
            end = right
            painter.setFont(font(sizes.normal))
            width = QFontMetricsF(painter.font()).horizontalAdvance(what)
            painter.setPen(QColor(theme.on_ask if lit else theme.quiet))
            painter.drawText(
                QRectF(right - width, 0, width + 2, self.height()), Qt.AlignmentFlag.AlignVCenter, what
            )
            right = self._key(painter, right - width - pad * 0.4, key, from_right=True)
            self._key_boxes.append((QRectF(right, 0, end - right, self.height()), key))
            right -= pad * 1.2
        left = self._key(painter, pad, "Space", from_right=False) + pad * 0.5
        self._key_boxes.append((QRectF(0, 0, right, self.height()), "Space"))
        bold = not self._message.refused
        text = f"refuses: {self._message.text}" if self._message.refused else self._message.text
        painter.setFont(font(fitting_font_pixels(text, right - left, sizes.normal, sizes.small, bold), bold))
        painter.setPen(
            QColor(theme.on_ask if lit else (theme.quiet if self._message.refused else theme.text))
        )
        metrics = QFontMetricsF(painter.font())
        text = metrics.elidedText(text, Qt.TextElideMode.ElideRight, right - left)
        painter.drawText(QRectF(left, 0, right - left, self.height()), Qt.AlignmentFlag.AlignVCenter, text)
        painter.end()

    def _key(self, painter: QPainter, at: float, key: str, from_right: bool) -> float:
        """Draw a key's name; returns its far edge."""
        theme, sizes = self.appearance.theme, self.appearance.sizes
        painter.setFont(font(sizes.small, True))
        metrics = QFontMetricsF(painter.font())
        width = metrics.horizontalAdvance(key) + sizes.small * 0.9
        height = metrics.height() + sizes.small * 0.35
        left = at - width if from_right else at
        box = QRectF(left, (self.height() - height) / 2, width, height)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.key))
        painter.drawRoundedRect(box, 4, 4)
        painter.setPen(QColor(theme.on_key))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, key)
        return left if from_right else left + width
