"""Where the curve runs in a picture, so that no label is put over it."""

from __future__ import annotations

from typing import Any

import numpy as np
from PySide6.QtCore import QRectF

from logger.visit.trace import Polyline

CLEARANCE = 2.0
"""Pixels between the middle of the curve and a label: the curve is two pixels wide."""

_Floats = np.ndarray[Any, np.dtype[np.float64]]


class CurveEnvelope:
    """The highest and lowest pixel of the curve in each column of a picture.

    Args:
        box: the picture.
        start_s: time at its left edge.
        end_s: time at its right edge.
        top_volts: value at its upper edge; 0 is at the lower one.
        line: the curve.
    """

    def __init__(self, box: QRectF, start_s: float, end_s: float, top_volts: float, line: Polyline) -> None:
        self._left = box.left()
        columns = max(int(box.width()) + 1, 1)
        self._high: _Floats = np.full(columns, np.inf)
        self._low: _Floats = np.full(columns, -np.inf)
        if not len(line.times_s) or end_s <= start_s or top_volts <= 0:
            return
        x = (line.times_s - start_s) / (end_s - start_s) * box.width()
        y = box.bottom() - line.volts / top_volts * box.height()
        edges = np.arange(columns + 1, dtype=np.float64)
        # What is joined between two points crosses the edges of the columns between them.
        at_edge = np.interp(edges, x, y, left=np.nan, right=np.nan)
        before = np.clip(np.searchsorted(x, edges, side="right") - 1, 0, len(x) - 1)
        at_edge[~line.joined[before] & (x[before] < edges)] = np.nan
        self._high = np.fmin(np.fmin(at_edge[:-1], at_edge[1:]), np.inf)
        self._low = np.fmax(np.fmax(at_edge[:-1], at_edge[1:]), -np.inf)
        inside = (x >= 0) & (x < columns)
        column = x[inside].astype(np.intp)
        np.minimum.at(self._high, column, y[inside])
        np.maximum.at(self._low, column, y[inside])

    def crosses(self, box: QRectF) -> bool:
        """Whether the curve runs through a box."""
        part = self._columns(box.left(), box.right())
        above = self._high[part] <= box.bottom() + CLEARANCE
        below = self._low[part] >= box.top() - CLEARANCE
        return bool((above & below).any())

    def extent(self, left: float, right: float) -> tuple[float, float] | None:
        """The highest and lowest pixel of the curve between two pixels of the width; None where it does not run."""
        part = self._columns(left, right)
        high, low = float(self._high[part].min(initial=np.inf)), float(self._low[part].max(initial=-np.inf))
        return None if high > low else (high, low)

    def _columns(self, left: float, right: float) -> slice:
        first = max(int(left - self._left - CLEARANCE), 0)
        return slice(first, max(int(right - self._left + CLEARANCE) + 1, first))
