"""What was not done in this visit."""

from __future__ import annotations

from logger.report.document.report_data import ReportData


def missing_sentences(data: ReportData) -> list[str]:
    """Write a sentence for each thing that was not done."""
    out = []
    if not data.valid_readings:
        out.append("No spot has been read.")
    if not data.checks:
        out.append("None of the checks of meter and reference was done.")
    if not data.swept:
        out.append("The breakers were not swept.")
    elif data.setup.supply is None:
        out.append("The supply of the home is not stated, so that the sweep cannot be worked out.")
    if not data.nights:
        out.append("No night was recorded.")
    return out
