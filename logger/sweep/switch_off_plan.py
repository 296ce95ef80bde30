"""What to switch off tonight, from everything that was read in a visit, and the reading that confirms it.

In: the readings, circuits and cords, set-up and named steps of a visit. Out: one `SwitchOffPlan` for all spots
that were swept. The computing is done by `logger.sweep.solver`; here its names become circuits and cords again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot

from logger.metrology.setup import Setup
from logger.metrology.supply import SUPPLY_KEYS
from logger.metrology.uncertainty import Budget
from logger.sweep.advice import Advice, SourceFinding, advise
from logger.sweep.solver.answer import CircuitEffect, MultiSpotAnswer, SpotAnswer, solve_spots
from logger.sweep.solver.plain_rule import plain_rule
from logger.sweep.solver.readings import Sweep
from logger.sweep.sweep_progress import (
    Combination,
    circuits_of,
    combination_of,
    cords_of,
    sweep_at,
    sweep_progress,
)
from logger.visit.records.records import Reading, Source
from logger.visit.results.on_off_result import against_target, budget_of

MIN_COMBINATIONS = 3
"""A spot with fewer combinations read (on, off and one between) says nothing of single circuits."""


@dataclass(frozen=True, slots=True)
class SourceContribution:
    """What a circuit or a cord gives at a spot."""

    source: Source
    volts: float
    u_volts: float
    leg: str
    """L1, L2, L3; empty where the readings leave it open."""


@dataclass(frozen=True, slots=True)
class SpotPlan:
    """Tonight at one spot."""

    spot_id: int
    name: str
    contributions: tuple[SourceContribution, ...]
    """In the order of the panel."""
    background_volts: float
    predicted: Budget
    """With what is to be switched off tonight."""
    predicted_robust_volts: float
    predicted_plain_volts: float
    """What the plain rule would leave."""
    confirming_reading: Reading | None
    """The newest reading with just that switched off."""
    confirmation: str
    """How the confirming reading stands against target and prediction; empty while it is missing."""


@dataclass(frozen=True, slots=True)
class SwitchOffPlan:
    """The answer, with circuits and cords instead of names."""

    off: tuple[Source, ...]
    """Breakers."""
    unplug: tuple[Source, ...]
    """Cords, where breakers alone do not reach the target."""
    instead: tuple[tuple[Source, tuple[Source, ...]], ...]
    """A breaker of `off`, and the cords that may be unplugged instead."""
    essential: tuple[Source, ...]
    meets_target: bool
    relies_on_cancellation: bool
    off_robust: tuple[Source, ...]
    """Breakers and cords of the smallest set that does not rely on cancellation."""
    plain_rule_off: tuple[Source, ...]
    """What the plain rule says: each that alone gives more than the target."""
    spots: tuple[SpotPlan, ...]
    ambiguous: bool
    next_spot_id: int | None
    next_combination: Combination | None
    """The one combination that would decide, while the readings do not."""
    to_confirm: Combination | None
    """What is still to be set and read, so that the answer is confirmed; None once it is, or while it is open."""
    advice: tuple[Advice, ...]


def switch_off_plan(
    readings: Sequence[Reading], spots: Sequence[tuple[int, str]], sources: Sequence[Source], setup: Setup
) -> SwitchOffPlan | None:
    """Work out what to switch off tonight; None while no spot has been swept or the supply is not stated.

    Args:
        readings: of the visit, oldest first.
        spots: id and name of those that count.
        sources: circuits and cords.
        setup: of the visit, for supply, target and reference.
    """
    swept = [
        (spot_id, name, sweep)
        for spot_id, name in spots
        if (sweep := sweep_at(readings, spot_id, sources)) is not None
        and len(sweep.readings) >= MIN_COMBINATIONS
    ]
    if not swept or setup.supply is None:
        return None
    names = {name for _, _, sweep in swept for name in sweep.circuits}
    by_name = {str(source.id): source for source in sources}
    keep = frozenset(name for name in names if by_name[name].stays)
    cords = {
        name: str(by_name[name].circuit_id) if str(by_name[name].circuit_id) in names else ""
        for name in names
        if by_name[name].kind == "cord"
    }
    found = solve_spots(
        [(str(spot_id), sweep) for spot_id, _, sweep in swept],
        SUPPLY_KEYS[setup.supply],
        keep,
        setup.target_volts,
        cords,
    )
    return _with_sources(found, swept, readings, sources, setup, keep)


def _with_sources(
    found: MultiSpotAnswer,
    swept: Sequence[tuple[int, str, Sweep]],
    readings: Sequence[Reading],
    sources: Sequence[Source],
    setup: Setup,
    keep: frozenset[str],
) -> SwitchOffPlan:
    by_name = {str(source.id): source for source in sources}

    def named(names: Sequence[str]) -> tuple[Source, ...]:
        chosen = {by_name[name].id for name in names}
        return tuple(source for source in sources if source.id in chosen)

    off, unplug = named(found.off_tonight), named(found.unplug_tonight)
    goal = combination_of(
        [c.id for c in circuits_of(sources) if c not in off], sources, [cord.id for cord in unplug]
    )
    at_spots = tuple(
        _at_spot(answer, name, goal, readings, sources, setup)
        for answer, (_, name, _) in zip(found.spots, swept, strict=True)
    )
    cords = [str(cord.id) for cord in cords_of(sources)]
    plain = [name for _, _, sweep in swept for name in plain_rule(sweep, keep, setup.target_volts, cords)]
    next_spot, next_live = found.next_readings[0] if found.next_readings else (None, ())
    all_confirmed = all(spot.confirming_reading is not None for spot in at_spots)
    return SwitchOffPlan(
        off=off,
        unplug=unplug,
        instead=tuple((by_name[circuit], named(cords)) for circuit, cords in found.unplug_instead),
        essential=tuple(source for source in sources if source.stays),
        meets_target=found.meets_target,
        relies_on_cancellation=found.relies_on_cancellation,
        off_robust=named((*found.off_robust, *found.unplug_robust)),
        plain_rule_off=named(plain),
        spots=at_spots,
        ambiguous=found.ambiguous,
        next_spot_id=int(next_spot) if next_spot is not None else None,
        next_combination=_combination(next_live, swept, sources) if next_spot is not None else None,
        to_confirm=None if found.ambiguous or all_confirmed else goal,
        advice=tuple(_advice(found, by_name, setup)),
    )


def _combination(
    live: Sequence[str], swept: Sequence[tuple[int, str, Sweep]], sources: Sequence[Source]
) -> Combination:
    """What the model wants live, with all that it does not know of as it is always."""
    varied = {int(name) for _, _, sweep in swept for name in sweep.circuits}
    on = {int(name) for name in live} | {source.id for source in sources if source.id not in varied}
    cords = [source.id for source in sources if source.kind == "cord" and source.id not in on]
    return combination_of(on, sources, cords)


def _at_spot(
    answer: SpotAnswer,
    name: str,
    goal: Combination,
    readings: Sequence[Reading],
    sources: Sequence[Source],
    setup: Setup,
) -> SpotPlan:
    spot_id = int(answer.spot)
    by_name = {str(source.id): source for source in sources}
    effects: dict[str, CircuitEffect] = {effect.name: effect for effect in answer.circuits}
    bars = tuple(
        SourceContribution(by_name[key], effect.volts, effect.u_volts, effect.leg or "")
        for key in by_name
        if (effect := effects.get(key)) is not None
    )
    predicted = Budget.of_u("prediction", answer.predicted_volts, answer.u_predicted_volts)
    taken = sweep_progress(readings, spot_id, sources).taken.get(goal.live, ())
    confirming = taken[-1] if taken else None
    return SpotPlan(
        spot_id,
        name,
        bars,
        answer.background_volts,
        predicted,
        answer.predicted_robust_volts,
        answer.predicted_plain_volts,
        confirming,
        _confirmed(confirming, predicted, setup.target_volts),
    )


def _confirmed(reading: Reading | None, predicted: Budget, target_volts: float) -> str:
    budget = budget_of(reading)
    if budget is None:
        return ""
    apart = abs(budget.volts - predicted.volts)
    as_predicted = apart <= 2 * hypot(budget.u_volts, predicted.u_volts)
    found = "as predicted" if as_predicted else f"{apart:.2f} V from what was predicted: read it again"
    return f"{against_target(budget, target_volts)}, {found}"


def _advice(found: MultiSpotAnswer, by_name: dict[str, Source], setup: Setup) -> list[Advice]:
    """For the spot where each circuit or cord gives most."""
    highest: dict[str, CircuitEffect] = {}
    for spot in found.spots:
        for effect in spot.circuits:
            if effect.name not in highest or effect.volts > highest[effect.name].volts:
                highest[effect.name] = effect
    tonight = {*found.off_tonight, *found.unplug_tonight}
    background = max(spot.background_volts for spot in found.spots)
    things = []
    for name, effect in highest.items():
        source = by_name[name]
        circuit = by_name.get(str(source.circuit_id))
        things.append(
            SourceFinding(
                source.kind,
                source.name,
                effect.volts,
                effect.u_volts,
                source.stays,
                circuit.name if circuit else "",
                name in tonight,
            )
        )
    earth = setup.reference_state().building_earth
    return advise(things, background, 0.0, setup.target_volts, earth)
