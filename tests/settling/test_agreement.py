"""No level where values take turns or lines are refused: no mean is settled that has no samples near it."""

from __future__ import annotations

import math
import random
from collections.abc import Callable

import pytest

from logger.settling.agreement import find_alternating_values
from logger.settling.detector import Detector
from logger.settling.events import Event, Gap, Settled, State
from logger.settling.limits import MIN_VISITS

LOW, HIGH, THIRD = 1.234, 5.678, 9.0

Pattern = Callable[[int, random.Random], float]

PATTERNS: dict[str, Pattern] = {
    "every second": lambda n, _: (LOW, HIGH)[n % 2],
    "2:1": lambda n, _: (LOW, LOW, HIGH)[n % 3],
    "2:2": lambda n, _: (LOW, LOW, HIGH, HIGH)[n % 4],
    "three": lambda n, _: (LOW, HIGH, THIRD)[n % 3],
    "a random mixture": lambda _, rng: rng.choice((LOW, HIGH)),
    "every 20th": lambda n, _: HIGH if n % 20 == 0 else LOW,
    "near to each other": lambda n, _: (LOW, LOW + 0.05)[n % 2],
    "one near zero": lambda n, _: (LOW, 0.05)[n % 2],
}


def run(pattern: Pattern, rate_hz: float, noise_volts: float, length_s: float = 30.0):
    """Returns the detector's settled values, live and final, and the states that it showed."""
    rng, detector, events = random.Random(1), Detector(), list[Event]()
    shown, states = list[float](), set[State]()
    for n in range(round(length_s * rate_hz)):
        volts = round(pattern(n, rng) + rng.gauss(0.0, noise_volts), 3)
        events += detector.feed(n / rate_hz, volts)
        now = detector.now
        states.add(now.state)
        # The first seconds of a slow meter are too few lines to see that values take turns.
        if now.state is State.SETTLED and now.samples >= 20 and now.volts is not None:
            shown.append(now.volts)
    events += detector.finish()
    return shown + [event.volts for event in events if isinstance(event, Settled)], states


@pytest.mark.parametrize("noise_volts", [0.0, 0.002])
@pytest.mark.parametrize("rate_hz", [1.0, 2.5, 5.0, 10.0, 33.0, 100.0])
@pytest.mark.parametrize("pattern", PATTERNS.values(), ids=PATTERNS.keys())
def test_no_mean_of_values_that_take_turns_is_settled(pattern, rate_hz, noise_volts):
    volts, _ = run(pattern, rate_hz, noise_volts)
    assert all(min(abs(one - value) for value in (LOW, LOW + 0.05, HIGH)) < 0.01 for one in volts)


@pytest.mark.parametrize("rate_hz", [10.0, 33.0, 100.0])
@pytest.mark.parametrize("name", ["every second", "2:1", "three", "a random mixture", "one near zero"])
def test_that_values_take_turns_is_a_state_with_the_values(name, rate_hz):
    _, states = run(PATTERNS[name], rate_hz, 0.002)
    assert State.ALTERNATING in states and State.SETTLED not in states


