"""Runs, gaps, notices, refused lines."""

from __future__ import annotations

from logger.clock import NS_PER_S, format_long_duration
from logger.name_list import joined
from logger.report.document.blocks import Block, Section, TableBlock, Text
from logger.report.document.report_data import ReportData
from logger.report.document.wording import moment_of
from logger.visit.records.imported_trace import imported_trace
from logger.visit.records.recording_records import Run

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
                    "still going on" if run.ended_utc_ns is None else moment_of(data, run.ended_utc_ns),
                    run.port,
                    run.zone,
                    run.software,
                    run.end_reason,
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
        blocks.append(Text("The trace has no gap."))
    if data.notices:
        blocks.append(_notices(data))
    if data.refused:
        refused = joined([f"{count:,} {status.replace('_', ' ')}" for status, count in data.refused.items()])
        blocks.append(Text(f"Lines of the meter that were no sample, kept in the log: {refused}."))
    return Section("recording", "Recording", tuple(blocks))


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
    """Build the table of notices, one row a kind."""
    by_kind: dict[str, list[int]] = {}
    first_messages: dict[str, str] = {}
    for notice in data.notices:
        by_kind.setdefault(notice.kind, []).append(notice.utc_ns)
        first_messages.setdefault(notice.kind, notice.message)
    return TableBlock(
        "Notices of the recorder",
        ("What", "Times", "First", "Last", "What the first one says"),
        tuple(
            (
                kind.capitalize(),
                str(len(times)),
                moment_of(data, min(times)),
                moment_of(data, max(times)),
                first_messages[kind],
            )
            for kind, times in by_kind.items()
        ),
        frozenset({1}),
    )
