"""What two readings tell of a cord, with all on and without just that cord, where the model of the sweep tells nothing.

In: a swept spot with its plan. Out: the cords with both values, for the section of the sweep and for what is still to
be read.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

from logger.metrology.uncertainty import COVERAGE_FACTOR, Budget
from logger.report.document.report_data import ReportData, SweptSpot
from logger.sweep.plan_text import better_of
from logger.visit.records.condition import EVERYTHING_ON
from logger.visit.records.home_records import Source


@dataclass(frozen=True, slots=True)
class UnpluggedCord:
    """A cord whose unplugging changed the value by more than U.

    Args:
        cord: the cord.
        on: with everything on.
        without: the same without the cord.
    """

    cord: Source
    on: Budget
    without: Budget


def unplugged_cords(data: ReportData, swept: SweptSpot) -> list[UnpluggedCord]:
    """Find the cords at a spot of which only these two readings tell that they give something there.

    Args:
        data: of the report.
        swept: the spot with its readings.
    """
    plan = data.tonight
    spot = next((one for one in (plan.spots if plan else ()) if one.spot_id == swept.spot.id), None)
    on = next(
        (r.value for r in swept.rows if r.combination is not None and r.combination.label == EVERYTHING_ON),
        None,
    )
    if spot is None or not spot.is_consistent or on is None:
        return []
    untold = set()
    for given in spot.contributions:
        best = better_of(given, data.effects.get((spot.spot_id, given.source.id)))
        if best.volts <= COVERAGE_FACTOR * best.u_volts:
            untold.add(given.source.id)
    return [
        UnpluggedCord(row.source, on, row.value)
        for row in swept.rows
        if row.source is not None
        and row.source.kind == "cord"
        and row.source.id in untold
        and row.value is not None
        and abs(on.volts - row.value.volts) > hypot(on.expanded_volts, row.value.expanded_volts)
    ]
