"""Which readings show how well a posture repeats."""

from __future__ import annotations

import pytest

from logger.clock import NS_PER_S
from logger.metrology.posture import DEFAULT_REPEATABILITY
from logger.metrology.setup import Setup
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, HOLDS_S, OUTSIDE_WALK
from logger.visit.results.posture_repeats import (
    WhyNoRepeat,
    repeat_groups,
    repeatability_on_site,
    uncounted_repeats,
)


@pytest.fixture
def enter(log):
    """Enters values at spots, made at first use; each is 'spot', volts and, where it matters, a condition."""
    log.setup.set(Setup(reference="earth rod", on_battery=True, link_isolated=True))
    spots = {}

    def enter_one(name, volts, condition=EVERYTHING_ON, u_volts=0.001):
        if name not in spots:
            spots[name] = log.spots.add(name).id
        return log.readings.enter(spots[name], condition, volts, u_volts)

    return enter_one


def groups(log):
    return [[reading.volts for reading in group] for group in repeat_groups(log.readings.all())]


def test_a_spot_that_was_left_and_read_again_counts_by_itself(log, enter):
    for name, volts in (("Bed", 0.5), ("Desk", 0.8), ("Bed", 0.55), ("Desk", 0.8)):
        enter(name, volts)
    assert groups(log) == [[0.5, 0.55], [0.8, 0.8]]
    assert repeatability_on_site(log.readings.all()).repeats == 2


def test_nothing_was_left_where_only_something_was_switched(log, enter):
    for condition in (EVERYTHING_ON, EVERYTHING_OFF, EVERYTHING_ON, EVERYTHING_OFF):
        enter("Bed", 0.5, condition)
    assert groups(log) == []
    left_out = uncounted_repeats(log.readings.all())
    assert [why for why, _ in left_out] == [WhyNoRepeat.SAME_POSTURE] * 2
    assert [[reading.id for reading in group] for _, group in left_out] == [[1, 3], [2, 4]]


def test_what_is_as_low_as_its_noise_is_left_out_with_that_as_the_reason(log, enter):
    for name in ("Bed", "Desk", "Bed", "Desk"):
        enter(name, 0.02 if name == "Bed" else 0.8)
    assert [(why, len(group)) for why, group in uncounted_repeats(log.readings.all())] == [
        (WhyNoRepeat.NOISE, 2)
    ]


def test_the_same_value_typed_twice_is_no_repeat(log, enter):
    enter("Bed", 0.5)
    enter("Bed", 0.5)
    assert repeatability_on_site(log.readings.all()) == DEFAULT_REPEATABILITY


@pytest.mark.parametrize(("away_s", "counts"), [(2.0, False), (20.0, True)])
def test_a_value_settled_again_after_a_break_is_a_repeat(log, recording, away_s, counts):
    log.setup.set(Setup(reference="earth rod", on_battery=True, link_isolated=True))
    bed = log.spots.add("Bed")
    recording.samples([0.5] * 50, u_volts=0.001)
    log.readings.take(bed.id, EVERYTHING_ON)
    recording.clock.advance_ns(round(away_s * NS_PER_S))
    recording.samples([0.55] * 50, u_volts=0.001)
    log.readings.take(bed.id, EVERYTHING_ON)
    assert bool(groups(log)) == counts


def test_voided_noisy_and_outdoor_readings_show_nothing(log, enter):
    for name, volts, condition, u_volts in (
        ("Bed", 0.5, EVERYTHING_ON, 0.1),
        ("Path", 0.5, OUTSIDE_WALK, 0.001),
        ("Desk", 0.8, EVERYTHING_ON, 0.001),
    ):
        enter(name, volts, condition, u_volts)
    mistaken = enter("Sofa", 0.7)
    for name, volts, condition in (
        ("Bed", 0.6, EVERYTHING_ON), ("Path", 0.6, OUTSIDE_WALK), ("Sofa", 0.9, EVERYTHING_ON),
    ):  # fmt: skip
        enter(name, volts, condition)
    log.readings.void(mistaken.id, "arm raised")
    assert groups(log) == []


@pytest.mark.parametrize("what", ["reference", "time"])
def test_another_reference_or_another_time_is_no_repeat(log, enter, clock, what):
    enter("Bed", 0.5)
    enter("Desk", 0.8)
    if what == "reference":
        log.setup.set(Setup(reference="building earth"))
    else:
        clock.advance_ns(round((HOLDS_S + 60) * NS_PER_S))
    enter("Bed", 0.6)
    enter("Desk", 0.9)
    assert groups(log) == []
