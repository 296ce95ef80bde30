"""Free text at moments of the log."""

from __future__ import annotations

from logger.report.document.blocks import Section, TableBlock
from logger.report.document.report_data import ReportData
from logger.report.document.wording import moment_of


def marks(data: ReportData) -> Section | None:
    """Build the section; None where no mark was set."""
    rows = tuple(
        (
            moment_of(data, m.steady_utc_ns if m.steady_utc_ns is not None else m.utc_ns),
            m.text,
            "" if m.void_reason is None else f"voided: {m.void_reason}",
        )
        for m in data.marks
    )
    if not rows:
        return None
    return Section("marks", "Marks", (TableBlock("Marks set by hand", ("When", "Text", "Voided"), rows),))
