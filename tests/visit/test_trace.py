"""The trace ready to be drawn: nothing is lost at any resolution, its cost is bounded, gaps stay gaps."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.clock import NS_PER_S
from logger.settling.events import Event, Gap, Settled, Step
from logger.visit import LoggedEvent, Samples
from logger.visit.trace import EventLine, TimeJump, Trace, merged

START_NS = 1_700_000_000 * NS_PER_S


def run(times_s: list[float], volts: list[float], run_id: int = 1, start_utc_ns: int = START_NS) -> Samples:
    steady = np.array([start_utc_ns + round(t * NS_PER_S) for t in times_s], np.int64)
    count = len(times_s)
    return Samples(
        np.arange(count), np.full(count, run_id, np.int64), steady, steady, np.array(volts, np.float64)
    )


def even(count: int, rate_hz: float = 10.0, seed: int = 1) -> tuple[list[float], list[float]]:
    return [i / rate_hz for i in range(count)], list(np.random.default_rng(seed).random(count))


def test_few_samples_come_back_as_they_are() -> None:
    trace = Trace()
    times_s, volts = even(100)
    trace.append(run(times_s, volts))
    points = trace.polyline(-1, 100, 500)
    assert points.times_s.tolist() == pytest.approx(times_s)
    assert points.volts.tolist() == volts and points.joined.all()


@settings(max_examples=40, deadline=None)
@given(
    pieces=st.lists(st.integers(1, 700), min_size=1, max_size=12),
    start=st.floats(0, 1),
    length=st.floats(0.001, 1),
    most=st.integers(1, 300),
)
def test_every_sample_in_sight_lies_within_what_is_drawn(
    pieces: list[int], start: float, length: float, most: int
) -> None:
    count = sum(pieces)
    times_s, volts = even(count)
    trace = Trace()
    at = 0
    for piece in pieces:
        trace.append(run(times_s[at : at + piece], volts[at : at + piece]))
        at += piece
    start_s = start * times_s[-1]
    end_s = start_s + length * times_s[-1]
    seen = np.array([v for t, v in zip(times_s, volts, strict=True) if start_s <= t <= end_s])
    points = trace.polyline(start_s, end_s, most)
    assert (np.diff(points.times_s) >= 0).all()
    assert len(points.times_s) <= 3 * most + 16 * 8
    value_at = dict(zip(times_s, volts, strict=True))
    drawn = zip(np.round(points.times_s, 1).tolist(), points.volts.tolist(), strict=True)
    assert all(value_at[t] == v for t, v in drawn), "each point is a sample at its own time"
    if len(seen):
        # Minimum and maximum of what is in sight are never averaged away; neighbours outside may lie beyond.
        assert points.volts.min() <= seen.min() and points.volts.max() >= seen.max()
    assert set(points.volts) <= set(volts), "only values that were measured"


def test_a_look_costs_the_same_whatever_the_length() -> None:
    sizes = []
    for count in (2_000, 324_000):
        trace = Trace()
        trace.append(run(*even(count)))
        sizes.append(len(trace.polyline(0, trace.end_s, 800).times_s))
    assert max(sizes) <= 3 * 800 + 100 and min(sizes) > 400


def test_one_spike_is_seen_in_the_whole_night() -> None:
    trace = Trace()
    times_s, _ = even(300_000)
    volts = [0.1] * 300_000
    volts[123_456] = 5.0
    trace.append(run(times_s, volts))
    points = trace.polyline(0, trace.end_s, 500)
    assert points.volts.max() == 5.0
    assert abs(points.times_s[int(points.volts.argmax())] - 12_345.6) < trace.end_s / 250


@pytest.mark.parametrize("most", [100, 30, 9])
@pytest.mark.parametrize("falls", [True, False])
def test_an_edge_has_no_teeth_at_any_resolution(most: int, falls: bool) -> None:
    times_s, _ = even(400)
    edge = np.clip(np.array(times_s) - 17.3, 0.0, 1.0)
    trace = Trace()
    trace.append(run(times_s, list(1.0 - edge if falls else edge)))
    points = trace.polyline(0, trace.end_s, most)
    turns = np.diff(points.volts)
    assert (turns <= 0).all() if falls else (turns >= 0).all()
    assert np.ptp(points.volts) == 1.0


def test_what_lies_between_two_gaps_in_one_bin_is_drawn() -> None:
    trace = Trace()
    times_s = [i / 10 + 100 * (i >= 500) + 100 * (i >= 510) for i in range(4096)]
    volts = [0.1] * 4096
    volts[505] = 3.0
    trace.append(run(times_s, volts))
    points = trace.polyline(0, trace.end_s, 4)
    peak = int(points.volts.argmax())
    assert points.volts[peak] == 3.0 and points.joined[peak - 1 : peak + 1].all()
    assert np.flatnonzero(~points.joined[:-1]).size == 2


@pytest.mark.parametrize("most", [10_000, 300, 20, 3])
def test_a_gap_is_not_joined_at_any_resolution(most: int) -> None:
    trace = Trace()
    times_s, volts = even(3000)
    later = [t + 1000 for t in times_s]
    trace.append(run(times_s + later, volts + volts))
    points = trace.polyline(0, 2000, most)
    across = np.flatnonzero((points.times_s[:-1] < 300) & (points.times_s[1:] >= 1000))
    assert len(across) == 1 and not points.joined[across[0]]
    assert points.joined[:-1].sum() == len(points.joined) - 2, "and nothing else is torn"


def test_runs_keep_their_places_and_are_not_joined() -> None:
    trace = Trace()
    trace.append(run([0, 1, 2], [0.1, 0.2, 0.3]))
    trace.append(run([0, 1], [0.4, 0.5], run_id=2, start_utc_ns=START_NS + 60 * NS_PER_S))
    points = trace.polyline(-1, 100, 100)
    assert points.times_s.tolist() == [0, 1, 2, 60, 61]
    assert points.joined[:-1].tolist() == [True, True, False, True]


def test_a_clock_set_back_between_runs_does_not_turn_the_trace_back() -> None:
    trace = Trace(break_s=2.0)
    trace.append(run([0, 1, 2], [0.1, 0.2, 0.3]))
    hour_ago = START_NS - 3600 * NS_PER_S
    trace.append(run([0, 1], [0.4, 0.5], run_id=2, start_utc_ns=hour_ago))
    assert trace.polyline(-1, 100, 100).times_s.tolist() == [0, 1, 2, 4, 5]
    assert trace.seconds(hour_ago, 2) == 4
    assert trace.utc_ns(4) == hour_ago, "the time of day is the one the clock showed"
    (jump,) = trace.jumps_between(0, 100)
    assert jump == TimeJump(4, START_NS + 2 * NS_PER_S, hour_ago)
    trace.append(run([0, 1], [0.4, 0.5], run_id=3, start_utc_ns=START_NS + 600 * NS_PER_S))
    assert [jump.at_s for jump in trace.jumps_between(0, 1000)] == [4, 600], "from here it is true again"


def test_an_empty_trace() -> None:
    trace = Trace()
    assert len(trace) == 0 and trace.end_s == 0.0
    assert len(trace.polyline(0, 10, 100).times_s) == 0
    assert trace.seconds(START_NS) == 0.0


def test_spans_are_joined_only_below_the_resolution() -> None:
    spans = merged(np.array([0.0, 2.0, 2.6, 9.0]), np.array([1.0, 2.5, 4.0, 9.5]), 0.5)
    assert spans.start_s.tolist() == [0.0, 2.0, 9.0] and spans.end_s.tolist() == [1.0, 4.0, 9.5]
    assert len(merged(np.empty(0), np.empty(0), 1.0).start_s) == 0


def test_events_are_found_by_stretch_of_time() -> None:
    trace = Trace()
    trace.append(run([0, 100], [0.1, 0.1]))
    events = EventLine(trace)
    logged: list[Event] = [
        Settled(0, 10, 0.3, 0.01, 4, 60),
        Settled(20, 30, 0.5, 0.01, 24, 60),
        Step(20, 0.3, 0.5, 0.01, 24),
        Gap(40, 50, 45),
    ]
    events.append([LoggedEvent(i, 1, START_NS, event) for i, event in enumerate(logged)])
    assert [p.event for p in events.between(Settled, 5, 15)] == [logged[0]]
    assert [p.event for p in events.between(Settled, 0, 100)] == logged[:2]
    assert [p.event for p in events.between(Step, 19, 21)] == [logged[2]]
    assert events.between(Step, 21, 22) == [] and events.between(Gap, 0, 39) == []
    assert events.count(Settled, 11, 19) == 0 and events.count(Settled, 0, 100) == 2
    assert events.merged_between(Settled, 0, 100, 20).end_s.tolist() == [30]
