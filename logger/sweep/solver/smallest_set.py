"""Here the set to switch off is chosen: the smallest one that meets the target.

In: a `SwitchingProblem`. Out: a `SwitchOffSet`. Breakers come first; cords are unplugged only where breakers alone do
not meet the target. Of sets that meet it in the mean of the possible houses, those that meet it in nearly all of them
are preferred to smaller ones that do not. Where no set meets it, the one with the lowest prediction is chosen.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.sweep.solver.choices import Choices
from logger.sweep.solver.subset_search import every_set, lower_set, smaller_set
from logger.sweep.solver.sweep_design import design_matrix
from logger.sweep.solver.switching_problem import NEGLIGIBLE_VOLTS, TOLERANCE_VOLTS, SwitchingProblem

NEAR_VOLTS = 0.002
"""Where no set meets the target, one more circuit has to lower the value by more than this to be worth it."""

CERTAIN_SHARE = 0.97
CERTAINTY_LEVELS = (CERTAIN_SHARE, 0.8, 0.0)
"""Weight of the houses in which the set has to stay within the tolerance: the first level that any set reaches."""

READ_NEAR_VOLTS = 0.012
"""Where no set meets the target, a set that was read is kept where another is predicted lower by no more than this."""

SETS_PER_BATCH = 512
MISSED_COST = 100.0
"""What a set costs in a house in which it misses the target, more than any number of things switched off."""


@dataclass(frozen=True, slots=True)
class EnumeratedSets:
    """Every subset of the largest candidates, with what it leaves. S spots, K houses, m candidates.

    Args:
        candidates: index of each candidate among the n circuits and cords, the largest first, shape (m,).
        choices: the candidates as choices.
        sets: 1 where it is off, shape (sets, m).
        means: mean value of each set at each spot, V, shape (S, sets).
        certainty: weight of the houses in which each set stays within the tolerance at all spots, shape (sets,).
        best_in_house: index of the set that is best in each house, shape (K,).
        best_volts: value of that set in each house, V, shape (K,); 0 where it meets the target.
        is_read: the set itself was read at every spot, shape (sets,).
    """

    candidates: NDArray[np.intp]
    choices: Choices
    sets: NDArray[np.float64]
    means: NDArray[np.float64]
    certainty: NDArray[np.float64]
    best_in_house: NDArray[np.int64]
    best_volts: NDArray[np.float64]
    is_read: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class SwitchOffSet:
    """The set that was chosen, with what it leaves. S spots, K houses, m candidates, n circuits and cords.

    Args:
        enumerated: the sets that it was chosen from.
        chosen: 1 where a candidate is off, shape (m,).
        meets_by_search: a set that meets the target was found.
        required_certainty: the one of `CERTAINTY_LEVELS` that was reached.
        below: size of the smallest enumerated set that meets the target; m + 1 where none does.
        off: which circuits and cords are off or unplugged, shape (n,).
        values: in each house, V, shape (S, K).
        means: over the houses, V, shape (S,).
        meets_target: the mean meets the target at every spot.
    """

    enumerated: EnumeratedSets
    chosen: NDArray[np.float64]
    meets_by_search: bool
    required_certainty: float
    below: int
    off: NDArray[np.bool_]
    values: NDArray[np.float64]
    means: NDArray[np.float64]
    meets_target: bool

    @property
    def size(self) -> int:
        """How many are switched off or unplugged."""
        return int(self.chosen.sum())


def choose_smallest_set(problem: SwitchingProblem) -> SwitchOffSet:
    """Choose the set to switch off: of breakers alone if that meets the target, else of breakers and cords."""
    chosen = _choose(problem, _candidates(problem, ~problem.is_cord))
    if problem.is_cord.any() and not chosen.meets_by_search:
        return _choose(problem, _candidates(problem, np.ones(len(problem.is_cord), bool)))
    return chosen


def proven_smaller_set(problem: SwitchingProblem, chosen: SwitchOffSet) -> SwitchOffSet | None:
    """Look for a smaller set with the solver as well, which proves that there is none (None) or finds one."""
    found = _smaller(problem, chosen.enumerated, chosen.below, chosen.required_certainty, solve=True)
    if found is None or found.sum() >= chosen.chosen.sum():
        return None
    smaller = _evaluated(
        problem, chosen.enumerated, found, chosen.meets_by_search, chosen.required_certainty, chosen.below
    )
    return smaller if smaller.meets_target else None


def _candidates(problem: SwitchingProblem, kinds: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Indices of what may be switched off and gives something, the largest first; `kinds` has shape (n,)."""
    size = problem.sizes.max(axis=0)
    able = kinds & ~problem.keep & (size > NEGLIGIBLE_VOLTS) & ~problem.posteriors[0].always_live
    return np.array([k for k in np.argsort(-size, kind="stable") if able[k]], np.intp)


