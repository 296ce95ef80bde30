"""The live trace: the curve, and in it settled spans with their level, motion, steps, gaps, overload, readings, marks.

Everything about the trace is shown twice, by colour and by form: the strip at the foot of the picture carries the
shape of each stretch. Only what is in sight is asked for, at the picture's own resolution.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QPoint, QSize, Qt, Signal
from PySide6.QtGui import QContextMenuEvent, QFontMetricsF, QKeyEvent
from PySide6.QtWidgets import QVBoxLayout

from gui.model.visit_controller import VisitController
from gui.model.wording import span_text
from gui.trace.selected_stretch import SelectedStretch
from gui.trace.spoken_trace import SpokenTrace
from gui.trace.time_window import TimeWindow, ViewRange
from gui.trace.trace_axes import ClockAxis, VoltsAxis
from gui.trace.trace_header import TraceHeader
from gui.trace.trace_input import TraceInput
from gui.trace.trace_marks import round_top, wanted_top
from gui.trace.trace_overlay import TraceLayer, TraceOverlay
from gui.trace.trace_pointer import TracePointer
from gui.trace.trace_view_box import TraceViewBox
from gui.translation import tr
from gui.widgets.appearance import Appearance, VisitWidget
from gui.widgets.theme import font
from logger.settling.events import Settled

EMPTY_TOP_VOLTS = 1.0
"""Height of a picture without a value."""

SHRINK_SHARE = 0.55
"""The height shrinks only when less than this share of it is needed: a picture that breathes cannot be read."""

MIN_COLUMNS = 200

ZOOM_FACTOR = 2.0
"""The stretch in sight becomes so many times longer or shorter by the keyboard and the menu."""

PAN_SHARE = 0.25
"""Of the stretch in sight, by which it moves by the keyboard and the menu."""


# long: it is what the window knows of the trace; each part of it is a class of its own, and this joins them.
class TracePlot(VisitWidget):
    """The curve with its events; follows the newest value until the user looks back."""

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
        self._spoken = SpokenTrace(self)
        self._top_volts = EMPTY_TOP_VOLTS
        self._range_before_fit: ViewRange | None = None
        self._axes = ClockAxis(controller, appearance), VoltsAxis()
        self.overlay = TraceOverlay(controller.snapshot, self.selection, self._axes, appearance)
        self.header = TraceHeader(appearance)
        self.header.go_live_clicked.connect(self.go_live)
        self.view = TraceViewBox()
        self.plot: Any = pg.PlotWidget(
            viewBox=self.view, axisItems={"bottom": self._axes[0], "left": self._axes[1]}
        )
        self.plot.setFocusPolicy(Qt.FocusPolicy.NoFocus)
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
        self.input = TraceInput(self)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.header)
        layout.addWidget(self.plot)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setAccessibleName(tr("Trace of the body voltage"))
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
        self.show_window()

    def window_s(self) -> tuple[float, float]:
        """Start and end of what is in sight, in seconds of the trace."""
        return self.time_window.bounds_s()

    def next_span(self) -> None:
        """Go to the next of the fixed stretches."""
        self.time_window.next_span()
        self.show_window()

    def zoom(self, factor: float) -> None:
        """Make the stretch longer (factor > 1) or shorter."""
        self.time_window.zoom(factor)
        self.show_window()

    def zoom_in(self) -> None:
        """Show a shorter stretch."""
        self.zoom(1 / ZOOM_FACTOR)

    def zoom_out(self) -> None:
        """Show a longer stretch."""
        self.zoom(ZOOM_FACTOR)

    def pan(self, share: float) -> None:
        """Move by a share of the stretch; at the newest value it follows again."""
        self.time_window.pan(share)
        self.show_window()

    def pan_back(self) -> None:
        """Look at what was before."""
        self.pan(-PAN_SHARE)

    def pan_forward(self) -> None:
        """Look at what came after."""
        self.pan(PAN_SHARE)

    def go_live(self) -> None:
        """Go to the newest value and stay with it."""
        self.time_window.go_live()
        self.show_window()

    def why_not_go_live(self) -> str:
        """Why one cannot go live; empty where one can."""
        return tr("The trace follows the newest value already.") if self.following else ""

    def show_stretch(self, start_s: float, end_s: float) -> None:
        """Look at that stretch, from end to end, and stay there."""
        self.time_window.show_stretch(start_s, end_s)
        self._top_volts = 0.0
        self.show_window()

    def show_all(self) -> None:
        """Look at all of the trace, and follow it."""
        self.time_window.set_span(None)
        self.show_window()

    def fit(self) -> None:
        """Look at all of the trace; the second time, at what was in sight before."""
        before, self._range_before_fit = self._range_before_fit, None
        if self.span_s is not None:
            self._range_before_fit = self.view_range
            self.show_all()
        elif before is not None:
            self.view_range = before

    def toggle_fit(self) -> None:
        """Fit the height to the settled levels only, or to everything again."""
        self.overlay.fits_levels = not self.overlay.fits_levels
        self._top_volts = 0.0
        self.show_window()

    def ask_for_labels(self, asks: bool) -> None:
        """Let steps without a label ask for one, or not."""
        self.overlay.asks_labels = asks

    def show_window(self) -> None:
        """Show the stretch that the time window holds by now."""
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

    def select_in_sight(self) -> None:
        """Select the whole stretch that is in sight."""
        self.select(*self.window_s())

    def why_not_select_in_sight(self) -> str:
        """Why nothing can be selected; empty where it can."""
        return "" if len(self.controller.snapshot.trace) else tr("Nothing has been recorded yet.")

    def clear_selection(self) -> None:
        """Select nothing."""
        self.selection.clear()
        self.announce_selection()

    def why_not_clear_selection(self) -> str:
        """Why the selection cannot be cleared; empty where it can."""
        return "" if self.selection.bounds_s is not None else tr("No stretch of the trace is selected.")

    def show_selection(self) -> None:
        """Look at the selection from end to end."""
        if self.selection.bounds_s is not None:
            self.show_stretch(*self.selection.bounds_s)

    def selection_text(self) -> str:
        """The selection with times and value in one sentence, to be copied; empty without one."""
        return self.selection.sentence()

    def announce_selection(self) -> None:
        """Show the selection as it is by now, and say that it has changed."""
        self.selection_changed.emit()
        self.refresh()

    # --- a picture of it ---------------------------------------------------------------------------------

    def save_picture(self, path: Path, *, replace: bool = False) -> None:
        """Save what is in sight as a PNG or SVG file, with axes, name and date.

        Args:
            path: the file; its suffix says which kind.
            replace: whether the user has asked to replace what another program has written there.

        Raises:
            StillvoltError: the path may not be written; see `logger.output_file.refuse_outputs`.
        """
        # Qt's SVG module is loaded when a picture is saved, not at each start.
        from gui.trace.saved_picture import SavedPicture  # noqa: PLC0415 - start-up time

        scale = self.before.scale_in_sight
        assert scale is not None
        picture = SavedPicture(self.controller, self.selection, scale, self.overlay.asks_labels)
        picture.write(path, replace=replace)

    def why_not_save_picture(self) -> str:
        """Why there is nothing to save; empty where there is."""
        return "" if len(self.controller.snapshot.trace) else tr("Nothing has been recorded yet.")

    # --- drawing -----------------------------------------------------------------------------------------

    def refresh(self) -> None:
        """See `StyledWidget`."""
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
        self.input.show_pointer()
        self.behind.update()
        self.before.update()
        self._spoken.refresh()

    def set_appearance(self, appearance: Appearance) -> None:
        """See `StyledWidget`."""
        self.appearance = self.overlay.appearance = self.pointer.appearance = appearance
        self._axes[0].appearance = appearance
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
        """What is in sight, and whether it is live or paused."""
        window, recording = self.time_window, self.controller.snapshot.recording
        span = span_text(window.length_s)
        if not window.following:
            text = tr("Paused: {span} in sight").format(span=span)
        elif window.span_s is None:
            text = (tr("Live: all {span}") if recording else tr("All {span}")).format(span=span)
        else:
            text = (tr("Live: last {span}") if recording else tr("Last {span}")).format(span=span)
        return tr("{text}, height: still levels").format(text=text) if self.overlay.fits_levels else text

    def show_header(self) -> None:
        """Show above the picture the state of the trace, or what found no room in the picture."""
        text = self.state_text()
        scale = self.before.scale_in_sight
        if scale is not None and self.selection.bounds_s is not None:
            self.overlay.labels_at(scale)
            if not self.overlay.selection_is_labelled:
                text = ", ".join(self.selection.lines())
        if self.pointer.isVisible() and self.overlay.readout_box is None:
            text = ", ".join(self.pointer.lines)
        self.header.show_state(text, not self.following)

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

    # --- events of Qt ------------------------------------------------------------------------------------

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """See Qt: asked for by the keyboard; the right button is reported by the view."""
        if event.reason() == QContextMenuEvent.Reason.Keyboard:
            self.input.request_menu_by_keyboard()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """See Qt: arrows move the readout, with Shift they select, Esc clears the selection."""
        if not self.input.take_key(event):
            super().keyPressEvent(event)
