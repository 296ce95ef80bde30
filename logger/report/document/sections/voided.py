"""Readings that were declared mistaken."""

from __future__ import annotations

from logger.metrology.rounding import rounded
from logger.report.document.blocks import Section, TableBlock
from logger.report.document.report_data import ReportData
from logger.report.document.sections.correction_notes import correction_notes, number_text
from logger.report.document.wording import condition_text, expanded, moment_of, volts_with_u
from logger.translation import tr, tr_kept
from logger.visit.results.on_off_result import budget_of


def voided(data: ReportData) -> Section | None:
    """Build the section; None where no reading was voided."""
    void = [r for r in data.readings if r.void_reason is not None]
    rows = tuple(
        (
            number_text(r),
            moment_of(data, r.utc_ns),
            r.spot_name,
            condition_text(r.condition),
            volts_with_u(budget) if (budget := budget_of(r)) else rounded(r.volts).volts,
            tr_kept(r.void_reason or ""),
        )
        for r in void
    )
    if not rows:
        return None
    table = TableBlock(
        tr("Kept in the log, counted nowhere"),
        (tr("No."), tr("Taken"), tr("Spot"), tr("Condition"), expanded(tr("Value")), tr("Voided because")),
        rows,
        frozenset({0, 4}),
    )
    return Section("voided", tr("Voided readings"), (table, *correction_notes(data, void)))
