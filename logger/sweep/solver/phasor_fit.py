"""The assignments of legs, fitted to the readings, all together.

Levenberg-Marquardt on background and contributions with the legs held. What is next to nothing, or was not read alone,
has no leg to be found: it is an amount either way (in any direction with three phases), which all readings that it is
part of have a say in. H hypotheses (assignments of legs), R readings, n circuits and cords, P parameters: background
(real, imaginary), then V along each direction.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from logger.sweep.solver.leg_assignments import PRIOR_VOLTS, THOROUGH, Start
from logger.sweep.solver.sweep_design import SweepDesign, unread_circuits

ROUNDED_VOLTS = 1e-4
"""Rounds off the corner of a magnitude at zero, where it has no slope."""

CONVERGED_CHI2 = 1e-3
"""A step that gains less than this is the last one."""

STUCK_DAMPING = 1e3
"""A fit that takes no step at this damping will take none at all."""

ACROSS_PRECISION = 1e4
"""How much more precise the prior of a cord's part across its circuit's leg is than that of the part along it."""


@dataclass(frozen=True, slots=True)
class FitProblem:
    """What the fit needs, for each hypothesis.

    Args:
        owner: index of the circuit or cord of each contribution's parameter, shape (P - 2,).
        rows: what each contribution counts in each reading, shape (R, P - 2).
        directions: of each contribution, complex, shape (H, P - 2).
        mean: of the priors, shape (H, P).
        precision: of the priors, 1 / V^2, shape (H, P).
        floor: least value of each parameter, V, shape (P,).
        counts: readings that count, shape (H, R).
        volts: of the readings, shape (H, R).
        u_volts: their standard uncertainties, V, shape (R,).
    """

    owner: NDArray[np.int64]
    rows: NDArray[np.float64]
    directions: NDArray[np.complex128]
    mean: NDArray[np.float64]
    precision: NDArray[np.float64]
    floor: NDArray[np.float64]
    counts: NDArray[np.bool_]
    volts: NDArray[np.float64]
    u_volts: NDArray[np.float64]

    def perturbed(self, index: int, draws: int, random: np.random.Generator) -> FitProblem:
        """One hypothesis many times, with readings and priors changed by their uncertainties, but for the first.

        Args:
            index: of the hypothesis.
            draws: how many times.
            random: where the changes come from.
        """
        noise = random.standard_normal((draws, self.mean.shape[1]))
        readings = random.standard_normal((draws, len(self.u_volts)))
        noise[0], readings[0] = 0.0, 0.0
        return replace(
            self,
            directions=np.tile(self.directions[index], (draws, 1)),
            precision=np.tile(self.precision[index], (draws, 1)),
            counts=np.tile(self.counts[index], (draws, 1)),
            mean=self.mean[index] + noise * self.precision[index] ** -0.5,
            volts=self.volts[index] + readings * self.u_volts,
        )

    def hessian(self, jacobian: NDArray[np.float64]) -> NDArray[np.float64]:
        """Of half the cost, shape (H, P, P)."""
        hessian = np.swapaxes(jacobian, 1, 2) @ jacobian
        diagonal = np.arange(hessian.shape[1])
        hessian[:, diagonal, diagonal] += self.precision
        return hessian

    def only(self, index: int) -> FitProblem:
        """The same for one hypothesis; `index` is its number."""
        one = slice(index, index + 1)
        return replace(
            self,
            directions=self.directions[one],
            mean=self.mean[one],
            precision=self.precision[one],
            counts=self.counts[one],
            volts=self.volts[one],
        )

    def evaluate(
        self, parameters: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Misfit (H, R), its Jacobian (H, R, P) and chi-square with the prior (H,)."""
        total = (parameters[:, :1] + 1j * parameters[:, 1:2]) + (
            parameters[:, 2:] * self.directions
        ) @ self.rows.T
        magnitude = np.sqrt(np.abs(total) ** 2 + ROUNDED_VOLTS**2)
        weight = self.counts / self.u_volts
        misfit = (magnitude - self.volts) * weight
        unit = np.conj(total) / magnitude * weight
        jacobian = np.empty((*misfit.shape, parameters.shape[1]))
        jacobian[:, :, 0] = unit.real
        jacobian[:, :, 1] = -unit.imag
        jacobian[:, :, 2:] = (unit[:, :, None] * self.directions[:, None, :]).real * self.rows
        prior = ((parameters - self.mean) ** 2 * self.precision).sum(axis=1)
        return misfit, jacobian, (misfit**2).sum(axis=1) + prior


@dataclass(frozen=True, slots=True)
class Fits:
    """H assignments of legs, fitted together.

    Args:
        problem: what was fitted.
        parameters: shape (H, P).
        covariance: of the parameters, shape (H, P, P).
        chi2: with the priors, shape (H,).
    """

    problem: FitProblem
    parameters: NDArray[np.float64]
    covariance: NDArray[np.float64]
    chi2: NDArray[np.float64]


def fit(
    design: SweepDesign,
    starts: Sequence[Start],
    legs: NDArray[np.complex128],
    max_iterations: int = THOROUGH.max_iterations,
) -> Fits:
    """Fit every start.

    Args:
        design: of the sweep.
        starts: assignments of legs, with where to begin.
        legs: directions of the legs, complex, absolute value 1.
        max_iterations: of the fit.
    """
    problem = _fit_problem(design, starts, legs)
    parameters = problem.mean.copy()
    parameters[:, :2] = [(start.background.real, start.background.imag) for start in starts]
    parameters[:, 2 : 2 + len(design.assigned)] = [start.sizes for start in starts]
    first_column = {int(k): column for column, k in reversed(list(enumerate(problem.owner)))}
    for h, start in enumerate(starts):
        for k, volts in zip(unread_circuits(design), start.unread, strict=False):
            parameters[h, 2 + first_column[k]] = volts.real
            if len(legs) == 3:
                parameters[h, 3 + first_column[k]] = volts.imag
    parameters, jacobian, cost = _minimise(problem, parameters, max_iterations)
    covariance = np.asarray(np.linalg.inv(problem.hessian(jacobian)), np.float64)
    cost = cost + np.array([start.prior_chi2 for start in starts])
    return Fits(problem, parameters, covariance, cost)


