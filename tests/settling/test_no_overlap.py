"""Settled events never overlap each other, a movement, a step, a gap or an overload, on any generated trace."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
import pytest

from logger.settling.events import Event, Settled, Step, span_s
from logger.settling.replay import replay
from tests.support.metrics import overlap_s
from tests.support.traces import Trace, recorded_style, varied
from tests.support.traces_wandering import wandering

TRACES = 30
ROUNDING_S = 1e-9
HAS_OVERLAPPED: dict[Callable[[int], Trace], tuple[int, ...]] = {
    varied: (20_058, 20_216),
    recorded_style: (),
    wandering: (20_018, 20_198, 20_256, 20_257),
}
"""Seeds on which settled events did overlap something."""


def overlaps(events: Sequence[Event]) -> list[tuple[Settled, Event]]:
    """Each settled event with what it overlaps; a step counts where it is between the ends."""
    spans = sorted((event for event in events if isinstance(event, Settled)), key=lambda span: span.start_s)
    found: list[tuple[Settled, Event]] = [
        (span, after) for span, after in pairwise(spans) if after.start_s < span.end_s
    ]
    for span in spans:
        for event in events:
            if isinstance(event, Step):
                inside = span.start_s < event.time_s < span.end_s
            else:
                shared_s = overlap_s((span.start_s, span.end_s), span_s(event))
                inside = not isinstance(event, Settled) and shared_s > ROUNDING_S
            if inside:
                found.append((span, event))
    return found


@pytest.mark.parametrize("family", HAS_OVERLAPPED)
def test_settled_events_overlap_nothing(family: Callable[[int], Trace]) -> None:
    for seed in [*range(300, 300 + TRACES), *HAS_OVERLAPPED[family]]:
        trace = family(seed)
        events = replay(trace.times_s, trace.volts)
        assert overlaps(events) == [], seed
        spans = [event for event in events if isinstance(event, Settled)]
        assert spans and all(
            span.start_s < span.end_s and span.known_at_s >= span.start_s for span in spans
        ), seed


@pytest.mark.parametrize(
    ("swing_volts", "period_s", "rate_hz"), [(0.1, 60.0, 10.0), (0.1, 60.0, 2.0), (0.05, 40.0, 5.0)]
)
def test_the_crests_of_a_slow_swing_are_no_one_level(
    swing_volts: float, period_s: float, rate_hz: float
) -> None:
    times_s = np.arange(0.0, 300.0, 1.0 / rate_hz)
    volts = np.round(0.4 + swing_volts * np.sin(2.0 * np.pi * times_s / period_s), 4)
    spans = [event for event in replay(times_s.tolist(), volts.tolist()) if isinstance(event, Settled)]
    for span in spans:
        inside = volts[(times_s >= span.start_s) & (times_s <= span.end_s)]
        assert np.ptp(inside) < swing_volts, "no span holds the swing between two crests"
        assert span.samples >= 0.8 * len(inside), "its lines are those that its level rests on"
