"""Readings and marks in the order in which they were made, also where the computer's clock was set in between."""

from __future__ import annotations

from collections.abc import Sequence

from logger.visit.records.reading_records import Mark, Reading


def in_order(readings: Sequence[Reading], marks: Sequence[Mark]) -> list[Reading | Mark]:
    """All of them, oldest first.

    Args:
        readings: of the visit, in the order of writing, which they keep.
        marks: the same. Readings and marks are merged by the run's steady time where both have one, else by the
            computer's clock.
    """
    timed: list[tuple[int, Reading | Mark]] = []
    for items in (readings, marks):
        latest_ns = 0
        for item in items:
            steady_ns = item.end_utc_ns if isinstance(item, Reading) else item.steady_utc_ns
            latest_ns = max(latest_ns, item.utc_ns if steady_ns is None else steady_ns)
            timed.append((latest_ns, item))
    return [item for _, item in sorted(timed, key=lambda one: one[0])]
