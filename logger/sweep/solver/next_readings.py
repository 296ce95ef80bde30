"""The reading to take next: the one with the largest expected information on what to switch off.

In: the problem and the set that was chosen. Out: spots and combinations, the most useful one first. A combination is an
array of what is live or plugged in, shape (n,).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from logger.sweep.solver.ambiguity import tolerance_volts
from logger.sweep.solver.posterior import Posterior
from logger.sweep.solver.smallest_set import SwitchOffSet
from logger.sweep.solver.sweep_design import design_matrix
from logger.sweep.solver.switching_problem import (
    NEGLIGIBLE_VOLTS,
    TOLERANCE_VOLTS,
    SwitchingProblem,
    background_reading,
    live_under,
    readings_of,
)

MIN_GAIN = 0.03
"""A reading whose expected information on what to switch off is below this (in nats) is not worth taking."""

MAX_GROUPED = 8
"""Pairs and triples of this many of the largest circuits are considered as a next reading."""

MAX_BEST_SETS = 8
"""This many of the sets that are best in some houses are considered as a next reading, the most likely ones first."""

MAX_NEXT = 3

DISTINCT_SIGMAS = 3
"""A reading distinguishes two values that differ by this many of its standard uncertainties."""

SpotReading = tuple[int, NDArray[np.bool_]]
"""Index of a spot, and the combination to read there, shape (n,)."""


def next_readings(problem: SwitchingProblem, chosen: SwitchOffSet, undecided: bool) -> list[SpotReading]:
    """Readings that are worth taking, the most useful one first; none when the answer is closed.

    Args:
        problem: possible houses, constraints and target.
        chosen: the set to switch off.
        undecided: whether the readings leave it open.
    """
    wanted = background_readings(problem)
    wanted += solo_readings(problem)
    if undecided or not chosen.meets_target:
        wanted += all_off_readings(problem)
    if wanted or undecided:
        wanted += informative_readings(problem, chosen)
    return _with_last(wanted, confirming_readings(problem, chosen))


def _with_last(wanted: Sequence[SpotReading], last: Sequence[SpotReading]) -> list[SpotReading]:
    """Each reading once, those of `last` at the end; alone where the most useful reading is one of them."""
    key = {(spot, live.tobytes()) for spot, live in last}
    if wanted and (wanted[0][0], wanted[0][1].tobytes()) in key:
        first = (wanted[0][0], wanted[0][1].tobytes())
        return [wanted[0], *(item for item in last if (item[0], item[1].tobytes()) != first)]
    once = {
        (spot, live.tobytes()): (spot, live) for spot, live in wanted if (spot, live.tobytes()) not in key
    }
    return [*once.values(), *last]


def confirming_readings(problem: SwitchingProblem, chosen: SwitchOffSet) -> list[SpotReading]:
    """The chosen set at each spot where it was not read yet, since a closed answer rests on a reading of its set."""
    found = []
    for spot, (posterior, sweep) in enumerate(zip(problem.posteriors, problem.sweeps, strict=True)):
        live = live_under(problem, posterior, chosen.off)
        if not readings_of(sweep, live, problem.names, problem.circuit_of):
            found.append((spot, live))
    return found


def background_readings(problem: SwitchingProblem) -> list[SpotReading]:
    """Everything switchable off, at each spot where nobody read that; no model stands in for it."""
    return [
        (spot, _only(problem, posterior, []))
        for spot, posterior in enumerate(problem.posteriors)
        if background_reading(problem, spot) is None
    ]


def all_off_readings(problem: SwitchingProblem) -> list[SpotReading]:
    """Readings to ask for while undecided: switch off everything switchable that was never off."""
    return [
        (spot, _only(problem, posterior, []))
        for spot, posterior in enumerate(problem.posteriors)
        if (posterior.always_live & ~problem.keep & ~problem.is_cord).any()
    ]


def solo_readings(problem: SwitchingProblem) -> list[SpotReading]:
    """Readings of one circuit alone that are always asked for, the least known circuit first.

    They are of circuits that were not read alone and give more than a little: their leg cannot be known otherwise.
    """
    found = []
    for spot, posterior in enumerate(problem.posteriors):
        unknown = np.maximum(problem.u_sizes[spot], problem.sizes[spot]) * (
            posterior.unread & ~problem.is_cord
        )
        found += [
            (float(unknown[k]), spot, _only(problem, posterior, [int(k)]))
            for k in np.flatnonzero(unknown > TOLERANCE_VOLTS)
        ]
    found.sort(key=lambda item: -item[0])
    return [(spot, live) for _, spot, live in found]


def informative_readings(problem: SwitchingProblem, chosen: SwitchOffSet) -> list[SpotReading]:
    """The readings with the largest expected information about the best set and about what the chosen one gives."""
    width = float(tolerance_volts(chosen.means.max()))
    _, best = np.unique(chosen.enumerated.best_in_house, return_inverse=True)
    # What is to be learned: which set is best, and what the chosen one gives.
    label = best
    for values in chosen.values:
        _, gives = np.unique(np.floor(values / width).astype(np.int64), return_inverse=True)
        label = label * (int(gives.max()) + 1) + gives
    ranked: list[tuple[float, int, NDArray[np.bool_]]] = []
    for spot, (posterior, sweep) in enumerate(zip(problem.posteriors, problem.sweeps, strict=True)):
        unread = _unread_candidates(problem, chosen, spot)
        if not unread:
            continue
        u_volts = float(np.median([reading.u_volts for reading in sweep.readings]))
        gains = [
            _information(values, label, problem.weights, u_volts)
            for values in posterior.predict(np.array(unread))
        ]
        ranked += [(gain, spot, live) for gain, live in zip(gains, unread, strict=True) if gain > MIN_GAIN]
    ranked.sort(key=lambda item: -item[0])
    return [(spot, live) for _, spot, live in ranked[:MAX_NEXT]]


def _only(problem: SwitchingProblem, posterior: Posterior, on: Sequence[int]) -> NDArray[np.bool_]:
    """Only those circuits on; what must stay on and was never off stays on, and cords stay plugged in."""
    live: NDArray[np.bool_] = (posterior.always_live & problem.keep) | problem.is_cord
    live[list(on)] = True
    return live


def _unread_candidates(problem: SwitchingProblem, chosen: SwitchOffSet, spot: int) -> list[NDArray[np.bool_]]:
    """Combinations that may be worth reading at a spot and were not read there, each once."""
    posterior, sweep = problem.posteriors[spot], problem.sweeps[spot]
    is_cord, count = problem.is_cord, len(problem.names)
    always = posterior.always_live & problem.keep
    rows = [~chosen.off]
    best_sets, index = np.unique(chosen.enumerated.best_in_house, return_inverse=True)
    weight = np.bincount(index, problem.weights)
    for i in np.argsort(-weight)[:MAX_BEST_SETS]:
        live = np.ones(count, bool)
        live[chosen.enumerated.candidates] = chosen.enumerated.sets[best_sets[i]] == 0.0
        rows.append(live)
    rows.append(_only(problem, posterior, []))
    rows += [_only(problem, posterior, [int(k)]) for k in np.flatnonzero(posterior.unread & ~is_cord)]
    for k in np.flatnonzero(posterior.unread & is_cord):
        live = np.ones(count, bool)
        live[k] = False
        rows.append(live)
    size = problem.sizes[spot] * ~posterior.always_live * ~is_cord
    largest = [int(k) for k in np.argsort(-size, kind="stable") if size[k] > NEGLIGIBLE_VOLTS][:MAX_GROUPED]
    for grouped in (2, 3):
        rows += [_only(problem, posterior, group) for group in combinations(largest, grouped)]
    for group in posterior.alike:
        half = group[: (len(group) + 1) // 2]
        rows += [
            _only(problem, posterior, [*half, *largest[:1]]),
            _only(problem, posterior, half),
        ]
    read = np.array([[name in r.on for name in problem.names] for r in sweep.readings], bool)
    seen = {row.tobytes() for row in design_matrix(read, problem.circuit_of)}
    unread = []
    for row in rows:
        key = design_matrix((row | always)[None, :], problem.circuit_of).tobytes()
        if key not in seen:
            seen.add(key)
            unread.append(row | always)
    return unread


def _information(
    values: NDArray[np.float64], label: NDArray[np.int64], weights: NDArray[np.float64], u_volts: float
) -> float:
    """Mutual information of a reading and the label, in nats.

    Args:
        values: of the reading in each house, V, shape (K,).
        label: what is to be learned, one number for each house, shape (K,).
        weights: of the houses, shape (K,).
        u_volts: standard uncertainty of the reading.
    """
    _, bin_index = np.unique(
        np.floor(values / (DISTINCT_SIGMAS * u_volts)).astype(np.int64), return_inverse=True
    )
    _, label_index = np.unique(label, return_inverse=True)
    joint = np.zeros((bin_index.max() + 1, label_index.max() + 1))
    np.add.at(joint, (bin_index, label_index), weights)
    return _entropy(joint.sum(axis=0)) + _entropy(joint.sum(axis=1)) - _entropy(joint.ravel())


def _entropy(weights: NDArray[np.float64]) -> float:
    """Shannon entropy in nats of weights of any sum."""
    some = weights[weights > 0]
    return float(-(some * np.log(some)).sum())
