"""The assignments of legs, fitted to the readings, all together.

Levenberg-Marquardt on background and contributions with the legs held. What is next to nothing, or was not read alone,
has no leg to be found: it is an amount either way (in any direction with three phases), which all readings that it is
part of have a say in.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.sweep.solver.layout import Layout
from logger.sweep.solver.legs import PRIOR_VOLTS, Start

SMALL_VOLTS = 1e-4
"""Rounds off the corner of a magnitude at zero, where it has no slope."""

ITERATIONS = 16
SETTLED_CHI2 = 1e-3
STUCK = 1e3
"""Damping from which on a fit that takes no step is where it will stay."""


@dataclass(frozen=True, slots=True)
class Fits:
    """H assignments of legs, fitted together; P = 2 + parameters of the contributions."""

    problem: _Problem
    parameters: NDArray[np.float64]
    """Background (real, imaginary), then V along each direction, shape (H, P)."""
    covariance: NDArray[np.float64]
    """Shape (H, P, P)."""
    chi2: NDArray[np.float64]
    """With the priors, shape (H,)."""


def fit(layout: Layout, starts: Sequence[Start], legs: NDArray[np.complex128]) -> Fits:
    """Fit every start.

    Args:
        layout: of the sweep.
        starts: assignments of legs, with where to begin.
        legs: directions of the legs.
    """
    problem = _Problem(layout, starts, legs)
    parameters = problem.mean.copy()
    parameters[:, :2] = [(start.background.real, start.background.imag) for start in starts]
    at = len(layout.matters)
    parameters[:, 2 : 2 + at] = [start.sizes for start in starts]
    parameters, jacobian, cost = _minimise(problem, parameters)
    covariance = np.asarray(np.linalg.inv(problem.hessian(jacobian)), np.float64)
    cost = cost + np.array([start.prior_chi2 for start in starts])
    return Fits(problem, parameters, covariance, cost)


def refit(fits: Fits, index: int, draws: int, random: np.random.Generator) -> NDArray[np.float64]:
    """Fits of the same assignment to readings and priors that are changed by their own uncertainties, the first one
    unchanged: possible houses where contributions cannot fall below zero and a normal distribution does not do.

    Returns:
        Parameters, shape (draws, P).
    """
    problem = fits.problem.changed(index, draws, random)
    return _minimise(problem, np.tile(fits.parameters[index], (draws, 1)))[0]


def _minimise(
    problem: _Problem, parameters: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Parameters, Jacobian and cost where the cost is least."""
    misfit, jacobian, cost = problem.evaluate(parameters)
    damping = np.full(len(parameters), 1e-3)
    diagonal = np.arange(parameters.shape[1])
    for _ in range(ITERATIONS):
        hessian = problem.hessian(jacobian)
        gradient = (misfit[:, None, :] @ jacobian)[:, 0, :] + problem.precision * (parameters - problem.mean)
        # What lies on its least value and would fall below it stays there, and has no say in the step of the others.
        held = (parameters <= problem.floor) & (gradient > 0.0)
        free = (~held).astype(float)
        gradient *= free
        damped = hessian * free[:, :, None] * free[:, None, :]
        damped[:, diagonal, diagonal] *= 1 + damping[:, None]
        damped[:, diagonal, diagonal] += held
        trial = np.maximum(parameters - np.linalg.solve(damped, gradient[:, :, None])[:, :, 0], problem.floor)
        new_misfit, new_jacobian, new_cost = problem.evaluate(trial)
        better = new_cost < cost
        gain = float((cost - new_cost)[better].max(initial=0.0))
        parameters[better], misfit[better] = trial[better], new_misfit[better]
        jacobian[better], cost[better] = new_jacobian[better], new_cost[better]
        damping = np.clip(np.where(better, damping / 5, damping * 8), 1e-9, 1e9)
        # A step that was refused is tried again, shorter.
        if gain < SETTLED_CHI2 and bool((better | (damping > STUCK)).all()):
            break
    return parameters, jacobian, cost


