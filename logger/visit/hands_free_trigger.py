"""Hands-free reading: armed, the tool takes the reading by itself once the value has been settled for long enough.

In: what the recorder says many times a second. Out: the moment to take. A still span gives one reading: the next one
is only taken from a span that began after the value was left, so that nobody's last value is tagged to the next spot
while they are still getting up.
"""

from __future__ import annotations

from dataclasses import dataclass

from logger.clock import NS_PER_S
from logger.settling.events import State
from logger.visit.records.recording_records import Live

STILL_FOR_S = 8.0
"""How long the value must have been settled; the user may choose another time."""


@dataclass(slots=True)
class HandsFreeTrigger:
    """Watches for the moment. Made anew each time the tool is armed.

    Args:
        still_for_s: how long the value must have been settled.
        not_from_ns: spans that began at or before this moment (steady UTC ns) were used already; at arming,
            the present moment where the person is still to move to the spot, 0 where they are there.
    """

    still_for_s: float = STILL_FOR_S
    not_from_ns: int = 0

    def is_time(self, live: Live | None, refusal: str) -> bool:
        """Whether to take now.

        Args:
            live: what the recorder last said.
            refusal: why nothing can be taken (`CurrentValue.why_not_settled`), empty when something can.
        """
        if live is None or refusal or live.state is not State.SETTLED:
            return False
        if live.since_steady_utc_ns <= self.not_from_ns:
            return False
        return live.beat_steady_utc_ns - live.since_steady_utc_ns >= self.still_for_s * NS_PER_S

    def taken(self, live: Live) -> None:
        """A reading was taken from the span that is going on: wait for another one."""
        self.not_from_ns = live.since_steady_utc_ns

    def left_s(self, live: Live | None) -> float | None:
        """Seconds until it would be time, None while nothing is settled that could be taken."""
        if live is None or live.state is not State.SETTLED or live.since_steady_utc_ns <= self.not_from_ns:
            return None
        still_s = (live.beat_steady_utc_ns - live.since_steady_utc_ns) / NS_PER_S
        return max(0.0, self.still_for_s - still_s)
