"""Runs, gaps, notices, refused lines."""

from __future__ import annotations

from collections import Counter

from logger.clock import NS_PER_S, format_long_duration
from logger.metrology.rounding import grouped, plain, sign_of
from logger.name_list import joined
from logger.plain_text import without_folders
from logger.report.document.blocks import Block, Section, TableBlock, Text
from logger.report.document.report_data import ReportData
from logger.report.document.wording import moment_of, with_mark
from logger.settling.limits import GAP_INTERVALS, SHORTEST_GAP_S
from logger.translation import marked, tr, tr_kept, tr_n
from logger.visit.records.imported_trace import imported_trace
from logger.visit.records.recording_records import CLOCK_SET, Notice, Run

MAX_NOTICE_ROWS = 10
"""Notices of one kind that differ and are listed; a port that comes and goes all night gives hundreds."""

MAX_GAPS = 40
"""Of more only the first are listed. All are in the log."""


NOTICE_KINDS = {
    "battery": marked("Battery"),
    "busy": marked("Busy"),
    "channels": marked("Channels"),
    "charger": marked("Charger"),
    "clock ahead": marked("Clock ahead"),
    "clock set": marked("Clock set"),
    "clock set back": marked("Clock set back"),
    "constant value": marked("Constant value"),
    "constant zero": marked("Constant zero"),
    "damaged lines": marked("Damaged lines"),
    "disk back": marked("Disk back"),
    "disk refuses": marked("Disk refuses"),
    "disk short": marked("Disk short"),
    "frozen": marked("Frozen"),
    "function": marked("Function"),
    "imported": marked("Imported"),
    "laptop battery low": marked("Laptop battery low"),
    "late lines": marked("Late lines"),
    "line form": marked("Line form"),
    "lines alternating": marked("Lines alternating"),
    "lines refused": marked("Lines refused"),
    "low battery": marked("Low battery"),
    "memory full": marked("Memory full"),
    "meter back": marked("Meter back"),
    "meter silent": marked("Meter silent"),
    "no value": marked("No value"),
    "noise": marked("Noise"),
    "other date": marked("Other date"),
    "point moved": marked("Point moved"),
    "port back": marked("Port back"),
    "port lost": marked("Port lost"),
    "range": marked("Meter range"),
    "recorder restarted": marked("Recorder restarted"),
    "sleep": marked("Sleep"),
    "sleep not prevented": marked("Sleep not prevented"),
    "slow meter": marked("Slow meter"),
    "unit assumed": marked("Unit assumed"),
    "unit changed": marked("Unit changed"),
    "unit open": marked("Unit open"),
}
"""What a notice is about, by the name that the log has for it; an older version may have had another one."""


def recording(data: ReportData) -> Section | None:
    """Build the section; None where nothing was recorded."""
    if not data.runs:
        return None
    why_no_night = [Text(data.why_no_night)] if data.why_no_night and not data.nights else []
    blocks: list[Block] = [
        *why_no_night,
        TableBlock(
            tr("When it was recorded, and from what"),
            (
                tr("Begun"),
                tr("Ended"),
                tr("Port"),
                tr("Zone"),
                tr("Recorded by"),
                tr("Why it ended"),
            ),
            tuple(
                (
                    moment_of(data, run.started_utc_ns),
                    _end_text(data, run),
                    with_mark(tr_kept(without_folders(run.port)), run.simulated),
                    run.zone,
                    tr_kept(run.software),
                    tr_kept(without_folders(run.end_reason)),
                )
                for run in data.runs
            ),
        ),
    ]
    blocks += [Text(text) for run in data.runs if (text := _import_text(data, run))]
    blocks.append(_gaps(data))
    if data.notices:
        blocks.append(_notices(data))
    if data.refused:
        refused = joined([_refused_text(status, count) for status, count in data.refused.items()])
        text = tr(
            "Lines of the meter that do not count as measured values; they are kept in the log: {lines}."
        )
        blocks.append(Text(text.format(lines=refused)))
    return Section("recording", tr("Recordings"), tuple(blocks))


def _gaps(data: ReportData) -> Block:
    if not data.gaps:
        text = tr(
            "The trace has no gap: none is longer than {seconds} s or {times} sampling intervals, whichever is longer."
        )
        return Text(text.format(seconds=plain(SHORTEST_GAP_S), times=plain(GAP_INTERVALS)))
    caption = tr("Gaps in the trace")
    if len(data.gaps) > MAX_GAPS:
        text = tr("Gaps in the trace; the first {n} of {total}")
        caption = text.format(n=MAX_GAPS, total=grouped(len(data.gaps)))
    return TableBlock(
        caption,
        (tr("From"), tr("To"), tr("Length")),
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


_REFUSED = {
    "overload": marked("{n} overload"),
    "not_ac_volts": marked("{n} not ac volts"),
    "unreadable": marked("{n} unreadable"),
    "held": marked("{n} held"),
}
"""Lines that were no sample, by how the log calls them."""


def _refused_text(status: str, count: int) -> str:
    return (
        tr(_REFUSED[status]).format(n=grouped(count)) if status in _REFUSED else f"{grouped(count)} {status}"
    )


def _end_text(data: ReportData, run: Run) -> str:
    """Write when a run ended: its start and the time that went by, whatever the computer's clock was set to."""
    if run.ended_utc_ns is None:
        return tr("no end is written in this file: the recording went on after it, or broke off")
    end = moment_of(data, run.ended_utc_ns)
    if not any(notice.run_id == run.id and notice.kind == CLOCK_SET for notice in data.notices):
        return end
    duration = f"{sign_of(run.clock_set_ns)}{format_long_duration(abs(run.clock_set_ns) / NS_PER_S)}"
    text = tr("{moment} (the computer's clock was set by {duration} during it)")
    return text.format(moment=end, duration=duration)


def _import_text(data: ReportData, run: Run) -> str:
    """Describe where an imported run comes from; empty for one that was recorded."""
    trace = imported_trace(run)
    if trace is None:
        return ""
    text = tr(
        "The recording of {moment} is an imported trace: it was logged elsewhere and read from the file {file} "
        "(SHA-256 {digest}). That it began at {began}, and with which meter it was logged, is as stated at the import."
    )
    return text.format(
        moment=moment_of(data, run.started_utc_ns), file=trace.file, digest=trace.sha256, began=trace.began
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
        (
            kind,
            notices,
            tr_n(
                "{n} more of this kind; the export lists each.",
                "{n} more of this kind; the export lists each.",
                len(notices),
            ).format(n=grouped(len(notices))),
        )
        for kind, notices in left_out.items()
    ]
    return TableBlock(
        tr("Notices of the recorder"),
        (tr("What"), tr("Times"), tr("First"), tr("Last"), tr("What it says")),
        tuple(
            (
                tr(NOTICE_KINDS.get(kind, kind.capitalize())),
                str(len(notices)),
                moment_of(data, notices[0].steady_utc_ns),
                moment_of(data, notices[-1].steady_utc_ns),
                tr_kept(message),
            )
            for kind, notices, message in shown
        ),
        frozenset({1}),
    )
