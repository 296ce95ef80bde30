"""Steps that the readings beside them explain need no name."""

from __future__ import annotations

import pytest

from logger.clock import NS_PER_S
from logger.settling.events import Motion
from logger.sweep.step_causes import (
    AFTER_STATED_S,
    BEFORE_STATED_S,
    StatedAt,
    StepCause,
    TakenValue,
    may_be_of_circuits,
    spot_gone_to,
    stated_times,
    step_cause,
)
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, StatedMoment

WALK = Motion(28.0, 32.0, 5.0, 33.0)
EARLY_WALK, OLD_WALK = Motion(21.0, 26.0, 5.0, 27.0), Motion(2.0, 8.0, 5.0, 9.0)
BED, DESK = 1, 2


def value(start_s: float, place: int | None, condition: str = "", *live: int) -> TakenValue:
    """A value of 10 s; without `live` nobody stated one by one what was on."""
    return TakenValue(1, start_s, start_s + 10.0, place, condition, frozenset(live) if live else None)


@pytest.mark.parametrize(
    ("before", "after", "motions", "cause"),
    [
        (value(10, BED, EVERYTHING_ON), value(33, DESK, EVERYTHING_ON), [WALK], StepCause.SPOT),
        (value(10, BED, EVERYTHING_ON), value(33, DESK, EVERYTHING_ON), [], None),
        (value(10, BED, EVERYTHING_ON), value(33, BED, EVERYTHING_ON), [WALK], None),
        (value(10, BED, EVERYTHING_ON), value(33, BED, EVERYTHING_OFF), [], StepCause.SWEEP),
        # the second one was read as of the desk, and moved to the bed afterwards
        (value(10, BED, EVERYTHING_ON), value(33, BED, EVERYTHING_OFF), [WALK], StepCause.MOVED_OR_SWEEP),
        (
            value(10, BED, EVERYTHING_ON),
            value(33, DESK, EVERYTHING_OFF),
            [EARLY_WALK],
            StepCause.MOVED_OR_SWEEP,
        ),
        (value(10, BED, EVERYTHING_ON), value(33, DESK, EVERYTHING_OFF), [OLD_WALK], StepCause.SWEEP),
        (value(10, BED, "some off", 1, 2), value(33, BED, "some off", 1), [], StepCause.SWEEP),
        (value(10, BED, EVERYTHING_ON, 1), value(33, BED, EVERYTHING_ON), [], None),
        (value(10, BED, EVERYTHING_ON), value(33, DESK, EVERYTHING_OFF), [], StepCause.SWEEP),
        (value(10, BED, EVERYTHING_ON), value(40, DESK, EVERYTHING_OFF), [], None),
        (value(10, None), value(33, BED, EVERYTHING_ON), [], None),
        (value(10, None), value(33, BED, EVERYTHING_ON), [WALK], StepCause.SPOT),
        (value(10, None), value(33, None), [], StepCause.CHECK),
    ],
)
def test_the_cause_of_a_step_lies_in_the_values_beside_it(
    before: TakenValue, after: TakenValue, motions: list[Motion], cause: StepCause | None
) -> None:
    assert step_cause(31.0, 0.5, [before, after], motions) is cause


def test_without_a_value_on_both_sides_nothing_is_known() -> None:
    before, after = value(10, BED, EVERYTHING_ON), value(33, BED, EVERYTHING_OFF)
    assert step_cause(31.0, 0.5, [before], []) is None and step_cause(31.0, 0.5, [after], []) is None
    assert step_cause(15.0, 0.5, [before, after], []) is None, "it lies within a value"


def test_on_the_way_to_the_next_spot_before_anything_is_read_there() -> None:
    bed = value(10, BED, EVERYTHING_ON)
    assert spot_gone_to(31.0, [bed], [WALK], DESK) == DESK
    assert spot_gone_to(31.0, [bed], [WALK], BED) is None, "nobody has gone anywhere"
    assert spot_gone_to(31.0, [bed], [], DESK) is None, "a lamp, while the body lay still"
    assert spot_gone_to(31.0, [], [WALK], DESK) is None and spot_gone_to(31.0, [bed], [WALK], None) is None
    assert spot_gone_to(31.0, [bed, value(33, DESK)], [WALK], DESK) is None, "the readings show it"


