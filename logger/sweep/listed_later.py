"""Readings that count for no combination, as a circuit that may have stayed on was listed after them: which, and why.

In: the readings of a visit, circuits and cords. Out: a sentence for the window and the report.
"""

from __future__ import annotations

from collections.abc import Sequence

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
    here = [r for r in readings if r.spot_id == spot_id and r.void_reason is None]
    counted = {r.condition for r in here if live_at_reading(r, sources) is not None}
    before = [
        (r, unknown)
        for r in here
        if r.condition not in counted and (unknown := not_known_at_reading(r, sources))
    ]
    if not before:
        return ""
    conditions = list(dict.fromkeys(reading.condition for reading, _ in before))
    names = joined(list(dict.fromkeys(source.name for _, unknown in before for source in unknown)))
    one = len(conditions) == 1
    what = f"“{conditions[0]}”" if one else f"{len(conditions)} combinations, such as “{conditions[0]}”,"
    return (
        f"At “{before[0][0].spot_name}” {what} {'was' if one else 'were'} read before {names} was listed, and nobody "
        f"knows whether that was on: read {conditions[0] if one else 'them'} again."
    )


def replaced_since_texts(readings: Sequence[Reading], spot_id: int, sources: Sequence[Source]) -> list[str]:
    """Say of each reading at a spot that does not count for that reason, and was read again since, that it does not.

    Args:
        readings: of the visit, oldest first.
        spot_id: of the spot.
        sources: circuits and cords of the visit.
    """
    here = [r for r in readings if r.spot_id == spot_id and r.void_reason is None]
    counted = {r.condition for r in here if live_at_reading(r, sources) is not None}
    return [
        f"Reading {reading.id}, “{reading.condition}”, does not count in the sweep: "
        f"{joined([source.name for source in unknown])} was listed after it, and nobody knows whether that was on. It "
        "was read again since."
        for reading in here
        if reading.condition in counted and (unknown := not_known_at_reading(reading, sources))
    ]
