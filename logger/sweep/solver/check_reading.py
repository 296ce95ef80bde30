"""A reading that checks the others: it would notice a mistake that agrees with all of them.

A plain sweep has hardly more readings than unknowns: two circuits whose readings were exchanged agree with all of them.
In: the problem, the model fitted at a spot, and the mistakes that its readings allow. Out: a combination to read, or
None where no reading is worth it. What the readings allow is also what `exchanges.py` looks through.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import exp, isfinite

import numpy as np
from numpy.typing import NDArray

from logger.sweep.solver.mistakes import Mistake, changes, counts_of, fit_mistake, misfit_of
from logger.sweep.solver.posterior import Posterior
from logger.sweep.solver.readings import Sweep
from logger.sweep.solver.sweep_design import design_matrix
from logger.sweep.solver.sweep_fit import Misfit, SweepFit
from logger.sweep.solver.switching_problem import SwitchingProblem, live_under, readings_of

MIN_NOTICED_SHARE = 0.2
"""A reading is worth taking where it notices at least this share of the mistakes that may have been made."""

MIN_NOTICED_VOLTS, NOTICED_SIGMAS = 0.03, 10.0
"""A mistake is noticed where the reading is further from what it would be without one, in volts and in standard
uncertainties."""

MAX_COMBINED = 7
"""Every group of so many of the largest circuits is considered."""


@dataclass(frozen=True, slots=True)
class Alternatives:
    """What a home may be if a mistake was made. H mistakes, n circuits and cords.

    Args:
        background: complex V, shape (H,).
        contributions: complex V, shape (H, n).
        weights: of the mistakes, shape (H,).
        mistakes: the H mistakes.
        behind_chi2: how much worse the readings fit with each mistake undone, less than 0 where better, shape (H,).
    """

    background: NDArray[np.complex128]
    contributions: NDArray[np.complex128]
    weights: NDArray[np.float64]
    mistakes: tuple[Mistake, ...]
    behind_chi2: NDArray[np.float64]

    def predict(self, live: NDArray[np.bool_], circuit_of: Mapping[int, int]) -> NDArray[np.float64]:
        """Body voltage with each mistake undone, V.

        Args:
            live: combinations, shape (C, n).
            circuit_of: index of each cord's circuit by the index of the cord, where it is known.

        Returns:
            Shape (C, H).
        """
        volts: NDArray[np.float64] = np.abs(
            self.background + design_matrix(live, circuit_of) @ self.contributions.T
        )
        return volts

    def only(self, which: NDArray[np.bool_]) -> Alternatives:
        """Some of them; `which` has shape (H,)."""
        mistakes = tuple(mistake for mistake, kept in zip(self.mistakes, which, strict=True) if kept)
        return Alternatives(
            self.background[which],
            self.contributions[which],
            self.weights[which],
            mistakes,
            self.behind_chi2[which],
        )


def check_reading(
    problem: SwitchingProblem, spot: int, allowed: Alternatives, off: NDArray[np.bool_]
) -> NDArray[np.bool_] | None:
    """The combination that would notice most of the mistakes that the readings allow; None where none is worth it.

    Args:
        problem: possible houses, constraints and target.
        spot: index of the spot.
        allowed: the mistakes that its readings allow.
        off: the set that is chosen, whose own reading is taken anyway, shape (n,).
    """
    found = most_noticed(problem, spot, unconfirmed(problem, spot, allowed, off))
    return None if found is None or found[1] < MIN_NOTICED_SHARE else found[0]


def unconfirmed(
    problem: SwitchingProblem, spot: int, allowed: Alternatives, off: NDArray[np.bool_]
) -> Alternatives:
    """The mistakes that a reading of the chosen set will not notice: all of them where it was taken already.

    Args:
        problem: possible houses, constraints and target.
        spot: index of the spot.
        allowed: the mistakes that its readings allow.
        off: the set that is chosen, shape (n,).
    """
    live = live_under(problem, problem.posteriors[spot], off)
    if readings_of(problem.sweeps[spot], live, problem.names, problem.circuit_of):
        return allowed
    return allowed.only(~moves(problem, spot, allowed, live))


def moves(
    problem: SwitchingProblem, spot: int, allowed: Alternatives, live: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Which mistakes change the value of a combination by so much that a reading of it notices them, shape (H,).

    Args:
        problem: possible houses, constraints and target.
        spot: index of the spot.
        allowed: H mistakes.
        live: the combination, shape (n,).
    """
    limit = _noticed_volts(problem.sweeps[spot])
    noticed: NDArray[np.bool_] = _noticed(allowed, problem.posteriors[spot], live[None, :], limit)[0] >= 0.5
    return noticed


