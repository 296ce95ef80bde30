"""Readings by the present name of their spot, as lists, report and export show them.

The log keeps the name that each reading was taken with: a typing error that was put right there would otherwise stand
in the report for ever, beside the lists that have the present name.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from logger.visit.records.home_records import Spot
from logger.visit.records.reading_records import Reading


def with_present_names(readings: Iterable[Reading], spots: Sequence[Spot]) -> list[Reading]:
    """Name each reading by its spot as that is called now; one of a removed spot keeps the name that it has.

    Args:
        readings: as the log keeps them.
        spots: of the visit that are listed.
    """
    names = {spot.id: spot.name for spot in spots}
    return [
        reading
        if names.get(reading.spot_id, reading.spot_name) == reading.spot_name
        else replace(reading, spot_name=names[reading.spot_id])
        for reading in readings
    ]
