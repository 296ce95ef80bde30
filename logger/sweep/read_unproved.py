"""Readings that count for no combination, as the function check had failed before them: which, and what to do.

In: the readings of a visit, circuits and cords. Out: a sentence for the window and the report.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from logger.sweep.sweep_progress import is_between, live_at_reading, sweep_progress
from logger.translation import tr, tr_kept
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading
from logger.visit.results.on_off_result import has_failed_function_check


@dataclass(frozen=True, slots=True)
class ReadUnproved:
    """Readings at a spot that do not count, and that were not taken again since.

    Args:
        spot_name: of the spot.
        conditions: of the readings, each once, as the log keeps them.
    """

    spot_name: str
    conditions: tuple[str, ...]

    @property
    def text(self) -> str:
        """Which readings do not count, why, and what to do."""
        if len(self.conditions) == 1:
            text = tr(
                "At “{spot}” “{condition}” was read after the function check had failed and does not count: find out "
                "why, do the check again, then read it again."
            )
        else:
            text = tr(
                "At “{spot}” {n} combinations, such as “{condition}”, were read after the function check had failed "
                "and do not count: find out why, do the check again, then read them again."
            )
        return text.format(spot=self.spot_name, n=len(self.conditions), condition=tr_kept(self.conditions[0]))


def read_unproved(
    readings: Sequence[Reading], spots: Iterable[int], sources: Sequence[Source]
) -> list[ReadUnproved]:
    """Find which readings of a sweep do not count, spot by spot; none where each combination was read again since.

    Args:
        readings: of the visit, oldest first.
        spots: ids of the spots.
        sources: circuits and cords of the visit.
    """
    out = []
    for spot_id in spots:
        here = [r for r in readings if r.spot_id == spot_id and r.void_reason is None]
        if not any(is_between(reading.condition) for reading in here):
            continue
        failed = [
            (live, reading)
            for reading in here
            if has_failed_function_check(reading) and (live := live_at_reading(reading, sources)) is not None
        ]
        counted = sweep_progress(readings, spot_id, sources).taken if failed else {}
        left = [reading for live, reading in failed if live not in counted]
        if left:
            conditions = tuple(dict.fromkeys(reading.condition for reading in left))
            out.append(ReadUnproved(left[0].spot_name, conditions))
    return out
