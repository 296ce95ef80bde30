"""What speaks against a statement of what is on: a value that is another one than before, and a step since then."""

from __future__ import annotations

from dataclasses import replace

import pytest

from logger.clock import NS_PER_S
from logger.metrology.context import Context
from logger.metrology.setup import Setup
from logger.visit import Reading, VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, STILL_AFTER_STATEMENT_S, Statement
from logger.visit.results.condition_doubt import Level, UnexplainedStep, condition_doubt

SHOWN_UTC_NS = 1_000 + round(STILL_AFTER_STATEMENT_S * NS_PER_S)
"""By then what was switched for the statement has shown."""

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
    step = UnexplainedStep(SHOWN_UTC_NS + 500, 0.06, 1.85)
    found = condition_doubt(STATED, level, [reading], [step], HERE)
    assert found.startswith("The value went from 0.06 V to 1.85 V") and EVERYTHING_OFF in found
    unseen = condition_doubt(STATED, level, [reading], [replace(step, unseen_s=16.2)], HERE)
    assert unseen == (
        f"The value went from 0.06 V to 1.85 V while no values came (16 s), after “{EVERYTHING_OFF}” was entered."
    ), "that it went at once is not known"
    assert condition_doubt(STATED, level, [], [replace(step, utc_ns=900)], HERE) == "", (
        "before it was entered"
    )
    small = replace(step, before_volts=1.7)
    assert condition_doubt(STATED, level, [], [small], HERE) == "", "things of the home switch by themselves"
    assert condition_doubt(Statement(), level, [reading], [step], HERE) == "", "nothing is stated"


def test_a_step_that_the_statement_is_about_speaks_not_against_it(reading: Reading) -> None:
    """Somebody states what is switched and switches it; the value that follows is then taken."""
    level = Level(1.85, 0.005, 500)
    with_it, later = (UnexplainedStep(SHOWN_UTC_NS + t, 0.06, 1.85) for t in (-1_000_000_000, 2_000_000_000))
    assert condition_doubt(STATED, level, [], [with_it], HERE) == ""
    assert condition_doubt(STATED, level, [], [later], HERE)
    taken = replace(reading, volts=1.85, end_utc_ns=later.utc_ns + 1)
    assert condition_doubt(STATED, level, [taken], [later], HERE) == "", "it was taken after the step"
    assert condition_doubt(STATED, level, [replace(taken, void_reason="slipped")], [later], HERE)
    assert condition_doubt(STATED, level, [taken], [replace(later, utc_ns=later.utc_ns + 2)], HERE)
