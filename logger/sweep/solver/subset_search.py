"""Exact search among the sets that can be switched off.

The values are those of K possible houses with weights, at one or several spots. What has to be met is that the mean
over the houses stays at or under the target at every spot. The mean of `|b_k - sum of what is off|` is convex in what
is off, and switching one thing off changes it by no more than the mean of that thing's magnitude; both are used:

- Every subset of the largest few is computed. That is the whole answer where nothing else gives anything, and also
  where the magnitudes of the smaller ones are too small to make a smaller set do.
- Else sets with smaller ones in them are listed and computed while these are few, and beyond that scipy's MILP solves
  for the smallest set, the convex limit being added as tangents until its solution meets the limit itself.

Smallest is least cost, where the choices have costs (`Choices.costs`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

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

OPTIMAL, INFEASIBLE = 0, 2
"""States of `scipy.optimize.milp`."""

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


@dataclass(frozen=True, slots=True)
class Search:
    """What came of a search for a smaller set.

    Args:
        off: the set, shape (m,); None where none was found.
        proven: there is none smaller than it, or none at all: no bound of the search was reached.
    """

    off: NDArray[np.float64] | None
    proven: bool


def smaller_set(
    choices: Choices,
    target_volts: float,
    enumerated: NDArray[np.float64],
    means: NDArray[np.float64],
    below: int,
    accept: Accept,
    solve: bool = True,
) -> Search:
    """Find the set of least cost below `below` that meets the target and holds a smaller choice.

    Args:
        choices: what can be switched off.
        target_volts: what the mean may not exceed at any spot.
        enumerated: `every_set`, shape (sets, m).
        means: their means, V, shape (S, sets).
        below: cost of the cheapest enumerated set that does; one more than that of all choices where none does.
        accept: see `Accept`.
        solve: whether the solver is called where there are too many sets to list.
    """
    few = min(choices.count, MAX_ENUMERATED)
    costs = choices.cost_of_each
    rest = costs[few:]
    if len(rest) == 0:
        return Search(None, True)
    spent = (enumerated @ costs).astype(int)
    left = np.clip(below - 1 - spent, -1, int(rest.sum()))
    tail = _most_taken(choices.magnitudes()[:, few:], rest, max(int(left.max()), 0))
    may = (left >= rest.min()) & (means - tail[:, np.maximum(left, 0)] <= target_volts).all(axis=0)
    if not may.any():
        return Search(None, True)
    listed = _sets_within(rest, int(left.max()))
    if sum(listed[int(n)] for n in left[may]) > MAX_LISTED_SETS:
        if not solve:
            return Search(None, False)
        near = enumerated[may][np.argsort(spent[may], kind="stable")[:MAX_FIRST_TANGENTS]]
        return _solve(choices, target_volts, below, accept, near)
    extended = np.array(list(_extended(enumerated[may], left[may], rest)))
    extended = extended[choices.allowed(extended)]
    if not len(extended):
        return Search(None, True)
    extended = extended[np.argsort(extended @ costs, kind="stable")]
    extended = extended[(choices.coarse().means(extended) <= target_volts).all(axis=0)]
    for at in range(0, len(extended), SETS_PER_BATCH):
        values = choices.values(extended[at : at + SETS_PER_BATCH])
        met = (values @ choices.weights <= target_volts).all(axis=0)
        fit = np.flatnonzero(met & accept(values.max(axis=0)))
        if len(fit):
            return Search(np.asarray(extended[at + fit[0]], np.float64), True)
    return Search(None, True)


def _most_taken(
    magnitudes: NDArray[np.float64], costs: NDArray[np.int64], budget: int
) -> NDArray[np.float64]:
    """The most that choices of a total cost can take away at each spot, by dynamic programming (0-1 knapsack).

    Args:
        magnitudes: of the choices, V, shape (S, choices).
        costs: of the choices, shape (choices,).
        budget: the highest total cost.

    Returns:
        V, shape (S, budget + 1), by the total cost.
    """
    most = np.zeros((len(magnitudes), budget + 1))
    for row, sizes in zip(most, magnitudes, strict=True):
        # The largest first, so that magnitudes are added in the same order whatever the costs are.
        for k in np.argsort(-sizes, kind="stable"):
            cost = int(costs[k])
            if cost <= budget:
                row[cost:] = np.maximum(row[cost:], row[: budget + 1 - cost] + sizes[k])
    return most


def _sets_within(costs: NDArray[np.int64], budget: int) -> list[int]:
    """How many sets of one or more choices cost no more than each total up to a budget; `costs` is those of each."""
    exactly = [1] + [0] * budget
    for cost in costs.tolist():
        for total in range(budget, cost - 1, -1):
            exactly[total] += exactly[total - cost]
    within, count = [], -1
    for sets in exactly:
        count += sets
        within.append(count)
    return within


def _extended(
    sets: NDArray[np.float64], left: NDArray[np.int64], costs: NDArray[np.int64]
) -> Iterator[NDArray[np.float64]]:
    """Each set with one or more of the smaller choices added.

    Args:
        sets: of the largest choices, shape (sets, m).
        left: what may be added to each set may cost at most, shape (sets,).
        costs: of the smaller choices, which follow the largest ones, shape (smaller,).
    """
    few = sets.shape[1] - len(costs)

    def groups(first: int, budget: int) -> Iterator[tuple[int, ...]]:
        for k in range(first, len(costs)):
            if costs[k] <= budget:
                yield (k,)
                for more in groups(k + 1, budget - int(costs[k])):
                    yield (k, *more)

    for row, most in zip(sets, left, strict=True):
        for group in groups(0, int(most)):
            out = row.copy()
            out[[few + k for k in group]] = 1.0
            yield out


def _solve(
    choices: Choices, target_volts: float, below: int, accept: Accept, near: NDArray[np.float64]
) -> Search:
    """Solve for the cheapest set below a cost, by mixed-integer programming with tangents.

    Args:
        choices: what can be switched off.
        target_volts: what the mean may not exceed at any spot.
        below: cost that the set must stay under.
        accept: see `Accept`.
        near: sets where the first tangents are taken, shape (sets, m).
    """
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 start-up: 0.5 s, and seldom needed

    m, costs = choices.count, choices.cost_of_each.astype(float)
    rows, most = [costs], [below - 1.0]
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
            costs,
            integrality=np.ones(m),
            bounds=Bounds(0, 1),
            constraints=LinearConstraint(np.array(rows), -np.inf, np.array(most)),
            options={"time_limit": MAX_SOLVER_S, "mip_rel_gap": 0.0},
        )
        if solved.x is None:
            return Search(None, solved.status == INFEASIBLE)
        off = np.round(solved.x)
        if not meets_or_is_cut(off):
            continue
        if accept(choices.values(off[None, :]).max(axis=0))[0]:
            return Search(np.asarray(off, np.float64), solved.status == OPTIMAL)
        # The next round may find any set but this one.
        rows.append(np.where(off == 1.0, 1.0, -1.0))
        most.append(off.sum() - 1.0)
    return Search(None, False)


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
