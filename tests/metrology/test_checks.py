"""Verdicts of the zero, reference and function checks."""

from __future__ import annotations

import pytest

from logger.meter.description import Accuracy, MeterDescription
from logger.metrology.checks import (
    CAUTIONS,
    STEPS,
    CheckKind,
    CheckVerdict,
    judge,
    rod_half_width_volts,
    skipped,
)
from logger.metrology.setup import MeterFacts

ZERO, REFERENCE, FUNCTION = CheckKind


def meter(percent: float, counts: float, resolution_volts: float) -> MeterFacts:
    """A meter with one range."""
    return MeterFacts.of(
        MeterDescription("Bench", accuracy=(Accuracy(6.0, percent, counts, resolution_volts),))
    )


FINE = meter(0.5, 1, 0.0001)
COARSE = meter(1.0, 3, 0.01)


@pytest.mark.parametrize(
    ("kind", "values", "verdict"),
    [
        (ZERO, [(0.004, 0.001)], CheckVerdict.PASSED),
        (ZERO, [(-0.004, 0.001)], CheckVerdict.PASSED),
        (ZERO, [(0.019, 0.001)], CheckVerdict.NOT_DECIDED),
        (ZERO, [(0.3, 0.001)], CheckVerdict.FAILED),
        (REFERENCE, [(0.30, 0.002), (0.305, 0.002)], CheckVerdict.PASSED),
        (REFERENCE, [(0.60, 0.002), (0.30, 0.002)], CheckVerdict.FAILED),
        (REFERENCE, [(0.30, 0.02), (0.305, 0.02)], CheckVerdict.NOT_DECIDED),
        (REFERENCE, [(4.0, 0.01), (4.15, 0.01)], CheckVerdict.PASSED),
        (FUNCTION, [(0.3, 0.01), (2.1, 0.01), (0.32, 0.01)], CheckVerdict.PASSED),
        (FUNCTION, [(0.3, 0.01), (0.9, 0.01), (0.32, 0.01)], CheckVerdict.FAILED),
        (FUNCTION, [(0.3, 0.01), (2.1, 0.01), (1.9, 0.01)], CheckVerdict.FAILED),
        (FUNCTION, [(0.3, 0.01), (1.31, 0.01), (0.3, 0.01)], CheckVerdict.NOT_DECIDED),
        (FUNCTION, [(0.3, 0.01), (-2.0, 0.01), (0.3, 0.01)], CheckVerdict.FAILED),
    ],
)
def test_verdicts_allow_for_the_uncertainty(kind, values, verdict):
    outcome = judge(kind, values, FINE)
    assert outcome.verdict is verdict
    assert f"{values[0][0]:.3f} V" in outcome.sentence


def test_a_check_needs_a_value_for_each_of_its_steps():
    for kind in CheckKind:
        assert STEPS[kind] and CAUTIONS[kind]
        with pytest.raises(ValueError, match="needs"):
            judge(kind, [(0.1, 0.01)] * (len(STEPS[kind]) + 1), FINE)


def test_a_skipped_check_says_why():
    assert skipped("the occupant is sensitive.").sentence == "Skipped: the occupant is sensitive."
    assert skipped(" ").sentence == "Skipped: no reason given."


@pytest.mark.parametrize(
    ("kind", "values", "fine", "coarse"),
    [
        # Within what its data sheet allows at zero (0.03 V) a coarse meter passes: its readings carry that.
        (ZERO, [(0.02, 0.001)], CheckVerdict.NOT_DECIDED, CheckVerdict.PASSED),
        (ZERO, [(0.05, 0.001)], CheckVerdict.FAILED, CheckVerdict.FAILED),
        # 0.01 V apart: a meter of 10 mV counts cannot tell that from 0.03 V.
        (REFERENCE, [(0.30, 0.001), (0.31, 0.001)], CheckVerdict.PASSED, CheckVerdict.NOT_DECIDED),
        (REFERENCE, [(0.30, 0.001), (0.60, 0.001)], CheckVerdict.FAILED, CheckVerdict.FAILED),
        # The share of reading is one and the same error before and after: 4 V with 1 % is no reason to doubt.
        (REFERENCE, [(4.0, 0.01), (4.1, 0.01)], CheckVerdict.PASSED, CheckVerdict.PASSED),
        (
            FUNCTION,
            [(0.3, 0.001), (1.32, 0.001), (0.3, 0.001)],
            CheckVerdict.PASSED,
            CheckVerdict.NOT_DECIDED,
        ),
    ],
)
def test_verdicts_allow_for_what_the_meter_may_be_off_by(kind, values, fine, coarse):
    assert judge(kind, values, FINE).verdict is fine
    assert judge(kind, values, COARSE).verdict is coarse


def test_a_rod_is_off_by_the_change_seen_but_never_less_than_the_check_could_see():
    assert rod_half_width_volts((0.30, 0.001), (0.34, 0.001), FINE) == pytest.approx(0.04)
    least = rod_half_width_volts((0.30, 0.001), (0.30, 0.001), COARSE)
    # GUM 4.3.7 and 5.1.2: two readings of 3 counts of 10 mV each, rectangular, and two scatters; k = 2.
    assert least == pytest.approx(2 * ((2 * 0.03**2) / 3 + 2 * 0.001**2) ** 0.5)
