"""Edges of a night as the user gives them: typed times, or moments of a chart. In: a night. Out: edges that are kept.

A time of day is local where the night was recorded. Where it comes twice in the recording (the clocks go back, or more
than a day was recorded), the first one begins the night and the last one ends it; RFC 3339 with its offset tells them
apart.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from logger.clock import NS_PER_S, from_to
from logger.errors import StillvoltError
from logger.name_list import joined
from logger.night.night_edges import FOUND_EDGES, MovedEdges, moved_edges, with_moved_edges
from logger.night.recorded_nights import Night
from logger.translation import marked, tr
from logger.visit.records.fact_names import NIGHT_EDGES
from logger.visit.storage.time_zone import offset_of
from logger.visit.storage.visit_log import VisitLog

MIN_LENGTH_S = 60.0
"""A night is not shorter than a minute: its levels are compared minute by minute."""

UNCHANGED = marked("Nothing was changed.")

_EPOCH, _MICROSECOND = datetime(1970, 1, 1, tzinfo=UTC), timedelta(microseconds=1)

_BETWEEN = r"\s+(?:to|until)\s+|\s*–\s*|\s+-\s+"
"""What stands between two times; in another language its own word for "to" does as well."""

_TIME_OF_DAY = re.compile(r"(\d{1,2})[:.h](\d{2})(?::(\d{2}))?(?: *UTC([+-]\d{2}:\d{2}))?")
"""A local time of day, with its offset to UTC where a night is written with it."""


def typed_edges(night: Night, start: str, end: str) -> MovedEdges:
    """Return the edges of a night with one or both of them moved to a typed time.

    Args:
        night: the night.
        start: its new beginning as typed; empty leaves the beginning as it is.
        end: its new end as typed; empty leaves the end as it is.

    Raises:
        StillvoltError: a time is none, is outside the recording, or the night would be empty.
    """
    return shifted_edges(
        night,
        _typed_s(night, start, first=True) if start.strip() else None,
        _typed_s(night, end, first=False) if end.strip() else None,
    )


def typed_stretch(text: str) -> tuple[str, str]:
    """Return beginning and end of a night as typed on one line: "23:10 to 06:40".

    Raises:
        StillvoltError: the line does not hold two times.
    """
    word = from_to("", "").strip()
    parts = re.split(rf"{_BETWEEN}|\s+{re.escape(word)}\s+", text.strip())
    if len(parts) != 2 or not all(parts):
        raise StillvoltError(
            tr("“{typed}” is not two times.").format(typed=text.strip()),
            tr(UNCHANGED),
            tr("Type them like 23:10 to 06:40."),
        )
    return parts[0], parts[1]


def shifted_edges(night: Night, start_s: float | None, end_s: float | None) -> MovedEdges:
    """Return the edges of a night with one or both of them moved.

    Args:
        night: the night.
        start_s: its new beginning, seconds since the present one; None leaves it as it is.
        end_s: its new end, seconds since the present beginning; None leaves it as it is.

    Raises:
        StillvoltError: an edge is outside the recording, or the night would be empty.
    """
    recording_s = _recording_s(night)
    for time_s in (start_s, end_s):
        if time_s is not None and not recording_s[0] <= time_s <= recording_s[1]:
            raise _outside(night, night.clock_minute(time_s))
    begins_s, ends_s = (0.0 if start_s is None else start_s), (night.record.end_s if end_s is None else end_s)
    if ends_s - begins_s < MIN_LENGTH_S:
        begins, ends = night.clock_minute(begins_s), night.clock_minute(ends_s)
        raise StillvoltError(
            tr(
                "The night would begin at {begins} and end at {ends}, which leaves less than a minute of it."
            ).format(begins=begins, ends=ends),
            tr(UNCHANGED),
            tr("Give a beginning that is before the end."),
        )
    return MovedEdges(
        None if start_s is None else night.utc_ns(start_s), None if end_s is None else night.utc_ns(end_s)
    )


def keep_edges(log: VisitLog, night: Night, edges: MovedEdges) -> None:
    """Keep moved edges of a night in its visit log; an edge that is None stays as it was moved before.

    Args:
        log: the open visit log of the night.
        night: the night.
        edges: its edges; `FOUND_EDGES` takes both moves back.
    """
    run_id, fact = night.runs[0].id, log.facts.get(NIGHT_EDGES)
    if edges != FOUND_EDGES:
        before = moved_edges(fact).get(run_id, FOUND_EDGES)
        if edges.start_utc_ns is None:
            edges = replace(edges, start_utc_ns=before.start_utc_ns)
        if edges.end_utc_ns is None:
            edges = replace(edges, end_utc_ns=before.end_utc_ns)
    log.facts.set(NIGHT_EDGES, with_moved_edges(fact, run_id, edges))


def _recording_s(night: Night) -> tuple[float, float]:
    return night.edges.recording_s if night.edges is not None else (0.0, night.record.end_s)


def _typed_s(night: Night, typed: str, *, first: bool) -> float:
    """Return the moment that was typed, in seconds since the night's start.

    Args:
        night: the night.
        typed: a local time of day, with or without its offset to UTC ("02:30 UTC+01:00"), or RFC 3339.
        first: whether the first one in the recording is meant where a time of day comes twice, or the last one.
    """
    typed = typed.strip()
    match = _TIME_OF_DAY.fullmatch(typed)
    if match is None:
        return _rfc3339_s(night, typed)
    inside = _moments_of(night, typed, match)
    return max(inside[0 if first else -1], _recording_s(night)[0])


def notes_on_typed(night: Night, start: str, end: str) -> list[str]:
    """Name each typed time of day that comes twice in the recording, and which of both counts, in a sentence.

    Args:
        night: the night, before its edges are moved.
        start: its new beginning as typed; empty for none.
        end: its new end as typed; empty for none.
    """
    notes = []
    twice = (
        tr(
            "{typed} comes more than once in the recording: {times}. The first one begins the night; to choose another "
            "one, type it with its date and offset, as here."
        ),
        tr(
            "{typed} comes more than once in the recording: {times}. The last one ends the night; to choose another "
            "one, type it with its date and offset, as here."
        ),
    )
    for typed, sentence in zip((start.strip(), end.strip()), twice, strict=True):
        match = _TIME_OF_DAY.fullmatch(typed)
        moments = _moments_of(night, typed, match) if match is not None else []
        if len(moments) > 1:
            notes.append(sentence.format(typed=typed, times=joined(list(map(night.rfc3339, moments)))))
    return notes


def _moments_of(night: Night, typed: str, match: re.Match[str]) -> list[float]:
    """Return each moment of the recording with a local time of day, in order, in seconds since the night's start.

    Args:
        night: the night.
        typed: the time as it was typed.
        match: its parts, by `_TIME_OF_DAY`.

    Raises:
        StillvoltError: it is no time, or none of the recording.
    """
    hour, minute, second = int(match[1]), int(match[2]), int(match[3] or 0)
    if hour > 23 or minute > 59 or second > 59:
        raise _not_a_time(typed)
    recording_s = _recording_s(night)
    days = (night.local(recording_s[1]).date() - night.local(recording_s[0]).date()).days
    exists, found = [], []
    for day in range(days + 1):
        date = night.local(recording_s[0]).date() + timedelta(days=day)
        exists.append(False)
        for fold in (0, 1):
            local = datetime(date.year, date.month, date.day, hour, minute, second, fold=fold)
            at = local.replace(tzinfo=night.zone).astimezone(UTC)
            # A time that the clocks leave out does not come back as itself.
            if at.astimezone(night.zone).replace(tzinfo=None, fold=0) == local.replace(fold=0):
                exists[-1] = True
                if match[4] is None or offset_of(at.astimezone(night.zone)).removeprefix("UTC") == match[4]:
                    found.append(_since_start_s(night, at))
    # A time without seconds means its minute: what the window shows can be typed back.
    slack_s = 0.0 if match[3] else 60.0
    inside = [time_s for time_s in sorted(set(found)) if recording_s[0] - slack_s < time_s <= recording_s[1]]
    if not inside and not all(exists):
        raise StillvoltError(
            tr("There was no {typed} in that night: the clocks were put forward over it.").format(
                typed=typed
            ),
            tr(UNCHANGED),
        )
    if not inside:
        raise _outside(night, typed)
    return inside


def _rfc3339_s(night: Night, typed: str) -> float:
    try:
        at = datetime.fromisoformat(typed)
    except ValueError:
        raise _not_a_time(typed) from None
    if at.tzinfo is None:
        raise StillvoltError(
            tr("“{typed}” has no offset from UTC.").format(typed=typed),
            tr(UNCHANGED),
            tr("Type it like 2026-11-26T23:10:00+01:00, or 23:10."),
        )
    time_s = _since_start_s(night, at)
    recording_s = _recording_s(night)
    if not recording_s[0] <= time_s <= recording_s[1]:
        # The log has fractions of a second, RFC 3339 as it is shown has none.
        if recording_s[0] - 1.0 < time_s < recording_s[0]:
            return recording_s[0]
        raise _outside(night, typed)
    return time_s


def _since_start_s(night: Night, at: datetime) -> float:
    # In whole microseconds: seconds since 1970 as a float are off by some 100 ns, and 05:00 is shown as 04:59.
    return (round((at - _EPOCH) / _MICROSECOND) * 1000 - night.utc_ns(0.0)) / NS_PER_S


def _not_a_time(typed: str) -> StillvoltError:
    return StillvoltError(
        tr("“{typed}” is no time.").format(typed=typed),
        tr(UNCHANGED),
        tr("Type a local time like 23:10, or one like 2026-11-26T23:10:00+01:00."),
    )


def _corrected_times(night: Night) -> list[str]:
    """By the clock as it was set last: when the recording ran, and which times are to be typed."""
    if not night.clock_set or len(night.runs) > 1:
        return []  # a later run begins by the clock as it was set
    offset_s = night.clock_set[-1].offset_s
    began, ended = (night.rfc3339(edge_s + offset_s) for edge_s in _recording_s(night))
    return [
        tr(
            "By the clock as it was set last the recording ran from {began} to {ended}. Type times by the "
            "clock as it was when the recording began."
        ).format(began=began, ended=ended)
    ]


def _outside(night: Night, typed: str) -> StillvoltError:
    began_s, ended_s = _recording_s(night)
    return StillvoltError(
        tr("{typed} is outside the recording, which ran from {began} to {ended}.").format(
            typed=typed, began=night.rfc3339(began_s), ended=night.rfc3339(ended_s)
        ),
        tr(UNCHANGED),
        " ".join([*night.clock_notes, *_corrected_times(night)]),
    )
