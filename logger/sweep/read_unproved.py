"""Readings and steps that do not count, as the function check had failed before them: which, and what to do.

In: the readings and steps of a visit, circuits and cords. Out: a sentence for the window and the report.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from logger.sweep.labelled_steps import KnownStep
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


def switched_unproved(
    steps: Iterable[KnownStep],
    spot_names: Mapping[int, str],
    sources: Mapping[int, Source],
    at: int | None = None,
) -> list[str]:
    """Write whose named steps do not count, as the function check had failed; none where they were repeated since.

    Args:
        steps: of the visit, in the order of time.
        spot_names: of the spots by id.
        sources: circuits and cords by id.
        at: id of the only spot that is asked for; None for all.
    """
    unproved: dict[tuple[int, int], bool] = {}
    for known in steps:
        label = known.label
        if label is None or label.spot_id is None or label.source_id is None:
            continue
        is_known = label.spot_id in spot_names and label.source_id in sources
        if is_known and (known.unproved or known.counts):
            unproved[label.spot_id, label.source_id] = known.unproved
    text = tr(
        "At “{spot}” “{source}” was switched after the function check had failed, and what the trace shows of it does "
        "not count: find out why, do the check again, then switch it again."
    )
    return [
        text.format(spot=spot_names[spot_id], source=sources[source_id].name)
        for (spot_id, source_id), is_unproved in unproved.items()
        if is_unproved and at in (None, spot_id)
    ]


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
