"""The decision after a sweep, step by step: each step takes the results of those before it.

possible houses -> problem (`switching_problem`) -> set to switch off (`smallest_set`) -> is it open? (`ambiguity`)
-> set without cancellation (`robust_set`), cords instead of breakers (`cord_alternatives`) -> `next_readings`
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.sweep.solver.ambiguity import is_undecided
from logger.sweep.solver.cord_alternatives import cord_alternatives
from logger.sweep.solver.next_readings import (
    SpotReading,
    confirming_readings,
    next_readings,
)
from logger.sweep.solver.posterior import Posterior
from logger.sweep.solver.readings import Sweep
from logger.sweep.solver.robust_set import choose_robust_set, relies_on_cancellation
from logger.sweep.solver.smallest_set import SwitchOffSet, choose_smallest_set, proven_smaller_set
from logger.sweep.solver.switching_problem import (
    SwitchingProblem,
    background_reading,
    set_reading,
    switching_problem,
)


@dataclass(frozen=True, slots=True)
class Decision:
    """What to switch off, and what is open about it. S spots, n circuits and cords.

    Args:
        problem: possible houses, constraints and target.
        chosen: the smallest set that meets the target.
        predictions: mean and standard uncertainty with that set off, V, for each of the S spots.
        relies_on_cancellation: it meets the target only as long as live circuits cancel each other.
        robust_off: the smallest set that does not rely on cancellation, shape (n,).
        instead: circuits of the set, and the cords that may be unplugged instead, by their indices.
        undecided: the readings leave the set open, apart from its own confirmation.
        wanted: readings to take next, the most useful one first; empty when the answer is closed.
    """

    problem: SwitchingProblem
    chosen: SwitchOffSet
    predictions: tuple[tuple[float, float], ...]
    relies_on_cancellation: bool
    robust_off: NDArray[np.bool_]
    instead: tuple[tuple[int, list[int]], ...]
    undecided: bool
    wanted: tuple[SpotReading, ...]


def decide(
    spots: Sequence[tuple[Posterior, Sweep]],
    keep: frozenset[str],
    target_volts: float,
    is_cord: NDArray[np.bool_],
) -> Decision:
    """Decide what to switch off.

    Args:
        spots: what the readings leave possible at each spot, and the readings.
        keep: names of what must stay on or plugged in.
        target_volts: what the value shall not exceed at any spot.
        is_cord: which ones are cords, shape (n,).
    """
    problem = switching_problem(spots, keep, target_volts, is_cord)
    chosen = choose_smallest_set(problem)
    undecided = is_undecided(problem, chosen)
    # While readings are to come there is no need to prove that no smaller set does.
    if not undecided and (smaller := proven_smaller_set(problem, chosen)) is not None:
        chosen = smaller
        undecided = is_undecided(problem, chosen)
    wanted = next_readings(problem, chosen, undecided)
    return Decision(
        problem=problem,
        chosen=chosen,
        predictions=tuple(_prediction(problem, chosen, spot) for spot in range(len(spots))),
        relies_on_cancellation=chosen.meets_target and relies_on_cancellation(problem, chosen.off),
        robust_off=choose_robust_set(problem),
        instead=tuple(cord_alternatives(problem, chosen)),
        undecided=undecided or len(wanted) > len(confirming_readings(problem, chosen)),
        wanted=tuple(wanted),
    )


def _prediction(problem: SwitchingProblem, chosen: SwitchOffSet, spot: int) -> tuple[float, float]:
    """Mean and standard uncertainty with the chosen set off, V: those of the reading where that set was read.

    Where neither the set nor everything off was read, the uncertainty covers each background that the readings allow.

    Args:
        problem: possible houses and readings.
        chosen: the set to switch off.
        spot: index of the spot.
    """
    if (reading := set_reading(problem, spot, chosen.off)) is not None:
        return reading.volts, reading.u_volts
    values, mean = chosen.values[spot], float(chosen.means[spot])
    u_volts = float(((values - mean) ** 2) @ problem.weights) ** 0.5
    if background_reading(problem, spot) is not None:
        return mean, u_volts
    # Without that reading the background may be anything from zero to the smallest reading, whatever is drawn for it.
    smallest_volts = min((reading.volts for reading in problem.sweeps[spot].readings), default=0.0)
    return mean, max(u_volts, mean / COVERAGE_FACTOR, (smallest_volts - mean) / COVERAGE_FACTOR)
