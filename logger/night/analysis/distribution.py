"""Histograms of the still levels of two nights over the same classes, so that they can be drawn together.

In: two `NightRecord`s. Out: for each night the share of its still time in each class of volts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from logger.night.analysis.night_record import Floats, NightRecord

CLASS_COUNT = 40

TAIL_PERCENT = 1.0
"""Up to this much of either night's still samples may be outside the classes, at either end, so that one extreme value
does not squeeze all others into a single class."""


@dataclass(frozen=True, slots=True)
class LevelDistribution:
    """The histogram of a night's still level, weighted with time.

    Args:
        edges_volts: edges of the classes, V, shape (n + 1,).
        shares: share of the still time in each class, shape (n,); they add up to 1, or a little less.
        median_volts: median of the still level, V.
    """

    edges_volts: Floats
    shares: Floats
    median_volts: float


def level_distributions(
    first: NightRecord, second: NightRecord
) -> tuple[LevelDistribution, LevelDistribution] | None:
    """Compute the distribution of both nights over the same classes; None where one of them has no still time."""
    masks = first.still_mask(), second.still_mask()
    volts = first.volts[masks[0]], second.volts[masks[1]]
    if not len(volts[0]) or not len(volts[1]):
        return None
    ends = np.array([np.percentile(v, (TAIL_PERCENT, 100 - TAIL_PERCENT)) for v in volts])
    low, high = float(ends[:, 0].min()), float(ends[:, 1].max())
    if high - low < 1e-9:
        low, high = low - 0.005, high + 0.005
    edges: Floats = np.linspace(low, high, CLASS_COUNT + 1)

    def of(night: NightRecord, mask: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> LevelDistribution:
        values, durations_s = night.volts[mask], night.durations_s()[mask]
        sums, _ = np.histogram(values, edges, weights=durations_s)
        return LevelDistribution(edges, sums / max(float(durations_s.sum()), 1e-9), float(np.median(values)))

    return of(first, masks[0]), of(second, masks[1])
