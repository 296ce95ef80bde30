"""Whether a value is news, or still the stretch that another reading rests on.

In: the heartbeat and the readings so far. Out: the reading that already rests on the stretch that goes on now. A
reading of another combination of circuits, or at another spot, needs a stretch of its own: where nothing stirred the
value in between, nothing shows that anything was switched or that anybody moved.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot
from typing import Protocol

from logger.visit.records.reading_records import Reading, Span
from logger.visit.records.recording_records import Live

MIN_CHANGE_VOLTS = 0.012
"""A value that differs by less than this has not changed: an eighth of the usual target. No source, ours."""

MIN_CHANGE_SIGMAS = 3.0
"""And neither has one that differs by fewer standard uncertainties of the two values."""


def reading_on_stretch(readings: Sequence[Reading], live: Live) -> Reading | None:
    """The newest valid reading that rests on the still stretch that goes on now; None where none does.

    Args:
        readings: of the visit, oldest first.
        live: the newest heartbeat.
    """
    return next(
        (
            reading
            for reading in reversed(readings)
            if reading.void_reason is None
            and reading.run_id == live.run_id
            and reading.end_utc_ns is not None
            and reading.end_utc_ns > live.since_steady_utc_ns
        ),
        None,
    )


class Value(Protocol):
    """A value with its standard uncertainty, both in volts."""

    @property
    def volts(self) -> float:
        """The value."""

    @property
    def u_volts(self) -> float:
        """Its standard uncertainty."""


def has_changed(before: Value, now: Span) -> bool:
    """Whether a value differs from one before on the same stretch by more than noise: a change too small for a step.

    Args:
        before: the value before, such as a reading.
        now: the value that would be taken.
    """
    limit_volts = max(MIN_CHANGE_VOLTS, MIN_CHANGE_SIGMAS * hypot(before.u_volts, now.u_volts))
    return abs(now.volts - before.volts) > limit_volts
