"""The live trace: the curve, and in it settled spans with their level, motion, steps, gaps, overload, readings, marks.

Everything about the trace is told twice, by colour and by form: the strip at the foot of the picture carries the
shape of each stretch. Only what is in sight is asked for, at the picture's own resolution.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen
from PySide6.QtWidgets import QVBoxLayout

from gui.model.visit_controller import VisitController
from gui.model.wording import duration_text, span_text, step_name_text, volts_text
from gui.trace.trace_marks import (
    STRETCHES,
    STRIP_SHARE,
    TICKS_S,
    Labels,
    MarkedInterval,
    Scale,
    label_motion,
    label_step,
    paint_step_lines,
    paint_stretches,
    round_top,
    wanted_top,
)
from gui.widgets.appearance import Appearance, VisitWidget
from gui.widgets.theme import BLUISH_GREEN, colour, font
from logger.clock import NS_PER_S
from logger.settling.events import Event, Gap, Motion, Overload, Settled, Step
from logger.sweep.labelled_steps import KnownStep
from logger.visit.trace import Kind, Placed

SPANS_S: tuple[float | None, ...] = (30.0, 120.0, 600.0, None)
"""Stretches of the trace that one key goes through; None is all of it."""

SHORTEST_S = 1.0
SHORTEST_SPAN_S = 30.0
AHEAD = 0.03
"""Of the stretch, left free to the right of the newest value."""

EMPTY_TOP_VOLTS = 1.0

MOST_LABELLED = 60
"""More spans of a kind than this in sight are drawn joined, as columns of the picture, without labels."""

MOST_MOTION_LABELS = 20
"""More motion in sight is shown by its shapes only: words would hide the curve."""


@dataclass(frozen=True, slots=True)
class ViewRange:
    """What is in sight, to come back to."""

    span_s: float | None
    following: bool
    right_s: float


class TracePlot(VisitWidget):
    """The curve with its events; follows the newest value until the user looks back."""

    span_changed = Signal()

    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__(controller, appearance)
        self.span_s: float | None = 120.0
        self.following = True
        self.fits_levels = False
        self.asks_labels = False
        """Steps without a name ask for one."""
        self._right_s = 0.0
        self._top_volts = EMPTY_TOP_VOLTS
        self.axis = _ClockAxis(self)
        self.plot: Any = pg.PlotWidget(
            axisItems={"bottom": self.axis, "left": _VoltsAxis(orientation="left")}
        )
        self.plot.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.plot.setMenuEnabled(False)
        self.plot.hideButtons()
        self.plot.setMouseEnabled(x=True, y=False)
        self.plot.setDefaultPadding(0.0)
        self.view: Any = self.plot.getViewBox()
        self.view.disableAutoRange()
        self.view.sigRangeChangedManually.connect(self._dragged)
        self.curve: Any = pg.PlotCurveItem(skipFiniteCheck=True, antialias=False)
        # Two pixels wide, to be seen from the bed: drawn as one smoothed path that takes Qt 60 to 200 ms a frame,
        # line by line 10.
        self.curve.setSegmentedLineMode("on")
        self.plot.addItem(self.curve)
        self.behind = _Layer(self, self._paint_behind, -1)
        self.before = _Layer(self, self._paint_before, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.plot)
        self.set_appearance(appearance)

    # --- what is in sight --------------------------------------------------------------------------------

    @property
    def first_s(self) -> float:
        """Where the trace begins."""
        return 0.0

    @property
    def length_s(self) -> float:
        """The stretch in sight."""
        # A trace that has just begun fills the picture instead of standing at its edge.
        there_s = max(self.controller.snapshot.now_s - self.first_s, SHORTEST_SPAN_S) * (1 + AHEAD)
        return there_s if self.span_s is None else min(self.span_s, there_s)

    def window_s(self) -> tuple[float, float]:
        """Start and end of what is in sight."""
        length_s = self.length_s
        right_s = self.controller.snapshot.now_s + AHEAD * length_s if self.following else self._right_s
        return right_s - length_s, right_s

    def next_span(self) -> None:
        """Go to the next of the fixed stretches."""
        longer = [s for s in SPANS_S if s is None or (self.span_s is not None and s > self.span_s * 1.01)]
        self._set_span(longer[0] if self.span_s is not None else SPANS_S[0])

    def zoom(self, factor: float) -> None:
        """Make the stretch longer (factor > 1) or shorter."""
        longest_s = max(self.controller.snapshot.now_s - self.first_s, 600.0)
        wanted_s = self.length_s * factor
        if not self.following:
            left_s, right_s = self.window_s()
            self._right_s = (left_s + right_s + wanted_s) / 2
        self._set_span(None if wanted_s > longest_s else max(wanted_s, SHORTEST_S))

    def pan(self, share: float) -> None:
        """Move by a share of the stretch; at the newest value it follows again."""
        _, right_s = self.window_s()
        length_s = self.length_s
        if self.span_s is None:
            self.span_s = length_s
        newest_s = self.controller.snapshot.now_s + AHEAD * length_s
        least_s = min(self.first_s + length_s * 0.5, newest_s)
        self._right_s = min(max(right_s + share * length_s, least_s), newest_s)
        self.following = self._right_s >= newest_s
        self.refresh()

    def follow(self) -> None:
        """Go to the newest value and stay with it."""
        self.following = True
        self.refresh()

    def show_stretch(self, start_s: float, end_s: float) -> None:
        """Look at that stretch, from end to end, and stay there."""
        self.span_s = max(end_s - start_s, SHORTEST_S)
        self._right_s, self.following = (start_s + end_s + self.span_s) / 2, False
        self._top_volts = 0.0
        self.span_changed.emit()
        self.refresh()

    def show_all(self) -> None:
        """Look at all of the trace, and follow it."""
        self._set_span(None)

    @property
    def view_range(self) -> ViewRange:
        """What is in sight."""
        return ViewRange(self.span_s, self.following, self._right_s)

    @view_range.setter
    def view_range(self, view_range: ViewRange) -> None:
        self.span_s, self.following, self._right_s = (
            view_range.span_s,
            view_range.following,
            view_range.right_s,
        )
        self.span_changed.emit()
        self.refresh()

    def toggle_fit(self) -> None:
        """Fit the height to the still levels only, or to everything again."""
        self.fits_levels = not self.fits_levels
        self._top_volts = 0.0
        self.refresh()

    # --- drawing -----------------------------------------------------------------------------------------

    def refresh(self) -> None:
        """See `VisitWidget`."""
        start_s, end_s = self.window_s()
        columns = max(int(self.view.width()), 200)
        points = self.controller.snapshot.trace.polyline(start_s, end_s, columns)
        self.curve.setData(points.times_s, points.volts, connect=points.joined)
        self._fit_height(points.volts)
        self.view.setRange(xRange=(start_s, end_s), yRange=(0.0, self._top_volts), padding=0, update=True)
        # Else it is done while painting, which asks for a second painting.
        self.view.prepareForPaint()
        self.behind.update()
        self.before.update()

    def set_appearance(self, appearance: Appearance) -> None:
        """See `VisitWidget`."""
        self.appearance = appearance
        theme, sizes = appearance.theme, appearance.sizes
        self.plot.setBackground(theme.plot)
        self.curve.setPen(pg.mkPen(theme.curve, width=2))
        for name in ("bottom", "left"):
            axis = self.plot.getAxis(name)
            axis.setTickFont(font(sizes.small))
            axis.setTextPen(theme.quiet)
            axis.setPen(theme.line)
        metrics = QFontMetricsF(font(sizes.small))
        self.plot.getAxis("left").setWidth(round(metrics.horizontalAdvance("0.00 V") + sizes.small * 1.2))
        self.plot.getAxis("bottom").setHeight(round(metrics.height() + sizes.small * 0.6))
        self.plot.getPlotItem().setContentsMargins(0, sizes.small * 0.5, sizes.small * 0.6, sizes.small * 0.3)
        self.refresh()

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(600, 400)

    def _set_span(self, span_s: float | None) -> None:
        self.span_s = span_s
        if span_s is None:
            self.following = True
        self.span_changed.emit()
        self.refresh()

    def _dragged(self) -> None:
        (left_s, right_s), _ = self.view.viewRange()
        self.span_s = max(right_s - left_s, SHORTEST_S)
        self._right_s = right_s
        self.following = right_s >= self.controller.snapshot.now_s > left_s
        self.span_changed.emit()
        self.refresh()

    def _fit_height(self, volts: np.ndarray[Any, Any]) -> None:
        start_s, end_s = self.window_s()
        highest = float(volts.max()) if len(volts) else 0.0
        if self.fits_levels:
            settled = self.controller.snapshot.in_sight(Settled, start_s, end_s)
            levels = [p.event.volts for p in settled if isinstance(p.event, Settled)]
            highest = max(levels) if levels else highest
        if not len(volts):
            return
        wanted = wanted_top(highest)
        # Grows at once, shrinks only when much is free: a picture that breathes cannot be read.
        if wanted > self._top_volts or wanted < 0.55 * self._top_volts:
            self._top_volts = round_top(wanted)

    def _paint_grid(self, painter: QPainter, scale: Scale) -> None:
        """Lines at the axes' first ticks; pyqtgraph's own grid takes longer than all the rest of the picture."""
        painter.setPen(QPen(colour(self.appearance.theme.line, 0.55), 1))
        box = scale.box
        for axis, low, high, size in (
            (self.axis, scale.start_s, scale.end_s, box.width()),
            (self.plot.getAxis("left"), 0.0, scale.top_volts, box.height()),
        ):
            for _, values in axis.tickValues(low, high, size)[:1]:
                for value in values:
                    if axis is self.axis:
                        painter.drawLine(
                            QPointF(scale.x(value), box.top()), QPointF(scale.x(value), box.bottom())
                        )
                    else:
                        painter.drawLine(
                            QPointF(box.left(), scale.y(value)), QPointF(box.right(), scale.y(value))
                        )

    def _paint_behind(self, painter: QPainter, scale: Scale) -> None:
        self._paint_grid(painter, scale)
        stretches = [
            MarkedInterval(kind, hue, alpha, start_s, end_s)
            for kind, hue, alpha in STRETCHES
            for start_s, end_s in self._spans(scale, kind)
        ]
        paint_stretches(painter, scale, self.appearance.sizes.small * STRIP_SHARE, stretches)
        # Behind the curve and wide, so that both are seen where the curve runs along its level.
        painter.setPen(QPen(colour(BLUISH_GREEN, 0.75), 5))
        for placed in self._few(Settled, scale):
            assert isinstance(placed.event, Settled)
            y = scale.y(placed.event.volts)
            painter.drawLine(QPointF(scale.x(placed.start_s), y), QPointF(scale.x(placed.end_s), y))

    def _spans(self, scale: Scale, kind: Kind) -> list[tuple[float, float]]:
        """Where the spans of a kind begin and end; those too close to be told apart are one."""
        snapshot = self.controller.snapshot
        closed = snapshot.events.merged_between(kind, scale.start_s, scale.end_s, 2 * scale.s_per_pixel)
        open_ones = [(p.start_s, p.end_s) for p in snapshot.open_events if isinstance(p.event, kind)]
        return [*zip(closed.start_s.tolist(), closed.end_s.tolist(), strict=True), *open_ones]

    def _paint_before(self, painter: QPainter, scale: Scale) -> None:
        labels = Labels(painter, self.appearance)
        labels.keep_free(self._span_box(scale))
        notes = self._notes_in_sight(scale)
        for x, _text, ground, _ink in notes:
            painter.fillRect(QRectF(x - 1, scale.box.top(), 2, scale.box.height()), colour(ground, 0.6))
        self._paint_steps(painter, scale, labels)
        for x, text, ground, ink in notes:
            labels.put_top(text, x, scale.box, ground, ink)
        self._paint_wide(scale, labels, Overload, "overload")
        self._paint_wide(scale, labels, Gap, "no signal")
        self._paint_levels(scale, labels)
        self._paint_motion(scale, labels)
        self._paint_span(painter, scale)
        if not len(self.controller.snapshot.trace):
            painter.setPen(QColor(self.appearance.theme.quiet))
            painter.setFont(font(self.appearance.sizes.normal))
            painter.drawText(
                scale.box, Qt.AlignmentFlag.AlignCenter, "The trace appears here with the first value."
            )

    def _few(self, kind: Kind, scale: Scale) -> list[Placed]:
        """The spans of a kind, or none where they are too many to be labelled."""
        if self.controller.snapshot.events.count(kind, scale.start_s, scale.end_s) > MOST_LABELLED:
            return []
        return self.controller.snapshot.in_sight(kind, scale.start_s, scale.end_s)

    def _paint_levels(self, scale: Scale, labels: Labels) -> None:
        theme = self.appearance.theme
        for placed in self._few(Settled, scale):
            assert isinstance(placed.event, Settled)
            left, right = (
                max(scale.x(placed.start_s), scale.box.left()),
                min(scale.x(placed.end_s), scale.box.right()),
            )
            y = scale.y(placed.event.volts)
            text = f"{volts_text(placed.event.volts, placed.event.u_volts)} V"
            labels.put_above(text, left, right, y, theme.note, theme.text)

    def _paint_motion(self, scale: Scale, labels: Labels) -> None:
        motions = self._few(Motion, scale)
        for placed in motions if len(motions) <= MOST_MOTION_LABELS else ():
            assert isinstance(placed.event, Motion)
            label_motion(labels, scale, placed, placed.event)

    def _paint_steps(self, painter: QPainter, scale: Scale, labels: Labels) -> None:
        snapshot = self.controller.snapshot
        known_of: dict[Event, KnownStep] = {known.found.step: known for known in snapshot.known_steps()}
        few = [(placed, known_of.get(placed.event)) for placed in self._few(Step, scale)]
        paint_step_lines(
            painter,
            scale,
            [
                (placed.event, placed.start_s, known is not None and known.ignored)
                for placed, known in few
                if isinstance(placed.event, Step)
            ],
        )
        # The newest first: where there is not room for all labels, it is the older ones that go without.
        for placed, known in reversed(few):
            assert isinstance(placed.event, Step)
            if known is not None and known.ignored:
                continue
            name = step_name_text(known, snapshot.every_source) if known else ""
            asks = "which?" if self.asks_labels and not name else name
            label_step(labels, scale, placed.event, placed.start_s, asks)

    def _paint_wide(self, scale: Scale, labels: Labels, kind: type[Gap] | type[Overload], word: str) -> None:
        for placed in self._few(kind, scale):
            left, right = (
                max(scale.x(placed.start_s), scale.box.left()),
                min(scale.x(placed.end_s), scale.box.right()),
            )
            text = f"{word} {duration_text(placed.end_s - placed.start_s)}"
            labels.put_inside(
                text,
                left,
                right,
                scale.box.center().y(),
                self.appearance.theme.note,
                self.appearance.theme.text,
            )

    def _notes_in_sight(self, scale: Scale) -> list[tuple[float, str, str, str]]:
        """Readings as pins with their spot, marks as flags with their text: pixel, text, ground, ink."""
        snapshot, theme = self.controller.snapshot, self.appearance.theme
        notes: list[tuple[float, str, str, str]] = []
        for reading in snapshot.readings:
            if reading.void_reason is None and reading.end_utc_ns is not None:
                at_s = snapshot.trace.seconds(reading.end_utc_ns, reading.run_id)
                notes.append((at_s, f"▼ {reading.spot_name}", theme.chosen, theme.on_chosen))
        for mark in snapshot.marks:
            if mark.void_reason is None and mark.steady_utc_ns is not None:
                at_s = snapshot.trace.seconds(mark.steady_utc_ns, mark.run_id)
                notes.append((at_s, f"⚑ {mark.text}", theme.key, theme.on_key))
        in_sight = [note for note in notes if scale.start_s <= note[0] <= scale.end_s]
        newest = in_sight[-MOST_LABELLED:]
        return [(scale.x(at_s), text, ground, ink) for at_s, text, ground, ink in newest]

    def _span_text(self) -> str:
        """How long a stretch is in sight, and whether it follows."""
        span = "all" if self.span_s is None else span_text(self.span_s)
        text = span if self.following else f"{span} — looking back, F follows"
        return f"{text} — height: still levels" if self.fits_levels else text

    def _span_box(self, scale: Scale) -> QRectF:
        small = self.appearance.sizes.small
        width = QFontMetricsF(font(small)).horizontalAdvance(self._span_text())
        return QRectF(
            scale.box.left() + small * 0.5, scale.box.top() + small * 0.4, width + small, small * 1.7
        )

    def _paint_span(self, painter: QPainter, scale: Scale) -> None:
        theme, box = self.appearance.theme, self._span_box(scale)
        painter.setFont(font(self.appearance.sizes.small))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.note if self.following else theme.ask))
        painter.drawRoundedRect(box, 4, 4)
        painter.setPen(QColor(theme.quiet if self.following else theme.on_ask))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, self._span_text())


class _Layer(pg.GraphicsObject):  # type: ignore[misc]
    """Draws in the picture's pixels, behind or before the curve."""

    def __init__(self, owner: TracePlot, paint: Any, z: float) -> None:
        super().__init__()
        self._owner = owner
        self._paint = paint
        self.setZValue(z)
        self.setParentItem(owner.view)
        owner.view.sigResized.connect(lambda _: self.prepareGeometryChange())

    def boundingRect(self) -> QRectF:
        return QRectF(self._owner.view.rect())

    def paint(self, painter: QPainter, *_: Any) -> None:
        view = self._owner.view
        (start_s, end_s), (_bottom, top_volts) = view.viewRange()
        box = self.boundingRect()
        if end_s <= start_s or top_volts <= 0:
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setClipRect(box)
        self._paint(painter, Scale(box, start_s, end_s, top_volts))


