"""The findings of a visit: what each remedy answers.

In: a `PlanBasis`. Out: findings, the strongest first. They rest on the same advice as tonight's list; what the readings
do not prove is marked with the reason, and nothing is found in readings that contradict each other.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from logger.metrology.rounding import plain
from logger.metrology.uncertainty import Budget, shown
from logger.name_list import joined
from logger.night.night_facts import load_text
from logger.plan.plan_basis import NightLoad, PlanBasis
from logger.plan.planned_remedy import Finding, FindingKind
from logger.sweep.advice import Advice, AdviceKind, SourceFinding, advise
from logger.sweep.confirmation import Effect
from logger.sweep.plan_text import no_answer_text
from logger.sweep.switch_off_plan import PlanState, SwitchOffPlan
from logger.sweep.tonights_advice import advice_so_far, strongest
from logger.translation import marked, tr
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading
from logger.visit.results.on_off_result import SpotResult, budget_of, has_failed_function_check

NOT_PROVED = marked("Not proved: the readings that are still missing may change it.")

CHECK_FAILED = marked(
    "The function check failed: whether the meter shows the voltage of a body is not known. Find out why, do the check "
    "again, then read again."
)

CONTRADICTED = marked("Not proved: readings of the sweep contradict each other.")

NO_SWEEP = marked(
    "No spot was swept: which circuit or cord gives how much is known only of what was switched by itself."
)

_KINDS: Mapping[AdviceKind, FindingKind] = {
    AdviceKind.CORD: FindingKind.CORD,
    AdviceKind.CIRCUIT: FindingKind.CIRCUIT,
    AdviceKind.OUTSIDE: FindingKind.OUTSIDE,
    AdviceKind.REFERENCE: FindingKind.REFERENCE,
}


def why_open(basis: PlanBasis) -> str:
    """Why the findings are not proved, or why there are none, in a sentence or two; empty where they are proved.

    Args:
        basis: of the visit.
    """
    if basis.function_check_failed:
        return tr(CHECK_FAILED)
    if basis.tonight is None:
        return tr(NO_SWEEP)
    return no_answer_text(basis.tonight, _value_of)


def findings_of(basis: PlanBasis) -> list[Finding]:
    """Find what remedies may be for, the strongest first within each kind; loads at night come last.

    Args:
        basis: of the visit.
    """
    plan = basis.tonight
    if plan is None or plan.state is PlanState.CONTRADICTORY:
        found = list(_without_sweep(basis))
    else:
        found = [*_of_sweep(basis, plan), *_together(basis, plan)]
    return [*found, *_at_night(basis.loads)]


def _doubt(basis: PlanBasis) -> str:
    """Why what the sweep says is not proved; empty where it is."""
    if basis.function_check_failed:
        return tr(CHECK_FAILED)
    if basis.tonight is None or basis.tonight.state is PlanState.CONFIRMED:
        return ""
    return tr(CONTRADICTED if basis.tonight.state is PlanState.CONTRADICTORY else NOT_PROVED)


def _of_sweep(basis: PlanBasis, plan: SwitchOffPlan) -> Iterator[Finding]:
    by_name = {source.name: source for source in basis.sources}
    highest = strongest(plan, basis.effects)
    worst = max(
        (spot for spot in plan.spots if spot.background is not None),
        key=lambda spot: spot.background.volts if spot.background else 0.0,
        default=None,
    )
    for piece in advice_so_far(plan, basis.effects):
        source = by_name.get(piece.about)
        at = highest[source.id].spot if source is not None else worst
        yield Finding(
            _KINDS[piece.kind],
            _with_cords(piece, source, by_name),
            at.spot_id if at else None,
            at.name if at else "",
            piece.volts,
            piece.u_volts,
            piece.finding_text,
            _doubt(basis),
        )


def _with_cords(piece: Advice, source: Source | None, by_name: Mapping[str, Source]) -> tuple[Source, ...]:
    """What a piece of advice is about: a circuit, then the cords on it that give most of it."""
    if source is None:
        return ()
    return source, *(by_name[name] for name in piece.cords if name in by_name)


def _together(basis: PlanBasis, plan: SwitchOffPlan) -> Iterator[Finding]:
    if len(plan.proposed) < 2:
        return
    worst = max(plan.spots, key=lambda spot: spot.left.volts)
    text = tr("With {names} off together, {value} is left at “{spot}”.").format(
        names=joined([source.name for source in plan.proposed]), value=shown(worst.left), spot=worst.name
    )
    yield Finding(
        FindingKind.TOGETHER,
        plan.proposed,
        worst.spot_id,
        worst.name,
        worst.left.volts,
        worst.left.u_volts,
        text,
        _doubt(basis),
    )


def _without_sweep(basis: PlanBasis) -> Iterator[Finding]:
    """What switching by itself has confirmed, and what is left with everything off."""
    doubt = _doubt(basis)
    names = {source.id: source for source in basis.sources}
    best: dict[int, tuple[int | None, Effect]] = {}
    for (spot_id, source_id), effect in basis.effects.items():
        known = best.get(source_id)
        if (
            source_id in names
            and effect.is_confirmed_rise
            and (known is None or effect.volts > known[1].volts)
        ):
            best[source_id] = spot_id, effect
    offs = [
        (spot, reading, budget)
        for spot in basis.spots
        if (result := SpotResult.of(basis.readings, spot.id, basis.sources)) and not result.apart
        if (reading := result.off) is not None and not has_failed_function_check(reading)
        if (budget := budget_of(reading)) is not None
    ]
    worst = max(offs, key=lambda found: found[2].volts, default=None)
    circuits = {source.id: source.name for source in basis.sources}
    pieces = advise(
        [
            SourceFinding(
                names[source_id].kind,
                names[source_id].name,
                effect.volts,
                effect.u_volts,
                names[source_id].stays,
                circuits.get(names[source_id].circuit_id or 0, ""),
            )
            for source_id, (_, effect) in best.items()
        ],
        worst[2] if worst else None,
        [source.name for source in basis.sources if source.stays and source.kind == "circuit"],
        basis.setup.target_volts,
        worst[1].context.reference_state() if worst and worst[1].context else None,
    )
    by_name = {source.name: source for source in basis.sources}
    for piece in pieces:
        source = by_name.get(piece.about)
        spot_id = best[source.id][0] if source is not None else worst[0].id if worst else None
        yield Finding(
            _KINDS[piece.kind],
            _with_cords(piece, source, by_name),
            spot_id,
            basis.spot_name(spot_id),
            piece.volts,
            piece.u_volts,
            piece.finding_text,
            doubt,
        )


def _at_night(loads: Sequence[NightLoad]) -> Iterator[Finding]:
    for found in sorted(loads, key=lambda found: -found.load.volts):
        text = tr("A load comes again at night. {what}. Which one it is, is not known.")
        yield Finding(
            FindingKind.NIGHT_LOAD,
            (),
            None,
            "",
            found.load.volts,
            0.0,
            text.format(what=load_text(found.load, found.end_s)),
        )


def _value_of(reading: Reading) -> str:
    budget = budget_of(reading)
    return shown(budget) if budget is not None else tr("{volts} V").format(volts=plain(reading.volts))


def budget_with_context(readings: Sequence[Reading], volts: float, u_volts: float) -> Budget:
    """The budget of a predicted value, with the meter and reference of the newest reading that it rests on.

    Args:
        readings: that it rests on; at least one.
        volts: the prediction, V.
        u_volts: its standard uncertainty from scatter and posture, V.
    """
    newest = max(readings, key=lambda reading: reading.id)
    if newest.context is None:
        return Budget.of_u("prediction", volts, u_volts)
    return newest.context.budget(volts, u_volts)
