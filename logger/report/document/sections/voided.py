"""Readings that were declared mistaken."""

from __future__ import annotations

from logger.report.document.blocks import Section, TableBlock
from logger.report.document.report_data import ReportData
from logger.report.document.sections.correction_notes import correction_notes, number_text
from logger.report.document.wording import moment_of


def voided(data: ReportData) -> Section | None:
    """Build the section; None where no reading was voided."""
    void = [r for r in data.readings if r.void_reason is not None]
    rows = tuple(
        (
            number_text(r),
            moment_of(data, r.utc_ns),
            r.spot_name,
            r.condition or "not stated",
            f"{r.volts:.5f}",
            r.void_reason or "",
        )
        for r in void
    )
    if not rows:
        return None
    table = TableBlock(
        "Voided readings: kept in the log, counted nowhere",
        ("No.", "Taken", "Spot", "Condition", "V", "Voided because"),
        rows,
        frozenset({0, 4}),
    )
    return Section("voided", "Voided readings", (table, *correction_notes(data, void)))
