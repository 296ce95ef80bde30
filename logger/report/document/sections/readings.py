"""Every reading with its uncertainty and remarks."""

from __future__ import annotations

from logger.clock import NS_PER_S
from logger.metrology.context import SIMULATED_REMARK
from logger.metrology.rounding import fixed
from logger.report.document.blocks import Block, Section, TableBlock, Text
from logger.report.document.report_data import ReportData
from logger.report.document.sections.correction_notes import correction_notes, number_text
from logger.report.document.wording import EXPANDED, NOT_STATED, moment_of
from logger.translation import marked, tr, tr_kept
from logger.visit.records.reading_records import Reading
from logger.visit.results.on_off_result import budget_of, mixed

_TAKEN = {"override": marked("taken not settled"), "by hand": marked("taken by hand")}
"""How a reading was taken that is no settled value, by what the log calls it."""


def readings(data: ReportData) -> Section | None:
    """Build the section; None where there is no valid reading."""
    if not data.valid_readings:
        return None
    rows = tuple(_row(data, reading) for reading in data.valid_readings)
    heads: tuple[str, ...] = (
        tr("No."),
        tr("Taken"),
        tr("Spot"),
        tr("Condition"),
        "V",
        EXPANDED,
        tr("Samples"),
        tr("Span, s"),
        tr("Remarks"),
    )
    if not any(row[-1] for row in rows):
        heads, rows = heads[:-1], tuple(row[:-1] for row in rows)
    blocks: list[Block] = [
        TableBlock(
            tr("Readings in the order in which they were taken"),
            heads,
            rows,
            frozenset({0, 4, 5, 6, 7}),
            small=True,
        )
    ]
    blocks += correction_notes(data, data.valid_readings)
    if not_comparable := mixed(data.readings):
        blocks += [Text(line) for line in not_comparable.splitlines()]
    return Section("readings", tr("Readings"), tuple(blocks))


def _row(data: ReportData, reading: Reading) -> tuple[str, ...]:
    budget = budget_of(reading)
    remarks = (
        reading.context.remarks(reading.volts)
        if reading.context
        else [tr("nothing kept of meter and reference")]
    )
    if reading.simulated and reading.context is None:
        remarks.insert(0, tr(SIMULATED_REMARK))
    if reading.taken != "settled":
        remarks.insert(
            0,
            tr(_TAKEN[reading.taken]) if reading.taken in _TAKEN else tr("taken in a way that is not known"),
        )
    if reading.id in data.doubts:
        remarks.append(data.doubts[reading.id])
    start_ns, end_ns = reading.start_utc_ns, reading.end_utc_ns
    span = fixed((end_ns - start_ns) / NS_PER_S, 1) if start_ns is not None and end_ns is not None else "–"
    return (
        number_text(reading),
        moment_of(data, reading.utc_ns),
        reading.spot_name,
        tr_kept(reading.condition) or tr(NOT_STATED),
        fixed(reading.volts, 5),
        fixed(budget.expanded_volts, 5) if budget else "–",
        str(reading.samples),
        span,
        "; ".join(remarks),
    )
