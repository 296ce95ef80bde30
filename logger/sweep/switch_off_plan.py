"""What to switch off tonight, from all readings of a visit: an answer only where a reading of its own set is in.

In: the readings, circuits and cords, and set-up of a visit. Out: one `SwitchOffPlan` for all spots that were swept.
`logger.sweep.solver` computes it; here its names become circuits and cords again. As long as readings contradict each
other, leave the set open, or have not confirmed it, the plan has no set to switch off, only the next reading to take.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from logger.metrology.setup import Setup
from logger.metrology.supply import SUPPLY_KEYS
from logger.metrology.uncertainty import BUILDING_EARTH, ReferenceState, Verdict
from logger.sweep.read_unproved import ReadUnproved, read_unproved
from logger.sweep.solver.answer import MultiSpotAnswer, NextReason, solve_spots
from logger.sweep.solver.plain_rule import plain_rule
from logger.sweep.solver.supply_fit import supply_doubt
from logger.sweep.solver.switching_problem import SwitchingProblem
from logger.sweep.spot_plan import ReadElsewhere, SpotPlan, SweptSpot, read_elsewhere, spot_plan
from logger.sweep.sweep_progress import (
    MIN_COMBINATIONS,
    Combination,
    combination_as_at_night,
    combination_of,
    cords_of,
    effective_live,
    is_between,
    live_at_reading,
    sweep_at,
)
from logger.visit.records.condition import EVERYTHING_OFF
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading

MIN_TIMES_CANCELLING = 2
"""A set that meets the target only because live circuits cancel each other has to be read so often: a decimal place, or
a breaker in the wrong position, looks just like cancelling, and another posture may undo it."""


class PlanState(StrEnum):
    """How far the readings are from an answer."""

    CONTRADICTORY = "contradictory"
    """Readings at a spot contradict each other; the suspect ones are to be read again, or voided where mistaken."""
    OPEN = "open"
    """A reading is missing that would decide."""
    UNCONFIRMED = "unconfirmed"
    """All that is missing is a reading of the proposed set itself."""
    CONFIRMED = "confirmed"
    """The answer rests on a reading of its own set at every spot."""


@dataclass(frozen=True, slots=True)
class SwitchOffPlan:
    """What to switch off tonight, for all spots that were swept.

    What belongs to an answer is empty until it is confirmed: off, unplug, instead, off_robust, plain_rule_off.

    Args:
        state: how far the readings are from an answer.
        target_volts: of the visit, V.
        proposed: circuits and cords of the set that the readings suggest by now, so that it can be read; none while
            readings contradict each other.
        off: circuits whose breakers are to be switched off.
        unplug: cords to unplug, where breakers alone do not reach the target.
        instead: a circuit of `off`, and the cords that may be unplugged instead.
        essential: circuits and cords that stay on.
        relies_on_cancellation: whether the set meets the target only because live circuits cancel each other.
        off_robust: circuits and cords of the smallest set that does not rely on cancellation.
        plain_rule_off: the set by the plain rule: each with which alone on more than the target was read.
        spots: the plan at each spot.
        next_spot_id: where to take the next reading; None once the answer is confirmed.
        next_combination: the combination to read next; None once the answer is confirmed.
        reference: what the readings were taken against; None where none says so.
        supply_doubt: that the readings fit another supply better than the one that was entered, a sentence in English;
            empty where they do not.
        why_next: what the next reading decides.
        problem: the possible houses that it rests on, by the ids of circuits and cords; its spots are in the order of
            `spots`.
        elsewhere: what was read with the answer's set switched off at spots that were not swept.
        unproved: the readings that no part of it rests on, as the function check had failed before them.
    """

    state: PlanState
    target_volts: float
    proposed: tuple[Source, ...]
    off: tuple[Source, ...]
    unplug: tuple[Source, ...]
    instead: tuple[tuple[Source, tuple[Source, ...]], ...]
    essential: tuple[Source, ...]
    relies_on_cancellation: bool
    off_robust: tuple[Source, ...]
    plain_rule_off: tuple[Source, ...]
    spots: tuple[SpotPlan, ...]
    next_spot_id: int | None
    next_combination: Combination | None
    reference: ReferenceState | None
    supply_doubt: str
    why_next: NextReason
    problem: SwitchingProblem = field(compare=False, repr=False)
    elsewhere: tuple[ReadElsewhere, ...] = ()
    unproved: tuple[ReadUnproved, ...] = ()

    @property
    def spots_read(self) -> tuple[SpotPlan | ReadElsewhere, ...]:
        """The spots of the answer, and those that were not swept where its set was read too."""
        return (*self.spots, *self.elsewhere)

    @property
    def contradictions(self) -> tuple[SpotPlan, ...]:
        """The spots whose readings contradict each other."""
        return tuple(spot for spot in self.spots if not spot.is_consistent)

    @property
    def verdict(self) -> Verdict | None:
        """The worst of the spots against the target; None until the answer is confirmed."""
        if self.state is not PlanState.CONFIRMED:
            return None
        verdicts = [spot.verdict(self.target_volts) for spot in self.spots]
        order: tuple[Verdict, ...] = ("above", "not distinguishable", "below")
        return min(verdicts, key=order.index)

    @property
    def meets_target(self) -> bool:
        """Whether the answer is confirmed and every spot is below the target, uncertainty included."""
        return self.verdict == "below"


def switch_off_plan(
    readings: Sequence[Reading], spots: Sequence[tuple[int, str]], sources: Sequence[Source], setup: Setup
) -> SwitchOffPlan | None:
    """Work out what to switch off tonight; None while no spot has been swept or the supply is not stated.

    Args:
        readings: of the visit, oldest first.
        spots: id and name of the spots that count.
        sources: circuits and cords of the visit.
        setup: of the visit; it has supply, target and reference.
    """
    swept = [
        SweptSpot(spot_id, name, at_spot)
        for spot_id, name in spots
        if (at_spot := sweep_at(readings, spot_id, sources)) is not None
        and len(at_spot.sweep.readings) >= MIN_COMBINATIONS
        and any(is_between(reading.condition) for reading in at_spot.readings)
    ]
    if not swept or setup.supply is None:
        return None
    names = {name for spot in swept for name in spot.found.sweep.circuits}
    by_name = {str(source.id): source for source in sources}
    keep = frozenset(name for name in names if by_name[name].stays)
    cords = {
        name: str(by_name[name].circuit_id) if str(by_name[name].circuit_id) in names else ""
        for name in names
        if by_name[name].kind == "cord"
    }
    found = solve_spots(
        [(str(spot.spot_id), spot.found.sweep) for spot in swept],
        SUPPLY_KEYS[setup.supply],
        keep,
        setup.target_volts,
        cords,
    )
    ids = {spot.spot_id for spot in swept}
    others = [(spot_id, name) for spot_id, name in spots if spot_id not in ids]
    return _with_sources(found, swept, others, readings, sources, setup, keep)


def _with_sources(
    found: MultiSpotAnswer,
    swept: Sequence[SweptSpot],
    others: Sequence[tuple[int, str]],
    readings: Sequence[Reading],
    sources: Sequence[Source],
    setup: Setup,
    keep: frozenset[str],
) -> SwitchOffPlan:
    """Put circuits and cords in place of the solver's names, and look up the confirming readings.

    Args:
        found: the solver's answer.
        swept: each spot.
        others: id and name of the spots that were not swept.
        readings: of the visit, oldest first.
        sources: circuits and cords of the visit.
        setup: of the visit.
        keep: the solver's names of the essential ones.
    """
    by_name = {str(source.id): source for source in sources}

    def named(names: Sequence[str]) -> tuple[Source, ...]:
        chosen = {by_name[name].id for name in names}
        return tuple(source for source in sources if source.id in chosen)

    off, unplug = named(found.off_tonight), named(found.unplug_tonight)
    goal = combination_as_at_night([c.id for c in off], sources, [cord.id for cord in unplug])
    consistency = dict(found.consistency)
    at_spots = tuple(
        spot_plan(
            spot,
            answer,
            consistency[answer.spot],
            goal,
            readings,
            sources,
            supply_in_doubt=bool(found.better_supplies),
        )
        for answer, spot in zip(found.spots, swept, strict=True)
    )
    state, next_spot_id, next_combination = _next_reading(found, swept, at_spots, goal, sources)
    confirmed = state is PlanState.CONFIRMED
    cords = [str(cord.id) for cord in cords_of(sources)]
    plain = [name for spot in swept for name in plain_rule(spot.found.sweep, keep, setup.target_volts, cords)]
    return SwitchOffPlan(
        state=state,
        target_volts=setup.target_volts,
        proposed=() if state is PlanState.CONTRADICTORY else (*off, *unplug),
        off=off if confirmed else (),
        unplug=unplug if confirmed else (),
        instead=tuple((by_name[circuit], named(cords)) for circuit, cords in found.unplug_instead)
        if confirmed
        else (),
        essential=tuple(source for source in sources if source.stays),
        relies_on_cancellation=confirmed and found.relies_on_cancellation,
        off_robust=named((*found.off_robust, *found.unplug_robust)) if confirmed else (),
        plain_rule_off=named(plain) if confirmed else (),
        spots=at_spots,
        next_spot_id=next_spot_id,
        next_combination=next_combination,
        reference=_reference_of([reading for spot in swept for reading in spot.found.readings]),
        supply_doubt=supply_doubt(SUPPLY_KEYS[setup.supply], found.better_supplies) if setup.supply else "",
        why_next=found.why_next,
        problem=found.problem,
        elsewhere=tuple(read_elsewhere(others, goal, readings, sources)) if confirmed else (),
        unproved=tuple(
            read_unproved(readings, [*(s.spot_id for s in swept), *(id_ for id_, _ in others)], sources)
        ),
    )


def _next_reading(
    found: MultiSpotAnswer,
    swept: Sequence[SweptSpot],
    at_spots: Sequence[SpotPlan],
    goal: Combination,
    sources: Sequence[Source],
) -> tuple[PlanState, int | None, Combination | None]:
    """Decide how far the answer is, and which reading comes next at which spot.

    Args:
        found: the solver's answer.
        swept: each spot.
        at_spots: the plan at each spot.
        goal: the combination with the plan's set switched off.
        sources: circuits and cords of the visit.
    """
    wanted = [
        (int(spot), _as_goal(_combination(live, swept, sources), goal, sources))
        for spot, live in found.next_readings
        if _can_be_read(int(spot), live, swept, sources)
    ]
    if not found.consistent:
        return PlanState.CONTRADICTORY, *(wanted[0] if wanted else (None, None))
    if not all(spot.is_consistent for spot in at_spots):
        return PlanState.CONTRADICTORY, None, None
    unread = [spot.spot_id for spot in swept if not spot.found.has_background]
    if unread:
        # Every contribution is the change from the background; no model stands in for it.
        return PlanState.OPEN, unread[0], combination_of([], sources)
    if wanted and wanted[0][1] != goal:
        return PlanState.OPEN, *wanted[0]
    times = MIN_TIMES_CANCELLING if found.relies_on_cancellation else 1
    unconfirmed = [spot.spot_id for spot in at_spots if spot.times_confirmed < times]
    if unconfirmed:
        return PlanState.UNCONFIRMED, unconfirmed[0], goal
    if wanted:
        return PlanState.OPEN, *wanted[0]
    return PlanState.CONFIRMED, None, None


def _can_be_read(
    spot_id: int, live: Sequence[str], swept: Sequence[SweptSpot], sources: Sequence[Source]
) -> bool:
    """Whether a reading that the solver asks for can still tell something.

    What must stay on by now may have been off in it. With that on it is another combination, which is only worth
    reading where nobody has read it yet.

    Args:
        spot_id: where.
        live: names that are to be live.
        swept: each spot.
        sources: circuits and cords of the visit.
    """
    varied = {name for spot in swept for name in spot.found.sweep.circuits}
    if all(str(source.id) in live for source in sources if source.stays and str(source.id) in varied):
        return True
    wanted = frozenset(_combination(live, swept, sources).live)
    return not any(
        wanted == live_at_reading(reading, sources)
        for spot in swept
        if spot.spot_id == spot_id
        for reading in spot.found.readings
    )


def _as_goal(wanted: Combination, goal: Combination, sources: Sequence[Source]) -> Combination:
    """Put the goal in the place of a combination with the same circuits live, so that it is read as at night.

    Args:
        wanted: a combination that the solver asks for.
        goal: the combination with the plan's set switched off.
        sources: circuits and cords of the visit.
    """
    same = effective_live(wanted.live, sources) == effective_live(goal.live, sources)
    return goal if same else wanted


def _combination(live: Sequence[str], swept: Sequence[SweptSpot], sources: Sequence[Source]) -> Combination:
    """Turn the solver's names into a combination; sources that are not part of the sweep stay live.

    Args:
        live: names that are to be live.
        swept: each spot.
        sources: circuits and cords of the visit.
    """
    varied = {int(name) for spot in swept for name in spot.found.sweep.circuits}
    on = {int(name) for name in live} | {source.id for source in sources if source.id not in varied}
    cords = [source.id for source in sources if source.kind == "cord" and source.id not in on]
    return combination_of(on, sources, cords)


def _reference_of(readings: Sequence[Reading]) -> ReferenceState | None:
    """What the deciding readings were taken against: the building's earth where one was, whatever is stated by now.

    Args:
        readings: those that the answer rests on.
    """
    with_context = [reading for reading in readings if reading.context is not None]
    # What is left with everything off decides, as it was read last: older repeats may have been read otherwise.
    newest = {
        reading.spot_id: reading
        for reading in sorted(with_context, key=lambda reading: reading.utc_ns)
        if reading.condition == EVERYTHING_OFF
    }
    deciding = list(newest.values()) or with_context
    states = [reading.context.reference_state() for reading in deciding if reading.context is not None]
    against_building = [state for state in states if state.building_earth]
    stated = [state for state in against_building if BUILDING_EARTH not in state.not_stated]
    return next(iter([*stated, *against_building, *states]), None)
