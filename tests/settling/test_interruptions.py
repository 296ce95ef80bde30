"""Gaps and overloads: a level that differs after one is a step within it; a level that does not is none."""

from __future__ import annotations

import math
import random

import pytest

from logger.settling.detector import Detector
from logger.settling.events import Event, Gap, Motion, Overload, Settled, State, Step
from logger.settling.limits import LONGEST_BRIDGED_S, UNSEEN_POSTURE_SHARE
from logger.settling.replay import replay

RATE_HZ = 2.5
BEFORE_S, AFTER_S = 20.0, 30.0


def interrupted(
    before: float,
    after: float,
    length_s: float,
    *,
    overload: bool = False,
    noise_volts: float = 0.003,
    correlation: float = 0.0,
    seed: int = 1,
) -> list[Event]:
    """Events of two levels with a gap or an overload of `length_s` between them, in counts of a millivolt."""
    draw, stray = random.Random(seed), 0.0
    times_s, volts = [], []
    for i in range(round((BEFORE_S + length_s + AFTER_S) * RATE_HZ)):
        time_s = i / RATE_HZ
        stray = correlation * stray + math.sqrt(1 - correlation**2) * draw.gauss(0, noise_volts)
        level = before if time_s < BEFORE_S else after
        value = round(level + stray, 3)
        if BEFORE_S <= time_s < BEFORE_S + length_s:
            if not overload:
                continue
            value = math.inf
        times_s.append(time_s)
        volts.append(value)
    return replay(times_s, volts)


def steps(events: list[Event]) -> list[Step]:
    return [event for event in events if isinstance(event, Step)]


@pytest.mark.parametrize("overload", [False, True])
@pytest.mark.parametrize("length_s", [4.0, 12.0, 55.0])
@pytest.mark.parametrize(("before", "after"), [(0.4, 0.9), (0.9, 0.4), (0.30, 0.36)])
def test_a_level_that_differs_after_an_interruption_is_a_step_in_its_middle(
    before: float, after: float, length_s: float, overload: bool
) -> None:
    events = interrupted(before, after, length_s, overload=overload)
    (step,) = steps(events)
    (hole,) = [event for event in events if isinstance(event, Gap | Overload)]
    assert step.time_s == pytest.approx((hole.start_s + hole.end_s) / 2)
    assert (step.before_volts, step.after_volts) == pytest.approx((before, after), abs=5 * step.u_volts)
    spans = [event for event in events if isinstance(event, Settled)]
    assert len(spans) == 2
    assert spans[0].end_s <= hole.start_s and spans[1].start_s >= hole.end_s
    assert not any(isinstance(event, Motion) for event in events)


@pytest.mark.parametrize("overload", [False, True])
def test_after_more_than_a_minute_levels_are_not_compared(overload: bool) -> None:
    assert not steps(interrupted(0.4, 0.9, LONGEST_BRIDGED_S + 5.0, overload=overload))


@pytest.mark.parametrize("correlation", [0.0, 0.7, 0.9])
@pytest.mark.parametrize("overload", [False, True])
def test_the_same_level_after_an_interruption_is_no_step_whatever_the_noise(
    correlation: float, overload: bool
) -> None:
    for seed in range(40):
        events = interrupted(
            0.5, 0.5, 15.0, overload=overload, noise_volts=0.008, correlation=correlation, seed=seed
        )
        assert not steps(events)


def test_a_body_that_shifted_unseen_makes_no_step() -> None:
    for share in (-0.9, -0.5, 0.5, 0.9):
        assert not steps(interrupted(2.0, 2.0 * (1 + share * UNSEEN_POSTURE_SHARE), 15.0))


def test_two_gaps_without_a_level_between_them_make_one_step_at_the_change() -> None:
    times_s = [i / RATE_HZ for i in range(50)] + [30.0, 30.4, 30.8] + [40 + i / RATE_HZ for i in range(75)]
    for changes_s in (25.0, 35.0):
        (step,) = steps(replay(times_s, [0.5 if time_s < changes_s else 0.9 for time_s in times_s]))
        assert step.time_s == pytest.approx(changes_s, abs=3.0)


def test_a_step_soon_after_a_gap_has_its_own_time_and_a_drift_there_is_no_step() -> None:
    before = [i / RATE_HZ for i in range(50)]
    after = [30 + i / RATE_HZ for i in range(100)]
    switched = [0.5 if time_s < 32 else 0.9 for time_s in after]
    (step,) = steps(replay(before + after, [0.5] * 50 + switched))
    assert step.time_s == pytest.approx(32, abs=0.5)
    drifts = [round(min(0.5 + 0.02 * (time_s - 30), 0.9), 3) for time_s in after]
    assert not steps(replay(before + after, [0.5] * 50 + drifts))


def test_a_movement_that_ran_into_a_gap_ends_with_it_and_the_step_is_in_the_gap() -> None:
    draw = random.Random(2)
    before = [i / RATE_HZ for i in range(65)]
    moving = [0.5 + (draw.uniform(0.2, 0.6) if time_s > 20 else draw.gauss(0, 0.002)) for time_s in before]
    after = [36 + i / RATE_HZ for i in range(75)]
    events = replay(before + after, [round(v, 3) for v in [*moving, *(0.9 for _ in after)]])
    (motion,) = [event for event in events if isinstance(event, Motion)]
    (step,) = steps(events)
    assert motion.end_s <= before[-1]
    assert before[-1] < step.time_s < 36


def test_events_before_a_gap_are_final_when_it_ends() -> None:
    detector = Detector()
    for i in range(50):
        detector.feed(i / RATE_HZ, 0.5)
    assert [event.kind for event in detector.feed(40.0, 0.9)] == ["settled", "gap"]
    later = [event for i in range(1, 60) for event in detector.feed(40.0 + i / RATE_HZ, 0.9)]
    assert [event.kind for event in later] == ["step"]
    assert [event.kind for event in detector.finish()] == ["settled"]


@pytest.mark.parametrize("after_volts", [0.4, 0.9])
def test_a_lost_port_ends_the_span_however_soon_it_is_back_and_in_replay_alike(after_volts: float) -> None:
    draw = random.Random(1)
    times_s = [i / RATE_HZ + (i >= 60) for i in range(120)]
    volts = [round((0.4 if i < 60 else after_volts) + draw.gauss(0, 0.002), 3) for i in range(120)]
    detector, live = Detector(), []
    for i, sample in enumerate(zip(times_s, volts, strict=True)):
        if i == 60:
            detector.lose_port()
            assert detector.now.state is State.LOST
        live += detector.feed(*sample)
    live += detector.finish()
    (gap,) = [event for event in live if isinstance(event, Gap)]
    assert (gap.start_s, gap.end_s) == (times_s[59], times_s[60])
    assert not any(isinstance(e, Settled) and e.start_s < gap.end_s and e.end_s > gap.start_s for e in live)
    assert len([event for event in live if isinstance(event, Settled)]) == 2
    assert len(steps(live)) == (after_volts != 0.4)
    by_replay = replay(times_s, volts, port_lost_s=[times_s[59] + 0.3])
    assert by_replay == sorted(live, key=lambda event: event.known_at_s)
