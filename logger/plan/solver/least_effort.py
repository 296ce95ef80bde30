"""The set of remedies of least total effort that meets the target at every spot.

In: a `RemedyProblem` and remedies. Out: a `LeastEffort`. The rules of certainty are those of the smallest set
(`logger.sweep.solver.smallest_set`), and so is the search, with efforts as costs. Of equal effort the fewer remedies;
of these one that was read, then the lower value. Where no set meets the target, the lowest one, what is left, and why.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.plan.solver.prediction import SpotPrediction, predict
from logger.plan.solver.remedies import EFFORT_WEIGHTS, Refusal, Remedy
from logger.plan.solver.remedy_choices import RemedyChoices, remedy_choices
from logger.plan.solver.remedy_problem import RemedyProblem
from logger.plan.solver.unreachable import Unreachable, unreachable_at
from logger.sweep.solver.smallest_set import CERTAINTY_LEVELS, NEAR_VOLTS, count_readings
from logger.sweep.solver.subset_search import every_set, lower_set, smaller_set
from logger.sweep.solver.sweep_design import MIN_DIFFERENCE_VOLTS

SETS_PER_BATCH = 512

MIN_SAVED_EFFORT = 2
"""A cheaper set that only may do is worth a reading where it saves more than one thing in passing. No source, ours."""

MIN_CHANCE, MIN_EXPECTED_SAVING = 0.1, 1.0
"""It is named where at least this share of the possible houses keeps within the tolerance, and where that share of the
effort saved outweighs one reading, which counts as a thing in passing. No source, ours."""

MAX_TRIED = 16
"""So many sets, the most promising by the houses alone, are valued with all that is doubtful."""


@dataclass(frozen=True, slots=True)
class MayDo:
    """A set of less effort that may meet the target though nothing makes it certain: a reading of it tells.

    Args:
        remedies: names of those in the set, in the order in which they were given.
        effort: what they cost together, in `EFFORT_WEIGHTS`.
        off: names of the circuits and cords that they take away.
        chance: share of the possible houses in which it stays within target + 0.03 V at every spot, no more than what
            its predictions claim for any of them.
        spots: what it leaves at each spot.
    """

    remedies: tuple[str, ...]
    effort: int
    off: tuple[str, ...]
    chance: float
    spots: tuple[SpotPrediction, ...]


@dataclass(frozen=True, slots=True)
class LeastEffort:
    """The set of least effort, and what it leaves.

    Args:
        refusal: why there is no set; None where there is one. The rest is empty then, but for `left_out`.
        remedies: names of those in the set, in the order in which they were given.
        effort: what they cost together, in `EFFORT_WEIGHTS`.
        off: names of the circuits and cords that they take away.
        meets_target: the set meets the target at every spot, in the mean of the possible houses or by its reading.
        certainty: share of the possible houses in which it stays within target + 0.03 V at every spot, no more than
            what its predictions claim for any of them.
        proven: no set of less effort meets the target as certainly; where none meets it, that none does. Else a bound
            of the search was reached, and the set is the best that was found.
        spots: what it leaves at each spot.
        unreachable: what is left and why, at each spot where it does not meet the target.
        left_out: names of the remedies that no set may hold, and why.
        may_do: a set of clearly less effort to try first; None where none is worth a reading, or the target is not met.
    """

    refusal: Refusal | None
    remedies: tuple[str, ...] = ()
    effort: int = 0
    off: tuple[str, ...] = ()
    meets_target: bool = False
    certainty: float = 0.0
    proven: bool = False
    spots: tuple[SpotPrediction, ...] = ()
    unreachable: tuple[Unreachable, ...] = ()
    left_out: tuple[tuple[str, Refusal], ...] = ()
    may_do: MayDo | None = None


@dataclass(frozen=True, slots=True)
class _Sets:
    """Sets with what they leave. S spots, m choices.

    Args:
        sets: 1 where a choice is made, shape (sets, m).
        means: mean value at each spot, V, shape (S, sets).
        certainty: share of the houses within the tolerance at all spots, shape (sets,).
        is_read: read at every spot, shape (sets,).
    """

    sets: NDArray[np.float64]
    means: NDArray[np.float64]
    certainty: NDArray[np.float64]
    is_read: NDArray[np.bool_]


def least_effort(
    problem: RemedyProblem, remedies: Sequence[Remedy], excluded: Collection[tuple[str, str]] = ()
) -> LeastEffort:
    """Find the set of least total effort that meets the target at every spot.

    Args:
        problem: possible houses.
        remedies: what may be done; those of unknown effect are in no set, since nothing can rely on them.
        excluded: names of remedies, two by two, that are never done together. Those that share a circuit or cord need
            not be named.

    Raises:
        KeyError: a pair names no remedy.
    """
    able = remedy_choices(problem, remedies, excluded)
    if problem.refusal is not None:
        return LeastEffort(problem.refusal, left_out=able.left_out)
    enumerated = _valued(problem, able, every_set(able.choices))
    chosen, proven = _cheapest(problem, able, enumerated)
    if chosen is None:
        chosen = _lowest(problem, able, enumerated)
    found = _valued(problem, able, chosen[None, :])
    meets = bool((found.means <= problem.switching.target_volts).all())
    off = np.asarray(able.off(chosen[None, :])[0], np.bool_)
    done = _remedies_of(able, remedies, chosen)
    spots = predict(problem, problem.named(off))
    if (refusal := next((spot.refusal for spot in spots if spot.refusal is not None), None)) is not None:
        return LeastEffort(refusal, left_out=able.left_out)
    return LeastEffort(
        refusal=None,
        remedies=tuple(remedy.name for remedy in done),
        effort=_effort(done),
        off=problem.named(off),
        meets_target=meets,
        certainty=min(float(found.certainty[0]), *(spot.certainty or 0.0 for spot in spots)),
        proven=proven and able.complete,
        spots=spots,
        unreachable=()
        if meets
        else tuple(
            unreachable_at(problem, s, spot, off, np.asarray(able.takes.any(axis=0), np.bool_))
            for s, spot in enumerate(spots)
            if found.means[s, 0] > problem.switching.target_volts
        ),
        left_out=able.left_out,
        may_do=_may_do(problem, able, remedies, enumerated, _effort(done)) if meets else None,
    )


def _effort(remedies: Sequence[Remedy]) -> int:
    """What remedies cost together, in `EFFORT_WEIGHTS`."""
    return sum(EFFORT_WEIGHTS[remedy.effort] for remedy in remedies)


def _remedies_of(
    able: RemedyChoices, remedies: Sequence[Remedy], chosen: NDArray[np.float64]
) -> list[Remedy]:
    """The remedies of a set, in the order in which they were given; `chosen` has shape (m,)."""
    in_set = frozenset[int]().union(*(able.remedies[k] for k in np.flatnonzero(chosen)))
    return [remedy for r, remedy in enumerate(remedies) if r in in_set]


def _may_do(
    problem: RemedyProblem,
    able: RemedyChoices,
    remedies: Sequence[Remedy],
    enumerated: _Sets,
    effort: int,
) -> MayDo | None:
    """The set of less effort that promises to save most, of those of the largest choices that were not read yet.

    Args:
        problem: possible houses.
        able: the choices.
        remedies: as they were given.
        enumerated: the sets that are looked at.
        effort: of the set that is to be undercut.
    """
    costs = enumerated.sets @ able.choices.cost_of_each // (len(remedies) + 1)
    saved = effort - costs
    near = np.flatnonzero((saved >= MIN_SAVED_EFFORT) & ~enumerated.is_read)
    worst = enumerated.means[:, near].max(axis=0)
    order = np.lexsort((worst, -(enumerated.certainty[near] * saved[near])))
    best: tuple[float, MayDo] | None = None
    for at in near[order[:MAX_TRIED]]:
        off = np.asarray(able.off(enumerated.sets[[at]])[0], np.bool_)
        spots = predict(problem, problem.named(off))
        chance = min(float(enumerated.certainty[at]), *(spot.certainty or 0.0 for spot in spots))
        saving = chance * float(saved[at])
        if chance < MIN_CHANCE or saving < MIN_EXPECTED_SAVING or (best is not None and saving <= best[0]):
            continue
        done = _remedies_of(able, remedies, enumerated.sets[at])
        names = tuple(remedy.name for remedy in done)
        best = saving, MayDo(names, _effort(done), problem.named(off), chance, spots)
    return best[1] if best is not None else None


def _valued(problem: RemedyProblem, able: RemedyChoices, sets: NDArray[np.float64]) -> _Sets:
    """Work out what sets leave; `sets` has shape (sets, m)."""
    switching, choices = problem.switching, able.choices
    means, certainty = np.empty((len(problem.spots), len(sets))), np.empty(len(sets))
    for at in range(0, len(sets), SETS_PER_BATCH):
        batch = slice(at, at + SETS_PER_BATCH)
        values = choices.values(sets[batch])
        means[:, batch] = values @ switching.weights
        certainty[batch] = switching.certainty(values.max(axis=0))
    is_read = count_readings(switching, able.off(sets), means, certainty)
    return _Sets(sets, means, certainty, is_read)


def _cheapest(
    problem: RemedyProblem, able: RemedyChoices, enumerated: _Sets
) -> tuple[NDArray[np.float64] | None, bool]:
    """The set of least effort that meets the target, shape (m,), by the first level of certainty that any reaches.

    Returns:
        The set, None where none was found; whether that is proven.
    """
    switching, choices, costs = problem.switching, able.choices, able.choices.cost_of_each
    met = (enumerated.means <= switching.target_volts).all(axis=0)
    cost, worst = enumerated.sets @ costs, enumerated.means.max(axis=0)
    proven = True
    for level in CERTAINTY_LEVELS:

        def is_certain(values: NDArray[np.float64], level: float = level) -> NDArray[np.bool_]:
            return np.asarray(switching.certainty(values) >= level, np.bool_)

        fit = np.flatnonzero(met & (enumerated.certainty >= level))
        fit = fit[np.lexsort((worst[fit], ~enumerated.is_read[fit], cost[fit]))]
        search = smaller_set(
            choices,
            switching.target_volts,
            enumerated.sets,
            enumerated.means,
            int(cost[fit[0]]) if len(fit) else int(costs.sum()) + 1,
            is_certain,
        )
        proven &= search.proven
        if search.off is not None:
            found = _valued(problem, able, search.off[None, :])
            if (found.means <= switching.target_volts).all() and found.certainty[0] >= level:
                return search.off, proven
            # A reading says otherwise than the prediction that it was found by.
            proven = False
        if len(fit):
            return enumerated.sets[fit[0]], proven
    return None, proven


def _lowest(problem: RemedyProblem, able: RemedyChoices, enumerated: _Sets) -> NDArray[np.float64]:
    """The set that leaves least at the worst spot, shape (m,), without what changes that by next to nothing."""
    costs, worst = able.choices.cost_of_each, enumerated.means.max(axis=0)
    near = np.flatnonzero(worst <= worst.min() + MIN_DIFFERENCE_VOLTS)
    order = np.lexsort((worst[near], ~enumerated.is_read[near], enumerated.sets[near] @ costs))
    chosen = lower_set(able.choices, enumerated.sets[near[order[0]]], NEAR_VOLTS)
    limit_volts = float(_valued(problem, able, chosen[None, :]).means.max()) + MIN_DIFFERENCE_VOLTS
    # What costs most first, of these what gives least.
    for k in np.lexsort((-np.arange(len(costs)), -costs)):
        without = chosen.copy()
        without[k] = 0.0
        if chosen[k] and _valued(problem, able, without[None, :]).means.max() <= limit_volts:
            chosen = without
    return chosen
