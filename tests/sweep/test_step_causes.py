"""Steps that the readings beside them explain need no name."""

from __future__ import annotations

import pytest

from logger.settling.events import Motion
from logger.sweep.step_causes import StepCause, TakenValue, step_cause
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON

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
