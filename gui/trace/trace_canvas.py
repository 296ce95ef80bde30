"""The picture of the live trace: the curve, settled spans with their level, motion, steps, gaps, readings, marks.

Everything about the trace is shown twice, by colour and by form: the strip at the foot of the picture carries the
shape of each stretch. Only what is in sight is asked for, at the picture's own resolution.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QPoint, QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF
from PySide6.QtWidgets import QVBoxLayout

from gui.model.visit_controller import VisitController
from gui.model.wording import duration_text, span_text
from gui.trace.selected_stretch import SelectedStretch
from gui.trace.time_window import FIRST_SPAN_S, TimeWindow, ViewRange
from gui.trace.trace_axes import ClockAxis, VoltsAxis
from gui.trace.trace_header import TraceHeader
from gui.trace.trace_marks import round_top, wanted_top
from gui.trace.trace_overlay import TraceLayer, TraceOverlay
from gui.trace.trace_pointer import TracePointer
from gui.trace.trace_view_box import TraceViewBox
from gui.widgets.appearance import Appearance, VisitWidget
from gui.widgets.theme import font
from logger.settling.events import Settled
from logger.translation import tr
from logger.visit.storage.time_zone import local_time, offset_unlike

EMPTY_TOP_VOLTS = 1.0
"""Height of a picture without a value."""

SHRINK_SHARE = 0.55
"""The height shrinks only when less than this share of it is needed: a picture that breathes cannot be read."""

MIN_COLUMNS = 200


class TraceCanvas(VisitWidget):
    """The curve with its events, the stretch in sight and the selected one; `TracePlot` takes pointer and keyboard."""

    span_changed = Signal()
    selection_changed = Signal()
    stretch_menu_requested = Signal(float, float, QPoint)
    """The user asks what can be done with a stretch: its start and end on the trace's time line, in seconds, and the
    place on the screen. It is the selection where that was clicked, else the settled span, motion, gap or overload at
    the pointer, else the moment alone."""

    # long: every part is made and joined here.
    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__(controller, appearance)
        self.time_window = TimeWindow(controller.snapshot)
        self.selection = SelectedStretch(controller)
        self._top_volts = EMPTY_TOP_VOLTS
        self._range_before_fit: ViewRange | None = None
        live = controller.snapshot.live
        self._run_id = live.run_id if live is not None else None
        """The run that was recorded last when the trace was drawn."""
        self.whole_s: Callable[[], tuple[float, float] | None] = lambda: None
        """What is all of it for who looks at a part, start and end, s; None: the whole trace."""
        self._axes = ClockAxis(controller, appearance), VoltsAxis(appearance)
        self.overlay = TraceOverlay(controller.snapshot, self.selection, self._axes, appearance)
        self.header = TraceHeader(appearance)
        self.view = TraceViewBox()
        self.plot: Any = pg.PlotWidget(
            viewBox=self.view, axisItems={"bottom": self._axes[0], "left": self._axes[1]}
        )
        self.plot.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.plot.viewport().setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.plot.setMenuEnabled(False)
        self.plot.hideButtons()
        self.plot.setDefaultPadding(0.0)
        self.view.disableAutoRange()
        self.curve: Any = pg.PlotCurveItem(skipFiniteCheck=True, antialias=False)
        # Two pixels wide, to be seen from the bed: drawn as one smoothed path that takes Qt 60 to 200 ms a frame,
        # line by line 10.
        self.curve.setSegmentedLineMode("on")
        self.plot.addItem(self.curve)
        self.behind = TraceLayer(self.view, self.overlay.paint_behind, -1)
        self.before = TraceLayer(self.view, self.overlay.paint_before, 1)
        self.pointer = TracePointer(self.view, appearance)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.header)
        layout.addWidget(self.plot)

    # --- what is in sight --------------------------------------------------------------------------------

    @property
    def span_s(self) -> float | None:
        """Length of the stretch that was chosen; None for all of the trace."""
        return self.time_window.span_s

    @property
    def following(self) -> bool:
        """Whether the newest value stays in sight."""
        return self.time_window.following

    @property
    def view_range(self) -> ViewRange:
        """What is in sight, to come back to."""
        return self.time_window.view_range

    @view_range.setter
    def view_range(self, view_range: ViewRange) -> None:
        self.time_window.view_range = view_range
        self.show_window()

    def window_s(self) -> tuple[float, float]:
        """Start and end of what is in sight, in seconds of the trace."""
        return self.time_window.bounds_s()

    def show_all(self) -> None:
        """Look at all of the trace, and follow it."""
        self.time_window.set_span(None)
        self.show_window()

    def fit(self) -> None:
        """Look at all of the trace, or of the night on its stage; the second time, at what was in sight before."""
        before, self._range_before_fit = self._range_before_fit, None
        whole_s = self.whole_s()
        if whole_s is not None:
            old = self.view_range
            self.time_window.show_stretch(*whole_s)
            if self.view_range != old:
                self._range_before_fit = old
            elif before is not None:
                self.time_window.view_range = before
            self.show_window(refit_height=True)
        elif self.span_s is not None:
            self._range_before_fit = self.view_range
            self.show_all()
        elif before is not None:
            self.view_range = before

    def show_window(self, refit_height: bool = False) -> None:
        """Show the stretch that the time window holds by now.

        Args:
            refit_height: whether the height may also shrink a little; else it stays as calm as it can.
        """
        if refit_height:
            self._top_volts = 0.0
        self.span_changed.emit()
        self.refresh()

    # --- the selection -----------------------------------------------------------------------------------

    def select(self, start_s: float, end_s: float) -> None:
        """Select a stretch and show its value.

        Args:
            start_s: on the trace's time line.
            end_s: on the trace's time line.
        """
        self.selection.select(start_s, end_s)
        self.announce_selection()

    def clear_selection(self) -> None:
        """Select nothing."""
        self.selection.clear()
        self.announce_selection()

    def selection_text(self) -> str:
        """The selection with times and value in one sentence, to be copied; empty without one."""
        return self.selection.sentence()

    def announce_selection(self) -> None:
        """Show the selection as it is by now, and say that it has changed."""
        self.selection_changed.emit()
        self.refresh()

    # --- drawing -----------------------------------------------------------------------------------------

    def _go_to_new_run(self) -> None:
        """Follow a recording that has just begun, at the usual length: what was looked at is of the one before."""
        live = self.controller.snapshot.live
        if live is None or live.run_id == self._run_id:
            return
        self._run_id, self._range_before_fit = live.run_id, None
        self.time_window.view_range = ViewRange(FIRST_SPAN_S, following=True, right_s=0.0)

    def refresh(self) -> None:
        """See `StyledWidget`."""
        self._go_to_new_run()
        start_s, end_s = self.window_s()
        columns = max(int(self.view.width()), MIN_COLUMNS)
        line = self.controller.snapshot.trace.polyline(start_s, end_s, columns)
        self.curve.setData(line.times_s, line.volts, connect=line.joined)
        self._fit_height(line.volts)
        self.view.setRange(xRange=(start_s, end_s), yRange=(0.0, self._top_volts), padding=0, update=True)
        # Else it is done while painting, which asks for a second painting.
        self.view.prepareForPaint()
        self.selection.refresh()
        self.overlay.show_curve(line)
        self.behind.update()
        self.before.update()

    def set_appearance(self, appearance: Appearance) -> None:
        """See `StyledWidget`."""
        self.appearance = self.overlay.appearance = self.pointer.appearance = appearance
        self._axes[0].appearance = self._axes[1].appearance = appearance
        theme, sizes = appearance.theme, appearance.sizes
        self.header.set_appearance(appearance)
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

    def state_text(self) -> str:
        """What is in sight, and whether it is live or paused; empty before there is a value."""
        if not len(self.controller.snapshot.trace):
            return ""
        window, recording = self.time_window, self.controller.snapshot.recording
        span = span_text(window.length_s)
        if not window.following and not recording:
            text = tr("{span} in sight").format(span=span)
        elif not window.following:
            text = tr("Paused: {span} in sight").format(span=span)
        elif window.span_s is None or window.span_s >= self.controller.snapshot.now_s:
            # What is recorded, as the stage list counts it: the room ahead of the newest value is none of it.
            span, count = (
                duration_text(self.controller.snapshot.now_s),
                self.controller.snapshot.trace.run_count,
            )
            if count > 1:  # the stage list has the newest one alone
                words = (
                    tr("Live: all {count} recordings, {span}")
                    if recording
                    else tr("All {count} recordings, {span}")
                )
            else:
                words = tr("Live: all {span}") if recording else tr("All {span}")
            text = words.format(span=span, count=count)
        else:
            text = (tr("Live: last {span}") if recording else tr("Last {span}")).format(span=span)
        return tr("{text}, height: steady levels").format(text=text) if self.overlay.fits_levels else text

    def zone_text(self) -> str:
        """The offset that the window's times have in what is in sight; empty where it is that of this computer."""
        snapshot = self.controller.snapshot
        utc_ns = self.controller.clock.utc_ns()
        if len(snapshot.trace):
            utc_ns = snapshot.trace.utc_ns(min(self.window_s()[1], snapshot.now_s))
        offset = offset_unlike(local_time(utc_ns, snapshot.zone), None)
        return offset and tr("Times in {offset}").format(offset=offset)

    def show_header(self) -> None:
        """Show above the picture the state of the trace, or what found no room in the picture."""
        text = state = self.state_text()
        scale = self.before.scale_in_sight
        if scale is not None and self.selection.bounds_s is not None:
            self.overlay.labels_at(scale)
            if not self.overlay.selection_is_labelled:
                text = ", ".join(self.selection.lines())
        if self.pointer.isVisible() and self.overlay.readout_box is None:
            text = ", ".join(self.pointer.lines)
        self.header.show_state(
            text,
            self.zone_text(),
            not self.following and self.controller.snapshot.recording,
            counts=text == state and self.following and self.controller.snapshot.recording,
        )

    def _fit_height(self, volts: np.ndarray[Any, Any]) -> None:
        if not len(volts):
            return
        highest = float(volts.max())
        if self.overlay.fits_levels:
            settled = self.controller.snapshot.events_between(Settled, *self.window_s())
            levels = [p.event.volts for p in settled if isinstance(p.event, Settled)]
            highest = max(levels) if levels else highest
        wanted = wanted_top(highest)
        # Grows at once.
        if wanted > self._top_volts or wanted < SHRINK_SHARE * self._top_volts:
            self._top_volts = round_top(wanted)
