"""What a total may be while unknown shares of some phasors in it remain.

In: a total and phasors in it, of each of which a share between 0 and 1 remains. Out: the least and the most that the
magnitude of the total may be; or, once somebody read its magnitude, the totals that have it. Each share is free by
itself: what is moved or shielded differs from thing to thing, and one share for all would promise a narrower range than
anybody knows.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

NEXT_TO_NOTHING_VOLTS = 1e-9
"""Nearer to a side of the polygon than this is on it, by rounding."""

NEAR_SIDE = 1e-6
"""Beyond an end of a side by no more than this share of it is its end, by rounding."""

ANGLES = 72
"""So many directions of a total are looked at beside those at which it leaves the polygon: what lies between two of
them differs from the nearer one by less than a thousandth of its magnitude in what is left at least or at most."""


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
    corners, around = _polygon(totals, phasors)
    highest = np.abs(corners).max(axis=1)
    length2 = np.maximum(np.abs(around) ** 2, 1e-300)
    along = np.clip(-(corners * np.conj(around)).real / length2, 0.0, 1.0)
    lowest = np.abs(corners + along * around).min(axis=1)
    # Counter-clockwise what is to the left of every side is inside; a polygon without area has no inside.
    left = (np.conj(around) * -corners).imag > NEXT_TO_NOTHING_VOLTS * np.abs(around)
    inside = (left | (around == 0.0)).all(axis=1) & (around != 0.0).any(axis=1)
    return np.where(inside, 0.0, lowest), highest


def totals_of_magnitude(
    totals: NDArray[np.complex128], phasors: NDArray[np.complex128], volts: NDArray[np.float64]
) -> NDArray[np.complex128]:
    """Find what `total - sum of (1 - s_i) phasor_i` may be for shares s_i in [0, 1] where its magnitude is known.

    These are arcs of a circle within the polygon of `magnitude_range`: their ends, and points along them.

    Args:
        totals: with all of each phasor, V, shape (K,).
        phasors: V, shape (K, m), m of at least 1.
        volts: the magnitude, V, shape (K,): within the range of `magnitude_range`.

    Returns:
        V, shape (K, points); NaN in the place of a point that is outside.
    """
    corners, around = _polygon(totals, phasors)
    # |corner + t side| = volts for t in [0, 1].
    length2 = np.maximum(np.abs(around) ** 2, 1e-300)
    middle = -(corners * np.conj(around)).real / length2
    off_side2 = volts[:, None] ** 2 - np.abs(corners + middle * around) ** 2
    half = np.sqrt(np.maximum(off_side2, 0.0) / length2)
    touches = off_side2 > -NEXT_TO_NOTHING_VOLTS
    ends = []
    for at in (middle - half, middle + half):
        is_on = touches & (at > -NEAR_SIDE) & (at < 1.0 + NEAR_SIDE)
        ends.append(np.where(is_on, corners + at * around, np.nan))
    circle = volts[:, None] * np.exp(2j * np.pi * np.arange(ANGLES) / ANGLES)
    gone = (totals[:, None] - circle).reshape(-1)
    is_within = magnitude_range(gone, np.repeat(phasors, ANGLES, axis=0))[0] <= NEXT_TO_NOTHING_VOLTS
    inside = np.where(is_within.reshape(circle.shape), circle, np.nan)
    return np.concatenate([*ends, inside], axis=1)


def _polygon(
    totals: NDArray[np.complex128], phasors: NDArray[np.complex128]
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Corners of what a total may be, counter-clockwise, and the side that leads from each, V, shape (K, 2 m) each."""
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
    return corners, around
