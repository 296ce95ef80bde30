"""Remedies: what is to be done, each decision on it, and what reading again has shown at each spot."""

from __future__ import annotations

from dataclasses import dataclass

from logger.plan.planned_remedy import PlannedRemedy, RemedyResult, SpotChange
from logger.plan.remedy_plan import remedy_plan_of
from logger.report.export.table import (
    JOINED_BY,
    ExportColumn,
    ExportTable,
    local,
    simulated,
    spot,
    utc,
    utc_texts,
)
from logger.visit.records.remedy_records import Remedy, RemedyEntry
from logger.visit.storage.visit_log import VisitLog


def _kept(log: VisitLog) -> list[PlannedRemedy]:
    if not log.remedies.all():
        return []
    return [remedy for remedy in remedy_plan_of(log, with_nights=False).remedies if remedy.kept is not None]


def _of(remedy: PlannedRemedy) -> Remedy:
    assert remedy.kept is not None
    return remedy.kept


REMEDIES: ExportTable[PlannedRemedy] = ExportTable(
    "remedies",
    "Remedies that somebody has decided on, as they are now.",
    _kept,
    (
        ExportColumn("remedy_id", "", "number in this visit", lambda r: _of(r).id),
        utc(lambda r: _of(r).utc_ns),
        local(lambda r: _of(r).utc_ns),
        ExportColumn("name", "", "what is done, and about what", lambda r: r.name),
        ExportColumn("kind", "", "kind of remedy", lambda r: r.kind.value),
        ExportColumn(
            "sources", "", "circuits and cords that it is about", lambda r: JOINED_BY.join(s.name for s in r.sources)
        ),
        spot(lambda r: r.spot_name),
        ExportColumn("text", "", "in the user's own words", lambda r: r.text),
        ExportColumn("who", "", "who does it", lambda r: r.facts.who.value),
        ExportColumn("effort", "", "none, small, electrician", lambda r: r.facts.effort.value),
        ExportColumn(
            "status", "", "proposed (undone or not wanted), planned, done, proven, no effect, worse",
            lambda r: r.status.value,
        ),
        ExportColumn("not_wanted", "", "yes: it is not wanted", lambda r: "yes" if r.not_wanted else "no"),
        ExportColumn("due", "", "until which day", lambda r: _of(r).due),
        ExportColumn(
            "done_on", "", "on which day it was done; empty: not done, or at the moment of its entry",
            lambda r: (done.done_on if (done := _of(r).done) else ""),
        ),
        ExportColumn("by", "", "who does it or has done it", lambda r: _of(r).by_whom),
        ExportColumn("note", "", "in the user's own words", lambda r: _of(r).note),
        ExportColumn("distance_m", "m", "how far a cord or bed is moved", lambda r: _of(r).distance_m),
        ExportColumn("from_visit", "", "visit that it was taken over from", lambda r: _of(r).from_visit),
        ExportColumn(
            "verdict", "", "what reading again shows; empty until it is done",
            lambda r: r.result.verdict.value if r.result else "",
        ),
        ExportColumn(
            "together_with", "", "other remedies done between the same readings: the verdict is of all together",
            lambda r: JOINED_BY.join(r.result.together_with) if r.result else "",
        ),
        ExportColumn(
            "doubts", "", "what else changed between the readings, or speaks against them",
            lambda r: " ".join(r.result.doubts) if r.result else "",
        ),
        simulated(lambda r: r.result is not None and r.result.simulated),
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class EntryLine:
    """A decision on a remedy."""

    remedy: Remedy
    entry: RemedyEntry


def _entries(log: VisitLog) -> list[EntryLine]:
    return [EntryLine(remedy, entry) for remedy in log.remedies.all() for entry in remedy.entries]


ENTRIES: ExportTable[EntryLine] = ExportTable(
    "remedy_entries",
    "Every decision that was ever entered on a remedy, those that were taken back too.",
    _entries,
    (
        ExportColumn("entry_id", "", "number in this visit", lambda line: line.entry.id),
        ExportColumn("remedy_id", "", "see remedies", lambda line: line.remedy.id),
        utc(lambda line: line.entry.utc_ns),
        local(lambda line: line.entry.utc_ns),
        ExportColumn("decision", "", "planned, done, undone, not wanted", lambda line: line.entry.decision.value),
        ExportColumn(
            "takes_back", "", "entry_id of the mistaken entry that this one takes back; what held before holds again",
            lambda line: "" if line.entry.corrects is None else str(line.entry.corrects),
        ),
        ExportColumn(
            "stands", "", "no: it was taken back, or takes another one back",
            lambda line: "yes" if line.entry in line.remedy.standing else "no",
        ),
        ExportColumn("due", "", "until which day", lambda line: line.entry.due),
        ExportColumn("done_on", "", "on which day; empty: at the moment of the entry", lambda line: line.entry.done_on),
        ExportColumn("by", "", "who does it or has done it", lambda line: line.entry.by_whom),
        ExportColumn("note", "", "in the user's own words", lambda line: line.entry.note),
        ExportColumn("distance_m", "m", "how far a cord or bed is moved", lambda line: line.entry.distance_m),
        ExportColumn("entered_by", "", "the practitioner", lambda line: line.entry.entered_by),
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class ResultLine:
    """A spot that was read before a remedy was done and after."""

    remedy: Remedy
    result: RemedyResult
    change: SpotChange


def _results(log: VisitLog) -> list[ResultLine]:
    return [
        ResultLine(_of(remedy), remedy.result, change)
        for remedy in _kept(log)
        if remedy.result is not None
        for change in remedy.result.changes
    ]


RESULTS: ExportTable[ResultLine] = ExportTable(
    "remedy_results",
    "Each spot that was read before a remedy was done and after.",
    _results,
    (
        ExportColumn("remedy_id", "", "see remedies", lambda line: line.remedy.id),
        spot(lambda line: line.change.spot_name),
        ExportColumn(
            "acts_here", "", "no: read as well, though the remedy gives nothing there",
            lambda line: "yes" if line.change.is_affected else "no",
        ),
        ExportColumn(
            "condition", "", "what was live after it was done, as stated", lambda line: line.change.after_condition
        ),
        ExportColumn("before_utc", "", "when it was read before", lambda line: line.change.before_utc_ns, utc_texts),
        ExportColumn("after_utc", "", "when it was read after", lambda line: line.change.after_utc_ns, utc_texts),
        ExportColumn(
            "before_visit", "", "visit of the value before; empty: this one", lambda line: line.change.before_visit
        ),
        ExportColumn("before_volts", "V", "value before", lambda line: line.change.before.volts),
        ExportColumn("u_before_volts", "V", "its standard uncertainty", lambda line: line.change.before.u_volts),
        ExportColumn("after_volts", "V", "value after", lambda line: line.change.after.volts),
        ExportColumn("u_after_volts", "V", "its standard uncertainty", lambda line: line.change.after.u_volts),
        ExportColumn(
            "difference_volts", "V", "after minus before, paired; empty where they are not comparable",
            lambda line: line.change.difference.volts if line.change.difference else None,
        ),
        ExportColumn(
            "u_difference_volts", "V", "its standard uncertainty, posture and meter counted",
            lambda line: line.change.difference.u_volts if line.change.difference else None,
        ),
        ExportColumn("why_not_comparable", "", "empty where they are", lambda line: line.change.why_not),
        ExportColumn(
            "predicted_volts", "V", "what was predicted before it was done; empty where nothing was",
            lambda line: line.change.predicted.volts if line.change.predicted else None,
        ),
        ExportColumn(
            "u_predicted_volts", "V", "its standard uncertainty",
            lambda line: line.change.predicted.u_volts if line.change.predicted else None,
        ),
        simulated(lambda line: line.result.simulated),
    ),
)  # fmt: skip
