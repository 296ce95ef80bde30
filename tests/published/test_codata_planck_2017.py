"""The Birge ratio and what it widens, on the eight values of the Planck constant of the CODATA adjustment of 2017.

D. B. Newell et al. and P. J. Mohr et al., Metrologia 55 (2018): values of the watt balances and of counted silicon
atoms, in 1e-34 J s, from memory, as are the adopted value and uncertainty. The adjustment counted correlations, which
are left out here; all uncertainties were multiplied by 1.7, so that no value is further than twice its uncertainty.
"""

from __future__ import annotations

import pytest

from logger.repeats import combine
from logger.sweep.solver.sweep_fit import Misfit

VALUES = [
    (6.626_069_934, 89e-9),
    (6.626_070_133, 60e-9),
    (6.626_070_405, 77e-9),
    (6.626_070_22, 130e-9),
    (6.626_070_13, 160e-9),
    (6.626_070_41, 380e-9),
    (6.626_069_36, 380e-9),
    (6.626_069_94, 200e-9),
]
ADOPTED, U_ADOPTED, FACTOR = 6.626_070_150, 69e-9, 1.7


def test_the_weighted_mean_is_the_adopted_value_and_the_ratio_widens_as_the_adjustment_did() -> None:
    combined = combine(VALUES)
    assert combined.volts == pytest.approx(ADOPTED, abs=U_ADOPTED / 4)
    assert combined.u_volts == pytest.approx(U_ADOPTED, rel=0.05)
    assert combined.birge_ratio == pytest.approx(FACTOR, abs=0.15)
    farthest = max(abs(value - combined.volts) / u for value, u in VALUES)
    assert farthest / FACTOR < 2.0 < farthest


def test_such_values_contradict_each_other_only_if_their_uncertainties_are_taken_as_they_are() -> None:
    combined = combine(VALUES)
    misfit = Misfit(combined.chi2, combined.degrees_of_freedom, 1.0)
    assert misfit.contradicts == (misfit.chi2 > 24.32)  # chi-square table: 7 degrees, 0.1 %
    assert not Misfit(combined.chi2, combined.degrees_of_freedom, FACTOR).contradicts
