"""The hours of a night at a glance. A click goes to that hour.

The median of the settled level is a bar, its 5th to 95th percentile a whisker; below stands how often the body moved.
Where nothing was recorded, it is hatched.
"""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QBrush, QColor, QFontMetricsF, QMouseEvent, QPainter, QPaintEvent, QPen

from gui.model.wording import counted
from gui.trace.axis_labels import paint_volts, volts_marks
from gui.trace.trace_marks import Scale, round_top, wanted_top
from gui.widgets.appearance import Appearance, StyledWidget
from gui.widgets.theme import ON_STATE, ORANGE, SKY_BLUE, VERMILLION, font
from logger.night.analysis.summary import NightHour, NightSummary
from logger.night.recorded_nights import Night

ROWS = 8.0
"""Height of the whole, in lines of small text."""


class HoursChart(StyledWidget):
    """The strip of the hours.

    Args:
        controller: the visit.
        appearance: theme and sizes.
    """

    clicked = Signal(int)
    """An hour was clicked, counted from 0."""

    def __init__(self, appearance: Appearance) -> None:
        super().__init__(appearance)
        self._night: Night | None = None
        self._summary: NightSummary | None = None
        self._target_volts = 0.0

    def show_night(self, night: Night, summary: NightSummary, target_volts: float) -> None:
        """Show a night's hours.

        Args:
            night: the night as it was recorded.
            summary: what was summed up of it, hour by hour.
            target_volts: the level to stay below.
        """
        self._night, self._summary, self._target_volts = night, summary, target_volts
        self.setAccessibleName("; ".join(self._accessible_text(hour) for hour in summary.hours))
        self._take_height()
        self.update()

    def set_appearance(self, appearance: Appearance) -> None:
        """See `StyledWidget`."""
        super().set_appearance(appearance)
        self._take_height()

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(300, round(self._line() * ROWS))

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        if self._summary is None:
            return
        for index, hour in enumerate(self._summary.hours):
            if self._x(hour.start_s) <= event.position().x() < self._x(hour.end_s):
                self.clicked.emit(index)
                return

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        night, summary = self._night, self._summary
        if night is None or summary is None or not summary.hours:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box, top_volts = self._box(), self._top_volts(summary.hours)
        painter.fillRect(box, QColor(self.appearance.theme.plot))
        self._draw_scale(painter, box, top_volts)
        for hour in summary.hours:
            self._draw_bar(painter, box, hour, top_volts)
        self._draw_missed(painter, box, summary.missed)
        self._draw_target(painter, box, top_volts)
        self._draw_feet(painter, box, night, summary.hours)
        painter.end()

    # --- places ------------------------------------------------------------------------------------------

    def _line(self) -> float:
        return QFontMetricsF(font(self.appearance.sizes.small)).lineSpacing()

    def _box(self) -> QRectF:
        """The picture itself: volts at its left, hours and motion below it."""
        metrics = QFontMetricsF(font(self.appearance.sizes.small))
        left = metrics.horizontalAdvance("0.000 V") + self.appearance.sizes.small * 0.4
        top = self._line() / 2
        return QRectF(left, top, self.width() - left - 2, self.height() - top - 2.5 * self._line())

    def _take_height(self) -> None:
        self.setFixedHeight(self.sizeHint().height())

    def _x(self, time_s: float) -> float:
        box = self._box()
        whole_s = self._summary.end_s if self._summary is not None else 0.0
        return box.left() + box.width() * time_s / max(whole_s, 1.0)

    def _top_volts(self, hours: Sequence[NightHour]) -> float:
        return round_top(wanted_top(max((hour.p95_volts or 0.0 for hour in hours), default=0.0)))

    # --- drawing -----------------------------------------------------------------------------------------

    def _draw_scale(self, painter: QPainter, box: QRectF, top_volts: float) -> None:
        scale = Scale(box, 0.0, 1.0, top_volts)
        painter.setPen(QPen(QColor(self.appearance.theme.line), 1))
        for volts, _ in volts_marks(top_volts):
            y = scale.y(volts)
            painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))
        paint_volts(painter, scale, self.appearance)

    def _draw_bar(self, painter: QPainter, box: QRectF, hour: NightHour, top_volts: float) -> None:
        if hour.median_volts is None or hour.p05_volts is None or hour.p95_volts is None:
            return

        def y(volts: float) -> float:
            return box.bottom() - volts / top_volts * box.height()

        left, right = self._x(hour.start_s) + 2, self._x(hour.end_s) - 2
        if right <= left:
            return
        painter.fillRect(
            QRectF(left, y(hour.median_volts), right - left, box.bottom() - y(hour.median_volts)),
            QColor(SKY_BLUE),
        )
        painter.setPen(QPen(QColor(self.appearance.theme.curve), 2))
        middle, half = (left + right) / 2, min((right - left) / 4, 6.0)
        painter.drawLine(QPointF(middle, y(hour.p05_volts)), QPointF(middle, y(hour.p95_volts)))
        for volts in (hour.p05_volts, hour.p95_volts):
            painter.drawLine(QPointF(middle - half, y(volts)), QPointF(middle + half, y(volts)))

    def _draw_missed(self, painter: QPainter, box: QRectF, missed: Sequence[tuple[float, float]]) -> None:
        for start_s, end_s in missed:
            left = self._x(start_s)
            gap = QRectF(left, box.top(), max(self._x(end_s) - left, 3.0), box.height())
            painter.fillRect(gap, QColor(self.appearance.theme.plot))
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QBrush(QColor(self.appearance.theme.quiet), Qt.BrushStyle.BDiagPattern))
            painter.drawRect(gap)

    def _draw_target(self, painter: QPainter, box: QRectF, top_volts: float) -> None:
        if self._target_volts > top_volts:
            return
        y = box.bottom() - self._target_volts / top_volts * box.height()
        painter.setPen(QPen(QColor(ORANGE), 2, Qt.PenStyle.DashLine))
        painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))

    def _draw_feet(self, painter: QPainter, box: QRectF, night: Night, hours: Sequence[NightHour]) -> None:
        """The time of day where each hour begins, and below it how often the body moved in it."""
        small, line = self.appearance.sizes.small, self._line()
        metrics = QFontMetricsF(font(small))
        wide = metrics.horizontalAdvance("00:00 ")
        free = 0.0
        painter.setFont(font(small))
        for hour in hours:
            left, right = self._x(hour.start_s), self._x(hour.end_s)
            if left >= free and left + wide <= self.width():
                painter.setPen(QColor(self.appearance.theme.quiet))
                painter.drawText(QPointF(left, box.bottom() + line), night.clock_minute(hour.start_s))
                free = left + wide
            text = str(hour.motions)
            width = metrics.horizontalAdvance(text) + small * 0.6
            if hour.motions and right - left >= width:
                place = QRectF((left + right - width) / 2, box.bottom() + 1.3 * line, width, line)
                painter.setPen(Qt.PenStyle.NoPen)
                painter.setBrush(QColor(VERMILLION))
                painter.drawRoundedRect(place, 4, 4)
                painter.setPen(QColor(ON_STATE))
                painter.drawText(place, Qt.AlignmentFlag.AlignCenter, text)

    def _accessible_text(self, hour: NightHour) -> str:
        assert self._night is not None
        began = self._night.clock_minute(hour.start_s)
        level = "nothing still" if hour.median_volts is None else f"{hour.median_volts:.3f} volts"
        return f"from {began}: {level}, {counted(hour.motions, 'motion episode')}"
