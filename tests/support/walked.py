"""Readings of a walk outside, made by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from logger.metrology.context import Context
from logger.metrology.setup import Setup
from logger.visit.records.condition import OUTSIDE_WALK
from logger.visit.records.home_records import Spot
from logger.visit.records.reading_records import Reading

SETUP = Setup(reference="earth rod", on_battery=True, link_isolated=True)


@dataclass
class Walked:
    """Readings in the order in which they were taken, and the spots along the path."""

    readings: list[Reading] = field(default_factory=list)
    spots: list[Spot] = field(default_factory=list)


def walked(taken: Sequence[tuple[int, float]], path: Sequence[int], setup: Setup = SETUP) -> Walked:
    """Walk.

    Args:
        taken: the point and the value of each reading, V, as they were taken.
        path: the points in the order of the path.
        setup: of all readings.
    """
    readings = [
        Reading(
            number, number, 1, at, str(at), OUTSIDE_WALK, volts, 0.002, 20, 0, 9, 1, 9, "settled",
            Context(setup, {}), None, frozenset(), None, None,
        )
        for number, (at, volts) in enumerate(taken, 1)
    ]  # fmt: skip
    return Walked(readings, [Spot(at, str(at), OUTSIDE_WALK) for at in path])
