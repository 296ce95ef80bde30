"""What has to be decided after a sweep: the possible houses at each spot, what must stay on, and the target.

In: what the readings at each spot leave possible (`Posterior`). Out: a `SwitchingProblem`, from which the set to switch
off, its certainty and the next readings are worked out. With several spots the possible houses of one spot are paired
with those of the others at random: what is not known at one is independent of what is not known at another.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from logger.sweep.solver.posterior import Posterior
from logger.sweep.solver.readings import Sweep, SweepReading
from logger.sweep.solver.sweep_design import design_matrix

TOLERANCE_VOLTS = 0.03
"""An answer is pinned down when the value surely stays within this above the target."""

NEGLIGIBLE_VOLTS = 0.004
"""A circuit that gives no more than this is no candidate for switching off."""

MAX_HOUSES = 240
"""Possible houses that are looked at, the most likely ones."""


@dataclass(frozen=True, slots=True)
class SwitchingProblem:
    """Possible houses, constraints and target. S spots, n circuits and cords, K houses.

    Args:
        posteriors: of each spot, K houses each, house k of one spot paired with house k of the others.
        sweeps: the readings of each spot.
        keep: what must stay on or plugged in, shape (n,).
        is_cord: which ones are cords, shape (n,).
        target_volts: what the value shall not exceed at any spot.
        sizes: what each circuit and cord gives, V, shape (S, n).
        u_sizes: standard uncertainty of these, V, shape (S, n).
    """

    posteriors: tuple[Posterior, ...]
    sweeps: tuple[Sweep, ...]
    keep: NDArray[np.bool_]
    is_cord: NDArray[np.bool_]
    target_volts: float
    sizes: NDArray[np.float64]
    u_sizes: NDArray[np.float64]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the n circuits and cords."""
        return self.posteriors[0].circuits

    @property
    def circuit_of(self) -> Mapping[int, int]:
        """Index of each cord's circuit by the index of the cord, where it is known."""
        return self.posteriors[0].circuit_of

    @property
    def weights(self) -> NDArray[np.float64]:
        """Weights of the houses, shape (K,)."""
        return self.posteriors[0].weights

    def certainty(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Weight of the houses in which values stay within the tolerance above the target.

        Args:
            values: V, shape (..., K).

        Returns:
            Shape (...).
        """
        within: NDArray[np.float64] = (values <= self.target_volts + TOLERANCE_VOLTS) @ self.weights
        return within


def switching_problem(
    spots: Sequence[tuple[Posterior, Sweep]],
    keep: frozenset[str],
    target_volts: float,
    is_cord: NDArray[np.bool_],
) -> SwitchingProblem:
    """Put the problem together.

    Args:
        spots: what the readings leave possible at each spot, and the readings.
        keep: names of what must stay on or plugged in.
        target_volts: what the value shall not exceed at any spot.
        is_cord: which ones are cords, shape (n,).
    """
    posteriors = [posterior for posterior, _ in spots]
    names = posteriors[0].circuits
    return SwitchingProblem(
        posteriors=tuple(_paired(posteriors)),
        sweeps=tuple(sweep for _, sweep in spots),
        keep=np.array([name in keep for name in names], bool),
        is_cord=is_cord,
        target_volts=target_volts,
        sizes=np.array([posterior.sizes() for posterior in posteriors]),
        u_sizes=np.array([posterior.u_sizes() for posterior in posteriors]),
    )


def _paired(posteriors: Sequence[Posterior]) -> list[Posterior]:
    """Take as many houses from each posterior, so that they can be paired.

    With one spot these are the houses that carry most weight, so that what follows is quick; with several they are
    houses of equal weight, paired at random.
    """
    if len(posteriors) == 1:
        return [posteriors[0].only(np.argsort(-posteriors[0].weights, kind="stable")[:MAX_HOUSES])]
    random = np.random.default_rng(0)
    out = []
    for posterior in posteriors:
        at = (np.arange(MAX_HOUSES) + random.random()) / MAX_HOUSES
        houses = np.minimum(np.searchsorted(posterior.weights.cumsum(), at), len(posterior.weights) - 1)
        drawn = posterior.only(random.permutation(houses))
        out.append(replace(drawn, weights=np.full(MAX_HOUSES, 1.0 / MAX_HOUSES)))
    return out


def readings_of(
    sweep: Sweep, live: NDArray[np.bool_], names: Sequence[str], circuit_of: Mapping[int, int]
) -> list[SweepReading]:
    """Readings of a combination, or of one that differs by nothing that gives anything.

    Args:
        sweep: the readings of a spot.
        live: the combination, shape (n,).
        names: of the n circuits and cords.
        circuit_of: index of each cord's circuit by the index of the cord, where it is known.
    """
    read = np.array([[name in reading.on for name in names] for reading in sweep.readings], bool)
    same = (design_matrix(read, circuit_of) == design_matrix(live[None, :], circuit_of)).all(axis=1)
    return [reading for reading, is_same in zip(sweep.readings, same, strict=True) if is_same]


def background_reading(problem: SwitchingProblem, spot: int) -> SweepReading | None:
    """The reading with everything off that may be switched off; None where nobody took it. `spot` is its index."""
    kept = {name for name, keep in zip(problem.names, problem.keep | problem.is_cord, strict=True) if keep}
    dark = [reading for reading in problem.sweeps[spot].readings if reading.on <= kept]
    return min(dark, key=lambda reading: len(reading.on), default=None)


def live_under(problem: SwitchingProblem, posterior: Posterior, off: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """What is live with a set switched off, shape (n,): what must stay on and was never off at the spot stays on.

    Args:
        problem: possible houses, constraints and target.
        posterior: of the spot.
        off: which circuits and cords are off or unplugged, shape (n,).
    """
    return ~off | (posterior.always_live & problem.keep)


def set_reading(problem: SwitchingProblem, spot: int, off: NDArray[np.bool_]) -> SweepReading | None:
    """The reading of what a set leaves live at a spot; None where nobody took it.

    Args:
        problem: possible houses and readings.
        spot: index of the spot.
        off: which circuits and cords are off or unplugged, shape (n,).
    """
    live = live_under(problem, problem.posteriors[spot], off)
    return next(iter(readings_of(problem.sweeps[spot], live, problem.names, problem.circuit_of)), None)
