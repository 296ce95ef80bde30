"""What was on in each night, and where the person lay, as it was entered."""

from __future__ import annotations

from dataclasses import dataclass

from logger.night.night_conditions import NightCondition
from logger.night.recorded_nights import Night, nights
from logger.report.export.table import ExportColumn, ExportTable, local, run_id, utc
from logger.visit.storage.visit_log import VisitLog


@dataclass(frozen=True, slots=True)
class _Row:
    """What was on from a moment of a night until the next one."""

    night: Night
    change: NightCondition

    @property
    def utc_ns(self) -> int:
        return self.night.utc_ns(self.change.since_s)


def _rows(log: VisitLog) -> list[_Row]:
    return [_Row(night, change) for night in nights(log) for change in night.conditions]


NIGHT_CONDITIONS: ExportTable[_Row] = ExportTable(
    "night_conditions",
    "What was on in each recording when its night began, each change that was entered during it, and where the person "
    "lay.",
    _rows,
    (
        ExportColumn("night", "", "number of the recording, oldest first", lambda row: row.night.number),
        ExportColumn("is_night", "", "whether it is long enough for a night", lambda row: row.night.counts),
        run_id(lambda row: row.night.runs[0].id),
        utc(lambda row: row.utc_ns),
        local(lambda row: row.utc_ns),
        ExportColumn(
            "condition",
            "",
            "what is on from then on; empty where nobody entered it",
            lambda row: row.change.condition,
        ),
        ExportColumn(
            "spot",
            "",
            "where the person lay in that recording, by its present name; empty where nobody entered it",
            lambda row: row.night.spot.name,
        ),
    ),
)
