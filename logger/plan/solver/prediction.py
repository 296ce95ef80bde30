"""What a set of remedies would bring at each spot, before anybody does it.

In: a `RemedyProblem`, what is taken away, what is weakened by an unknown share. Out: a `SpotPrediction` for each spot.
Phasors interact: what is taken away may have cancelled something else, and then the value rises.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from math import erf

import numpy as np
from numpy.typing import NDArray

from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.plan.solver.remaining_share import magnitude_range
from logger.plan.solver.remedies import Refusal, Remedy
from logger.plan.solver.remedy_problem import RemedyProblem
from logger.sweep.solver.ambiguity import PREDICTION_CERTAIN_SHARE, tolerance_volts
from logger.sweep.solver.smallest_set import CERTAIN_SHARE
from logger.sweep.solver.sweep_design import MIN_DIFFERENCE_VOLTS, design_matrix
from logger.sweep.solver.switching_problem import TOLERANCE_VOLTS, live_under, set_reading

RANGE_SHARE = 0.95
"""Share of the possible houses that a range holds, as an expanded uncertainty does with k = 2."""


class Rise(StrEnum):
    """Whether a value is higher than with nothing done, by more than decides nothing (`MIN_DIFFERENCE_VOLTS`)."""

    NO = "no"
    MAY = "may"
    YES = "yes"


@dataclass(frozen=True, slots=True)
class AtBest:
    """What remedies of unknown effect may leave: never a single number.

    Args:
        lowest_volts: with the shares of what they weaken that leave least, V.
        highest_volts: with those that leave most, V: between nothing changed and all gone.
    """

    lowest_volts: float
    highest_volts: float


@dataclass(frozen=True, slots=True)
class SpotPrediction:
    """What a set of remedies leaves at one spot. Values are None where there is a refusal.

    Args:
        spot: its name.
        refusal: why there is no prediction; None where there is one.
        volts: with all of it done, V; None as well where a remedy's effect is unknown.
        u_volts: its standard uncertainty, V; None with `volts`.
        at_best: the range instead, where a remedy's effect is unknown.
        is_read: exactly this was read at the spot, and not `may_be_swapped`: `volts` is that reading.
        may_be_swapped: it was read, but that reading may have been exchanged with another, and nothing shows whether it
            was.
        is_known: it was read, or the possible houses agree about it within 0.03 V or 5 %. Else a reading has to tell.
        certainty: share of the possible houses in which it stays within target + 0.03 V; None with `volts`.
        rises: whether it is higher than with nothing done.
        change_volts: against nothing done, V, below zero where it falls; None with `volts`.
        u_change_volts: its standard uncertainty, V; what both have in common counts once.
    """

    spot: str
    refusal: Refusal | None = None
    volts: float | None = None
    u_volts: float | None = None
    at_best: AtBest | None = None
    is_read: bool = False
    is_known: bool = False
    certainty: float | None = None
    rises: Rise | None = None
    change_volts: float | None = None
    u_change_volts: float | None = None
    may_be_swapped: bool = False


@dataclass(frozen=True, slots=True)
class Values:
    """A value in each possible house. K houses.

    Args:
        volts: V, shape (K,).
        u_volts: what is uncertain besides, whatever the houses are, V: that of the reading where it was read; else what
            the readings do not exclude beyond these houses.
        is_read: it was read.
    """

    volts: NDArray[np.float64]
    u_volts: float
    is_read: bool


def predict(
    problem: RemedyProblem, off: Collection[str], weakened: Collection[str] = ()
) -> tuple[SpotPrediction, ...]:
    """Predict what a set leaves at each spot.

    Args:
        problem: possible houses.
        off: circuits and cords that are taken away: off, unplugged, disconnected.
        weakened: circuits and cords of which an unknown share remains. A circuit's wiring and each cord on it that is
            known count by themselves.

    Raises:
        KeyError: a name that is no part of the sweep.
    """
    away, weak = problem.mask(off), problem.mask(weakened) & ~problem.mask(off)
    return tuple(predict_at(problem, s, away, weak) for s in range(len(problem.spots)))


def predict_remedies(problem: RemedyProblem, remedies: Sequence[Remedy]) -> tuple[SpotPrediction, ...]:
    """Predict what some remedies together leave at each spot; raises as `predict` does."""
    return predict(problem, *taken(remedies))


def taken(remedies: Sequence[Remedy]) -> tuple[frozenset[str], frozenset[str]]:
    """What some remedies take away together, and what they only weaken: names of circuits and cords."""
    off = frozenset[str]().union(*(remedy.takes for remedy in remedies if remedy.is_known))
    weakened = frozenset[str]().union(*(remedy.takes for remedy in remedies if not remedy.is_known))
    return off, weakened - off


def refusal_at(
    problem: RemedyProblem, spot: int, off: NDArray[np.bool_], weak: NDArray[np.bool_]
) -> Refusal | None:
    """Why there is no prediction at a spot; None where there is one.

    Args:
        problem: possible houses.
        spot: index of the spot.
        off: what is taken away, shape (n,).
        weak: what is weakened, shape (n,).
    """
    if (off & problem.stays).any():
        return Refusal.ESSENTIAL
    if problem.refusals[spot] is not None:
        return problem.refusals[spot]
    if ((off | weak) & ~problem.varied[spot]).any():
        return Refusal.NOT_READ
    doubts = [values_at(problem, spot, taken_away).u_volts for taken_away in (off, off | weak)]
    return None if np.isfinite(doubts).all() else Refusal.NO_BOUND


def values_at(problem: RemedyProblem, spot: int, off: NDArray[np.bool_]) -> Values:
    """What a set leaves at a spot in each possible house: its reading where it was read.

    Args:
        problem: possible houses.
        spot: index of the spot.
        off: what is taken away, shape (n,).
    """
    switching = problem.switching
    reading = set_reading(switching, spot, off)
    if reading is not None:
        return Values(np.full(len(switching.weights), reading.volts), reading.u_volts, True)
    posterior = switching.posteriors[spot]
    live = live_under(switching, posterior, off)
    return Values(posterior.predict(live[None, :])[0], doubt_volts(problem, spot, live), False)


def doubt_volts(
    problem: RemedyProblem, spot: int, live: NDArray[np.bool_], read: NDArray[np.bool_] | None = None
) -> float:
    """What the readings do not exclude of a value beyond the possible houses, as a standard uncertainty, V.

    What is stated of a circuit or cord may be wider than the houses are: a mistaken reading, a fit that is strained, a
    cord that fits two sizes. A value differs from the nearest combination that was read by some of them, and is as
    doubtful as these.

    Args:
        problem: possible houses.
        spot: index of the spot.
        live: what is live, shape (n,).
        read: the combinations that count as read, shape (rows, n); None for those of the sweep.
    """
    switching = problem.switching
    posterior = switching.posteriors[spot]
    beyond2 = np.maximum(switching.u_sizes[spot] ** 2 - posterior.u_sizes() ** 2, 0.0)
    if read is None:
        read = np.array(
            [[name in reading.on for name in switching.names] for reading in switching.sweeps[spot].readings],
            bool,
        )
    counts = design_matrix(read, switching.circuit_of)
    differs = counts != design_matrix(live[None, :], switching.circuit_of)
    # A reading gives no phase: what is on both sides turns the difference, by no more than the difference itself.
    turned2 = np.where((counts != 0.0) & ~differs, beyond2, 0.0).sum(axis=1)
    at_most = np.where(differs, switching.sizes[spot], 0.0).sum(axis=1)
    own2 = np.where(differs, beyond2, 0.0).sum(axis=1)
    return float((own2 + np.minimum(turned2, at_most**2)).min() ** 0.5)


def range_at(
    problem: RemedyProblem, spot: int, off: NDArray[np.bool_], weak: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The least and the most that may be left at a spot in each possible house, V, shape (K,) each.

    They reach as far beyond as what is left is doubtful, whether all of what is weakened is gone or none (k = 2).

    Args:
        problem: possible houses.
        spot: index of the spot.
        off: what is taken away, shape (n,).
        weak: of what an unknown share remains, shape (n,).
    """
    switching = problem.switching
    posterior = switching.posteriors[spot]
    live = live_under(switching, posterior, off)
    counts = design_matrix(live[None, :], switching.circuit_of)[0]
    total = posterior.background + posterior.contributions @ counts
    lowest, highest = magnitude_range(total, stacked(weak_parts(problem, spot, live, weak), len(total)))
    u_volts = 0.0
    if weak.any():
        # All of it may be gone, and all of it may be left.
        u_gone_volts = values_at(problem, spot, off | (weak & ~problem.stays)).u_volts
        u_volts = max(u_gone_volts, doubt_volts(problem, spot, live))
    return np.maximum(lowest - COVERAGE_FACTOR * u_volts, 0.0), highest + COVERAGE_FACTOR * u_volts