@pytest.mark.parametrize(
    ("stated_s", "values", "cause"),
    [
        (31.0 + 2.0, [], StepCause.STATED),
        (31.0 + BEFORE_STATED_S, [], StepCause.STATED),  # who comes back from the panel states it then
        (31.0 + BEFORE_STATED_S + 1.0, [], None),
        (31.0 - AFTER_STATED_S, [], StepCause.STATED),  # it was entered while somebody flipped it
        (31.0 - 5.0, [], None),  # what is on was entered, then a lamp was pulled
        (31.0 - 44.0, [], None),
        (31.0 - 2.0, [value(20, BED, EVERYTHING_ON)], None),  # read as stated; a lamp was switched then
        (31.0 + 20.0, [value(35, BED, EVERYTHING_ON)], StepCause.STATED),  # read too early, and stated late
    ],
)
def test_a_step_before_a_statement_of_what_is_on_or_with_it_is_that_switching(
    stated_s: float, values: list[TakenValue], cause: StepCause | None
) -> None:
    assert step_cause(31.0, 0.5, values, [], [StatedAt(stated_s, "kettle on")]) is cause


@pytest.mark.parametrize(
    ("condition", "change_volts", "cause"),
    [
        (EVERYTHING_ON, 0.5, StepCause.STATED),
        (EVERYTHING_ON, -0.5, None),  # something was taken away
        (EVERYTHING_OFF, -0.5, StepCause.STATED),
        (EVERYTHING_OFF, 0.5, None),
        ("only Kitchen on", 0.5, StepCause.STATED),
        ("only Kitchen on", -0.5, StepCause.STATED),
    ],
)
def test_a_statement_explains_only_what_it_can(
    condition: str, change_volts: float, cause: StepCause | None
) -> None:
    stated = StatedAt(40.0, condition)
    assert step_cause(31.0, change_volts, [], [], [stated]) is cause
    assert step_cause(31.0, change_volts, [], [], [stated._replace(repeats=True)]) is None
    assert may_be_of_circuits(31.0, [], [stated]), "it may be of a breaker all the same: no cord is offered"


def test_a_cord_is_offered_after_everything_on_was_stated_and_after_nothing_else() -> None:
    for condition, is_of_circuits in ((EVERYTHING_ON, False), (EVERYTHING_OFF, True), ("kettle on", True)):
        stated = [StatedAt(40.0, condition)]
        assert may_be_of_circuits(45.0, [], stated) is is_of_circuits
        assert step_cause(45.0, 0.5, [], [], stated) is None
        assert may_be_of_circuits(42.0, [], stated) and not may_be_of_circuits(101.0, [], stated)


def test_what_was_stated_already_is_stated_again() -> None:
    moments = [
        StatedMoment(condition, run_id, at_s * NS_PER_S)
        for run_id, at_s, condition in (
            (1, 10, EVERYTHING_ON), (1, 50, EVERYTHING_ON), (2, 60, EVERYTHING_ON), (2, 70, EVERYTHING_OFF),
            (2, 80, ""), (2, 90, EVERYTHING_OFF),
        )
    ]  # fmt: skip
    assert stated_times(moments, [], 1, 0) == [
        StatedAt(10.0, EVERYTHING_ON), StatedAt(50.0, EVERYTHING_ON, repeats=True),
    ]  # fmt: skip
    assert stated_times(moments, [], 2, 0) == [
        StatedAt(60.0, EVERYTHING_ON, repeats=True), StatedAt(70.0, EVERYTHING_OFF), StatedAt(90.0, EVERYTHING_OFF),
    ]  # fmt: skip


def test_circuits_are_switched_from_a_reading_of_the_sweep_and_between_two_with_other_things_on() -> None:
    on, off, swept = (
        value(10, BED, EVERYTHING_ON), value(120, DESK, EVERYTHING_OFF), value(10, BED, "only one on", 1),
    )  # fmt: skip
    assert may_be_of_circuits(31.0, [on, off]) and may_be_of_circuits(31.0, [swept])
    assert not may_be_of_circuits(31.0, [on, value(120, DESK, EVERYTHING_ON)])
    assert not may_be_of_circuits(31.0, [on]) and not may_be_of_circuits(31.0, [])
    assert not may_be_of_circuits(31.0, [swept, value(20, BED, EVERYTHING_ON)]), "what is on was read since"
