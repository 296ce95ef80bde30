"""Breathing moves a level and hides none: a sine, and breaths of changing depth with pauses between them."""

from __future__ import annotations

import pytest

from logger.settling.events import Settled
from logger.settling.replay import replay
from tests.support.metrics import LEVEL_SHARE, LEVEL_VOLTS, overlap_s
from tests.support.traces_held_out import breathing

TRACES = 50


@pytest.mark.parametrize("is_sine", [True, False])
def test_a_breathing_of_one_and_a_half_percent_hides_no_level(is_sine: bool) -> None:
    found = levels = crossing = 0
    for seed in range(TRACES):
        trace = breathing(seed, is_sine)
        spans = [event for event in replay(trace.times_s, trace.volts) if isinstance(event, Settled)]
        for level in trace.truth.settled:
            allowed = max(LEVEL_VOLTS, LEVEL_SHARE * level.level_volts)
            levels += 1
            found += any(
                overlap_s((span.start_s, span.end_s), (level.start_s, level.end_s)) > 2.0
                and abs(span.volts - level.level_volts) < allowed
                for span in spans
            )
        crossing += sum(
            span.start_s + 1 < step.time_s < span.end_s - 1 for span in spans for step in trace.truth.steps
        )
    assert levels > 2 * TRACES
    assert found >= 0.95 * levels
    assert crossing == 0
