"""Readings that were declared mistaken."""

from __future__ import annotations

from logger.report.document.blocks import Section, TableBlock
from logger.report.document.report_data import ReportData
from logger.report.document.wording import moment_of


def voided(data: ReportData) -> Section | None:
    """Build the section; None where no reading was voided."""
    rows = tuple(
        (
            str(r.id),
            moment_of(data, r.utc_ns),
            r.spot_name,
            r.condition or "not stated",
            f"{r.volts:.5f}",
            r.void_reason,
        )
        for r in data.readings
        if r.void_reason is not None
    )
    if not rows:
        return None
    table = TableBlock(
        "Voided readings: kept in the log, counted nowhere",
        ("No.", "Taken", "Spot", "Condition", "V", "Voided because"),
        rows,
        frozenset({0, 4}),
    )
    return Section("voided", "Voided readings", (table,))
