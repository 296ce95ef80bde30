"""Marks, notices, runs, and lines that were no sample."""

from __future__ import annotations

from logger.clock import NS_PER_S
from logger.plain_text import without_folders
from logger.report.export.table import (
    ExportColumn,
    ExportTable,
    local,
    local_texts,
    run_id,
    simulated,
    utc,
    utc_texts,
    void_reason,
)
from logger.visit.records.reading_records import Mark
from logger.visit.records.recording_records import Line, Notice, Run

MARKS: ExportTable[Mark] = ExportTable(
    "marks",
    "Free text put at a moment, voided ones too.",
    lambda log: log.marks.all(),
    (
        ExportColumn("mark_id", "", "number of the mark", lambda mark: mark.id),
        utc(lambda mark: mark.utc_ns),
        local(lambda mark: mark.utc_ns),
        ExportColumn("text", "", "as typed", lambda mark: mark.text),
        void_reason(lambda mark: mark.void_reason),
    ),
)

NOTICES: ExportTable[Notice] = ExportTable(
    "notices",
    "What happened to the recording itself: port lost, clock set, disk full.",
    lambda log: log.notices.after(),
    (
        ExportColumn("notice_id", "", "number of the notice", lambda notice: notice.id),
        run_id(lambda notice: notice.run_id),
        utc(lambda notice: notice.utc_ns),
        ExportColumn(
            "steady_utc", "", "when, on the steady time line", lambda notice: notice.steady_utc_ns, utc_texts
        ),
        local(lambda notice: notice.utc_ns),
        ExportColumn("kind", "", "what kind", lambda notice: notice.kind),
        ExportColumn("message", "", "in words", lambda notice: without_folders(notice.message)),
    ),
)

RUNS: ExportTable[Run] = ExportTable(
    "runs",
    "Stretches of recording: a recorder listening to a port.",
    lambda log: log.runs.all(),
    (
        run_id(lambda run: run.id),
        ExportColumn(
            "started_utc", "", "beginning, by the computer's clock", lambda run: run.started_utc_ns, utc_texts
        ),
        ExportColumn(
            "started_local", "", "the same where it was recorded", lambda run: run.started_utc_ns, local_texts
        ),
        ExportColumn(
            "ended_utc",
            "",
            "beginning and the time that went by; empty while it goes on",
            lambda run: run.ended_utc_ns,
            utc_texts,
        ),
        ExportColumn(
            "clock_set_s",
            "s",
            "by how much the computer's clock ran off or was set during it",
            lambda run: round(run.clock_set_ns / NS_PER_S, 3),
        ),
        ExportColumn("zone", "", "IANA name of the local time zone", lambda run: run.zone),
        ExportColumn(
            "utc_offset_s", "s", "local time minus UTC at the beginning", lambda run: run.utc_offset_s
        ),
        ExportColumn("port", "", "the port's URL", lambda run: without_folders(run.port)),
        ExportColumn("software", "", "name and version", lambda run: run.software),
        ExportColumn("end_reason", "", "why it ended", lambda run: without_folders(run.end_reason)),
        simulated(lambda run: run.simulated),
    ),
)

REFUSED_LINES: ExportTable[Line] = ExportTable(
    "refused_lines",
    "Lines of the meter that were no sample, kept as they came.",
    lambda log: log.samples.refused_lines()[::-1],
    (
        ExportColumn("line_id", "", "number of the line", lambda line: line.id),
        run_id(lambda line: line.run_id),
        utc(lambda line: line.utc_ns),
        ExportColumn("status", "", "overload, not_ac_volts, unreadable, held", lambda line: line.status),
        ExportColumn("raw", "", "as sent, bytes beyond ASCII as \\xNN", lambda line: repr(line.raw)[2:-1]),
    ),
)
