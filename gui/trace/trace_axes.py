"""The axes of the live trace: local time of day below it, volts beside it."""

from __future__ import annotations

from itertools import pairwise
from math import ceil
from typing import Any

import numpy as np
import pyqtgraph as pg

from gui.model.visit_controller import VisitController
from gui.model.wording import dated_text
from gui.trace.trace_marks import TICKS_S
from gui.widgets.appearance import Appearance
from logger.clock import NS_PER_S
from logger.metrology.rounding import fixed
from logger.visit.storage.time_zone import local_time

TICK_ROOM = 6.0
"""A mark of the time axis takes this many small letters."""


MIN_STEP_SHARE = 0.95
"""Two marks at the start of a run are not nearer to each other than this share of the usual step."""

VOLTS_ROOM = 1.6
"""A mark of the axis of volts takes this many small letters of the height."""

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
        # Each run has its own clock: a night that was practised may lie in the future beside the run after it.
        edges = [minVal, *trace.run_starts_between(minVal, maxVal), maxVal]
        marks: list[float] = []
        for start, end in pairwise(edges):
            found = self._round_times(start, end, step)
            marks += [at for at in found if not marks or at - marks[-1] >= step * MIN_STEP_SHARE]
        return [(float(step), marks)]

    def _round_times(self, start_s: float, end_s: float, step_s: float) -> list[float]:
        """Where the local clock shows a round time within a stretch of one run.

        Args:
            start_s: where it begins, on the trace's time line.
            end_s: where it ends.
            step_s: from mark to mark.
        """
        left_utc_ns = self._controller.snapshot.trace.utc_ns(start_s)
        offset = local_time(left_utc_ns, self._controller.snapshot.zone).utcoffset()
        local_s = left_utc_ns / NS_PER_S - start_s + (offset.total_seconds() if offset else 0.0)
        first = np.ceil((start_s + local_s) / step_s) * step_s - local_s
        return [float(at) for at in np.arange(first, end_s, step_s)]

    def tickStrings(self, values: list[float], scale: float, spacing: float) -> list[str]:
        """See pyqtgraph."""
        del scale
        trace = self._controller.snapshot.trace
        pattern = "%H:%M:%S" if spacing < 60 else "%H:%M"
        zone = self._controller.snapshot.zone
        times = [local_time(round(trace.utc_ns(value) / NS_PER_S) * NS_PER_S, zone) for value in values]
        texts = [time.strftime(pattern) for time in times]
        for at, (before, time) in enumerate(pairwise(times), 1):
            if before.date() != time.date():
                texts[at] = dated_text(time, texts[at])
                for beside in (at - 1, at + 1):  # the day takes their room
                    texts[beside : beside + 1] = [""] * len(texts[beside : beside + 1])
        return texts


class VoltsAxis(pg.AxisItem):  # type: ignore[misc]
    """Volts beside the trace, each with its unit.

    Args:
        appearance: the sizes of texts.
    """

    def __init__(self, appearance: Appearance) -> None:
        super().__init__(orientation="left")
        self.appearance = appearance
        self._finest_volts = 1.0

    def tickValues(self, minVal: float, maxVal: float, size: float) -> list[tuple[float, list[float]]]:
        """See pyqtgraph."""
        most = max(int(size / (self.appearance.sizes.small * VOLTS_ROOM)), 1)
        ticks: list[tuple[float, list[float]]] = []
        for spacing, values in super().tickValues(minVal, maxVal, size):
            if sum(len(rest) for _, rest in ticks) + len(values) > most:
                # As many of the main marks as have room for their words, those between them not at all.
                ticks = ticks or [(spacing, values[:: ceil(len(values) / most)])]
                break
            ticks.append((spacing, values))
        self._finest_volts = min((spacing for spacing, _ in ticks[:_WORDED_LEVELS]), default=1.0)
        return ticks

    def tickStrings(self, values: list[float], scale: float, spacing: float) -> list[str]:
        """See pyqtgraph."""
        del scale
        # All have the same decimals, those of the finest.
        decimals = max(int(np.ceil(-np.log10(min(spacing, self._finest_volts)) - 1e-9)), 0)
        return [f"{fixed(value, decimals)} V" for value in values]


def first_ticks(axis: Any, low: float, high: float, size: float) -> list[float]:
    """The values of an axis's main marks.

    Args:
        axis: an axis of pyqtgraph.
        low: where it begins, in its unit.
        high: where it ends, in its unit.
        size: its length in pixels.
    """
    return [value for _, values in axis.tickValues(low, high, size)[:1] for value in values]
