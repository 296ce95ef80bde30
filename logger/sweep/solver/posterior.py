"""Which circuit gives how much, on which leg: a model of complex contributions fitted to magnitudes.

With the circuits of a set S live the body voltage is `|b + sum over S of m_i e_i|`: `b` the background of unknown
phase, `m_i >= 0` a circuit's contribution, `e_i` the direction of its leg (split phase 1 and -1; single phase 1;
three-phase 1, exp(2j pi/3), exp(4j pi/3)). Only magnitudes are read, so legs follow from combinations alone: every
assignment of legs that the readings allow is found, fitted and weighed, and what they leave open stays open.

In: a `Sweep`. Out: a `Posterior`: many possible houses with weights, from which every question is answered.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from logger.sweep.solver.layout import Layout, design
from logger.sweep.solver.legs import Start, assignments, representatives
from logger.sweep.solver.phasor_fit import Fits, fit, refit
from logger.sweep.solver.readings import Sweep

Supply = Literal["split", "single", "three"]

DIRECTIONS: dict[Supply, NDArray[np.complex128]] = {
    # ANSI C84.1: the legs of a 120/240 V service are 180 degrees apart; three-phase: 120 degrees.
    "split": np.array([1.0, -1.0], complex),
    "single": np.array([1.0], complex),
    "three": np.exp(2j * np.pi * np.arange(3) / 3),
}

PLAUSIBLE_CHI2 = 32.0
"""Assignments whose chi-square is worse than the best one's by more than this are out. exp(-8), one in 3,000, if the
uncertainties are right; it allows for readings that claim half the uncertainty that they have."""

SAME_VOLTS = 0.004
"""Fits of one assignment whose parameters differ by less came to the same place."""

DRAWS = 12
"""Possible houses drawn around each fit."""

LIKELY = 0.01
"""Assignments less likely than this, against the best one, have houses drawn the quick way."""

NO_CORDS: Mapping[str, str] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Posterior:
    """Possible houses. K houses, n circuits and cords.

    Args:
        circuits: n names.
        circuit_of: place of each cord's circuit by the place of the cord, where it is known.
        background: complex V, shape (K,).
        contributions: complex V, shape (K, n); a circuit's includes that of the cords on it.
        weights: sum 1, shape (K,).
        hypothesis: number of the assignment of legs that a house belongs to, shape (K,).
        legs: leg of each circuit by assignment, shape (hypotheses, n); -1 where it is next to nothing.
        always: live in every reading, so that they are part of the background, shape (n,).
        unread: never read alone though not live in every reading, shape (n,).
        nothing_volts: what those that read alone like nothing give by that reading, V; NaN for the others, shape (n,).
        alike: groups of circuits that read alone like nothing and have always been read together otherwise.
        has_phase: the background is large enough for its phase, which is not known, to count.
    """

    circuits: tuple[str, ...]
    circuit_of: Mapping[int, int]
    background: NDArray[np.complex128]
    contributions: NDArray[np.complex128]
    weights: NDArray[np.float64]
    hypothesis: NDArray[np.int64]
    legs: NDArray[np.int64]
    always: NDArray[np.bool_]
    unread: NDArray[np.bool_]
    nothing_volts: NDArray[np.float64]
    alike: tuple[tuple[int, ...], ...]
    has_phase: bool

    def predict(self, live: NDArray[np.bool_]) -> NDArray[np.float64]:
        """Body voltage in every possible house, V, for each of the combinations.

        Args:
            live: which circuits are live and which cords plugged in, shape (combinations, n).

        Returns:
            Shape (combinations, K).
        """
        counts = design(live, self.circuit_of)
        real = self.background.real + counts @ self.contributions.real.T
        imaginary = self.background.imag + counts @ self.contributions.imag.T
        magnitudes: NDArray[np.float64] = np.hypot(real, imaginary)
        return magnitudes

    def only(self, houses: NDArray[np.intp]) -> Posterior:
        """These houses, with their weights."""
        weights = self.weights[houses]
        return Posterior(
            self.circuits,
            self.circuit_of,
            self.background[houses],
            self.contributions[houses],
            weights / weights.sum(),
            self.hypothesis[houses],
            self.legs,
            self.always,
            self.unread,
            self.nothing_volts,
            self.alike,
            self.has_phase,
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
        return np.where(np.isnan(self.nothing_volts), total, np.maximum(total, self.nothing_volts))

    def u_sizes(self) -> NDArray[np.float64]:
        """Standard uncertainty of these, V, shape (n,)."""
        magnitudes = np.abs(self.contributions)
        variance = self.weights @ (magnitudes - self.weights @ magnitudes) ** 2
        # Of what reads like nothing even the direction is not known.
        return np.where(np.isnan(self.nothing_volts), variance, self.weights @ magnitudes**2) ** 0.5


def infer(sweep: Sweep, supply: Supply, cords: Mapping[str, str] = NO_CORDS, seed: int = 0) -> Posterior:
    """What the readings say of the house.

    Args:
        sweep: readings at one spot.
        supply: of the home.
        cords: which of the sweep's names are cords, and the circuit of each; empty where that is not known.
        seed: of the draws around each fit.
    """
    legs = DIRECTIONS[supply]
    layout = Layout(sweep, len(legs), cords)
    starts = assignments(layout, legs)
    return _drawn(layout, starts, fit(layout, starts, legs), supply == "single", np.random.default_rng(seed))


def _drawn(
    layout: Layout, starts: list[Start], fits: Fits, single: bool, random: np.random.Generator
) -> Posterior:
    """Possible houses around each fit that is plausible."""
    kept = _distinct(starts, fits)
    best = float(fits.chi2[kept[0]])
    # Readings that agree less than they claim are believed less (Birge ratio). What is vague has a prior of its own.
    spare = int(fits.problem.counts[kept[0]].sum()) - len(layout.matters) - 1
    scale = max(1.0, best / (spare + 2)) if spare > 0 else 1.0
    alike = representatives(layout)
    n = len(layout.names)
    parts: list[tuple[NDArray[np.complex128], NDArray[np.complex128], NDArray[np.float64]]] = []
    legs: list[NDArray[np.int64]] = []
    for index in kept:
        start = starts[index]
        likely = np.exp(-(fits.chi2[index] - best) / 2 / scale)
        background, contributions, weights = _around(layout, fits, index, single and likely > LIKELY, random)
        weights *= likely
        own = np.full(n, -1)
        own[layout.matters] = start.legs
        if start.hidden is None:
            parts.append((background, contributions, weights))
            legs.append(own)
            continue
        members = alike[start.hidden]
        few = max(1, DRAWS // len(members))
        for member in members:
            swapped = contributions[:few].copy()
            swapped[:, [start.hidden, member]] = swapped[:, [member, start.hidden]]
            share = weights[:few] / weights[:few].sum() * weights.sum()
            parts.append((background[:few], swapped, share))
            legs.append(own.copy())
            legs[-1][member] = start.hidden_leg
    weights = np.concatenate([part[2] for part in parts])
    return Posterior(
        layout.names,
        layout.circuit_of,
        np.concatenate([part[0] for part in parts]),
        np.concatenate([part[1] for part in parts]),
        weights / weights.sum(),
        np.repeat(np.arange(len(parts)), [len(part[2]) for part in parts]),
        np.array(legs),
        layout.always,
        layout.unread,
        layout.nothing_volts,
        tuple(tuple(members) for members in alike.values() if len(members) > 1),
        not layout.has_corner,
    )


def _distinct(starts: list[Start], fits: Fits) -> list[int]:
    """Plausible fits, the best first, each place once: different starts may have come to the same."""
    kept: list[int] = []
    for index in np.argsort(fits.chi2):
        if fits.chi2[index] > fits.chi2.min() + PLAUSIBLE_CHI2:
            break
        if not any(
            starts[other].legs == starts[index].legs
            and starts[other].hidden == starts[index].hidden
            and starts[other].hidden_leg == starts[index].hidden_leg
            and np.allclose(fits.parameters[other], fits.parameters[index], atol=SAME_VOLTS)
            for other in kept
        ):
            kept.append(int(index))
    return kept


def _around(
    layout: Layout, fits: Fits, index: int, single: bool, random: np.random.Generator
) -> tuple[NDArray[np.complex128], NDArray[np.complex128], NDArray[np.float64]]:
    """Houses around a fit, with weights that add up to one."""
    problem = fits.problem
    if single:
        return *_houses(layout, fits, index, refit(fits, index, DRAWS, random)), np.full(DRAWS, 1.0 / DRAWS)
    covariance = fits.covariance[index]
    root = np.linalg.cholesky((covariance + covariance.T) / 2 + 1e-12 * np.eye(len(covariance)))
    noise = random.standard_normal((DRAWS, len(covariance)))
    noise[0] = 0.0
    drawn = np.maximum(fits.parameters[index] + noise @ root.T, problem.floor)
    background, contributions = _houses(layout, fits, index, drawn)
    # Drawn from the normal distribution around the fit, weighed by what the readings say of each house.
    counts = problem.counts[index]
    totals = background[:, None] + contributions @ layout.design[counts].T
    chi2 = (((np.abs(totals) - layout.volts[counts]) / layout.u_volts[counts]) ** 2).sum(axis=1)
    ratio = np.exp(np.clip((chi2[0] - chi2 + (noise**2).sum(axis=1)) / 2, -4.0, 0.0))
    return background, contributions, ratio / ratio.sum()


def _houses(
    layout: Layout, fits: Fits, index: int, parameters: NDArray[np.float64]
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Backgrounds and contributions from parameters."""
    contributions = np.zeros((len(parameters), len(layout.names)), complex)
    for column, circuit in enumerate(fits.problem.owner):
        contributions[:, circuit] += parameters[:, 2 + column] * fits.problem.directions[index, column]
    return parameters[:, 0] + 1j * parameters[:, 1], contributions
