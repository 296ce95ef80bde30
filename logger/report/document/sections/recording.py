"""Sections for the next professional: the recording itself, cautions and limits, this document."""

from __future__ import annotations

from logger import __version__
from logger.cautions import PANEL_CAUTIONS
from logger.clock import NS_PER_S
from logger.night.night_facts import length
from logger.report.document.blocks import (
    Block,
    Items,
    Pairs,
    Section,
    TableBlock,
    Text,
    counted,
    joined,
    moment,
)
from logger.report.document.report_data import ReportData

MOST_GAPS = 40

CAUTIONS = (
    "Never hold the probe to a live conductor.",
    "Ask before driving a rod into the ground: cables, pipes and roots may lie there. No outdoor earth wire in or "
    "before a thunderstorm. Local codes on earthing hold.",
    *PANEL_CAUTIONS,
    "The inside of cords, lamps and fixed wiring is for a licensed electrician.",
    "People who react to the field of a cord do not do the lamp check.",
    "A laptop on its charger, or a link that is not isolated, spoils the reference.",
)

LIMITS = (
    "The values hold for these spots, postures, meter and reference, and for what was switched on then. They change "
    "with posture, soil moisture, season and whatever is plugged in.",
    "The building's protective earth as reference may be wrong by up to 0.2 to 0.3 V (common practice, no source).",
    "Body voltage tells of electric fields of the mains only: not of magnetic fields, not of radio.",
    "This report makes no statement about anybody's health: it says what was measured, how well, and what changed it.",
)


def recording(facts: ReportData) -> Section | None:
    """Runs, gaps, notices, refused lines."""
    if not facts.runs:
        return None
    blocks: list[Block] = [
        TableBlock(
            "Recordings",
            ("Begun", "Ended", "Port", "Zone", "Recorded by", "Why it ended"),
            tuple(
                (
                    moment(facts.local(run.started_utc_ns)),
                    "still going on" if run.ended_utc_ns is None else moment(facts.local(run.ended_utc_ns)),
                    run.port,
                    run.zone,
                    run.software,
                    run.end_reason,
                )
                for run in facts.runs
            ),
        )
    ]
    if facts.gaps:
        more = f"; the first {MOST_GAPS} of {len(facts.gaps)}" if len(facts.gaps) > MOST_GAPS else ""
        blocks.append(
            TableBlock(
                f"Gaps in the trace{more}",
                ("From", "To", "Length"),
                tuple(
                    (moment(facts.local(start)), moment(facts.local(end)), length((end - start) / NS_PER_S))
                    for start, end in facts.gaps[:MOST_GAPS]
                ),
                frozenset({2}),
            )
        )
    else:
        blocks.append(Text("The trace has no gap."))
    if facts.notices:
        blocks.append(_notices(facts))
    if facts.refused:
        refused = joined([f"{count:,} {status.replace('_', ' ')}" for status, count in facts.refused.items()])
        blocks.append(Text(f"Lines of the meter that were no sample, kept in the log: {refused}."))
    return Section("recording", "Recording", tuple(blocks))


def _notices(facts: ReportData) -> TableBlock:
    """What happened to the recording; what happened again and again stands once."""
    by_kind: dict[str, list[int]] = {}
    said: dict[str, str] = {}
    for notice in facts.notices:
        by_kind.setdefault(notice.kind, []).append(notice.utc_ns)
        said.setdefault(notice.kind, notice.message)
    return TableBlock(
        "Notices of the recorder",
        ("What", "Times", "First", "Last", "What the first one says"),
        tuple(
            (
                kind.capitalize(),
                str(len(times)),
                moment(facts.local(min(times))),
                moment(facts.local(max(times))),
                said[kind],
            )
            for kind, times in by_kind.items()
        ),
        frozenset({1}),
    )


def cautions(_: ReportData) -> Section:
    """What has to be kept to, and how far the values carry."""
    return Section("cautions", "Cautions and limits", (Items(CAUTIONS), Items(LIMITS)))


def document(facts: ReportData) -> Section:
    """What this was made from, so that it can be checked."""
    return Section(
        "document",
        "This document",
        (
            Pairs(
                (
                    ("Visit log", facts.title),
                    ("Readings", f"{counted(len(facts.standing), 'standing reading')}, "
                     f"{len(facts.readings) - len(facts.standing)} voided"),
                    ("Written by", f"Stillvolt {__version__}"),
                    ("Checksum of the log, SHA-256", facts.checksum),
                )
            ),
            Text(
                "The checksum is taken over all that was recorded, stated, planned and taken, in an order of its own, "
                "not over the file's bytes: opening or copying the log leaves it as it is, and a changed value changes "
                "it. Its definition is in logger/visit/storage/checksum.py."
            ),
        ),
    )  # fmt: skip
