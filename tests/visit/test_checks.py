"""Verdicts of the zero, reference and function checks."""

from __future__ import annotations

import pytest

from logger.visit.checks import CAUTIONS, STEPS, CheckKind, Verdict, judge, skipped

ZERO, REFERENCE, FUNCTION = CheckKind


@pytest.mark.parametrize(
    ("kind", "values", "verdict"),
    [
        (ZERO, [(0.004, 0.001)], Verdict.PASSED),
        (ZERO, [(-0.004, 0.001)], Verdict.PASSED),
        (ZERO, [(0.019, 0.001)], Verdict.NOT_DECIDED),
        (ZERO, [(0.3, 0.001)], Verdict.FAILED),
        (REFERENCE, [(0.30, 0.002), (0.305, 0.002)], Verdict.PASSED),
        (REFERENCE, [(0.60, 0.002), (0.30, 0.002)], Verdict.FAILED),
        (REFERENCE, [(0.30, 0.02), (0.305, 0.02)], Verdict.NOT_DECIDED),
        (REFERENCE, [(4.0, 0.01), (4.15, 0.01)], Verdict.PASSED),
        (FUNCTION, [(0.3, 0.01), (2.1, 0.01), (0.32, 0.01)], Verdict.PASSED),
        (FUNCTION, [(0.3, 0.01), (0.9, 0.01), (0.32, 0.01)], Verdict.FAILED),
        (FUNCTION, [(0.3, 0.01), (2.1, 0.01), (1.9, 0.01)], Verdict.FAILED),
        (FUNCTION, [(0.3, 0.01), (1.31, 0.01), (0.3, 0.01)], Verdict.NOT_DECIDED),
        (FUNCTION, [(0.3, 0.01), (-2.0, 0.01), (0.3, 0.01)], Verdict.FAILED),
    ],
)
def test_verdicts_allow_for_the_uncertainty(kind, values, verdict):
    outcome = judge(kind, values)
    assert outcome.verdict is verdict
    assert f"{values[0][0]:.3f} V" in outcome.sentence


def test_a_check_needs_a_value_for_each_of_its_steps():
    for kind in CheckKind:
        assert STEPS[kind] and CAUTIONS[kind]
        with pytest.raises(ValueError, match="needs"):
            judge(kind, [(0.1, 0.01)] * (len(STEPS[kind]) + 1))


def test_a_skipped_check_says_why():
    assert skipped("the occupant is sensitive.").sentence == "Skipped: the occupant is sensitive."
    assert skipped(" ").sentence == "Skipped: no reason given."