def weak_parts(
    problem: RemedyProblem, spot: int, live: NDArray[np.bool_], weak: NDArray[np.bool_]
) -> dict[int, NDArray[np.complex128]]:
    """The phasors that are weakened each by itself, V, shape (K,) each, by the index of the circuit or cord.

    A circuit's is its wiring without the cords on it that are known, which have their own.

    Args:
        problem: possible houses.
        spot: index of the spot.
        live: what is live, shape (n,).
        weak: of what an unknown share remains, shape (n,).
    """
    switching, contributions = problem.switching, problem.switching.posteriors[spot].contributions
    parts: dict[int, NDArray[np.complex128]] = {}
    for k in map(int, np.flatnonzero(weak & live)):
        if k in switching.circuit_of:
            if live[switching.circuit_of[k]]:
                parts[k] = contributions[:, k]
            continue
        own = contributions[:, k]
        for cord, circuit in switching.circuit_of.items():
            if circuit != k or not problem.varied[spot, cord]:
                continue
            own = own - contributions[:, cord]
            if live[cord]:
                parts[cord] = contributions[:, cord]
        parts[k] = own
    return parts


def stacked(parts: Mapping[int, NDArray[np.complex128]], houses: int) -> NDArray[np.complex128]:
    """Phasors of as many houses as an array, V, shape (houses, m)."""
    return np.array(list(parts.values()), np.complex128).reshape(-1, houses).T