def _choices(problem: SwitchingProblem, candidates: NDArray[np.intp]) -> Choices:
    everything = np.ones((1, len(problem.names)), bool)
    plugged_in = design_matrix(everything, problem.circuit_of)[0]
    column = {int(k): at for at, k in enumerate(candidates)}
    posteriors = problem.posteriors
    return Choices(
        np.array([p.background + p.contributions @ plugged_in for p in posteriors]),
        np.array([p.contributions[:, candidates] for p in posteriors]),
        problem.weights,
        tuple(
            (column[cord], column[circuit])
            for cord, circuit in problem.circuit_of.items()
            if cord in column and circuit in column
        ),
        posteriors[0].hypothesis if len(posteriors) == 1 else None,
    )


def _enumerate(problem: SwitchingProblem, candidates: NDArray[np.intp]) -> EnumeratedSets:
    """Compute every subset of the largest candidates."""
    choices = _choices(problem, candidates)
    sets, houses = every_set(choices), len(problem.weights)
    means = np.empty((len(problem.posteriors), len(sets)))
    certainty = np.empty(len(sets))
    lowest_cost = np.full(houses, np.inf)
    best_in_house = np.zeros(houses, np.int64)
    size = sets.sum(axis=1)
    for at in range(0, len(sets), SETS_PER_BATCH):
        batch = slice(at, at + SETS_PER_BATCH)
        values = choices.values(sets[batch])
        means[:, batch] = values @ problem.weights
        worst = values.max(axis=0) if len(values) > 1 else values[0]
        certainty[batch] = problem.certainty(worst)
        # First the number switched off, where the target is met; then the value.
        cost = worst / 1e3 + size[batch, None]
        over = worst > problem.target_volts
        cost[over] = MISSED_COST + worst[over]
        row = np.argmin(cost, axis=0)
        lowest = cost[row, np.arange(houses)]
        better = lowest < lowest_cost
        best_in_house[better] = row[better] + at
        lowest_cost[better] = lowest[better]
    best_volts = np.where(lowest_cost >= MISSED_COST, lowest_cost - MISSED_COST, 0.0)
    is_read = count_readings(problem, _off(problem, candidates, sets), means, certainty)
    return EnumeratedSets(candidates, choices, sets, means, certainty, best_in_house, best_volts, is_read)


