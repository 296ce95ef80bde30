"""What the live trace and the still pictures of it have in common: the scale, and the shapes of stretches and steps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, log10

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QImage, QPaintEngine, QPainter, QPen, QPolygonF, QTransform

from gui.model.wording import volts_text
from gui.trace.curve_envelope import CurveEnvelope
from gui.trace.labels import Labels
from gui.widgets.theme import (
    BLUISH_GREEN,
    GREY,
    ON_STATE,
    REDDISH_PURPLE,
    STATE_COLOURS,
    VERMILLION,
    YELLOW,
    colour,
)
from logger.settling.events import Gap, Motion, Overload, Settled, State, Step
from logger.sweep.labelled_steps import KnownStep
from logger.translation import tr
from logger.visit.trace import Kind, Placed, Polyline

STRETCHES: tuple[tuple[Kind, str, float], ...] = (
    (Settled, BLUISH_GREEN, 0.16),
    (Motion, VERMILLION, 0.13),
    (Overload, YELLOW, 0.3),
    (Gap, GREY, 0.22),
)
"""Kinds of stretches with colour and opacity of their ground."""

TICKS_S = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400)
"""Distances between the marks of a time axis, whichever leaves room for its words."""

STRIP_SHARE = 0.62
"""Height of the strip of shapes at the foot, of the small text's."""

_RESTLESS = frozenset({State.CHANGING, State.CHANGING_LONG, State.DRIFTING, State.ALTERNATING})

PEAK_SHARE = 0.95
"""Of a motion's peak, that has to be in sight of a motion that is cut by the edge, for the peak to be labelled."""

PEAK_SHIFT_SHARE = 0.25
"""Of its width, by which the label of a peak may be moved from it: further away it stands over another one."""

THIN, THICK = 1.0, 2.5
"""Width of the line of a step, in pixels: thin where a night is in sight."""

THIN_OPACITY = 0.7

PALE = 0.35
"""Opacity of what is to be ignored."""

MIN_TOP_VOLTS = 0.05
HEADROOM = 1.3
"""Top of the picture over the highest value in sight: room for the labels."""

_TOPS = (1.0, 1.2, 1.6, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)


@dataclass(frozen=True, slots=True)
class Scale:
    """From seconds and volts to the pixels of the picture."""

    box: QRectF
    start_s: float
    end_s: float
    top_volts: float

    @property
    def s_per_pixel(self) -> float:
        """Seconds for each pixel of the width."""
        return (self.end_s - self.start_s) / max(self.box.width(), 1.0)

    def x(self, time_s: float) -> float:
        """Pixel of a time; what is out of sight lies just beyond the edge."""
        share = (time_s - self.start_s) / (self.end_s - self.start_s)
        return float(self.box.left() + min(max(share, -0.01), 1.01) * self.box.width())

    def y(self, volts: float) -> float:
        """Pixel of a value."""
        return float(self.box.bottom() - volts / self.top_volts * self.box.height())

    def envelope(self, line: Polyline) -> CurveEnvelope:
        """Where a curve runs in the picture."""
        return CurveEnvelope(self.box, self.start_s, self.end_s, self.top_volts, line)

    def strip(self, height: float) -> QRectF:
        """The foot of the picture, of that height in pixels."""
        return QRectF(self.box.left(), self.box.bottom() - height, self.box.width(), height)


@dataclass(frozen=True, slots=True)
class MarkedInterval:
    """A stretch of a kind with colour and opacity of its ground."""

    kind: Kind
    hue: str
    alpha: float
    start_s: float
    end_s: float


def paint_stretches(
    painter: QPainter, scale: Scale, strip_height: float, stretches: Sequence[MarkedInterval]
) -> None:
    """The grounds of stretches, and their shapes in the strip at the foot.

    Args:
        painter: paints the picture.
        scale: turns time and volts into pixels.
        strip_height: height in pixels of the strip at the foot.
        stretches: those in sight.
    """
    strip = scale.strip(strip_height)
    places = []
    for stretch in stretches:
        left = scale.x(stretch.start_s)
        places.append((stretch, left, max(scale.x(stretch.end_s) - left, 1.5)))
    inks = {kind: (colour(hue, alpha), QColor(hue)) for kind, hue, alpha in STRETCHES}
    paint_columns(painter, scale.box, [(left, width, inks[s.kind][0]) for s, left, width in places])
    bars = [(left, width, inks[Settled][1]) for s, left, width in places if s.kind is Settled]
    paint_columns(painter, strip.adjusted(0, 1, 0, -1), bars)
    for stretch, left, width in places:
        if stretch.kind is not Settled:
            _paint_strip(painter, stretch.kind, QRectF(left, strip.top(), width, strip.height()), stretch.hue)


