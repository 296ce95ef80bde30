"""Whether the value rises along the path of the walk outside."""

from __future__ import annotations

from dataclasses import replace

import pytest

from logger.visit.results.contradicting_repeats import contradicting_repeats
from logger.visit.results.outside_walk import walk_meaning
from tests.support.walked import SETUP, walked

PATH = (1, 2, 3)
OPEN = "Whether the value rises along the path can be told from 3 points on."


@pytest.mark.parametrize(
    ("taken", "said"),
    [
        ([(1, 1.0), (2, 2.0), (3, 3.0)], "rising along the path, from 1.00 V"),
        ([(3, 3.0), (1, 1.0), (2, 2.0)], "rising along the path, from 1.00 V"),  # the path, not the order of taking
        ([(3, 1.0), (2, 2.0), (1, 3.0)], "falling along the path, from 3.00 V"),
        ([(1, 1.0), (2, 1.01), (3, 1.0)], "neither rising nor falling for sure"),
        ([(1, 1.0), (2, 0.99), (3, 3.0)], "rising along the path"),  # a little lower, which its ± explains
        ([(1, 1.0), (2, 4.0), (3, 2.0)], "both rises and falls along the path of 3 points"),
        ([(1, 2.0), (2, 0.5), (3, 2.0)], "both rises and falls along the path of 3 points"),
        ([(1, 1.0), (1, 1.01), (2, 2.0), (3, 3.0)], "rising along the path, from 1.01 V"),
        ([(1, 1.0), (3, 3.0)], f"2 points have a value that counts. {OPEN}"),
        ([(1, 1.0), (2, 1.5), (2, 2.5), (4, 9.0)], f"1 point has a value that counts. {OPEN}"),
    ],
)  # fmt: skip
def test_a_direction_needs_three_points_that_agree_on_it(taken: list[tuple[int, float]], said: str) -> None:
    walk = walked(taken, PATH)
    assert said in walk_meaning(walk.readings, walk.spots)


def test_a_point_whose_readings_contradict_each_other_does_not_count() -> None:
    walk = walked([(1, 1.0), (2, 2.0), (1, 3.0)], PATH)
    assert walk_meaning(walk.readings, walk.spots) == (
        "Outside walk, “1”: Its valid readings (1.00 V and 3.00 V) contradict each other, so that no ± holds. "
        "Something else changed between them, or one is mistaken: read again, and void the mistaken one. "
        f"Outside walk: 1 point has a value that counts. {OPEN}"
    )
    apart = [reading.id for same in contradicting_repeats(walk.readings) for reading in same]
    assert apart == [1, 3], "report, JSON and export say it of the readings too"
    walk.readings[0] = replace(walk.readings[0], void_reason="wrong point")
    assert walk_meaning(walk.readings, walk.spots).startswith("Outside walk: 2 points")


def test_points_that_cannot_be_compared_tell_no_direction() -> None:
    walk = walked([(1, 1.0), (2, 2.0)], PATH)
    other = walked([(3, 3.0)], PATH, replace(SETUP, reference="building earth"))
    assert walk_meaning([*walk.readings, *other.readings], walk.spots).startswith(
        "Outside walk: the values do not show in which direction the source lies. Not comparable: one was read against"
    )
    blind = [*walk.readings, replace(other.readings[0], context=None)]
    assert walk_meaning(blind, walk.spots).startswith("Outside walk: 2 points have a value that counts.")


def test_nothing_is_said_without_a_walk() -> None:
    assert walk_meaning([], walked([], PATH).spots) == ""
