"""A meter's newest lines as they are, with the number marked and what it is read as."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontDatabase, QFontMetricsF, QPainter, QPaintEvent

from gui.widgets.appearance import Appearance, StyledWidget
from gui.widgets.theme import font
from logger.meter.lines import LineStatus
from logger.meter.received_line import ReceivedLine


class LinesView(StyledWidget):
    """The lines, the newest at the foot. A line that is too long shows the part with its number."""

    def __init__(self, appearance: Appearance) -> None:
        super().__init__(appearance)
        self.lines: tuple[ReceivedLine, ...] = ()

    def show_lines(self, lines: Sequence[ReceivedLine]) -> None:
        """Show lines, oldest first."""
        new = tuple(lines)
        if new != self.lines:
            self.lines = new
            self.setAccessibleName("\n".join(f"{line.text}: {line.describe_value()}" for line in new[-3:]))
            self.update()

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(300, round(self._row_height() * 9))

    def minimumSizeHint(self) -> QSize:
        """See Qt."""
        return QSize(200, round(self._row_height() * 3))

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        theme, sizes = self.appearance.theme, self.appearance.sizes
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QColor(theme.line))
        painter.setBrush(QColor(theme.plot))
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5), 5, 5)
        height, pad = self._row_height(), sizes.small * 0.6
        fit = max(int((self.height() - pad) / height), 1)
        for place, line in enumerate(self.lines[-fit:]):
            box = QRectF(pad, pad / 2 + place * height, self.width() - 2 * pad, height)
            self._paint_line(painter, box, line, is_newest=line is self.lines[-1])
        painter.end()

    def _paint_line(self, painter: QPainter, box: QRectF, line: ReceivedLine, is_newest: bool) -> None:
        theme, sizes = self.appearance.theme, self.appearance.sizes
        is_value = line.reading.status is LineStatus.VOLTS
        painter.setFont(font(sizes.small, bold=is_newest and is_value))
        read = line.describe_value()
        width = QFontMetricsF(painter.font()).horizontalAdvance(read)
        painter.setPen(QColor(theme.text if is_value else theme.quiet))
        painter.drawText(box, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight, read)
        room = box.width() - width - sizes.small
        self._paint_raw(painter, QRectF(box.left(), box.top(), room, box.height()), line)

    def _paint_raw(self, painter: QPainter, box: QRectF, line: ReceivedLine) -> None:
        theme = self.appearance.theme
        face = self._fixed()
        metrics = QFontMetricsF(face)
        painter.setFont(face)
        text = "".join(char if char.isprintable() else "·" for char in line.text)
        start, end = line.reading.number_span or (0, 0)
        fit = max(int(box.width() / metrics.horizontalAdvance("0")), 4)
        if len(text) > fit:
            # The number in sight, with what stands in front of it where there is room.
            first = min(max(end - fit + 3, 0), len(text) - fit + 1) if end > fit - 1 else 0
            last = min(first + fit, len(text))
            cut = ("…" if first else "") + text[first + bool(first) : last - (last < len(text))]
            text = cut + ("…" if last < len(text) else "")
            start, end = max(start - first, 0), max(end - first, 0)
        if end > start:
            left = box.left() + metrics.horizontalAdvance(text[:start])
            wide = metrics.horizontalAdvance(text[start:end])
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(theme.chosen))
            painter.drawRoundedRect(QRectF(left - 2, box.top() + 2, wide + 4, box.height() - 4), 3, 3)
        x = box.left()
        for piece, ink in (
            (text[:start], theme.quiet),
            (text[start:end], theme.on_chosen),
            (text[end:], theme.quiet),
        ):
            painter.setPen(QColor(ink))
            painter.drawText(
                QRectF(x, box.top(), box.width(), box.height()), Qt.AlignmentFlag.AlignVCenter, piece
            )
            x += metrics.horizontalAdvance(piece)

    def _fixed(self) -> QFont:
        face = QFontDatabase.systemFont(QFontDatabase.SystemFont.FixedFont)
        face.setPixelSize(self.appearance.sizes.small)
        return face

    def _row_height(self) -> float:
        return self.appearance.sizes.small * 1.6
