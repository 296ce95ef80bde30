"""Whether the recorder is still at work, told from its heartbeats in the log, also while somebody sets the clock."""

from __future__ import annotations

from logger.clock import NS_PER_S, Clock
from logger.visit.records.records import Live

LIVE_STALE_S = 3.0
"""A heartbeat older than this is no longer news; the recorder beats ten times a second."""


class HeartbeatMonitor:
    """Looks at the heartbeat each time it is asked.

    The computer's clock tells how old a beat is that nobody has watched. From then on the steady clock counts: the
    computer's clock may be set by an hour in mid-visit, and a beat that changes before one's eyes is news all the same.

    Args:
        clock: injected time.
    """

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._beat: tuple[int, int] | None = None
        self._since_ns = 0
        """When the present beat was written, on the steady clock, as far as is known."""
        self._looked_ns = 0
        self._believed = False

    def silent(self, live: Live) -> bool:
        """Whether the recorder has stopped writing: its last beat is no news any more."""
        now_ns, stale_ns = self._clock.steady_ns(), round(LIVE_STALE_S * NS_PER_S)
        beat = (live.run_id, live.beat_steady_utc_ns)
        if beat != self._beat:
            age_ns = self._clock.utc_ns() - live.beat_utc_ns
            fresh = abs(age_ns) <= stale_ns
            watched = self._beat is not None and now_ns - self._looked_ns <= stale_ns
            self._beat, self._believed = beat, fresh or watched
            self._since_ns = now_ns - max(age_ns, 0) if fresh else now_ns
        self._looked_ns = now_ns
        return not self._believed or now_ns - self._since_ns > stale_ns
