"""How simulated readings count: never together with measured ones."""

from __future__ import annotations

from collections.abc import Sequence

from logger.metrology.rounding import grouped
from logger.translation import tr
from logger.visit.records.reading_records import Reading
from logger.visit.records.simulated_run import SIMULATED_NOTE, simulated_part


def measured_or_all_simulated(readings: Sequence[Reading]) -> list[Reading]:
    """The valid readings that may be put together: the measured ones, or the simulated ones where none was measured."""
    valid = [reading for reading in readings if reading.void_reason is None]
    return [reading for reading in valid if not reading.simulated] or valid


def simulation_sentence(runs_simulated: Sequence[bool], readings: Sequence[Reading]) -> str:
    """How much of a visit is simulated, in one sentence or two; empty where nothing is.

    Args:
        runs_simulated: for each run of the visit, whether it was simulated.
        readings: of the visit.
    """
    valid = [reading.simulated for reading in readings if reading.void_reason is None]
    if not simulated_part([*runs_simulated, *valid]):
        return ""
    if all(runs_simulated) and all(valid):
        return tr(SIMULATED_NOTE)
    return tr(
        "Simulated in part: {simulated_runs} of {runs} recordings and {simulated} of {readings} readings come from a "
        "simulation, in which nothing was measured. Each is marked."
    ).format(
        simulated_runs=grouped(sum(runs_simulated)),
        runs=grouped(len(runs_simulated)),
        simulated=grouped(sum(valid)),
        readings=grouped(len(valid)),
    )
