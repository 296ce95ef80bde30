"""Footnotes of readings that were corrected: what each was, what it is, why and when."""

from __future__ import annotations

from collections.abc import Sequence

from logger.report.document.blocks import Items
from logger.report.document.report_data import ReportData
from logger.report.document.wording import moment_of
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
    steps = [
        f"{c.words}, because “{c.reason}” ({moment_of(data, c.utc_ns)}{f', {c.entered_by}' if c.entered_by else ''})"
        for c in reading.corrections
    ]
    taken = f"taken for {reading.as_taken.words}"
    return f"{number_text(reading)} Reading {reading.id}: {taken}; {'; '.join(steps)}."
