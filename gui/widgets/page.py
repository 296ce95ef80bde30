"""What the sheets have in common: a title, rows of text, key caps."""

from __future__ import annotations

import math

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QMouseEvent, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QLabel, QVBoxLayout

from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.widgets.appearance import Appearance, VisitWidget, label
from gui.widgets.keys import SHOWN_AS
from gui.widgets.theme import font


class KeyCap(QLabel):
    """A key's name, drawn as a key."""

    def __init__(self, key: str) -> None:
        super().__init__(key)
        self.setProperty("role", "key")
        self.setAlignment(Qt.AlignmentFlag.AlignCenter)


class Page(VisitWidget):
    """One stage's sheet. The window gives it the keys that no question takes."""

    title = ""
    """Empty where the first thing on the sheet says what it is."""
    key_clicked = Signal(str)
    """A key was clicked instead of pressed."""
    prompt_requested = Signal(object)
    """A `gui.shell.prompt.Prompt` to put in this sheet's place."""

    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__(controller, appearance)
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(18, 14, 18, 10)
        self.column.setSpacing(8)
        if self.title:
            self.column.addWidget(label(self.title, "title"))

    def handle(self, name: str) -> bool:
        """Take a key (as `gui.widgets.keys.key_name` names it); False leaves it to the window."""
        del name
        return False

    def primary_action(self) -> Message | None:
        """What Space does on this sheet, for the bottom line; None where it takes a reading as everywhere."""
        return None

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(self.appearance.sizes.normal * 23, 300)

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        QPainter(self).fillRect(self.rect(), QColor(self.appearance.theme.panel))


class TabPage(Page):
    """One of several pages of a sheet, which shows its name."""

    page_name = ""
    reading_taken = Signal()
    """A value was taken, or a step was named: to be heard."""


class ShortcutButtons(VisitWidget):
    """Keys with what they do, flowing over as many lines as they need; a click does the same as the key."""

    clicked = Signal(str)
    """The key's name, as `gui.widgets.keys.key_name` gives it."""

    def __init__(self, controller: VisitController, appearance: Appearance, *pairs: tuple[str, str]) -> None:
        super().__init__(controller, appearance)
        self._pairs = pairs
        self._places: list[tuple[QRectF, str]] = []

    def set_appearance(self, appearance: Appearance) -> None:
        """See `VisitWidget`."""
        super().set_appearance(appearance)
        self.setFixedHeight(self._flow(self.width(), None))

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        for box, key in self._places:
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
        self._places = []
        for key, does in self._pairs:
            cap = bold_metrics.horizontalAdvance(key) + small * 0.9
            whole = cap + small * 0.4 + plain_metrics.horizontalAdvance(does)
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
                painter.drawText(rest, Qt.AlignmentFlag.AlignVCenter, does)
            self._places.append((QRectF(x, y, whole, line), SHOWN_AS.get(key, key)))
            x += whole + small * 1.1
        return math.ceil(y + line)
