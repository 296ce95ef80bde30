"""Whether a weighted mean is consistent, on fourteen laboratories' values of the constant of gravitation.

P. J. Mohr, D. B. Newell and B. N. Taylor, CODATA 2014 (Rev. Mod. Phys. 88, 035009): values in 1e-11 m3 kg-1 s-2 from
memory, as are the adopted value and the factor of 6.3 by which all uncertainties were multiplied, so that no value is
further than twice its uncertainty. Correlations are left out here.
"""

from __future__ import annotations

import pytest
from scipy.stats import chi2

from logger.repeats import combine
from logger.sweep.solver.sweep_fit import Misfit

VALUES = {
    "NIST-82": (6.672_48, 43e-5),
    "TR&D-96": (6.672_9, 50e-5),
    "LANL-97": (6.673_98, 70e-5),
    "UWash-00": (6.674_255, 9.2e-5),
    "BIPM-01": (6.675_59, 27e-5),
    "UWup-02": (6.674_22, 98e-5),
    "MSL-03": (6.673_87, 27e-5),
    "HUST-05": (6.672_22, 87e-5),
    "UZur-06": (6.674_25, 12e-5),
    "HUST-09": (6.673_49, 18e-5),
    "JILA-10": (6.672_34, 14e-5),
    "BIPM-14": (6.675_54, 16e-5),
    "LENS-14": (6.671_91, 99e-5),
    "UCI-14": (6.674_35, 13e-5),
}
ADOPTED, U_ADOPTED, FACTOR = 6.674_08, 31e-5, 6.3


def test_the_weighted_mean_is_the_adopted_value_with_the_adopted_uncertainty_once_it_is_widened() -> None:
    combined = combine(list(VALUES.values()))
    assert round(combined.volts, 5) == ADOPTED
    assert FACTOR * combined.u_volts / combined.birge_ratio == pytest.approx(U_ADOPTED, abs=0.5e-5)
    farthest = max(abs(value - combined.volts) / u for value, u in VALUES.values())
    assert farthest / FACTOR < 2.0 < farthest / (FACTOR - 0.2)


@pytest.mark.parametrize("count", [2, 4, 8, 14])
@pytest.mark.parametrize("understated", [1.0, 2.0, FACTOR])
def test_the_test_of_consistency_is_the_chi_square_test(count: int, understated: float) -> None:
    """M. G. Cox, Metrologia 39 (2002) 589, procedure A, with the level of this project."""
    some = list(VALUES.values())[:count]
    combined = combine(some)
    level = float(chi2.sf(combined.chi2 / understated**2, count - 1))
    assert combined.degrees_of_freedom == count - 1
    misfit = Misfit(combined.chi2, combined.degrees_of_freedom, understated)
    assert misfit.contradicts == (level < 1e-3)


def test_the_laboratories_contradict_each_other_and_the_factor_resolves_it() -> None:
    combined = combine(list(VALUES.values()))
    assert Misfit(combined.chi2, combined.degrees_of_freedom, 2.0).contradicts
    assert not Misfit(combined.chi2, combined.degrees_of_freedom, FACTOR).contradicts
