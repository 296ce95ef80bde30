"""The readout under the pointer: a thin line at the moment, and beside it time, value and state."""

from __future__ import annotations

from typing import Any

import pyqtgraph as pg
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from gui.trace.labels import PlacedLabel, paint_labels
from gui.widgets.appearance import Appearance

_LINE_ROOM = 2.0


class TracePointer(pg.GraphicsObject):  # type: ignore[misc]
    """Drawn over everything; only what lies under it is painted again when it moves.

    Args:
        view: the view box of the plot.
        appearance: theme and sizes.
    """

    def __init__(self, view: Any, appearance: Appearance) -> None:
        super().__init__()
        self.appearance = appearance
        self._x = 0.0
        self._height = 0.0
        self._readout: QRectF | None = None
        self.lines: tuple[str, ...] = ()
        """What the readout says."""
        self.setZValue(2)
        self.setParentItem(view)
        self.setVisible(False)

    def show_at(self, x: float, height: float, lines: list[str], readout: QRectF | None) -> None:
        """Show the moment at a pixel.

        Args:
            x: of the width.
            height: of the picture, in pixels.
            lines: what the readout says.
            readout: its box; None where there is no room for it.
        """
        self.prepareGeometryChange()
        self._x, self._height, self._readout, self.lines = x, height, readout, tuple(lines)
        self.setVisible(True)
        self.update()

    def boundingRect(self) -> QRectF:
        """See Qt."""
        line = QRectF(self._x - _LINE_ROOM, 0.0, 2 * _LINE_ROOM, self._height)
        return line if self._readout is None else line.united(self._readout.adjusted(-2, -2, 2, 2))

    def paint(self, painter: QPainter, *_: Any) -> None:
        """See Qt."""
        theme = self.appearance.theme
        painter.setPen(QPen(QColor(theme.quiet), 1, Qt.PenStyle.DotLine))
        painter.drawLine(QPointF(self._x, 0.0), QPointF(self._x, self._height))
        if self._readout is None or not self.lines:
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        label = PlacedLabel(self._readout, self.lines, theme.panel, theme.text)
        paint_labels(painter, [label], self.appearance.sizes.small)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(theme.quiet), 1))
        painter.drawRoundedRect(self._readout, 4, 4)
