"""What is recorded of the circumstances, as names with what is stated of them, and which of them are not recorded."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from logger.metrology.lengths import length_text
from logger.name_list import listed
from logger.report.document.held_text import held_text
from logger.report.document.report_data import ReportData
from logger.translation import tr
from logger.visit.records.circumstances import CIRCUMSTANCE_FIELDS, Circumstances, Subject

MAX_MISSING_APART = 3
"""Of more that are not recorded the names stand in one line: a line for each says nothing more."""

TextPairs = tuple[tuple[str, str], ...]


def read_with_pairs(data: ReportData, *subjects: Subject) -> TextPairs:
    """What was read with: where it changed, with the readings that it held for.

    Args:
        data: of the visit.
        subjects: of the circumstances that are shown.
    """
    return _with_missing(
        {name: held_text(data.circumstance_answers(name), _shown(name)) for name in _names(data, *subjects)}
    )


def entered_pairs(data: ReportData, of: Circumstances, subject: Subject, *left_out: str) -> TextPairs:
    """What is entered of something that is no reading.

    Args:
        data: of the visit.
        of: what was entered.
        subject: of the circumstances that are shown.
        left_out: fields that are shown only where they are recorded.
    """
    found = {name: _shown(name)(getattr(of, name)) for name in _names(data, subject)}
    return _with_missing({name: text for name, text in found.items() if text or name not in left_out})


def _names(data: ReportData, *subjects: Subject) -> list[str]:
    """The fields of these subjects; without those of a rod where it is not the reference and nothing is recorded."""
    return [
        name
        for name, field in CIRCUMSTANCE_FIELDS.items()
        if field.subject in subjects
        and not field.named_elsewhere
        and (
            not field.only_with_rod
            or data.setup.reference == "earth rod"
            or any(answer.value for answer in data.circumstance_answers(name))
        )
    ]


def _shown(name: str) -> Callable[[Any], str]:
    return length_text if CIRCUMSTANCE_FIELDS[name].is_length else str


def _with_missing(found: Mapping[str, str]) -> TextPairs:
    pairs = [(tr(CIRCUMSTANCE_FIELDS[name].label), text) for name, text in found.items()]
    missing = [label for label, text in pairs if not text]
    if len(missing) <= MAX_MISSING_APART:
        return tuple((label, text or tr("not recorded")) for label, text in pairs)
    return (*(pair for pair in pairs if pair[1]), (tr("Not recorded"), listed(missing)))
