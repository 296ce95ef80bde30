"""The lowest and the highest magnitude while unknown shares of some phasors remain.

In: a total and phasors in it, of each of which a share between 0 and 1 remains. Out: the least and the most that the
magnitude of the total may be. Each share is free by itself: what is moved or shielded differs from thing to thing, and
one share for all would promise a narrower range than anybody knows.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

NEXT_TO_NOTHING_VOLTS = 1e-9
"""Nearer to a side of the polygon than this is on it, by rounding."""


def magnitude_range(
    totals: NDArray[np.complex128], phasors: NDArray[np.complex128]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Find the range of `|total - sum of (1 - s_i) phasor_i|` over all shares s_i in [0, 1], exactly.

    The values that the sum takes are a zonotope in the plane (G. M. Ziegler, Lectures on Polytopes, 1995, chapter 7;
    from memory): a polygon whose sides are the phasors in the order of their angles. The magnitude is convex, so that
    it is highest at a corner; lowest where the origin is nearest to the polygon, 0 inside.

    Args:
        totals: with all of each phasor, V, shape (K,).
        phasors: V, shape (K, m).

    Returns:
        Lowest and highest magnitude, V, shape (K,) each.
    """
    if phasors.shape[1] == 0:
        return np.abs(totals), np.abs(totals)
    # Each side points up or to the right; once around is these by their angle, then the same backwards.
    down = (phasors.imag < 0.0) | ((phasors.imag == 0.0) & (phasors.real < 0.0))
    up = np.where(down, -phasors, phasors)
    sides = np.take_along_axis(up, np.argsort(np.angle(up), axis=1), axis=1)
    # The corner from which every side leads up: all that points up is taken away in full.
    first = totals - np.where(down, 0.0, phasors).sum(axis=1)
    around = np.concatenate([sides, -sides], axis=1)
    corners = first[:, None] + np.concatenate(
        [np.zeros((len(totals), 1)), around.cumsum(axis=1)[:, :-1]], axis=1
    )
    highest = np.abs(corners).max(axis=1)
    length2 = np.maximum(np.abs(around) ** 2, 1e-300)
    along = np.clip(-(corners * np.conj(around)).real / length2, 0.0, 1.0)
    lowest = np.abs(corners + along * around).min(axis=1)
    # Counter-clockwise what is to the left of every side is inside; a polygon without area has no inside.
    left = (np.conj(around) * -corners).imag > NEXT_TO_NOTHING_VOLTS * np.abs(around)
    inside = (left | (around == 0.0)).all(axis=1) & (around != 0.0).any(axis=1)
    return np.where(inside, 0.0, lowest), highest
