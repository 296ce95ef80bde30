"""The level of a part of a settled span, with the uncertainty that the detector would report for it.

In: the samples of the part. Out: their mean over whole blocks, and its standard uncertainty. That the value was still
there is for the caller to know: a span of the detector covers the part.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import numpy as np

from logger.correlated_noise import Floats
from logger.settling import limits as lim
from logger.settling.level_uncertainty import SpanBlocks, level_uncertainty
from logger.settling.resolution import Resolution
from logger.settling.wander import LearnedWander


@dataclass(frozen=True, slots=True)
class StretchLevel:
    """The level of a stretch.

    Args:
        volts: the mean.
        u_volts: its standard uncertainty: scatter, slow wandering, and the meter's count.
    """

    volts: float
    u_volts: float


def stretch_level(times_s: Floats, volts: Floats) -> StretchLevel | None:
    """The level of a stretch; None where it is too short for one: the detector calls none still that is shorter.

    What earlier spans taught of how the value wanders is not known here, so the uncertainty is rather wider.

    Args:
        times_s: times of the samples, ascending, shape (n,).
        volts: the samples, shape (n,).
    """
    if len(times_s) < lim.MIN_LINE_BLOCKS or times_s[-1] - times_s[0] < lim.STILL_S:
        return None
    interval_s = float(np.median(np.diff(times_s)))
    if interval_s <= 0.0:
        return None
    # A block is as many samples as the detector waits for.
    size = max(ceil(lim.FULL_BLOCK_S / interval_s - lim.TIME_ROUNDING_S), 1)
    count = len(volts) // size
    if count < lim.MIN_LINE_BLOCKS:
        return None
    blocks = volts[: count * size].reshape(count, size).mean(axis=1)
    resolution = Resolution()
    for value in volts.tolist():
        resolution.add(value)
        if not resolution.wants_more:
            break
    latest = blocks[-lim.WANDER_BLOCKS :].tolist()
    rests_on = SpanBlocks(latest, count, float(size), size * interval_s, resolution.coarsest_volts)
    return StretchLevel(float(blocks.mean()), level_uncertainty(rests_on, LearnedWander()).u_volts)
