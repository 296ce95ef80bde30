"""The measures themselves, on events written for the purpose; and the detector by them on a few traces."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import pytest

from logger.settling.events import Event, Motion, Settled, Step
from logger.settling.replay import replay
from tests.support.metrics import Score, bad_spans, score
from tests.support.traces import (
    Trace,
    TrueMotion,
    TrueSettled,
    TrueStep,
    Truth,
    quiet_night,
    recorded_style,
    varied,
)
from tests.support.traces_wandering import wandering

TRUTH = Truth(
    settled=[TrueSettled(0, 30, 0.5), TrueSettled(40, 70, 0.5), TrueSettled(70, 100, 0.9)],
    motions=[TrueMotion(30, 40, 1.0)],
    steps=[TrueStep(70, 0.5, 0.9, False)],
)
TIMES = [0.4 * i for i in range(250)]


def reading(time_s: float) -> float:
    """What the meter shows: the movement swings by half a volt."""
    if 30 <= time_s < 40:
        return 0.6 + 0.4 * (int(time_s) % 2)
    return 0.5 if time_s < 70 else 0.9


CLEAN = [reading(time_s) for time_s in TIMES]
TRACE = Trace(0, "made up", 2.5, 0.005, 0.001, TIMES, CLEAN, TRUTH, CLEAN)
FIRST = Settled(0, 30, 0.5, 0.001, 3.5, 75)
PERFECT: list[Event] = [
    FIRST,
    Motion(30.5, 39, 1.5, 44),
    Settled(40, 69.8, 0.501, 0.001, 44, 75),
    Step(70, 0.5, 0.9, 0.002, 74),
    Settled(70.2, 100, 0.9, 0.001, 74, 75),
]


def test_a_perfect_answer_has_perfect_figures() -> None:
    found = score(TRACE, PERFECT)
    figures = (found.settled_recall, found.motion_recall, found.motion_precision, found.step_recall)
    assert figures == (1, 1, 1, 1)
    assert (found.step_precision, found.step_size_right) == (1, 1)
    assert found.median_delay_s == pytest.approx(4.0)
    assert found.spans_with_motion == found.spans_with_step == 0


def test_silence_finds_nothing() -> None:
    found = score(TRACE, [])
    assert (found.settled_recall, found.motion_recall, found.step_recall) == (0, 0, 0)


def test_a_wrong_level_is_not_found() -> None:
    wrong = [dataclasses.replace(FIRST, volts=0.52), *PERFECT[1:]]
    assert score(TRACE, wrong).settled_recall == pytest.approx(2 / 3)


def test_a_span_over_motion_and_a_step_is_bad_twice() -> None:
    span = Settled(0, 100, 0.5, 0.001, 3.5, 250)
    assert [type(what) for _, what in bad_spans(TRACE, [span])] == [TrueMotion, TrueStep]


def test_motion_inside_a_span_counts_as_evident_only_where_it_shows() -> None:
    span = Settled(0, 60, 0.5, 0.001, 3.5, 150)
    assert score(TRACE, [span]).spans_with_evident_motion == 1
    level = [0.515 if 30 <= time_s < 40 else 0.5 for time_s in TIMES]
    held = dataclasses.replace(TRACE, clean_volts=level)
    found = score(held, [span, Step(30, 0.5, 0.55, 0.01, 40)])
    assert (found.spans_with_motion, found.spans_with_evident_motion) == (1, 0)
    assert (found.motions_like_levels, found.motions_like_levels_found) == (1, 0)
    assert found.false_steps_at_levels == 1


def test_inventions_cost_precision() -> None:
    invented = [*PERFECT, Step(15, 0.5, 0.6, 0.01, 20), Motion(50, 52, 0.7, 55)]
    found = score(TRACE, invented)
    assert (found.step_precision, found.motion_precision) == (0.5, 0.5)


def test_scores_add_up() -> None:
    both = score(TRACE, PERFECT) + score(TRACE, [])
    assert both.traces == 2 and both.settled_recall == 0.5


@pytest.mark.parametrize("family", [varied, recorded_style, wandering])
def test_the_same_seed_gives_the_same_trace(family: Callable[[int], Trace]) -> None:
    assert family(7) == family(7)
    assert family(7) != family(8)


@pytest.mark.parametrize("family", [varied, recorded_style, wandering])
def test_the_detector_keeps_near_its_measures(family: Callable[[int], Trace]) -> None:
    """A guard against getting worse, on tuning seeds; scripts/bench/detector.py reports on the others."""
    total = Score()
    for seed in range(300, 330):
        trace = family(seed)
        total += score(trace, replay(trace.times_s, trace.volts))
    assert total.settled_recall >= 0.985
    assert total.spans_with_step <= 1
    assert total.spans_with_motion <= 0.04 * total.spans
    assert total.spans_with_evident_motion <= 0.01 * total.spans
    assert total.motion_recall >= 0.93 and total.motion_precision >= 0.96
    assert total.step_recall >= 0.94 and total.step_precision >= 0.94


@pytest.mark.parametrize("noise", ["white", "slow", "breathing", "beat"])
def test_nothing_happens_in_quiet_hours(noise: str) -> None:
    trace = quiet_night(100, noise, hours=0.7)
    assert {event.kind for event in replay(trace.times_s, trace.volts)} == {"settled"}