class _Problem:
    """What the fit needs, by hypothesis.

    `owner`: circuit or cord of each contribution's parameter, shape (P - 2,); `directions`: of each, shape (H, P - 2);
    `mean` and `precision`: of the priors, shape (H, P); `floor`: least value, shape (P,); `counts`: readings that
    count, shape (H, R); `volts`: what was read, shape (H, R).
    """

    def __init__(self, layout: Layout, starts: Sequence[Start], legs: NDArray[np.complex128]) -> None:
        vague = np.flatnonzero(layout.vague_u)
        free = [1.0 + 0j, 1j] if len(legs) == 3 else [1.0 + 0j]
        matters = layout.matters
        at = len(matters)
        self.owner = np.array([*matters, *np.repeat(vague, len(free))], int)
        place = {int(k): at + len(free) * j for j, k in enumerate(vague)}
        count, width = len(starts), len(self.owner)
        self.directions = np.empty((count, width), complex)
        chosen = np.array([start.legs for start in starts], int).reshape(count, at)
        self.directions[:, :at] = legs[chosen]
        self.directions[:, at:] = np.tile(free, len(vague))
        # The background's magnitude was read; where it is near zero nothing else would hold its two parts.
        background_u = max(layout.background_volts, layout.background_u)
        usual = np.concatenate(
            [
                [background_u, background_u],
                [max(2 * PRIOR_VOLTS, 2 * float(layout.volts[layout.alone[k]])) for k in matters],
                np.repeat(layout.vague_u[vague], len(free)),
            ]
        )
        self.precision = np.tile(usual**-2.0, (count, 1))
        self.mean = np.zeros((count, 2 + width))
        self.mean[:, 2 + at :] = np.repeat(layout.vague_mean[vague], len(free))
        self.floor = np.full(2 + width, -np.inf)
        # A circuit of one phase cannot take away; neither can one whose leg is given.
        self.floor[2 : 2 + at] = 0.0
        if len(legs) == 1:
            self.floor[2:] = 0.0
        self.counts = np.tile(layout.counts, (count, 1))
        self._on_the_circuits_leg(layout, place)
        for h, start in enumerate(starts):
            if start.hidden is not None:
                column = place[start.hidden]
                self.directions[h, column : column + len(free)] = legs[start.hidden_leg] * np.array(free)
                self.mean[h, 2 + column] = start.hidden_volts
                self.precision[h, 2 + column] = (2 * PRIOR_VOLTS) ** -2.0
                self.counts[h, layout.alone[start.hidden]] = True
        self.rows = layout.design[:, self.owner]
        self.volts, self.u_volts = np.tile(layout.volts, (count, 1)), layout.u_volts

    def changed(self, index: int, draws: int, random: np.random.Generator) -> _Problem:
        """One hypothesis many times, with readings and priors changed by their uncertainties; the first one is not."""
        other = copy(self)
        for name in ("directions", "precision", "counts"):
            setattr(other, name, np.tile(getattr(self, name)[index], (draws, 1)))
        noise = random.standard_normal((draws, self.mean.shape[1]))
        readings = random.standard_normal((draws, len(self.u_volts)))
        noise[0], readings[0] = 0.0, 0.0
        other.mean = self.mean[index] + noise * self.precision[index] ** -0.5
        other.volts = self.volts[index] + readings * self.u_volts
        return other

    def _on_the_circuits_leg(self, layout: Layout, place: dict[int, int]) -> None:
        """A cord lies on its circuit's leg, and usually gives less than the circuit with it."""
        for cord, circuit in layout.circuit_of.items():
            if circuit in layout.matters and cord in place:
                column = place[cord]
                along = self.directions[:, layout.matters.index(circuit)]
                self.directions[:, column] *= along
                if column + 1 < len(self.owner) and self.owner[column + 1] == cord:
                    self.directions[:, column + 1] *= along
                    self.precision[:, 3 + column] *= 1e4
                self.mean[:, 2 + column] = layout.vague_u[cord]

    def hessian(self, jacobian: NDArray[np.float64]) -> NDArray[np.float64]:
        """Of half the cost, shape (H, P, P)."""
        hessian = np.swapaxes(jacobian, 1, 2) @ jacobian
        diagonal = np.arange(hessian.shape[1])
        hessian[:, diagonal, diagonal] += self.precision
        return hessian

    def evaluate(
        self, parameters: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Misfit (H, R), its Jacobian (H, R, P) and chi-square with the prior (H,)."""
        total = (parameters[:, :1] + 1j * parameters[:, 1:2]) + (
            parameters[:, 2:] * self.directions
        ) @ self.rows.T
        magnitude = np.sqrt(np.abs(total) ** 2 + SMALL_VOLTS**2)
        weight = self.counts / self.u_volts
        misfit = (magnitude - self.volts) * weight
        unit = np.conj(total) / magnitude * weight
        jacobian = np.empty((*misfit.shape, parameters.shape[1]))
        jacobian[:, :, 0] = unit.real
        jacobian[:, :, 1] = -unit.imag
        jacobian[:, :, 2:] = (unit[:, :, None] * self.directions[:, None, :]).real * self.rows
        prior = ((parameters - self.mean) ** 2 * self.precision).sum(axis=1)
        return misfit, jacobian, (misfit**2).sum(axis=1) + prior
