"""What of a settled span was a frozen display is no event, live or in replay."""

from __future__ import annotations

import random

import pytest

from logger.frozen_value import MIN_FROZEN_LINES, MIN_FROZEN_S, FrozenValue
from logger.settling.detector import Detector
from logger.settling.events import Settled
from logger.settling.replay import replay

RATE_HZ = 5


def trace(live_s: float, frozen_s: float) -> list[float]:
    rng = random.Random(11)
    volts = [round(rng.gauss(1.234, 0.002), 3) for _ in range(round(live_s * RATE_HZ))]
    return volts + [1.234] * round(frozen_s * RATE_HZ)


def settled(volts: list[float]) -> list[Settled]:
    """The settled spans, which must be the same live and in replay."""
    detector, live = Detector(), []
    times_s = [n / RATE_HZ for n in range(len(volts))]
    for time_s, value in zip(times_s, volts, strict=True):
        live += detector.feed(time_s, value)
    live += detector.finish()
    events = replay(times_s, volts)
    assert sorted(map(repr, live)) == sorted(map(repr, events))
    return [event for event in events if isinstance(event, Settled)]


def test_a_span_of_a_frozen_display_is_withheld() -> None:
    assert settled(trace(0.0, 2 * MIN_FROZEN_S)) == []
    assert len(settled(trace(60.0, 0.0))) == 1


def test_of_a_span_that_was_frozen_for_most_of_its_time_the_measured_parts_are_left() -> None:
    volts = [*trace(30.0, 2 * MIN_FROZEN_S), *trace(40.0, 0.0)]
    first, last = settled(volts)
    assert first.end_s == pytest.approx(30.0, abs=1.0) and last.start_s == pytest.approx(150.0, abs=1.0)
    assert last.end_s == pytest.approx(190.0, abs=1.0) and first.samples + last.samples <= 70 * RATE_HZ
    assert first.volts == pytest.approx(1.234, abs=0.0005)


def test_a_span_that_froze_at_its_end_is_less_certain() -> None:
    (whole,) = settled(trace(200.0, 0.0))
    (part,) = settled(trace(200.0, 2 * MIN_FROZEN_S))
    assert part.u_volts > 3 * whole.u_volts


def test_a_time_without_lines_is_none_in_which_the_value_stood_still() -> None:
    value = FrozenValue()
    for start_s in (0.0, 4800.0):
        for n in range(MIN_FROZEN_LINES):
            value.on_value(start_s + n / RATE_HZ, 1.234, 0.001)
        assert value.frozen_since_s is None and not value.is_long_constant(
            start_s + MIN_FROZEN_LINES / RATE_HZ
        )
    for n in range(round(MIN_FROZEN_S * RATE_HZ)):
        value.on_value(4800.0 + (MIN_FROZEN_LINES + n) / RATE_HZ, 1.234, 0.001)
    assert value.frozen_since_s is not None
