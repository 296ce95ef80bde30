"""Which values are compared with the target by a reading that may have been swapped with another one by mistake."""

from __future__ import annotations

from collections.abc import Callable

from logger.metrology.uncertainty import Budget, Verdict
from logger.report.document.report_data import ReportData
from logger.visit.records.reading_records import Reading
from logger.visit.results.on_off_result import budget_of


def may_be_swapped(
    reading: Reading, data: ReportData, compare: Callable[[Budget, float], Verdict]
) -> list[Reading]:
    """The readings that one may have been swapped with, of which each compares otherwise with the target.

    Where all of them compare alike, the verdict holds whichever of them was read.

    Args:
        reading: that is shown.
        data: of the report.
        compare: the rule that holds for it.
    """
    own = budget_of(reading)
    if data.tonight is None or own is None:
        return []
    verdict = compare(own, data.setup.target_volts)
    others = {
        other.id: other
        for spot in data.tonight.spots
        if spot.is_consistent
        for pair in spot.exchangeable
        if any(one.id == reading.id for one in pair)
        for other in pair
        if other.id != reading.id
    }
    return [
        other
        for other in others.values()
        if (budget := budget_of(other)) is not None and compare(budget, data.setup.target_volts) != verdict
    ]
