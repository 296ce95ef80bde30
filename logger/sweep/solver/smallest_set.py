"""The smallest set to switch off, solved exactly.

The values are those of K possible houses with weights, at one or several spots. What has to be met is that the mean
over the houses stays at or under the target at every spot. The mean of `|b_k - sum of what is off|` is convex in what
is off, and switching one thing off changes it by no more than the mean of that thing's magnitude; both are used:

- Every subset of the largest few is looked at. That is the whole answer where nothing else gives anything, and also
  where the magnitudes of the smaller ones are too small to make a smaller set do.
- Else sets with smaller ones in them are looked at one by one while these are few, and beyond that scipy's MILP solves
  for the smallest set, the convex limit being added as tangents until its solution meets the limit itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import comb

import numpy as np
from numpy.typing import NDArray

MOST_LOOKED_AT = 11
"""Every subset of so many of the largest is looked at (2,048)."""

MOST_MORE = 20_000
"""Sets with smaller ones in them that are looked at one by one before the solver is called."""

MOST_CUTS = 4
MOST_SOLVING_S = 0.1
FIRST_TANGENTS = 40
"""Of the solver's search for one set, so that an answer never keeps anybody waiting. When either is used up, the
smallest set found so far stands, not proven to be the smallest."""

AT_A_TIME = 4_000_000
"""Values (sets times houses) in memory at once."""

SETS_AT_A_TIME = 1_000

Accept = Callable[[NDArray[np.float64]], NDArray[np.bool_]]
"""Whether sets that meet the target in the mean are sure enough; of their values in the houses, shape (sets, K)."""


@dataclass(frozen=True, slots=True)
class Choices:
    """What can be switched off or unplugged, with what that takes away. m choices, K houses, S spots.

    Args:
        base: values with nothing switched off, complex V, shape (S, K).
        effects: what each choice takes away, complex V, shape (S, K, m); the largest choices first.
        weights: of the houses, shape (K,).
        excluded: pairs of choices that do not go together (a cord and its circuit).
        groups: number of a group of houses that are much alike, shape (K,).
    """

    base: NDArray[np.complex128]
    effects: NDArray[np.complex128]
    weights: NDArray[np.float64]
    excluded: tuple[tuple[int, int], ...] = ()
    groups: NDArray[np.int64] | None = None

    @property
    def count(self) -> int:
        """Number of choices."""
        return int(self.effects.shape[2])

    def values(self, off: NDArray[np.float64]) -> NDArray[np.float64]:
        """Body voltage, V.

        Args:
            off: 1 where it is off, shape (sets, m).

        Returns:
            Shape (S, sets, K).
        """
        out = np.empty((len(self.base), len(off), self.base.shape[1]))
        for s, (base, effects) in enumerate(zip(self.base, self.effects, strict=True)):
            out[s] = np.hypot(base.real - off @ effects.real.T, base.imag - off @ effects.imag.T)
        return out

    def means(self, off: NDArray[np.float64]) -> NDArray[np.float64]:
        """Mean over the houses, V, shape (S, sets)."""
        step = max(1, AT_A_TIME // max(self.base.size, 1))
        parts = [self.values(off[at : at + step]) @ self.weights for at in range(0, len(off), step)]
        return np.asarray(np.concatenate(parts, axis=1), np.float64)

    def coarse(self) -> Choices:
        """With one house in place of each group, their mean: its values are nowhere higher than the means are (the
        magnitude of a mean is no more than the mean magnitude), and there are fewer of them."""
        if self.groups is None:
            return self
        groups = np.unique(self.groups)
        share = (self.groups == groups[:, None]) * self.weights
        weights = share.sum(axis=1)
        share /= np.maximum(weights, 1e-300)[:, None]
        return Choices(self.base @ share.T, share @ self.effects, weights, self.excluded)

    def magnitudes(self) -> NDArray[np.float64]:
        """Mean magnitude of each choice, V, shape (S, m)."""
        return np.asarray(np.einsum("skm,k->sm", np.abs(self.effects), self.weights), np.float64)

    def allowed(self, off: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Sets in which nothing stands that does not go together, shape (sets,)."""
        fine = np.ones(len(off), bool)
        for one, other in self.excluded:
            fine &= (off[:, one] == 0.0) | (off[:, other] == 0.0)
        return fine


