"""What is drawn in a trace behind and before its curve: grid, stretches, levels, steps, readings, marks, the selection.

Only what is in sight is asked for; where there is too much of a kind, it is drawn joined and without labels. Labels are
given their places once for each picture, not for each painting of it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pyqtgraph as pg
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from gui.model.visit_snapshot import VisitSnapshot
from gui.model.wording import day_and_time, duration_text, mark_text, step_label_text
from gui.trace.labels import MAX_STACKED, Labels, paint_labels
from gui.trace.selected_stretch import SelectedStretch
from gui.trace.trace_axes import first_ticks
from gui.trace.trace_marks import (
    STRETCHES,
    STRIP_SHARE,
    MarkedInterval,
    Scale,
    StepLine,
    label_motion,
    label_step,
    paint_present_state,
    paint_step_lines,
    paint_stretches,
    unseen_s,
)
from gui.widgets.appearance import Appearance
from gui.widgets.theme import BLUISH_GREEN, REDDISH_PURPLE, colour, font
from logger.metrology.rounding import grouped
from logger.settling.events import Event, Gap, Motion, Overload, Settled, Step
from logger.sweep.labelled_steps import KnownStep
from logger.translation import marked, tr, tr_n
from logger.visit.trace import Kind, Placed, Polyline

MAX_LABELLED = 60
"""More spans of a kind than this in sight are drawn joined, as columns of the picture, without labels."""

WIDE_S = 1800.0
"""With more than this in sight the lines of steps are thin and lie behind the curve, and only the largest are drawn."""

TYPICAL_STEP = "+0.00 V"
"""Of so many steps the lines are drawn then as this fits into the width."""

MAX_MOTION_LABELS = 20
"""More motion in sight is shown by its shapes only: words would hide the curve."""

EMPTY_TEXT = marked(
    "Stillvolt measures body voltage: the alternating voltage between a person's body and the earth, which the "
    "wiring and the appliances of a home bring about.\n\nThe trace appears here with the first value."
)
"""In place of the trace while there is none: what the program is for."""

SELECTION_OPACITY = 0.16


@dataclass(frozen=True, slots=True)
class Note:
    """A reading or a mark at its place in the picture."""

    x: float
    text: str
    ground: str
    ink: str


# long: it paints one picture, part by part, from one set of inputs.
class TraceOverlay:
    """Paints in the pixels of the picture.

    Args:
        snapshot: what is known of the visit log.
        selection: the stretch that is selected.
        axes: the axes of time and of volts, whose main marks the grid follows.
        appearance: theme and sizes.
    """

    def __init__(
        self,
        snapshot: VisitSnapshot,
        selection: SelectedStretch,
        axes: tuple[Any, Any],
        appearance: Appearance,
    ) -> None:
        self._snapshot = snapshot
        self._selection = selection
        self._time_axis, self._volts_axis = axes
        self.appearance = appearance
        self.fits_levels = False
        """The height is fitted to the settled levels only."""
        self.asks_labels = False
        """Steps without a label ask for one."""
        self.readout_box: QRectF | None = None
        """Where the readout under the pointer stands: labels under it are left out."""
        self.selection_is_labelled = True
        """There was room in the picture for the value of the selection."""
        self._line: Polyline | None = None
        self._labels: Labels | None = None
        self._steps: list[tuple[Placed, KnownStep | None]] = []
        self._is_thinned = False
        """So many steps are in sight that only some have lines, thin and behind the curve."""
        self._smaller_steps_s: list[float] = []
        """When the steps were of which only a tick at the foot is drawn."""
        self._notes: list[Note] = []
        self._scale: Scale | None = None

    def show_curve(self, line: Polyline) -> None:
        """Take over a curve that is new: the labels are put into their places anew."""
        self._line = line
        self._labels = None

    def labels_at(self, scale: Scale) -> Labels:
        """The labels of the picture at their places."""
        if self._labels is None or scale != self._scale:
            self._labels, self._scale = self._placed_labels(scale), scale
        return self._labels

    # --- behind the curve --------------------------------------------------------------------------------

    def paint_behind(self, painter: QPainter, scale: Scale) -> None:
        """Paint what the curve runs over: grid, grounds and strip of the stretches, settled levels."""
        self._paint_grid(painter, scale)
        stretches = [
            MarkedInterval(kind, hue, alpha, start_s, end_s)
            for kind, hue, alpha in STRETCHES
            for start_s, end_s in self._joined_spans(scale, kind)
        ]
        strip_height = self.appearance.sizes.small * STRIP_SHARE
        paint_stretches(painter, scale, strip_height, stretches)
        self._paint_present_state(painter, scale, strip_height)
        # Behind the curve and wide, so that both are seen where the curve runs along its level.
        painter.setPen(QPen(colour(BLUISH_GREEN, 0.75), 5))
        levels = [
            (scale.x(placed.start_s), scale.x(placed.end_s), scale.y(placed.event.volts))
            for placed in self._labelled_events(Settled, scale)
            if isinstance(placed.event, Settled)
        ]
        painter.drawLines([QLineF(left, y, right, y) for left, right, y in levels])
        self.labels_at(scale)
        if self._is_thinned:
            self._paint_steps(painter, scale)
            foot = scale.strip(2 * strip_height)
            for at_s in self._smaller_steps_s:
                painter.fillRect(
                    QRectF(scale.x(at_s), foot.top(), 1, strip_height), colour(REDDISH_PURPLE, 0.6)
                )
        self._paint_selection(painter, scale)

    def _paint_grid(self, painter: QPainter, scale: Scale) -> None:
        """Lines at the axes' main marks; pyqtgraph's own grid takes longer than all the rest of the picture."""
        painter.setPen(QPen(colour(self.appearance.theme.line, 0.55), 1))
        box = scale.box
        across = [scale.x(at) for at in first_ticks(self._time_axis, scale.start_s, scale.end_s, box.width())]
        up = [scale.y(volts) for volts in first_ticks(self._volts_axis, 0.0, scale.top_volts, box.height())]
        painter.drawLines([QLineF(x, box.top(), x, box.bottom()) for x in across])
        painter.drawLines([QLineF(box.left(), y, box.right(), y) for y in up])

    def _paint_present_state(self, painter: QPainter, scale: Scale, height: float) -> None:
        """The shape of what is going on now, of which the detector makes an event later."""
        snapshot = self._snapshot
        live = snapshot.live
        if live is None or live.ended or not snapshot.recording:
            return
        since_s = snapshot.trace.seconds(live.since_steady_utc_ns, live.run_id)
        if since_s < scale.end_s and snapshot.now_s > scale.start_s:
            left, right = scale.x(since_s), scale.x(snapshot.now_s)
            top = scale.strip(height).top()
            paint_present_state(painter, live.state, QRectF(left, top, max(right - left, 1.5), height))

    def _paint_selection(self, painter: QPainter, scale: Scale) -> None:
        bounds_s = self._selection.bounds_s
        if bounds_s is None or bounds_s[1] < scale.start_s or bounds_s[0] > scale.end_s:
            return
        theme = self.appearance.theme
        left, right = scale.x(bounds_s[0]), scale.x(bounds_s[1])
        box = QRectF(left, scale.box.top(), max(right - left, 1.5), scale.box.height())
        painter.fillRect(box, colour(theme.text, SELECTION_OPACITY))
        painter.setPen(QPen(QColor(theme.text), 1.5))
        for x in (left, right):
            painter.drawLine(QPointF(x, box.top()), QPointF(x, box.bottom()))

    def _joined_spans(self, scale: Scale, kind: Kind) -> list[tuple[float, float]]:
        """Where the spans of a kind begin and end; those too close to be told apart are one."""
        snapshot = self._snapshot
        closed = snapshot.events.merged_between(kind, scale.start_s, scale.end_s, 2 * scale.s_per_pixel)
        open_spans = [(p.start_s, p.end_s) for p in snapshot.open_events if isinstance(p.event, kind)]
        return [*zip(closed.start_s.tolist(), closed.end_s.tolist(), strict=True), *open_spans]

    # --- before the curve --------------------------------------------------------------------------------

    def paint_before(self, painter: QPainter, scale: Scale) -> None:
        """Paint what lies over the curve: steps, readings, marks, and the labels beside it."""
        placed = self.labels_at(scale).placed
        painter.setPen(QPen(QColor(self.appearance.theme.text), 2, Qt.PenStyle.DashLine))
        jumps = [
            scale.x(jump.at_s) for jump in self._snapshot.trace.jumps_between(scale.start_s, scale.end_s)
        ]
        painter.drawLines([QLineF(x, scale.box.top(), x, scale.box.bottom()) for x in jumps])
        for note in self._notes:
            line = QRectF(note.x - 1, scale.box.top(), 2, scale.box.height())
            painter.fillRect(line, colour(note.ground, 0.6))
        if not self._is_thinned:
            self._paint_steps(painter, scale)
        readout = self.readout_box
        in_sight = [label for label in placed if readout is None or not readout.intersects(label.box)]
        paint_labels(painter, in_sight, self.appearance.sizes.small)
        if not len(self._snapshot.trace):
            painter.setPen(QColor(self.appearance.theme.quiet))
            painter.setFont(font(self.appearance.sizes.normal))
            margin = self.appearance.sizes.small
            box = scale.box.adjusted(margin, 0, -margin, 0)
            painter.drawText(
                box, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap.value, tr(EMPTY_TEXT)
            )

    def _paint_steps(self, painter: QPainter, scale: Scale) -> None:
        lines = [
            StepLine(step.event, step.start_s, unseen_s(step, known), known is not None and known.ignored)
            for step, known in self._steps
            if isinstance(step.event, Step)
        ]
        paint_step_lines(painter, scale, lines, is_thin=self._is_thinned)

    def _placed_labels(self, scale: Scale) -> Labels:
        """Put the labels into their places, those of the highest rank first."""
        curve = None if self._line is None else scale.envelope(self._line)
        labels = Labels(self.appearance.sizes.small, scale.box, curve)
        self._label_jumps(scale, labels)
        self._label_selection(scale, labels)
        self._steps, self._notes = self._steps_in_sight(scale, labels), self._notes_in_sight(scale)
        labels.expect_lines((scale.x(placed.start_s) for placed, _ in self._steps), REDDISH_PURPLE)
        for note in self._notes:
            labels.expect_lines((note.x,), note.ground)
        # What the user did, then what has a name, then the rest; of each the newest first: the last go without a label.
        for note in self._notes:
            labels.put_along(note.text, note.x, note.ground, note.ink)
        self._label_steps(scale, labels)
        if count := len(self._smaller_steps_s):
            text = tr_n("{n} smaller step: zoom in", "{n} smaller steps: zoom in", count).format(
                n=grouped(count)
            )
            theme = self.appearance.theme
            labels.put_lines([text], scale.box.right(), scale.box.top(), theme.note, theme.text)
        labels.put_counts(self.appearance.theme.note, self.appearance.theme.text)
        self._label_stretches(scale, labels, Overload, tr("overload"))
        self._label_stretches(scale, labels, Gap, tr("no signal"))
        self._label_levels(scale, labels)
        self._label_motions(scale, labels)
        return labels

    def _label_steps(self, scale: Scale, labels: Labels) -> None:
        named: list[tuple[Placed, str]] = []
        unnamed: list[tuple[Placed, str]] = []
        for placed, known in reversed(self._steps):
            if known is not None and known.ignored:
                continue
            name = step_label_text(known, self._snapshot.every_source) if known else ""
            if self.asks_labels and known is not None and known.waits:
                unnamed.append((placed, tr("which?")))
            else:
                (named if name else unnamed).append((placed, name))
        for placed, text in (*named, *unnamed):
            assert isinstance(placed.event, Step)
            size = self._snapshot.shown_levels.step(placed.start_s, placed.event)
            label_step(labels, scale, size, placed.start_s, text)

    def _label_jumps(self, scale: Scale, labels: Labels) -> None:
        """Both moments where the time of day does not go on as the picture does, at the top, each on its own side."""
        theme, zone = self.appearance.theme, self._snapshot.zone
        for jump in self._snapshot.trace.jumps_between(scale.start_s, scale.end_s):
            x = scale.x(jump.at_s)
            before = tr("to {moment}").format(moment=day_and_time(jump.before_utc_ns, zone))
            after = tr("from {moment}").format(moment=day_and_time(jump.after_utc_ns, zone))
            for text, is_left in ((before, True), (after, False)):
                in_sight = x - scale.box.left() if is_left else scale.box.right() - x
                if in_sight < self.appearance.sizes.small:
                    continue  # nothing to be seen is of that time
                if labels.put_on_side(text, x, is_left, theme.ask, theme.on_ask):
                    continue
                over = labels.over_curve()  # it has to be there; a row lower where its own side is too narrow
                if not over.put_on_side(text, x, is_left, theme.ask, theme.on_ask):
                    over.put_lines([text], x, scale.box.top(), theme.ask, theme.on_ask)

    def _label_selection(self, scale: Scale, labels: Labels) -> None:
        self.selection_is_labelled = True
        bounds_s, theme = self._selection.bounds_s, self.appearance.theme
        if bounds_s is None:
            return
        start_s, end_s = max(bounds_s[0], scale.start_s), min(bounds_s[1], scale.end_s)
        if start_s <= end_s:
            middle = scale.x((start_s + end_s) / 2)
            self.selection_is_labelled = labels.put_lines(
                self._selection.lines(), middle, scale.box.top(), theme.chosen, theme.on_chosen
            )

    def _labelled_events(self, kind: Kind, scale: Scale) -> list[Placed]:
        """The events of a kind in sight, or none where they are too many to be labelled."""
        if self._snapshot.events.count(kind, scale.start_s, scale.end_s) > MAX_LABELLED:
            return []
        return self._snapshot.events_between(kind, scale.start_s, scale.end_s)

    def _label_levels(self, scale: Scale, labels: Labels) -> None:
        theme = self.appearance.theme
        # Most spans of a night are too narrow for any label: they are left out before anything is worked out.
        shortest_s = labels.narrowest_line() * scale.s_per_pixel
        for placed in reversed(self._labelled_events(Settled, scale)):
            assert isinstance(placed.event, Settled)
            if placed.end_s - placed.start_s < shortest_s:
                continue
            left, right = _within(scale, placed)
            text = f"{self._snapshot.shown_levels.level(placed)} V"
            labels.put_above(text, left, right, scale.y(placed.event.volts), theme.note, theme.text)

    def _label_motions(self, scale: Scale, labels: Labels) -> None:
        motions = self._labelled_events(Motion, scale)
        if self._line is None or len(motions) > MAX_MOTION_LABELS:
            return
        for placed in motions:
            assert isinstance(placed.event, Motion)
            label_motion(labels, scale, self._line, placed, placed.event)

    def _label_stretches(self, scale: Scale, labels: Labels, kind: type[Gap | Overload], word: str) -> None:
        theme = self.appearance.theme
        for placed in self._labelled_events(kind, scale):
            left, right = _within(scale, placed)
            text = f"{word} {duration_text(placed.end_s - placed.start_s)}"
            labels.put_inside(text, left, right, scale.box.center().y(), theme.note, theme.text)

    def _steps_in_sight(self, scale: Scale, labels: Labels) -> list[tuple[Placed, KnownStep | None]]:
        """The steps that are drawn: all; of many those with a name and the largest, none too near to a larger.

        Many are those of a long time, and more than there is room for labels: their lines would hide the curve.
        """
        known_of: dict[Event, KnownStep] = {known.found.step: known for known in self._snapshot.known_steps()}
        self._smaller_steps_s = []
        in_sight = self._snapshot.events_between(Step, scale.start_s, scale.end_s)
        width, _ = labels.size([TYPICAL_STEP])
        beside = scale.box.width() / width
        self._is_thinned = scale.end_s - scale.start_s > WIDE_S or len(in_sight) > MAX_STACKED * beside
        if not self._is_thinned:
            return [(placed, known_of.get(placed.event)) for placed in in_sight]

        def rank(item: tuple[Placed, KnownStep | None]) -> tuple[bool, float]:
            placed, known = item
            assert isinstance(placed.event, Step)
            is_asked = known is not None and known.waits and self.asks_labels
            is_named = known is not None and known.label is not None and not known.ignored
            return not (is_named or is_asked), -abs(placed.event.after_volts - placed.event.before_volts)

        ranked = sorted(((placed, known_of.get(placed.event)) for placed in in_sight), key=rank)
        drawn: list[tuple[Placed, KnownStep | None]] = []
        for item in ranked:
            x = scale.x(item[0].start_s)
            has_room = all(abs(scale.x(other.start_s) - x) > width / 2 for other, _ in drawn)
            if has_room and len(drawn) < beside:
                drawn.append(item)
            else:
                self._smaller_steps_s.append(item[0].start_s)
        return sorted(drawn, key=lambda item: item[0].start_s)

    def _notes_in_sight(self, scale: Scale) -> list[Note]:
        """Readings as pins with their spot, then marks as flags with their text; of each the newest first."""
        snapshot, theme = self._snapshot, self.appearance.theme
        notes: list[tuple[float, str, str, str]] = []
        for reading in reversed(snapshot.readings):
            if reading.void_reason is None and reading.end_utc_ns is not None:
                at_s = snapshot.trace.seconds(reading.end_utc_ns, reading.run_id)
                notes.append((at_s, f"▼ {reading.spot_name}", theme.chosen, theme.on_chosen))
        for mark in reversed(snapshot.marks):
            if mark.void_reason is None and mark.steady_utc_ns is not None:
                at_s = snapshot.trace.seconds(mark.steady_utc_ns, mark.run_id)
                notes.append((at_s, f"⚑ {mark_text(mark)}", theme.key, theme.on_key))
        in_sight = [note for note in notes if scale.start_s <= note[0] <= scale.end_s]
        return [Note(scale.x(at_s), text, ground, ink) for at_s, text, ground, ink in in_sight[:MAX_LABELLED]]


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

    @property
    def scale_in_sight(self) -> Scale | None:
        """From seconds and volts to pixels; None while nothing can be drawn."""
        (start_s, end_s), (_bottom, top_volts) = self._view.viewRange()
        if end_s <= start_s or top_volts <= 0:
            return None
        return Scale(self.boundingRect(), start_s, end_s, top_volts)

    def paint(self, painter: QPainter, *_: Any) -> None:
        """See Qt."""
        scale = self.scale_in_sight
        if scale is not None:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.setClipRect(scale.box)
            self._paint(painter, scale)


def _within(scale: Scale, placed: Placed) -> tuple[float, float]:
    """Left and right end of an event in the picture, in pixels."""
    return max(scale.x(placed.start_s), scale.box.left()), min(scale.x(placed.end_s), scale.box.right())
