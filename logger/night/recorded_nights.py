"""The nights of a visit log: what counts as a night, which runs belong together, and each night as plain numbers.

Runs that follow each other within a few hours are one recording: a recorder that was killed and started again does not
end it. Where the user ended a run and began the next one later on, they are two. A night is the part of its recording
between its edges, whether they were found or moved by the user; everything that is computed of a night follows from
here. Times of day are kept with the zone in which the night was recorded, so that they are right when a change to or
from daylight-saving time falls into it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, tzinfo

import numpy as np

from logger.clock import NS_PER_S, format_long_duration, from_to, month_text
from logger.errors import StillvoltError
from logger.metrology.context import Context
from logger.metrology.rounding import fixed
from logger.night.analysis.lying_stretch import longest_free, lying_stretch
from logger.night.analysis.night_record import NightRecord, Stretch, shifted
from logger.night.analysis.quiet_stretches import with_quiet_stretches
from logger.night.analysis.value_bands import Bands, value_bands
from logger.night.night_conditions import NOT_ENTERED, NightCondition, night_conditions
from logger.night.night_edges import (
    FOUND_EDGES,
    HIGHER_TIMES,
    HIGHER_VOLTS,
    LEFT_OUT_BECAUSE,
    EdgeCause,
    LeftOut,
    MovedByRun,
    MovedEdges,
    NightEdges,
    moved_edges,
)
from logger.night.night_entries import entered_for
from logger.night.night_spots import NOWHERE_KNOWN, NightSpot, night_spot_entries
from logger.night.work_times import LabelTime, WorkTime, work_times
from logger.settling.events import Event, Gap, Overload, Step, span_s
from logger.translation import tr, tr_kept
from logger.visit.records.fact_names import NIGHT_EDGES
from logger.visit.records.recording_records import CLOCK_SET, Notice, Run, Samples
from logger.visit.records.stop_source import is_on_purpose
from logger.visit.results.frozen_times import FrozenStretch, frozen_by_run
from logger.visit.storage.time_zone import offset_of, zone_of
from logger.visit.storage.visit_log import VisitLog

MIN_NIGHT_S = 4 * 3600.0
"""A recording counts as a night if so much of it without a break is free of readings, checks and labelled switchings.
Whoever sleeps beside the meter records clearly longer, and an evening's work has no such break. No source."""

SAME_NIGHT_NS = 3 * 3600 * NS_PER_S
"""Runs with a longer pause between them are two nights."""

SAME_NIGHT_ENDED_NS = 30 * 60 * NS_PER_S
"""The same where the user ended the earlier run: a pause of that length was wanted, and nothing was missed in it. A
shorter one is that of somebody who changes a cable or starts again. No source."""

PAUSE_IS_GAP_NS = 5 * NS_PER_S
"""A longer pause between two runs of a night is a time without values."""

SAME_CLOCK_S = 1.0
"""The times of a run are not worth a word of their own where they differ from the clock by less, s."""

SET_BACK_S = 1.0
"""A run that begins so much earlier, by the clock, than the run before it ended shows that the clock was set."""

AROUND_BED_S = 600.0
NEAR_BED_S = 60.0
"""Somebody lies down, or gets up, at a found edge only if a motion is within the first time outside of it, or within
the second inside. A restless ten minutes have one. No source."""

LONGEST_WALK_S = 1800.0
"""A longer motion is none of a body: values that alternate, or noise, are called one too. No source."""

OUTLINE_COLUMNS = 400
"""Columns of the outline of a recording: the chart in which its edges are moved is not wider."""


def counts_as_night(free_s: float) -> bool:
    """Whether a recording with so long a part free of work is called a night, by window, report and archive alike.

    To the minute, as lengths are shown: samples every half second for 4 h span half a second less than 4 h.
    """
    return round(free_s / 60.0) * 60 >= MIN_NIGHT_S


def date_and_minute(began: datetime) -> str:
    """Format when a night began: '20 Nov 2026 from 23:10'."""
    return tr("{day} {month} {year} from {time}").format(
        day=began.day, month=month_text(began), year=began.year, time=f"{began:%H:%M}"
    )