def every_set(choices: Choices) -> NDArray[np.float64]:
    """Every subset of the largest choices, shape (sets, m)."""
    few = min(choices.count, MOST_LOOKED_AT)
    off = np.zeros((2**few, choices.count))
    off[:, :few] = (np.arange(2**few)[:, None] >> np.arange(few)) & 1
    return off[choices.allowed(off)]


def smaller_set(
    choices: Choices,
    target_volts: float,
    looked_at: NDArray[np.float64],
    means: NDArray[np.float64],
    below: int,
    accept: Accept,
    solve: bool = True,
) -> NDArray[np.float64] | None:
    """The smallest set of fewer than `below` that meets the target and is accepted, if it is not among those that were
    looked at; None where there is none (proven, but for the bounds on the solver's time).

    Args:
        choices: what can be switched off.
        target_volts: what the mean may not exceed at any spot.
        looked_at: `every_set`.
        means: their means, shape (S, sets).
        below: size of the smallest one among them that does; one more than the number of choices where none does.
        accept: see `Accept`.
        solve: whether the solver is to be called where there are too many sets to look at.

    Returns:
        Shape (m,).
    """
    few = min(choices.count, MOST_LOOKED_AT)
    rest = choices.count - few
    if rest == 0:
        return None
    # What the largest of the others take away at most when so many of them are switched off.
    tail = np.sort(choices.magnitudes()[:, few:], axis=1)[:, ::-1].cumsum(axis=1)
    tail = np.concatenate([np.zeros((len(tail), 1)), tail], axis=1)
    size = looked_at.sum(axis=1).astype(int)
    left = np.clip(below - 1 - size, -1, rest)
    may = (left >= 1) & (means - tail[:, np.maximum(left, 0)] <= target_volts).all(axis=0)
    if not may.any():
        return None
    if sum(comb(rest, k) for n in left[may] for k in range(1, int(n) + 1)) > MOST_MORE:
        if not solve:
            return None
        near = looked_at[may][np.argsort(size[may], kind="stable")[:FIRST_TANGENTS]]
        return _solve(choices, target_volts, below, accept, near)
    more = np.array(list(_with_more(looked_at[may], left[may], few)))
    more = more[choices.allowed(more)]
    order = np.argsort(more.sum(axis=1), kind="stable")
    more = more[order]
    more = more[(choices.coarse().means(more) <= target_volts).all(axis=0)]
    if not len(more):
        return None
    for at in range(0, len(more), SETS_AT_A_TIME):
        values = choices.values(more[at : at + SETS_AT_A_TIME])
        met = (values @ choices.weights <= target_volts).all(axis=0)
        fit = np.flatnonzero(met & accept(values.max(axis=0)))
        if len(fit):
            return np.asarray(more[at + fit[0]], np.float64)
    return None


def _with_more(sets: NDArray[np.float64], left: NDArray[np.int64], few: int) -> Iterator[NDArray[np.float64]]:
    for row, most in zip(sets, left, strict=True):
        for k in range(1, int(most) + 1):
            for group in combinations(range(few, sets.shape[1]), k):
                out = row.copy()
                out[list(group)] = 1.0
                yield out


