"""Advice on the circuits and cords of a plan: what each gives, by the sweep or by switching it on and off.

In: a confirmed `SwitchOffPlan`, and what switching has confirmed. Out: pieces of advice, the most effective first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from logger.metrology.uncertainty import COVERAGE_FACTOR, Budget
from logger.sweep.advice import Advice, SourceFinding, advise
from logger.sweep.confirmation import Effect
from logger.sweep.plan_text import better_of
from logger.sweep.spot_plan import SourceContribution, SpotPlan
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
    return advice_so_far(plan, effects) if plan.state is PlanState.CONFIRMED else []


def advice_so_far(plan: SwitchOffPlan, effects: Mapping[tuple[int | None, int], Effect]) -> list[Advice]:
    """The same of a plan that is not confirmed too: what the readings suggest by now, and prove no more.

    Args:
        plan: the plan; one whose readings contradict each other has no contributions.
        effects: of switching them, by the ids of spot and of circuit or cord.
    """
    highest = strongest(plan, effects)
    names = {source.id: source.name for source in plan.essential}
    names |= {source_id: found.source.name for source_id, found in highest.items()}
    tonight = {source.id for source in plan.proposed}
    read: list[Budget] = [spot.background for spot in plan.spots if spot.background is not None]
    return advise(
        [
            SourceFinding(
                found.source.kind,
                found.source.name,
                found.given.volts,
                found.given.u_volts,
                found.source.stays,
                names.get(found.source.circuit_id or 0, ""),
                found.source.id in tonight,
            )
            for found in highest.values()
        ],
        max(read, key=lambda budget: budget.volts, default=None),
        [source.name for source in plan.essential if source.kind == "circuit"],
        plan.target_volts,
        plan.reference,
    )


@dataclass(frozen=True, slots=True)
class Strongest:
    """A circuit or cord at the spot where it surely gives most.

    Args:
        source: the circuit or cord.
        spot: the plan at that spot.
        given: what it gives there.
    """

    source: Source
    spot: SpotPlan
    given: SourceContribution | Effect


def strongest(plan: SwitchOffPlan, effects: Mapping[tuple[int | None, int], Effect]) -> dict[int, Strongest]:
    """Find where each circuit and cord surely gives most, by its id; the arguments are those of `advice_so_far`."""
    highest: dict[int, Strongest] = {}
    for spot in plan.spots:
        for given in spot.contributions:
            best = better_of(given, effects.get((spot.spot_id, given.source.id)))
            known = highest.get(given.source.id)
            if known is None or _surely(best) > _surely(known.given):
                highest[given.source.id] = Strongest(given.source, spot, best)
    return highest


def _surely(best: SourceContribution | Effect) -> float:
    """What something gives at least, V."""
    return best.volts - COVERAGE_FACTOR * best.u_volts
