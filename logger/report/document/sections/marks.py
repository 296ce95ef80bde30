"""Free text at moments of the log, with the reading that was taken about then."""

from __future__ import annotations

from logger.metrology.rounding import plain
from logger.report.document.blocks import Section, TableBlock, Text
from logger.report.document.nearest_reading import NEAR_S, moment_ns, nearest_reading, readings_about
from logger.report.document.report_data import ReportData
from logger.report.document.wording import condition_text, moment_of
from logger.report.stated_answers import numbers_text
from logger.translation import tr, tr_kept
from logger.visit.records.reading_records import Mark


def marks(data: ReportData) -> Section | None:
    """Build the section; None where no mark was set."""
    rows: tuple[tuple[str, ...], ...] = tuple(
        (
            moment_of(data, moment_ns(m)),
            tr_kept(m.text),
            _near(m, data),
            "" if m.void_reason is None else tr("voided: {reason}").format(reason=tr_kept(m.void_reason)),
        )
        for m in data.marks
    )
    if not rows:
        return None
    heads: tuple[str, ...] = (tr("When"), tr("Text"), tr("Readings it is about"), tr("Voided"))
    if not any(row[-1] for row in rows):
        heads, rows = heads[:-1], tuple(row[:-1] for row in rows)
    explained = Text(
        tr(
            "What was written down during the visit, as it was typed, and the readings that it was entered to be "
            "about. Where that was not entered, the nearest reading of the same recording within {seconds} s stands: "
            "it may hold for others."
        ).format(seconds=plain(NEAR_S))
    )
    return Section("marks", tr("Marks"), (explained, TableBlock(tr("Marks set by hand"), heads, rows)))


def _near(mark: Mark, data: ReportData) -> str:
    if (about := data.marks_about.get(mark.id)) is not None:
        return numbers_text(readings_about(mark, about, data)) or tr("none")
    reading = nearest_reading(mark, data)
    if reading is None:
        return tr("not entered")
    text = tr("not entered; nearest {number}: {spot}, {condition}")
    return text.format(number=reading.id, spot=reading.spot_name, condition=condition_text(reading.condition))
