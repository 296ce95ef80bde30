"""The mouse on the trace: what is done with it, in seconds of the trace's time line."""

from __future__ import annotations

from typing import Any

import pyqtgraph as pg
from PySide6.QtCore import QPoint, Qt, Signal

NOTCH = 120.0
"""Eighths of a degree that a wheel turns by one notch."""

ZOOM_PER_NOTCH = 1.25
"""The stretch in sight becomes so many times longer or shorter."""


class TraceViewBox(pg.ViewBox):  # type: ignore[misc]
    """Reports what the mouse does, instead of doing it: the stretch in sight is chosen elsewhere.

    The time axis hands its events on to here.
    """

    zoomed = Signal(float, float)
    """By the wheel: factor of the length, and the moment at the pointer."""
    pan_started = Signal()
    panned = Signal(float)
    """By dragging: by so many seconds since it started, positive towards earlier times."""
    stretch_dragged = Signal(float, float, bool)
    """By dragging on the time axis or with Shift: both ends, and whether the button was let go."""
    clicked = Signal(float)
    """The moment that was clicked."""
    double_clicked = Signal()
    menu_requested = Signal(float, QPoint)
    """By the right button: the moment, and the place on the screen."""

    def __init__(self) -> None:
        super().__init__(enableMenu=False)
        self.setMouseEnabled(x=True, y=False)
        self._selects = False
        self._grabbed_s = 0.0
        self._grabbed_x = 0.0

    def wheelEvent(self, ev: Any, axis: int | None = None) -> None:
        """See pyqtgraph."""
        ev.accept()
        if axis != 1:
            self.zoomed.emit(ZOOM_PER_NOTCH ** (-ev.delta() / NOTCH), self._time_s(ev.scenePos()))

    def mouseDragEvent(self, ev: Any, axis: int | None = None) -> None:
        """See pyqtgraph."""
        ev.accept()
        if axis == 1 or ev.button() == Qt.MouseButton.RightButton:
            return
        if ev.isStart():
            # Kept for the whole drag, whatever key is let go and however the picture scrolls meanwhile.
            self._selects = axis == 0 or bool(ev.modifiers() & Qt.KeyboardModifier.ShiftModifier)
            self._grabbed_x = ev.buttonDownScenePos().x()
            self._grabbed_s = self._time_s(ev.buttonDownScenePos())
            if not self._selects:
                self.pan_started.emit()
        if self._selects:
            self.stretch_dragged.emit(self._grabbed_s, self._time_s(ev.scenePos()), ev.isFinish())
        else:
            (left_s, right_s), width = self.viewRange()[0], max(self.width(), 1.0)
            moved = ev.scenePos().x() - self._grabbed_x
            self.panned.emit(moved * (right_s - left_s) / width)

    def mouseClickEvent(self, ev: Any) -> None:
        """See pyqtgraph."""
        ev.accept()
        if ev.button() == Qt.MouseButton.RightButton:
            at = ev.screenPos()
            self.menu_requested.emit(self._time_s(ev.scenePos()), QPoint(round(at.x()), round(at.y())))
        elif ev.button() == Qt.MouseButton.LeftButton:
            if ev.double():
                self.double_clicked.emit()
            else:
                self.clicked.emit(self._time_s(ev.scenePos()))

    def _time_s(self, scene_pos: Any) -> float:
        return float(self.mapSceneToView(scene_pos).x())
