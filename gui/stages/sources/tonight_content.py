"""What the page Tonight shows of what to switch off: sentences, bars of spots and circuits, advice. No widget."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import tzinfo

from gui.model.source_list_controller import stays_text
from gui.model.sweep_controller import SweepController
from gui.model.wording import clock_text, condition_title, reading_text, value_text
from gui.widgets.badge import GOOD, UNCLEAR
from gui.widgets.bar_painter import Bar
from gui.widgets.row_model import ListHeading, ListRow
from logger.cautions import PANEL_CAUTIONS
from logger.metrology.rounding import fixed, plain
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.name_list import joined, quoted
from logger.sweep.advice import KIND_WORDS
from logger.sweep.confirmation import Effect
from logger.sweep.plan_text import (
    NO_LIST,
    better_of,
    contribution_doubt,
    doubt_lines,
    more_than_all_text,
    no_answer_text,
    readings_left_text,
    to_be_certain_text,
    why_listed,
    why_next_text,
    why_no_answer_text,
)
from logger.sweep.spot_plan import SourceContribution, SpotPlan
from logger.sweep.sweep_progress import Combination
from logger.sweep.switch_off_plan import PlanState, SwitchOffPlan
from logger.sweep.tonights_advice import tonights_advice
from logger.translation import marked, tr, tr_all
from logger.visit.records.home_records import Source, Spot
from logger.visit.results.on_off_result import against_target

NOTHING = marked("nothing")

CIRCUITS_MEANING = marked(
    "What each circuit or cord gives by itself, from all readings together; the page "
    "Breakers has the single readings."
)
"""Why a circuit has another value here than on the page Breakers."""

DO_THE_NEXT_FIRST = marked("Take what the big button asks for first. After that these may still be left:")
"""Before the same while a reading is asked for: of several that are named, one comes first."""

LIST_IS_SURE = marked(
    "Tonight's list is confirmed by a reading of its own and needs nothing more. What "
    "each circuit gives is an estimate:"
)
"""Before what the readings cannot show of circuits, where the list does not rest on it."""

NOT_SWEPT = marked("Not enough is read yet: sweep the breakers first.")
TOO_FEW = marked(
    "Everything on the list that is not skipped has been read at this spot. That is not "
    "enough for tonight's list. Read a skipped circuit, add the other circuits of the "
    "panel to the list, or do the sweep at a spot indoors."
)


def why_no_list(sweep_controller: SweepController) -> str:
    """Why there is no list, and why nothing is read for it: one sentence for the pages Breakers and Tonight."""
    here = sweep_controller.controller.route.chosen
    if why := sweep_controller.not_counted():
        return why
    progress = sweep_controller.progress()
    return tr(TOO_FEW if here is not None and progress.taken and not progress.left else NOT_SWEPT)


def headline_text(sweep_controller: SweepController, plan: SwitchOffPlan | None) -> str:
    """What to switch off and unplug tonight, or what is missing to know it; marked where it rests on a simulation."""
    text = _headline_text(sweep_controller, plan)
    return (
        tr("Simulated. {text}").format(text=text)
        if plan is not None and sweep_controller.controller.snapshot.simulation
        else text
    )


def _headline_text(sweep_controller: SweepController, plan: SwitchOffPlan | None) -> str:
    if plan is None:
        if sweep_controller.controller.setup.stated.supply is None:
            return tr("What supply does the home have?")
        if sweep_controller.is_computing:
            return tr("Tonight's list is being worked out.")
        return why_no_list(sweep_controller)
    if plan.state is PlanState.CONTRADICTORY and any(spot.suspects for spot in plan.contradictions):
        return tr_all((NO_LIST, marked("These readings contradict each other:")))
    if plan.state is not PlanState.CONFIRMED:
        # As elsewhere where nothing tells how many are left: why there is none.
        left = _left_text(sweep_controller, plan)
        return " ".join((tr(NO_LIST), left)) if left else no_answer_text(plan, reading_text)
    parts = [tr("Switch off: {names}.").format(names=_names(plan.off))] if plan.off else []
    parts += [tr("Unplug: {names}.").format(names=_names(plan.unplug))] if plan.unplug else []
    text = " ".join(parts) or tr("Nothing has to be switched off.")
    if plan.verdict == "above":
        return tr("The value stays above the target. Nearest: {text}").format(text=text)
    if plan.verdict == "not distinguishable":
        return tr(
            "{text} What it leaves is too close to the target of {volts} V to tell whether it is "
            "above or below."
        ).format(text=text, volts=plain(plan.target_volts))
    return text


def _left_text(sweep_controller: SweepController, plan: SwitchOffPlan) -> str:
    """How many readings are left until there is a list, in a sentence; empty where that cannot be said."""
    wanted, left = sweep_controller.next_on_tonight(), sweep_controller.progress().left
    is_of_sweep = wanted is not None and wanted[1] in left
    taken = sweep_controller.extra_readings()
    return readings_left_text(plan, len(left) if is_of_sweep else 0, taken)


def why_next_reading_text(sweep_controller: SweepController, plan: SwitchOffPlan) -> str:
    """Why there is no list yet and what the next reading is for, in sentences; empty where there is nothing to say."""
    if plan.state in (PlanState.CONFIRMED, PlanState.CONTRADICTORY) or sweep_controller.waiting is not None:
        return ""
    wanted = sweep_controller.next_on_tonight()
    is_of_sweep = wanted is not None and wanted[1] in sweep_controller.progress().left
    confirms = (
        tr("One reading with everything set as it will be at night confirms it.")
        if plan.state is PlanState.UNCONFIRMED and not is_of_sweep
        else ""
    )
    why = "" if is_of_sweep else why_next_text(plan)
    once = [line for spot in plan.spots if spot.background_doubt for line in doubt_lines(spot)[:1]]
    return " ".join(filter(None, (why_no_answer_text(plan, reading_text), confirms, why, *once)))


def plain_rule_text(plan: SwitchOffPlan) -> str:
    """The rule of the trade beside tonight's list: what it would switch off, and what that would leave.

    Empty while there is no answer.
    """
    if plan.state is not PlanState.CONFIRMED:
        return ""
    if {source.id for source in (*plan.off, *plan.unplug)} == {source.id for source in plan.plain_rule_off}:
        return tr(
            "The usual rule, to switch off each circuit that reads above {target} V when it alone is on, "
            "leads to the same list."
        ).format(target=plain(plan.target_volts))
    worst = max(plan.spots, key=lambda spot: spot.left_plain_volts)
    return tr(
        "The usual rule, to switch off each circuit that reads above {target} V when it alone is on, would "
        "switch off {names}. It would leave {left} V at “{spot}”."
    ).format(
        target=plain(plan.target_volts),
        names=_names(plan.plain_rule_off) or tr(NOTHING),
        left=fixed(worst.left_plain_volts, 2),
        spot=worst.name,
    )


def alternatives_text(plan: SwitchOffPlan) -> str:
    """What holds without cancelling circuits, and cords to unplug instead; without an answer, a supply in doubt."""
    if plan.state is PlanState.CONTRADICTORY:
        return ""  # the likely causes stand there
    if plan.state is not PlanState.CONFIRMED:
        return tr(plan.supply_doubt) if plan.supply_doubt else ""
    lines = [
        tr("Instead of {circuit}: unplug {names}.").format(circuit=circuit.name, names=_names(cords))
        for circuit, cords in plan.instead
    ]
    if plan.relies_on_cancellation:
        highest = max(plan.spots, key=lambda spot: spot.left_robust_volts)
        lines.insert(
            0,
            tr(
                "The list relies on live circuits that cancel each other: that holds for this posture "
                "only. Without that: {names} ({left} V at “{spot}”)."
            ).format(
                names=_names(plan.off_robust) or tr(NOTHING),
                left=fixed(highest.left_robust_volts, 2),
                spot=highest.name,
            ),
        )
    return "\n".join([*lines, *filter(None, [to_be_certain_text(plan)])])


def circuits_meaning_text(plan: SwitchOffPlan, spot: SpotPlan, *, asks_next: bool = False) -> str:
    """What the bars of circuits show, and what the readings cannot show of it.

    Args:
        plan: what to switch off.
        spot: one of its spots.
        asks_next: the big button asks for a reading, so that what a doubt asks for comes after it.
    """
    doubts = [*([tr(plan.supply_doubt)] if plan.supply_doubt else []), *doubt_lines(spot)]
    is_list_sure = bool(doubts) and plan.state is PlanState.CONFIRMED
    first = tr(DO_THE_NEXT_FIRST) if asks_next and doubts else tr(LIST_IS_SURE) if is_list_sure else ""
    return "\n".join([tr(CIRCUITS_MEANING), *filter(None, [first]), *doubts])


def circuits_meaning_in_short(plan: SwitchOffPlan, meaning: str, *, asks_next: bool = False) -> str:
    """What would make certain what the bars of circuits show, or what they show, where there is no room for all of it.

    Args:
        plan: what to switch off.
        meaning: all of it, by `circuits_meaning_text`.
        asks_next: the big button asks for a reading: nothing else is asked for beside it.
    """
    if asks_next and not plan.supply_doubt:
        return tr(
            "Until the readings that the big button asks for are taken, what each circuit gives is an estimate."
        )
    if certain := to_be_certain_text(plan):
        return certain
    if meaning == tr(CIRCUITS_MEANING):
        return tr("What each circuit or cord gives by itself.")
    return tr("What each circuit or cord gives by itself; not all of it is sure.")


def essential_text(plan: SwitchOffPlan) -> str:
    """Which circuits and cords stay on; empty when none has to."""
    return tr("Stays on: {names}").format(names=_names(plan.essential)) if plan.essential else ""


def not_swept_text(plan: SwitchOffPlan, spots: Sequence[tuple[int, str]]) -> str:
    """Which spots have not been swept, and what was read there with just the list off; empty when all have.

    Args:
        plan: what to switch off.
        spots: id and name of every spot indoors.
    """
    swept = {spot.spot_id for spot in plan.spots}
    left = joined([quoted(name) for spot_id, name in spots if spot_id not in swept])
    texts = [tr("No circuits were read at {spots}.").format(spots=left)] if left else []
    if plan.elsewhere and (plan.off or plan.unplug):
        texts.append(tr("Measured with just that off:"))
        for spot in plan.elsewhere:
            read = tr("“{spot}” {volts} V").format(spot=spot.name, volts=fixed(spot.left.volts, 2))
            against = against_target(spot.left, plan.target_volts)
            texts.append(tr("{spots}: {verdict}.").format(spots=read, verdict=against))
    return " ".join(texts)


def next_reading_text(
    sweep_controller: SweepController, plan: SwitchOffPlan, wanted: tuple[Spot, Combination] | None
) -> str:
    """What to do for the reading that decides or confirms the list, or the one that is awaited.

    Args:
        sweep_controller: knows what is awaited.
        plan: what to switch off.
        wanted: spot and combination of the next reading; None where nothing is left to read.
    """
    waiting = sweep_controller.waiting
    if waiting is not None:
        left_s = sweep_controller.left_s()
        awaited = tr("{reading} at “{spot}”").format(
            reading=waiting.combination.shown, spot=waiting.spot.name
        )
        if left_s is None:
            return tr("Waiting: {awaited}, until the value has settled. Esc cancels.").format(awaited=awaited)
        return tr("Settled, {awaited}: taken in {seconds} s.").format(
            awaited=awaited, seconds=math.ceil(left_s)
        )
    if sweep_controller.is_computing:
        return tr("It is being worked out again.")
    if wanted is None:
        return _confirmed_text(plan)
    spot, combination = wanted
    is_of_sweep = combination in sweep_controller.progress().left
    confirms = plan.state is PlanState.UNCONFIRMED and not is_of_sweep
    parts = (
        tr("Lie at “{spot}”.").format(spot=spot.name),
        sweep_controller.to_switch_for(combination),
        tr("Circuits that are not listed stay on.") if confirms else "",
    )
    return " ".join(filter(None, parts))


def _confirmed_text(plan: SwitchOffPlan) -> str:
    """In which state the list was read; empty while it is not confirmed."""
    if plan.state is not PlanState.CONFIRMED:
        return ""
    if plan.off or plan.unplug:
        return tr("Confirmed by a reading with just that off and everything else on.")
    return tr("Confirmed by a reading with everything on.")


def suspect_rows(plan: SwitchOffPlan, zone: tzinfo | None) -> list[ListRow | ListHeading]:
    """The readings to take again, each spot's below its name.

    Args:
        plan: the plan that they speak against.
        zone: what its times are shown in; None for that of this computer.
    """
    rows: list[ListRow | ListHeading] = []
    for spot in plan.contradictions:
        rows.append(ListHeading(tr("At “{spot}”").format(spot=spot.name)))
        rows += [
            ListRow(
                condition_title(reading.condition),
                reading_text(reading),
                tr("taken {time}").format(time=clock_text(reading.utc_ns, zone, seconds=False)),
                badge=UNCLEAR,
            )
            for reading in spot.suspects
        ]
    return rows


def spot_bar(spot: SpotPlan, target_volts: float) -> Bar:
    """What a confirmed list leaves at a spot, as it was read."""
    left = spot.left
    return Bar(
        spot.name,
        value_text(left.volts, left.u_volts),
        left.volts,
        COVERAGE_FACTOR * left.u_volts,
        tr("read: {verdict}").format(verdict=against_target(left, target_volts)),
        GOOD if spot.verdict(target_volts) == "below" else UNCLEAR,
    )


def circuit_bars(
    spot: SpotPlan, effects: Mapping[int, Effect], *, supply_in_doubt: bool = False
) -> list[Bar]:
    """What each circuit and cord gives at a spot, the largest first, with its leg.

    Args:
        spot: the plan at the spot.
        effects: of switching them on and off there, by the id of the circuit or cord.
        supply_in_doubt: the readings fit another supply better: the values may be off by more than their uncertainty.
    """
    shown = [(given, better_of(given, effects.get(given.source.id))) for given in spot.contributions]
    return [
        Bar(
            given.source.name,
            f"{value_text(best.volts, best.u_volts)}{' ?' if supply_in_doubt else ''}",
            best.volts,
            COVERAGE_FACTOR * best.u_volts,
            ", ".join(
                filter(
                    None,
                    (
                        tr("not certain: check the supply") if supply_in_doubt else "",
                        _leg_text(given),
                        stays_text(given.source),
                        contribution_doubt(given, effects.get(given.source.id), spot.exchangeable),
                    ),
                )
            ),
            UNCLEAR if supply_in_doubt else None,
        )
        for given, best in sorted(shown, key=lambda pair: -pair[1].volts)
    ]


def advice_rows(
    plan: SwitchOffPlan, effects: Mapping[tuple[int | None, int], Effect]
) -> list[ListRow | ListHeading]:
    """What can be done about each source, why others are on the list, and the cautions of the panel.

    Args:
        plan: what to switch off.
        effects: of switching them, by the ids of spot and of circuit or cord.
    """
    listed, advice = why_listed(plan, effects), tonights_advice(plan, effects)
    rows: list[ListRow | ListHeading] = [ListHeading(tr("What can be done"))] if advice or listed else []
    rows += [ListRow(name, note=text) for name, text in listed.items()]
    rows += [ListRow(piece.about or tr(KIND_WORDS[piece.kind]), note=piece.text) for piece in advice]
    rows += [
        ListRow(tr("At “{spot}”").format(spot=spot.name), note=text)
        for spot in plan.spots
        if (text := more_than_all_text(spot))
    ]
    rows.append(ListHeading(tr("Cautions")))
    rows += [ListRow(tr("Caution"), note=tr(text), quiet=True) for text in PANEL_CAUTIONS]
    return rows


def _leg_text(given: SourceContribution) -> str:
    return (
        tr("leg {leg}").format(leg=given.leg)
        if given.leg
        else tr("no reading shows yet on which leg of the supply it is")
    )


def _names(sources: Sequence[Source]) -> str:
    return ", ".join(source.name for source in sources)
