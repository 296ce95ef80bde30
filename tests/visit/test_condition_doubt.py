"""What speaks against a statement of what is on: a value that is another one than before, and a step since then."""

from __future__ import annotations

from dataclasses import replace

import pytest

from logger.metrology.context import Context
from logger.metrology.setup import Setup
from logger.visit import Reading, VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, Statement
from logger.visit.results.condition_doubt import Level, UnexplainedStep, condition_doubt

STATED = Statement(EVERYTHING_OFF, 1_000)
HERE = Context(Setup(), {})


@pytest.fixture
def reading(log: VisitLog) -> Reading:
    """0.06 V with everything off."""
    return replace(log.readings.enter(log.spots.add("Bed").id, EVERYTHING_OFF, 0.06, 0.005), context=None)


@pytest.mark.parametrize(
    ("volts", "since_utc_ns", "is_doubted"),
    [
        (1.85, 2_000, True),
        (1.85, 500, False),  # it was there when the statement was made: the user has looked
        (0.08, 2_000, False),  # another posture
        (0.005, 2_000, True),
    ],
)
def test_a_value_against_the_reading_of_the_same_spot(
    reading: Reading, volts: float, since_utc_ns: int, is_doubted: bool
) -> None:
    found = condition_doubt(STATED, Level(volts, 0.005, since_utc_ns), [reading], [], HERE)
    assert bool(found) is is_doubted
    void = replace(reading, void_reason="slipped")
    assert condition_doubt(STATED, Level(volts, 0.005, since_utc_ns), [void], [], HERE) == ""


def test_a_step_since_the_statement(reading: Reading) -> None:
    level = Level(1.85, 0.005, 500)
    step = UnexplainedStep(1_500, 0.06, 1.85)
    found = condition_doubt(STATED, level, [reading], [step], HERE)
    assert found.startswith("The value went from 0.06 V to 1.85 V") and EVERYTHING_OFF in found
    assert condition_doubt(STATED, level, [], [replace(step, utc_ns=900)], HERE) == "", (
        "before it was entered"
    )
    small = replace(step, before_volts=1.7)
    assert condition_doubt(STATED, level, [], [small], HERE) == "", "things of the home switch by themselves"
    assert condition_doubt(Statement(), level, [reading], [step], HERE) == "", "nothing is stated"
