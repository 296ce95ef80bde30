"""Footnotes of readings that were corrected: what each was, what it is, why and when."""

from __future__ import annotations

from collections.abc import Sequence

from logger.report.document.blocks import Items
from logger.report.document.report_data import ReportData
from logger.report.document.wording import moment_of
from logger.translation import tr, tr_kept
from logger.visit.records.reading_corrections import ReadingCorrection
from logger.visit.records.reading_records import Reading
from logger.visit.results.correction_history import worth_a_note

MARK = "*"
"""Beside the number of a reading that has a footnote."""


def number_text(reading: Reading) -> str:
    """The number of a reading, with the mark where it has a footnote."""
    return f"{reading.id}{MARK if worth_a_note(reading) else ''}"


def correction_notes(data: ReportData, readings: Sequence[Reading]) -> tuple[Items, ...]:
    """The footnotes of some readings; nothing where none was corrected.

    Args:
        data: of the visit.
        readings: those of the table above.
    """
    notes = tuple(_note(data, reading) for reading in readings if worth_a_note(reading))
    return (Items(notes),) if notes else ()


def _note(data: ReportData, reading: Reading) -> str:
    steps = [_step(data, correction) for correction in reading.corrections]
    text = tr("{mark} Reading {number}: taken for {placement}; {steps}.")
    return text.format(
        mark=number_text(reading), number=reading.id, placement=reading.as_taken.words, steps="; ".join(steps)
    )


def _step(data: ReportData, correction: ReadingCorrection) -> str:
    values = {
        "what": correction.words,
        "reason": tr_kept(correction.reason),
        "moment": moment_of(data, correction.utc_ns),
    }
    if correction.entered_by:
        text = tr("{what}, because “{reason}” ({moment}, {name})")
        return text.format(**values, name=correction.entered_by)
    return tr("{what}, because “{reason}” ({moment})").format(**values)