class _ClockAxis(pg.AxisItem):  # type: ignore[misc]
    """Time of day below the trace, at round times of the local clock."""

    def __init__(self, owner: TracePlot) -> None:
        super().__init__(orientation="bottom")
        self._owner = owner

    def tickValues(self, minVal: float, maxVal: float, size: float) -> list[tuple[float, list[float]]]:
        trace = self._owner.controller.snapshot.trace
        if trace.origin_utc_ns is None or maxVal <= minVal:
            return []
        wanted = max(size / (self._owner.appearance.sizes.small * 8), 2)
        step = next((t for t in TICKS_S if (maxVal - minVal) / t <= wanted), TICKS_S[-1])
        zero_s = trace.utc_ns(0.0) / NS_PER_S
        offset = datetime.fromtimestamp(zero_s).astimezone().utcoffset()
        local_s = zero_s + (offset.total_seconds() if offset else 0.0)
        first = np.ceil((minVal + local_s) / step) * step - local_s
        return [(float(step), [float(v) for v in np.arange(first, maxVal, step)])]

    def tickStrings(self, values: list[float], scale: float, spacing: float) -> list[str]:
        del scale
        trace = self._owner.controller.snapshot.trace
        pattern = "%H:%M:%S" if spacing < 60 else "%H:%M"
        times = [round(trace.utc_ns(value) / NS_PER_S, 3) for value in values]
        return [datetime.fromtimestamp(round(t)).strftime(pattern) for t in times]


class _VoltsAxis(pg.AxisItem):  # type: ignore[misc]
    """Volts beside the trace, each with its unit."""

    def tickStrings(self, values: list[float], scale: float, spacing: float) -> list[str]:
        del scale
        decimals = max(int(np.ceil(-np.log10(spacing) - 1e-9)), 0)
        return [f"{value:.{decimals}f} V" for value in values]
