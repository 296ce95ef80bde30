"""The values that may prove a remedy: readings of this visit, and what earlier visits read before it was done.

In: a `PlanBasis`. Out: values with what carried no voltage when they were read. Only states of the whole home count:
everything on but some circuits and cords, with the rest of the panel on as at night, or everything off.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from logger.metrology.context import Context, why_not_comparable, why_visits_not_comparable
from logger.metrology.difference import Term, difference
from logger.metrology.posture import Repeatability
from logger.metrology.uncertainty import Budget
from logger.plan.plan_basis import PlanBasis
from logger.sweep.sweep_progress import effective_live, live_at_reading
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, OUTSIDE_WALK, unlisted_on
from logger.visit.records.home_details import SpotDetails
from logger.visit.records.reading_records import Reading
from logger.visit.records.remedy_records import RemedyBaseline
from logger.visit.results.detail_differences import why_other_way
from logger.visit.results.posture_repeats import repeatability_on_site
from logger.visit.results.simulated_readings import measured_or_all_simulated

LABELS = ("after", "before")


@dataclass(frozen=True, slots=True)
class ValueRead:
    """A value that may count before or after a remedy was done.

    Args:
        spot_id: where it was read.
        utc_ns: when, UTC ns.
        off: ids of the circuits and cords that carried no voltage while all else was on; None with everything off.
        condition: what was on, as the log keeps it.
        volts: the value, V.
        u_volts: its standard uncertainty from the samples, V.
        context: in which it was read.
        details: how somebody was there.
        repeatability: of the posture in its visit.
        listed: ids of the circuits and cords that were on the list then.
        reading: of this visit; None where it is from an earlier one.
        baseline: of an earlier visit; None where it is from this one.
    """

    spot_id: int
    utc_ns: int
    off: frozenset[int] | None
    condition: str
    volts: float
    u_volts: float
    context: Context
    details: SpotDetails
    repeatability: Repeatability
    listed: frozenset[int]
    reading: Reading | None = None
    baseline: RemedyBaseline | None = None

    @property
    def visit(self) -> str:
        """File of the earlier visit that it is from; empty for this one."""
        return "" if self.baseline is None else self.baseline.visit

    @property
    def budget(self) -> Budget:
        """The value with its own uncertainty."""
        return self.context.budget(self.volts, self.u_volts)


def values_read(basis: PlanBasis) -> list[ValueRead]:
    """Return the values that may prove a remedy, oldest first.

    Args:
        basis: of the visit.
    """
    return sorted((*_of_visit(basis), *_of_earlier(basis)), key=lambda value: value.utc_ns)


def off_state(basis: PlanBasis, source_ids: frozenset[int]) -> frozenset[int]:
    """Return the ids of what carries no voltage with circuits off and cords unplugged: with a circuit its cords too.

    Args:
        basis: of the visit.
        source_ids: of the circuits and cords.
    """
    every = frozenset(source.id for source in basis.sources)
    return every - effective_live(every - source_ids, basis.sources)


def why_no_pair(before: ValueRead, after: ValueRead) -> str:
    """Why two values of one spot cannot be subtracted, in a sentence; empty where they can.

    Args:
        before: the earlier value.
        after: the later value.
    """
    # An unstated reference is the same wire within a visit, but not in two visits.
    contexts = before.context, after.context
    why = why_visits_not_comparable(*contexts) if before.visit else why_not_comparable(*contexts)
    return why or why_other_way(before.details, after.details)


def paired_difference(before: ValueRead, after: ValueRead) -> Budget:
    """After minus before of two values that can be subtracted: what both have in common counts once, the posture twice.

    Args:
        before: the earlier value.
        after: the later value.
    """
    return difference(
        Term(after.budget, after.context, after.repeatability),
        Term(before.budget, before.context, before.repeatability),
        LABELS,
        same_visit=not before.visit,
    )


def _of_visit(basis: PlanBasis) -> Iterator[ValueRead]:
    every = frozenset(source.id for source in basis.sources)
    repeatability = repeatability_on_site(basis.readings)
    for spot in basis.spots:
        for reading in measured_or_all_simulated([r for r in basis.readings if r.spot_id == spot.id]):
            if reading.context is None or reading.condition in ("", OUTSIDE_WALK):
                continue
            if reading.condition == EVERYTHING_OFF:
                off: frozenset[int] | None = None
            elif unlisted_on(reading.condition) is False:
                continue
            elif (live := live_at_reading(reading, basis.sources)) is not None:
                off = every - effective_live(live, basis.sources)
            elif reading.condition == EVERYTHING_ON:
                off = frozenset()
            else:
                continue
            yield ValueRead(
                spot.id, reading.utc_ns, off, reading.condition, reading.volts, reading.u_volts, reading.context,
                reading.details, repeatability, reading.listed, reading=reading,
            )  # fmt: skip


def _of_earlier(basis: PlanBasis) -> Iterator[ValueRead]:
    every = frozenset(source.id for source in basis.sources)
    names = {spot.id for spot in basis.spots}
    seen: set[tuple[int, int, str]] = set()
    for baseline in basis.baselines:
        # One value may be the baseline of several remedies.
        key = baseline.spot_id, baseline.utc_ns, baseline.condition
        if baseline.context is None or baseline.spot_id not in names or key in seen:
            continue
        seen.add(key)
        off = None
        if baseline.condition != EVERYTHING_OFF:
            live = every if baseline.live is None else baseline.live | (every - baseline.listed)
            off = every - effective_live(live & every, basis.sources)
        yield ValueRead(
            baseline.spot_id, baseline.utc_ns, off, baseline.condition, baseline.volts, baseline.u_volts,
            baseline.context, baseline.details, baseline.repeatability, baseline.listed, baseline=baseline,
        )  # fmt: skip
