"""Lowest and highest value over the columns of a picture.

In: samples. Out: bands, in pieces without an empty column.
"""

from __future__ import annotations

import numpy as np

from logger.night.analysis.night_record import Floats

Bands = list[tuple[Floats, Floats, Floats]]
"""Middle times in seconds, lowest and highest volts; each array of one shape (n,)."""


def value_bands(times_s: Floats, volts: Floats, end_s: float, columns: int) -> Bands:
    """Return the band of the samples from 0 to `end_s` in so many columns.

    Args:
        times_s: times of the samples, s, rising; shape (n,).
        volts: the samples, V, shape (n,).
        end_s: end of the last column, s.
        columns: number of columns.
    """
    if not len(times_s):
        return []
    which = np.minimum((times_s / end_s * columns).astype(np.int64), columns - 1)
    starts = np.flatnonzero(np.diff(which, prepend=which[0] - 1))
    bins = which[starts]
    low, high = np.minimum.reduceat(volts, starts), np.maximum.reduceat(volts, starts)
    middle_s = (bins + 0.5) * end_s / columns
    breaks = np.flatnonzero(np.diff(bins) > 1) + 1
    pieces = zip(np.split(middle_s, breaks), np.split(low, breaks), np.split(high, breaks), strict=True)
    return [piece for piece in pieces if len(piece[0]) > 1]