@dataclass(frozen=True, slots=True)
class RunSpan:
    """When a run began, and for how long it recorded.

    Args:
        run_id: id of the run.
        started_utc_ns: its start, UTC ns.
        length_ns: time from its start to its end, ns: to its last value where no end was written; 0 where it has no
            value and no overload.
        simulated: whether it was simulated; such a run is never in one night with a measured one.
        ended: whether the user ended it; False where it goes on, or was cut off.
    """

    run_id: int
    started_utc_ns: int
    length_ns: int
    simulated: bool = False
    ended: bool = False

    @property
    def end_utc_ns(self) -> int:
        """Its end, UTC ns."""
        return self.started_utc_ns + self.length_ns


def same_nights(runs: Iterable[RunSpan]) -> list[list[RunSpan]]:
    """Group runs, in the order recorded, that follow each other closely enough to be one night.

    A simulated run that lies wholly before those recorded earlier is another night: a practice night is dated to an
    evening before the visit.
    """
    groups: list[list[RunSpan]] = []
    for run in runs:
        ended_ns = max((earlier.end_utc_ns for earlier in groups[-1]), default=0) if groups else 0
        longest_ns = SAME_NIGHT_ENDED_NS if groups and groups[-1][-1].ended else SAME_NIGHT_NS
        soon = run.started_utc_ns - ended_ns <= longest_ns
        dated_back = bool(groups) and run.simulated and run.end_utc_ns < groups[-1][0].started_utc_ns
        if groups and soon and not dated_back and run.simulated == groups[-1][-1].simulated:
            groups[-1].append(run)
        else:
            groups.append([run])
    return groups


def offsets_ns(runs: Sequence[RunSpan]) -> list[int]:
    """Return where each run of one night begins on the night's time line, in ns since the first run's start.

    The time line never goes back, even where the computer's clock was set back between two runs.
    """
    offsets: list[int] = []
    end_ns = 0
    for run in runs:
        offsets.append(max(run.started_utc_ns - runs[0].started_utc_ns, end_ns))
        end_ns = offsets[-1] + run.length_ns
    return offsets


@dataclass(frozen=True, slots=True)
class NightSpan:
    """When a recording that counts as a night was free of work, or lies between the edges that the user moved.

    Args:
        run_ids: ids of its runs.
        start_utc_ns: its start, UTC ns.
        end_utc_ns: its end, UTC ns.
    """

    run_ids: tuple[int, ...]
    start_utc_ns: int
    end_utc_ns: int


def night_spans(runs: Sequence[RunSpan], work: Sequence[WorkTime], moved: MovedByRun) -> list[NightSpan]:
    """List the recordings of a visit that count as a night, without a look at their samples.

    Args:
        runs: runs of the visit, in the order recorded.
        work: when somebody worked.
        moved: edges that the user moved.
    """
    found = []
    for group in same_nights(runs):
        offsets, start_utc_ns = offsets_ns(group), group[0].started_utc_ns
        whole = (0.0, (offsets[-1] + group[-1].length_ns) / NS_PER_S)
        free = longest_free(whole, _on_time_line(work, group, offsets))
        edges = moved.get(group[0].run_id, FOUND_EDGES)
        if edges == FOUND_EDGES and not counts_as_night(free[1] - free[0]):
            continue
        start_s, end_s = _moved_stretch(free, edges, start_utc_ns, whole)
        found.append(
            NightSpan(
                tuple(run.run_id for run in group),
                start_utc_ns + round(start_s * NS_PER_S),
                start_utc_ns + round(end_s * NS_PER_S),
            )
        )
    return found


def _on_time_line(work: Sequence[WorkTime], runs: Sequence[RunSpan], offsets: Sequence[int]) -> list[Stretch]:
    """Return when somebody worked, in seconds since the start of the first one of the runs.

    Args:
        work: when somebody worked.
        runs: the runs of one recording.
        offsets: where each run begins on the time line, ns.
    """

    def time_s(utc_ns: int) -> float:
        begun = [i for i, run in enumerate(runs) if run.started_utc_ns <= utc_ns]
        i = begun[-1] if begun else 0
        return (offsets[i] + utc_ns - runs[i].started_utc_ns) / NS_PER_S

    return [(time_s(piece.start_utc_ns), time_s(piece.end_utc_ns)) for piece in work]


