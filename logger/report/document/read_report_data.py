"""Reads from a visit log everything that its report is written from."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace

from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.night.analysis.schedule_match import match_schedule
from logger.night.night_level import summary_of
from logger.night.recorded_nights import Night, nights
from logger.night.schedule import planned_in
from logger.plan.plan_basis import Read, basis_of, loads_in
from logger.plan.remedy_plan import remedy_plan
from logger.report.document.excerpts import excerpt_of_reading, excerpt_of_span
from logger.report.document.report_data import Excerpt, NightData, ReportData, SpotPhoto, SweptSpot
from logger.report.reading_doubts import doubts_of
from logger.report.used_meters import recorded_meters
from logger.settling.events import Gap
from logger.sweep.labelled_steps import KnownStep, detected_steps, known_steps, source_effects
from logger.sweep.sweep_progress import MIN_COMBINATIONS, is_between, sweep_progress
from logger.sweep.sweep_rows import sweep_rows
from logger.sweep.switch_off_plan import switch_off_plan
from logger.translation import marked
from logger.visit import VisitLog
from logger.visit.records.fact_names import CONDITION, REST_ELSEWHERE, REST_OF, SCHEDULE
from logger.visit.records.home_records import Source, Spot
from logger.visit.records.reading_records import CheckResult, Reading
from logger.visit.records.recording_records import LoggedEvent
from logger.visit.results.check_review import failed_later
from logger.visit.results.on_off_result import SpotResult
from logger.visit.results.posture_repeats import repeatability_on_site
from logger.visit.results.span_review import SpanReview
from logger.visit.storage.rest_file import rest_sentences

OnProgress = Callable[[str], None]
"""Is called with a few words on what is being done."""


def read_report_data(log: VisitLog, on_progress: OnProgress = lambda _: None) -> ReportData:
    """Read a visit, all of it at one moment.

    Args:
        log: an open visit log; nothing is written.
        on_progress: is called with a few words on what is being done, in English.
    """
    with log.read_transaction():
        on_progress(marked("reading the log"))
        return _read(log, on_progress)


# long: a line for each field of the data
def _read(log: VisitLog, on_progress: OnProgress) -> ReportData:
    setup, spots, sources = log.setup.current(), log.spots.all(), log.circuits.all()
    readings = log.present_readings()
    checks, runs, events = log.checks.all(), log.runs.all(), log.events.after()
    salvage, integrity = log.facts.salvage(), log.integrity()
    notices = tuple(log.notices.after())
    review = SpanReview.of_log(events, notices, log.recorder.live())
    on_progress(marked("reading the nights"))
    stretches = nights(log)
    of_nights = [night for night in stretches if night.counts]
    on_progress(marked("working out tonight's list"))
    tonight = switch_off_plan(readings, [(s.id, s.name) for s in spots], sources, setup)
    doubts = doubts_of(log, review, integrity, tonight)
    on_progress(marked("cutting out the traces"))
    started_ns = {run.id: run.started_utc_ns for run in runs}
    excerpts = {r.id: excerpt_of_reading(log, r, started_ns) for r in readings}
    known = _known_steps(log, events)
    effects = source_effects(known, repeatability_on_site(readings))
    of_night_data = tuple(_nights(log, of_nights, setup.target_volts))
    zone = stretches[-1].zone if stretches else None
    on_progress(marked("working out the remedies"))
    basis = basis_of(
        log,
        Read(setup, tuple(spots), tuple(sources), tuple(readings), tuple(checks)),
        tonight=tonight,
        effects=effects,
        loads=[load for night in of_night_data for load in loads_in(night.summary, night.night.record.end_s)],
        zone=zone,
    )
    on_progress(marked("computing the checksum"))
    return ReportData(
        title=log.path.stem,
        setup=setup,
        spots=tuple(spots),
        results={spot.id: SpotResult.of(readings, spot.id, sources) for spot in spots},
        readings=tuple(readings),
        doubts=doubts.readings,
        contradicting=doubts.contradicting,
        excerpts={reading_id: excerpt for reading_id, excerpt in excerpts.items() if excerpt is not None},
        checks=tuple(checks),
        failed_later=tuple(failed_later(checks)),
        check_attempts=tuple(log.checks.still_open()),
        check_doubts=doubts.checks,
        check_lapses=log.checks.lapses(),
        check_excerpts=_excerpts_of_checks(log, checks),
        sources=tuple(sources),
        every_source=log.circuits.with_removed(),
        every_spot_name={r.spot_id: r.spot_name for r in readings} | {s.id: s.name for s in spots},
        swept=tuple(_swept(readings, spots, sources)),
        tonight=tonight,
        steps=tuple(k for k in known if k.label is not None or not _in_night(k, of_nights)),
        effects=effects,
        why_no_night=_why_no_night(stretches),
        nights=of_night_data,
        marks=tuple(log.marks.all()),
        marks_about=log.marks.about(),
        notices=notices,
        gaps=tuple((e.start_utc_ns, e.end_utc_ns) for e in events if isinstance(e.event, Gap)),
        refused=_refused_counts(log),
        runs=tuple(runs),
        recorded_meters=recorded_meters(log),
        run_started_ns=started_ns,
        zone=zone,
        plan=remedy_plan(basis),
        checksum=log.checksum(),
        newest_entry=log.newest_entry(),
        salvage=salvage,
        source_details=log.source_details.all(),
        practitioner=log.practitioner.current(),
        spot_details=log.spot_details.all(),
        photos=tuple(_photos(log, spots)),
        circumstances=log.circumstances.current(),
        circumstances_at={r.id: log.circumstances.at(r.utc_ns) for r in readings},
        integrity=integrity,
        stated_on=tuple(log.facts.values_of(CONDITION)),
        rests=rest_sentences(
            log.path,
            {run.started_utc_ns: run.id for run in runs},
            log.facts.get(REST_OF),
            [value for _, value in log.facts.values_of(REST_ELSEWHERE)],
            with_folder=False,
        ),
    )


def _photos(log: VisitLog, spots: Sequence[Spot]) -> Iterator[SpotPhoto]:
    names = {spot.id: spot.name for spot in spots}
    for photo in log.photos.all().values():
        if photo.spot_id not in names:
            continue
        jpeg, problem = b"", ""
        try:
            jpeg = log.photos.picture(photo.id)
        except StillvoltError as error:
            problem = error.what
        yield SpotPhoto(names[photo.spot_id], photo.kind, photo.caption, jpeg, problem)


def _excerpts_of_checks(
    log: VisitLog, checks: Iterable[CheckResult]
) -> dict[int, tuple[tuple[str, Excerpt], ...]]:
    """By check: the name of each step that lines are kept of, and its trace."""
    return {
        check.id: tuple(
            (step.name, excerpt)
            for step in check.steps
            if (excerpt := excerpt_of_span(log, step.span)) is not None
        )
        for check in checks
    }


def _known_steps(log: VisitLog, events: Sequence[LoggedEvent]) -> list[KnownStep]:
    labels, simulated_ids = log.step_labels.all(), log.runs.simulated_ids()
    return known_steps(detected_steps(events), labels, simulated_ids, log.checks.all())


def _why_no_night(recordings: Sequence[Night]) -> str:
    """Why the recording that comes nearest to a night is none; empty where one is a night, or there is none."""
    if not recordings or any(night.counts for night in recordings):
        return ""
    return max(recordings, key=lambda night: night.free_s).why_no_night


def _in_night(known: KnownStep, of_nights: Sequence[Night]) -> bool:
    return any(night.holds(known.found.run_id, known.found.t_ns / NS_PER_S) for night in of_nights)


def _swept(readings: Sequence[Reading], spots: Sequence[Spot], sources: Sequence[Source]) -> list[SweptSpot]:
    found = [(spot, sweep_progress(readings, spot.id, sources)) for spot in spots]
    return [
        SweptSpot(spot, tuple(sweep_rows(done, sources)), done)
        for spot, done in found
        if len(done.taken) >= MIN_COMBINATIONS
        and any(is_between(reading.condition) for same in done.taken.values() for reading in same)
    ]


MORNING_NS = 12 * 3600 * NS_PER_S
"""How long after a night what is entered of it is of it, and not of the next one. No source, ours."""


def _nights(log: VisitLog, of_nights: Sequence[Night], target_volts: float) -> Iterator[NightData]:
    """The nights, each with the circumstances that were entered by the morning after; the last one with the newest."""
    schedule, last = log.facts.get(SCHEDULE), len(of_nights)
    for place, night in enumerate(of_nights, 1):
        circumstances = (
            log.circumstances.current()
            if place == last
            else log.circumstances.at(night.utc_ns(night.record.end_s) + MORNING_NS)
        )
        yield replace(_night(night, schedule, target_volts), circumstances=circumstances)


def _night(night: Night, schedule: str, target_volts: float) -> NightData:
    summary = summary_of(night, target_volts)
    planned = planned_in(night, schedule) if schedule.strip() else []
    matched = match_schedule(planned, summary.steps, summary.loads) if planned else None
    return NightData(night, summary, matched)


def _refused_counts(log: VisitLog) -> dict[str, int]:
    counts: dict[str, int] = {}
    for line in log.samples.refused_lines():
        counts[line.status] = counts.get(line.status, 0) + 1
    return counts
