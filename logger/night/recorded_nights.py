"""The nights of a visit log: what counts as a night, which runs belong together, and each night as plain numbers.

Runs that follow each other within a few hours are one night: a cable that was pulled, or a recorder that was started
again, does not end it. Times of day are kept with the zone in which the night was recorded, so that they are right when
a change to or from daylight-saving time falls into it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, tzinfo

import numpy as np

from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.metrology.context import Context
from logger.night.analysis.night_record import NightRecord
from logger.settling.events import Event, Gap, Step
from logger.visit.records.recording_records import Run, Samples
from logger.visit.storage.time_zone import zone_of
from logger.visit.storage.visit_log import VisitLog

MIN_NIGHT_S = 4 * 3600.0
"""A recording counts as a night from this length on. The checks, spots and sweep of an evening are recorded as well,
and take up to about three hours without a break; whoever sleeps beside the meter records clearly longer. No source."""

SAME_NIGHT_NS = 3 * 3600 * NS_PER_S
"""Runs with a longer pause between them are two nights."""

PAUSE_IS_GAP_NS = 5 * NS_PER_S
"""A longer pause between two runs of a night is a time without values."""


def counts_as_night(length_s: float) -> bool:
    """Whether a recording of that length is called a night, by window, report and archive alike."""
    return length_s >= MIN_NIGHT_S


@dataclass(frozen=True, slots=True)
class RunSpan:
    """When a run began, and for how long values came.

    Args:
        run_id: id of the run.
        started_utc_ns: its start, UTC ns.
        length_ns: time from its start to its last value, ns; 0 where it has no value.
    """

    run_id: int
    started_utc_ns: int
    length_ns: int

    @property
    def end_utc_ns(self) -> int:
        """The time of the last value, UTC ns."""
        return self.started_utc_ns + self.length_ns


def same_nights(runs: Iterable[RunSpan]) -> list[list[RunSpan]]:
    """Group runs, in the order recorded, that follow each other closely enough to be one night."""
    groups: list[list[RunSpan]] = []
    for run in runs:
        ended_ns = max((earlier.end_utc_ns for earlier in groups[-1]), default=0) if groups else 0
        if groups and run.started_utc_ns - ended_ns <= SAME_NIGHT_NS:
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


def longest_recording_s(runs: Sequence[RunSpan]) -> float:
    """Return the length of the longest recording of a visit, with the runs of one night joined; 0 without a run."""
    lengths_ns = [offsets_ns(group)[-1] + group[-1].length_ns for group in same_nights(runs)]
    return max(lengths_ns, default=0) / NS_PER_S


@dataclass(frozen=True, slots=True)
class Night:
    """One night of a visit, its times in seconds since its start.

    Args:
        number: its number, counted from 1 in the order recorded.
        runs: the runs that it consists of.
        start_utc_ns: start of the first run, UTC ns.
        zone: local time zone where it was recorded.
        zone_name: name of the zone, for people.
        record: its samples and events.
        run_starts_s: start of each run on the night's time line, s, by the run's id.
        context: set-up and checks as they were when the night ended; None for a night that is in no visit log.
    """

    number: int
    runs: tuple[Run, ...]
    start_utc_ns: int
    zone: tzinfo
    zone_name: str
    record: NightRecord
    run_starts_s: Mapping[int, float] = field(default_factory=dict)
    context: Context | None = None

    def utc_ns(self, time_s: float) -> int:
        """The moment `time_s` seconds after the night's start, UTC ns."""
        return self.start_utc_ns + round(time_s * NS_PER_S)

    def local(self, time_s: float) -> datetime:
        """The moment `time_s` seconds after the night's start as local time where it was recorded."""
        return (datetime.fromtimestamp(self.utc_ns(time_s) // NS_PER_S, UTC)).astimezone(self.zone)

    def rfc3339(self, time_s: float) -> str:
        """The moment `time_s` seconds after the night's start as RFC 3339, with the offset that was in force."""
        return self.local(time_s).isoformat(timespec="seconds")

    def clock_time(self, time_s: float) -> str:
        """The local time of day `time_s` seconds after the night's start: '23:10:05'."""
        return f"{self.local(time_s):%H:%M:%S}"

    def clock_minute(self, time_s: float) -> str:
        """The local time of day `time_s` seconds after the night's start, without seconds: '23:10'."""
        return f"{self.local(time_s):%H:%M}"

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
    """Return all recordings of a visit, whatever their length, oldest first, with the runs of one night joined."""
    samples, events = log.samples.after(), log.events.after()
    runs = {run.id: run for run in log.runs.all()}
    groups = same_nights([_run_span(run, samples) for run in runs.values()])
    found = [
        _night(
            number,
            [runs[span.run_id] for span in group],
            group,
            samples,
            {span.run_id: [e.event for e in events if e.run_id == span.run_id] for span in group},
        )
        for number, group in enumerate(groups, 1)
    ]
    return [
        replace(night, context=log.checks.context_at(night.utc_ns(night.record.end_s))) for night in found
    ]


def longest_night(log: VisitLog) -> Night:
    """Return the longest recording of a visit; raises StillvoltError where nothing was recorded."""
    return longest_of(nights(log))


def longest_of(found: Sequence[Night]) -> Night:
    """Return the longest one of a visit's nights; raises StillvoltError where there is none."""
    if not found:
        raise StillvoltError("Nothing has been recorded in this visit.", next_step="Record a night first.")
    return max(found, key=lambda night: night.record.end_s)


def _run_span(run: Run, samples: Samples) -> RunSpan:
    of_run = samples.steady_utc_ns[samples.run_id == run.id]
    return RunSpan(run.id, run.started_utc_ns, int(of_run[-1]) - run.started_utc_ns if len(of_run) else 0)


def _night(
    number: int,
    runs: Sequence[Run],
    spans: Sequence[RunSpan],
    samples: Samples,
    events: Mapping[int, Sequence[Event]],
) -> Night:
    """Put the runs of a night on one time line.

    Args:
        number: number of the night, counted from 1.
        runs: runs of the night, in the order recorded.
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
        placed += [_shifted(event, offset_ns / NS_PER_S) for event in events[run.id]]
    record = NightRecord(
        np.concatenate(times_s),
        np.concatenate(volts),
        tuple(sorted(placed, key=lambda e: e.time_s if isinstance(e, Step) else e.start_s)),
        ended_ns / NS_PER_S,
    )
    starts_s = {run.id: offset_ns / NS_PER_S for run, offset_ns in zip(runs, offsets, strict=True)}
    return Night(number, tuple(runs), start_ns, zone_of(runs[0]), runs[0].zone, record, starts_s)


def _shifted(event: Event, by_s: float) -> Event:
    known_at_s = event.known_at_s + by_s
    if isinstance(event, Step):
        return replace(event, time_s=event.time_s + by_s, known_at_s=known_at_s)
    return replace(event, start_s=event.start_s + by_s, end_s=event.end_s + by_s, known_at_s=known_at_s)
