"""Whether the recorder is still at work, judged by its heartbeats in the log, also while somebody sets the clock."""

from __future__ import annotations

from logger.clock import NS_PER_S, Clock
from logger.visit.records.recording_records import Live

STALE_AFTER_S = 3.0
"""A heartbeat that is older than this is stale; the recorder writes several a second."""


class HeartbeatMonitor:
    """Judges each heartbeat that it is given.

    The age of the first heartbeat is taken from the computer's clock. From then on the steady clock counts: the
    computer's clock may be set by an hour in mid-visit, and a heartbeat that has changed since is fresh all the same.

    Args:
        clock: injected time.
    """

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._heartbeat: tuple[int, int] | None = None
        self._since_ns = 0
        """When the present beat was written, on the steady clock, as far as is known."""
        self._checked_ns = 0
        self._was_fresh = False

    def is_stale(self, live: Live) -> bool:
        """Whether the recorder has stopped writing: its newest heartbeat is too old."""
        now_ns, stale_ns = self._clock.steady_ns(), round(STALE_AFTER_S * NS_PER_S)
        heartbeat = (live.run_id, live.beat_steady_utc_ns)
        if heartbeat != self._heartbeat:
            age_ns = self._clock.utc_ns() - live.beat_utc_ns
            fresh = abs(age_ns) <= stale_ns
            watched = self._heartbeat is not None and now_ns - self._checked_ns <= stale_ns
            self._heartbeat, self._was_fresh = heartbeat, fresh or watched
            self._since_ns = now_ns - max(age_ns, 0) if fresh else now_ns
        self._checked_ns = now_ns
        return not self._was_fresh or now_ns - self._since_ns > stale_ns
