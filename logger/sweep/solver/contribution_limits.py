"""What each circuit can give at all: the least and the most in any house that agrees with the readings.

The posterior weighs houses; these limits exclude only what the readings exclude. With the sums `x_S = b + sum over S`
a circuit is a difference of sums whose magnitudes were read, so each reading limits it by the triangle inequality,
whatever the phases. Where every direction lies on one line (split and single phase) and the readings are few, the signs
of all sums are tried together with the part of the background that lies across, and intervals are propagated through
the equations (R. E. Moore, Interval Analysis, 1966).

In: a `SweepDesign` and the supply. Out: an interval for each circuit; unbounded where the readings do not separate it.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from logger.metrology.supply import SupplyKey
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.sweep.solver.sweep_design import SweepDesign

READING_SIGMAS = 3.0
"""A reading excludes what differs from it by more than this many of its standard uncertainties."""

MAX_JOINT_ROWS = 10
"""With more readings each is taken by itself, since the signs of the sums are too many to be tried together."""

MAX_BOXES, MIN_CELLS = 4096, 6
"""Choices of signs times cells of the background across, and the fewest cells that it is divided into."""

MAX_TERMS = 3
"""Differences of two readings are propagated where they have at most this many circuits."""

ROUNDS = 3
"""Propagations through all equations; later ones narrow hardly more."""

UNBOUNDED_VOLTS = 1e6
"""What stands for no bound in the propagation, and a bound above a thousandth of it is none."""

ROUNDING = 1e-9
"""Coefficients and volts below this are rounding."""


def contribution_limits(
    design: SweepDesign, supply: SupplyKey, *, any_phase: bool = False
) -> NDArray[np.float64]:
    """The least and the most that each circuit and cord can give.

    Args:
        design: of the sweep, R readings.
        supply: of the home.
        any_phase: the directions of the supply are in doubt, so that every phase is possible.

    Returns:
        V, shape (n, 2); infinite where the readings set no bound.
    """
    matrix, low, high = _without_repeats(design)
    limits = _by_triangles(matrix, low, high)
    if any_phase or supply == "three" or len(low) > MAX_JOINT_ROWS:
        return limits
    joint = _joint(matrix, low, high, supply == "single")
    if joint is None:
        return limits
    least, most = np.maximum(limits[:, 0], joint[:, 0]), np.minimum(limits[:, 1], joint[:, 1])
    return np.where((least <= most)[:, None], np.stack([least, most], axis=1), limits)


def covering(
    design: SweepDesign,
    limits: NDArray[np.float64],
    sizes: NDArray[np.float64],
    u_sizes: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Values and standard uncertainties whose expanded ones reach to whatever the readings do not exclude.

    What the limits owe to the scatter of the readings alone is in the standard uncertainty already. Circuits that no
    reading tells apart get the same value.

    Args:
        design: of the sweep.
        limits: of each circuit, V, shape (n, 2).
        sizes: what each circuit gives, V, shape (n,).
        u_sizes: standard uncertainty of these, V, shape (n,).

    Returns:
        Volts and standard uncertainties, shape (n,) each; NaN where the readings set no bound.
    """
    scatter = READING_SIGMAS * _u_of_differences(design)
    known = np.isfinite(limits).all(axis=1)
    middle = np.where(known, limits.mean(axis=1), np.nan)
    # What may give nothing keeps that as its limit.
    low = np.where(limits[:, 0] > 0.0, np.minimum(limits[:, 0] + scatter, middle), 0.0)
    high = np.maximum(limits[:, 1] - scatter, middle)
    columns = [column.tobytes() for column in design.matrix.T]
    alike = np.array([columns.count(column) > 1 for column in columns], bool)
    volts = np.where(alike, middle, np.clip(sizes, low, high))
    reach = np.maximum(high - volts, volts - low) / COVERAGE_FACTOR
    widest = np.array(
        [max(u_sizes[j] for j, other in enumerate(columns) if other == column) for column in columns]
    )
    # Where the limits are within what is stated already, that is kept as it is.
    within = COVERAGE_FACTOR * u_sizes
    kept = ~alike & (np.abs(low - sizes) <= within) & (np.abs(high - sizes) <= within)
    stated = np.where(kept, sizes, volts)
    u_stated = np.where(kept, u_sizes, np.where(alike, reach, np.maximum(widest, reach)))
    return np.where(known, stated, np.nan), np.where(known, u_stated, np.nan)


