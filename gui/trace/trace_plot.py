"""The live trace as a widget: its picture, what the window's actions do with it, pointer, keyboard and its words."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QContextMenuEvent, QKeyEvent

from gui.model.visit_controller import VisitController
from gui.trace.spoken_trace import SpokenTrace
from gui.trace.trace_canvas import TraceCanvas
from gui.trace.trace_input import TraceInput
from gui.widgets.appearance import Appearance
from gui.widgets.focus_ring import FocusRing
from logger.translation import tr

ZOOM_FACTOR = 2.0
"""The stretch in sight becomes so many times longer or shorter by the keyboard and the menu."""

PAN_SHARE = 0.25
"""Of the stretch in sight, by which it moves by the keyboard and the menu."""


class TracePlot(TraceCanvas):
    """The trace; follows the newest value until the user looks back."""

    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__(controller, appearance)
        self._spoken = SpokenTrace(self)
        self.input = TraceInput(self)
        self.header.go_live_clicked.connect(self.go_live)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.focus_ring = FocusRing(self)
        self.setAccessibleName(tr("Trace of the body voltage"))
        self.set_appearance(appearance)

    def refresh(self) -> None:
        """See `StyledWidget`."""
        super().refresh()
        self.input.show_pointer()
        self._spoken.refresh()

    # --- what is in sight -----------------------------------------------------------------------------

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
        if not self.controller.snapshot.recording:
            return tr("Nothing is being recorded, so there is no live value.")
        return tr("The trace follows the newest value already.") if self.following else ""

    def show_stretch(self, start_s: float, end_s: float) -> None:
        """Look at that stretch, from end to end, and stay there."""
        self.time_window.show_stretch(start_s, end_s)
        self.show_window(refit_height=True)

    def toggle_fit(self) -> None:
        """Fit the height to the settled levels only, or to everything again."""
        self.overlay.fits_levels = not self.overlay.fits_levels
        self.show_window(refit_height=True)

    def ask_for_labels(self, asks: bool) -> None:
        """Let steps without a label ask for one, or not."""
        self.overlay.asks_labels = asks

    # --- the selection --------------------------------------------------------------------------------

    def select_in_sight(self) -> None:
        """Select the whole stretch that is in sight."""
        self.select(*self.window_s())

    def why_not_select_in_sight(self) -> str:
        """Why nothing can be selected; empty where it can."""
        return "" if len(self.controller.snapshot.trace) else tr("Nothing has been recorded yet.")

    def why_not_clear_selection(self) -> str:
        """Why the selection cannot be cleared; empty where it can."""
        return "" if self.selection.bounds_s is not None else tr("No stretch of the trace is selected.")

    def show_selection(self) -> None:
        """Look at the selection from end to end."""
        if self.selection.bounds_s is not None:
            self.show_stretch(*self.selection.bounds_s)

    # --- a picture of it ------------------------------------------------------------------------------

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

    # --- events of Qt ---------------------------------------------------------------------------------

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """See Qt: asked for by the keyboard; the right button is reported by the view."""
        if event.reason() == QContextMenuEvent.Reason.Keyboard:
            self.input.request_menu_by_keyboard()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """See Qt: arrows move the readout, with Shift they select, Esc clears the selection."""
        if not self.input.take_key(event):
            super().keyPressEvent(event)
