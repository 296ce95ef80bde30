"""Readings that were declared mistaken."""

from __future__ import annotations

from logger.metrology.rounding import fixed
from logger.report.document.blocks import Section, TableBlock
from logger.report.document.report_data import ReportData
from logger.report.document.sections.correction_notes import correction_notes, number_text
from logger.report.document.wording import NOT_STATED, moment_of
from logger.translation import tr, tr_kept


def voided(data: ReportData) -> Section | None:
    """Build the section; None where no reading was voided."""
    void = [r for r in data.readings if r.void_reason is not None]
    rows = tuple(
        (
            number_text(r),
            moment_of(data, r.utc_ns),
            r.spot_name,
            tr_kept(r.condition) or tr(NOT_STATED),
            fixed(r.volts, 5),
            tr_kept(r.void_reason or ""),
        )
        for r in void
    )
    if not rows:
        return None
    table = TableBlock(
        tr("Voided readings: kept in the log, counted nowhere"),
        (tr("No."), tr("Taken"), tr("Spot"), tr("Condition"), "V", tr("Voided because")),
        rows,
        frozenset({0, 4}),
    )
    return Section("voided", tr("Voided readings"), (table, *correction_notes(data, void)))
