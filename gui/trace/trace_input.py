"""What pointer and keyboard do on the trace: readout, selection, zoom, pan, and the request for a menu."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent

from gui.trace.trace_canvas import TraceCanvas
from gui.trace.trace_moment import moment_lines
from logger.settling.events import Gap, Motion, Overload, Settled
from logger.visit.trace import Kind

SNAP_PIXELS = 8.0
"""An end of a selection that is no further from the end of a settled span is put there."""

CURSOR_PIXELS = 4.0
"""The readout moves by so much for each press of an arrow key."""

_STRETCHES: tuple[Kind, ...] = (Settled, Motion, Overload, Gap)


class TraceInput(QObject):
    """Takes the events of one trace.

    Args:
        trace: the trace.
    """

    def __init__(self, trace: TraceCanvas) -> None:
        super().__init__(trace)
        self._trace = trace
        self._grabbed_right_s = 0.0
        self._pointer_at: QPointF | None = None
        """Where the readout is asked for, in pixels of the picture."""
        view = trace.view
        view.zoomed.connect(self._zoom_at)
        view.pan_started.connect(self._begin_pan)
        view.panned.connect(self._pan_by)
        view.stretch_dragged.connect(self._drag_stretch)
        view.clicked.connect(self._clicked)
        view.double_clicked.connect(trace.fit)
        view.menu_requested.connect(self._request_menu)
        trace.plot.viewport().installEventFilter(self)

    # --- mouse -------------------------------------------------------------------------------------------

    def _zoom_at(self, factor: float, at_s: float) -> None:
        self._trace.time_window.zoom_at(factor, at_s)
        self._trace.show_window()

    def _begin_pan(self) -> None:
        self._grabbed_right_s = self._trace.window_s()[1]

    def _pan_by(self, back_s: float) -> None:
        self._trace.time_window.pan_to(self._grabbed_right_s - back_s)
        self._trace.show_window()

    def _drag_stretch(self, one_s: float, other_s: float, finished: bool) -> None:
        trace = self._trace
        start_s, end_s = trace.window_s()
        snap_s = SNAP_PIXELS * (end_s - start_s) / max(trace.view.width(), 1.0)
        trace.selection.select(one_s, other_s, snap_s)
        if finished:
            trace.announce_selection()
        else:
            trace.refresh()

    def _clicked(self, at_s: float) -> None:
        selection = self._trace.selection
        if selection.bounds_s is not None and not selection.contains(at_s):
            self._trace.clear_selection()

    def _request_menu(self, at_s: float, place: QPoint) -> None:
        self._trace.stretch_menu_requested.emit(*self._stretch_at(at_s), place)

    def _stretch_at(self, at_s: float) -> tuple[float, float]:
        """The stretch that a click at a moment means."""
        selection = self._trace.selection
        if selection.bounds_s is not None and selection.contains(at_s):
            return selection.bounds_s
        for kind in _STRETCHES:
            for placed in self._trace.controller.snapshot.events_between(kind, at_s, at_s):
                return placed.start_s, placed.end_s
        return at_s, at_s

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """See Qt: the readout goes with the pointer.

        The scene leaves out moves that follow each other closely: where the last of them is, the pointer rests.
        """
        if isinstance(event, QMouseEvent) and event.type() == QEvent.Type.MouseMove:
            self._point_at(self._trace.plot.mapToScene(event.position().toPoint()))
        elif event.type() == QEvent.Type.Leave:
            self._pointer_at = None
            self.show_pointer()
        return super().eventFilter(watched, event)

    # --- the readout -------------------------------------------------------------------------------------

    def _point_at(self, scene_pos: QPointF) -> None:
        view = self._trace.view
        inside = view.sceneBoundingRect().contains(scene_pos)
        self._pointer_at = view.mapFromScene(scene_pos) if inside else None
        self.show_pointer()

    def show_pointer(self) -> None:
        """Show the readout at the pointer, or none where the pointer is elsewhere or nothing was recorded."""
        trace = self._trace
        at, scale = self._pointer_at, trace.before.scale_in_sight
        box: QRectF | None = None
        lines: list[str] = []
        if at is not None and scale is not None:
            at_s = scale.start_s + at.x() * scale.s_per_pixel
            lines = moment_lines(trace.controller, at_s, scale.s_per_pixel)
            if lines:
                box = trace.overlay.labels_at(scale).place_at_pointer(lines, at.x(), at.y())
                trace.pointer.show_at(at.x(), scale.box.height(), lines, box)
        trace.pointer.setVisible(bool(lines))
        if trace.overlay.readout_box != box:
            trace.overlay.readout_box = box
            trace.before.update()
        trace.show_header()

    # --- keyboard ----------------------------------------------------------------------------------------

    def request_menu_by_keyboard(self) -> None:
        """Ask for the menu of the selection, or of what is in sight."""
        trace = self._trace
        stretch = trace.selection.bounds_s or trace.window_s()
        trace.stretch_menu_requested.emit(*stretch, trace.mapToGlobal(trace.rect().center()))

    def take_key(self, event: QKeyEvent) -> bool:
        """Arrows move the readout, with Shift they select; Esc clears the selection. Returns whether it was one."""
        trace = self._trace
        step = {Qt.Key.Key_Left: -CURSOR_PIXELS, Qt.Key.Key_Right: CURSOR_PIXELS}.get(Qt.Key(event.key()))
        held = event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
        if step is not None and held in (
            Qt.KeyboardModifier.NoModifier,
            Qt.KeyboardModifier.ShiftModifier,
        ):
            self._move_cursor(step, held == Qt.KeyboardModifier.ShiftModifier)
            return True
        if event.key() == Qt.Key.Key_Escape and trace.selection.bounds_s is not None:
            trace.clear_selection()
            return True
        return False

    def _move_cursor(self, pixels: float, selects: bool) -> None:
        scale = self._trace.before.scale_in_sight
        if scale is None:
            return
        width, height = scale.box.width(), scale.box.height()
        before_x = self._pointer_at.x() if self._pointer_at is not None else width / 2
        x = min(max(before_x + pixels, 0.0), width)
        self._pointer_at = QPointF(x, height / 2)
        if selects:
            from_s, to_s = (scale.start_s + at_x * scale.s_per_pixel for at_x in (before_x, x))
            self._extend_selection(from_s, to_s)
        else:
            self.show_pointer()

    def _extend_selection(self, from_s: float, to_s: float) -> None:
        """Move that end of the selection that the cursor is at."""
        bounds_s = self._trace.selection.bounds_s
        fixed_s = max(bounds_s or (from_s,), key=lambda end_s: abs(end_s - from_s))
        self._trace.select(fixed_s, to_s)
