"""The hours of a night at a glance. A click goes to that hour, and the edges of the night can be dragged.

The mean of the settled level is a bar, its 5th to 95th percentile a whisker; below stands how often the body moved,
and what the whisker is: no uncertainty, as it is elsewhere.
Where nothing was recorded, it is hatched, and in red where the voltage was above the meter's range. What was recorded
before and after the night is a pale band.
"""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QBrush, QColor, QFontMetricsF, QMouseEvent, QPainter, QPaintEvent, QPen

from gui.actions.tips import in_lines
from gui.model.wording import counted
from gui.trace.axis_labels import paint_volts, volts_marks
from gui.trace.trace_marks import Scale, round_top, wanted_top
from gui.widgets.appearance import Appearance, StyledWidget, fitting_font_pixels
from gui.widgets.theme import ON_STATE, ORANGE, SKY_BLUE, VERMILLION, font
from logger.clock import NS_PER_S
from logger.metrology.rounding import fixed, grouped
from logger.night.analysis.summary import NightHour, NightSummary
from logger.night.left_out import left_out_note
from logger.night.night_facts import hour_level
from logger.night.recorded_nights import Night
from logger.translation import marked, tr

ROWS = 9.0
LOW_ROWS = 7.0
"""Height of the whole, in lines of small text: as a rule, and where the window is low."""

GRIP_PIXELS = 8.0
"""An edge of the night is taken hold of within this distance."""

WHISKER = marked("Thin line: how far it varied")
WHISKER_AND_ARROW = marked("Thin line: how far it varied. ▲: goes on above")
LEAST_LEGEND_PIXELS = 11

MAX_OUTSIDE_TIMES = 12.0
"""What is left out, mostly of somebody who walks, makes the scale at most so many times as high as the hours need."""

ARROW_PIXELS, ARROW_EVERY_PIXELS = 8.0, 14.0
"""An arrow where the pale band goes on above the chart, and how far apart two of them are."""

MINUTE_S = 60.0
"""An edge is dragged to whole minutes of the clock."""


