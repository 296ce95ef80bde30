"""Steps that the readings beside them explain need no name."""

from __future__ import annotations

import pytest

from logger.clock import NS_PER_S
from logger.settling.events import Motion
from logger.sweep.step_causes import (
    AFTER_EVERYTHING_ON_S,
    STATED_NEAR_S,
    StatedAt,
    StepCause,
    TakenValue,
    may_be_of_circuits,
    stated_times_s,
    step_cause,
)
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, StatedMoment

WALK = Motion(28.0, 32.0, 5.0, 33.0)
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
    assert step_cause(31.0, [before, after], motions) is cause


def test_without_a_value_on_both_sides_nothing_is_known() -> None:
    before, after = value(10, BED, EVERYTHING_ON), value(33, BED, EVERYTHING_OFF)
    assert step_cause(31.0, [before], []) is None and step_cause(31.0, [after], []) is None
    assert step_cause(15.0, [before, after], []) is None, "it lies within a value"


@pytest.mark.parametrize(
    ("stated_s", "values", "cause"),
    [
        (31.0 + 2.0, [], StepCause.STATED),
        (31.0 + STATED_NEAR_S, [], StepCause.STATED),  # who comes back from the panel states it then
        (31.0 - 20.0, [], StepCause.STATED),  # stated before it was switched
        (31.0 + STATED_NEAR_S + 1.0, [], None),
        (31.0 - STATED_NEAR_S - 1.0, [], None),
        (31.0 - 20.0, [value(13, BED, EVERYTHING_ON)], None),  # read as stated; a lamp was switched then
        (31.0 + 20.0, [value(35, BED, EVERYTHING_ON)], StepCause.STATED),  # read too early, and stated late
    ],
)
def test_a_step_about_a_statement_of_what_is_on_is_that_switching(
    stated_s: float, values: list[TakenValue], cause: StepCause | None
) -> None:
    assert step_cause(31.0, values, [], [StatedAt(stated_s)]) is cause


def test_after_everything_on_was_stated_a_lamp_is_switched_and_before_it_the_breakers() -> None:
    moments = [
        StatedMoment(EVERYTHING_ON, 1, 40 * NS_PER_S),
        StatedMoment("everything off", 2, 40 * NS_PER_S),
    ]
    on, off = (stated_times_s(moments, [], run_id, 0) for run_id in (1, 2))
    assert on == [StatedAt(40.0, AFTER_EVERYTHING_ON_S)] and off == [StatedAt(40.0)]
    assert step_cause(45.0, [], [], on) is None and step_cause(45.0, [], [], off) is StepCause.STATED
    assert step_cause(35.0, [], [], on) is StepCause.STATED


def test_off_and_on_again_about_one_statement_are_both_of_it() -> None:
    assert {step_cause(at_s, [], [], [StatedAt(40.0)]) for at_s in (31.0, 55.0)} == {StepCause.STATED}


def test_circuits_are_switched_from_a_reading_of_the_sweep_and_between_two_with_other_things_on() -> None:
    on, off, swept = (
        value(10, BED, EVERYTHING_ON), value(120, DESK, EVERYTHING_OFF), value(10, BED, "only one on", 1),
    )  # fmt: skip
    assert may_be_of_circuits(31.0, [on, off]) and may_be_of_circuits(31.0, [swept])
    assert not may_be_of_circuits(31.0, [on, value(120, DESK, EVERYTHING_ON)])
    assert not may_be_of_circuits(31.0, [on]) and not may_be_of_circuits(31.0, [])
    assert not may_be_of_circuits(31.0, [swept, value(20, BED, EVERYTHING_ON)]), "what is on was read since"
