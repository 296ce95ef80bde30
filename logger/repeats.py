"""Repeated readings of one thing put together, and whether they contradict each other.

In: values with their standard uncertainties, V. Out: their weighted mean, and how far they are apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from logger.statistics import chi2_upper_tail

MIN_U_VOLTS = 0.001
"""No reading is better than this, whatever uncertainty it claims: no meter resolves and no body holds less."""

LEVEL = 1e-3
"""Readings contradict each other where scatter as large as theirs is less likely than this."""


def is_no_chance(chi2: float, degrees: float) -> bool:
    """Return whether so large a misfit is no chance.

    Args:
        chi2: of the misfit.
        degrees: its degrees of freedom.
    """
    # What is no larger than expected needs no probability.
    return chi2 > degrees and chi2_upper_tail(chi2, degrees) < LEVEL


@dataclass(frozen=True, slots=True)
class Repeats:
    """The weighted mean of readings of the same thing.

    Args:
        volts: weighted mean, V.
        u_volts: its standard uncertainty, V, wider by the Birge ratio where that is above 1.
        chi2: chi-square of the readings about their mean.
        degrees_of_freedom: one fewer than there are readings.
    """

    volts: float
    u_volts: float
    chi2: float
    degrees_of_freedom: int

    @property
    def birge_ratio(self) -> float:
        """Scatter of the readings over what their uncertainties allow; 1 for a single reading."""
        return (self.chi2 / self.degrees_of_freedom) ** 0.5 if self.degrees_of_freedom else 1.0

    @property
    def contradict(self) -> bool:
        """Whether the readings contradict each other; a single one cannot."""
        return self.degrees_of_freedom > 0 and is_no_chance(self.chi2, self.degrees_of_freedom)


def combine(values: Sequence[tuple[float, float]]) -> Repeats:
    """Combine readings of the same thing (R. T. Birge 1932; the practice of the CODATA adjustments).

    Args:
        values: volts and standard uncertainty of each reading, at least one.
    """
    weights = [u_volts**-2.0 for _, u_volts in values]
    total = sum(weights)
    mean = sum(weight * volts for weight, (volts, _) in zip(weights, values, strict=True)) / total
    chi2 = sum(weight * (volts - mean) ** 2 for weight, (volts, _) in zip(weights, values, strict=True))
    spare = len(values) - 1
    widened = max(1.0, chi2 / spare) ** 0.5 if spare else 1.0
    return Repeats(mean, widened * total**-0.5, chi2, spare)
