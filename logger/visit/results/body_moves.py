"""Whether the trace shows that the body moved since a moment: what a reading or a label of another spot needs.

In: the events of the run, final and open ones. Out: whether one of them is a move, and where none is, what there was
instead. A motion is a move, and so is an overload, as hands in motion give. A step is none: a load that switches gives
one too, while nobody has left the spot. Nor is a time without lines: what happened in it is not known.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from logger.clock import NS_PER_S
from logger.settling.events import Event, Gap, Motion, Overload, Settled, Step, span_s
from logger.visit.records.reading_records import Reading, Span
from logger.visit.records.recording_records import Live, LoggedEvent
from logger.visit.results.used_stretch import Seen, StretchUse, Value, has_changed, use_of_reading

MOVES = (Motion, Overload)
"""The events that show that the body moved."""

MOTION_NEAR_S = 3.0
"""A step at most this far from a motion, in seconds, may be the body's: a meter's averaging lies between them."""


def is_by_body(time_s: float, motions: Iterable[Motion]) -> bool:
    """Whether a step is near enough to a motion that it may be the body's.

    Args:
        time_s: of the step, seconds since the run's start.
        motions: of its run.
    """
    return any(m.start_s - MOTION_NEAR_S <= time_s <= m.end_s + MOTION_NEAR_S for m in motions)


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


@dataclass(frozen=True, slots=True)
class RunMoves:
    """The events of one run, asked for moves.

    Args:
        run_id: of the run.
        started_utc_ns: when it began.
        events: final and open ones.
    """

    run_id: int
    started_utc_ns: int
    events: Sequence[Event]

    def has_moved_between(self, one_utc_ns: int, other_utc_ns: int) -> bool:
        """Whether the body has moved between two moments on the steady time line, whichever comes first."""
        first_s, last_s = ((ns - self.started_utc_ns) / NS_PER_S for ns in sorted((one_utc_ns, other_utc_ns)))
        spans = (span_s(event) for event in self.events if isinstance(event, MOVES))
        return any(end_s > first_s and start_s < last_s for start_s, end_s in spans)


def unmoved_elsewhere(
    spot_id: int, readings: Iterable[Reading], live: Live, logged: Iterable[LoggedEvent]
) -> StretchUse | None:
    """The newest reading of the run where it is of another spot and no move has come since; None else.

    Args:
        spot_id: of the spot that would be read.
        readings: of the visit; those by hand do not count. Voided ones do: whatever was wrong about one, the body has
            not moved since.
        live: the newest heartbeat, or that of the moment whose value is kept.
        logged: the final events of the visit.
    """
    found = [
        use
        for reading in readings
        if (use := use_of_reading(reading, live.run_id, also_void=True)) is not None
        and use.first_line_id <= (live.last_line_id or 0)
    ]
    newest = max(found, key=lambda use: use.end_utc_ns, default=None)
    if newest is None or newest.reading is None or newest.reading.spot_id == spot_id:
        return None
    events = events_since(newest.end_utc_ns, live, logged)
    if any(isinstance(event, MOVES) for event in events):
        return None
    return replace(newest, seen=_seen(newest, live, events))


def parted_by_gap(
    readings: Iterable[Reading], live: Live, events_of_run: Callable[[int], Iterable[LoggedEvent]]
) -> StretchUse | None:
    """The newest valid reading where only a time without lines was seen since it; None where something else was.

    What was missed in that time is not known: it shows neither a move nor a switching. The end of a recording and the
    beginning of the next one are such a time too.

    Args:
        readings: of the visit; voided ones and those by hand do not count.
        live: the newest heartbeat, or that of the moment whose value is kept.
        events_of_run: gives the final events of a run.
    """
    found = [
        use
        for reading in readings
        if reading.run_id is not None
        and reading.run_id <= live.run_id
        and (use := use_of_reading(reading, reading.run_id)) is not None
        and use.first_line_id <= (live.last_line_id or 0)
    ]
    newest = max(found, key=lambda use: use.last_line_id, default=None)
    if newest is None or newest.reading is None or newest.reading.run_id is None:
        return None
    run_id = newest.reading.run_id
    events = events_since(newest.end_utc_ns if run_id == live.run_id else 0, live, events_of_run(live.run_id))
    if run_id == live.run_id:
        is_missing = newest.end_utc_ns <= live.since_steady_utc_ns and any(isinstance(e, Gap) for e in events)
    else:
        is_missing = True
        for run in range(run_id, live.run_id):
            since_utc_ns = newest.end_utc_ns if run == run_id else 0
            events += [e.event for e in events_of_run(run) if e.end_utc_ns > since_utc_ns]
    if not is_missing or any(isinstance(event, (*MOVES, Step)) for event in events):
        return None
    return replace(newest, seen="missing")


def level_before_gap(since_utc_ns: int, live: Live, logged: Iterable[LoggedEvent]) -> Settled | None:
    """The last level before a time without lines, where that is all that was seen since a moment; None else.

    Args:
        since_utc_ns: the moment, on the steady time line.
        live: the heartbeat.
        logged: the final events of the run.
    """
    logged = list(logged)
    events = events_since(since_utc_ns, live, logged)
    gaps = [event for event in events if isinstance(event, Gap)]
    if not gaps or any(isinstance(event, (*MOVES, Step)) for event in events):
        return None
    first_s = min(gap.start_s for gap in gaps)
    levels = (
        one.event
        for one in logged
        if one.run_id == live.run_id and isinstance(one.event, Settled) and one.event.start_s < first_s
    )
    return max(levels, key=lambda level: level.end_s, default=None)


def is_same_after_gap(before: Span, now: Value, live: Live, logged: Iterable[LoggedEvent]) -> bool:
    """Whether a value is that of a step before, where only a time without lines or a new recording lies between them.

    That something was done for it is not shown then: a motion, a step or another value would show it.

    Args:
        before: the value of the step before.
        now: what would be taken.
        live: the newest heartbeat.
        logged: the final events of the run.
    """
    is_new_run = before.run_id != live.run_id
    since_utc_ns = 0 if is_new_run else live.run_started_utc_ns + before.end_t_ns
    events = events_since(since_utc_ns, live, logged)
    if any(isinstance(event, (*MOVES, Step)) for event in events):
        return False
    return (is_new_run or any(isinstance(event, Gap) for event in events)) and not has_changed(before, now)


WhyChosen = Literal["user", "proposed", "edited"]
"""Why a spot was chosen, as `SpotChoice` tells."""


@dataclass(frozen=True, slots=True)
class SpotChoice:
    """A choice of the spot that is worked at, by the user or by the window.

    Args:
        since_utc_ns: when it was made, on the steady time line; 0 where nothing was recorded before.
        spot_id: of the spot; None where none was chosen, as while none is listed.
        why: the user has gone there; or the window proposed it, as the next spot of a round; or the list was edited
            there. The latter two say nothing of where the person is.
        run_id: the newest run at that moment; 0 where nothing was recorded before.
    """

    since_utc_ns: int
    spot_id: int | None
    why: WhyChosen = "user"
    run_id: int = 0


def chosen_after_settling(
    spot_id: int,
    choices: Sequence[SpotChoice],
    readings: Iterable[Reading],
    live: Live,
    logged: Iterable[LoggedEvent],
) -> Seen | None:
    """What was seen since a spot was chosen, where the body was still before, and has not moved since; None else.

    Nothing shows then that the body is at that spot. None where it moved while the spot was chosen, where no value had
    settled before, or where the spot was read since the last move.

    Args:
        spot_id: of the chosen spot.
        choices: those of the window, oldest first; the last one is of the spot.
        readings: of the visit; voided ones, and those by hand, do not count.
        live: the newest heartbeat, or that of the moment whose value is kept.
        logged: the final events of the run.
    """
    zero_utc_ns = live.run_started_utc_ns
    events = events_since(0, live, logged)
    moved_s = max((span_s(event)[1] for event in events if isinstance(event, MOVES)), default=0.0)
    moved_utc_ns = zero_utc_ns + round(moved_s * NS_PER_S)

    def is_later(choice: SpotChoice) -> bool:
        return choice.run_id == live.run_id and choice.since_utc_ns > moved_utc_ns

    then = next((choice for choice in reversed(choices) if not is_later(choice)), None)
    chosen = next((choice for choice in choices if is_later(choice) and choice.spot_id == spot_id), None)
    uses = (use_of_reading(r, live.run_id) for r in readings if r.spot_id == spot_id)
    is_read = any(use is not None and use.end_utc_ns > moved_utc_ns for use in uses)
    if chosen is None or is_read or (then is not None and then.spot_id == spot_id):
        return None
    chosen_s = (chosen.since_utc_ns - zero_utc_ns) / NS_PER_S
    if not any(isinstance(e, Settled) and e.end_s > moved_s and e.start_s < chosen_s for e in events):
        return None
    if live.since_steady_utc_ns < chosen.since_utc_ns:
        return "still"
    return _seen_in(event for event in events if span_s(event)[1] > chosen_s)


def spot_of_moment(
    moment_utc_ns: int, readings: Iterable[Reading], choices: Sequence[SpotChoice], run: RunMoves
) -> int | None:
    """The id of the spot where the body was at a moment; None where it was at none, or where that is not known.

    It was at the spot of the reading beside that moment, unless the body has moved in between. Else it was at the spot
    that was chosen then, or chosen later without a move in between. While no spot was listed, it was at none.

    Args:
        moment_utc_ns: on the steady time line, such as that of a step.
        readings: of the visit; voided ones, and those by hand, do not count.
        choices: those of the window, oldest first.
        run: the run that the moment is in.
    """
    uses = [use for reading in readings if (use := use_of_reading(reading, run.run_id)) is not None]
    before = max((u for u in uses if u.end_utc_ns <= moment_utc_ns), key=lambda u: u.end_utc_ns, default=None)
    after = min((u for u in uses if u.end_utc_ns > moment_utc_ns), key=lambda u: u.end_utc_ns, default=None)
    for use in (before, after):
        if use is not None and use.reading is not None:
            reading_utc_ns = use.end_utc_ns if use is before else use.reading.start_utc_ns or use.end_utc_ns
            if not run.has_moved_between(moment_utc_ns, reading_utc_ns):
                return use.reading.spot_id
    then = next((at for at, c in reversed([*enumerate(choices)]) if c.since_utc_ns <= moment_utc_ns), None)
    if then is not None and choices[then].spot_id is None:
        return None
    for at in range(len(choices) - 1, -1, -1):
        choice = choices[at]
        if choice.why == "edited" and at != then:
            continue  # an edit of the list that came later says nothing of this moment
        if at == then or not run.has_moved_between(moment_utc_ns, choice.since_utc_ns):
            return choice.spot_id
    return None


def _seen(use: StretchUse, live: Live, events: Iterable[Event]) -> Seen:
    """What there was since a reading, other than a move."""
    if use.end_utc_ns > live.since_steady_utc_ns:
        return "still"
    return _seen_in(events)


def _seen_in(events: Iterable[Event]) -> Seen:
    """What events tell that are no moves, outside the present still stretch."""
    kinds = {type(event) for event in events}
    if Gap in kinds:
        return "gap"
    return "step" if Step in kinds else "nothing"
