"""What the detector does with what no meter should send, and with meters that never change."""

from __future__ import annotations

import math
import pickle
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.settling.detector import Detector
from logger.settling.events import Event, Settled, State, span_s
from logger.settling.replay import replay

STEADY = [i * 0.4 for i in range(60)]


def only_span(events: list[Event]) -> Settled:
    (event,) = events
    assert isinstance(event, Settled)
    return event


def test_nan_is_no_sample() -> None:
    volts = [math.nan if i % 7 == 3 else 0.27 for i in range(60)]
    span = only_span(replay(STEADY, volts))
    assert span.volts == pytest.approx(0.27)
    assert span.samples == sum(not math.isnan(value) for value in volts)


@pytest.mark.parametrize("volts", [-0.2, -5.0, -math.inf])
def test_a_negative_voltage_is_no_sample(volts: float) -> None:
    span = only_span(replay(STEADY, [volts if i % 7 == 3 else 0.27 for i in range(60)]))
    assert span.volts == pytest.approx(0.27)


def test_a_small_negative_offset_is_taken_as_it_is() -> None:
    span = only_span(replay(STEADY, [-0.001 if i % 2 else 0.001 for i in range(60)]))
    assert span.volts == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("volts", [math.inf, 9.9e37])
def test_infinity_and_the_instruments_infinity_are_overload(volts: float) -> None:
    events = replay(STEADY, [volts if 30 <= i < 35 else 0.27 for i in range(60)])
    assert [event.kind for event in events].count("overload") == 1


def test_a_time_that_is_no_time_is_no_sample() -> None:
    detector = Detector()
    for time_s in (math.nan, math.inf, -math.inf):
        assert detector.feed(time_s, 0.27) == []
        assert detector.overload(time_s) == []
        assert detector.tick(time_s) == []
    assert detector.finish() == []


def test_the_same_time_twice_is_two_samples_at_once() -> None:
    times = [0.8 * (i // 2) for i in range(60)]
    span = only_span(replay(times, [0.27] * 60))
    assert span.end_s == times[-1]


def test_many_samples_at_one_time_do_no_harm() -> None:
    detector = Detector()
    for volts in [0.27] * 40 + [0.0] * 10 + [1.5] * 40:
        assert detector.feed(5.0, volts) == []
    now = detector.now
    assert (now.state, now.since_s, now.volts) == (State.SETTLING, 5.0, 1.5)
    assert detector.finish() == [], "what takes no time is no span"
    after = [detector.feed(6.0 + time_s, 0.27) for time_s in STEADY]
    assert not any(after) and detector.now.state is State.SETTLED


def test_a_time_that_goes_back_a_little_stands_still() -> None:
    times = [time_s - (0.6 if i == 30 else 0.0) for i, time_s in enumerate(STEADY)]
    span = only_span(replay(times, [0.27] * 60))
    assert (span.start_s, span.end_s) == (0.0, STEADY[-1])


def test_a_time_that_goes_back_far_starts_a_new_stretch() -> None:
    times = [time_s - (3600.0 if i >= 30 else 0.0) for i, time_s in enumerate(STEADY)]
    events = replay(times, [0.27] * 60)
    assert [event.kind for event in events] == ["settled", "settled"]
    assert all(span_s(event)[0] <= span_s(event)[1] for event in events)


@pytest.mark.parametrize(("first_hz", "then_hz"), [(2.5, 20.0), (20.0, 2.5), (100.0, 1.0)])
def test_a_change_of_rate_is_nothing_that_happened(first_hz: float, then_hz: float) -> None:
    times = [i / first_hz for i in range(int(40 * first_hz))]
    times += [40 + i / then_hz for i in range(int(40 * then_hz))]
    volts = [round(0.5 + 0.004 * math.sin(97.3 * i * i), 3) for i in range(len(times))]
    events = replay(times, volts)
    assert {event.kind for event in events} == {"settled"}


@pytest.mark.parametrize("volts", [0.0, 0.27, 3.0])
def test_a_meter_stuck_at_one_value_for_hours_is_settled_with_the_counts_uncertainty(volts: float) -> None:
    span = only_span(replay([i * 0.4 for i in range(20_000)], [volts] * 20_000))
    assert span.volts == volts
    assert 0.01 / math.sqrt(12) * 0.99 < span.u_volts < 0.01 / math.sqrt(12) * 1.01


def test_memory_is_bounded() -> None:
    detector = Detector()
    bytes_kept = []
    for i in range(20_000):
        detector.feed(i * 0.4, 0.5 + 0.3 * math.sin(i * i))
        if i % 500 == 499:
            bytes_kept.append(len(pickle.dumps(detector)))
    assert max(bytes_kept) < 60_000, "1,024 blocks of five numbers, 2,048 samples, and little else"
    assert max(bytes_kept[20:]) <= 1.02 * max(bytes_kept[:20])


SAMPLES = st.lists(
    st.tuples(
        st.one_of(st.floats(0.0, 2.0), st.sampled_from([0.4, 0.0, -0.5, -100.0, 30.0, math.nan])),
        st.one_of(st.floats(allow_nan=True), st.floats(0.0, 3.0), st.sampled_from([0.27, 0.28, 1.5])),
    ),
    max_size=120,
)


@settings(max_examples=150, deadline=None)
@given(SAMPLES, st.integers(1, 30))
def test_whatever_comes_nothing_raises_and_events_are_sound(
    samples: list[tuple[float, float]], repeat: int
) -> None:
    detector = Detector()
    time_s = 0.0
    events: list[Event] = []
    for step_s, volts in samples:
        for _ in range(repeat if volts == 0.27 else 1):
            time_s += step_s
            events += detector.feed(time_s, volts)
            now = detector.now
            assert (now.u_volts is None) == (now.samples == 0)
        if math.isnan(time_s):
            time_s = 0.0
    assert detector.open_events() == detector.open_events()
    for event in events + detector.finish():
        start_s, end_s = span_s(event)
        assert math.isfinite(start_s) and math.isfinite(end_s)
        assert start_s <= end_s
        if isinstance(event, Settled):
            assert math.isfinite(event.volts) and event.u_volts > 0
            assert event.start_s <= event.known_at_s


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0.05, 1.5), st.floats(0.0, 5.0), st.booleans()), min_size=1, max_size=12),
    st.integers(0, 1000),
)
def test_spans_overlap_neither_each_other_nor_motion_and_cross_no_step(
    pieces: list[tuple[float, float, bool]], seed: int
) -> None:
    times: list[float] = []
    volts: list[float] = []
    now_s = 0.0
    for interval_s, level, moves in pieces:
        for i in range(40):
            times.append(now_s)
            wobble = 0.5 * math.sin(i * (seed % 7 + 1)) if moves else 0.002 * math.sin(13.7 * i * i + seed)
            volts.append(round(max(level + wobble, 0.0), 3))
            now_s += interval_s
    events = replay(times, volts)
    spans = sorted((event for event in events if isinstance(event, Settled)), key=lambda event: event.start_s)
    assert all(a.end_s <= b.start_s for a, b in pairwise(spans))
    for event in events:
        start_s, end_s = span_s(event)
        if event.kind == "motion":
            assert not any(span.start_s < end_s and start_s < span.end_s for span in spans)
        if event.kind == "step":
            assert not any(span.start_s < start_s < span.end_s for span in spans)