def paint_columns(painter: QPainter, box: QRectF, columns: Sequence[tuple[float, float, QColor]]) -> None:
    """Columns as high as a box: left edge, width, colour.

    As one row of pixels that is laid over the whole height: Qt needs a quarter of a millisecond for each narrow column
    that is drawn by itself, and a night has many.

    Args:
        painter: paints the picture.
        box: the picture, or its foot.
        columns: left edge and width in pixels, and colour.
    """
    if not columns:
        return
    if painter.paintEngine().type() is QPaintEngine.Type.SVG:
        # A drawing is scaled later: it has no pixels.
        for left, width, ink in columns:
            painter.fillRect(QRectF(left, box.top(), width, box.height()), ink)
        return
    row = QImage(max(ceil(box.width()), 1), 1, QImage.Format.Format_ARGB32_Premultiplied)
    row.fill(0)
    along = QPainter(row)
    for left, width, ink in columns:
        along.fillRect(QRectF(left - box.left(), 0, width, 1), ink)
    along.end()
    laid = QBrush(row)
    laid.setTransform(QTransform.fromTranslate(box.left(), 0))
    painter.fillRect(box, laid)


@dataclass(frozen=True, slots=True)
class StepLine:
    """A step as it is drawn.

    Args:
        step: the step.
        at_s: its time on the time line of the trace.
        unseen_s: start and end there of the time without values that it lies in; None for a step that was seen.
        ignored: it does not count, and is pale.
    """

    step: Step
    at_s: float
    unseen_s: tuple[float, float] | None = None
    ignored: bool = False


def paint_step(
    painter: QPainter,
    scale: Scale,
    labels: Labels,
    step: Step,
    size: str,
    at_s: float,
    hole_s: tuple[float, float] | None = None,
) -> None:
    """A step as a line with a tick at both levels, and its size.

    Args:
        painter: paints the picture.
        scale: turns time and volts into pixels.
        labels: keeps the places that are taken.
        step: the step.
        size: how large it is, as it is shown.
        at_s: its time on the time line of the trace.
        hole_s: start and end there of the time without values that it lies in; None for a step that was seen.
    """
    paint_step_lines(painter, scale, [StepLine(step, at_s, hole_s)])
    label_step(labels, scale, size, at_s)


def unseen_s(placed: Placed, known: KnownStep | None) -> tuple[float, float] | None:
    """Start and end, on the time line of the trace, of the hole that a step lies in; None for one that was seen.

    Args:
        placed: the step on the time line of the trace.
        known: the step with what is known of it; None where that is nothing.
    """
    if known is None or known.found.unseen_s is None:
        return None
    hole_s = known.found.unseen_s
    shift_s = placed.start_s - known.found.step.time_s
    return hole_s[0] + shift_s, hole_s[1] + shift_s


def paint_step_lines(
    painter: QPainter, scale: Scale, steps: Sequence[StepLine], *, is_thin: bool = False
) -> None:
    """The lines and ticks of steps; one that nobody saw is dashed from the last value to the next, over the hole.

    Args:
        painter: paints the picture.
        scale: turns time and volts into pixels.
        steps: those in sight.
        is_thin: much is in sight: the curve shall be seen beside them.
    """
    width, opacity = (THIN, THIN_OPACITY) if is_thin else (THICK, 1.0)
    inks = [colour(REDDISH_PURPLE, PALE if line.ignored else opacity) for line in steps]
    paint_columns(
        painter,
        scale.box,
        [
            (round(scale.x(line.at_s) - width / 2), width, ink)
            for line, ink in zip(steps, inks, strict=True)
            if line.unseen_s is None
        ],
    )
    for line, ink in zip(steps, inks, strict=True):
        before_s, after_s = line.unseen_s or (line.at_s, line.at_s)
        before = QPointF(scale.x(before_s), scale.y(line.step.before_volts))
        after = QPointF(scale.x(after_s), scale.y(line.step.after_volts))
        if line.unseen_s is not None:
            painter.setPen(QPen(ink, width, Qt.PenStyle.DashLine))
            painter.drawLine(before, after)
        painter.setPen(QPen(ink, width))
        # A tick at both levels: the step is what lies between them.
        for level in (before, after):
            painter.drawLine(level - QPointF(7, 0), level + QPointF(7, 0))


