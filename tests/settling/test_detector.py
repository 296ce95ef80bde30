"""The detector on plain scenes: the state it shows while each goes on, and the events it finds."""

from __future__ import annotations

import math
import random
from collections.abc import Callable

import pytest

from logger.settling.detector import Detector
from logger.settling.events import Event, Gap, Motion, Overload, Settled, State, Step
from logger.settling.limits import BLOCK_S
from logger.settling.replay import replay

INTERVAL_S = 0.4
NOISE_VOLTS = 0.003


class Scene:
    """A trace put together from pieces, at 2.5 samples/s in counts of a millivolt."""

    def __init__(
        self, seed: int = 1, noise_volts: float = NOISE_VOLTS, interval_s: float = INTERVAL_S
    ) -> None:
        self._random = random.Random(seed)
        self._noise_volts = noise_volts
        self._interval_s = interval_s
        self.now_s = 0.0
        self.times_s: list[float] = []
        self.volts: list[float] = []

    def piece(self, length_s: float, shape: Callable[[float], float]) -> Scene:
        """`shape` of 0 to 1 over `length_s`."""
        count = round(length_s / self._interval_s)
        for i in range(count):
            self.times_s.append(round(self.now_s, 4))
            self.volts.append(round(shape(i / count) + self._random.gauss(0, self._noise_volts), 3))
            self.now_s += self._interval_s
        return self

    def hold(self, length_s: float, volts: float) -> Scene:
        return self.piece(length_s, lambda _: volts)

    def bump(self, length_s: float, volts: float, height: float) -> Scene:
        return self.piece(length_s, lambda u: volts + height * math.sin(math.pi * u) ** 2)

    def silence(self, length_s: float) -> Scene:
        self.now_s += length_s
        return self

    def events(self) -> list[Event]:
        return replay(self.times_s, self.volts)


def of_kind(events: list[Event], kind: type) -> list[Event]:
    return [event for event in events if isinstance(event, kind)]


def test_a_still_trace_is_one_settled_span_known_within_four_seconds() -> None:
    (event,) = Scene().hold(30, 0.27).events()
    assert isinstance(event, Settled)
    assert event.known_at_s <= 4.0
    assert event.start_s == 0.0
    assert event.end_s == pytest.approx(29.6)
    assert abs(event.volts - 0.27) < 3 * event.u_volts
    assert 0.0002 < event.u_volts < 0.003


def test_motion_has_its_peak_and_is_not_in_the_spans_beside_it() -> None:
    events = Scene().hold(20, 0.5).bump(8, 0.5, 1.2).hold(20, 0.5).events()
    assert [event.kind for event in events] == ["settled", "motion", "settled"]
    before, motion, after = events
    assert isinstance(before, Settled) and isinstance(motion, Motion) and isinstance(after, Settled)
    assert motion.peak_volts == pytest.approx(1.7, abs=0.02)
    assert before.end_s < motion.start_s < 21.5
    assert 26.0 < motion.end_s < after.start_s
    assert before.volts == pytest.approx(0.5, abs=0.003)
    assert after.volts == pytest.approx(0.5, abs=0.005)


@pytest.mark.parametrize(("before", "after"), [(0.3, 1.5), (1.5, 0.3), (0.30, 0.36)])
def test_a_step_has_its_time_and_size(before: float, after: float) -> None:
    events = Scene().hold(20, before).hold(20, after).events()
    assert [event.kind for event in events] == ["settled", "step", "settled"]
    step = events[1]
    assert isinstance(step, Step)
    assert step.time_s == pytest.approx(19.8, abs=0.41)
    assert step.after_volts - step.before_volts == pytest.approx(after - before, abs=5 * step.u_volts)


def test_motion_that_ends_at_another_level_is_a_motion_and_a_step() -> None:
    scene = Scene().hold(20, 0.4)
    scene.piece(10, lambda u: (0.4 if u < 0.5 else 0.9) + 1.5 * math.sin(math.pi * u) ** 2).hold(20, 0.9)
    events = scene.events()
    assert len(of_kind(events, Motion)) == 1
    (step,) = of_kind(events, Step)
    assert isinstance(step, Step)
    assert step.after_volts - step.before_volts == pytest.approx(0.5, abs=0.025)
    assert 20 <= step.time_s <= 30


def test_two_steps_five_seconds_apart_are_two() -> None:
    steps = of_kind(Scene().hold(20, 0.4).hold(5.2, 1.4).hold(20, 2.0).events(), Step)
    assert [round(step.time_s) for step in steps if isinstance(step, Step)] == [20, 25]


def test_a_brief_on_and_off_is_a_rise_that_returned() -> None:
    events = Scene().hold(20, 0.4).hold(2.0, 1.4).hold(20, 0.4).events()
    assert [event.kind for event in events] == ["settled", "motion", "settled"]


def test_a_step_seen_through_a_slow_meter_is_a_step_and_no_drift() -> None:
    scene = Scene(noise_volts=0.001).hold(20, 0.4)
    scene.piece(30, lambda u: 2.4 - 2.0 * math.exp(-30 * u / 2.0))
    (step,) = of_kind(scene.events(), Step)
    assert isinstance(step, Step)
    assert step.time_s == pytest.approx(20, abs=2)
    assert step.after_volts - step.before_volts == pytest.approx(2.0, abs=0.025)