def phasors(
    fits: Fits, index: int, parameters: NDArray[np.float64], count: int
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Backgrounds, shape (D,), and contributions, shape (D, n), complex V, from parameters of one assignment.

    Args:
        fits: of the assignments.
        index: of the assignment.
        parameters: shape (D, P).
        count: number n of circuits and cords.
    """
    contributions = np.zeros((len(parameters), count), complex)
    for column, circuit in enumerate(fits.problem.owner):
        contributions[:, circuit] += parameters[:, 2 + column] * fits.problem.directions[index, column]
    return parameters[:, 0] + 1j * parameters[:, 1], contributions


def refit(fits: Fits, index: int, draws: int, random: np.random.Generator) -> NDArray[np.float64]:
    """Fit one assignment again to readings and priors that are changed by their own uncertainties.

    These are possible houses where contributions cannot fall below zero and a normal distribution does not do.

    Args:
        fits: what was fitted.
        index: of the assignment.
        draws: how many fits; the first one is to the unchanged readings.
        random: where the changes come from.

    Returns:
        Parameters, shape (draws, P).
    """
    problem = fits.problem.perturbed(index, draws, random)
    return _minimise(problem, np.tile(fits.parameters[index], (draws, 1)), THOROUGH.max_iterations)[0]


def _fit_problem(design: SweepDesign, starts: Sequence[Start], legs: NDArray[np.complex128]) -> FitProblem:
    """Priors, directions and bounds of each start; the arguments are those of `fit`."""
    unassigned = np.flatnonzero(design.unassigned_u)
    free = np.array([1.0 + 0j, 1j] if len(legs) == 3 else [1.0 + 0j])
    assigned = design.assigned
    at, count = len(assigned), len(starts)
    owner = np.array([*assigned, *np.repeat(unassigned, len(free))], int)
    column_of = {int(k): at + len(free) * j for j, k in enumerate(unassigned)}
    directions = np.empty((count, len(owner)), complex)
    directions[:, :at] = legs[np.array([start.legs for start in starts], int).reshape(count, at)]
    directions[:, at:] = np.tile(free, len(unassigned))
    # The background's magnitude was read; where it is near zero nothing else would hold its two parts.
    background_u = max(design.background_volts, design.background_u)
    usual = np.concatenate(
        [
            [background_u, background_u],
            [max(2 * PRIOR_VOLTS, 2 * float(design.volts[design.solo_row[k]])) for k in assigned],
            np.repeat(design.unassigned_u[unassigned], len(free)),
        ]
    )
    precision = np.tile(usual**-2.0, (count, 1))
    mean = np.zeros((count, 2 + len(owner)))
    mean[:, 2 + at :] = np.repeat(design.unassigned_mean[unassigned], len(free))
    floor = np.full(2 + len(owner), -np.inf)
    # A circuit of one phase cannot take away; neither can one whose leg is given.
    floor[2 : 2 + at] = 0.0
    if len(legs) == 1:
        floor[2:] = 0.0
    counts = np.tile(design.is_fitted, (count, 1))
    # A cord lies on its circuit's leg, and usually gives less than the circuit with it.
    for cord, circuit in design.circuit_of.items():
        if circuit in assigned and cord in column_of:
            column = column_of[cord]
            along = directions[:, assigned.index(circuit)]
            directions[:, column] *= along
            if column + 1 < len(owner) and owner[column + 1] == cord:
                directions[:, column + 1] *= along
                precision[:, 3 + column] *= ACROSS_PRECISION
            mean[:, 2 + column] = design.unassigned_u[cord]
    for h, start in enumerate(starts):
        if start.hidden is not None:
            column = column_of[start.hidden]
            directions[h, column : column + len(free)] = legs[start.hidden_leg] * free
            mean[h, 2 + column] = start.hidden_volts
            precision[h, 2 + column] = (2 * PRIOR_VOLTS) ** -2.0
            counts[h, design.solo_row[start.hidden]] = True
    return FitProblem(
        owner=owner,
        rows=design.matrix[:, owner],
        directions=directions,
        mean=mean,
        precision=precision,
        floor=floor,
        counts=counts,
        volts=np.tile(design.volts, (count, 1)),
        u_volts=design.u_volts,
    )


def _minimise(
    problem: FitProblem, parameters: NDArray[np.float64], max_iterations: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Parameters, Jacobian and cost where the cost is least; it begins at the parameters that are given."""
    misfit, jacobian, cost = problem.evaluate(parameters)
    damping = np.full(len(parameters), 1e-3)
    diagonal = np.arange(parameters.shape[1])
    for _ in range(max_iterations):
        hessian = problem.hessian(jacobian)
        gradient = (misfit[:, None, :] @ jacobian)[:, 0, :] + problem.precision * (parameters - problem.mean)
        # A parameter at its lower limit that would fall below it is fixed, and does not affect the step of the others.
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
        if gain < CONVERGED_CHI2 and bool((better | (damping > STUCK_DAMPING)).all()):
            break
    return parameters, jacobian, cost
