"""Household, path and date of a visit that is compared."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from logger.clock import NS_PER_S
from logger.visit.results.simulated_readings import simulation_sentence
from logger.visit.storage.time_zone import zone_of
from logger.visit.storage.visit_log import VisitLog


@dataclass(frozen=True, slots=True)
class ComparedVisit:
    """Which visit it is."""

    path: Path
    household: str
    first_utc_ns: int | None
    """Of its first valid reading, else of its first run; None where there is neither."""
    date: str
    """ISO date of that moment where it was recorded; empty where it is not known."""
    simulation: str = ""
    """How much of it is simulated, in a sentence; empty where nothing is."""
    salvage: str = ""
    """That it was salvaged and what is not known since, in a sentence; empty where it never was."""
    damage: str = ""
    """What of the log does not agree with itself, in a sentence; empty where everything does."""


def compared_visit(log: VisitLog) -> ComparedVisit:
    """Describe an open visit log."""
    household = log.setup.current().household
    first_ns = first_moment_ns(log)
    runs = log.runs.all()
    simulation = simulation_sentence([run.simulated for run in runs], log.readings.all())
    record = log.facts.salvage()
    salvage = record.sentence if record else ""
    damage = log.integrity().summary()
    if first_ns is None:
        return ComparedVisit(log.path, household, None, "", simulation, salvage, damage)
    moment = datetime.fromtimestamp(first_ns // NS_PER_S, zone_of(runs[0]) if runs else UTC)
    return ComparedVisit(
        log.path, household, first_ns, moment.date().isoformat(), simulation, salvage, damage
    )


def first_moment_ns(log: VisitLog) -> int | None:
    """Return when the first valid reading was taken, else when the first run began, UTC nanoseconds."""
    moments = [reading.utc_ns for reading in log.readings.all() if reading.void_reason is None]
    moments = moments or [run.started_utc_ns for run in log.runs.all()]
    return moments[0] if moments else None