def predict_at(
    problem: RemedyProblem, spot: int, off: NDArray[np.bool_], weak: NDArray[np.bool_]
) -> SpotPrediction:
    """Predict what a set leaves at one spot.

    Args:
        problem: possible houses.
        spot: index of the spot.
        off: what is taken away, shape (n,).
        weak: of what an unknown share remains, shape (n,).
    """
    return doubted(problem, spot, off | weak, _predict_at(problem, spot, off, weak))


def doubted(
    problem: RemedyProblem, spot: int, off: NDArray[np.bool_], found: SpotPrediction
) -> SpotPrediction:
    """A prediction that is a reading counts as neither read nor known where that may have been exchanged with another.

    Args:
        problem: possible houses.
        spot: index of the spot.
        off: what is taken away or weakened, shape (n,).
        found: the prediction without that.
    """
    if not found.is_read or not problem.may_be_swapped(spot, off):
        return found
    return replace(found, is_read=False, is_known=False, may_be_swapped=True)


def _predict_at(
    problem: RemedyProblem, spot: int, off: NDArray[np.bool_], weak: NDArray[np.bool_]
) -> SpotPrediction:
    name, switching = problem.spots[spot], problem.switching
    refusal = refusal_at(problem, spot, off, weak)
    if refusal is not None:
        return SpotPrediction(name, refusal)
    before = values_at(problem, spot, np.zeros_like(off))
    if weak.any():
        lowest, highest = range_at(problem, spot, off, weak)
        return SpotPrediction(
            name,
            at_best=outer_range(lowest, highest, switching.weights),
            rises=rise_of(
                _chance_ofrise_of(problem, lowest, before), _chance_ofrise_of(problem, highest, before)
            ),
        )
    after = values_at(problem, spot, off) if off.any() else before
    return predicted(name, after, before, switching.weights, switching.target_volts)


