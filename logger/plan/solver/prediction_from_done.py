"""What further remedies would bring once some are done and read: it starts from that reading.

In: a `RemedyProblem`, all that is done then, and a value that was read at a spot while a part of that was done.
Out: a `SpotPrediction`, its change and its rise against that value.

The reading gives the magnitude of what is left, the possible houses its direction; what is done further takes its
phasor from that. What somebody moved or shielded left a share that nobody knows: of all shares those count that give
what was read (`totals_of_magnitude`), and the prediction stays a range. Starting from nothing done is right as well: of
the two the one that claims less counts, so that a reading of what is done never makes a prediction less certain.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.plan.solver.prediction import (
    RANGE_SHARE,
    SpotPrediction,
    Values,
    chance_above,
    doubt_volts,
    doubted,
    outer_range,
    predict_at,
    predicted,
    range_at,
    refusal_at,
    rise_of,
    stacked,
    values_at,
    weak_parts,
)
from logger.plan.solver.remaining_share import magnitude_range, totals_of_magnitude
from logger.plan.solver.remedies import Refusal
from logger.plan.solver.remedy_problem import RemedyProblem
from logger.sweep.solver.sweep_design import MIN_DIFFERENCE_VOLTS, design_matrix
from logger.sweep.solver.switching_problem import live_under


@dataclass(frozen=True, slots=True)
class ReadWith:
    """A value that was read at a spot while some remedies were done and all else was on.

    Args:
        off: names of the circuits and cords that were taken away.
        weakened: names of those of which an unknown share remained.
        volts: V.
        u_volts: its standard uncertainty beside the others of the sweep, V.
    """

    off: frozenset[str]
    weakened: frozenset[str]
    volts: float
    u_volts: float


@dataclass(frozen=True, slots=True)
class _Step:
    """From what was read to what is predicted, at one spot. K houses, n circuits and cords.

    Args:
        spot: index of the spot.
        off: what is taken away then, shape (n,).
        weak: of what an unknown share remains then, shape (n,).
        off_before: what was taken away when it was read, shape (n,).
        weak_before: of what an unknown share remained when it was read, shape (n,).
        start: what was read.
    """

    spot: int
    off: NDArray[np.bool_]
    weak: NDArray[np.bool_]
    off_before: NDArray[np.bool_]
    weak_before: NDArray[np.bool_]
    start: ReadWith


def predict_from(
    problem: RemedyProblem, spot: int, off: Collection[str], weakened: Collection[str], start: ReadWith | None
) -> SpotPrediction:
    """Predict what is left at a spot once more is done than was when it was read.

    Args:
        problem: possible houses.
        spot: index of the spot.
        off: circuits and cords that are taken away then, those that were taken away already among them.
        weakened: those of which an unknown share remains then, likewise.
        start: what was read; None where it is predicted from nothing done, as `predict` does.

    Raises:
        KeyError: a name that is no part of the sweep.
    """
    away = problem.mask(off)
    weak = problem.mask(weakened) & ~away
    if start is None:
        return predict_at(problem, spot, away, weak)
    off_before = problem.mask(start.off)
    weak_before = problem.mask(start.weakened) & ~off_before
    away |= off_before
    weak = (weak | weak_before) & ~away
    found = _predict_step(problem, _Step(spot, away, weak, off_before, weak_before, start))
    return doubted(problem, spot, away | weak, found)


def _predict_step(problem: RemedyProblem, step: _Step) -> SpotPrediction:
    name = problem.spots[step.spot]
    refusal = refusal_at(problem, step.spot, step.off, step.weak)
    u_volts = _doubt_volts(problem, step)
    if refusal is Refusal.NO_BOUND and np.isfinite(u_volts):
        # What it is about is on both sides of the step.
        refusal = None
    elif refusal is None and not np.isfinite(u_volts):
        refusal = Refusal.NO_BOUND
    if refusal is not None:
        return SpotPrediction(name, refusal)
    if step.weak.any() or step.weak_before.any():
        return _range(problem, step, u_volts)
    return _number(problem, step, u_volts)


def _doubt_volts(problem: RemedyProblem, step: _Step) -> float:
    """What the readings do not exclude of the value beyond the possible houses, as a standard uncertainty, V.

    What an unknown share remains of is as doubtful as what is taken away.
    """
    posterior = problem.switching.posteriors[step.spot]
    read = live_under(problem.switching, posterior, step.off_before)[None, :]
    gone = step.off | ((step.weak | step.weak_before) & ~problem.stays)
    return max(
        doubt_volts(problem, step.spot, live_under(problem.switching, posterior, away), read)
        for away in (step.off, gone)
    )


def _counts(problem: RemedyProblem, spot: int, off: NDArray[np.bool_]) -> NDArray[np.float64]:
    """What each contribution counts at a spot with some taken away, shape (n,)."""
    live = live_under(problem.switching, problem.switching.posteriors[spot], off)
    return np.asarray(design_matrix(live[None, :], problem.switching.circuit_of)[0], np.float64)


def _direction(total: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """The direction of a value in each house, of magnitude 1, shape (K,)."""
    return np.asarray(np.where(total == 0.0, 1.0, total / np.maximum(np.abs(total), 1e-300)), np.complex128)


def _number(problem: RemedyProblem, step: _Step, u_volts: float) -> SpotPrediction:
    """What is left where the effect of everything is known; `u_volts` is what is doubtful beyond the houses, V."""
    switching, start = problem.switching, step.start
    name, posterior = problem.spots[step.spot], switching.posteriors[step.spot]
    weights, target_volts = switching.weights, switching.target_volts
    was, then = (_counts(problem, step.spot, off) for off in (step.off_before, step.off))
    before = Values(np.full(len(weights), start.volts), start.u_volts, True)
    if (was == then).all():
        return predicted(name, before, before, weights, target_volts)
    by_houses = values_at(problem, step.spot, step.off)
    found = predicted(name, by_houses, before, weights, target_volts)
    if by_houses.is_read:
        return found
    total = posterior.background + posterior.contributions @ was
    taken = posterior.contributions @ (was - then)
    # Each house with the reading one standard uncertainty lower, and higher: the same mean and variance.
    read = np.maximum(start.volts + start.u_volts * np.repeat([-1.0, 1.0], len(weights)), 0.0)
    after = Values(np.abs(read * np.tile(_direction(total), 2) - np.tile(taken, 2)), u_volts, False)
    from_start = predicted(name, after, Values(read, 0.0, True), np.tile(weights, 2) / 2.0, target_volts)
    assert found.u_volts is not None and from_start.u_volts is not None
    return from_start if from_start.u_volts < found.u_volts or not np.isfinite(found.u_volts) else found


def _range(problem: RemedyProblem, step: _Step, u_volts: float) -> SpotPrediction:
    """What may be left where an unknown share of something remains; `u_volts` is that of `_number`."""
    switching, start, s = problem.switching, step.start, step.spot
    name, posterior, weights = problem.spots[s], switching.posteriors[s], switching.weights
    was, then = (_counts(problem, s, off) for off in (step.off_before, step.off))
    live, live_then = (live_under(switching, posterior, off) for off in (step.off_before, step.off))
    total = posterior.background + posterior.contributions @ was
    parts = weak_parts(problem, s, live, step.weak_before)
    parts_then = weak_parts(problem, s, live_then, step.weak)
    # Of what was weakened and is gone then nobody knows how much was left, as of what is weakened only then.
    vanish = {k: part for k, part in parts.items() if k not in parts_then}
    taken = posterior.contributions @ (was - then) - stacked(vanish, len(total)).sum(axis=1)
    fresh = {**vanish, **{k: part for k, part in parts_then.items() if k not in parts}}
    phasors = stacked(parts, len(total))
    least, most = magnitude_range(total, phasors)
    own_volts = COVERAGE_FACTOR * start.u_volts
    slack_volts = COVERAGE_FACTOR * u_volts
    fits = (least - slack_volts <= start.volts + own_volts) & (most + slack_volts >= start.volts - own_volts)
    if not parts:
        fits[:] = True
    if float(weights[fits].sum()) <= 1.0 - RANGE_SHARE:
        return SpotPrediction(name, Refusal.NOT_FITTING)
    lowest, highest = np.full(len(total), np.inf), np.zeros(len(total))
    for volts in (max(start.volts - own_volts, 0.0), start.volts, start.volts + own_volts):
        if parts:
            left = totals_of_magnitude(total, phasors, np.clip(volts, least, most))
        else:
            left = (volts * _direction(total))[:, None]
        is_point = ~np.isnan(left)
        left = np.where(is_point, left, 0.0)
        points = left.shape[1]
        fresh_here = np.repeat(stacked(fresh, len(total)), points, axis=0)
        low, high = magnitude_range((left - taken[:, None]).reshape(-1), fresh_here)
        lowest = np.minimum(lowest, np.where(is_point, low.reshape(left.shape), np.inf).min(axis=1))
        highest = np.maximum(highest, np.where(is_point, high.reshape(left.shape), 0.0).max(axis=1))
    lowest_at_all, highest_at_all = range_at(problem, s, step.off, step.weak)
    ways = [
        (np.maximum(lowest - slack_volts, 0.0)[fits], (highest + slack_volts)[fits]),
        (lowest_at_all[fits], highest_at_all[fits]),
    ]
    of_fitting = weights[fits] / weights[fits].sum()
    ranges = [outer_range(low, high, of_fitting) for low, high in ways]
    at = min((0, 1), key=lambda way: ranges[way].highest_volts - ranges[way].lowest_volts)
    chances = [
        chance_above(bound - start.volts, start.u_volts, MIN_DIFFERENCE_VOLTS, of_fitting)
        for bound in ways[at]
    ]
    return SpotPrediction(name, at_best=ranges[at], rises=rise_of(*chances))
