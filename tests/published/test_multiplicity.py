"""Holm's step-down and the quantile of Student's t, against independent libraries and the definition."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from logger.statistics import holm_adjusted, normal_two_sided, student_quantile


def test_step_down_by_hand():
    """S. Holm, Scandinavian Journal of Statistics 6 (1979) 65 (the procedure, from memory; figures recomputed).

    Of four, 0.005 counts four times, 0.011 three times, 0.02 twice, 0.04 once; and none is below the one before.
    """
    assert holm_adjusted([0.02, 0.005, 0.04, 0.011]) == pytest.approx([0.04, 0.02, 0.04, 0.033])
    assert holm_adjusted([0.4, 0.6]) == pytest.approx([0.8, 0.8])
    assert holm_adjusted([0.9, 0.9, 0.9]) == [1.0, 1.0, 1.0]
    assert holm_adjusted([]) == []


def test_step_down_agrees_with_a_library():
    """Independent library: statsmodels, `multipletests(method="holm")`."""
    multitest = pytest.importorskip("statsmodels.stats.multitest")
    random = np.random.default_rng(4)
    for count in (1, 2, 5, 18, 60):
        p = random.uniform(size=count) ** 3
        theirs = multitest.multipletests(p, method="holm")[1]
        assert holm_adjusted(list(p)) == pytest.approx(list(theirs), rel=1e-12)


@pytest.mark.parametrize("degrees", [4, 5, 7.5, 12, 40, 1000])
def test_the_quantile_of_students_t_agrees_with_scipy(degrees):
    for normal in (1.0, 1.96, 2.0):
        expected = stats.t.ppf(stats.norm.cdf(normal), degrees)
        assert student_quantile(normal, degrees) == pytest.approx(expected, rel=1e-3)
    with pytest.raises(ValueError, match="degrees"):
        student_quantile(2.0, 3.0)


def test_the_normal_distribution_agrees_with_scipy():
    for sigmas in (-2.0, 0.0, 0.5, 1.96, 5.0):
        assert normal_two_sided(sigmas) == pytest.approx(2 * stats.norm.sf(abs(sigmas)), rel=1e-12)
