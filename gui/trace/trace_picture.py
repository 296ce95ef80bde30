"""A small still picture of the stretch of the trace that a value rests on, with what was just before and after it.

Several values (the steps of a check, on and off) stand side by side on one scale of volts, each on its own time
axis that counts from where its stretch begins. What is drawn in the trace is what the detector holds for true by now:
a value that rests on a motion is seen to.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy

from gui.model.visit_controller import VisitController
from gui.model.wording import MINUS, clock_text, volts_text
from gui.trace.trace_marks import (
    STRETCHES,
    STRIP_SHARE,
    TICKS_S,
    Labels,
    MarkedInterval,
    Scale,
    paint_step,
    paint_stretches,
    round_top,
    wanted_top,
)
from gui.widgets.appearance import Appearance, VisitWidget
from gui.widgets.theme import BLUISH_GREEN, ON_STATE, VERMILLION, colour, font
from logger.settling.events import Motion, Step
from logger.visit.records.records import CheckStep, Reading
from logger.visit.trace import Polyline

MARGIN_S = 15.0
MARGIN_SHARE = 0.1
"""Shown before and after the stretch: the larger of these, so that it is seen beside a long stretch too."""

MIN_ROWS, USUAL_ROWS, MAX_ROWS = 6, 8, 12
"""Height, in small letters."""

MIN_SHARE = 0.5
"""Of the picture's height that the values may use; above them stand their labels."""


@dataclass(frozen=True, slots=True)
class ReadingInterval:
    """A value with the stretch it rests on, in seconds on the time line of the trace."""

    name: str
    volts: float
    u_volts: float
    start_utc_ns: int
    start_s: float
    end_s: float
    in_doubt: bool

    @classmethod
    def of_step(cls, controller: VisitController, step: CheckStep) -> ReadingInterval:
        """The value of a check's step."""
        span = step.span
        zero_utc_ns = controller.log.runs.started_utc_ns(span.run_id)
        start_utc_ns, end_utc_ns = zero_utc_ns + span.start_t_ns, zero_utc_ns + span.end_t_ns
        trace = controller.snapshot.trace
        return cls(
            step.name, span.volts, span.u_volts, start_utc_ns,
            trace.seconds(start_utc_ns, span.run_id), trace.seconds(end_utc_ns, span.run_id),
            bool(controller.snapshot.span_review.of_span(span)),
        )  # fmt: skip

    @classmethod
    def of_reading(cls, controller: VisitController, reading: Reading, name: str) -> ReadingInterval | None:
        """A reading; None for one that rests on no trace.

        Args:
            controller: the visit.
            reading: the reading.
            name: what the interval is called in the picture.
        """
        if reading.run_id is None or reading.start_utc_ns is None or reading.end_utc_ns is None:
            return None
        trace = controller.snapshot.trace
        return cls(
            name, reading.volts, reading.u_volts, reading.start_utc_ns,
            trace.seconds(reading.start_utc_ns, reading.run_id),
            trace.seconds(reading.end_utc_ns, reading.run_id),
            bool(controller.readings.doubt(reading)),
        )  # fmt: skip

    def window_s(self) -> tuple[float, float]:
        """Start and end of what is shown of it."""
        margin_s = max(MARGIN_S, MARGIN_SHARE * (self.end_s - self.start_s))
        return self.start_s - margin_s, self.end_s + margin_s


