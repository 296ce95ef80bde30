"""The spot that a mark is about: as it was entered, else likely that of the reading nearest to it in time."""

from __future__ import annotations

from logger.clock import NS_PER_S
from logger.report.document.report_data import ReportData
from logger.translation import tr, tr_kept
from logger.visit.records.mark_about import MarkAbout
from logger.visit.records.reading_records import Mark, Reading

NEAR_S = 120.0
"""A mark that no reading is nearer to than this belongs to no spot. No source, ours: about two spots of a round."""


def moment_ns(mark: Mark) -> int:
    """When a mark was set, by the clock that does not jump where it is known, UTC nanoseconds."""
    return mark.steady_utc_ns if mark.steady_utc_ns is not None else mark.utc_ns


def near_spots(data: ReportData) -> dict[int, list[str]]:
    """The texts of the marks that are about a spot, or were set near a reading of it, by its id; without voided ones.

    Args:
        data: of the report.
    """
    near: dict[int, list[str]] = {}
    for mark in data.marks:
        spot_id = _spot_of(mark, data)
        if spot_id is not None and mark.void_reason is None:
            near.setdefault(spot_id, []).append(tr("“{name}”").format(name=tr_kept(mark.text)))
    return near


def _spot_of(mark: Mark, data: ReportData) -> int | None:
    """The one spot that a mark is about; None where it is about none, or about readings at several."""
    if (about := data.marks_about.get(mark.id)) is not None:
        return about.spot_id
    reading = nearest_reading(mark, data)
    return reading.spot_id if reading is not None else None


def readings_about(mark: Mark, about: MarkAbout, data: ReportData) -> list[int]:
    """The numbers of the valid readings that a mark is about as it was entered, in rising order.

    Args:
        mark: that was set by hand.
        about: what was entered.
        data: of the report.
    """
    return [reading.id for reading in data.valid_readings if about.holds_for(reading, moment_ns(mark))]


def nearest_reading(mark: Mark, data: ReportData) -> Reading | None:
    """Find the valid reading of the same recording that is nearest to a mark; None where none is near.

    Args:
        mark: that was set by hand.
        data: of the report.
    """
    of_run = [
        reading
        for reading in data.valid_readings
        if mark.run_id is not None and reading.run_id == mark.run_id
    ]
    nearest = min(of_run, key=lambda reading: _apart_ns(reading, mark), default=None)
    return nearest if nearest is not None and _apart_ns(nearest, mark) <= NEAR_S * NS_PER_S else None


def _apart_ns(reading: Reading, mark: Mark) -> int:
    taken_ns = reading.end_utc_ns if reading.end_utc_ns is not None else reading.utc_ns
    return abs(taken_ns - moment_ns(mark))