def most_noticed(
    problem: SwitchingProblem, spot: int, allowed: Alternatives
) -> tuple[NDArray[np.bool_], float] | None:
    """The combination that would notice most mistakes, and the weight of these; None where there is nothing to read.

    Args:
        problem: possible houses, constraints and target.
        spot: index of the spot.
        allowed: the mistakes that are to be noticed.
    """
    live = _candidates(problem, spot, allowed) if allowed.mistakes else None
    if live is None or not len(live):
        return None
    limit = _noticed_volts(problem.sweeps[spot])
    weight = _noticed(allowed, problem.posteriors[spot], live, limit) @ allowed.weights
    best = int(np.argmax(weight))
    return live[best], float(weight[best])


def _noticed_volts(sweep: Sweep) -> float:
    u_volts = float(np.median([reading.u_volts for reading in sweep.readings]))
    return max(MIN_NOTICED_VOLTS, NOTICED_SIGMAS * u_volts)


def _noticed(
    allowed: Alternatives, posterior: Posterior, live: NDArray[np.bool_], limit_volts: float
) -> NDArray[np.float64]:
    """Probability that a reading differs from what it would be without each mistake, shape (C, H).

    Args:
        allowed: mistakes.
        posterior: possible houses if there is no mistake.
        live: combinations, shape (C, n).
        limit_volts: least difference that is noticed.
    """
    with_mistake = allowed.predict(live, posterior.circuit_of)
    without = posterior.predict(live)
    return np.array(
        [
            (np.abs(one[:, None] - other) > limit_volts) @ posterior.weights
            for one, other in zip(with_mistake, without, strict=True)
        ]
    )


def allowed_mistakes(
    sweep: Sweep, found: SweepFit, best: Misfit, cords: Mapping[str, str], min_volts: float
) -> Alternatives:
    """The mistakes that agree with all readings, each with its share of all that may have been made.

    Args:
        sweep: readings at one spot.
        found: the model fitted to them.
        best: misfit with the supply that they fit best.
        cords: which of the sweep's names are cords, and the circuit of each.
        min_volts: a mistake changes a reading by more than this.
    """
    mistakes = changes(sweep, found.design, range(len(sweep.rows)), min_volts)
    counts = counts_of(mistakes)
    background, contributions = found.best_phasors()
    noted = misfit_of(sweep, found)
    homes: list[tuple[complex, NDArray[np.complex128], float, Mistake, float]] = []
    for mistake in mistakes:
        share = mistake.count / counts[mistake.kind] / len(counts)
        if mistake.swapped is not None:
            exchanged = contributions.copy()
            exchanged[list(mistake.swapped)] = contributions[list(mistake.swapped[::-1])]
            homes.append((background, exchanged, share, mistake, 0.0))
            continue
        without = fit_mistake(sweep, mistake, found.supply, cords)
        behind = without.behind_chi2(best, noted)
        if isfinite(behind):
            likelihood = exp(-max(0.0, behind) / 2 / sweep.understated**2)
            homes.append((without.background, without.contributions, share * likelihood, mistake, behind))
    return Alternatives(
        np.array([home[0] for home in homes], complex),
        np.array([home[1] for home in homes], complex).reshape(len(homes), len(sweep.circuits)),
        np.array([home[2] for home in homes], float),
        tuple(home[3] for home in homes),
        np.array([home[4] for home in homes], float),
    )


def _candidates(problem: SwitchingProblem, spot: int, allowed: Alternatives) -> NDArray[np.bool_]:
    """Combinations that were not read at the spot, shape (C, n): every group of the largest circuits.

    Args:
        problem: possible houses, constraints and target.
        spot: index of the spot.
        allowed: mistakes.
    """
    posterior, sweep = problem.posteriors[spot], problem.sweeps[spot]
    always = (posterior.always_live & problem.keep) | problem.is_cord
    size = np.maximum(problem.sizes[spot], np.abs(allowed.contributions).max(axis=0)) * ~always
    largest = np.argsort(-size, kind="stable")[:MAX_COMBINED]
    largest = largest[size[largest] > 0.0]
    bits = (np.arange(2 ** len(largest))[:, None] >> np.arange(len(largest))) & 1
    live = np.tile(always, (len(bits), 1))
    live[:, largest] = bits == 1
    read = np.array([[name in reading.on for name in problem.names] for reading in sweep.readings], bool)
    taken = {row.tobytes() for row in design_matrix(read, problem.circuit_of)}
    is_new = [row.tobytes() not in taken for row in design_matrix(live, problem.circuit_of)]
    return live[is_new]
