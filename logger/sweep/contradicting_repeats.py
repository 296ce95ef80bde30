"""Which valid readings of a visit contradict others of the same spot with the same circuits and cords live.

In: the readings of a visit, its circuits and cords. Out: the groups that contradict each other, by the one rule of
`logger.visit.results.contradicting_repeats`.
"""

from __future__ import annotations

from collections.abc import Sequence

from logger.sweep.sweep_progress import live_at_reading
from logger.visit.records.condition import OUTSIDE_WALK
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading
from logger.visit.results.contradicting_repeats import repeats_contradict
from logger.visit.results.posture_repeats import repeatability_on_site
from logger.visit.results.simulated_readings import measured_or_all_simulated


def contradicting_repeats(
    readings: Sequence[Reading], sources: Sequence[Source]
) -> list[tuple[Reading, ...]]:
    """Group the valid readings of a visit by spot and by what was live; return the groups that contradict each other.

    Args:
        readings: of the visit, oldest first.
        sources: its circuits and cords; a condition that they do not define is told apart by its name.
    """
    found: list[tuple[Reading, ...]] = []
    for spot_id in dict.fromkeys(reading.spot_id for reading in readings):
        groups: dict[frozenset[int] | str, list[Reading]] = {}
        for reading in measured_or_all_simulated([r for r in readings if r.spot_id == spot_id]):
            if reading.condition in ("", OUTSIDE_WALK):
                continue
            live = live_at_reading(reading, sources)
            groups.setdefault(reading.condition if live is None else live, []).append(reading)
        repeatability = repeatability_on_site([reading for same in groups.values() for reading in same])
        found += [tuple(same) for same in groups.values() if repeats_contradict(same, repeatability)]
    return found
