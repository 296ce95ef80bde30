"""A small still picture of the stretch of the trace that a value rests on, with what was just before and after it.

Several values (the steps of a check, on and off) stand side by side on one scale of volts, each on its own time
axis that counts from where its stretch begins. What is drawn in the trace is what the detector holds for true by now:
a value that rests on a motion is seen to.
"""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy

from gui.model.visit_controller import VisitController
from gui.model.wording import clock_text, volts_text
from gui.trace.axis_labels import paint_seconds, paint_volts, volts_marks
from gui.trace.labels import Labels, paint_labels
from gui.trace.reading_interval import ReadingInterval
from gui.trace.trace_marks import (
    STRETCHES,
    STRIP_SHARE,
    MarkedInterval,
    Scale,
    draw_curve,
    paint_step,
    paint_stretches,
    round_top,
    unseen_s,
    wanted_top,
)
from gui.widgets.appearance import Appearance, VisitWidget
from gui.widgets.theme import BLUISH_GREEN, ON_STATE, VERMILLION, colour, font
from logger.name_list import in_turn
from logger.settling.events import Motion, Step
from logger.translation import tr

MIN_ROWS, USUAL_ROWS, MAX_ROWS = 6, 8, 12
"""Height, in small letters."""

MIN_SHARE = 0.5
"""Of the picture's height that the values may use; above them stand their labels."""


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
        values = [
            tr("{name}: {volts} V").format(name=r.name, volts=volts_text(r.volts, r.u_volts))
            for r in self.intervals
        ]
        self.setAccessibleDescription(in_turn(values))
        self.setToolTip("\n".join(values))  # a name that is shortened is whole there
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
        left = max(metrics.horizontalAdvance(text) for _, text in volts_marks(top_volts)) + small * 0.4
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
        paint_volts(painter, Scale(boxes[0], 0.0, 1.0, top_volts), self.appearance)
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
        line = trace.polyline(*interval.window_s(), max(int(box.width()), 1))
        draw_curve(painter, line, scale)
        labels = Labels(self.appearance.sizes.small, box, scale.envelope(line))
        text = f"{volts_text(interval.volts, interval.u_volts)} V{' ?' if interval.in_doubt else ''}"
        place = (text, (left + right) / 2, y, theme.note, theme.text)
        # The levels are what is compared: a value is shown, though a small picture has no place beside the curve.
        labels.put_centred(*place) or labels.over_curve().put_centred(*place)
        for placed in self.controller.snapshot.events_between(Motion, scale.start_s, scale.end_s):
            middle = (max(placed.start_s, scale.start_s) + min(placed.end_s, scale.end_s)) / 2
            labels.put_along(tr("changing"), scale.x(middle), VERMILLION, ON_STATE)
        steps = self.controller.snapshot.events_between(Step, scale.start_s, scale.end_s)
        known_of = (
            {known.found.step: known for known in self.controller.snapshot.known_steps()} if steps else {}
        )
        for placed in steps:
            assert isinstance(placed.event, Step)
            hole_s = unseen_s(placed, known_of.get(placed.event))
            size = self.controller.snapshot.shown_levels.step(placed.start_s, placed.event)
            paint_step(painter, scale, labels, placed.event, size, placed.start_s, hole_s)
        paint_labels(painter, labels.placed, self.appearance.sizes.small)
        painter.restore()
        paint_seconds(painter, scale, interval.start_s, self.appearance, self.width())

    def _paint_head(self, painter: QPainter, interval: ReadingInterval, box: QRectF) -> None:
        """Name and time of day; the time is left out where there is no room for both."""
        small = self.appearance.sizes.small
        head = QRectF(box.left(), 0.0, box.width(), box.top())
        time = clock_text(interval.start_utc_ns, self.controller.snapshot.zone)
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
