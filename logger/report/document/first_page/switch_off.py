"""What to switch off tonight, and what a licensed electrician can do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from logger.metrology.uncertainty import Budget
from logger.report.document.report_data import ReportData
from logger.report.document.wording import joined, value_text
from logger.sweep.advice import AdviceKind
from logger.sweep.switch_off_plan import SpotPlan, SwitchOffPlan
from logger.visit.results.on_off_result import budget_of


@dataclass(frozen=True, slots=True)
class SwitchOffList:
    """What to switch off and to unplug tonight; the headline is empty where nothing was swept."""

    headline: str = ""
    switch_off: tuple[str, ...] = ()
    unplug: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def switch_off_list(data: ReportData) -> SwitchOffList:
    """Write tonight's list with what it leaves and what it relies on."""
    plan, target_volts = data.tonight, data.setup.target_volts
    if plan is None:
        return SwitchOffList()
    switch_off = tuple(source.name for source in plan.off)
    unplug = tuple(source.name for source in plan.unplug)
    notes = [
        f"Instead of switching {circuit.name} off: unplug {joined([cord.name for cord in cords])}."
        for circuit, cords in plan.instead
    ]
    notes += _remaining(plan.spots)
    if plan.relies_on_cancellation:
        robust = joined([source.name for source in plan.off_robust]) or "nothing"
        notes.append(
            "It relies on live circuits that cancel each other in this posture. "
            f"Without that, switch off: {robust}."
        )
    if plan.essential:
        stays = joined([f"{source.name} ({source.stays})" for source in plan.essential])
        notes.append(f"Stays on: {stays}.")
    return SwitchOffList(_headline(plan, target_volts), switch_off, unplug, tuple(notes))


def _headline(plan: SwitchOffPlan, target_volts: float) -> str:
    if not plan.consistent:
        return "Not decided: readings of the sweep contradict each other and have to be taken again. As they are:"
    if not plan.off and not plan.unplug:
        return "Nothing has to be switched off: every swept spot is at or under the target as it is."
    if plan.ambiguous:
        return "Not decided yet: the readings leave it open. As it stands:"
    if not plan.meets_target:
        return f"The target of {target_volts:g} V is not reached by switching off. Nearest to it:"
    return f"The shortest list that keeps every swept spot at or under {target_volts:g} V:"


def _remaining(spots: Sequence[SpotPlan]) -> list[str]:
    """Write what the list leaves: read, or only predicted; spots with the same verdict share a sentence."""
    predicted: list[str] = []
    read: dict[str, list[str]] = {}
    for spot in spots:
        budget = budget_of(spot.confirming_reading)
        if budget is None:
            predicted.append(f"“{spot.name}” {value_text(spot.predicted)}")
        else:
            read.setdefault(spot.confirmation, []).append(f"“{spot.name}” {value_text(budget)}")
    out = [f"Read with this list off: {joined(names)}: {confirmed}." for confirmed, names in read.items()]
    if predicted:
        out.append(f"Predicted with this list off, no reading confirms it yet: {joined(predicted)}.")
    return out


def for_an_electrician(plan: SwitchOffPlan | None) -> tuple[tuple[str, str], ...]:
    """Return names with their amounts, and what can be done; what holds for several stands once."""
    if plan is None:
        return ()
    grouped: dict[str, list[str]] = {}
    for piece in plan.advice:
        if piece.kind in (AdviceKind.CIRCUIT, AdviceKind.CORD):
            # The advice begins with the amount in a sentence of its own: "The circuit gives 0.97 V (± 0.05 V). ..."
            first, _, what_to_do = piece.text.partition(". ")
            plain = bool(what_to_do) and first.endswith(f"(± {2 * piece.u_volts:.2f} V)")
            name = f"{piece.about} ({value_text(Budget.of_u('', piece.volts, piece.u_volts))})"
            grouped.setdefault(what_to_do if plain else piece.text, []).append(name if plain else piece.about)
    return tuple((joined(names), advice) for advice, names in grouped.items())