def predicted(
    name: str, after: Values, before: Values, weights: NDArray[np.float64], target_volts: float
) -> SpotPrediction:
    """Say what values of the possible houses mean for a spot.

    Args:
        name: of the spot.
        after: what is left then.
        before: what was left, the same object where nothing changes.
        weights: of the houses, shape (K,).
        target_volts: V.
    """
    volts, u_volts = mean_and_u(after, weights)
    change_volts, u_change_volts = change(after, before, weights)
    own_volts = 0.0 if after.is_read else after.u_volts
    beyond = sum(
        chance_above(sign * (after.volts - volts), own_volts, float(tolerance_volts(volts)), weights)
        for sign in (1.0, -1.0)
    )
    chance = chance_above(
        after.volts - before.volts,
        0.0 if after is before else float(np.hypot(after.u_volts, before.u_volts)),
        MIN_DIFFERENCE_VOLTS,
        weights,
    )
    return SpotPrediction(
        name,
        volts=volts,
        u_volts=u_volts,
        is_read=after.is_read,
        is_known=beyond <= 1.0 - PREDICTION_CERTAIN_SHARE,
        certainty=1.0 - chance_above(after.volts, own_volts, target_volts + TOLERANCE_VOLTS, weights),
        rises=_rise_read(change_volts, u_change_volts)
        if after.is_read and before.is_read
        else rise_of(chance, chance),
        change_volts=change_volts,
        u_change_volts=u_change_volts,
    )


def _chance_ofrise_of(problem: RemedyProblem, volts: NDArray[np.float64], before: Values) -> float:
    """Share of the houses in which a value is higher than with nothing done; `volts` has shape (K,)."""
    return chance_above(volts - before.volts, before.u_volts, MIN_DIFFERENCE_VOLTS, problem.switching.weights)


def rise_of(least: float, most: float) -> Rise:
    """Whether a value rises, by the least and the most chance of it."""
    if least >= CERTAIN_SHARE:
        return Rise.YES
    return Rise.MAY if most > 1.0 - CERTAIN_SHARE else Rise.NO


def _rise_read(change_volts: float, u_change_volts: float) -> Rise:
    """Whether a value rises where it was read before and after: a difference within its U is none that may be told."""
    return Rise.YES if change_volts > max(COVERAGE_FACTOR * u_change_volts, MIN_DIFFERENCE_VOLTS) else Rise.NO


def mean_and_u(values: Values, weights: NDArray[np.float64]) -> tuple[float, float]:
    """Mean of a value over the houses and its standard uncertainty, V; `weights` has shape (K,)."""
    mean = float(values.volts @ weights)
    return mean, float(np.sqrt(((values.volts - mean) ** 2) @ weights + values.u_volts**2))


def change(after: Values, before: Values, weights: NDArray[np.float64]) -> tuple[float, float]:
    """Mean of a change over the houses and its standard uncertainty, V, house by house.

    Args:
        after: what is left then.
        before: what was left, the same object where nothing changes.
        weights: of the houses, shape (K,).
    """
    own = 0.0 if after is before else float(np.hypot(after.u_volts, before.u_volts))
    return mean_and_u(Values(after.volts - before.volts, own, False), weights)


def chance_above(
    volts: NDArray[np.float64], u_volts: float, limit_volts: float, weights: NDArray[np.float64]
) -> float:
    """Share of the houses in which a value is above a limit.

    Args:
        volts: in each house, V, shape (K,).
        u_volts: what is uncertain besides, with the normal distribution, V.
        limit_volts: V.
        weights: of the houses, shape (K,).
    """
    above = volts - limit_volts
    known = u_volts == 0.0
    shares = above > 0.0 if known else np.array([(1.0 + erf(x / u_volts / 2**0.5)) / 2.0 for x in above])
    # The weights add up to one but for rounding.
    return min(float(weights @ shares), 1.0)


def outer_range(
    lowest: NDArray[np.float64], highest: NDArray[np.float64], weights: NDArray[np.float64]
) -> AtBest:
    """The range that holds those of nearly all houses (`RANGE_SHARE`).

    Args:
        lowest: of each house, V, shape (K,).
        highest: of each house, V, shape (K,).
        weights: of the houses, shape (K,).
    """
    tail = (1.0 - RANGE_SHARE) / 2.0
    return AtBest(_quantile(lowest, weights, tail), _quantile(highest, weights, 1.0 - tail))


def _quantile(values: NDArray[np.float64], weights: NDArray[np.float64], share: float) -> float:
    """The smallest value that this share of the weight does not exceed; `values` and `weights` have shape (K,)."""
    order = np.argsort(values, kind="stable")
    at = int(np.searchsorted(weights[order].cumsum(), share))
    return float(values[order[min(at, len(values) - 1)]])
