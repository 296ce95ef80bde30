"""What speaks against a reading at the moment when it is taken."""

from __future__ import annotations

from dataclasses import replace

import pytest

from logger.clock import NS_PER_S
from logger.sweep.reading_doubts import LevelChange, reading_doubts
from logger.sweep.sweep_progress import combination_of, plain_sweep, sweep_progress
from tests.support.swept_home import LEGS, Home


@pytest.fixture
def home(log):
    return Home(
        log, {"bed": {"Bedroom": 0.6, "Light": 0.2, "Study": 0.25, "Hall": 0.1, "Kitchen": 0.3}}, LEGS
    )


def doubts_of(home, reading, switched_utc_ns=0, changes=()):
    progress = sweep_progress(home.log.readings.all(), reading.spot_id, home.log.circuits.all())
    return reading_doubts(reading, progress, home.log.circuits.all(), switched_utc_ns, changes)


def test_a_sound_sweep_raises_no_doubt(home):
    for combination in plain_sweep(home.log.circuits.all()):
        assert doubts_of(home, home.read(combination, "bed")) == [], combination.label
    for on in (["Bedroom", "Light"], ["Bedroom", "Study", "Hall"]):
        combination = combination_of([home.ids[name] for name in on], home.log.circuits.all())
        assert doubts_of(home, home.read(combination, "bed")) == []


@pytest.mark.parametrize(
    ("factor", "text"),
    [(20.0, "ten times every other"), (0.02, "a tenth of every other"), (3.0, ""), (0.3, "")],
)
def test_a_reading_in_another_unit_is_odd_among_three_others(log, factor, text):
    circuits = {"A": 1.5, "B": 1.8, "C": 2.1, "D": 1.6}
    home = Home(log, {"bed": circuits}, {name: (0,) for name in circuits})
    for combination in plain_sweep(log.circuits.all())[1:4]:
        home.read(combination, "bed")
    combination = plain_sweep(log.circuits.all())[4]
    true = home.volts(combination.live, "bed")
    doubts = doubts_of(home, home.read(combination, "bed", (factor - 1) * true))
    assert [text in doubt for doubt in doubts] == ([True] if text else [])


def test_nothing_is_odd_among_fewer(home):
    first, second, third = plain_sweep(home.log.circuits.all())[:3]
    home.read(first, "bed")
    home.read(second, "bed")
    assert doubts_of(home, home.read(third, "bed", shift_volts=9.0)) == []


@pytest.mark.parametrize(("factor", "text"), [(10.0, "more than all circuits"), (0.1, "")])
def test_what_circuits_give_together_has_a_limit_above(home, factor, text):
    *before, everything = plain_sweep(home.log.circuits.all())
    for combination in before:
        home.read(combination, "bed")
    true = home.volts(everything.live, "bed")
    doubts = " ".join(doubts_of(home, home.read(everything, "bed", (factor - 1) * true)))
    assert (text in doubts) if text else doubts == "", "on two legs as little as nothing may be left"


def test_what_circuits_give_together_has_a_limit_below_where_one_is_larger_than_all_others(log):
    home = Home(log, {"bed": {"Bedroom": 2.0, "Light": 0.1, "Hall": 0.05}}, LEGS)
    *before, everything = plain_sweep(log.circuits.all())
    for combination in before:
        home.read(combination, "bed")
    true = home.volts(everything.live, "bed")
    (doubt,) = doubts_of(home, home.read(everything, "bed", -0.9 * true))
    assert "less than the circuits that are on can give together" in doubt


def test_what_lies_beyond_a_limit_by_chance_of_the_posture_is_no_doubt(home):
    *before, everything = plain_sweep(home.log.circuits.all())
    for combination in before:
        home.read(combination, "bed")
    true = home.volts(everything.live, "bed")
    assert doubts_of(home, home.read(everything, "bed", 0.05 * true)) == []


@pytest.mark.parametrize(
    ("after_s", "doubted"), [(-5.0, False), (0.5, False), (4.0, True), (20.0, True), (31.0, False)]
)
def test_a_step_after_everything_was_reported_as_switched_is_asked_about(home, after_s, doubted):
    switched_ns = 1_000 * NS_PER_S
    reading = home.read(plain_sweep(home.log.circuits.all())[0], "bed")
    reading = replace(reading, end_utc_ns=switched_ns + 30 * NS_PER_S)
    change = LevelChange(switched_ns + round(after_s * NS_PER_S), 0.35)
    doubts = doubts_of(home, reading, switched_ns, [change])
    assert [("+0.35 V" in doubt and "after everything was reported" in doubt) for doubt in doubts] == [
        True
    ] * doubted


def test_a_reading_of_which_nobody_knows_what_was_live_is_not_judged(home):
    reading = home.log.readings.enter(home.spots["bed"].id, "lamps on", 9.0, 0.002)
    assert doubts_of(home, reading) == []