class TracePicture(VisitWidget):
    """The pictures of some values, side by side; asks the trace for their stretches only."""

    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__(controller, appearance)
        self.intervals: list[ReadingInterval] = []
        self._drawn: list[object] | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def show_values(self, interval: Sequence[ReadingInterval]) -> None:
        """Show these. Painted anew only when something in sight has changed."""
        self.intervals = list(interval)
        in_sight = [self._in_sight(r) for r in self.intervals]
        if self._drawn == [*self.intervals, *in_sight]:
            return
        self._drawn = [*self.intervals, *in_sight]
        self.setAccessibleDescription(
            "; ".join(f"{r.name}: {volts_text(r.volts, r.u_volts)} V" for r in self.intervals)
        )
        self.update()

    def _in_sight(self, interval: ReadingInterval) -> list[object]:
        """What the picture of a value depends on, apart from the value; in pixels, since no less can be seen."""
        snapshot = self.controller.snapshot
        start_s, end_s = interval.window_s()
        pixel_s = (end_s - start_s) * len(self.intervals) / max(self.width(), 1)
        seen: list[object] = [min(snapshot.trace.end_s, end_s) // pixel_s]
        for kind, _hue, _alpha in STRETCHES:
            placed = snapshot.events_between(kind, start_s, end_s)
            seen += [(kind, p.start_s // pixel_s, min(p.end_s, end_s) // pixel_s) for p in placed]
        return [*seen, *snapshot.events_between(Step, start_s, end_s)]

    def set_appearance(self, appearance: Appearance) -> None:
        """See `VisitWidget`."""
        self.setMinimumHeight(MIN_ROWS * appearance.sizes.small)
        self.setMaximumHeight(MAX_ROWS * appearance.sizes.small)
        super().set_appearance(appearance)

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(20 * self.appearance.sizes.small, USUAL_ROWS * self.appearance.sizes.small)

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        if not self.intervals:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        small = self.appearance.sizes.small
        metrics = QFontMetricsF(font(small))
        height = self.height() - 2 * metrics.height() - small * 0.2
        top_volts = self._top_volts(max(1.0 - 2.2 * small / height, MIN_SHARE))
        left = max(metrics.horizontalAdvance(text) for _, text in _volts_marks(top_volts)) + small * 0.4
        gap = small * 0.5
        width = (self.width() - left - gap * (len(self.intervals) - 1)) / len(self.intervals)
        boxes = [
            QRectF(
                left + (width + gap) * index,
                metrics.height(),
                width,
                height,
            )
            for index in range(len(self.intervals))
        ]
        for interval, box in zip(self.intervals, boxes, strict=True):
            self._paint_one(painter, interval, Scale(box, *interval.window_s(), top_volts))
        self._paint_volts(painter, Scale(boxes[0], 0.0, 1.0, top_volts))
        painter.end()

    def _top_volts(self, share: float) -> float:
        """Choose one scale for all pictures.

        It fits the stretches themselves, since the levels are what is compared: a motion beside them may leave the
        picture.

        Args:
            share: of the height, for the highest value.
        """
        trace = self.controller.snapshot.trace
        stretches = [trace.polyline(r.start_s, r.end_s, self.width()) for r in self.intervals]
        values = [r.volts for r in self.intervals]
        for interval, line in zip(self.intervals, stretches, strict=True):
            within = (line.times_s >= interval.start_s) & (line.times_s <= interval.end_s)
            values += [float(line.volts[within].max())] if within.any() else []
        return round_top(max(wanted_top(0.0), max(values) / share))

    def _paint_one(self, painter: QPainter, interval: ReadingInterval, scale: Scale) -> None:
        theme, box = self.appearance.theme, scale.box
        self._paint_head(painter, interval, box)
        painter.fillRect(box, QColor(theme.plot))
        painter.save()
        painter.setClipRect(box)
        self._paint_grounds(painter, scale)
        # As in the live trace: behind the curve and wide. Dashed where it is in doubt.
        style = Qt.PenStyle.DashLine if interval.in_doubt else Qt.PenStyle.SolidLine
        y, left, right = scale.y(interval.volts), scale.x(interval.start_s), scale.x(interval.end_s)
        painter.setPen(QPen(colour(BLUISH_GREEN, 0.75), 5, style, Qt.PenCapStyle.FlatCap))
        painter.drawLine(QPointF(left, y), QPointF(right, y))
        painter.setPen(QPen(QColor(theme.level), 1.5, style))
        for x in (left, right):
            painter.drawLine(QPointF(x, box.top()), QPointF(x, box.bottom()))
        painter.setPen(QPen(QColor(theme.curve), 1.5))
        trace = self.controller.snapshot.trace
        _draw_curve(painter, trace.polyline(*interval.window_s(), max(int(box.width()), 1)), scale)
        labels = Labels(painter, self.appearance)
        text = f"{volts_text(interval.volts, interval.u_volts)} V{' ?' if interval.in_doubt else ''}"
        labels.put_centred(text, (left + right) / 2, y, box, theme.note, theme.text)
        for placed in self.controller.snapshot.events_between(Motion, scale.start_s, scale.end_s):
            middle = (max(placed.start_s, scale.start_s) + min(placed.end_s, scale.end_s)) / 2
            labels.put_top("motion", scale.x(middle), box, VERMILLION, ON_STATE)
        for placed in self.controller.snapshot.events_between(Step, scale.start_s, scale.end_s):
            assert isinstance(placed.event, Step)
            paint_step(painter, scale, labels, placed.event, placed.start_s)
        painter.restore()
        self._paint_seconds(painter, interval, scale)

    def _paint_head(self, painter: QPainter, interval: ReadingInterval, box: QRectF) -> None:
        """Name and time of day; the time is left out where there is no room for both."""
        small = self.appearance.sizes.small
        head = QRectF(box.left(), 0.0, box.width(), box.top())
        time = clock_text(interval.start_utc_ns)
        bold, plain = QFontMetricsF(font(small, True)), QFontMetricsF(font(small))
        both = bold.horizontalAdvance(interval.name) + small + plain.horizontalAdvance(time)
        painter.setFont(font(small, True))
        painter.setPen(QColor(self.appearance.theme.text))
        painter.drawText(
            head,
            Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter,
            bold.elidedText(interval.name, Qt.TextElideMode.ElideRight, head.width()),
        )
        if both <= head.width():
            painter.setFont(font(small))
            painter.setPen(QColor(self.appearance.theme.quiet))
            painter.drawText(head, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, time)

    def _paint_grounds(self, painter: QPainter, scale: Scale) -> None:
        snapshot = self.controller.snapshot
        stretches = [
            MarkedInterval(kind, hue, alpha, placed.start_s, placed.end_s)
            for kind, hue, alpha in STRETCHES
            for placed in snapshot.events_between(kind, scale.start_s, scale.end_s)
        ]
        paint_stretches(painter, scale, self.appearance.sizes.small * STRIP_SHARE, stretches)

    def _paint_seconds(self, painter: QPainter, interval: ReadingInterval, scale: Scale) -> None:
        """The time axis: seconds, or minutes, since the stretch began."""
        small = self.appearance.sizes.small
        box, metrics = scale.box, QFontMetricsF(font(small))
        length_s = scale.end_s - scale.start_s
        step_s = next(
            (
                t
                for t in TICKS_S
                if box.width() * t / length_s >= metrics.horizontalAdvance(f"{_seconds_text(-t)} ")
            ),
            TICKS_S[-1],
        )
        painter.setFont(font(small))
        painter.setPen(QColor(self.appearance.theme.quiet))
        first = int(np.ceil((scale.start_s - interval.start_s) / step_s))
        last = int((scale.end_s - interval.start_s) // step_s)
        for mark in range(first, last + 1):
            x = scale.x(interval.start_s + mark * step_s)
            text = _seconds_text(mark * step_s)
            half = metrics.horizontalAdvance(text) / 2
            painter.drawLine(QPointF(x, box.bottom()), QPointF(x, box.bottom() + small * 0.2))
            # Half a letter may stand over the gap to the next picture, but not over the edge of this part.
            if box.left() - small * 0.5 <= x - half and x + half <= min(
                box.right() + small * 0.5, self.width()
            ):
                place = QRectF(x - half - 2, box.bottom() + small * 0.2, 2 * half + 4, metrics.height())
                painter.drawText(place, Qt.AlignmentFlag.AlignCenter, text)

    def _paint_volts(self, painter: QPainter, scale: Scale) -> None:
        """Volts on the left, for all pictures."""
        small = self.appearance.sizes.small
        metrics = QFontMetricsF(font(small))
        painter.setFont(font(small))
        painter.setPen(QColor(self.appearance.theme.quiet))
        for volts, text in _volts_marks(scale.top_volts):
            y = scale.y(volts)
            place = QRectF(0.0, y - metrics.height() / 2, scale.box.left() - small * 0.4, metrics.height())
            painter.drawText(place, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, text)


def _volts_marks(top_volts: float) -> list[tuple[float, str]]:
    return [(volts, f"{volts:.3g} V") for volts in (0.0, top_volts / 2, top_volts)]


def _draw_curve(painter: QPainter, line: Polyline, scale: Scale) -> None:
    points = [QPointF(scale.x(t), scale.y(v)) for t, v in zip(line.times_s, line.volts, strict=True)]
    # Line by line: as one wide path it takes Qt several times as long.
    joined = zip(points, points[1:], line.joined, strict=False)
    painter.drawLines([QLineF(one, other) for one, other, is_joined in joined if is_joined])


def _seconds_text(seconds: int) -> str:
    sign = MINUS if seconds < 0 else ""
    whole = abs(seconds)
    return f"{sign}{whole // 60} min" if whole >= 60 and whole % 60 == 0 else f"{sign}{whole} s"
