"""The live trace: the curve, and in it settled spans with their level, motion, steps, gaps, overload, readings, marks.

Everything about the trace is shown twice, by colour and by form: the strip at the foot of the picture carries the
shape of each stretch. Only what is in sight is asked for, at the picture's own resolution.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF
from PySide6.QtWidgets import QVBoxLayout

from gui.model.visit_controller import VisitController
from gui.trace.time_window import TimeWindow, ViewRange
from gui.trace.trace_axes import ClockAxis, VoltsAxis
from gui.trace.trace_marks import round_top, wanted_top
from gui.trace.trace_overlay import TraceLayer, TraceOverlay
from gui.widgets.appearance import Appearance, VisitWidget
from gui.widgets.theme import font
from logger.settling.events import Settled

EMPTY_TOP_VOLTS = 1.0
"""Height of a picture without a value."""

SHRINK_SHARE = 0.55
"""The height shrinks only when less than this share of it is needed: a picture that breathes cannot be read."""

MIN_COLUMNS = 200


class TracePlot(VisitWidget):
    """The curve with its events; follows the newest value until the user looks back."""

    span_changed = Signal()

    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__(controller, appearance)
        self.time_window = TimeWindow(controller.snapshot)
        self._top_volts = EMPTY_TOP_VOLTS
        axes = ClockAxis(self), VoltsAxis()
        self.overlay = TraceOverlay(controller.snapshot, self.time_window, axes, appearance)
        self.plot: Any = pg.PlotWidget(axisItems={"bottom": axes[0], "left": axes[1]})
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
        self.behind = TraceLayer(self.view, self.overlay.paint_behind, -1)
        self.before = TraceLayer(self.view, self.overlay.paint_before, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.plot)
        self.set_appearance(appearance)

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
        self._show_window()

    def window_s(self) -> tuple[float, float]:
        """Start and end of what is in sight, in seconds of the trace."""
        return self.time_window.bounds_s()

    def next_span(self) -> None:
        """Go to the next of the fixed stretches."""
        self.time_window.next_span()
        self._show_window()

    def zoom(self, factor: float) -> None:
        """Make the stretch longer (factor > 1) or shorter."""
        self.time_window.zoom(factor)
        self._show_window()

    def pan(self, share: float) -> None:
        """Move by a share of the stretch; at the newest value it follows again."""
        self.time_window.pan(share)
        self.refresh()

    def follow(self) -> None:
        """Go to the newest value and stay with it."""
        self.time_window.following = True
        self.refresh()

    def show_stretch(self, start_s: float, end_s: float) -> None:
        """Look at that stretch, from end to end, and stay there."""
        self.time_window.show_stretch(start_s, end_s)
        self._top_volts = 0.0
        self._show_window()

    def show_all(self) -> None:
        """Look at all of the trace, and follow it."""
        self.time_window.set_span(None)
        self._show_window()

    def toggle_fit(self) -> None:
        """Fit the height to the settled levels only, or to everything again."""
        self.overlay.fits_levels = not self.overlay.fits_levels
        self._top_volts = 0.0
        self.refresh()

    def ask_for_labels(self, asks: bool) -> None:
        """Let steps without a label ask for one, or not."""
        self.overlay.asks_labels = asks

    def _dragged(self) -> None:
        (left_s, right_s), _ = self.view.viewRange()
        self.time_window.drag_to(left_s, right_s)
        self._show_window()

    def _show_window(self) -> None:
        self.span_changed.emit()
        self.refresh()

    # --- drawing -----------------------------------------------------------------------------------------

    def refresh(self) -> None:
        """See `StyledWidget`."""
        start_s, end_s = self.window_s()
        columns = max(int(self.view.width()), MIN_COLUMNS)
        points = self.controller.snapshot.trace.polyline(start_s, end_s, columns)
        self.curve.setData(points.times_s, points.volts, connect=points.joined)
        self._fit_height(points.volts)
        self.view.setRange(xRange=(start_s, end_s), yRange=(0.0, self._top_volts), padding=0, update=True)
        # Else it is done while painting, which asks for a second painting.
        self.view.prepareForPaint()
        self.behind.update()
        self.before.update()

    def set_appearance(self, appearance: Appearance) -> None:
        """See `StyledWidget`."""
        self.appearance = self.overlay.appearance = appearance
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