# long: one picture with its two edges, which are dragged in it.
class HoursChart(StyledWidget):
    """The strip of the hours.

    Args:
        appearance: theme and sizes.
    """

    clicked = Signal(int)
    """An hour was clicked, counted from 0."""
    edges_dragged = Signal(object, object)
    """An edge of the night was dragged: its new beginning and its new end, seconds since the present beginning; None
    for the one that stays."""

    def __init__(self, appearance: Appearance) -> None:
        super().__init__(appearance)
        self._night: Night | None = None
        self._summary: NightSummary | None = None
        self._target_volts = 0.0
        self._is_low = False
        self._drag: tuple[int, float] | None = None
        """The edge that is being dragged (0: the beginning, 1: the end), and where it is, s."""
        self._dropped_s: dict[int, float] = {}
        """Where an edge was dragged to, s, until the night is summed up anew."""
        self.setMouseTracking(True)

    def show_night(self, night: Night, summary: NightSummary, target_volts: float) -> None:
        """Show a night's hours.

        Args:
            night: the night as it was recorded.
            summary: what was summed up of it, hour by hour.
            target_volts: the level to stay below.
        """
        self._night, self._summary, self._target_volts = night, summary, target_volts
        outside = [f"{night.left_out_text(part.stretch)}: {left_out_note(part)}" for part in night.left_out]
        self.setAccessibleName(
            "; ".join([*(_accessible_text(night, hour) for hour in summary.hours), *outside])
        )
        self.drop_drag()
        self._take_height()
        self.update()

    def set_low(self, is_low: bool) -> None:
        """Take less height, or as much as usual."""
        self._is_low = is_low
        self._take_height()

    def set_appearance(self, appearance: Appearance) -> None:
        """See `StyledWidget`."""
        super().set_appearance(appearance)
        self._take_height()

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(300, round(self._line() * (LOW_ROWS if self._is_low else ROWS)))

    def edge_x(self, edge: int) -> float:
        """Where an edge of the night is drawn, in pixels.

        Args:
            edge: 0 for the beginning, 1 for the end.
        """
        return self._x(self._dropped_s.get(edge, self._edges_s()[edge]))

    def drop_drag(self) -> None:
        """Draw the edges where those of the shown night are."""
        self._drag = None
        self._dropped_s.clear()
        self.update()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        if self._summary is None:
            return
        edge = self._edge_at(event.position().x())
        if edge is not None:
            self._drag = (edge, self._dropped_s.get(edge, self._edges_s()[edge]))
            return
        hour = self._hour_at(event.position().x())
        if hour is not None:
            self.clicked.emit(self._summary.hours.index(hour))

    def _hour_at(self, x: float) -> NightHour | None:
        """The hour whose bar stands there."""
        hours = self._summary.hours if self._summary is not None else ()
        return next((hour for hour in hours if self._x(hour.start_s) <= x < self._x(hour.end_s)), None)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        x = event.position().x()
        held = self._drag is not None or self._edge_at(x) is not None
        self.setCursor(Qt.CursorShape.SplitHCursor if held else Qt.CursorShape.ArrowCursor)
        hour = self._hour_at(x)
        of_hour = _accessible_text(self._night, hour) if self._night is not None and hour is not None else ""
        self.setToolTip(in_lines(of_hour))
        if self._drag is not None:
            self._drag = (self._drag[0], self._whole_minute_s(self._time_s(x)))
            self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        del event
        if self._drag is None:
            return
        edge, time_s = self._drag
        self._drag = None
        self.update()
        if time_s == self._edges_s()[edge]:
            return
        self._dropped_s[edge] = time_s
        self.edges_dragged.emit(*((time_s, None) if edge == 0 else (None, time_s)))

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        night, summary = self._night, self._summary
        if night is None or summary is None or not summary.hours:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box, top_volts = self._box(), self._top_volts(night, summary.hours)
        painter.fillRect(box, QColor(self.appearance.theme.plot))
        self._draw_scale(painter, box, top_volts)
        leaves_top = self._draw_outside(painter, box, night, top_volts)
        for hour in summary.hours:
            self._draw_bar(painter, box, hour, top_volts)
        self._draw_valueless(painter, box, summary.missed, self.appearance.theme.quiet)
        self._draw_valueless(painter, box, summary.overloaded, VERMILLION)
        self._draw_valueless(painter, box, summary.frozen, self.appearance.theme.quiet)
        self._draw_target(painter, box, top_volts)
        self._draw_feet(painter, box, night, summary.hours)
        self._draw_legend(painter, leaves_top=leaves_top)
        self._draw_edges(painter, box, night)
        painter.end()

    # --- places ------------------------------------------------------------------------------------------

    def _line(self) -> float:
        return QFontMetricsF(font(self.appearance.sizes.small)).lineSpacing()

    def _box(self) -> QRectF:
        """The picture itself: volts at its left, hours and motion below it."""
        metrics = QFontMetricsF(font(self.appearance.sizes.small))
        left = metrics.horizontalAdvance("0.000 V") + self.appearance.sizes.small * 0.4
        top = self._line() / 2
        return QRectF(left, top, self.width() - left - 2, self.height() - top - 3.5 * self._line())

    def _take_height(self) -> None:
        self.setFixedHeight(self.sizeHint().height())

    def _x(self, time_s: float) -> float:
        box = self._box()
        began_s, ended_s = self._recording_s()
        return box.left() + box.width() * (time_s - began_s) / max(ended_s - began_s, 1.0)

    def _time_s(self, x: float) -> float:
        """The moment of the recording at a place, s since the night's beginning."""
        box = self._box()
        began_s, ended_s = self._recording_s()
        share = (x - box.left()) / max(box.width(), 1.0)
        return began_s + min(max(share, 0.0), 1.0) * (ended_s - began_s)

    def _recording_s(self) -> tuple[float, float]:
        if self._night is not None and self._night.edges is not None:
            return self._night.edges.recording_s
        return 0.0, self._edges_s()[1]

    def _edges_s(self) -> tuple[float, float]:
        return 0.0, self._summary.end_s if self._summary is not None else 0.0

    def _edge_at(self, x: float) -> int | None:
        """The edge that is taken hold of at a place; None where there is none."""
        if self._night is None or self._night.edges is None:
            return None
        away = [abs(self.edge_x(edge) - x) for edge in (0, 1)]
        nearest = away.index(min(away))
        return nearest if away[nearest] <= GRIP_PIXELS else None

    def _whole_minute_s(self, time_s: float) -> float:
        """The nearest whole minute of the clock within the recording."""
        assert self._night is not None
        started_s = self._night.utc_ns(0.0) / NS_PER_S
        rounded_s = round((started_s + time_s) / MINUTE_S) * MINUTE_S - started_s
        began_s, ended_s = self._recording_s()
        return min(max(rounded_s, began_s), ended_s)

    def _top_volts(self, night: Night, hours: Sequence[NightHour]) -> float:
        """The end of the scale: the hours, and what is left out unless the bars were too low to be seen then."""
        highest = max((hour.p95_volts or 0.0 for hour in hours), default=0.0)
        outside = max((part.volts[1] for part in night.left_out if part.volts is not None), default=0.0)
        return round_top(wanted_top(max(highest, min(outside, MAX_OUTSIDE_TIMES * highest))))

    # --- drawing -----------------------------------------------------------------------------------------

    def _draw_scale(self, painter: QPainter, box: QRectF, top_volts: float) -> None:
        scale = Scale(box, 0.0, 1.0, top_volts)
        painter.setPen(QPen(QColor(self.appearance.theme.line), 1))
        for volts, _ in volts_marks(top_volts):
            y = scale.y(volts)
            painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))
        paint_volts(painter, scale, self.appearance)

    def _draw_bar(self, painter: QPainter, box: QRectF, hour: NightHour, top_volts: float) -> None:
        if hour.mean_volts is None or hour.p05_volts is None or hour.p95_volts is None:
            return

        def y(volts: float) -> float:
            return box.bottom() - volts / top_volts * box.height()

        left, right = self._x(hour.start_s) + 2, self._x(hour.end_s) - 2
        if right <= left:
            return
        painter.fillRect(
            QRectF(left, y(hour.mean_volts), right - left, box.bottom() - y(hour.mean_volts)),
            QColor(SKY_BLUE),
        )
        painter.setPen(QPen(QColor(self.appearance.theme.curve), 2))
        middle, half = (left + right) / 2, min((right - left) / 4, 6.0)
        painter.drawLine(QPointF(middle, y(hour.p05_volts)), QPointF(middle, y(hour.p95_volts)))
        for volts in (hour.p05_volts, hour.p95_volts):
            painter.drawLine(QPointF(middle - half, y(volts)), QPointF(middle + half, y(volts)))

    def _draw_outside(self, painter: QPainter, box: QRectF, night: Night, top_volts: float) -> bool:
        """What was recorded before and after the night, as a pale band from lowest to highest value.

        Returns:
            Whether some of it goes on above the chart, where arrows stand then.
        """
        leaves: list[float] = []
        began_s, _ = self._recording_s()
        start_s, end_s = self._edges_s()
        painter.setPen(QPen(QColor(self.appearance.theme.pale), 2))
        for times_s, low, high in night.outline:
            for time_s, lowest, highest in zip(times_s.tolist(), low.tolist(), high.tolist(), strict=True):
                since_s = began_s + time_s
                if start_s <= since_s <= end_s:
                    continue
                x = self._x(since_s)
                top, bottom = (
                    box.bottom() - min(v / top_volts, 1.0) * box.height() for v in (highest, lowest)
                )
                painter.drawLine(QPointF(x, top), QPointF(x, max(bottom, top + 1.0)))
                if highest > top_volts and (not leaves or x - leaves[-1] >= ARROW_EVERY_PIXELS):
                    leaves.append(x)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(self.appearance.theme.text))
        for x in leaves:
            foot = box.top() + ARROW_PIXELS
            painter.drawPolygon(
                [
                    QPointF(x, box.top()),
                    QPointF(x - ARROW_PIXELS / 2, foot),
                    QPointF(x + ARROW_PIXELS / 2, foot),
                ]
            )
        return bool(leaves)

    def _draw_edges(self, painter: QPainter, box: QRectF, night: Night) -> None:
        """Both edges as lines with a grip, the time of day beside the one that is dragged."""
        if night.edges is None:
            return
        small = self.appearance.sizes.small
        for edge, time_s in enumerate(self._edges_s()):
            dragged = self._drag is not None and self._drag[0] == edge
            at_s = self._drag[1] if self._drag is not None and dragged else self._dropped_s.get(edge, time_s)
            x = self._x(at_s)
            painter.setPen(QPen(QColor(self.appearance.theme.text), 2))
            painter.drawLine(QPointF(x, box.top()), QPointF(x, box.bottom()))
            painter.setBrush(QColor(self.appearance.theme.text))
            painter.drawRoundedRect(QRectF(x - 3, box.center().y() - small * 0.7, 6, small * 1.4), 2, 2)
            if dragged:
                _draw_time(
                    painter, self.appearance, night.clock_minute(at_s), QPointF(x, box.top()), box.right()
                )

    def _draw_valueless(
        self, painter: QPainter, box: QRectF, stretches: Sequence[tuple[float, float]], hue: str
    ) -> None:
        for start_s, end_s in stretches:
            left = self._x(start_s)
            gap = QRectF(left, box.top(), max(self._x(end_s) - left, 3.0), box.height())
            painter.fillRect(gap, QColor(self.appearance.theme.plot))
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QBrush(QColor(hue), Qt.BrushStyle.BDiagPattern))
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
                painter.drawText(QPointF(left, box.bottom() + line), night.clock_label(hour.start_s))
                free = left + wide
            text = grouped(hour.motions)
            width = metrics.horizontalAdvance(text) + small * 0.6
            if hour.motions and right - left >= width:
                place = QRectF((left + right - width) / 2, box.bottom() + 1.3 * line, width, line)
                painter.setPen(Qt.PenStyle.NoPen)
                painter.setBrush(QColor(VERMILLION))
                painter.drawRoundedRect(place, 4, 4)
                painter.setPen(QColor(ON_STATE))
                painter.drawText(place, Qt.AlignmentFlag.AlignCenter, text)

    def _draw_legend(self, painter: QPainter, *, leaves_top: bool) -> None:
        """What whiskers and arrows are: set smaller in a language with long words, rather than cut."""
        box, line = self._box(), self._line()
        text = tr(WHISKER_AND_ARROW) if leaves_top else tr(WHISKER)
        pixels = fitting_font_pixels(text, self.width(), self.appearance.sizes.small, LEAST_LEGEND_PIXELS)
        painter.setFont(font(pixels))
        painter.setPen(QColor(self.appearance.theme.quiet))
        width = QFontMetricsF(font(pixels)).horizontalAdvance(text)
        left = max(min(box.left(), self.width() - width), 0.0)
        painter.drawText(
            QRectF(left, self.height() - line, self.width(), line), Qt.AlignmentFlag.AlignVCenter, text
        )


