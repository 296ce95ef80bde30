"""The spots with their results."""

from __future__ import annotations

from dataclasses import dataclass

from logger.metrology.uncertainty import Budget
from logger.report.export.table import ExportColumn, ExportTable, integers, simulated, spot
from logger.visit.records.home_records import Spot
from logger.visit.results.on_off_result import SpotResult, budget_of
from logger.visit.storage.visit_log import VisitLog


@dataclass(frozen=True, slots=True)
class SpotLine:
    """A spot with its result."""

    spot: Spot
    result: SpotResult
    target_volts: float

    @property
    def on(self) -> Budget | None:
        """The value with everything on; None where its readings contradict each other."""
        return None if self.result.contradicts(self.result.on) else budget_of(self.result.on)

    @property
    def off(self) -> Budget | None:
        """The value with everything off; None where its readings contradict each other."""
        return None if self.result.contradicts(self.result.off) else budget_of(self.result.off)

    @property
    def difference(self) -> Budget | None:
        """On minus off."""
        return self.result.difference()


def _rows(log: VisitLog) -> list[SpotLine]:
    readings, target_volts, sources = (
        log.present_readings(),
        log.setup.current().target_volts,
        log.circuits.all(),
    )
    return [SpotLine(s, SpotResult.of(readings, s.id, sources), target_volts) for s in log.spots.all()]


def _expanded(budget: Budget | None) -> float | None:
    return budget.expanded_volts if budget else None


SPOTS: ExportTable[SpotLine] = ExportTable(
    "spots",
    "The spots in the order of the route, with the newest standing readings with everything on and off.",
    _rows,
    (
        ExportColumn("spot_id", "", "number of the spot in this visit", lambda line: line.spot.id),
        ExportColumn("room", "", "where it is", lambda line: line.spot.room),
        spot(lambda line: line.spot.name),
        ExportColumn("reminder", "", "what has to be on when it is read", lambda line: line.spot.reminder),
        ExportColumn(
            "on_reading_id", "", "the reading with everything on, see readings",
            lambda line: line.result.on.id if line.result.on else None, integers,
        ),
        ExportColumn(
            "off_reading_id", "", "the reading with everything off",
            lambda line: line.result.off.id if line.result.off else None, integers,
        ),
        ExportColumn(
            "on_volts", "V", "value with everything on",
            lambda line: line.result.on.volts if line.result.on else None,
        ),
        ExportColumn("on_expanded_volts", "V", "its expanded uncertainty, k = 2", lambda line: _expanded(line.on)),
        ExportColumn(
            "off_volts", "V", "value with everything off",
            lambda line: line.result.off.volts if line.result.off else None,
        ),
        ExportColumn("off_expanded_volts", "V", "its expanded uncertainty, k = 2", lambda line: _expanded(line.off)),
        ExportColumn(
            "difference_volts", "V", "on minus off; empty where they are not comparable, or contradict repeats",
            lambda line: line.difference.volts if line.difference else None,
        ),
        ExportColumn(
            "difference_expanded_volts", "V", "its expanded uncertainty, k = 2",
            lambda line: _expanded(line.difference),
        ),
        ExportColumn("form", "V", "as it stands on the form: on (off), rounded", lambda line: line.result.pair()),
        ExportColumn(
            "against_target", "", "the value with everything on against the target",
            lambda line: line.result.verdict(line.target_volts, in_table=True),
        ),
        ExportColumn(
            "meaning", "", "what the readings mean, in words",
            lambda line: line.result.meaning(line.target_volts),
        ),
        simulated(lambda line: line.result.simulated),
    ),
)  # fmt: skip
