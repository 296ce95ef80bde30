"""The difference of two visits against outside references.

Its uncertainty is compared with the PyPI library `uncertainties` (linear propagation, JCGM 100:2008 5.1.2 and, for what
both values have in common, 5.2.2), and its verdict with Welch's test (scipy). The half-widths are inputs of the
propagation: the tests set their own, so that nothing here depends on the ones that the program uses.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from uncertainties import ufloat

from logger.clock import ManualClock
from logger.meter.description import Accuracy
from logger.metrology.change_verdict import Change, ChangeVerdict
from logger.metrology.posture import Repeatability
from logger.metrology.setup import UNKNOWN_METER, Setup
from logger.metrology.uncertainty import Budget, independent_difference_budget
from logger.report.compare.value_change import change_of
from logger.visit import VisitLog

ACCURACY = Accuracy(6.0, 0.8, 5, 0.001)
ROD_VOLTS = 0.013
"""Half-width of the reference's error."""

POSTURE_SHARE = 0.04
POSTURE = (Repeatability(POSTURE_SHARE, degrees=1e15),) * 2
"""Of the posture in both visits: a standard deviation that is known, so that no Student's t widens it."""


def u_of(half_width):
    """Return the standard uncertainty of a rectangular distribution (JCGM 100:2008 4.3.7)."""
    return half_width / 3**0.5


METER = replace(UNKNOWN_METER, name="Bench", accuracy=(ACCURACY,), true_rms=True, calibrated_on="2026-01-15")


def reading(folder, name, volts, u_volts, meter):
    log = VisitLog.create(folder / name, ManualClock())
    log.setup.set(Setup(reference="earth rod", on_battery=True, link_isolated=True, meter=meter))
    found = log.readings.enter(log.spots.add("Bed").id, "everything on", volts, u_volts)
    log.close()
    return found


@pytest.mark.parametrize("same_meter", [True, False])
@pytest.mark.parametrize(("before", "after"), [(1.8, 0.3), (0.05, 0.06), (0.7, 0.9)])
@pytest.mark.filterwarnings("ignore:Using UFloat objects with std_dev==0")
def test_difference_of_visits_as_linear_propagation_gives_it(
    tmp_path, monkeypatch, before, after, same_meter
):
    monkeypatch.setattr("logger.metrology.setup.UNPROVEN_ROD_VOLTS", ROD_VOLTS)
    other = METER if same_meter else replace(METER, name="Other")
    one = reading(tmp_path, "a", before, 0.003, METER)
    two = reading(tmp_path, "b", after, 0.004, other)

    def value(volts, u_volts, meter_half_width_volts):
        rod, posture = ufloat(0, u_of(ROD_VOLTS)), ufloat(0, POSTURE_SHARE * volts)
        return ufloat(volts, u_volts) + rod + posture + ufloat(0, u_of(meter_half_width_volts))

    def limit(volts):
        """Return the limit of error by the data sheet."""
        return 0.0 if same_meter else 0.008 * volts + 0.005

    expected = value(after, 0.004, limit(after)) - value(before, 0.003, limit(before))
    if same_meter:
        # One error of the scale acts on the difference; counts are two errors. Both are one rectangular component, as
        # the data sheet adds them.
        expected += ufloat(0, u_of(0.008 * abs(after - before) + 2**0.5 * 0.005))
    found = change_of(one, two, POSTURE).difference
    assert found.volts == pytest.approx(expected.nominal_value, abs=1e-15)
    assert found.u_volts == pytest.approx(expected.std_dev, rel=1e-12)


def test_a_common_scale_error_acts_on_the_difference_only(tmp_path):
    """`uncertainties` keeps what two values have in common: a shared scale of u = 0.8 %/sqrt 3, nothing else."""
    exact = replace(METER, accuracy=(Accuracy(6.0, 0.8, 0, 0.001),))
    one, two = reading(tmp_path, "a", 1.8, 0.0, exact), reading(tmp_path, "b", 0.3, 0.0, exact)
    scale = ufloat(1, u_of(0.008))
    expected = (0.3 * scale - 1.8 * scale).std_dev
    (found,) = (c.u_volts for c in change_of(one, two).difference.components if c.name == "meter accuracy")
    assert found == pytest.approx(expected, rel=1e-12)


def test_verdict_agrees_with_welch_where_only_scatter_counts():
    """K = 2 is the two-sided 4.55 % level of the normal distribution; Welch's test with many samples is near it."""
    rng = np.random.default_rng(8)
    agreed = decided = 0
    for shift in np.repeat((0.0, 0.5, 2.0, 4.0), 100):
        before, after = rng.normal(0.5, 0.01, 60), rng.normal(0.5 + 0.002 * shift, 0.014, 80)
        later, earlier = (
            Budget.of_u("scatter", float(x.mean()), float(x.std(ddof=1) / len(x) ** 0.5))
            for x in (after, before)
        )
        difference = independent_difference_budget(later, earlier, ("after", "before"))
        verdict = Change(earlier, later, difference).verdict(target_volts=0.1)
        p = stats.ttest_ind(after, before, equal_var=False).pvalue
        if abs(p - 0.0455) < 0.005:
            continue  # at the border itself t and normal differ
        decided += 1
        agreed += (verdict is not ChangeVerdict.NOT_DISTINGUISHABLE) == (p < 0.0455)
    assert agreed == decided > 350
