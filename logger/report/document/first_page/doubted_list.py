"""Whether something speaks against the readings that tonight's list rests on."""

from __future__ import annotations

from logger.report.document.report_data import ReportData


def spots_in_doubt(data: ReportData) -> list[str]:
    """Names of the spots at which something speaks against a reading of the list itself; none without a list.

    Args:
        data: of the report.
    """
    out = []
    plan = data.tonight
    for spot in plan.spots_read if plan is not None else ():
        newest = spot.confirming_reading
        if newest is None:
            continue
        of_list = {
            reading.id
            for reading in data.valid_readings
            if reading.spot_id == spot.spot_id and reading.condition == newest.condition
        }
        if (of_list | {newest.id}) & (data.doubts.keys() | data.contradicting):
            out.append(spot.name)
    return out