@pytest.mark.parametrize("slope", [0.003, 0.02, 0.1, -0.02])
def test_a_ramp_is_never_settled_and_no_step(slope: float) -> None:
    end = 10.0 + 60 * slope
    events = Scene().hold(20, 10.0).piece(60, lambda u: 10.0 + 60 * slope * u).hold(30, end).events()
    assert of_kind(events, Step) == []
    inside = sum(
        max(0.0, min(event.end_s, 78.0) - max(event.start_s, 22.0))
        for event in of_kind(events, Settled)
        if isinstance(event, Settled)
    )
    assert inside <= 2.0
    assert len(of_kind(events, Settled)) == 2


def test_a_gap_closes_the_span() -> None:
    scene = Scene().hold(20, 0.4).silence(12).hold(20, 0.4)
    events = scene.events()
    assert [event.kind for event in events] == ["settled", "gap", "settled"]
    gap = events[1]
    assert isinstance(gap, Gap)
    assert (gap.start_s, gap.end_s) == pytest.approx((19.6, 32.0))


def test_overload_is_an_event_and_the_level_before_it_is_kept() -> None:
    scene = Scene().hold(20, 0.4)
    for _ in range(5):
        scene.times_s.append(scene.now_s)
        scene.volts.append(math.inf)
        scene.now_s += INTERVAL_S
    events = scene.hold(20, 0.4).events()
    (overload,) = of_kind(events, Overload)
    assert isinstance(overload, Overload)
    assert (overload.start_s, overload.end_s) == pytest.approx((20.0, 22.0))
    assert of_kind(events, Step) == []


def states(scene: Scene) -> list[tuple[float, State]]:
    detector, shown = Detector(), []
    for time_s, volts in zip(scene.times_s, scene.volts, strict=True):
        detector.feed(time_s, volts)
        shown.append((time_s, detector.now.state))
    return shown


def test_the_state_follows_the_trace() -> None:
    shown = dict(states(Scene().hold(20, 0.5).bump(8, 0.5, 1.2).hold(20, 0.5)))
    assert shown[0.0] is State.SETTLING
    assert shown[12.0] is State.SETTLED
    assert shown[24.0] is State.CHANGING
    assert shown[46.0] is State.SETTLED


def test_a_trace_that_does_not_settle_for_long_has_a_state_of_its_own() -> None:
    scene = Scene().hold(10, 0.5).piece(60, lambda u: 0.8 + 0.3 * math.sin(300 * u) + 0.2 * math.sin(171 * u))
    assert dict(states(scene))[68.0] is State.CHANGING_LONG


def test_a_ramp_is_shown_as_drifting() -> None:
    shown = states(Scene().hold(20, 1.0).piece(60, lambda u: 1.0 + 0.6 * u))
    assert sum(state is State.DRIFTING for time_s, state in shown if time_s > 30) > 100


def test_the_value_shown_while_settled_is_the_level_with_its_uncertainty() -> None:
    detector = Detector()
    scene = Scene().hold(30, 0.27)
    for time_s, volts in zip(scene.times_s, scene.volts, strict=True):
        detector.feed(time_s, volts)
    now = detector.now
    assert now.volts is not None and now.u_volts is not None
    assert now.volts == pytest.approx(sum(scene.volts) / len(scene.volts))
    assert now.samples == len(scene.volts)
    assert 0 < now.u_volts < 0.002


def test_silence_is_shown_as_lost_and_ends() -> None:
    detector = Detector()
    for i in range(20):
        detector.feed(i * INTERVAL_S, 0.27)
    assert detector.tick(9.0) == []
    assert detector.now.state is State.SETTLED
    assert detector.tick(12.0) == []
    assert detector.now.state is State.LOST
    events = detector.feed(20.0, 0.27)
    assert [event.kind for event in events] == ["settled", "gap"]


def test_open_events_are_what_finish_gives() -> None:
    detector = Detector()
    scene = Scene().hold(20, 0.5).hold(10, 1.5)
    for time_s, volts in zip(scene.times_s, scene.volts, strict=True):
        detector.feed(time_s, volts)
    opened = detector.open_events()
    assert opened == detector.open_events()
    assert opened == detector.finish()
    assert [event.kind for event in opened][-1] == "settled"
    assert detector.open_events() == []
    assert detector.now.state is State.WAITING


def test_the_longer_it_lies_still_the_smaller_the_uncertainty() -> None:
    u_volts = []
    for length_s in (10, 40, 160, 640):
        (event,) = Scene().hold(length_s, 0.5).events()
        assert isinstance(event, Settled)
        u_volts.append(event.u_volts)
    assert u_volts == sorted(u_volts, reverse=True)
    assert u_volts[-1] < u_volts[0] / 2


@pytest.mark.parametrize("rate_hz", [5.0, 10.0])
def test_blocks_hold_the_same_number_of_samples_though_times_are_rounded(rate_hz: float) -> None:
    taken: list[int] = []
    detector = Detector()
    tracker = detector._tracker
    take_block = tracker.take_block

    def note(time_s: float, volts: float, high_volts: float, samples: int, refused: int = 0) -> None:
        taken.append(samples)
        take_block(time_s, volts, high_volts, samples, refused)

    tracker.take_block = note  # type: ignore[method-assign]
    for i in range(300):
        detector.feed(0.137 + i / rate_hz, 0.5)
    assert set(taken[2:]) == {round(BLOCK_S * rate_hz)}
