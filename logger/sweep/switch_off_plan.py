"""What to switch off tonight, from all readings of a visit, and the reading that confirms it.

In: the readings, circuits and cords, and set-up of a visit. Out: one `SwitchOffPlan` for all spots that were swept.
`logger.sweep.solver` computes it; here its names become circuits and cords again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot

from logger.metrology.setup import Setup
from logger.metrology.supply import SUPPLY_KEYS
from logger.metrology.uncertainty import COVERAGE_FACTOR, Budget
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
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading
from logger.visit.results.on_off_result import against_target, budget_of

MIN_COMBINATIONS = 3
"""A spot with fewer combinations read (on, off and one between) does not count: it does not separate the circuits."""


@dataclass(frozen=True, slots=True)
class SourceContribution:
    """The contribution of a circuit or a cord at a spot.

    Args:
        source: the circuit or cord.
        volts: magnitude of its contribution, V.
        u_volts: standard uncertainty, V.
        leg: L1, L2 or L3; empty where the readings leave it open.
    """

    source: Source
    volts: float
    u_volts: float
    leg: str


@dataclass(frozen=True, slots=True)
class SpotPlan:
    """The plan at one spot.

    Args:
        spot_id: of the spot.
        name: of the spot.
        contributions: of the circuits and cords, in the order of the panel.
        background_volts: value with everything off, V.
        predicted: value with the plan's set switched off, V.
        predicted_robust_volts: value with the robust set switched off, V.
        predicted_plain_volts: value with the plain rule's set switched off, V.
        confirming_reading: the newest reading with exactly the plan's set switched off; None while there is none.
        confirmation: that reading compared with target and prediction, in words; empty while there is none.
    """

    spot_id: int
    name: str
    contributions: tuple[SourceContribution, ...]
    background_volts: float
    predicted: Budget
    predicted_robust_volts: float
    predicted_plain_volts: float
    confirming_reading: Reading | None
    confirmation: str


@dataclass(frozen=True, slots=True)
class SwitchOffPlan:
    """What to switch off tonight, for all spots that were swept.

    Args:
        off: circuits whose breakers are to be switched off.
        unplug: cords to unplug, where breakers alone do not reach the target.
        instead: a circuit of `off`, and the cords that may be unplugged instead.
        essential: circuits and cords that stay on.
        meets_target: whether the predicted values meet the target at every spot.
        relies_on_cancellation: whether they do so only because live circuits cancel each other.
        off_robust: circuits and cords of the smallest set that does not rely on cancellation.
        plain_rule_off: the set by the plain rule: each that alone gives more than the target.
        spots: the plan at each spot.
        ambiguous: whether the readings leave the answer open.
        next_spot_id: where to take the next reading; None unless the answer is open.
        next_combination: the combination to read next; None unless the answer is open.
        to_confirm: the combination to read as confirmation; None once that is done, and while the answer is open.
        advice: what can be done, the most effective first.
        consistent: whether the readings agree with each other at every spot; where they do not, the plan is no answer
            and `next_combination` is one to read again.
    """

    off: tuple[Source, ...]
    unplug: tuple[Source, ...]
    instead: tuple[tuple[Source, tuple[Source, ...]], ...]
    essential: tuple[Source, ...]
    meets_target: bool
    relies_on_cancellation: bool
    off_robust: tuple[Source, ...]
    plain_rule_off: tuple[Source, ...]
    spots: tuple[SpotPlan, ...]
    ambiguous: bool
    next_spot_id: int | None
    next_combination: Combination | None
    to_confirm: Combination | None
    advice: tuple[Advice, ...]
    consistent: bool


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
    """Put circuits and cords in place of the solver's names, and look up the confirming readings.

    Args:
        found: the solver's answer.
        swept: id, name and sweep of each spot.
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
        consistent=found.consistent,
    )


def _combination(
    live: Sequence[str], swept: Sequence[tuple[int, str, Sweep]], sources: Sequence[Source]
) -> Combination:
    """Turn the solver's names into a combination; sources that are not part of the sweep stay live.

    Args:
        live: names that are to be live.
        swept: id, name and sweep of each spot.
        sources: circuits and cords of the visit.
    """
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
    """Put the plan at one spot together.

    Args:
        answer: of the solver for the spot.
        name: of the spot.
        goal: the combination with the plan's set switched off.
        readings: of the visit, oldest first.
        sources: circuits and cords of the visit.
        setup: of the visit.
    """
    spot_id = int(answer.spot)
    by_name = {str(source.id): source for source in sources}
    effects: dict[str, CircuitEffect] = {effect.name: effect for effect in answer.circuits}
    contributions = tuple(
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
        contributions,
        answer.background_volts,
        predicted,
        answer.predicted_robust_volts,
        answer.predicted_plain_volts,
        confirming,
        _confirmation_text(confirming, predicted, setup.target_volts),
    )


def _confirmation_text(reading: Reading | None, predicted: Budget, target_volts: float) -> str:
    """Compare the confirming reading with target and prediction, in words; empty while there is none.

    Args:
        reading: with the plan's set switched off.
        predicted: the value then.
        target_volts: of the visit, V.
    """
    budget = budget_of(reading)
    if budget is None:
        return ""
    apart = abs(budget.volts - predicted.volts)
    as_predicted = apart <= COVERAGE_FACTOR * hypot(budget.u_volts, predicted.u_volts)
    verdict = "as predicted" if as_predicted else f"{apart:.2f} V from what was predicted: read it again"
    return f"{against_target(budget, target_volts)}, {verdict}"


def _advice(found: MultiSpotAnswer, by_name: dict[str, Source], setup: Setup) -> list[Advice]:
    """Work out the advice; each circuit and cord counts at the spot where it gives most.

    Args:
        found: the solver's answer.
        by_name: circuits and cords by the solver's names.
        setup: of the visit.
    """
    highest: dict[str, CircuitEffect] = {}
    for spot in found.spots:
        for effect in spot.circuits:
            if effect.name not in highest or effect.volts > highest[effect.name].volts:
                highest[effect.name] = effect
    tonight = {*found.off_tonight, *found.unplug_tonight}
    background = max(spot.background_volts for spot in found.spots)
    findings = []
    for name, effect in highest.items():
        source = by_name[name]
        circuit = by_name.get(str(source.circuit_id))
        findings.append(
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
    return advise(findings, background, 0.0, setup.target_volts, earth)
