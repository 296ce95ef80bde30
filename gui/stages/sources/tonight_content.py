"""What the page Tonight shows of what to switch off: sentences, bars of spots and circuits, advice. No widget."""

from __future__ import annotations

import math
from collections.abc import Sequence

from gui.model.sweep_controller import SweepController
from gui.model.wording import value_text
from gui.widgets.badge import GOOD, OPEN, UNCLEAR
from gui.widgets.bar_painter import Bar
from gui.widgets.row_painter import ListHeading, ListRow
from logger.cautions import PANEL_CAUTIONS
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.sweep.switch_off_plan import SourceContribution, SpotPlan, SwitchOffPlan
from logger.visit.records.home_records import Source
from logger.visit.results.on_off_result import against_target

NOTHING = "nothing"


def headline_text(sweep_controller: SweepController, plan: SwitchOffPlan | None) -> str:
    """What to switch off and unplug tonight, or what is missing to know it."""
    if plan is None:
        if sweep_controller.controller.setup.stated.supply is None:
            return "What supply has the home? Space asks."
        if sweep_controller.is_computing:
            return "Tonight's list is being worked out."
        return "Not enough is read yet: sweep the breakers first."
    parts = [f"Switch off: {_names(plan.off)}."] if plan.off else []
    parts += [f"Unplug: {_names(plan.unplug)}."] if plan.unplug else []
    text = " ".join(parts) or "Nothing has to be switched off."
    if plan.ambiguous and not only_confirms(sweep_controller, plan):
        return f"Not decided yet. As it stands: {text}"
    return text if plan.meets_target else f"The target is not reached. Nearest: {text}"


def plain_rule_text(plan: SwitchOffPlan, target_volts: float) -> str:
    """The rule of the trade beside tonight's list: what it would switch off, and what that would leave."""
    target = f"each that alone gives more than {target_volts:g} V"
    if {source.id for source in (*plan.off, *plan.unplug)} == {source.id for source in plan.plain_rule_off}:
        return f"The plain rule ({target}) says the same."
    worst = max(plan.spots, key=lambda spot: spot.predicted_plain_volts)
    return (
        f"The plain rule ({target}): {_names(plan.plain_rule_off) or NOTHING}. It would leave "
        f"{worst.predicted_plain_volts:.2f} V at “{worst.name}”."
    )


def alternatives_text(plan: SwitchOffPlan) -> str:
    """What holds without circuits that cancel each other, and which cords can be unplugged instead of a circuit."""
    lines = [f"Instead of {circuit.name}: unplug {_names(cords)}." for circuit, cords in plan.instead]
    if plan.relies_on_cancellation:
        highest = max(plan.spots, key=lambda spot: spot.predicted_robust_volts)
        lines.insert(
            0,
            "It relies on live circuits that cancel each other: for this posture only. Without that: "
            f"{_names(plan.off_robust) or NOTHING} "
            f"({highest.predicted_robust_volts:.2f} V at “{highest.name}”).",
        )
    return "\n".join(lines)


def essential_text(plan: SwitchOffPlan) -> str:
    """Which circuits and cords stay on; empty when none has to."""
    return f"Stays on: {_names(plan.essential)}" if plan.essential else ""


def not_swept_text(plan: SwitchOffPlan, spots: Sequence[tuple[int, str]]) -> str:
    """Which spots have not been swept; empty when all have.

    Args:
        plan: what to switch off.
        spots: id and name of every spot indoors.
    """
    swept = {spot.spot_id for spot in plan.spots}
    left = [name for spot_id, name in spots if spot_id not in swept]
    return f"Not swept: {', '.join(left)}." if left else ""


def next_reading_text(sweep_controller: SweepController, plan: SwitchOffPlan) -> str:
    """The reading that decides or confirms the list, or the one that is awaited."""
    waiting = sweep_controller.waiting
    if waiting is not None:
        left_s = sweep_controller.left_s()
        awaited = f"{waiting.combination.label} at “{waiting.spot.name}”"
        if left_s is None:
            return f"Waiting: {awaited}, until the value has settled. Esc gives it up."
        return f"Settled, {awaited}: taken in {math.ceil(left_s)} s."
    if sweep_controller.is_computing:
        return "It is being worked out anew."
    wanted = sweep_controller.wanted_for_tonight()
    if wanted is None:
        return "Confirmed by a reading." if not plan.ambiguous else ""
    spot, combination = wanted
    why = (
        "One more reading would decide"
        if plan.ambiguous and not only_confirms(sweep_controller, plan)
        else "One reading confirms it and is part of the answer"
    )
    return f"{why}. Lie at “{spot.name}”. {sweep_controller.to_switch_for(combination)} Then Space."


def only_confirms(sweep_controller: SweepController, plan: SwitchOffPlan) -> bool:
    """Whether the reading that is asked for is the one with tonight's list switched off: nothing else is open."""
    wanted = plan.next_combination
    if wanted is None:
        return True
    off = {source.id for source in (*plan.off, *plan.unplug)}
    return wanted.live == frozenset(s.id for s in sweep_controller.sources if s.id not in off)


def spot_bar(spot: SpotPlan, target_volts: float) -> Bar:
    """What the list leaves at a spot: as predicted, or as a reading confirmed it."""
    if spot.confirming_reading is None:
        predicted = spot.predicted
        note, badge = f"predicted, {against_target(predicted, target_volts)}", OPEN
        return Bar(
            spot.name,
            value_text(predicted.volts, predicted.u_volts),
            predicted.volts,
            COVERAGE_FACTOR * predicted.u_volts,
            note,
            badge,
        )
    context = spot.confirming_reading.context
    read = (
        context.budget(spot.confirming_reading.volts, spot.confirming_reading.u_volts)
        if context
        else spot.predicted
    )
    is_good = spot.confirmation.startswith("below") and spot.confirmation.endswith("as predicted")
    return Bar(
        spot.name,
        value_text(read.volts, read.u_volts),
        read.volts,
        COVERAGE_FACTOR * read.u_volts,
        f"read: {spot.confirmation}",
        GOOD if is_good else UNCLEAR,
    )


def circuit_bars(spot: SpotPlan) -> list[Bar]:
    """What each circuit and cord gives at a spot, the largest first, with its leg."""
    return [
        Bar(
            given.source.name,
            value_text(given.volts, given.u_volts),
            given.volts,
            COVERAGE_FACTOR * given.u_volts,
            ", ".join(filter(None, (_leg_text(given), given.source.stays))),
        )
        for given in sorted(spot.contributions, key=lambda given: -given.volts)
    ]


def advice_rows(plan: SwitchOffPlan) -> list[ListRow | ListHeading]:
    """What can be done about each source, and the cautions of the panel."""
    rows: list[ListRow | ListHeading] = [ListHeading("What can be done")] if plan.advice else []
    rows += [ListRow(piece.about or piece.kind.value.capitalize(), note=piece.text) for piece in plan.advice]
    rows.append(ListHeading("Cautions"))
    rows += [ListRow("Caution", note=text, quiet=True) for text in PANEL_CAUTIONS]
    return rows


def _leg_text(given: SourceContribution) -> str:
    return f"leg {given.leg}" if given.leg else "leg open"


def _names(sources: Sequence[Source]) -> str:
    return ", ".join(source.name for source in sources)
