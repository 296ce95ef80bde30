"""Readings that may have been exchanged without anything that shows it, though the answer would be another.

Two circuits that were each read alone, and together with others only both or neither, may have been read in each
other's place: the readings agree as well. So may any other two whose exchange another assignment of legs explains.
In: the mistakes that the readings of a spot allow. Out: the rows that may have been exchanged, and the reading that
tells most of them apart, where it tells enough of them. The others are stated, not asked for: to tell every two of n
circuits apart takes about log2 n readings more in every sound sweep.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.sweep.solver.ambiguity import tolerance_volts
from logger.sweep.solver.check_reading import Alternatives, most_noticed, moves, unconfirmed
from logger.sweep.solver.mistakes import exchanges_of, fit_mistake, misfit_of
from logger.sweep.solver.reading_influence import MAX_BEHIND_CHI2
from logger.sweep.solver.readings import Sweep
from logger.sweep.solver.sweep_fit import Misfit, SweepFit
from logger.sweep.solver.switching_problem import SwitchingProblem, live_under, readings_of

MIN_PAIRS_SHARE = 0.34
"""A reading is asked for where it tells apart exchanges as many as this share of the pairs of circuits that differ by
more than the target and are both on or both off in the chosen set. The first reading with half of them on does, a
second one hardly."""

MAX_BETWEEN = 2
"""And while fewer combinations than this were read with at least two circuits on and at least two off: one more reading
is what a visit bears, since an exchange is rare."""

MAX_FITTED_CIRCUITS = 8
"""With more circuits an exchange that has to be fitted is listed only where it was fitted anyway, for a closed answer,
so that an answer keeps nobody waiting on a large panel."""


def hidden_exchanges(
    problem: SwitchingProblem,
    spot: int,
    allowed: Alternatives,
    u_sizes: NDArray[np.float64],
    off: NDArray[np.bool_],
) -> Alternatives:
    """The exchanges of two readings that fit about as well and would change what a circuit gives.

    A change counts where it is larger than the stated expanded uncertainty and than the tolerance of a prediction.
    Those that a reading of the chosen set shows are no part of it: no answer is closed before that was taken.

    Args:
        problem: possible houses, constraints and target.
        spot: index of the spot.
        allowed: the mistakes that its readings allow.
        u_sizes: stated standard uncertainty of what each circuit gives, V, shape (n,).
        off: the set that is chosen, shape (n,).
    """
    sizes = problem.sizes[spot]
    limit = np.maximum(COVERAGE_FACTOR * u_sizes, tolerance_volts(sizes))
    changes_value = (np.abs(np.abs(allowed.contributions) - sizes) > limit).any(axis=1)
    is_exchange = np.array([len(mistake.at) == 2 for mistake in allowed.mistakes], bool)
    fits = allowed.behind_chi2 <= MAX_BEHIND_CHI2 * problem.sweeps[spot].understated ** 2
    return unconfirmed(problem, spot, allowed.only(is_exchange & fits & changes_value), off)


def exchange_check(
    problem: SwitchingProblem, spot: int, exchanges: Alternatives, off: NDArray[np.bool_]
) -> NDArray[np.bool_] | None:
    """The combination to read because of exchanges: one that tells enough of them apart, or the chosen set once more.

    The set is read again where its own reading may have been exchanged for another: it would prove nothing.

    Args:
        problem: possible houses, constraints and target.
        spot: index of the spot.
        exchanges: those that nothing shows.
        off: the set that is chosen, shape (n,).

    Returns:
        Shape (n,); None where nothing is to be read.
    """
    if not exchanges.mistakes:
        return None
    if _between(problem, spot) < MAX_BETWEEN:
        counts = np.array([float(mistake.count) for mistake in exchanges.mistakes])
        found = most_noticed(problem, spot, replace(exchanges, weights=counts))
        if found is not None and found[1] >= MIN_PAIRS_SHARE * _pairs(problem, spot, off):
            return found[0]
    live = live_under(problem, problem.posteriors[spot], off)
    is_single = len(rows_of_set(problem, spot, off)) == 1
    return live if is_single and moves(problem, spot, exchanges, live).any() else None


def rows_of_set(problem: SwitchingProblem, spot: int, off: NDArray[np.bool_]) -> list[int]:
    """Indices of the rows in which the chosen set itself was read at a spot.

    Args:
        problem: possible houses, constraints and target.
        spot: index of the spot.
        off: the set that is chosen, shape (n,).
    """
    sweep = problem.sweeps[spot]
    live = live_under(problem, problem.posteriors[spot], off)
    read = {reading.on for reading in readings_of(sweep, live, problem.names, problem.circuit_of)}
    return [at for at, row in enumerate(sweep.rows) if row.on in read]


def _between(problem: SwitchingProblem, spot: int) -> int:
    """How many combinations were read at a spot with at least two circuits on and at least two off.

    Args:
        problem: possible houses, constraints and target.
        spot: index of the spot.
    """
    always = problem.posteriors[spot].always_live
    free = [name for name, fixed in zip(problem.names, always | problem.is_cord, strict=True) if not fixed]
    on = [sum(name in reading.on for name in free) for reading in problem.sweeps[spot].readings]
    return sum(2 <= count <= len(free) - 2 for count in on)


def _pairs(problem: SwitchingProblem, spot: int, off: NDArray[np.bool_]) -> int:
    """How many pairs of circuits differ by more than the target and are not told apart by one of the set; at least 1.

    Args:
        problem: possible houses, constraints and target.
        spot: index of the spot.
        off: the set that is chosen, shape (n,).
    """
    sizes = problem.sizes[spot]
    differs = np.abs(sizes[:, None] - sizes) > problem.target_volts
    alike = off[:, None] == off
    circuits = ~problem.is_cord
    return max(1, int((differs & alike & circuits[:, None] & circuits).sum()) // 2)


def undetected_exchanges(
    sweep: Sweep, found: SweepFit, best: Misfit, cords: Mapping[str, str], allowed: Alternatives | None
) -> tuple[tuple[int, int], ...]:
    """Numbers of the rows that may have been exchanged, two by two, the lower one first; 1 is the first row.

    It is decided by the readings alone, so that it does not matter which of the two sweeps was written down: an
    exchange is listed where the readings with it undone agree with some house about as well.

    Args:
        sweep: readings at one spot, which agree with each other.
        found: the model fitted to them.
        best: misfit with the supply that they fit best.
        cords: which of the sweep's names are cords, and the circuit of each; empty where that is not known.
        allowed: the mistakes that the readings allow; None where they were not sought.
    """
    limit = MAX_BEHIND_CHI2 * sweep.understated**2
    noted = misfit_of(sweep, found)
    behind: dict[tuple[int, ...], float] = (
        {}
        if allowed is None
        else {
            mistake.at: float(chi2_more)
            for mistake, chi2_more in zip(allowed.mistakes, allowed.behind_chi2, strict=True)
            if len(mistake.at) == 2
        }
    )
    pairs: set[tuple[int, int]] = set()
    for mistake in exchanges_of(sweep, found.design):
        if mistake.swapped is None and mistake.at not in behind:
            if len(sweep.circuits) > MAX_FITTED_CIRCUITS:
                continue
            undone = fit_mistake(sweep, mistake, found.supply, cords)
            behind[mistake.at] = undone.behind_chi2(best, noted)
        if behind.get(mistake.at, 0.0) > limit:
            continue
        pairs |= {(min(one, other) + 1, max(one, other) + 1) for one, other in product(*mistake.alike)}
    return tuple(sorted(pairs))
