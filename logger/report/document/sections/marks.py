"""Free text at moments of the log, with the reading that was taken about then."""

from __future__ import annotations

from logger.metrology.rounding import plain
from logger.report.document.blocks import Section, TableBlock, Text
from logger.report.document.nearest_reading import NEAR_S, moment_ns, nearest_reading, readings_about
from logger.report.document.report_data import ReportData
from logger.report.document.wording import condition_text, moment_of
from logger.report.stated_answers import numbers_text
from logger.translation import tr, tr_kept
from logger.visit.records.mark_about import AboutKind
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
    later = [Text(text) for m in data.marks if (text := _several_conditions(m, data))]
    return Section(
        "marks", tr("Marks"), (explained, TableBlock(tr("Marks set by hand"), heads, rows), *later)
    )


def _several_conditions(mark: Mark, data: ReportData) -> str:
    """That a mark entered for all from there on covers readings with different conditions; empty where not."""
    about = data.marks_about.get(mark.id)
    if about is None or about.kind is not AboutKind.AFTER or mark.void_reason is not None:
        return ""
    numbers = readings_about(mark, about, data)
    covered = [reading for reading in data.valid_readings if reading.id in numbers]
    other = next((reading for reading in covered if reading.condition != covered[0].condition), None)
    if other is None:
        return ""
    text = tr(
        "“{mark}” was entered to be about all readings from then on. They are not all alike: reading {number} was "
        "entered “{condition}”. What the mark says of what is on need not hold there: what was entered with each "
        "reading counts."
    )
    return text.format(mark=tr_kept(mark.text), number=other.id, condition=condition_text(other.condition))


def _near(mark: Mark, data: ReportData) -> str:
    if (about := data.marks_about.get(mark.id)) is not None:
        return numbers_text(readings_about(mark, about, data)) or tr("none, as entered")
    reading = nearest_reading(mark, data)
    if reading is None:
        return tr("not entered")
    text = tr("not entered; nearest {number}: {spot}, {condition}")
    return text.format(number=reading.id, spot=reading.spot_name, condition=condition_text(reading.condition))