SENT = {
    "three in turn": lambda n: (LOW, HIGH, THIRD)[n % 3],
    "five in turn": lambda n: (LOW, 2.5, HIGH, 7.0, THIRD)[n % 5],
    "seven lines of each": lambda n: (LOW, HIGH)[n // 7 % 2],
    "twenty lines of each": lambda n: (LOW, HIGH)[n // 20 % 2],
}


@pytest.mark.parametrize("signal", SENT.values(), ids=SENT.keys())
def test_only_values_that_were_sent_are_named(signal):
    detector, named = Detector(), set[float]()
    sent = {signal(n) for n in range(600)}
    for n in range(600):
        detector.feed(n / 10, signal(n))
        assert detector.now.state is not State.SETTLED
        if n > 450:
            assert detector.disagreement is not None
            named |= set(detector.disagreement.values_volts)
    assert named == sent


def breathing(t_s: float, _: random.Random) -> float:
    return 1.2 * (1 + 0.015 * math.sin(2 * math.pi * 0.25 * t_s))


def toggling(_: float, rng: random.Random) -> float:
    return rng.choice((0.01, 0.02))


def beat(t_s: float, _: random.Random) -> float:
    return 1.2 + 0.01 * math.sin(2 * math.pi * 4.97 * t_s)


@pytest.mark.parametrize("decimals", [2, 4])
def test_noise_is_not_told_as_values_that_alternate(decimals: int) -> None:
    rng, detector, told = random.Random(7), Detector(), 0
    for n in range(1500):
        step = 0.3 * (n // 40 % 2) if n > 500 else 0.0
        detector.feed(n / 2, round(0.30 + step + rng.gauss(0.0, 0.02), decimals))
        told += detector.disagreement is not None or detector.now.state is State.ALTERNATING
    assert not told


@pytest.mark.parametrize("rate_hz", [1.0, 2.5, 10.0])
@pytest.mark.parametrize("noise_volts", [0.0, 0.01])
def test_two_meters_are_told_within_a_minute(rate_hz: float, noise_volts: float) -> None:
    detector, rng = Detector(), random.Random(8)
    for n in range(round(60 * rate_hz)):
        detector.feed(n / rate_hz, round((0.3, 0.6)[n % 2] + rng.gauss(0.0, noise_volts), 3))
    assert detector.disagreement is not None


def averaging(t_s: float, _: random.Random) -> float:
    return 0.4 if t_s < 20 else 2.4 - 2.0 * math.exp(-(t_s - 20) / 2.0)


@pytest.mark.parametrize("rate_hz", [1.0, 2.5, 10.0, 50.0])
@pytest.mark.parametrize("signal", [breathing, toggling, beat, averaging])
def test_what_is_no_alternation_settles(signal, rate_hz):
    rng, detector, alternating, settled = random.Random(2), Detector(), 0, 0
    noise_volts = 0.0 if signal is toggling else 0.002
    for n in range(round(60 * rate_hz)):
        volts = round(signal(n / rate_hz, rng) + rng.gauss(0.0, noise_volts), 3)
        detector.feed(n / rate_hz, volts)
        alternating += detector.disagreement is not None
        settled += detector.now.state is State.SETTLED
    # At 2.5 lines/s the beat is a swing of 33 s, and settles in part.
    assert settled > 30 * rate_hz and not alternating


def test_a_level_settles_again_soon_after_values_took_turns():
    detector, rng = Detector(), random.Random(3)
    for n in range(300):
        level = (LOW, HIGH)[n % 2] if n < 150 else LOW
        detector.feed(n / 10, round(level + rng.gauss(0.0, 0.002), 3))
        if n == 149:
            assert detector.now.state is State.ALTERNATING
            assert detector.disagreement.values_volts == pytest.approx((LOW, HIGH), abs=0.005)
    assert detector.now.state is State.SETTLED and detector.now.volts == pytest.approx(LOW, abs=0.003)
    assert detector.disagreement is None


@pytest.mark.parametrize("count_volts", [0.01, 0.1])
def test_neighbouring_counts_are_one_value(count_volts):
    samples = [round(count_volts * (3 + n % 2), 3) for n in range(40)]
    assert find_alternating_values(samples, 4.0, MIN_VISITS) == ()
    assert find_alternating_values(samples, 4.0, MIN_VISITS, count_volts) == ()


@pytest.mark.parametrize(("low", "high"), [(0.1, 0.2), (1.0, 1.1), (0.0, 0.1)])
def test_two_round_values_take_turns_where_the_last_digit_is_finer(low, high):
    """0.1000 and 0.2000 have one decimal as numbers, and four as they were sent."""
    detector = Detector()
    for n in range(250):
        detector.feed(n / 10, high if n % 2 else low, 0.0001)
        assert detector.now.state is not State.SETTLED
    assert detector.disagreement.values_volts == (low, high)


def refused_stream(seed: int, share: float, length_s: float = 40.0) -> set[State]:
    """A steady level at 10 lines/s of which a share of the lines was refused; returns the states after 12 s."""
    rng, detector, states = random.Random(seed), Detector(), set[State]()
    for n in range(round(length_s * 10)):
        if rng.random() < share:
            detector.refuse(n / 10, contradicts=True)
        else:
            detector.feed(n / 10, round(2.34 + rng.gauss(0.0, 0.002), 3))
        if n > 120:
            states.add(detector.now.state)
    return states


@pytest.mark.parametrize("seed", range(5))
def test_nothing_is_settled_while_a_large_part_of_the_lines_contradicts_it(seed):
    assert State.SETTLED not in refused_stream(seed, 0.4)
    assert refused_stream(seed, 0.03) == {State.SETTLED}


def other_function(every_s: float) -> tuple[list[Event], set[State]]:
    """AC volts for a while, then another function for as long, and so on; returns the events and the states."""
    detector, events, states = Detector(), list[Event](), set[State]()
    rng = random.Random(4)
    for n in range(400):
        if int(n / 10 / every_s) % 2:
            detector.refuse(n / 10)
        else:
            events += detector.feed(n / 10, round(LOW + rng.gauss(0.0, 0.002), 3))
        states.add(detector.now.state)
    return events + detector.finish(), states


def test_no_span_goes_on_through_a_stretch_of_another_function():
    events, states = other_function(1.0)
    assert not [event for event in events if isinstance(event, Settled)] and State.SETTLED not in states
    events, _ = other_function(10.0)
    spans = [event for event in events if isinstance(event, Settled)]
    assert len(spans) == 2 and all(span.end_s - span.start_s < 10 for span in spans)
    assert [event.kind for event in events if isinstance(event, Gap)] == ["gap"]


def test_a_display_that_sends_two_functions_line_by_line_settles_on_the_one_that_is_read():
    events, _ = other_function(0.1)
    (span,) = [event for event in events if isinstance(event, Settled)]
    assert span.end_s - span.start_s > 38
