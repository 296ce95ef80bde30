"""Exact search among the sets that can be switched off.

The values are those of K possible houses with weights, at one or several spots. What has to be met is that the mean
over the houses stays at or under the target at every spot. The mean of `|b_k - sum of what is off|` is convex in what
is off, and switching one thing off changes it by no more than the mean of that thing's magnitude; both are used:

- Every subset of the largest few is computed. That is the whole answer where nothing else gives anything, and also
  where the magnitudes of the smaller ones are too small to make a smaller set do.
- Else sets with smaller ones in them are listed and computed while these are few, and beyond that scipy's MILP solves
  for the smallest set, the convex limit being added as tangents until its solution meets the limit itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import combinations
from math import comb

import numpy as np
from numpy.typing import NDArray

from logger.sweep.solver.choices import Choices

MAX_ENUMERATED = 11
"""Every subset of so many of the largest choices is computed (2,048)."""

MAX_LISTED_SETS = 20_000
"""Sets that are listed and computed one by one before the solver is called."""

MAX_SOLVER_ROUNDS = 4
MAX_SOLVER_S = 0.1
MAX_FIRST_TANGENTS = 40
"""Bounds on the solver's search for one set, so that an answer never keeps anybody waiting. When one of them is
reached, the smallest set found so far is the answer, not proven to be the smallest."""

SETS_PER_BATCH = 1_000

Accept = Callable[[NDArray[np.float64]], NDArray[np.bool_]]
"""Whether sets that meet the target in the mean are certain enough; its argument is their values in the houses, V,
shape (sets, K)."""


def every_set(choices: Choices) -> NDArray[np.float64]:
    """Every allowed subset of the largest choices, shape (sets, m)."""
    few = min(choices.count, MAX_ENUMERATED)
    off = np.zeros((2**few, choices.count))
    off[:, :few] = (np.arange(2**few)[:, None] >> np.arange(few)) & 1
    return off[choices.allowed(off)]


def smaller_set(
    choices: Choices,
    target_volts: float,
    enumerated: NDArray[np.float64],
    means: NDArray[np.float64],
    below: int,
    accept: Accept,
    solve: bool = True,
) -> NDArray[np.float64] | None:
    """Find the smallest set of fewer than `below` choices that meets the target and holds a smaller choice.

    Args:
        choices: what can be switched off.
        target_volts: what the mean may not exceed at any spot.
        enumerated: `every_set`, shape (sets, m).
        means: their means, V, shape (S, sets).
        below: size of the smallest enumerated set that does; one more than the number of choices where none does.
        accept: see `Accept`.
        solve: whether the solver is called where there are too many sets to list.

    Returns:
        The set, shape (m,); None where there is none (proven, but for the bounds on the solver's time).
    """
    few = min(choices.count, MAX_ENUMERATED)
    rest = choices.count - few
    if rest == 0:
        return None
    # The most that so many of the smaller choices can take away, the largest of them first.
    tail = np.sort(choices.magnitudes()[:, few:], axis=1)[:, ::-1].cumsum(axis=1)
    tail = np.concatenate([np.zeros((len(tail), 1)), tail], axis=1)
    size = enumerated.sum(axis=1).astype(int)
    left = np.clip(below - 1 - size, -1, rest)
    may = (left >= 1) & (means - tail[:, np.maximum(left, 0)] <= target_volts).all(axis=0)
    if not may.any():
        return None
    if sum(comb(rest, k) for n in left[may] for k in range(1, int(n) + 1)) > MAX_LISTED_SETS:
        if not solve:
            return None
        near = enumerated[may][np.argsort(size[may], kind="stable")[:MAX_FIRST_TANGENTS]]
        return _solve(choices, target_volts, below, accept, near)
    extended = np.array(list(_extended(enumerated[may], left[may], few)))
    extended = extended[choices.allowed(extended)]
    order = np.argsort(extended.sum(axis=1), kind="stable")
    extended = extended[order]
    extended = extended[(choices.coarse().means(extended) <= target_volts).all(axis=0)]
    if not len(extended):
        return None
    for at in range(0, len(extended), SETS_PER_BATCH):
        values = choices.values(extended[at : at + SETS_PER_BATCH])
        met = (values @ choices.weights <= target_volts).all(axis=0)
        fit = np.flatnonzero(met & accept(values.max(axis=0)))
        if len(fit):
            return np.asarray(extended[at + fit[0]], np.float64)
    return None


def _extended(sets: NDArray[np.float64], left: NDArray[np.int64], few: int) -> Iterator[NDArray[np.float64]]:
    """Each set with one or more of the smaller choices added.

    Args:
        sets: of the largest choices, shape (sets, m).
        left: how many may be added to each set at most, shape (sets,).
        few: number of the largest choices; the smaller ones follow them.
    """
    for row, most in zip(sets, left, strict=True):
        for k in range(1, int(most) + 1):
            for group in combinations(range(few, sets.shape[1]), k):
                out = row.copy()
                out[list(group)] = 1.0
                yield out


def _solve(
    choices: Choices, target_volts: float, below: int, accept: Accept, near: NDArray[np.float64]
) -> NDArray[np.float64] | None:
    """Solve for the smallest set of fewer than `below`, by mixed-integer programming with tangents.

    Args:
        choices: what can be switched off.
        target_volts: what the mean may not exceed at any spot.
        below: size that the set must stay under.
        accept: see `Accept`.
        near: sets where the first tangents are taken, shape (sets, m).
    """
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 start-up: 0.5 s, and seldom needed

    m = choices.count
    rows, most = [np.ones(m)], [below - 1.0]
    for pair in choices.excluded:
        rows.append(np.isin(np.arange(m), pair).astype(float))
        most.append(1.0)

    def meets_or_is_cut(off: NDArray[np.float64]) -> bool:
        """Whether a set meets the target; else its tangent is added (convex: the limit is nowhere below a tangent)."""
        means, slopes = tangents(choices, off)
        for mean, slope in zip(means, slopes, strict=True):
            if mean > target_volts:
                rows.append(slope)
                most.append(target_volts - mean + slope @ off)
        return bool((means <= target_volts).all())

    for off in near:
        meets_or_is_cut(off)
    for _ in range(MAX_SOLVER_ROUNDS):
        solved = milp(
            np.ones(m),
            integrality=np.ones(m),
            bounds=Bounds(0, 1),
            constraints=LinearConstraint(np.array(rows), -np.inf, np.array(most)),
            options={"time_limit": MAX_SOLVER_S},
        )
        if solved.x is None:
            return None
        off = np.round(solved.x)
        if not meets_or_is_cut(off):
            continue
        if accept(choices.values(off[None, :]).max(axis=0))[0]:
            return np.asarray(off, np.float64)
        # The next round may find any set but this one.
        rows.append(np.where(off == 1.0, 1.0, -1.0))
        most.append(off.sum() - 1.0)
    return None


def tangents(choices: Choices, off: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean at each spot for one set, V, shape (S,), and its slope along each choice, shape (S, m)."""
    totals = choices.base - choices.effects @ off
    magnitudes = np.maximum(np.abs(totals), 1e-12)
    unit = np.conj(totals) / magnitudes * choices.weights
    slopes = -np.einsum("sk,skm->sm", unit, choices.effects).real
    return np.abs(totals) @ choices.weights, slopes


def lower_set(choices: Choices, off: NDArray[np.float64], gain_volts: float) -> NDArray[np.float64]:
    """Improve a set by switching one more choice at a time, for when no set meets the target.

    Args:
        choices: what can be switched off.
        off: the set to begin with, shape (m,).
        gain_volts: it ends when the highest mean of all spots would fall by no more than this.

    Returns:
        The set, shape (m,).
    """
    while True:
        flipped = np.abs(off - np.eye(choices.count))
        flipped = flipped[choices.allowed(flipped)]
        means = choices.means(np.vstack([off, flipped])).max(axis=0)
        best = int(np.argmin(means))
        if means[0] - means[best] <= gain_volts:
            return off
        off = flipped[best - 1]
