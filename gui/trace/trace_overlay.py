"""What is drawn in the live trace behind and before its curve: grid, stretches, levels, steps, readings, marks.

Only what is in sight is asked for; where there is too much of a kind, it is drawn joined and without labels.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pyqtgraph as pg
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen

from gui.model.visit_snapshot import VisitSnapshot
from gui.model.wording import duration_text, span_text, step_label_text, volts_text
from gui.trace.time_window import TimeWindow
from gui.trace.trace_axes import first_ticks
from gui.trace.trace_marks import (
    STRETCHES,
    STRIP_SHARE,
    Labels,
    MarkedInterval,
    Scale,
    label_motion,
    label_step,
    paint_step_lines,
    paint_stretches,
)
from gui.widgets.appearance import Appearance
from gui.widgets.theme import BLUISH_GREEN, colour, font
from logger.settling.events import Event, Gap, Motion, Overload, Settled, Step
from logger.sweep.labelled_steps import KnownStep
from logger.visit.trace import Kind, Placed

MAX_LABELLED = 60
"""More spans of a kind than this in sight are drawn joined, as columns of the picture, without labels."""

MAX_MOTION_LABELS = 20
"""More motion in sight is shown by its shapes only: words would hide the curve."""


@dataclass(frozen=True, slots=True)
class Note:
    """A reading or a mark at its place in the picture."""

    x: float
    text: str
    ground: str
    ink: str


class TraceOverlay:
    """Paints in the pixels of the picture.

    Args:
        snapshot: what is known of the visit log.
        window: which stretch is in sight.
        axes: the axes of time and of volts, whose main marks the grid follows.
        appearance: theme and sizes.
    """

    def __init__(
        self, snapshot: VisitSnapshot, window: TimeWindow, axes: tuple[Any, Any], appearance: Appearance
    ) -> None:
        self._snapshot = snapshot
        self._window = window
        self._time_axis, self._volts_axis = axes
        self.appearance = appearance
        self.fits_levels = False
        """The height is fitted to the settled levels only."""
        self.asks_labels = False
        """Steps without a label ask for one."""

    # --- behind the curve --------------------------------------------------------------------------------

    def paint_behind(self, painter: QPainter, scale: Scale) -> None:
        """Paint what the curve runs over: grid, grounds and strip of the stretches, settled levels."""
        self._paint_grid(painter, scale)
        stretches = [
            MarkedInterval(kind, hue, alpha, start_s, end_s)
            for kind, hue, alpha in STRETCHES
            for start_s, end_s in self._joined_spans(scale, kind)
        ]
        paint_stretches(painter, scale, self.appearance.sizes.small * STRIP_SHARE, stretches)
        # Behind the curve and wide, so that both are seen where the curve runs along its level.
        painter.setPen(QPen(colour(BLUISH_GREEN, 0.75), 5))
        for placed in self._labelled_events(Settled, scale):
            assert isinstance(placed.event, Settled)
            y = scale.y(placed.event.volts)
            painter.drawLine(QPointF(scale.x(placed.start_s), y), QPointF(scale.x(placed.end_s), y))

    def _paint_grid(self, painter: QPainter, scale: Scale) -> None:
        """Lines at the axes' main marks; pyqtgraph's own grid takes longer than all the rest of the picture."""
        painter.setPen(QPen(colour(self.appearance.theme.line, 0.55), 1))
        box = scale.box
        for time_s in first_ticks(self._time_axis, scale.start_s, scale.end_s, box.width()):
            x = scale.x(time_s)
            painter.drawLine(QPointF(x, box.top()), QPointF(x, box.bottom()))
        for volts in first_ticks(self._volts_axis, 0.0, scale.top_volts, box.height()):
            y = scale.y(volts)
            painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))

    def _joined_spans(self, scale: Scale, kind: Kind) -> list[tuple[float, float]]:
        """Where the spans of a kind begin and end; those too close to be told apart are one."""
        snapshot = self._snapshot
        closed = snapshot.events.merged_between(kind, scale.start_s, scale.end_s, 2 * scale.s_per_pixel)
        open_spans = [(p.start_s, p.end_s) for p in snapshot.open_events if isinstance(p.event, kind)]
        return [*zip(closed.start_s.tolist(), closed.end_s.tolist(), strict=True), *open_spans]

    # --- before the curve --------------------------------------------------------------------------------

    def paint_before(self, painter: QPainter, scale: Scale) -> None:
        """Paint what lies over the curve: steps, readings, marks, and the labels, of which none covers another."""
        labels = Labels(painter, self.appearance)
        labels.keep_free(self._caption_box(scale))
        notes = self._notes_in_sight(scale)
        for note in notes:
            line = QRectF(note.x - 1, scale.box.top(), 2, scale.box.height())
            painter.fillRect(line, colour(note.ground, 0.6))
        self._paint_steps(painter, scale, labels)
        for note in notes:
            labels.put_top(note.text, note.x, scale.box, note.ground, note.ink)
        self._label_stretches(scale, labels, Overload, "overload")
        self._label_stretches(scale, labels, Gap, "no signal")
        self._label_levels(scale, labels)
        self._label_motions(scale, labels)
        self._paint_caption(painter, scale)
        if not len(self._snapshot.trace):
            painter.setPen(QColor(self.appearance.theme.quiet))
            painter.setFont(font(self.appearance.sizes.normal))
            painter.drawText(
                scale.box, Qt.AlignmentFlag.AlignCenter, "The trace appears here with the first value."
            )

    def _labelled_events(self, kind: Kind, scale: Scale) -> list[Placed]:
        """The events of a kind in sight, or none where they are too many to be labelled."""
        if self._snapshot.events.count(kind, scale.start_s, scale.end_s) > MAX_LABELLED:
            return []
        return self._snapshot.events_between(kind, scale.start_s, scale.end_s)

    def _label_levels(self, scale: Scale, labels: Labels) -> None:
        theme = self.appearance.theme
        for placed in self._labelled_events(Settled, scale):
            assert isinstance(placed.event, Settled)
            left, right = _within(scale, placed)
            text = f"{volts_text(placed.event.volts, placed.event.u_volts)} V"
            labels.put_above(text, left, right, scale.y(placed.event.volts), theme.note, theme.text)

    def _label_motions(self, scale: Scale, labels: Labels) -> None:
        motions = self._labelled_events(Motion, scale)
        for placed in motions if len(motions) <= MAX_MOTION_LABELS else ():
            assert isinstance(placed.event, Motion)
            label_motion(labels, scale, placed, placed.event)

    def _label_stretches(self, scale: Scale, labels: Labels, kind: type[Gap | Overload], word: str) -> None:
        theme = self.appearance.theme
        for placed in self._labelled_events(kind, scale):
            left, right = _within(scale, placed)
            text = f"{word} {duration_text(placed.end_s - placed.start_s)}"
            labels.put_inside(text, left, right, scale.box.center().y(), theme.note, theme.text)

    def _paint_steps(self, painter: QPainter, scale: Scale, labels: Labels) -> None:
        snapshot = self._snapshot
        known_of: dict[Event, KnownStep] = {known.found.step: known for known in snapshot.known_steps()}
        steps = [(placed, known_of.get(placed.event)) for placed in self._labelled_events(Step, scale)]
        lines = [
            (placed.event, placed.start_s, known is not None and known.ignored)
            for placed, known in steps
            if isinstance(placed.event, Step)
        ]
        paint_step_lines(painter, scale, lines)
        # The newest first: where there is not room for all labels, it is the older ones that go without.
        for placed, known in reversed(steps):
            assert isinstance(placed.event, Step)
            if known is not None and known.ignored:
                continue
            name = step_label_text(known, snapshot.every_source) if known else ""
            text = "which?" if self.asks_labels and known is not None and not name else name
            label_step(labels, scale, placed.event, placed.start_s, text)

    def _notes_in_sight(self, scale: Scale) -> list[Note]:
        """Readings as pins with their spot, marks as flags with their text."""
        snapshot, theme = self._snapshot, self.appearance.theme
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
        newest = in_sight[-MAX_LABELLED:]
        return [Note(scale.x(at_s), text, ground, ink) for at_s, text, ground, ink in newest]

    # --- caption -----------------------------------------------------------------------------------------

    def _caption(self) -> str:
        """How long a stretch is in sight, and whether it follows the newest value."""
        window = self._window
        span = "all" if window.span_s is None else span_text(window.span_s)
        text = span if window.following else f"{span} — looking back, F follows"
        return f"{text} — height: still levels" if self.fits_levels else text

    def _caption_box(self, scale: Scale) -> QRectF:
        small = self.appearance.sizes.small
        width = QFontMetricsF(font(small)).horizontalAdvance(self._caption())
        return QRectF(
            scale.box.left() + small * 0.5, scale.box.top() + small * 0.4, width + small, small * 1.7
        )

    def _paint_caption(self, painter: QPainter, scale: Scale) -> None:
        theme, box = self.appearance.theme, self._caption_box(scale)
        follows = self._window.following
        painter.setFont(font(self.appearance.sizes.small))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.note if follows else theme.ask))
        painter.drawRoundedRect(box, 4, 4)
        painter.setPen(QColor(theme.quiet if follows else theme.on_ask))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, self._caption())


class TraceLayer(pg.GraphicsObject):  # type: ignore[misc]
    """Paints in the picture's pixels, behind or before the curve.

    Args:
        view: the view box of the plot.
        paint: paints with the scale that is in sight.
        z: below 0 for behind the curve, above 0 for before it.
    """

    def __init__(self, view: Any, paint: Callable[[QPainter, Scale], None], z: float) -> None:
        super().__init__()
        self._view = view
        self._paint = paint
        self.setZValue(z)
        self.setParentItem(view)
        view.sigResized.connect(lambda _: self.prepareGeometryChange())

    def boundingRect(self) -> QRectF:
        """See Qt."""
        return QRectF(self._view.rect())

    def paint(self, painter: QPainter, *_: Any) -> None:
        """See Qt."""
        (start_s, end_s), (_bottom, top_volts) = self._view.viewRange()
        box = self.boundingRect()
        if end_s <= start_s or top_volts <= 0:
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setClipRect(box)
        self._paint(painter, Scale(box, start_s, end_s, top_volts))


def _within(scale: Scale, placed: Placed) -> tuple[float, float]:
    """Left and right end of an event in the picture, in pixels."""
    return max(scale.x(placed.start_s), scale.box.left()), min(scale.x(placed.end_s), scale.box.right())