def count_readings(
    problem: SwitchingProblem,
    off: NDArray[np.bool_],
    means: NDArray[np.float64],
    certainty: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Put readings in the place of predictions, since what was read needs none; `means` and `certainty` are changed.

    Args:
        problem: possible houses, constraints and target.
        off: which circuits and cords each set has off, shape (sets, n).
        means: mean value of each set at each spot, V, shape (S, sets).
        certainty: weight of the houses in which each set stays within the tolerance at all spots, shape (sets,).

    Returns:
        Whether a set was read at every spot, shape (sets,).
    """
    read = read_volts(problem, off)
    known = ~np.isnan(read)
    means[known] = read[known]
    fits_tolerance = (np.where(known, read, 0.0) <= problem.target_volts + TOLERANCE_VOLTS).all(axis=0)
    certainty[~fits_tolerance] = 0.0
    is_read = np.asarray(known.all(axis=0), np.bool_)
    certainty[is_read & fits_tolerance] = 1.0
    return is_read


def read_volts(problem: SwitchingProblem, off: NDArray[np.bool_]) -> NDArray[np.float64]:
    """What was read with each set off, V, shape (S, sets); NaN where it was not read.

    Args:
        problem: possible houses, constraints and target.
        off: which circuits and cords each set has off, shape (sets, n).
    """
    volts = np.full((len(problem.sweeps), len(off)), np.nan)
    for s, (posterior, sweep) in enumerate(zip(problem.posteriors, problem.sweeps, strict=True)):
        matrix = design_matrix(~off | (posterior.always_live & problem.keep), problem.circuit_of)
        read = np.array([[name in reading.on for name in problem.names] for reading in sweep.readings], bool)
        for row, reading in zip(design_matrix(read, problem.circuit_of), sweep.readings, strict=True):
            volts[s, (matrix == row).all(axis=1)] = reading.volts
    return volts


def _off(
    problem: SwitchingProblem, candidates: NDArray[np.intp], sets: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Which circuits and cords sets of candidates have off, shape (sets, n).

    Args:
        problem: possible houses, constraints and target.
        candidates: index of each candidate, shape (m,).
        sets: 1 where a candidate is off, shape (sets, m).
    """
    off = np.zeros((len(sets), len(problem.names)), bool)
    off[:, candidates] = sets == 1.0
    return off


def _choose(problem: SwitchingProblem, candidates: NDArray[np.intp]) -> SwitchOffSet:
    """The smallest set of the candidates that meets the target, else the lowest one."""
    enumerated = _enumerate(problem, candidates)
    sets, size = enumerated.sets, enumerated.sets.sum(axis=1)
    met = (enumerated.means <= problem.target_volts).all(axis=0)
    worst = enumerated.means.max(axis=0)
    chosen: NDArray[np.float64] | None = None
    required = 0.0
    for level in CERTAINTY_LEVELS:
        fit = np.flatnonzero(met & (enumerated.certainty >= level))
        if len(fit):
            chosen, required = (
                sets[fit[np.lexsort((worst[fit], ~enumerated.is_read[fit], size[fit]))[0]]],
                level,
            )
            break
    below = int(chosen.sum()) if chosen is not None else enumerated.choices.count + 1
    smaller = _smaller(problem, enumerated, below, required, solve=False)
    if smaller is not None and _evaluated(problem, enumerated, smaller, True, required, below).meets_target:
        chosen = smaller
    meets = chosen is not None
    if chosen is None:
        near_volts = NEAR_VOLTS
        near = np.flatnonzero(worst <= worst.min() + near_volts)
        read = np.flatnonzero(
            enumerated.is_read & (worst <= worst.min() + READ_NEAR_VOLTS) & (size <= size[near].min())
        )
        if len(read):
            near, near_volts = read, READ_NEAR_VOLTS
        fewest = sets[near[np.lexsort((worst[near], size[near]))[0]]]
        chosen = lower_set(enumerated.choices, fewest, near_volts)
    return _evaluated(problem, enumerated, chosen, meets, required, below)


def _smaller(
    problem: SwitchingProblem, enumerated: EnumeratedSets, below: int, required: float, *, solve: bool
) -> NDArray[np.float64] | None:
    """A set of fewer than `below` candidates that reaches the required certainty; see `smaller_set`."""
    return smaller_set(
        enumerated.choices,
        problem.target_volts,
        enumerated.sets,
        enumerated.means,
        below,
        lambda values: problem.certainty(values) >= required,
        solve,
    ).off


def _evaluated(
    problem: SwitchingProblem,
    enumerated: EnumeratedSets,
    chosen: NDArray[np.float64],
    meets_by_search: bool,
    required: float,
    below: int,
) -> SwitchOffSet:
    """A chosen set with what it leaves; the arguments are those of `SwitchOffSet`."""
    means = enumerated.choices.means(chosen[None, :])[:, 0]
    values = enumerated.choices.values(chosen[None, :])[:, 0]
    # What was read needs no prediction.
    off = _off(problem, enumerated.candidates, chosen[None, :])
    read = read_volts(problem, off)[:, 0]
    means = np.where(np.isnan(read), means, read)
    values = np.where(np.isnan(read)[:, None], values, read[:, None])
    return SwitchOffSet(
        enumerated=enumerated,
        chosen=chosen,
        meets_by_search=meets_by_search,
        required_certainty=required,
        below=below,
        off=off[0],
        values=values,
        means=means,
        meets_target=bool((means <= problem.target_volts).all()),
    )
