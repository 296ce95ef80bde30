"""The model of a sweep at one spot, fitted to its readings: every assignment of legs that they allow.

In: a `Sweep`. Out: a `SweepFit`. How far the best fit is from the readings says whether these agree with each other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import log
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from logger.metrology.supply import SupplyKey
from logger.repeats import is_no_chance
from logger.sweep.solver.leg_assignments import THOROUGH, SearchEffort, Start, assignments
from logger.sweep.solver.phasor_fit import Fits, fit, phasors
from logger.sweep.solver.readings import Sweep
from logger.sweep.solver.sweep_design import SweepDesign, sweep_design
from logger.sweep.solver.unread_starts import with_unread_starts

DIRECTIONS: dict[SupplyKey, NDArray[np.complex128]] = {
    # ANSI C84.1: the legs of a 120/240 V service are 180 degrees apart; three-phase: 120 degrees.
    "split": np.array([1.0, -1.0], complex),
    "single": np.array([1.0], complex),
    "three": np.exp(2j * np.pi * np.arange(3) / 3),
}

NO_CORDS: Mapping[str, str] = MappingProxyType({})

MAX_FIT_WORK, MIN_STARTS = 2.5e7, 12
"""Assignments times the cube of the parameters of each: on a panel of 60 circuits fewer assignments are fitted, the
best ones, so that an answer takes a second or two."""


MIN_SCATTER = 0.1
"""Readings are never taken to scatter by less than this share of what they claim: a few agree so closely by chance.
No source, ours; false alarms of what rests on it are in fixtures/figures/sources.md."""

CLEARLY_BETTER = 10.0
"""One explanation is clearly better than another by this difference of `unlikelihood`, which is twice the logarithm of
their Bayes factor: "very strong" by R. E. Kass and A. E. Raftery, "Bayes factors", 1995."""


@dataclass(frozen=True, slots=True)
class Misfit:
    """How far readings are from what fits them best.

    Args:
        chi2: of the misfit, with what the priors of small contributions add.
        degrees_of_freedom: readings minus effective parameters, at least 1.
        understated: factor by which the uncertainties may be too small.
    """

    chi2: float
    degrees_of_freedom: float
    understated: float

    @property
    def contradicts(self) -> bool:
        """Whether so large a misfit is no chance, even with uncertainties that are understated."""
        return is_no_chance(self.chi2 / self.understated**2, self.degrees_of_freedom)

    @property
    def unlikelihood(self) -> float:
        """Minus twice the logarithm of the likelihood, with the scatter that explains the misfit best.

        What readings claim holds the posture; those of somebody who lay still all the while agree far more closely, and
        tell explanations apart that their claims would not.
        """
        most = self.understated**2
        scatter = min(max(self.chi2 / self.degrees_of_freedom, MIN_SCATTER**2 * most), most)
        return self.degrees_of_freedom * log(scatter / most) + self.chi2 / scatter

    def with_others(self, others: Sequence[Misfit]) -> Misfit:
        """This and others of the same sweep as one."""
        return replace(
            self,
            chi2=self.chi2 + sum(other.chi2 for other in others),
            degrees_of_freedom=self.degrees_of_freedom + sum(other.degrees_of_freedom for other in others),
        )


@dataclass(frozen=True, slots=True)
class SweepFit:
    """Every assignment of legs that the readings allow, fitted.

    Args:
        design: the sweep as arrays.
        starts: assignments that were fitted.
        fits: of these.
        supply: of the home.
    """

    design: SweepDesign
    starts: list[Start]
    fits: Fits
    supply: SupplyKey

    @property
    def best(self) -> int:
        """Index of the best fit."""
        return int(np.argmin(self.fits.chi2))

    def best_phasors(self) -> tuple[complex, NDArray[np.complex128]]:
        """Background and contributions (shape (n,)) of the best fit, complex V."""
        parameters = self.fits.parameters[self.best][None, :]
        background, contributions = phasors(self.fits, self.best, parameters, len(self.design.names))
        return complex(background[0]), contributions[0]

    def misfit(self) -> Misfit:
        """Misfit of the best fit."""
        fits, best, design = self.fits, self.best, self.design
        problem, parameters = fits.problem.only(best), fits.parameters[best]
        misfit, jacobian, _ = problem.evaluate(parameters[None, :])
        # Priors of the background, of what has a leg and of what was not read alone only hold the fit; those of what
        # reads alone like nothing are readings.
        is_read = design.is_null[problem.owner]
        is_read[: len(design.assigned)] = False
        informative = ((parameters - problem.mean[0]) ** 2 * problem.precision[0])[2:][is_read].sum()
        effective = float(np.trace(jacobian[0].T @ jacobian[0] @ fits.covariance[best]))
        spare = float(problem.counts.sum()) - effective
        return Misfit(float((misfit**2).sum() + informative), max(1.0, spare), design.understated)


def fit_sweep(
    sweep: Sweep, supply: SupplyKey, cords: Mapping[str, str] = NO_CORDS, effort: SearchEffort = THOROUGH
) -> SweepFit:
    """Fit the model to the readings at one spot.

    Args:
        sweep: readings at one spot.
        supply: of the home.
        cords: which of the sweep's names are cords, and the circuit of each; empty where that is not known.
        effort: how thoroughly assignments are sought.
    """
    legs = DIRECTIONS[supply]
    design = sweep_design(sweep, len(legs), cords)
    starts = assignments(design, legs, effort)
    fitted = design if effort.fits_null else _without_null(design)
    parameters = (
        2 + len(design.assigned) + np.count_nonzero(fitted.unassigned_u) * (2 if len(legs) == 3 else 1)
    )
    starts = with_unread_starts(design, starts, legs, effort)
    starts = starts[: max(MIN_STARTS, int(MAX_FIT_WORK / parameters**3))]
    # A start this bad comes near the readings by no fit, and how bad it is is known well enough.
    iterations = effort.max_iterations if starts[0].chi2 < effort.max_start_chi2 else 0
    return SweepFit(fitted, starts, fit(fitted, starts, legs, iterations), supply)


def _without_null(design: SweepDesign) -> SweepDesign:
    """The same without parameters for what reads alone like nothing: it widens the readings that it is part of."""
    null_u = np.where(design.is_null, design.unassigned_u, 0.0)
    null_mean = np.where(design.is_null, design.unassigned_mean, 0.0)
    is_fitted = design.is_fitted.copy()
    is_fitted[[design.solo_row[int(k)] for k in np.flatnonzero(design.is_null)]] = False
    return replace(
        design,
        volts=np.where(design.is_combined, design.volts - design.matrix @ null_mean, design.volts),
        u_volts=np.sqrt(design.u_volts**2 + design.matrix**2 @ null_u**2),
        is_fitted=is_fitted,
        unassigned_u=np.where(design.is_null, 0.0, design.unassigned_u),
        unassigned_mean=np.where(design.is_null, 0.0, design.unassigned_mean),
    )
