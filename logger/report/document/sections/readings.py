"""Every reading with its uncertainty and remarks."""

from __future__ import annotations

from logger.clock import NS_PER_S
from logger.metrology.context import SIMULATED_REMARK
from logger.report.document.blocks import Block, Section, TableBlock, Text
from logger.report.document.report_data import ReportData
from logger.report.document.sections.correction_notes import correction_notes, number_text
from logger.report.document.wording import EXPANDED, moment_of
from logger.visit.records.reading_records import Reading
from logger.visit.results.on_off_result import budget_of, mixed

TAKEN_WORDS = {"settled": "settled", "override": "not settled", "by hand": "by hand"}


def readings(data: ReportData) -> Section | None:
    """Build the section; None where there is no valid reading."""
    if not data.valid_readings:
        return None
    rows = tuple(_row(data, reading) for reading in data.valid_readings)
    heads: tuple[str, ...] = (
        "No.",
        "Taken",
        "Spot",
        "Condition",
        "V",
        EXPANDED,
        "Samples",
        "Span, s",
        "Remarks",
    )
    if not any(row[-1] for row in rows):
        heads, rows = heads[:-1], tuple(row[:-1] for row in rows)
    blocks: list[Block] = [
        TableBlock(
            "Readings in the order in which they were taken",
            heads,
            rows,
            frozenset({0, 4, 5, 6, 7}),
            small=True,
        )
    ]
    blocks += correction_notes(data, data.valid_readings)
    if not_comparable := mixed(data.readings):
        blocks += [Text(line) for line in not_comparable.splitlines()]
    return Section("readings", "Readings", tuple(blocks))


def _row(data: ReportData, reading: Reading) -> tuple[str, ...]:
    budget = budget_of(reading)
    remarks = (
        reading.context.remarks(reading.volts) if reading.context else ["nothing kept of meter and reference"]
    )
    if reading.simulated and reading.context is None:
        remarks.insert(0, SIMULATED_REMARK)
    if reading.taken != "settled":
        remarks.insert(0, f"taken {TAKEN_WORDS.get(reading.taken, 'in a way that is not known')}")
    if reading.id in data.doubts:
        remarks.append(data.doubts[reading.id])
    start_ns, end_ns = reading.start_utc_ns, reading.end_utc_ns
    span = f"{(end_ns - start_ns) / NS_PER_S:.1f}" if start_ns is not None and end_ns is not None else "–"
    return (
        number_text(reading),
        moment_of(data, reading.utc_ns),
        reading.spot_name,
        reading.condition or "not stated",
        f"{reading.volts:.5f}",
        f"{budget.expanded_volts:.5f}" if budget else "–",
        str(reading.samples),
        span,
        "; ".join(remarks),
    )
