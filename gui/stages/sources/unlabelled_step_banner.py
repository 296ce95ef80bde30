"""The step that waits for a name, large enough to be read from the bed: size, uncertainty, time, the likely name."""

from __future__ import annotations

import math

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent, QResizeEvent

from gui.widgets.appearance import Appearance, StyledWidget, fitting_font_pixels, wrapped
from gui.widgets.theme import IN_LINE, ON_STATE, REDDISH_PURPLE, font, line_height


class UnlabelledStepBanner(StyledWidget):
    """A tick between two levels, the size of the step, and what it probably was."""

    def __init__(self, appearance: Appearance) -> None:
        super().__init__(appearance)
        self._size = self._time = self._question = ""
        self._rises = True

    def show_step(self, size: str, time: str, question: str, rises: bool) -> None:
        """Show a step: its size with uncertainty, its time, what it is asked to be.

        Args:
            size: its size with uncertainty, as text.
            time: when it was, as text.
            question: what the user is asked.
            rises: whether the level went up.
        """
        if (size, time, question, rises) != (self._size, self._time, self._question, self._rises):
            self._size, self._time, self._question, self._rises = size, time, question, rises
            self.setAccessibleName(f"{size} {time} {question}")
            self._fit()
            self.update()

    def set_appearance(self, appearance: Appearance) -> None:
        """See `StyledWidget`."""
        super().set_appearance(appearance)
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        sizes = self.appearance.sizes
        lines = len(wrapped(self._question, font(sizes.normal, True), self._inner().width()))
        height = line_height(font(sizes.large, True))
        if not self._fit_beside():
            height += line_height(font(sizes.small))
        height += lines * line_height(font(sizes.normal, True))
        self.setFixedHeight(math.ceil(height + sizes.small * 0.9))

    def _fit_beside(self) -> bool:
        """Whether size and time fit into one line; else the time has a line of its own."""
        sizes = self.appearance.sizes
        wanted = QFontMetricsF(font(sizes.normal, True)).horizontalAdvance(self._size)
        return wanted <= self._room_beside()

    def _room_beside(self) -> float:
        """For the size beside the time, in pixels."""
        small = self.appearance.sizes.small
        return self._inner().width() - QFontMetricsF(font(small)).horizontalAdvance(self._time) - small

    def _inner(self) -> QRectF:
        small = self.appearance.sizes.small
        return QRectF(small * 2.6, small * 0.45, self.width() - small * 3.4, self.height() - small * 0.9)

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        sizes = self.appearance.sizes
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(REDDISH_PURPLE))
        painter.drawRoundedRect(QRectF(self.rect()), 6, 6)
        self._draw_tick(painter)
        inner = self._inner()
        painter.setPen(QColor(ON_STATE))
        time_font = font(sizes.small)
        beside = self._fit_beside()
        room = self._room_beside() if beside else inner.width()
        large = fitting_font_pixels(self._size, room, sizes.large, sizes.normal, True)
        line = QRectF(inner.left(), inner.top(), inner.width(), line_height(font(sizes.large, True)))
        painter.setFont(font(large, True))
        painter.drawText(line, IN_LINE, self._size)
        painter.setFont(time_font)
        side = Qt.AlignmentFlag.AlignRight
        if not beside:
            side = Qt.AlignmentFlag.AlignLeft
            line = QRectF(inner.left(), line.bottom(), inner.width(), line_height(time_font))
        painter.drawText(line, IN_LINE | side, self._time)
        face = font(sizes.normal, True)
        painter.setFont(face)
        line = QRectF(inner.left(), line.bottom(), inner.width(), line_height(face))
        for text in wrapped(self._question, face, inner.width()):
            painter.drawText(line, IN_LINE, text)
            line.translate(0, line.height())
        painter.end()

    def _draw_tick(self, painter: QPainter) -> None:
        """Two levels and the step between them, up or down."""
        small = self.appearance.sizes.small
        left, middle, right = small * 0.7, small * 1.4, small * 2.1
        low, high = self.height() * 0.7, self.height() * 0.3
        before, after = (low, high) if self._rises else (high, low)
        painter.fillRect(QRectF(left, before - 1.5, middle - left, 3), QColor(ON_STATE))
        painter.fillRect(QRectF(middle - 1.5, high - 1.5, 3, low - high + 3), QColor(ON_STATE))
        painter.fillRect(QRectF(middle, after - 1.5, right - middle, 3), QColor(ON_STATE))
