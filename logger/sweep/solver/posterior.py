"""Which circuit gives how much, on which leg: a model of complex contributions fitted to magnitudes.

With the circuits of a set S live the body voltage is `|b + sum over S of m_i e_i|`: `b` the background of unknown
phase, `m_i >= 0` a circuit's contribution, `e_i` the direction of its leg (split phase 1 and -1; single phase 1;
three-phase 1, exp(2j pi/3), exp(4j pi/3)). Only magnitudes are read, so legs follow from combinations alone: every
assignment of legs that the readings allow is found, fitted and weighted, and what they leave open stays open.

In: a `SweepFit`. Out: a `Posterior`: many possible houses with weights, from which every question is answered.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.sweep.solver.leg_assignments import Start, representatives
from logger.sweep.solver.phasor_fit import Fits, phasors, refit
from logger.sweep.solver.sweep_design import SweepDesign, design_matrix
from logger.sweep.solver.sweep_fit import SweepFit

PLAUSIBLE_CHI2 = 32.0
"""Assignments whose chi-square is worse than the best one's by more than this are out. exp(-8), one in 3,000, if the
uncertainties are right; it allows for readings that claim half the uncertainty that they have."""

SAME_FIT_VOLTS = 0.004
"""Fits of one assignment whose parameters differ by less are one."""

DRAWS = 12
"""Possible houses drawn around each fit."""

MIN_REFIT_LIKELIHOOD = 0.01
"""Assignments that are less likely than this against the best one have houses drawn from a normal distribution, which
is quicker than to fit them again."""


@dataclass(frozen=True, slots=True)
class Posterior:
    """Possible houses (samples of the posterior distribution). K houses, n circuits and cords.

    Args:
        circuits: names of the n circuits and cords.
        circuit_of: index of each cord's circuit by the index of the cord, where it is known.
        background: complex V, shape (K,).
        contributions: complex V, shape (K, n); a circuit's includes that of the cords on it.
        weights: of the houses, sum 1, shape (K,).
        hypothesis: number of the assignment of legs that a house belongs to, shape (K,).
        legs: leg of each circuit by assignment, shape (hypotheses, n); -1 where no leg is assigned.
        always_live: live in every reading, so that they are part of the background, shape (n,).
        unread: never read alone though not live in every reading, shape (n,).
        null_volts: what those whose solo reading equals the background give by that reading, V, shape (n,); NaN for the
            others.
        alike: groups of circuits whose solo reading equals the background and that share all combined readings.
        has_phase: the background is large enough for its phase, which is not known, to count.
    """

    circuits: tuple[str, ...]
    circuit_of: Mapping[int, int]
    background: NDArray[np.complex128]
    contributions: NDArray[np.complex128]
    weights: NDArray[np.float64]
    hypothesis: NDArray[np.int64]
    legs: NDArray[np.int64]
    always_live: NDArray[np.bool_]
    unread: NDArray[np.bool_]
    null_volts: NDArray[np.float64]
    alike: tuple[tuple[int, ...], ...]
    has_phase: bool

    def predict(self, live: NDArray[np.bool_]) -> NDArray[np.float64]:
        """Body voltage in every possible house, V, for each of the combinations.

        Args:
            live: which circuits are live and which cords plugged in, shape (combinations, n).

        Returns:
            Shape (combinations, K).
        """
        counts = design_matrix(live, self.circuit_of)
        real = self.background.real + counts @ self.contributions.real.T
        imaginary = self.background.imag + counts @ self.contributions.imag.T
        magnitudes: NDArray[np.float64] = np.hypot(real, imaginary)
        return magnitudes

    def only(self, houses: NDArray[np.intp]) -> Posterior:
        """These houses only, with their weights scaled to sum 1; `houses` are indices of any shape (k,)."""
        weights = self.weights[houses]
        return replace(
            self,
            background=self.background[houses],
            contributions=self.contributions[houses],
            weights=weights / weights.sum(),
            hypothesis=self.hypothesis[houses],
        )

    def sizes(self) -> NDArray[np.float64]:
        """What each circuit and cord gives, V, shape (n,): the mean over the assignments of legs.

        Within one assignment it is the magnitude of the mean, not the mean magnitude, which noise alone would raise.
        """
        total = np.zeros(len(self.circuits))
        for h in np.unique(self.hypothesis):
            own = self.hypothesis == h
            weight = float(self.weights[own].sum())
            if weight > 0.0:
                total += np.abs(self.weights[own] @ self.contributions[own])
        return np.where(np.isnan(self.null_volts), total, np.maximum(total, self.null_volts))

    def u_sizes(self) -> NDArray[np.float64]:
        """Standard uncertainty of these, V, shape (n,)."""
        magnitudes = np.abs(self.contributions)
        variance = self.weights @ (magnitudes - self.weights @ magnitudes) ** 2
        # Of a circuit that reads like the background even the direction is not known.
        return np.where(np.isnan(self.null_volts), variance, self.weights @ magnitudes**2) ** 0.5


def infer(found: SweepFit, seed: int = 0) -> Posterior:
    """Infer from fitted readings which houses are possible.

    Args:
        found: every assignment of legs that the readings allow, fitted.
        seed: of the draws around each fit.
    """
    return _posterior(
        found.design, found.starts, found.fits, found.supply == "single", np.random.default_rng(seed)
    )


@dataclass(frozen=True, slots=True)
class _Houses:
    """Possible houses around one fit. D houses, n circuits and cords.

    Args:
        background: complex V, shape (D,).
        contributions: complex V, shape (D, n).
        weights: of the houses, shape (D,).
        legs: leg of each circuit, -1 where none is assigned, shape (n,).
    """

    background: NDArray[np.complex128]
    contributions: NDArray[np.complex128]
    weights: NDArray[np.float64]
    legs: NDArray[np.int64]


def _posterior(
    design: SweepDesign, starts: list[Start], fits: Fits, single: bool, random: np.random.Generator
) -> Posterior:
    """Draw possible houses around each fit that is plausible.

    Args:
        design: of the sweep.
        starts: assignments of legs that were fitted.
        fits: of these.
        single: the supply has one phase, so that no contribution can fall below zero.
        random: where the draws come from.
    """
    kept = _distinct(starts, fits)
    best = float(fits.chi2[kept[0]])
    # Readings that agree less than they claim count less (Birge ratio). The unassigned have a prior of their own.
    spare = int(fits.problem.counts[kept[0]].sum()) - len(design.assigned) - 1
    scale = max(1.0, best / (spare + 2)) if spare > 0 else 1.0
    widening = _widening(fits, kept[0], scale)
    alike = representatives(design)
    parts: list[_Houses] = []
    for index in kept:
        start = starts[index]
        likelihood = np.exp(-(fits.chi2[index] - best) / 2 / scale)
        refitted = single and likelihood > MIN_REFIT_LIKELIHOOD
        background, contributions, weights = _around(design, fits, index, refitted, widening, random)
        legs = np.full(len(design.names), -1)
        legs[list(design.assigned)] = start.legs
        houses = _Houses(background, contributions, weights * likelihood, legs)
        if start.hidden is None:
            parts.append(houses)
        else:
            parts += _with_each_hidden(houses, start.hidden, start.hidden_leg, alike[start.hidden])
    weights = np.concatenate([part.weights for part in parts])
    return Posterior(
        circuits=design.names,
        circuit_of=design.circuit_of,
        background=np.concatenate([part.background for part in parts]),
        contributions=np.concatenate([part.contributions for part in parts]),
        weights=weights / weights.sum(),
        hypothesis=np.repeat(np.arange(len(parts)), [len(part.weights) for part in parts]),
        legs=np.array([part.legs for part in parts]),
        always_live=design.always_live,
        unread=design.unread,
        null_volts=design.null_volts,
        alike=tuple(tuple(members) for members in alike.values() if len(members) > 1),
        has_phase=not design.background_is_zero,
    )


def _widening(fits: Fits, best: int, scale: float) -> float:
    """Factor on the standard uncertainties of what is fitted: readings that agree less than they claim know less.

    It is the Birge ratio, or what brings the reading farthest from the fit within its own expanded uncertainty: one
    mistake among many readings hardly shows in their common chi-square.

    Args:
        fits: of the assignments.
        best: index of the best fit.
        scale: chi-square over its degrees of freedom, at least 1.
    """
    misfit, _, _ = fits.problem.only(best).evaluate(fits.parameters[best][None, :])
    farthest = float(np.abs(misfit).max(initial=0.0))
    return max(float(np.sqrt(scale)), farthest / COVERAGE_FACTOR)


def _with_each_hidden(houses: _Houses, hidden: int, hidden_leg: int, members: list[int]) -> list[_Houses]:
    """The same houses with each member of a group hidden in turn, since no reading separates them.

    Args:
        houses: with the group's representative hidden.
        hidden: index of the representative.
        hidden_leg: its leg.
        members: indices of the group.
    """
    few = max(1, DRAWS // len(members))
    out = []
    for member in members:
        swapped = houses.contributions[:few].copy()
        swapped[:, [hidden, member]] = swapped[:, [member, hidden]]
        share = houses.weights[:few] / houses.weights[:few].sum() * houses.weights.sum()
        legs = houses.legs.copy()
        legs[member] = hidden_leg
        out.append(_Houses(houses.background[:few], swapped, share, legs))
    return out


def _distinct(starts: list[Start], fits: Fits) -> list[int]:
    """Indices of the plausible fits, the best first, each once: different starts may have come to the same fit."""
    kept: list[int] = []
    for index in np.argsort(fits.chi2):
        if fits.chi2[index] > fits.chi2.min() + PLAUSIBLE_CHI2:
            break
        if not any(
            starts[other].legs == starts[index].legs
            and starts[other].hidden == starts[index].hidden
            and starts[other].hidden_leg == starts[index].hidden_leg
            and np.allclose(fits.parameters[other], fits.parameters[index], atol=SAME_FIT_VOLTS)
            for other in kept
        ):
            kept.append(int(index))
    return kept


def _around(
    design: SweepDesign, fits: Fits, index: int, refitted: bool, widening: float, random: np.random.Generator
) -> tuple[NDArray[np.complex128], NDArray[np.complex128], NDArray[np.float64]]:
    """Backgrounds, contributions and weights of houses around a fit; the weights add up to one.

    Args:
        design: of the sweep.
        fits: of the assignments.
        index: of the fit.
        refitted: fit changed readings again, instead of drawing from a normal distribution.
        widening: factor on the standard uncertainties.
        random: where the draws come from.
    """
    problem = fits.problem
    if refitted:
        refits = refit(fits, index, DRAWS, random)
        refits = np.maximum(refits[0] + widening * (refits - refits[0]), problem.floor)
        return *phasors(fits, index, refits, len(design.names)), np.full(DRAWS, 1.0 / DRAWS)
    covariance = fits.covariance[index]
    root = np.linalg.cholesky((covariance + covariance.T) / 2 + 1e-12 * np.eye(len(covariance)))
    noise = random.standard_normal((DRAWS, len(covariance)))
    noise[0] = 0.0
    drawn = np.maximum(fits.parameters[index] + widening * noise @ root.T, problem.floor)
    background, contributions = phasors(fits, index, drawn, len(design.names))
    # Drawn from the normal distribution around the fit, weighted by the likelihood of each house.
    counts = problem.counts[index]
    totals = background[:, None] + contributions @ design.matrix[counts].T
    chi2 = (((np.abs(totals) - design.volts[counts]) / design.u_volts[counts]) ** 2).sum(axis=1)
    ratio = np.exp(np.clip(((chi2[0] - chi2) / widening**2 + (noise**2).sum(axis=1)) / 2, -4.0, 0.0))
    return background, contributions, ratio / ratio.sum()
