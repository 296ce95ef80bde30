"""Free text at moments of the log."""

from __future__ import annotations

from logger.report.document.blocks import Section, TableBlock
from logger.report.document.report_data import ReportData
from logger.report.document.wording import moment_of
from logger.translation import tr, tr_kept


def marks(data: ReportData) -> Section | None:
    """Build the section; None where no mark was set."""
    rows = tuple(
        (
            moment_of(data, m.steady_utc_ns if m.steady_utc_ns is not None else m.utc_ns),
            tr_kept(m.text),
            "" if m.void_reason is None else tr("voided: {reason}").format(reason=tr_kept(m.void_reason)),
        )
        for m in data.marks
    )
    if not rows:
        return None
    return Section(
        "marks",
        tr("Marks"),
        (TableBlock(tr("Marks set by hand"), (tr("When"), tr("Text"), tr("Voided")), rows),),
    )
