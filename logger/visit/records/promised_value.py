"""The value that stood when a reading was asked for: it is kept, whatever the meter shows during the questions."""

from __future__ import annotations

from dataclasses import dataclass

from logger.visit.records.condition import OUTSIDE_WALK
from logger.visit.records.reading_records import Span, Taken
from logger.visit.records.recording_records import Live

PROMISE_HOLDS_S = 600.0
"""Seconds. An older value is not kept any more: what was on then is hardly remembered for sure. No source, ours."""


@dataclass(frozen=True, slots=True)
class PromisedValue:
    """The value of one moment, for a reading of which spot or condition has still to be asked.

    Args:
        span: the value and the stretch that it rests on.
        taken: whether it was settled, or is taken by override.
        live: the heartbeat of that moment.
        utc_ns: that moment by the computer's clock.
        condition: what was on as stated by then; empty where nothing was.
    """

    span: Span
    taken: Taken
    live: Live
    utc_ns: int
    condition: str = ""

    def is_older_than(self, condition: str, now: Live | None) -> bool:
        """Whether what was on was stated after the value, and the trace does not show that it was so at the value too.

        Where nothing was stated before, and the still stretch of the value goes on, the statement is of that stretch.

        Args:
            condition: what was on, as it is stated now.
            now: the newest heartbeat; None where there is none.
        """
        if condition in (self.condition, OUTSIDE_WALK):
            return False
        goes_on = (
            now is not None
            and now.run_id == self.live.run_id
            and now.growing_span is not None
            and now.since_steady_utc_ns == self.live.since_steady_utc_ns
        )
        return bool(self.condition) or not goes_on