def _moved_stretch(found: Stretch, edges: MovedEdges, start_utc_ns: int, whole: Stretch) -> Stretch:
    """Return a stretch with the edges that the user moved, within the recording.

    Args:
        found: the stretch with the found edges, s.
        edges: the moved ones.
        start_utc_ns: start of the recording, UTC ns.
        whole: start and end of the recording, s.
    """
    start_s, end_s = (
        edge_s if utc_ns is None else min(max((utc_ns - start_utc_ns) / NS_PER_S, whole[0]), whole[1])
        for edge_s, utc_ns in zip(found, (edges.start_utc_ns, edges.end_utc_ns), strict=True)
    )
    # Both of a pair that is out of order would be wrong: a found edge gives way to a moved one.
    if start_s < end_s:
        return start_s, end_s
    return (whole[0], end_s) if edges.start_utc_ns is None else (start_s, whole[1])


@dataclass(frozen=True, slots=True)
class ClockSet:
    """The computer's clock was set in a recording. Times of its run are by the clock as it was when the run began.

    Args:
        time_s: when, in seconds since the start of the night; below 0 before it.
        before_utc_ns: what the clock showed before, UTC ns.
        after_utc_ns: what it showed after, UTC ns.
        offset_s: what has to be added to the times of the run to have them by the clock as it was set, s.
        message: the notice of it.
    """

    time_s: float
    before_utc_ns: int
    after_utc_ns: int
    offset_s: float
    message: str

    @property
    def offset_text(self) -> str:
        """By how much the times of the run differ from the clock as it was set: '2:00:00 later', or '2.2 s later'.

        Empty where they agree to within `SAME_CLOCK_S`, as after a clock was set there and back.
        """
        away_s = abs(self.offset_s)
        if away_s < SAME_CLOCK_S:
            return ""
        hours, rest = divmod(round(away_s), 3600)
        text = tr("{duration} later") if self.offset_s >= 0 else tr("{duration} earlier")
        seconds = tr("{seconds} s").format(seconds=fixed(away_s, 1))
        duration = seconds if away_s < 60 else f"{hours}:{rest // 60:02}:{rest % 60:02}"
        return text.format(duration=duration)


