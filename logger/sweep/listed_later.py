"""Readings that count for no combination, as a circuit that may have stayed on was listed after them: which, and why.

In: the readings of a visit, circuits and cords. Out: a sentence for the window and the report.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from logger.name_list import joined
from logger.sweep.sweep_progress import live_at_reading, not_known_at_reading
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading


def read_before_listed_text(readings: Sequence[Reading], spot_id: int, sources: Sequence[Source]) -> str:
    """Format which readings at a spot do not count, why, and that they are to be read again.

    Empty where there is none, or where each of their conditions was read again since.

    Args:
        readings: of the visit, oldest first.
        spot_id: of the spot.
        sources: circuits and cords of the visit.
    """
    before = [one for one in _left_out(readings, spot_id, sources) if not one.read_again]
    if not before:
        return ""
    conditions = list(dict.fromkeys(one.reading.condition for one in before))
    names = joined(list(dict.fromkeys(source.name for one in before for source in one.unknown)))
    one = len(conditions) == 1
    what = f"“{conditions[0]}”" if one else f"{len(conditions)} combinations, such as “{conditions[0]}”,"
    return (
        f"At “{before[0].reading.spot_name}” {what} {'was' if one else 'were'} read before {names} was listed, and "
        f"nobody knows whether that was on: read {conditions[0] if one else 'them'} again."
    )


def replaced_since_texts(readings: Sequence[Reading], spot_id: int, sources: Sequence[Source]) -> list[str]:
    """Say of each reading at a spot that does not count, and whose condition was read again since, that it does not.

    Args:
        readings: of the visit, oldest first.
        spot_id: of the spot.
        sources: circuits and cords of the visit.
    """
    return [
        f"Reading {one.reading.id}, “{one.reading.condition}”, does not count in the sweep: "
        f"{joined([source.name for source in one.unknown])} was listed after it, and nobody knows whether that was on. "
        "It was read again since."
        for one in _left_out(readings, spot_id, sources)
        if one.read_again
    ]


@dataclass(frozen=True, slots=True)
class _LeftOut:
    """A reading that does not count.

    Args:
        reading: it.
        unknown: what was listed after it and may have been on.
        read_again: whether a reading of the same condition counts.
    """

    reading: Reading
    unknown: Sequence[Source]
    read_again: bool


def _left_out(readings: Sequence[Reading], spot_id: int, sources: Sequence[Source]) -> list[_LeftOut]:
    here = [r for r in readings if r.spot_id == spot_id and r.void_reason is None]
    counted = {r.condition for r in here if live_at_reading(r, sources) is not None}
    return [
        _LeftOut(reading, unknown, reading.condition in counted)
        for reading in here
        if (unknown := not_known_at_reading(reading, sources))
    ]
