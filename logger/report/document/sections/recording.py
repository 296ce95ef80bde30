"""Runs, gaps, notices, refused lines."""

from __future__ import annotations

from collections import Counter

from logger.clock import NS_PER_S, format_long_duration
from logger.name_list import joined
from logger.plain_text import without_folders
from logger.report.document.blocks import Block, Section, TableBlock, Text
from logger.report.document.report_data import ReportData
from logger.report.document.wording import NBSP, moment_of
from logger.settling.limits import GAP_INTERVALS, SHORTEST_GAP_S
from logger.visit.records.imported_trace import imported_trace
from logger.visit.records.recording_records import CLOCK_SET, Notice, Run
from logger.visit.records.simulated_run import SIMULATED

MAX_NOTICE_ROWS = 10
"""Notices of one kind that differ and are listed; a port that comes and goes all night gives hundreds."""

MAX_GAPS = 40
"""Of more only the first are listed. All are in the log."""


def recording(data: ReportData) -> Section | None:
    """Build the section; None where nothing was recorded."""
    if not data.runs:
        return None
    blocks: list[Block] = [
        TableBlock(
            "Recordings",
            ("Begun", "Ended", "Port", "Zone", "Recorded by", "Why it ended"),
            tuple(
                (
                    moment_of(data, run.started_utc_ns),
                    _end_text(data, run),
                    without_folders(run.port) + (f" ({SIMULATED})" if run.simulated else ""),
                    run.zone,
                    run.software,
                    without_folders(run.end_reason),
                )
                for run in data.runs
            ),
        )
    ]
    blocks += [Text(text) for run in data.runs if (text := _import_text(data, run))]
    if data.gaps:
        more = f"; the first {MAX_GAPS} of {len(data.gaps)}" if len(data.gaps) > MAX_GAPS else ""
        blocks.append(
            TableBlock(
                f"Gaps in the trace{more}",
                ("From", "To", "Length"),
                tuple(
                    (
                        moment_of(data, start),
                        moment_of(data, end),
                        format_long_duration((end - start) / NS_PER_S),
                    )
                    for start, end in data.gaps[:MAX_GAPS]
                ),
                frozenset({2}),
            )
        )
    else:
        blocks.append(
            Text(
                f"The trace has no gap longer than {SHORTEST_GAP_S:g}{NBSP}s, "
                f"or {GAP_INTERVALS:g} times the meter's interval where that is longer."
            )
        )
    if data.notices:
        blocks.append(_notices(data))
    if data.refused:
        refused = joined([f"{count:,} {status.replace('_', ' ')}" for status, count in data.refused.items()])
        blocks.append(Text(f"Lines of the meter that were no sample, kept in the log: {refused}."))
    return Section("recording", "Recording", tuple(blocks))


def _end_text(data: ReportData, run: Run) -> str:
    """Write when a run ended: its start and the time that went by, whatever the computer's clock was set to."""
    if run.ended_utc_ns is None:
        return "no end in this file: it went on, or broke off"
    end = moment_of(data, run.ended_utc_ns)
    if not any(notice.run_id == run.id and notice.kind == CLOCK_SET for notice in data.notices):
        return end
    sign = "−" if run.clock_set_ns < 0 else "+"
    duration = format_long_duration(abs(run.clock_set_ns) / NS_PER_S)
    return f"{end} (the computer's clock was set by {sign}{duration} during it)"


def _import_text(data: ReportData, run: Run) -> str:
    """Describe where an imported run comes from; empty for one that was recorded."""
    trace = imported_trace(run)
    if trace is None:
        return ""
    return (
        f"The recording of {moment_of(data, run.started_utc_ns)} is an imported trace: it was logged elsewhere and "
        f"read from the file {trace.file} (SHA-256 {trace.sha256}). That it began at {trace.began}, and with which "
        "meter it was logged, is as stated at the import."
    )


def _notices(data: ReportData) -> TableBlock:
    """Build the table of notices: a row for each that differs, so that two settings of the clock are two rows."""
    alike: dict[tuple[str, str], list[Notice]] = {}
    for notice in data.notices:  # in the order in which they were written, which no clock changes
        alike.setdefault((notice.kind, without_folders(notice.message)), []).append(notice)
    shown: list[tuple[str, list[Notice], str]] = []
    left_out: dict[str, list[Notice]] = {}
    rows_of_kind: Counter[str] = Counter()
    for (kind, message), notices in alike.items():
        rows_of_kind[kind] += 1
        if rows_of_kind[kind] <= MAX_NOTICE_ROWS:
            shown.append((kind, notices, message))
        else:
            left_out.setdefault(kind, []).extend(notices)
    shown += [
        (kind, notices, f"{len(notices)} more of this kind; the export lists each.")
        for kind, notices in left_out.items()
    ]
    return TableBlock(
        "Notices of the recorder",
        ("What", "Times", "First", "Last", "What it says"),
        tuple(
            (
                kind.capitalize(),
                str(len(notices)),
                moment_of(data, notices[0].steady_utc_ns),
                moment_of(data, notices[-1].steady_utc_ns),
                message,
            )
            for kind, notices, message in shown
        ),
        frozenset({1}),
    )