@dataclass(frozen=True, slots=True)
class Night:
    """One night of a visit, its times in seconds since its start.

    Args:
        number: its number, counted from 1 in the order recorded.
        runs: the runs of its recording.
        start_utc_ns: start of the night, UTC ns.
        zone: local time zone where it was recorded.
        zone_name: name of the zone, for people.
        record: its samples and events.
        run_starts_s: start of each run on the night's time line, s, by the run's id; below 0 before the night.
        context: set-up and checks as they were when the night ended; None for a night that is in no visit log.
        edges: its edges within the recording; None for a night that is in no visit log.
        outline: lowest and highest values of the whole recording, its times from the recording's start.
        clock_set: the times at which the computer's clock was set while it was recorded.
        doubted: start and end of each part of it in which the display may have stood still: its values count.
        conditions: what was on in it, in the order of time; empty for a night that is in no visit log.
        spot: where the person lay.
        left_out: the parts of its recording that are not of the night, in order.
    """

    number: int
    runs: tuple[Run, ...]
    start_utc_ns: int
    zone: tzinfo
    zone_name: str
    record: NightRecord
    run_starts_s: Mapping[int, float] = field(default_factory=dict)
    context: Context | None = None
    edges: NightEdges | None = None
    outline: Bands = field(default_factory=list)
    clock_set: tuple[ClockSet, ...] = ()
    doubted: tuple[Stretch, ...] = ()
    conditions: tuple[NightCondition, ...] = ()
    spot: NightSpot = NOWHERE_KNOWN
    left_out: tuple[LeftOut, ...] = ()

    @property
    def conditions_text(self) -> str:
        """What was on in it: 'everything off; from 03:10 everything on', or 'not entered'."""
        return self.conditions_as(tr_kept)

    def conditions_as(self, shown: Callable[[str], str]) -> str:
        """The same in other words.

        Args:
            shown: gives what was on in words, from how the log keeps it.
        """
        told = [
            (change.since_s, shown(change.condition) if change.condition else tr(NOT_ENTERED))
            for change in self.conditions
        ]
        return "; ".join(
            tr("from {time} {condition}").format(time=self.clock_minute(since_s), condition=text)
            if since_s
            else text
            for since_s, text in told
        ) or tr(NOT_ENTERED)

    @property
    def frozen(self) -> tuple[Stretch, ...]:
        """Start and end of each part of it in which the display stood still: not counted."""
        return self.record.frozen

    @property
    def frozen_notes(self) -> tuple[str, ...]:
        """When in it the display stood still, or may have, and what that means for its level, in sentences."""
        sure = tr(
            "The display stood still {start} to {end}: not counted. The meter was on HOLD, or had stopped measuring."
        )
        doubtful = tr(
            "From {start} to {end} the display showed one value only: the meter may have been on HOLD, or have "
            "stopped. What is given of that time may be no measurement."
        )
        return tuple(
            text.format(start=self.clock_time(start_s), end=self.clock_time(end_s))
            for text, stretches in ((sure, self.frozen), (doubtful, self.doubted))
            for start_s, end_s in stretches
        )

    def left_out_text(self, stretch: Stretch) -> str:
        """Format a part that is left out: '02:00 to 06:00 (4 h 00 min)'."""
        start_s, end_s = stretch
        return tr("{start} to {end} ({length})").format(
            start=self.clock_minute(start_s),
            end=self.clock_minute(end_s),
            length=format_long_duration(end_s - start_s),
        )

    def stretch_text(self, stretch: Stretch) -> str:
        """The local times of day at which a part of it begins and ends: '23:10:05 to 23:12:00'."""
        return from_to(*map(self.clock_time, stretch))

    @property
    def set_back_s(self) -> tuple[float, ...]:
        """When a run began, by a clock that had been set back since the run before it: the pause has no length."""
        behind = [
            (self.run_starts_s[run.id], (run.started_utc_ns - self.start_utc_ns) / NS_PER_S)
            for run in self.runs
            if run.id in self.run_starts_s
        ]
        return tuple(
            start_s
            for start_s, by_clock_s in behind
            if start_s - by_clock_s > SET_BACK_S and 0.0 < start_s < self.record.end_s
        )

    def missed_text(self, missed_s: float) -> str:
        """For how long nothing was recorded: '12 s', or 'at least 12 s' where a pause is of unknown length.

        Args:
            missed_s: what is known of it, s.
        """
        length = format_long_duration(missed_s)
        return tr("at least {length}").format(length=length) if self.set_back_s else length

    @property
    def clock_notes(self) -> tuple[str, ...]:
        """When and by how much the computer's clock was set in the recording, and what its times are, in sentences."""
        set_back = tr(
            "At {time} the recording was begun again, and the computer's clock had been set back since the one before "
            "it: how long nothing was recorded between them is not known."
        )
        text = tr(
            "At {time}: {message} The times of that run, also after this, are by the clock as it was when the run "
            "began."
        )
        differ = tr("By the clock as it was set they are {offset}.")
        notes = []
        for was_set in self.clock_set:
            note = text.format(time=self.clock_time(was_set.time_s), message=tr_kept(was_set.message))
            offset = was_set.offset_text
            notes.append(f"{note} {differ.format(offset=offset)}" if offset else note)
        return tuple(notes) + tuple(
            set_back.format(time=self.clock_time(time_s)) for time_s in self.set_back_s
        )

    @property
    def simulated(self) -> bool:
        """Whether one of the runs of its recording was simulated."""
        return any(run.simulated for run in self.runs)

    @property
    def counts(self) -> bool:
        """Whether it is called a night: its recording holds one, or the user moved its edges."""
        return counts_as_night(self.free_s) or (self.edges is not None and self.edges.moved)

    @property
    def free_s(self) -> float:
        """Length of the longest part of its recording without work, s."""
        return self.record.end_s if self.edges is None else self.edges.free_s

    @property
    def why_no_night(self) -> str:
        """Why it is not called a night, in a sentence; empty where it is called one."""
        if self.counts:
            return ""
        if self.free_s == self.record.end_s:
            text = tr("The recording of {began} has {length} and is too short for a night ({least}).")
        else:
            text = tr(
                "The recording of {began} has {length} in one piece without readings, checks and labelled switchings "
                "and is too short for a night ({least})."
            )
        return text.format(
            began=self.began_text,
            length=format_long_duration(self.free_s),
            least=format_long_duration(MIN_NIGHT_S),
        )

    def holds(self, run_id: int, since_run_s: float) -> bool:
        """Whether a moment of a run is in the night.

        Args:
            run_id: id of the run.
            since_run_s: the moment, seconds since the run's start.
        """
        if run_id not in self.run_starts_s:
            return False
        return 0.0 <= self.run_starts_s[run_id] + since_run_s <= self.record.end_s

    def utc_ns(self, time_s: float) -> int:
        """The moment `time_s` seconds after the night's start, UTC ns."""
        return self.start_utc_ns + round(time_s * NS_PER_S)

    def local(self, time_s: float) -> datetime:
        """The moment `time_s` seconds after the night's start as local time where it was recorded."""
        return (datetime.fromtimestamp(self.utc_ns(time_s) // NS_PER_S, UTC)).astimezone(self.zone)

    def rfc3339(self, time_s: float) -> str:
        """The moment `time_s` seconds after the night's start as RFC 3339, with the offset that was in force."""
        return self._rfc3339(self.utc_ns(time_s))

    def _rfc3339(self, utc_ns: int) -> str:
        return (
            datetime.fromtimestamp(utc_ns // NS_PER_S, UTC)
            .astimezone(self.zone)
            .isoformat(timespec="seconds")
        )

    def clock_set_times(self, was_set: ClockSet) -> tuple[str, str, str]:
        """RFC 3339 of when the clock was set (by the times of the run), of what it showed before, and after."""
        return (
            self.rfc3339(was_set.time_s),
            self._rfc3339(was_set.before_utc_ns),
            self._rfc3339(was_set.after_utc_ns),
        )

    @property
    def began_text(self) -> str:
        """The local date and time at which it began: '20 Nov 2026 from 23:10'."""
        return date_and_minute(self.local(0.0))

    @property
    def clock_changes(self) -> bool:
        """Whether the local clock is set forward or back in its recording: times of day are then ambiguous.

        What is left out of the recording is told by times of day too.
        """
        whole = (0.0, self.record.end_s) if self.edges is None else self.edges.recording_s
        first_s, last_s = min(whole[0], 0.0), max(whole[1], self.record.end_s)
        return self.local(first_s).utcoffset() != self.local(last_s).utcoffset()

    def clock_time(self, time_s: float) -> str:
        """The local time of day `time_s` seconds after the night's start: '23:10:05'.

        With the offset to UTC where the clock changes in the night: '02:30:00 UTC+01:00'.
        """
        return self._time_of_day(time_s, "%H:%M:%S")

    def clock_minute(self, time_s: float) -> str:
        """The local time of day `time_s` seconds after the night's start, as `clock_time` without seconds: '23:10'."""
        return self._time_of_day(time_s, "%H:%M")

    def clock_label(self, time_s: float) -> str:
        """The local time of day `time_s` seconds after the night's start for an axis: '23:10', never with an offset."""
        return f"{self.local(time_s):%H:%M}"

    def _time_of_day(self, time_s: float, pattern: str) -> str:
        when = self.local(time_s)
        return f"{when:{pattern}}" + (f" {offset_of(when)}" if self.clock_changes else "")

    def moment(self, time_s: float) -> tuple[int, float] | None:
        """The run that recorded `time_s` seconds after the night's start, and the seconds since that run's start.

        None for a night without runs.
        """
        begun = [run.id for run in self.runs if self.run_starts_s[run.id] <= time_s]
        if not self.runs:
            return None
        run_id = begun[-1] if begun else self.runs[0].id
        return run_id, time_s - self.run_starts_s[run_id]


def nights(log: VisitLog) -> list[Night]:
    """Return the nights of a visit, one for each recording whatever its length, oldest first, each within its edges.

    A recording that does not count as a night has its whole length, unless the user moved its edges.
    """
    samples, events = log.samples.after(), log.events.with_open()
    runs = {run.id: run for run in log.runs.all()}
    events_of = {run_id: [e.event for e in events if e.run_id == run_id] for run_id in runs}
    groups = same_nights([_run_span(run, samples, events_of[run.id]) for run in runs.values()])
    work, moved = _work_times(log, runs.values()), moved_edges(log.facts.get(NIGHT_EDGES))
    going_on = _run_going_on(log)
    notices = log.notices.after(0)
    frozen, doubted = _frozen_and_doubted(notices)
    found = []
    for number, group in enumerate(groups, 1):
        recording = _recording(
            number,
            [runs[span.run_id] for span in group],
            group,
            samples,
            events_of,
        )
        stood_still = recording.record.without_frozen(_in_night(recording, frozen))
        recording = replace(recording, record=with_quiet_stretches(stood_still))
        work_s = _on_time_line(work, group, offsets_ns(group))
        last = runs[group[-1].run_id]
        night = _within_edges(recording, work_s, moved.get(group[0].run_id, FOUND_EDGES))
        found.append(_as_not_ended(night, going_on) if last.ended_utc_ns is None else night)
    clock_set = [notice for notice in notices if notice.kind == CLOCK_SET]
    entered = night_spot_entries(log)
    return [
        replace(
            night,
            context=_context(log, night),
            conditions=night_conditions(
                log, night.run_starts_s, night.start_utc_ns, night.utc_ns(night.record.end_s)
            ),
            spot=entered_for(entered, night.run_starts_s, night.start_utc_ns) or NOWHERE_KNOWN,
            clock_set=_clock_set(night, clock_set),
            doubted=_in_night(night, doubted),
        )
        for night in found
    ]


FrozenByRun = Mapping[int, Sequence[FrozenStretch]]


def _frozen_and_doubted(notices: Iterable[Notice]) -> tuple[FrozenByRun, FrozenByRun]:
    """Return when the display of each run stood still, and when it only may have."""
    by_run = frozen_by_run(notices)
    frozen, doubted = (
        {run_id: [one for one in stretches if one.is_sure is sure] for run_id, stretches in by_run.items()}
        for sure in (True, False)
    )
    return frozen, doubted


def _in_night(night: Night, by_run: FrozenByRun) -> tuple[Stretch, ...]:
    """Return the parts of a night that are in such times of its runs, s since its start.

    Args:
        night: the night.
        by_run: the times of each run.
    """
    found = []
    for run in night.runs:
        begun_s = night.run_starts_s[run.id]
        later = [start_s for start_s in night.run_starts_s.values() if start_s > begun_s]
        run_end_s = min(later, default=night.record.end_s)
        for stretch in by_run.get(run.id, ()):
            start_s = max(begun_s + stretch.start_s, 0.0)
            end_s = min(begun_s + stretch.end_s, run_end_s, night.record.end_s)
            if start_s < end_s:
                found.append((start_s, end_s))
    return tuple(found)


def _run_going_on(log: VisitLog) -> int | None:
    """Return the id of the run that a recorder is at work on; None where none is."""
    live = log.recorder.live()
    return None if live is None or live.ended or log.recorder.is_stale(live) else live.run_id


def _as_not_ended(night: Night, going_on: int | None) -> Night:
    """A night whose last run has no end: a recorder is at work on it, was cut off, or ended in another file.

    Args:
        night: the night.
        going_on: id of the run that a recorder is at work on; None where none is.
    """
    edges = night.edges
    if edges is None or edges.ends is not EdgeCause.RECORDING:
        return night
    ends = EdgeCause.GOING_ON if night.runs[-1].id == going_on else EdgeCause.BROKEN_OFF
    return replace(night, edges=replace(edges, ends=ends))


def _clock_set(night: Night, notices: Iterable[Notice]) -> tuple[ClockSet, ...]:
    """Return when and by how much the computer's clock was set in the recording of a night.

    Args:
        night: the night.
        notices: those of the visit that the clock was set, oldest first.
    """
    ahead_ns = {run.id: 0 for run in night.runs}
    found = []
    for notice in notices:
        if notice.run_id not in ahead_ns:
            continue
        before_utc_ns = notice.steady_utc_ns + ahead_ns[notice.run_id]
        ahead_ns[notice.run_id] = notice.utc_ns - notice.steady_utc_ns
        found.append(
            ClockSet(
                (notice.steady_utc_ns - night.start_utc_ns) / NS_PER_S,
                before_utc_ns,
                notice.utc_ns,
                ahead_ns[notice.run_id] / NS_PER_S,
                notice.message,
            )
        )
    return tuple(found)


def _context(log: VisitLog, night: Night) -> Context:
    end_utc_ns, run = night.utc_ns(night.record.end_s), night.runs[-1]
    line_id = log.samples.line_at(run.id, end_utc_ns - run.started_utc_ns)
    return log.checks.context_at(end_utc_ns, run.id, line_id)


def longest_night(log: VisitLog) -> Night:
    """Return the longest recording of a visit; raises StillvoltError where nothing was recorded."""
    return longest_of(nights(log))


def longest_of(found: Sequence[Night]) -> Night:
    """Return the longest one of a visit's nights; raises StillvoltError where there is none."""
    if not found:
        raise StillvoltError(
            tr("Nothing has been recorded in this visit."), next_step=tr("Record a night first.")
        )
    return max(found, key=lambda night: (night.counts, night.record.end_s))


def _work_times(log: VisitLog, runs: Iterable[Run]) -> list[WorkTime]:
    readings = [(r.start_utc_ns, r.utc_ns) for r in log.readings.all()]
    checks_ns = [check.utc_ns for check in log.checks.all()]
    # A check that was begun is work as well, whatever became of it.
    checks_ns += [noted.utc_ns for attempt in log.checks.still_open() for noted in attempt.noted]
    labels = [LabelTime(label.utc_ns, label.run_id, label.t_ns) for label in log.step_labels.all()]
    return work_times(readings, checks_ns, labels, {run.id: run.started_utc_ns for run in runs})


def _within_edges(recording: Night, work_s: Sequence[Stretch], moved: MovedEdges) -> Night:
    """Return the part of a recording between the edges of its night.

    Args:
        recording: the whole recording as if it were a night.
        work_s: when somebody worked, s since the recording's start.
        moved: the edges that the user moved.
    """
    record = recording.record
    whole = (0.0, record.end_s)
    free = longest_free(whole, work_s)
    free_s = free[1] - free[0]
    if not counts_as_night(free_s):
        free = whole
    found = lying_stretch(record, free) if counts_as_night(free_s) else whole
    start_s, end_s = _moved_stretch(found, moved, recording.start_utc_ns, whole)
    causes = [
        EdgeCause.MOVED if utc_ns is not None
        else EdgeCause.RECORDING if edge_s == whole_edge_s
        else EdgeCause.WORK if edge_s == free_edge_s
        else EdgeCause.LYING if _moves_in(record, around_s)
        else EdgeCause.STILL
        for utc_ns, edge_s, free_edge_s, whole_edge_s, around_s in zip(
            (moved.start_utc_ns, moved.end_utc_ns), (start_s, end_s), free, whole,
            ((start_s - AROUND_BED_S, start_s + NEAR_BED_S), (end_s - NEAR_BED_S, end_s + AROUND_BED_S)), strict=True,
        )
    ]  # fmt: skip
    part = record.part(start_s, end_s)
    return replace(
        recording,
        start_utc_ns=recording.utc_ns(start_s),
        record=part,
        run_starts_s={run_id: at_s - start_s for run_id, at_s in recording.run_starts_s.items()},
        edges=NightEdges((-start_s, record.end_s - start_s), free_s, *causes),
        outline=value_bands(record.times_s, record.volts, record.end_s, OUTLINE_COLUMNS),
        left_out=tuple(
            _left_out(record, part, beyond, start_s, cause)
            for beyond, cause in (((0.0, start_s), causes[0]), ((end_s, record.end_s), causes[1]))
            if beyond[0] < beyond[1] and cause in LEFT_OUT_BECAUSE
        ),
    )


def _left_out(
    record: NightRecord, night: NightRecord, beyond: Stretch, start_s: float, cause: EdgeCause
) -> LeftOut:
    """Return what is known of a part that is left out.

    Args:
        record: the whole recording.
        night: the night in it.
        beyond: the part, s since the recording's start.
        start_s: start of the night, s since the recording's start.
        cause: why it is left out.
    """
    inside = (record.times_s >= beyond[0]) & (record.times_s <= beyond[1])
    for frozen_s, until_s in record.frozen:
        inside &= (record.times_s < frozen_s) | (record.times_s > until_s)
    low, high = np.percentile(record.volts[inside], (5.0, 95.0)).tolist() if inside.any() else (0.0, 0.0)
    still = night.volts[night.still_mask()]
    level = float(np.percentile(still, 95.0)) if len(still) else high
    return LeftOut(
        (beyond[0] - start_s, beyond[1] - start_s),
        LEFT_OUT_BECAUSE[cause],
        (low, high) if inside.any() else None,
        high > HIGHER_TIMES * level and high - level >= HIGHER_VOLTS,
    )


def _moves_in(record: NightRecord, around_s: Stretch) -> bool:
    """Return whether a body moved in a time around an edge of the night: else nobody got up, or lay down."""
    return any(
        motion.start_s <= around_s[1]
        and motion.end_s >= around_s[0]
        and motion.end_s - motion.start_s <= LONGEST_WALK_S
        for motion in record.motions
    )


def _run_span(run: Run, samples: Samples, events: Sequence[Event]) -> RunSpan:
    of_run = samples.steady_utc_ns[samples.run_id == run.id]
    length_ns = 0
    if len(of_run) or any(isinstance(event, Overload) for event in events):
        # The last value is not the end: the meter may have been silent, or beyond its range, from then on.
        ended_ns = (run.ended_utc_ns or 0) - run.started_utc_ns
        event_ends_ns = [round(span_s(event)[1] * NS_PER_S) for event in events]
        values_end_ns = [int(utc_ns) - run.started_utc_ns for utc_ns in of_run[-1:]]
        length_ns = max(ended_ns, *values_end_ns, *event_ends_ns)
    return RunSpan(run.id, run.started_utc_ns, length_ns, run.simulated, is_on_purpose(run.end_reason))


def _recording(
    number: int,
    runs: Sequence[Run],
    spans: Sequence[RunSpan],
    samples: Samples,
    events: Mapping[int, Sequence[Event]],
) -> Night:
    """Put the runs of a recording on one time line.

    Args:
        number: number of the recording, counted from 1.
        runs: its runs, in the order recorded.
        spans: spans of the same runs.
        samples: samples of the whole visit.
        events: events of each run, by its id.
    """
    start_ns = runs[0].started_utc_ns
    offsets = offsets_ns(spans)
    times_s, volts = [], []
    placed: list[Event] = []
    ended_ns = 0
    for run, span, offset_ns in zip(runs, spans, offsets, strict=True):
        if offset_ns - ended_ns > PAUSE_IS_GAP_NS:
            start_s, end_s = ended_ns / NS_PER_S, offset_ns / NS_PER_S
            placed.append(Gap(start_s, end_s, end_s))
        ended_ns = offset_ns + span.length_ns
        chosen = samples.run_id == run.id
        times_s.append((samples.steady_utc_ns[chosen] - run.started_utc_ns + offset_ns) / NS_PER_S)
        volts.append(samples.volts[chosen])
        placed += [shifted(event, offset_ns / NS_PER_S) for event in events[run.id]]
    record = NightRecord(
        np.concatenate(times_s),
        np.concatenate(volts),
        tuple(sorted(placed, key=lambda e: e.time_s if isinstance(e, Step) else e.start_s)),
        ended_ns / NS_PER_S,
    )
    starts_s = {run.id: offset_ns / NS_PER_S for run, offset_ns in zip(runs, offsets, strict=True)}
    return Night(number, tuple(runs), start_ns, zone_of(runs[0]), runs[0].zone, record, starts_s)
