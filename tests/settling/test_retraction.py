"""What a level proves to have been, on plain scenes: each principle that separates a movement from a level."""

from __future__ import annotations

import math
import random
from collections.abc import Callable

import pytest

from logger.settling.events import Event, Motion, Settled, Step
from logger.settling.replay import replay

RATE_HZ = 2.5


def scene(
    *pieces: tuple[float, Callable[[float], float]], noise_volts: float = 0.002, seed: int = 1
) -> list[Event]:
    """Events of pieces (length_s, volts at a time since the piece's start), in counts of a millivolt."""
    draw = random.Random(seed)
    volts = [
        round(shape(i / RATE_HZ) + draw.gauss(0, noise_volts), 3)
        for length_s, shape in pieces
        for i in range(round(length_s * RATE_HZ))
    ]
    return replay([i / RATE_HZ for i in range(len(volts))], volts)


def flat(volts: float) -> Callable[[float], float]:
    return lambda _: volts


def swing(volts: float, height: float, period_s: float) -> Callable[[float], float]:
    return lambda at_s: volts + height * math.sin(2 * math.pi * at_s / period_s)


def of_kind(events: list[Event], kind: type) -> list[Event]:
    return [event for event in events if isinstance(event, kind)]


def spans(events: list[Event]) -> list[Settled]:
    return [event for event in events if isinstance(event, Settled)]


@pytest.mark.parametrize(
    ("height", "period_s"), [(0.012, 4.0), (0.012, 6.0), (0.025, 4.0), (0.025, 6.0), (0.025, 9.0)]
)
def test_a_slow_swing_from_the_first_sample_on_is_not_settled(height: float, period_s: float) -> None:
    events = scene((16, swing(0.5, height, period_s)), (30, flat(0.46)))
    assert all(span.start_s > 14 for span in spans(events))
    assert not of_kind(events, Step)


def test_a_meter_that_is_as_noisy_from_the_first_sample_on_is_settled() -> None:
    known_s = []
    for seed in range(20):
        (span,) = spans(scene((40, flat(0.5)), noise_volts=0.02, seed=seed))
        assert abs(span.volts - 0.5) < 0.012
        known_s.append(span.known_at_s)
    assert sorted(known_s)[10] <= 10 and max(known_s) <= 25


def first_order(keep: float, noise_volts: float, seed: int) -> list[float]:
    draw, value, found = random.Random(seed), 0.0, []
    for _ in range(150):
        value = keep * value + math.sqrt(1 - keep * keep) * draw.gauss(0, noise_volts)
        found.append(round(0.5 + value, 4))
    return found


@pytest.mark.parametrize("keep", [0.5, 0.8])
def test_noise_whose_neighbours_correlate_only_delays_the_first_level(keep: float) -> None:
    known_s = []
    for seed in range(20):
        volts = first_order(keep, 0.008, seed)
        found = spans(replay([i / RATE_HZ for i in range(len(volts))], volts))
        known_s.append(found[0].known_at_s if found else 99.0)
    assert sorted(known_s)[10] <= 14
    assert max(known_s) <= 45


def test_a_loud_first_level_is_withdrawn_when_the_meter_proves_quiet() -> None:
    draw = random.Random(3)
    rough = [round(0.55 + draw.gauss(0, 0.012), 3) for _ in range(30)]
    still = [round(0.50 + draw.gauss(0, 0.001), 3) for _ in range(75)]
    events = replay([i / RATE_HZ for i in range(105)], rough + still)
    assert [span.start_s >= 12.0 for span in spans(events)] == [True]
    assert not of_kind(events, Step)


def test_a_movement_that_goes_over_into_stillness_is_cut_off_the_first_span() -> None:
    events = scene((4, swing(0.52, 0.02, 2.7)), (40, flat(0.5)), noise_volts=0.001)
    (span,) = spans(events)
    assert 3.0 <= span.start_s <= 6.0


def hump(volts: float, height: float, rise_s: float, length_s: float) -> Callable[[float], float]:
    """Up in `rise_s`, level, and down again in the same time."""
    return lambda at_s: volts + height * min(1.0, at_s / rise_s, (length_s - at_s) / rise_s)


def test_a_held_arm_is_a_movement_however_level_its_top() -> None:
    events = scene((30, flat(0.5)), (16, hump(0.5, 0.1, 3.0, 16)), (30, flat(0.5)))
    assert not of_kind(events, Step)
    (motion,) = of_kind(events, Motion)
    assert isinstance(motion, Motion)
    assert motion.start_s == pytest.approx(30, abs=2) and motion.end_s == pytest.approx(46, abs=2)
    assert all(span.end_s <= 31 or span.start_s >= 44 for span in spans(events))


