"""Advice on the circuits and cords of a plan: what each gives, by the sweep or by switching it on and off.

In: a confirmed `SwitchOffPlan`, and what switching has confirmed. Out: pieces of advice, the most effective first.
"""

from __future__ import annotations

from collections.abc import Mapping

from logger.metrology.uncertainty import COVERAGE_FACTOR, Budget
from logger.sweep.advice import Advice, SourceFinding, advise
from logger.sweep.confirmation import Effect
from logger.sweep.plan_text import better_of
from logger.sweep.spot_plan import SourceContribution
from logger.sweep.switch_off_plan import PlanState, SwitchOffPlan
from logger.visit.records.home_records import Source


def tonights_advice(plan: SwitchOffPlan, effects: Mapping[tuple[int | None, int], Effect]) -> list[Advice]:
    """Work out the advice; each circuit and cord counts at the spot where it surely gives most.

    What switching has confirmed there stands in place of what the model gives, as wherever else it is shown: a cord
    that the sweep alone cannot tell from nothing would get no advice.

    Args:
        plan: the plan; one that is not confirmed gets no advice.
        effects: of switching them, by the ids of spot and of circuit or cord.
    """
    if plan.state is not PlanState.CONFIRMED:
        return []
    highest: dict[int, tuple[Source, SourceContribution | Effect]] = {}
    for spot in plan.spots:
        for given in spot.contributions:
            best = better_of(given, effects.get((spot.spot_id, given.source.id)))
            known = highest.get(given.source.id)
            if known is None or _surely(best) > _surely(known[1]):
                highest[given.source.id] = given.source, best
    names = {source.id: source.name for source in plan.essential}
    names |= {source_id: source.name for source_id, (source, _) in highest.items()}
    tonight = {source.id for source in (*plan.off, *plan.unplug)}
    read: list[Budget] = [spot.background for spot in plan.spots if spot.background is not None]
    return advise(
        [
            SourceFinding(
                source.kind,
                source.name,
                best.volts,
                best.u_volts,
                source.stays,
                names.get(source.circuit_id or 0, ""),
                source.id in tonight,
            )
            for source, best in highest.values()
        ],
        max(read, key=lambda budget: budget.volts, default=None),
        [source.name for source in plan.essential if source.kind == "circuit"],
        plan.target_volts,
        plan.reference,
    )


def _surely(best: SourceContribution | Effect) -> float:
    """What something gives at least, V."""
    return best.volts - COVERAGE_FACTOR * best.u_volts
