"""The smallest set that does not rely on live circuits cancelling each other, found exactly.

In: the problem, of which only the magnitudes in volts count. Out: the set whose remaining magnitudes, added, meet the
target at every spot; two live circuits may then add up or cancel, as another posture makes them do.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from math import comb

import numpy as np
from numpy.typing import NDArray

from logger.sweep.solver.subset_search import MAX_LISTED_SETS
from logger.sweep.solver.sweep_design import design_matrix
from logger.sweep.solver.switching_problem import NEGLIGIBLE_VOLTS, SwitchingProblem, background_reading

ROUNDING_VOLTS = 1e-12
"""A sum that misses what is needed by less than this misses it by rounding only."""


def choose_robust_set(problem: SwitchingProblem) -> NDArray[np.bool_]:
    """Which circuits and cords to switch off so that nothing relies on live circuits cancelling, shape (n,)."""
    able = ~problem.keep & ~problem.posteriors[0].always_live
    # A cord of a circuit that can be switched off is never better than that circuit.
    for cord, circuit in problem.circuit_of.items():
        able[cord] &= not able[circuit]
    off = np.zeros(len(problem.names), bool)
    rest = remaining_volts(problem, off)
    for kinds in (able & ~problem.is_cord, able):
        candidates = np.flatnonzero(kinds & (problem.sizes.max(axis=0) > NEGLIGIBLE_VOLTS))
        off = np.zeros(len(problem.names), bool)
        off[candidates] = robust_set(problem.sizes[:, candidates], rest, problem.target_volts)
        if max(remaining_volts(problem, off)) <= problem.target_volts or not problem.is_cord.any():
            break
    return off


def remaining_volts(problem: SwitchingProblem, off: NDArray[np.bool_]) -> list[float]:
    """The magnitudes that a set leaves at each spot, added, V.

    Args:
        problem: possible houses, constraints and target.
        off: which circuits and cords are off or unplugged, shape (n,).
    """
    return [_background_volts(problem, spot) + live for spot, live in enumerate(_live_volts(problem, off))]


def relies_on_cancellation(problem: SwitchingProblem, off: NDArray[np.bool_]) -> bool:
    """Whether a set that meets the target does so only as long as live circuits cancel something.

    Where nothing that gives anything stays live, nothing can cancel, whatever the background is.

    Args:
        problem: possible houses, constraints and target.
        off: which circuits and cords are off or unplugged, shape (n,).
    """
    limit_volts = problem.target_volts + NEGLIGIBLE_VOLTS
    return any(
        left > limit_volts and live > NEGLIGIBLE_VOLTS
        for left, live in zip(remaining_volts(problem, off), _live_volts(problem, off), strict=True)
    )


def _live_volts(problem: SwitchingProblem, off: NDArray[np.bool_]) -> list[float]:
    """The magnitudes of what a set leaves live at each spot, added, V, without the background.

    Args:
        problem: possible houses, constraints and target.
        off: which circuits and cords are off or unplugged, shape (n,).
    """
    counts = design_matrix(~off[None, :], problem.circuit_of)[0]
    return [float(size @ counts) for size in problem.sizes]


def _background_volts(problem: SwitchingProblem, spot: int) -> float:
    """What is there with everything off, V: the reading of it where there is one. `spot` is an index.

    A reading in which something is on that others switched off is none of the background.
    """
    posterior, read = problem.posteriors[spot], background_reading(problem, spot)
    always = {name for name, is_live in zip(problem.names, posterior.always_live, strict=True) if is_live}
    if read is not None and read.on <= always:
        return read.volts
    return float(np.abs(posterior.background) @ posterior.weights)


def robust_set(
    sizes: NDArray[np.float64], rest_volts: Sequence[float], target_volts: float
) -> NDArray[np.bool_]:
    """Find the smallest set whose remaining magnitudes, added, meet the target at every spot.

    At one spot the largest first are the smallest set: of all sets of k the k largest take away most, so if these do
    not meet the target no set of k does. At several spots this holds for each one; the set that the most demanding spot
    needs is the smallest if it does at the others as well. Else larger sets are tried, size by size, and where these
    are too many, a mixed-integer program finds it.
    Where even everything does not meet the target, everything that gives anything is in the set.

    Args:
        sizes: what each choice takes away, V, shape (S, m).
        rest_volts: all magnitudes added, V, for each of the S spots.
        target_volts: what they may add up to.

    Returns:
        Which choices are in the set, shape (m,).
    """
    needs = np.asarray(rest_volts) - target_volts
    best = np.zeros(sizes.shape[1], bool)
    for size, need in zip(sizes, needs, strict=True):
        order = np.argsort(-size, kind="stable")
        taken = np.concatenate([[0.0], size[order].cumsum()])
        short = taken < need - ROUNDING_VOLTS
        if short.all():
            return np.asarray((sizes > 0.0).any(axis=0))
        own = np.zeros_like(best)
        own[order[: int(np.argmin(short))]] = True
        if own.sum() > best.sum():
            best = own
    if (sizes @ best >= needs - ROUNDING_VOLTS).all():
        return best
    for count in range(int(best.sum()), sizes.shape[1] + 1):
        if comb(sizes.shape[1], count) > MAX_LISTED_SETS:
            break
        groups = np.array(list(combinations(range(sizes.shape[1]), count)))
        taken = sizes[:, groups].sum(axis=2)
        fit = np.flatnonzero((taken >= needs[:, None] - ROUNDING_VOLTS).all(axis=0))
        if len(fit):
            best = np.zeros_like(best)
            # Among sets of one size the one that takes away most.
            best[groups[fit[np.argmax(taken[:, fit].sum(axis=0))]]] = True
            return best
    return _robust_set_by_program(sizes, needs)


def _robust_set_by_program(sizes: NDArray[np.float64], needs: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Solve for the smallest set that takes away `needs` (V, shape (S,)) at every spot; shape (m,)."""
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 start-up: 0.5 s, and seldom needed

    m = sizes.shape[1]
    solved = milp(
        # Among sets of one size the one that takes away most.
        np.ones(m) - 1e-4 * sizes.sum(axis=0) / max(float(sizes.sum()), 1e-12),
        integrality=np.ones(m),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(sizes, needs, np.inf),
    )
    return np.asarray(np.round(solved.x) == 1.0)
