"""Verdicts of the zero, reference and function checks."""

from __future__ import annotations

import pytest

from logger.meter.description import Accuracy, MeterDescription
from logger.metrology.checks import (
    CAUTIONS,
    REQUIRED_CHECKS,
    STEPS,
    CheckKind,
    CheckVerdict,
    judge,
    open_checks,
    seen_of_rod,
    skipped,
)
from logger.metrology.reference_error import SeenByChecks
from logger.metrology.rounding import MINUS
from logger.metrology.setup import MeterFacts

ZERO, REFERENCE, FUNCTION, TWO_RODS, LEAD = CheckKind
PASSED, FAILED, NOT_DECIDED, SHOWS_NOTHING, SKIPPED, _ = CheckVerdict


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
        (TWO_RODS, [(0.004, 0.0005), (0.006, 0.0005)], CheckVerdict.PASSED),
        (TWO_RODS, [(0.004, 0.0005), (0.048, 0.0005)], CheckVerdict.FAILED),
        (TWO_RODS, [(0.048, 0.0005), (0.004, 0.0005)], CheckVerdict.FAILED),
        (TWO_RODS, [(0.019, 0.003), (0.004, 0.0005)], CheckVerdict.NOT_DECIDED),
        (
            TWO_RODS,
            [(0.001, 0.02), (0.002, 0.0005)],
            CheckVerdict.NOT_DECIDED,
        ),  # the smaller one is the less certain
        (TWO_RODS, [(0.048, 0.0005), (0.049, 0.03)], CheckVerdict.FAILED),
        (REFERENCE, [(0.006, 0.001), (0.006, 0.001)], CheckVerdict.SHOWS_NOTHING),
        (REFERENCE, [(0.006, 0.001), (0.30, 0.001)], CheckVerdict.FAILED),
        (LEAD, [(0.006, 0.001), (0.006, 0.001)], CheckVerdict.SHOWS_NOTHING),
        (LEAD, [(0.30, 0.002), (0.305, 0.002)], CheckVerdict.PASSED),
        (LEAD, [(0.60, 0.002), (0.30, 0.002)], CheckVerdict.FAILED),
    ],
)
def test_verdicts_allow_for_the_uncertainty(kind, values, verdict):
    outcome = judge(kind, values, FINE)
    assert outcome.verdict is verdict
    assert float(outcome.sentence.split()[0].replace(MINUS, "-")) == pytest.approx(values[0][0], abs=0.01)


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


@pytest.mark.parametrize("kind", [REFERENCE, LEAD])
def test_a_value_that_stayed_proves_little_and_says_so(kind):
    stayed = judge(kind, [(0.30, 0.001), (0.30, 0.001)], FINE)
    assert stayed.verdict is PASSED and "does not prove the rod" in stayed.sentence
    seen = seen_of_rod({kind: [(0.30, 0.001), (0.34, 0.001)]}, FINE)
    assert seen.change_volts == pytest.approx(0.04) and seen.between_rods_volts is None


def test_the_voltage_between_two_rods_counts_with_its_uncertainty_and_the_larger_of_both_routes():
    seen = seen_of_rod({TWO_RODS: [(0.003, 0.0), (0.008, 0.0)]}, COARSE)
    # GUM 4.3.7: 1 % of 8 mV and 3 counts of 10 mV, rectangular; k = 2.
    assert seen.between_rods_volts == pytest.approx(0.008 + 2 * 0.03008 / 3**0.5)
    assert seen.rods_agree is None, "a meter of 10 mV counts cannot tell"
    assert seen_of_rod({TWO_RODS: [(0.003, 0.0), (0.008, 0.0)]}, FINE).rods_agree is True
    assert seen_of_rod({}, FINE) == SeenByChecks()


def test_the_two_rod_check_says_what_it_cannot_show():
    sentence = judge(TWO_RODS, [(0.004, 0.0005), (0.006, 0.0005)], FINE).sentence
    assert "both rods share" in sentence and "0.01 V" in sentence
    assert "nobody knows which" in judge(TWO_RODS, [(0.004, 0.0005), (0.06, 0.0005)], FINE).sentence


def test_which_checks_leave_a_doubt():
    assert open_checks({}) == list(REQUIRED_CHECKS)
    assert open_checks(dict.fromkeys(REQUIRED_CHECKS, PASSED)) == []
    assert open_checks({ZERO: PASSED, FUNCTION: SKIPPED, REFERENCE: NOT_DECIDED, TWO_RODS: PASSED}) == [
        FUNCTION
    ]
    assert open_checks({ZERO: PASSED, FUNCTION: PASSED, REFERENCE: FAILED, TWO_RODS: PASSED}) == [REFERENCE]
    failed = dict.fromkeys(REQUIRED_CHECKS, PASSED) | {LEAD: FAILED, TWO_RODS: NOT_DECIDED}
    assert open_checks(failed) == [LEAD]