def _accessible_text(night: Night, hour: NightHour) -> str:
    began = night.clock_minute(hour.start_s)
    level = (
        tr("nothing still")
        if hour.mean_volts is None
        else tr("{volts} volts").format(volts=fixed(hour.mean_volts, 3))
    )
    if hour.is_overloaded or (hour.mean_volts is None and hour.frozen_s):
        level = hour_level(hour, 3)
    return tr("from {began}: {level}, {motions}").format(
        began=began, level=level, motions=counted(hour.motions, "motion episode")
    )


def _draw_time(painter: QPainter, appearance: Appearance, text: str, corner: QPointF, right_x: float) -> None:
    """Draw a time of day beside an edge, on the side where it has room.

    Args:
        painter: of the chart.
        appearance: theme and sizes.
        text: the time of day.
        corner: upper end of the edge.
        right_x: right end of the chart.
    """
    small, face = appearance.sizes.small, font(appearance.sizes.small)
    metrics = QFontMetricsF(face)
    width = metrics.horizontalAdvance(text) + small * 0.8
    left = corner.x() + 6 if corner.x() + 6 + width <= right_x else corner.x() - 6 - width
    place = QRectF(left, corner.y(), width, metrics.lineSpacing())
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(appearance.theme.ask))
    painter.drawRoundedRect(place, 3, 3)
    painter.setFont(face)
    painter.setPen(QColor(appearance.theme.on_ask))
    painter.drawText(place, Qt.AlignmentFlag.AlignCenter, text)
