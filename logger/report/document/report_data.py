"""Everything that a report says of a visit, read from the log at one moment and worked out by the parts that the window
uses too. Nothing here is text or picture yet.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

import numpy as np

from logger.clock import NS_PER_S
from logger.metrology.setup import Setup
from logger.night.analysis.night_record import Floats
from logger.night.analysis.schedule_match import ScheduleMatch, match_schedule
from logger.night.analysis.summary import NightSummary, summarise
from logger.night.recorded_nights import Night, counts_as_night, nights
from logger.night.schedule import FACT as SCHEDULE_FACT
from logger.night.schedule import planned_in
from logger.settling.events import Gap, Step
from logger.sweep.confirmation import Effect
from logger.sweep.labelled_steps import FoundStep, KnownStep, effects, known_steps
from logger.sweep.sweep_progress import Progress, progress
from logger.sweep.sweep_rows import SweepRow, sweep_rows
from logger.sweep.switch_off_plan import LEAST_COMBINATIONS, SwitchOffPlan, switch_off_plan
from logger.visit import VisitLog
from logger.visit.records.records import (
    CheckResult,
    LoggedEvent,
    Mark,
    Notice,
    Reading,
    Run,
    Source,
    Span,
    Spot,
)
from logger.visit.results.on_off_result import SpotResult
from logger.visit.results.span_review import SpanReview

Told = Callable[[str], None]
"""Is told what is being done, in a few words."""

AROUND_S = 15.0
"""So much of the trace is shown before and after what a value rests on."""

LONGEST_SHOWN_S = 120.0
"""Of a longer span only its end is shown."""


@dataclass(frozen=True, slots=True)
class Excerpt:
    """The trace around the stretch that a value rests on. Times are seconds from the start of what is shown."""

    times_s: Floats
    volts: Floats
    still_s: tuple[float, float]
    level_volts: float


@dataclass(frozen=True, slots=True)
class SweptSpot:
    """A spot at which breakers were swept."""

    spot: Spot
    rows: tuple[SweepRow, ...]
    found: Progress


@dataclass(frozen=True, slots=True)
class NightFacts:
    """A night with what was found in it and what was planned."""

    night: Night
    summary: NightSummary
    planned: ScheduleMatch | None
    """None where nothing was planned."""


@dataclass(frozen=True, slots=True)
class ReportData:
    """A visit."""

    title: str
    """The file's name without its ending."""
    setup: Setup
    spots: tuple[Spot, ...]
    results: dict[int, SpotResult]
    """On and off, by spot."""
    readings: tuple[Reading, ...]
    doubts: dict[int, str]
    """What speaks against a reading by now, by its id; readings without are missing."""
    excerpts: dict[int, Excerpt]
    """By reading."""
    checks: tuple[CheckResult, ...]
    check_doubts: dict[int, str]
    """What speaks against a check by now, by its id."""
    check_excerpts: dict[int, tuple[tuple[str, Excerpt], ...]]
    """The trace of each of its steps with the step's name, by check."""
    sources: tuple[Source, ...]
    every_source: dict[int, Source]
    every_spot_name: dict[int, str]
    swept: tuple[SweptSpot, ...]
    tonight: SwitchOffPlan | None
    steps: tuple[KnownStep, ...]
    """Outside nights, and those of nights that have a name."""
    effects: dict[tuple[int | None, int], Effect]
    nights: tuple[NightFacts, ...]
    marks: tuple[Mark, ...]
    notices: tuple[Notice, ...]
    gaps: tuple[tuple[int, int], ...]
    """Start and end of each, UTC nanoseconds."""
    refused: dict[str, int]
    """Lines that were no sample, by how they were read."""
    runs: tuple[Run, ...]
    run_started_ns: dict[int, int]
    zone: tzinfo | None
    """Of the place where it was recorded; None for this computer's."""
    checksum: str

    def local(self, utc_ns: int) -> datetime:
        """The time of day where it was recorded."""
        return datetime.fromtimestamp(utc_ns // NS_PER_S, UTC).astimezone(self.zone)

    @property
    def standing(self) -> list[Reading]:
        """Readings that are not voided."""
        return [reading for reading in self.readings if reading.void_reason is None]

    def step_utc_ns(self, known: KnownStep) -> int:
        """When a step was."""
        return self.run_started_ns[known.found.run_id] + known.found.t_ns


def read_facts(log: VisitLog, told: Told = lambda _: None) -> ReportData:
    """Read a visit.

    Args:
        log: an open visit log; nothing is written.
        told: is told what is being done.
    """
    with log.read_transaction():
        told("reading the log")
        return _read(log, told)


def _read(log: VisitLog, told: Told) -> ReportData:
    setup, spots, readings, sources = (
        log.setup.current(),
        log.spots.all(),
        log.readings.all(),
        log.circuits.all(),
    )
    checks, runs, events = log.checks.all(), log.runs.all(), log.events.after()
    standing = SpanReview()
    live = log.recorder.live()
    if live is not None and not live.ended:
        standing.recording_run_id = live.run_id
    standing.append(events)
    told("reading the nights")
    all_nights = nights(log)
    of_nights = [night for night in all_nights if counts_as_night(night.record.end_s)]
    told("working out tonight's list")
    tonight = switch_off_plan(readings, [(s.id, s.name) for s in spots], sources, setup)
    told("cutting out the traces")
    started = {run.id: run.started_utc_ns for run in runs}
    known = _known_steps(log, events)
    night_runs = {run.id for night in of_nights for run in night.runs}
    told("computing the checksum")
    return ReportData(
        title=log.path.stem,
        setup=setup,
        spots=tuple(spots),
        results={spot.id: SpotResult.of(readings, spot.id) for spot in spots},
        readings=tuple(readings),
        doubts={r.id: doubt for r in readings if (doubt := standing.of_reading(r))},
        excerpts={r.id: cut for r in readings if (cut := _of_reading(log, r, started)) is not None},
        checks=tuple(checks),
        check_doubts={
            check.id: doubt
            for check in checks
            if (doubt := next(filter(None, (standing.of_span(s.span) for s in check.steps)), ""))
        },
        check_excerpts={
            check.id: tuple((step.name, _of_span(log, step.span)) for step in check.steps) for check in checks
        },
        sources=tuple(sources),
        every_source=log.circuits.with_removed(),
        every_spot_name={r.spot_id: r.spot_name for r in readings} | {s.id: s.name for s in spots},
        swept=tuple(_swept(readings, spots, sources)),
        tonight=tonight,
        steps=tuple(k for k in known if k.found.run_id not in night_runs or k.name is not None),
        effects=effects(known),
        nights=tuple(_night(night, log.facts.get(SCHEDULE_FACT), setup.target_volts) for night in of_nights),
        marks=tuple(log.marks.all()),
        notices=tuple(log.notices.after()),
        gaps=tuple((e.start_utc_ns, e.end_utc_ns) for e in events if isinstance(e.event, Gap)),
        refused=_counted(log),
        runs=tuple(runs),
        run_started_ns=started,
        zone=all_nights[-1].zone if all_nights else None,
        checksum=log.checksum(),
    )


def _known_steps(log: VisitLog, events: Sequence[LoggedEvent]) -> list[KnownStep]:
    found = [FoundStep(e.run_id, e.event, True) for e in events if isinstance(e.event, Step)]
    return known_steps(found, log.step_labels.all())


def _swept(readings: Sequence[Reading], spots: Sequence[Spot], sources: Sequence[Source]) -> list[SweptSpot]:
    found = [(spot, progress(readings, spot.id, sources)) for spot in spots]
    return [
        SweptSpot(spot, tuple(sweep_rows(done, sources)), done)
        for spot, done in found
        if len(done.taken) >= LEAST_COMBINATIONS
    ]


def _night(night: Night, schedule: str, target_volts: float) -> NightFacts:
    summary = summarise(night.record, target_volts)
    planned = planned_in(night, schedule) if schedule.strip() else []
    return NightFacts(night, summary, match_schedule(planned, summary.steps) if planned else None)


def _counted(log: VisitLog) -> dict[str, int]:
    counts: dict[str, int] = {}
    for line in log.samples.refused_lines():
        counts[line.status] = counts.get(line.status, 0) + 1
    return counts


def _of_reading(log: VisitLog, reading: Reading, started: dict[int, int]) -> Excerpt | None:
    run_id, start_ns, end_ns = reading.run_id, reading.start_utc_ns, reading.end_utc_ns
    if run_id is None or start_ns is None or end_ns is None:
        return None
    zero_ns = started[run_id]
    return _excerpt(log, run_id, start_ns - zero_ns, end_ns - zero_ns, reading.volts)


def _of_span(log: VisitLog, span: Span) -> Excerpt:
    return _excerpt(log, span.run_id, span.start_t_ns, span.end_t_ns, span.volts)


def _excerpt(log: VisitLog, run_id: int, start_t_ns: int, end_t_ns: int, level_volts: float) -> Excerpt:
    shown_from_ns = max(start_t_ns, end_t_ns - round(LONGEST_SHOWN_S * NS_PER_S))
    from_ns = max(shown_from_ns - round(AROUND_S * NS_PER_S), 0)
    until_ns = end_t_ns + round(AROUND_S * NS_PER_S)
    samples = log.samples.between(
        log.samples.line_at(run_id, from_ns), log.samples.line_at(run_id, until_ns) - 1
    )
    zero_ns = log.runs.started_utc_ns(run_id) + from_ns
    times_s: Floats = (samples.steady_utc_ns - zero_ns).astype(np.float64) / NS_PER_S
    still_s = (shown_from_ns - from_ns) / NS_PER_S, (end_t_ns - from_ns) / NS_PER_S
    return Excerpt(times_s, samples.volts, still_s, level_volts)
