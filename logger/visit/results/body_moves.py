"""Whether the trace shows that the body moved since a moment: what a reading at another spot needs before it.

In: the events of the run, final and open ones. Out: whether one of them is a move, and where none is, what there was
instead. A motion is a move, and so is an overload, as hands in motion give. A step is none: a load that switches gives
one too, while nobody has left the spot. Nor is a time without lines: what happened in it is not known.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from logger.clock import NS_PER_S
from logger.settling.events import Event, Gap, Motion, Overload, Step, span_s
from logger.visit.records.reading_records import Reading
from logger.visit.records.recording_records import Live, LoggedEvent
from logger.visit.results.used_stretch import Seen, StretchUse, use_of_reading

MOVES = (Motion, Overload)
"""The events that show that the body moved."""


def events_since(since_utc_ns: int, live: Live, logged: Iterable[LoggedEvent]) -> list[Event]:
    """The events of a run that went on, or came, after a moment and before the heartbeat, also those still open.

    Args:
        since_utc_ns: the moment, on the steady time line.
        live: the heartbeat; events of other runs, and what began after it, do not count.
        logged: the final events.
    """
    since_s = (since_utc_ns - live.run_started_utc_ns) / NS_PER_S
    beat_s = (live.beat_steady_utc_ns - live.run_started_utc_ns) / NS_PER_S
    events = [*(one.event for one in logged if one.run_id == live.run_id), *live.open_events]
    spans = [(event, *span_s(event)) for event in events]
    return [event for event, start_s, end_s in spans if end_s > since_s and start_s <= beat_s]


def has_moved(since_utc_ns: int, live: Live, logged: Iterable[LoggedEvent]) -> bool:
    """Whether the body has moved since a moment.

    Args:
        since_utc_ns: the moment, on the steady time line.
        live: the newest heartbeat, or that of the moment that is asked about.
        logged: the final events of the visit.
    """
    return any(isinstance(event, MOVES) for event in events_since(since_utc_ns, live, logged))


def unmoved_elsewhere(
    spot_id: int, readings: Iterable[Reading], live: Live, logged: Iterable[LoggedEvent]
) -> StretchUse | None:
    """The newest reading of the run where it is of another spot and no move has come since; None else.

    Args:
        spot_id: of the spot that would be read.
        readings: of the visit; voided ones, and those by hand, do not count.
        live: the newest heartbeat, or that of the moment whose value is kept.
        logged: the final events of the visit.
    """
    found = [
        use
        for reading in readings
        if (use := use_of_reading(reading, live.run_id)) is not None
        and use.first_line_id <= (live.last_line_id or 0)
    ]
    newest = max(found, key=lambda use: use.end_utc_ns, default=None)
    if newest is None or newest.reading is None or newest.reading.spot_id == spot_id:
        return None
    events = events_since(newest.end_utc_ns, live, logged)
    if any(isinstance(event, MOVES) for event in events):
        return None
    return replace(newest, seen=_seen(newest, live, events))


def _seen(use: StretchUse, live: Live, events: Iterable[Event]) -> Seen:
    """What there was since a reading, other than a move."""
    if use.end_utc_ns > live.since_steady_utc_ns:
        return "still"
    kinds = {type(event) for event in events}
    if Gap in kinds:
        return "gap"
    return "step" if Step in kinds else "nothing"
