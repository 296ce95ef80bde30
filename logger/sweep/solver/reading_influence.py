"""What each circuit would give if one reading were mistaken: how far a single mistake may have moved an answer.

In: a `Sweep` and the model fitted to it. Out: a `ReadingInfluence`: the rows that disagree with the others more than
chance explains, and what the circuits give without each of them. This is data snooping and external reliability
(W. Baarda, "A testing procedure for use in geodetic networks", 1968), with the model fitted again, since it is not
linear. Whether the readings contradict each other is decided elsewhere (`consistency.py`), and allows for uncertainties
that are understated; here a mistake that such an allowance would hide widens what is stated.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.sweep.solver.mistakes import MistakeFit, changes, fit_mistake, left_out
from logger.sweep.solver.readings import Sweep
from logger.sweep.solver.sweep_fit import SweepFit

MIN_GAIN_CHI2 = 3.84
"""A mistake is worth counting where chi-square falls by at least this when it is undone: a normalised residual of 1.96,
which one sound reading in twenty exceeds."""

MAX_BEHIND_CHI2 = 6.0
"""And where it explains the readings about as well as the best explanation: 5 % for two degrees of freedom."""

MAX_ROWS = 40
"""Only so many rows are left out, the first ones, so that an answer keeps nobody waiting on a large panel."""


@dataclass(frozen=True, slots=True)
class ReadingInfluence:
    """What a single mistake may have done. M mistakes, n circuits and cords.

    Args:
        rows: indices of the rows that may be mistaken, the most plausible first.
        contributions: what each circuit gives with each mistake undone, magnitudes, V, shape (M, n).
    """

    rows: tuple[int, ...]
    contributions: NDArray[np.float64]

    def widened(
        self, sizes: NDArray[np.float64], u_sizes: NDArray[np.float64], is_null: NDArray[np.bool_]
    ) -> NDArray[np.float64]:
        """Standard uncertainties whose expanded ones reach to what each circuit gives with any of the mistakes undone.

        Args:
            sizes: what is stated, V, shape (n,).
            u_sizes: standard uncertainties of these, V, shape (n,).
            is_null: what reads alone like nothing; quick fits have no parameter for it, shape (n,).
        """
        if not len(self.contributions):
            return u_sizes
        shift = np.where(is_null, 0.0, np.abs(self.contributions - sizes).max(axis=0))
        return np.maximum(u_sizes, (shift + COVERAGE_FACTOR * u_sizes) / COVERAGE_FACTOR)


def reading_influence(sweep: Sweep, found: SweepFit, cords: Mapping[str, str]) -> ReadingInfluence:
    """Test a sweep reading by reading: what would be left without each, and with any two exchanged.

    Args:
        sweep: readings at one spot.
        found: the model fitted to them.
        cords: which of the sweep's names are cords, and the circuit of each; empty where that is not known.
    """
    nothing = ReadingInfluence((), np.zeros((0, len(sweep.circuits))))
    chi2 = found.misfit().chi2
    if chi2 < MIN_GAIN_CHI2:
        return nothing
    mistakes = [mistake for mistake in left_out(sweep, found.design) if mistake.rows][:MAX_ROWS]
    mistakes += [
        mistake
        for mistake in changes(sweep, found.design, range(len(sweep.rows)))
        if len(mistake.at) == 2 and mistake.swapped is None
    ]
    tried = [fit_mistake(sweep, mistake, found.supply, cords) for mistake in mistakes]
    plausible = _plausible(tried, chi2)
    if not plausible:
        return nothing
    rows = tuple(dict.fromkeys(at for one in plausible for alike in one.mistake.alike for at in alike))
    return ReadingInfluence(rows, np.abs([one.contributions for one in plausible]))


def _plausible(tried: list[MistakeFit], chi2: float) -> list[MistakeFit]:
    """The mistakes that explain the readings clearly better than none does, the best explanation first.

    Args:
        tried: with each mistake undone.
        chi2: with none undone.
    """
    better = sorted((one for one in tried if chi2 - one.chi2 >= MIN_GAIN_CHI2), key=lambda one: one.chi2)
    return [one for one in better if one.chi2 <= better[0].chi2 + MAX_BEHIND_CHI2]
