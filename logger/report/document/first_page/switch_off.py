"""What to switch off tonight, and what a licensed electrician can do."""

from __future__ import annotations

from dataclasses import dataclass

from logger.metrology.uncertainty import Budget
from logger.name_list import joined
from logger.report.document.report_data import ReportData
from logger.report.document.wording import reading_text, value_text
from logger.sweep.advice import AdviceKind
from logger.sweep.confirmation import Effect
from logger.sweep.plan_text import answer_text, next_reading_lines, no_answer_text, to_be_certain_text
from logger.sweep.switch_off_plan import PlanState, SwitchOffPlan
from logger.translation import tr, tr_kept
from logger.visit.results.on_off_result import against_target


@dataclass(frozen=True, slots=True)
class SwitchOffList:
    """What to switch off and unplug tonight, or why that is not known; no headline where nothing was swept."""

    headline: str = ""
    switch_off: tuple[str, ...] = ()
    unplug: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def switch_off_list(data: ReportData) -> SwitchOffList:
    """Write tonight's list with what it leaves and what it relies on; without an answer, why there is none."""
    plan = data.tonight
    if plan is None:
        return SwitchOffList()
    if plan.state is not PlanState.CONFIRMED:
        notes = [*next_reading_lines(plan), *filter(None, [to_be_certain_text(plan)])]
        return SwitchOffList(no_answer_text(plan, reading_text), notes=tuple(notes))
    notes = [
        tr("Instead of switching {circuit} off: unplug {cords}.").format(
            circuit=circuit.name, cords=joined([cord.name for cord in cords])
        )
        for circuit, cords in plan.instead
    ]
    notes += _remaining(plan)
    if plan.relies_on_cancellation:
        if plan.off_robust:
            text = tr(
                "It relies on live circuits that cancel each other in this posture. Without that, switch off: {names}."
            )
            notes.append(text.format(names=joined([source.name for source in plan.off_robust])))
        else:
            notes.append(
                tr(
                    "It relies on live circuits that cancel each other in this posture. Without that, nothing is "
                    "switched off."
                )
            )
    notes += filter(None, [to_be_certain_text(plan)])
    if plan.essential:
        stays = joined(
            [
                tr("{source} ({why})").format(source=source.name, why=tr_kept(source.stays))
                for source in plan.essential
            ]
        )
        notes.append(tr("Stays on: {names}.").format(names=stays))
    return SwitchOffList(
        answer_text(plan),
        tuple(source.name for source in plan.off),
        tuple(source.name for source in plan.unplug),
        tuple(notes),
    )


def _remaining(plan: SwitchOffPlan) -> list[str]:
    """Write what was read with the list switched off; spots with the same verdict share a sentence."""
    read: dict[str, list[str]] = {}
    for spot in plan.spots:
        against = against_target(spot.left, plan.target_volts)
        read.setdefault(against, []).append(
            tr("“{spot}” {value}").format(spot=spot.name, value=value_text(spot.left))
        )
    text = tr("Read with this list off: {spots}: {against}.")
    return [text.format(spots=joined(names), against=against) for against, names in read.items()]


def for_an_electrician(data: ReportData) -> tuple[tuple[str, str], ...]:
    """Return names with their amounts, and what can be done; what holds for several stands once.

    Of what was switched by itself and confirmed, the amount is the largest change that was seen.
    """
    plan = data.tonight
    if plan is None:
        return ()
    confirmed: dict[str, Effect] = {}
    for (_, source_id), effect in data.effects.items():
        source = data.every_source.get(source_id)
        if source and effect.is_confirmed_rise:
            confirmed[source.name] = max(
                confirmed.get(source.name, effect), effect, key=lambda one: one.volts
            )
    grouped: dict[str, list[str]] = {}
    for piece in plan.advice:
        if piece.kind in (AdviceKind.CIRCUIT, AdviceKind.CORD):
            budget = Budget.of_u("", piece.volts, piece.u_volts)
            if seen := confirmed.get(piece.about):
                budget = Budget.of_u("", seen.volts, seen.u_volts)
            name = f"{piece.about} ({value_text(budget)})"
            what_to_do = piece.what_to_do
            grouped.setdefault(what_to_do or piece.text, []).append(name if what_to_do else piece.about)
    return tuple((joined(names), advice) for advice, names in grouped.items())
