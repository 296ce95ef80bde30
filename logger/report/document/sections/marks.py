"""Free text at moments of the log."""

from __future__ import annotations

from logger.report.document.blocks import Section, TableBlock, Text
from logger.report.document.report_data import ReportData
from logger.report.document.wording import moment_of
from logger.translation import tr, tr_kept


def marks(data: ReportData) -> Section | None:
    """Build the section; None where no mark was set."""
    rows: tuple[tuple[str, ...], ...] = tuple(
        (
            moment_of(data, m.steady_utc_ns if m.steady_utc_ns is not None else m.utc_ns),
            tr_kept(m.text),
            "" if m.void_reason is None else tr("voided: {reason}").format(reason=tr_kept(m.void_reason)),
        )
        for m in data.marks
    )
    if not rows:
        return None
    heads: tuple[str, ...] = (tr("When"), tr("Text"), tr("Voided"))
    if not any(row[-1] for row in rows):
        heads, rows = heads[:-1], tuple(row[:-1] for row in rows)
    explained = Text(
        tr("What was written down during the visit, as it was typed; a mark belongs to no spot.")
    )
    return Section("marks", tr("Marks"), (explained, TableBlock(tr("Marks set by hand"), heads, rows)))