def test_a_lamp_that_is_on_for_a_quarter_of_a_minute_is_two_steps() -> None:
    events = scene((30, flat(0.5)), (15, flat(0.6)), (30, flat(0.5)))
    times_s = [event.time_s for event in events if isinstance(event, Step)]
    assert times_s == pytest.approx([30, 45], abs=0.5)
    assert not of_kind(events, Motion)


def test_a_crisp_level_that_trembles_was_a_movement() -> None:
    draw = random.Random(5)
    shape = lambda _: 0.6 + draw.gauss(0, 0.009)  # noqa: E731
    events = scene((40, flat(0.5)), (15, shape), (30, flat(0.5)))
    assert not of_kind(events, Step) and len(of_kind(events, Motion)) == 1


def test_a_higher_level_that_is_left_for_a_third_one_is_kept() -> None:
    events = scene((30, flat(0.5)), (15, hump(0.5, 0.1, 3.0, 99)), (30, flat(0.56)))
    assert any(abs(span.volts - 0.6) < 0.01 for span in spans(events))


def test_steps_up_and_down_within_a_moment_returned() -> None:
    events = scene((30, flat(0.5)), (7, flat(0.6)), (30, flat(0.5)))
    assert [event.kind for event in events] == ["settled", "motion", "settled"]


@pytest.mark.parametrize("averaging_s", [0.3, 0.6])
@pytest.mark.parametrize("on_s", [12, 15, 25])
@pytest.mark.parametrize("height", [0.1, 1.0])
def test_a_lamp_that_was_on_for_a_while_is_two_steps_however_high_it_was(
    averaging_s: float, on_s: float, height: float
) -> None:
    """The higher a step, the longer the end of a meter's averaging; its edges are as crisp for all that."""

    def averaged(start: float, end: float) -> Callable[[float], float]:
        return lambda at_s: end + (start - end) * math.exp(-at_s / averaging_s)

    lit = 0.8 + height
    events = scene((30, flat(0.8)), (on_s, averaged(0.8, lit)), (40, averaged(lit, 0.8)))
    up, down = of_kind(events, Step)
    assert up.after_volts == pytest.approx(lit, abs=0.01) and down.after_volts == pytest.approx(0.8, abs=0.01)
    assert not of_kind(events, Motion)


def test_jumps_without_rest_below_the_level_they_lead_to_are_a_movement_and_one_step() -> None:
    events = scene(
        (30, flat(0.1)),
        (1.2, flat(0.3)),
        (1.2, flat(0.15)),
        (1.2, flat(0.4)),
        (30, flat(0.9)),
        noise_volts=0.001,
    )
    (step,) = of_kind(events, Step)
    assert isinstance(step, Step)
    assert step.after_volts - step.before_volts == pytest.approx(0.8, abs=0.01)
    assert len(of_kind(events, Motion)) == 1


@pytest.mark.parametrize("seed", range(6))
def test_a_slow_ramp_is_called_settled_for_seconds_at_most(seed: int) -> None:
    slope = 0.001
    events = scene(
        (30, flat(0.5)), (60, lambda at_s: 0.5 + slope * at_s), (40, flat(0.56)), noise_volts=0.003, seed=seed
    )
    inside_s = sum(max(0.0, min(span.end_s, 90) - max(span.start_s, 30)) for span in spans(events))
    assert inside_s <= 20


def test_a_small_step_in_strong_noise_is_inside_few_spans() -> None:
    inside = 0
    for seed in range(30):
        events = scene((50, flat(0.5)), (50, flat(0.53)), noise_volts=0.02, seed=seed)
        inside += any(span.start_s + 3 < 50 < span.end_s - 3 for span in spans(events))
    assert inside <= 3


@pytest.mark.parametrize("rate_hz", [1.0, 2.5, 10.0, 50.0])
def test_a_span_has_the_number_of_samples_it_rests_on(rate_hz: float) -> None:
    draw = random.Random(1)
    times_s = [i / rate_hz for i in range(round(60 * rate_hz))]
    (span,) = spans(replay(times_s, [round(draw.gauss(0.5, 0.002), 4) for _ in times_s]))
    assert span.samples == pytest.approx(len(times_s), rel=0.01)
