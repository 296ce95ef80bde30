"""Traces through the detector."""

from __future__ import annotations

from logger.settling.replay import replay


def test_events_come_in_the_order_in_which_they_became_known() -> None:
    volts = [0.3] * 50 + [1.3] * 50 + [0.3, 2.0, 2.2, 1.9] * 3 + [0.3] * 50
    events = replay([i * 0.4 for i in range(len(volts))], volts)
    known = [event.known_at_s for event in events]
    assert known == sorted(known) and len(known) > 4