def label_step(labels: Labels, scale: Scale, size: str, at_s: float, name: str = "") -> None:
    """The size of a step and what it was.

    Args:
        labels: keeps the places that are taken.
        scale: turns time and volts into pixels.
        size: how large the step is, as it is shown.
        at_s: its time on the time line of the trace.
        name: what it was, if that is known.
    """
    labels.put_along(f"{size} {name}".strip(), scale.x(at_s), REDDISH_PURPLE, ON_STATE)


def _paint_strip(painter: QPainter, kind: Kind, box: QRectF, hue: str) -> None:
    """The shape of a stretch that moved or has no value: zigzag, dashed line, triangles."""
    if kind is Gap:
        painter.setPen(QPen(QColor(hue), 2, Qt.PenStyle.DashLine))
        painter.drawLine(QPointF(box.left(), box.center().y()), QPointF(box.right(), box.center().y()))
    else:
        tooth = box.height()
        teeth = max(int(box.width() / tooth), 1)
        points = QPolygonF()
        for i in range(2 * teeth + 1):
            y = box.top() + 1 if i % 2 else box.bottom() - 1
            points.append(QPointF(box.left() + box.width() * i / (2 * teeth), y))
        painter.setPen(QPen(QColor(hue), 2))
        painter.setBrush(QBrush(QColor(hue)) if kind is Overload else Qt.BrushStyle.NoBrush)
        painter.drawPolyline(points) if kind is Motion else painter.drawPolygon(points)


def paint_present_state(painter: QPainter, state: State, box: QRectF) -> None:
    """The shape of a state that goes on: an open bar while it settles, a zigzag while it changes.

    Args:
        painter: paints the picture.
        state: of the trace now.
        box: its place in the strip at the foot.
    """
    hue = STATE_COLOURS[state]
    if state is State.SETTLING:
        painter.setPen(QPen(QColor(hue), 2))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(box.adjusted(1, 2, -1, -2))
    elif state in _RESTLESS:
        _paint_strip(painter, Motion, box, hue)


def label_motion(labels: Labels, scale: Scale, line: Polyline, placed: Placed, motion: Motion) -> None:
    """The word and the peak of a motion, above its peak; none where the peak is out of sight.

    The word is of what is seen: the trace alone does not tell a quick switching from somebody who moved.

    Args:
        labels: keeps the places that are taken.
        scale: turns time and volts into pixels.
        line: the curve in sight.
        placed: where it lies on the time line.
        motion: the motion.
    """
    start_s, end_s = max(placed.start_s, scale.start_s), min(placed.end_s, scale.end_s)
    first, stop = np.searchsorted(line.times_s, start_s), np.searchsorted(line.times_s, end_s, side="right")
    if stop <= first:
        return
    at = int(first + line.volts[first:stop].argmax())
    is_cut = start_s > placed.start_s or end_s < placed.end_s
    if is_cut and line.volts[at] < PEAK_SHARE * motion.peak_volts:
        return
    x, y = scale.x(float(line.times_s[at])), max(scale.y(motion.peak_volts), scale.box.top())
    text = tr("changing, {volts} V").format(volts=volts_text(motion.peak_volts))
    labels.put_centred(text, x, y, VERMILLION, ON_STATE, shift_share=PEAK_SHIFT_SHARE)


def wanted_top(highest_volts: float) -> float:
    """The least top of a picture whose highest value that is, in volts."""
    return max(highest_volts * HEADROOM, MIN_TOP_VOLTS)


def round_top(wanted_volts: float) -> float:
    """The next round number of volts."""
    decade = 10.0 ** floor(log10(wanted_volts))
    return next(t * decade for t in _TOPS if t * decade >= wanted_volts * 0.999)


def draw_curve(painter: QPainter, line: Polyline, scale: Scale) -> None:
    """The curve, line by line: as one wide path it takes Qt several times as long.

    Args:
        painter: paints the picture, with the pen of the curve.
        line: the curve.
        scale: turns time and volts into pixels.
    """
    points = [QPointF(scale.x(t), scale.y(v)) for t, v in zip(line.times_s, line.volts, strict=True)]
    joined = zip(points, points[1:], line.joined, strict=False)
    painter.drawLines([QLineF(one, other) for one, other, is_joined in joined if is_joined])
