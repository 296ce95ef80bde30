"""The axes of the live trace: local time of day below it, volts beside it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import numpy as np
import pyqtgraph as pg

from gui.model.visit_controller import VisitController
from gui.trace.trace_marks import TICKS_S
from gui.widgets.appearance import Appearance
from logger.clock import NS_PER_S

TICK_ROOM = 6.5
"""A mark of the time axis takes this many small letters."""


_WORDED_LEVELS = 2
"""pyqtgraph writes words at the main marks and, where there is room, at those between them."""


class ClockAxis(pg.AxisItem):  # type: ignore[misc]
    """Time of day below the trace, at round times of the local clock.

    Args:
        controller: the visit.
        appearance: the sizes of texts.
    """

    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__(orientation="bottom")
        self._controller = controller
        self.appearance = appearance

    def tickValues(self, minVal: float, maxVal: float, size: float) -> list[tuple[float, list[float]]]:
        """See pyqtgraph."""
        trace = self._controller.snapshot.trace
        if trace.origin_utc_ns is None or maxVal <= minVal:
            return []
        wanted = max(size / (self.appearance.sizes.small * TICK_ROOM), 2)
        step = next((t for t in TICKS_S if (maxVal - minVal) / t <= wanted), TICKS_S[-1])
        left_utc_ns = trace.utc_ns(minVal)
        zero_s = left_utc_ns / NS_PER_S - minVal
        offset = datetime.fromtimestamp(left_utc_ns / NS_PER_S).astimezone().utcoffset()
        local_s = zero_s + (offset.total_seconds() if offset else 0.0)
        first = np.ceil((minVal + local_s) / step) * step - local_s
        return [(float(step), [float(v) for v in np.arange(first, maxVal, step)])]

    def tickStrings(self, values: list[float], scale: float, spacing: float) -> list[str]:
        """See pyqtgraph."""
        del scale
        trace = self._controller.snapshot.trace
        pattern = "%H:%M:%S" if spacing < 60 else "%H:%M"
        times = [round(trace.utc_ns(value) / NS_PER_S, 3) for value in values]
        return [datetime.fromtimestamp(round(t)).strftime(pattern) for t in times]


class VoltsAxis(pg.AxisItem):  # type: ignore[misc]
    """Volts beside the trace, each with its unit."""

    def __init__(self) -> None:
        super().__init__(orientation="left")
        self._finest_volts = 1.0

    def tickValues(self, minVal: float, maxVal: float, size: float) -> list[tuple[float, list[float]]]:
        """See pyqtgraph."""
        ticks: list[tuple[float, list[float]]] = super().tickValues(minVal, maxVal, size)
        self._finest_volts = min((spacing for spacing, _ in ticks[:_WORDED_LEVELS]), default=1.0)
        return ticks

    def tickStrings(self, values: list[float], scale: float, spacing: float) -> list[str]:
        """See pyqtgraph."""
        del scale
        # All have the same decimals, those of the finest.
        decimals = max(int(np.ceil(-np.log10(min(spacing, self._finest_volts)) - 1e-9)), 0)
        return [f"{value:.{decimals}f} V" for value in values]


def first_ticks(axis: Any, low: float, high: float, size: float) -> list[float]:
    """The values of an axis's main marks.

    Args:
        axis: an axis of pyqtgraph.
        low: where it begins, in its unit.
        high: where it ends, in its unit.
        size: its length in pixels.
    """
    return [value for _, values in axis.tickValues(low, high, size)[:1] for value in values]