def _solve(
    choices: Choices, target_volts: float, below: int, accept: Accept, near: NDArray[np.float64]
) -> NDArray[np.float64] | None:
    """The smallest set of fewer than `below`, by mixed-integer programming with tangents, the first ones at `near`."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    m = choices.count
    rows, most = [np.ones(m)], [below - 1.0]
    for pair in choices.excluded:
        rows.append(np.isin(np.arange(m), pair).astype(float))
        most.append(1.0)

    def limit(off: NDArray[np.float64]) -> bool:
        """Whether a set meets the target; else the limit as seen from it is added (convex: nowhere below a tangent)."""
        means, slopes = tangents(choices, off)
        for mean, slope in zip(means, slopes, strict=True):
            if mean > target_volts:
                rows.append(slope)
                most.append(target_volts - mean + slope @ off)
        return bool((means <= target_volts).all())

    for off in near:
        limit(off)
    for _ in range(MOST_CUTS):
        solved = milp(
            np.ones(m),
            integrality=np.ones(m),
            bounds=Bounds(0, 1),
            constraints=LinearConstraint(np.array(rows), -np.inf, np.array(most)),
            options={"time_limit": MOST_SOLVING_S},
        )
        if solved.x is None:
            return None
        off = np.round(solved.x)
        if not limit(off):
            continue
        if accept(choices.values(off[None, :]).max(axis=0))[0]:
            return np.asarray(off, np.float64)
        # This one not, any other one.
        rows.append(np.where(off == 1.0, 1.0, -1.0))
        most.append(off.sum() - 1.0)
    return None


def tangents(choices: Choices, off: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean at each spot for one set, and its slope along each choice: shapes (S,) and (S, m)."""
    totals = choices.base - choices.effects @ off
    magnitudes = np.maximum(np.abs(totals), 1e-12)
    unit = np.conj(totals) / magnitudes * choices.weights
    slopes = -np.einsum("sk,skm->sm", unit, choices.effects).real
    return np.abs(totals) @ choices.weights, slopes


def lower_set(choices: Choices, off: NDArray[np.float64], gain_volts: float) -> NDArray[np.float64]:
    """From a set on, switch further ones on or off one at a time while the highest mean of all spots falls by more than
    `gain_volts`, the best first; for when no set meets the target."""
    while True:
        flipped = np.abs(off - np.eye(choices.count))
        flipped = flipped[choices.allowed(flipped)]
        means = choices.means(np.vstack([off, flipped])).max(axis=0)
        best = int(np.argmin(means))
        if means[0] - means[best] <= gain_volts:
            return off
        off = flipped[best - 1]


def robust_set(
    sizes: NDArray[np.float64], rest_volts: Sequence[float], target_volts: float
) -> NDArray[np.bool_]:
    """The smallest set whose remaining magnitudes, added, meet the target at every spot.

    At one spot the largest first are the smallest set: of all sets of k the k largest take away most, so if these do
    not meet the target no set of k does. At several spots this holds for each one; the set that the most demanding spot
    needs is the smallest if it does at the others as well; else larger ones are looked at, size by size; where these
    are too many, a mixed-integer program finds it.
    Where even everything does not meet it, everything that gives anything is in the set.

    Args:
        sizes: what each choice takes away, V, shape (S, m).
        rest_volts: all magnitudes added, at each spot.
        target_volts: what they may add up to.

    Returns:
        Shape (m,).
    """
    needs = np.asarray(rest_volts) - target_volts
    best = np.zeros(sizes.shape[1], bool)
    for size, need in zip(sizes, needs, strict=True):
        order = np.argsort(-size, kind="stable")
        taken = np.concatenate([[0.0], size[order].cumsum()])
        short = taken < need - 1e-12
        if short.all():
            return np.asarray((sizes > 0.0).any(axis=0))
        own = np.zeros_like(best)
        own[order[: int(np.argmin(short))]] = True
        if own.sum() > best.sum():
            best = own
    if (sizes @ best >= needs - 1e-12).all():
        return best
    for k in range(int(best.sum()), sizes.shape[1] + 1):
        if comb(sizes.shape[1], k) > MOST_MORE:
            break
        groups = np.array(list(combinations(range(sizes.shape[1]), k)))
        taken = sizes[:, groups].sum(axis=2)
        fit = np.flatnonzero((taken >= needs[:, None] - 1e-12).all(axis=0))
        if len(fit):
            best = np.zeros_like(best)
            # Among sets of one size the one that takes away most.
            best[groups[fit[np.argmax(taken[:, fit].sum(axis=0))]]] = True
            return best
    from scipy.optimize import Bounds, LinearConstraint, milp

    m = sizes.shape[1]
    solved = milp(
        # Among sets of one size the one that takes away most.
        np.ones(m) - 1e-4 * sizes.sum(axis=0) / max(float(sizes.sum()), 1e-12),
        integrality=np.ones(m),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(sizes, needs, np.inf),
    )
    return np.asarray(np.round(solved.x) == 1.0)
