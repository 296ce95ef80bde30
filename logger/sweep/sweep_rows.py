"""The sweep at a spot, row by row as a person reads it: everything off, each circuit alone, everything on, each cord
unplugged by itself; with the mean of the repeats and its whole uncertainty.

In: how far the sweep is, and the circuits and cords of the home. Out: one `SweepRow` for each in the panel's order.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from statistics import fmean, stdev

from logger.metrology.uncertainty import Budget
from logger.sweep.sweep_progress import Combination, SweepProgress, circuits_of, combination_of, cords_of
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.records import Reading, Source


@dataclass(frozen=True, slots=True)
class SweepRow:
    """One combination of the plain sweep."""

    name: str
    source: Source | None
    """None for everything off and everything on."""
    combination: Combination | None
    """None where it is not switched: it must stay on, or nobody knows where the cord is plugged in."""
    readings: tuple[Reading, ...]
    """That stand, oldest first."""
    value: Budget | None
    """Mean of the readings; None before the first."""


def sweep_rows(found: SweepProgress, sources: Sequence[Source]) -> list[SweepRow]:
    """All rows; nothing while no circuit is listed."""
    circuits = circuits_of(sources)
    if not circuits:
        return []
    everything = [c.id for c in circuits]

    def row(name: str, source: Source | None, combination: Combination | None) -> SweepRow:
        readings = found.taken.get(combination.live, ()) if combination is not None else ()
        return SweepRow(name, source, combination, readings, mean_of_repeats(readings))

    def alone(circuit: Source) -> Combination | None:
        return None if circuit.stays else combination_of([circuit.id], sources)

    def without(cord: Source) -> Combination | None:
        if cord.stays or cord.circuit_id is None:
            return None
        return combination_of(everything, sources, [cord.id])

    return [
        row(EVERYTHING_OFF.capitalize(), None, combination_of([], sources)),
        *(row(circuit.name, circuit, alone(circuit)) for circuit in circuits),
        row(EVERYTHING_ON.capitalize(), None, combination_of(everything, sources)),
        *(row(cord.name, cord, without(cord)) for cord in cords_of(sources)),
    ]


def mean_of_repeats(readings: Sequence[Reading]) -> Budget | None:
    """The mean of repeats, V, with meter and reference as they held at the newest; None without any.

    Repeats that scatter more than each says of itself count with that scatter (GUM 4.2.3).
    """
    if not readings:
        return None
    values = [reading.volts for reading in readings]
    count = len(values)
    u_volts = hypot(*(reading.u_volts for reading in readings)) / count
    if count > 1:
        u_volts = max(u_volts, stdev(values) / count**0.5)
    context = readings[-1].context
    if context is None:
        return Budget.of_u("scatter", fmean(values), u_volts)
    return context.budget(fmean(values), u_volts)
