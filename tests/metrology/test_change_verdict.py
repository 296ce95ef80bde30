"""When a change between two visits is real, when it matters, and what it is called."""

from __future__ import annotations

import numpy as np
import pytest

from logger.metrology.change_verdict import Change, ChangeVerdict, judge_together
from logger.metrology.posture import DEFAULT_REPEATABILITY, with_posture
from logger.metrology.uncertainty import Budget, independent_difference_budget

LABELS = ("after", "before")


def change(before: float, after: float, u_volts: float = 0.002) -> Change:
    old, new = (Budget.of_u("scatter", volts, u_volts) for volts in (before, after))
    return Change(old, new, independent_difference_budget(new, old, LABELS))


@pytest.mark.parametrize(
    ("before", "after", "text"),
    [
        (0.045, 0.063, "slightly higher, still below 0.1 V"),
        (0.063, 0.045, "slightly lower, still below 0.1 V"),
        (0.09, 0.01, "slightly lower, still below 0.1 V"),
        (0.08, 0.12, "worse, now above 0.1 V"),
        (0.12, 0.08, "improved, now below 0.1 V"),
        (0.09, 0.11, "worse, now above 0.1 V"),
        (0.11, 0.13, "slightly higher, still above 0.1 V"),
        (1.80, 1.60, "slightly lower, still above 0.1 V"),
        (1.80, 1.20, "improved, still above 0.1 V"),
        (0.30, 0.102, "improved, now too close to the target of 0.1 V to tell"),
    ],
)
def test_a_change_is_an_improvement_only_where_it_matters(before, after, text):
    found = change(before, after)
    assert found.verdict_text(found.verdict(0.1), 0.1) == text


def test_what_is_not_significant_is_neither():
    found = change(0.05, 0.9, u_volts=0.5)
    assert found.verdict(0.1) is ChangeVerdict.NOT_DISTINGUISHABLE


def test_a_verdict_on_one_value_agrees_with_its_expanded_uncertainty():
    for volts in (0.39, 0.41):
        found = change(1.0, 1.0 + volts, u_volts=0.2 / 2**0.5)
        is_real = abs(found.difference.volts) > found.difference.expanded_volts
        assert (found.verdict(0.1) is not ChangeVerdict.NOT_DISTINGUISHABLE) == is_real


def test_without_any_uncertainty_equal_values_are_equal():
    assert change(0.5, 0.5, 0.0).verdict(0.1) is ChangeVerdict.NOT_DISTINGUISHABLE
    assert change(0.5, 0.9, 0.0).verdict(0.1) is ChangeVerdict.WORSE


def test_one_of_many_has_to_differ_by_more():
    alone = change(1.0, 1.5, u_volts=0.15)
    assert alone.verdict(0.1) is ChangeVerdict.WORSE
    many = judge_together([alone, *(change(1.0, 1.0, 0.15) for _ in range(17)), None], 0.1)
    assert many[0] is not None and many[0][0] is ChangeVerdict.NOT_DISTINGUISHABLE
    assert many[0][1] == pytest.approx(18 * alone.significance) and many[-1] is None


@pytest.mark.parametrize("posture_share", [0.03, 0.07, 0.1])
def test_an_unchanged_home_has_a_false_verdict_in_at_most_one_of_twenty(posture_share):
    """Eighteen values that nothing has changed, with the default of the posture; the true one is as given."""
    random = np.random.default_rng(311)
    false = 0
    for _ in range(1500):
        truth = random.lognormal(np.log(0.3), 1.0, 18)
        before, after = truth * (1 + posture_share * random.normal(size=(2, 18)))
        u_volts = 0.004
        before, after = (abs(v + u_volts * random.normal(size=18)) for v in (before, after))
        changes = []
        for old_volts, new_volts in zip(before, after, strict=True):
            old, new = (Budget.of_u("scatter", float(v), u_volts) for v in (old_volts, new_volts))
            one, other = (with_posture(b, DEFAULT_REPEATABILITY) for b in (new, old))
            changes.append(Change(old, new, independent_difference_budget(one, other, LABELS)))
        judged = judge_together(changes, 0.1)
        false += any(found and found[0] is not ChangeVerdict.NOT_DISTINGUISHABLE for found in judged)
    assert false / 1500 <= 0.05
