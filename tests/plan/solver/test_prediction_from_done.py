"""What further remedies bring once some are done and read, against houses of known truth."""

from __future__ import annotations

import numpy as np
import pytest

from logger.plan.solver.prediction import Rise, predict
from logger.plan.solver.prediction_from_done import ReadWith, predict_from
from logger.plan.solver.remedies import Refusal
from tests.support.possible_houses import possible_houses

U = 0.002


def read(volts, *off, weakened=()):
    """A value that was read with those off and weakened."""
    return ReadWith(frozenset(off), frozenset(weakened), volts, U)


def test_it_starts_from_what_was_read_and_takes_the_phasor_from_that():
    """A is 0.8 or 1.2 V by the houses; with B off 1.3 V was read, so that A without C is 1.0 V."""
    houses = possible_houses([[[0.8, 0.5, 0.3], [1.2, 0.5, 0.3]]])
    (by_houses,) = predict(houses, {"B", "C"})
    found = predict_from(houses, 0, {"C"}, (), read(1.3, "B"))
    assert by_houses.u_volts == pytest.approx(0.2)
    assert found.volts == pytest.approx(1.0) and found.u_volts == pytest.approx(U)
    assert found.change_volts == pytest.approx(-0.3) and found.u_change_volts == pytest.approx(0, abs=1e-9)
    assert found.is_known and found.rises is Rise.NO


def test_what_is_done_already_changes_nothing_and_is_what_was_read():
    houses = possible_houses([[[0.8, 0.5], [1.2, 0.5]]])
    found = predict_from(houses, 0, {"B"}, (), read(0.91, "B"))
    assert found.is_read and (found.volts, found.u_volts, found.change_volts) == (pytest.approx(0.91), U, 0.0)


def test_it_rises_against_what_is_done_not_against_nothing_done():
    """A 0.7, B -0.6, C 0.5 V: 0.6 with all on, 0.1 with C off; B off besides gives 0.7, which is a rise."""
    houses = possible_houses([[[0.7, -0.6, 0.5]]])
    assert predict(houses, {"B", "C"})[0].rises is Rise.YES
    found = predict_from(houses, 0, {"B"}, (), read(0.1, "C"))
    assert found.rises is Rise.YES and found.change_volts == pytest.approx(0.6)


def test_of_the_shares_of_what_was_moved_those_count_that_give_what_was_read():
    """B (0.6 V against A) was moved: 0.7 V were read, so that half of it is left; without C 0.5 V are."""
    houses = possible_houses([[[1.0, -0.6, 0.2]]])
    at_all = predict(houses, {"C"}, {"B"})[0].at_best
    found = predict_from(houses, 0, {"C"}, (), read(0.9, weakened="B"))
    assert at_all is not None and found.at_best is not None and found.volts is None
    assert (at_all.lowest_volts, at_all.highest_volts) == (pytest.approx(0.4), pytest.approx(1.0))
    assert found.at_best.lowest_volts == pytest.approx(0.7, abs=3 * U)
    assert found.at_best.highest_volts == pytest.approx(0.7, abs=3 * U)


def test_what_was_moved_and_is_unplugged_then_had_any_share_left():
    """Of B (0.6 of 1.0 V) some was left when 0.8 V was read; gone, what is left is between 0.2 and 0.8 V."""
    found = predict_from(possible_houses([[[0.4, 0.6]]]), 0, {"B"}, (), read(0.8, weakened="B"))
    at_best = found.at_best
    assert at_best is not None and at_best.lowest_volts <= 0.4 <= at_best.highest_volts


def test_a_reading_that_no_share_gives_predicts_nothing():
    houses = possible_houses([[[0.4, 0.6]]])
    assert predict_from(houses, 0, {"A"}, (), read(1.5, weakened="B")).refusal is Refusal.NOT_FITTING
    assert predict_from(houses, 0, {"A"}, (), read(1.0, weakened="B")).refusal is None


def test_it_is_never_less_certain_than_from_nothing_done_and_holds_the_truth():
    """True houses of three phases among the possible ones: within the range, or within 3 u of the number."""
    random = np.random.default_rng(40)
    within = known = narrower = refused = 0
    for _ in range(60):
        houses = 24
        legs = np.exp(2j * np.pi * random.integers(0, 3, 4) / 3)
        spread = 1.0 + 0.05 * random.standard_normal((houses, 4))
        drawn = random.uniform(0.1, 1.0, 4) * legs * spread
        dark = 0.1 * np.exp(2j * np.pi * random.random(houses))
        problem = possible_houses(drawn[None], dark[None])
        true = int(random.integers(houses))
        share = random.random()
        left = dark[true] + drawn[true].sum() - drawn[true, 0] - share * drawn[true, 3]
        start = ReadWith(frozenset("A"), frozenset("D"), abs(left), U)
        moved = predict_from(problem, 0, {"A", "B"}, {"D"}, start)
        (from_nothing,) = predict(problem, {"A", "B"}, {"D"})
        assert from_nothing.at_best is not None
        if moved.at_best is None:
            assert moved.refusal is Refusal.NOT_FITTING, "one house in twenty at most fits"
            refused += 1
            continue
        width, other = (b.highest_volts - b.lowest_volts for b in (moved.at_best, from_nothing.at_best))
        truth = abs(left - drawn[true, 1])
        within += moved.at_best.lowest_volts - 0.005 <= truth <= moved.at_best.highest_volts + 0.005
        assert width <= other + 0.02
        narrower += width < 0.8 * other
        whole = dark[true] + drawn[true].sum() - drawn[true, 0]
        number = predict_from(
            problem, 0, {"A", "B"}, (), ReadWith(frozenset("A"), frozenset(), abs(whole), U)
        )
        (plain,) = predict(problem, {"A", "B"})
        assert number.u_volts is not None and plain.u_volts is not None and number.volts is not None
        assert number.u_volts <= plain.u_volts
        known += abs(number.volts - abs(whole - drawn[true, 1])) <= 3 * number.u_volts
    assert within >= 56 and known >= 58 and narrower >= 20 and refused <= 3