def _without_repeats(
    design: SweepDesign,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """The combinations that were read: the matrix, and the least and the most that each can be, V.

    Repeats of a combination have to hold together; where they exclude each other, each can be what either says.
    """
    matrix, which = np.unique(design.matrix, axis=0, return_inverse=True)
    low = np.zeros(len(matrix))
    high = np.full(len(matrix), np.inf)
    reach = READING_SIGMAS * design.u_volts
    np.maximum.at(low, which.ravel(), design.volts - reach)
    np.minimum.at(high, which.ravel(), design.volts + reach)
    for row in np.flatnonzero(low > high):
        repeats = which.ravel() == row
        low[row] = max(float((design.volts - reach)[repeats].min()), 0.0)
        high[row] = float((design.volts + reach)[repeats].max())
    return matrix, low, high


def _u_of_differences(design: SweepDesign) -> NDArray[np.float64]:
    """The standard uncertainty of the best difference of two readings that a circuit makes, V, shape (n,).

    A small circuit is told from two small readings: what all of them scatter says nothing of it. Where no two readings
    differ by one circuit alone, it is that of two usual ones.
    """
    usual = 2**0.5 * float(np.median(design.u_volts))
    best = np.full(design.matrix.shape[1], np.inf)
    for one, row in enumerate(design.matrix):
        differs = design.matrix - row
        for other in np.flatnonzero((differs != 0.0).sum(axis=1) == 1):
            k = int(np.flatnonzero(differs[other])[0])
            best[k] = min(best[k], float(np.hypot(design.u_volts[one], design.u_volts[other])))
    return np.where(np.isfinite(best), best, usual)


def _by_triangles(
    matrix: NDArray[np.float64], low: NDArray[np.float64], high: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Limits from the triangle inequality, V, shape (n, 2), true for any phases.

    Args:
        matrix: the design matrix, shape (R, n).
        low: the least that each reading can be, V, shape (R,).
        high: the most that each reading can be, V, shape (R,).
    """
    count = matrix.shape[1]
    least, most = np.zeros(count), np.full(count, np.inf)
    for one, row in enumerate(matrix):
        differs = matrix - row
        for other in np.flatnonzero((differs != 0.0).sum(axis=1) == 1):
            k = int(np.flatnonzero(differs[other])[0])
            scale = abs(differs[other, k])
            least[k] = max(least[k], (low[other] - high[one]) / scale, (low[one] - high[other]) / scale)
            most[k] = min(most[k], (high[one] + high[other]) / scale)
    for k, weights in _solved(matrix).items():
        most[k] = min(most[k], float(np.abs(weights) @ high))
    return np.stack([np.minimum(least, most), most], axis=1)


def _solved(matrix: NDArray[np.float64]) -> dict[int, NDArray[np.float64]]:
    """The circuits that are a sum of readings, each with the weights of these, shape (R,).

    Args:
        matrix: the design matrix, shape (R, n).

    Returns:
        By the index of the circuit.
    """
    equations = np.hstack([np.ones((len(matrix), 1)), matrix])
    inverse = np.linalg.pinv(equations)
    solved = inverse @ equations
    unit = np.eye(len(solved))
    return {k - 1: inverse[k] for k in range(1, len(solved)) if np.abs(solved[k] - unit[k]).max() < ROUNDING}


# long: one pass of interval propagation, whose arrays every step narrows.
def _joint(
    matrix: NDArray[np.float64], low: NDArray[np.float64], high: NDArray[np.float64], single: bool
) -> NDArray[np.float64] | None:
    """Limits from all readings together where every direction lies on one line, V, shape (n, 2); None if no house fits.

    Args:
        matrix: the design matrix, shape (R, n).
        low: the least that each reading can be, V, shape (R,).
        high: the most that each reading can be, V, shape (R,).
        single: no contribution is below zero.
    """
    rows, count = matrix.shape
    free = rows if single else rows - 1  # to turn every sum alike changes nothing that is read
    bits = (np.arange(2**free)[:, None] >> np.arange(rows)) & 1
    signs = 1.0 - 2.0 * bits
    cells = max(MIN_CELLS, MAX_BOXES // len(signs))
    across = float(high.min()) * np.sin(np.linspace(0.0, np.pi / 2, cells + 1))
    near = np.sqrt(np.maximum(low**2 - across[1:, None] ** 2, 0.0))
    far = np.sqrt(np.maximum(high**2 - across[:-1, None] ** 2, 0.0))
    ends = np.stack([signs[:, None] * near, signs[:, None] * far]).reshape(2, -1, rows)
    sum_low, sum_high = ends.min(axis=0).T, ends.max(axis=0).T  # shape (R, boxes)
    low_of = np.full((count + 1, sum_low.shape[1]), -UNBOUNDED_VOLTS)
    high_of = np.full_like(low_of, UNBOUNDED_VOLTS)
    if single:
        low_of[1:] = 0.0
    for k, weights in _solved(matrix).items():
        up, down = np.maximum(weights, 0.0), np.minimum(weights, 0.0)
        low_of[k + 1] = np.maximum(low_of[k + 1], up @ sum_low + down @ sum_high)
        high_of[k + 1] = np.minimum(high_of[k + 1], up @ sum_high + down @ sum_low)
    equations = [
        (np.concatenate([[1.0], row]), low_x, high_x)
        for row, low_x, high_x in zip(matrix, sum_low, sum_high, strict=True)
    ]
    for one, other in combinations(range(rows), 2):
        difference = matrix[one] - matrix[other]
        if 1 <= np.count_nonzero(difference) <= MAX_TERMS:
            coefficients = np.concatenate([[0.0], difference])
            equations.append((coefficients, sum_low[one] - sum_high[other], sum_high[one] - sum_low[other]))
    for _ in range(ROUNDS):
        for coefficients, low_x, high_x in equations:
            _narrow(coefficients, low_x, high_x, low_of, high_of)
    able = (low_of <= high_of + ROUNDING).all(axis=0)
    if not able.any():
        return None
    lowest, highest = low_of[1:, able], high_of[1:, able]
    least = np.maximum(np.maximum(lowest, -highest), 0.0).min(axis=1)
    most = np.maximum(-lowest, highest).max(axis=1)
    return np.stack([least, np.where(most > UNBOUNDED_VOLTS / 1e3, np.inf, most)], axis=1)


def _narrow(
    coefficients: NDArray[np.float64],
    low_x: NDArray[np.float64],
    high_x: NDArray[np.float64],
    low_of: NDArray[np.float64],
    high_of: NDArray[np.float64],
) -> None:
    """Narrow the intervals, in place, by one equation `coefficients @ values = x`; B boxes.

    Args:
        coefficients: shape (n + 1,), the first one of the background.
        low_x: least value of the sum, V, shape (B,).
        high_x: most of it, V, shape (B,).
        low_of: least of each value, V, shape (n + 1, B).
        high_of: most of each value, V, shape (n + 1, B).
    """
    for k in np.flatnonzero(coefficients):
        scale = coefficients[k]
        others = coefficients.copy()
        others[k] = 0.0
        up, down = np.maximum(others, 0.0), np.minimum(others, 0.0)
        low = low_x - (up @ high_of + down @ low_of)
        high = high_x - (up @ low_of + down @ high_of)
        if scale < 0.0:
            low, high = high, low
        low_of[k] = np.maximum(low_of[k], low / scale)
        high_of[k] = np.minimum(high_of[k], high / scale)
