"""The sweep at a spot as a table: everything off, each circuit alone, everything on, each cord unplugged by itself.

In: how far the sweep is, and the circuits and cords of the home. Out: one `SweepRow` for each combination, in the order
of the panel, with the mean of its repeats and the full uncertainty of that mean.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from logger.metrology.uncertainty import Budget
from logger.repeats import MIN_U_VOLTS, combine
from logger.sweep.sweep_progress import (
    Combination,
    SweepProgress,
    circuits_of,
    combination_of,
    cords_of,
    switchable_ids,
)
from logger.translation import tr
from logger.visit.records.condition import EVERYTHING_OFF
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading
from logger.visit.results.contradicting_repeats import is_repeat, repeats_contradict, why_other_context
from logger.visit.results.posture_repeats import repeatability_on_site


@dataclass(frozen=True, slots=True)
class SweepRow:
    """One combination of the plain sweep.

    Args:
        source: the circuit or cord of the row; None for everything off and everything on.
        combination: what is live; None where it is not switched (an essential circuit, a cord of an unknown circuit)
            or not alone (the only circuit listed).
        readings: the valid ones, oldest first.
        value: mean of the readings, V; None before the first.
        repeats_contradict: the readings scatter more than their uncertainties and the posture explain, so that their
            mean is no value.
    """

    source: Source | None
    combination: Combination | None
    readings: tuple[Reading, ...]
    value: Budget | None
    repeats_contradict: bool = False

    @property
    def name(self) -> str:
        """Of the row, for people."""
        if self.source is not None:
            return self.source.name
        is_off = self.combination is not None and self.combination.label == EVERYTHING_OFF
        return tr("Everything off") if is_off else tr("Everything on")


def sweep_rows(found: SweepProgress, sources: Sequence[Source]) -> list[SweepRow]:
    """List all rows; there is none while no circuit is listed, and none of everything off while all must stay on."""
    circuits = circuits_of(sources)
    if not circuits:
        return []
    if not switchable_ids(sources):
        return [SweepRow(circuit, None, (), None) for circuit in circuits]
    everything = [c.id for c in circuits]
    repeatability = repeatability_on_site([reading for same in found.taken.values() for reading in same])

    def row(source: Source | None, combination: Combination | None) -> SweepRow:
        readings = found.taken.get(combination.live, ()) if combination is not None else ()
        apart = repeats_contradict([r for r in readings if is_repeat(r, readings[-1])], repeatability)
        return SweepRow(source, combination, readings, mean_of_repeats(readings), apart)

    def alone(circuit: Source) -> Combination | None:
        # By itself a single one is named everything on, and that is also what is not listed.
        if circuit.stays or len(switchable_ids(sources)) == 1:
            return None
        return combination_of([circuit.id], sources)

    def without(cord: Source) -> Combination | None:
        if cord.stays or cord.circuit_id is None:
            return None
        return combination_of(everything, sources, [cord.id])

    return [
        row(None, combination_of([], sources)),
        *(row(circuit, alone(circuit)) for circuit in circuits),
        row(None, combination_of(everything, sources)),
        *(row(cord, without(cord)) for cord in cords_of(sources)),
    ]


def mean_of_repeats(readings: Sequence[Reading]) -> Budget | None:
    """Average the repeats of a combination, V, with the widest ± of their meter and reference; None without any.

    Readings with another meter input or against another reference than the newest are of another voltage, and do not
    count.
    Where one was read after a zero check that did not fail, those after a failed one do not count: that showed by how
    much they may be off, and not by how much they are. Where the repeats scatter more than their own uncertainties
    allow, the Birge ratio widens the mean's.
    """
    if not readings:
        return None
    readings = [r for r in readings if not why_other_context(r, readings[-1])]
    readings = [r for r in readings if not (r.context and r.context.failed_zero_volts)] or readings
    mean = combine([(reading.volts, max(reading.u_volts, MIN_U_VOLTS)) for reading in readings])
    budgets = [r.context.budget(mean.volts, mean.u_volts) for r in readings if r.context is not None]
    if readings[-1].context is None:
        return Budget.of_u("scatter", mean.volts, mean.u_volts)
    return max(reversed(budgets), key=lambda budget: budget.u_volts)
