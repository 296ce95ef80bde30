"""A recorded trace through the detector: the same events as live."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from operator import attrgetter

from logger.settling.detector import Detector
from logger.settling.events import Event
from logger.settling.late_lines import LateLines


def replay(
    times_s: Sequence[float],
    volts: Sequence[float],
    digits_volts: Sequence[float] | None = None,
    port_lost_s: Sequence[float] = (),
) -> list[Event]:
    """Events of a trace, in the order in which they became known.

    Args:
        times_s: seconds, one per sample.
        volts: AC rms volts, one per sample; NaN is no sample, infinity an overload.
        digits_volts: what the last digit of each is worth, V, 0 where that is not known; None where nothing is known.
        port_lost_s: when the port was lost, ascending, by the notices of a visit log; a trace alone does not know.
    """
    detector = Detector()
    feed = detector.feed
    events: list[Event] = []
    late: LateLines[tuple[float, float, float]] = LateLines()
    digits_volts = [0.0] * len(times_s) if digits_volts is None else digits_volts
    losses_s = deque(port_lost_s)
    for row in zip(times_s, volts, digits_volts, strict=True):
        while losses_s and row[0] > losses_s[0]:
            losses_s.popleft()
            for sample, _ in late.flush():
                events += feed(*sample)
            detector.lose_port()
        for sample, is_late in late.take(row[0], row):
            if not is_late and (found := feed(*sample)):
                events += found
    for sample, _ in late.flush():
        events += feed(*sample)
    events += detector.finish()
    return sorted(events, key=attrgetter("known_at_s"))
