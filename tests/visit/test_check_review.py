"""What a check that is repeated says of the readings between."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest

from logger.clock import NS_PER_S
from logger.metrology.checks import CheckKind, CheckVerdict
from logger.metrology.setup import Setup
from logger.visit.results.check_review import doubt_by_checks, failed_later, not_closed

ROD = Setup(reference="earth rod")
PASSES, FAILS = 0.004, 0.5


@pytest.fixture
def zero_check(log, recording, clock):
    """Does the zero check with a value."""

    def do(volts):
        clock.advance_ns(NS_PER_S)
        recording.samples([volts] * 5, u_volts=0.001)
        verdict = log.checks.add(CheckKind.ZERO, [log.current_value.settled_span()]).outcome.verdict
        assert verdict is (CheckVerdict.PASSED if volts == PASSES else CheckVerdict.FAILED)

    return do


@pytest.fixture
def read(log, clock):
    """Takes a reading and returns it."""
    bed = log.spots.add("Bed").id

    def take():
        clock.advance_ns(NS_PER_S)
        return log.readings.enter(bed, "everything on", 0.3, 0.01)

    return take


def test_passed_and_then_failed_leaves_a_doubt_about_what_was_read_between(log, zero_check, read):
    log.setup.set(ROD)
    before = read()
    zero_check(PASSES)
    between = read()
    zero_check(FAILS)
    after = read()
    found = failed_later(log.checks.all())
    assert [(one.kind, one.passed, one.failed.id) for one in found] == [
        (CheckKind.ZERO, log.checks.all()[0], 2)
    ]
    assert (
        doubt_by_checks(between, found, {})
        == "The zero check passed before this reading and failed after it."
    )
    assert doubt_by_checks(before, found, {}) == doubt_by_checks(after, found, {}) == ""


def test_the_first_check_fails_after_readings_that_it_did_not_stop(log, zero_check, read):
    log.setup.set(ROD.with_changes(soil="sand"))
    of_another_reference = read()
    log.setup.set(ROD)
    before = read()
    zero_check(FAILS)
    after = read()
    zero_check(FAILS)
    found = failed_later(log.checks.all())
    assert doubt_by_checks(before, found, {}) == (
        "The zero check failed after this reading, and had not been done before it."
    )
    assert doubt_by_checks(of_another_reference, found, {}) == doubt_by_checks(after, found, {}) == ""


def test_what_failed_with_another_reference_leaves_none(log, zero_check, read):
    log.setup.set(ROD)
    zero_check(FAILS)
    zero_check(PASSES)
    reading = read()
    log.setup.set(ROD.with_changes(soil="sand"))
    zero_check(FAILS)
    assert doubt_by_checks(reading, failed_later(log.checks.all()), {}) == ""


def test_a_skipped_repeat_leaves_none_and_a_later_pass_takes_no_doubt_away(log, zero_check, read):
    log.setup.set(ROD)
    zero_check(PASSES)
    reading = read()
    log.checks.skip(CheckKind.ZERO, "in a hurry")
    assert failed_later(log.checks.all()) == []
    zero_check(FAILS)
    zero_check(PASSES)
    assert doubt_by_checks(reading, failed_later(log.checks.all()), {}) != ""


def test_a_verdict_is_kept_with_the_minus_of_ascii_and_read_with_a_true_one(log):
    reason = "it fell by \N{MINUS SIGN}0.3 V, as on 2026-11-26, room 1-2"
    kept = log.checks.skip(CheckKind.ZERO, reason).outcome.sentence
    with closing(sqlite3.connect(log.path)) as connection:
        (stored,) = connection.execute("SELECT sentence FROM check_result").fetchone()
    assert stored.isascii() and "-0.3 V" in stored
    assert log.checks.all()[-1].outcome.sentence == kept


def test_a_closing_check_is_one_that_was_done_after_the_last_reading(log, zero_check, read):
    log.setup.set(ROD)
    zero_check(PASSES)
    last = read()
    assert not_closed(log.checks.all(), last.utc_ns) == [CheckKind.ZERO, CheckKind.REFERENCE]
    zero_check(PASSES)
    assert not_closed(log.checks.all(), last.utc_ns) == [CheckKind.REFERENCE]
