"""A plan in whole sentences, as the window and the report both write them.

In: a `SwitchOffPlan`. Out: why there is no answer yet, which readings contradict each other, what the answer reaches.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import hypot

from logger.metrology.rounding import form_volts
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.name_list import joined
from logger.sweep.confirmation import ConfirmationVerdict, Effect
from logger.sweep.solver.answer_text import SET_DOUBTS
from logger.sweep.solver.contribution_doubts import background_once_text, exchange_text
from logger.sweep.spot_plan import SourceContribution, SpotPlan
from logger.sweep.switch_off_plan import PlanState, SwitchOffPlan
from logger.visit.records.condition import EVERYTHING_OFF
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading

NO_LIST = "There is no list for tonight yet."
USUAL_EXTRA_READINGS, MAX_USUAL_EXTRA_READINGS = 3, 5
"""So many readings after the plain sweep decide in half of the homes whose circuits give what is usual, and so many in
19 of 20 (fixtures/figures/sources.md, family `numbers`); nothing bounds them in a home that is made to mislead."""

MAX_SHARE_OF_AGREEMENT = 0.5
"""The sweep and a switching agree where their difference is within the expanded uncertainty, and that is at most this
share of the value: with a wider one nearly any other reading would agree as well. No source, ours."""

CONFIRMED_BY_SWITCHING = "confirmed by switching it on and off"
MIXED_UP_IN_SWEEP = ", but its reading in the sweep may have been swapped with another"

SUSPECT = "It contradicts other readings of the sweep at this spot."
"""What speaks against a suspect reading."""


def contradiction_text(spot: SpotPlan, value_of: Callable[[Reading], str]) -> str:
    """Format which readings of a spot are to be taken again; empty where they agree.

    Args:
        spot: the plan at the spot.
        value_of: formats the value of a reading.
    """
    if spot.is_consistent:
        return ""
    again = ", ".join(f"{reading.condition} ({value_of(reading)})" for reading in spot.suspects)
    first = f"The readings at “{spot.name}” contradict each other."
    return f"{first} Read these again: {again}." if again else first


def no_answer_text(plan: SwitchOffPlan, value_of: Callable[[Reading], str]) -> str:
    """Format why there is no answer yet; empty once it is confirmed.

    Args:
        plan: the plan.
        value_of: formats the value of a reading.
    """
    if plan.state is PlanState.CONFIRMED:
        return ""
    if plan.state is PlanState.CONTRADICTORY:
        return " ".join([NO_LIST, *(contradiction_text(spot, value_of) for spot in plan.contradictions)])
    if lacks_background(plan):
        at = next(spot for spot in plan.spots if spot.background is None)
        return f"{NO_LIST} {at.read_before_listed or f'Everything off was not read at “{at.name}”: read that first.'}"
    if plan.state is PlanState.OPEN:
        return _open_text(plan)
    where = joined([f"“{spot.name}”" for spot in plan.spots if spot.confirming_reading is None])
    if not where:
        return (
            f"{NO_LIST} {proposal_text(plan)}, but only because live circuits cancel each other: it has to be read "
            "twice, getting up in between."
        )
    lacks = f"and nobody has read that at {where} yet."
    if any(spot.read_without_unlisted for spot in plan.spots):
        lacks = f"but that was read at {where} only with the circuits that are not listed off as well."
    return f"{NO_LIST} {proposal_text(plan)}, {lacks}"


def _open_text(plan: SwitchOffPlan) -> str:
    """Format what an open plan lacks: a reading that decides, or a second one of what it rests on.

    Args:
        plan: an open one.
    """
    next_spot = next((spot for spot in plan.spots if spot.spot_id == plan.next_spot_id), None)
    if next_spot is not None and next_spot.set_doubt not in ("", "read once"):
        doubt = f"read at “{next_spot.name}” but not confirmed: {SET_DOUBTS[next_spot.set_doubt]}"
        return f"{NO_LIST} {proposal_text(plan)}, {doubt}."
    wanted = plan.next_combination
    if next_spot is not None and next_spot.background_doubt and wanted and wanted.label == EVERYTHING_OFF:
        once = f"Everything off was read once at “{next_spot.name}”, and the list rests on it: read it once more."
        return f"{NO_LIST} {once}"
    return f"{NO_LIST} The readings leave it open, and more are needed."


def extra_reading_text(taken: int) -> str:
    """Format the place of the next reading after the plain sweep among those that decide as a rule.

    Args:
        taken: how many were taken after the plain sweep.
    """
    if taken < USUAL_EXTRA_READINGS:
        return f"reading {taken + 1} of about {USUAL_EXTRA_READINGS}"
    seldom = f", seldom more than {MAX_USUAL_EXTRA_READINGS}" if taken < MAX_USUAL_EXTRA_READINGS else ""
    return f"reading {taken + 1}{seldom}"


def doubt_lines(spot: SpotPlan) -> list[str]:
    """State what the readings at a spot cannot show, for professionals, and which reading would; none for no doubt.

    Args:
        spot: the plan at the spot; readings that contradict each other leave no such doubt.
    """
    if not spot.is_consistent:
        return []
    where = f" at “{spot.name}”"
    lines = []
    if spot.background_doubt:
        lines.append(background_once_text(spot.confirming_reading is None, where))
    names = {reading.id: f"“{reading.condition}”" for pair in spot.exchangeable for reading in pair}
    exchanged = exchange_text(names, [(one.id, other.id) for one, other in spot.exchangeable], where)
    return [*lines, exchanged] if exchanged else lines


def to_be_certain_text(plan: SwitchOffPlan) -> str:
    """State for the household what more readings would make certain; empty where nothing is in doubt.

    While there is no list, its next reading is asked for beside this; only what rests on everything off is added.
    """
    confirmed = plan.state is PlanState.CONFIRMED
    doubted = [
        spot
        for spot in plan.spots
        if spot.is_consistent and (spot.background_doubt or (confirmed and spot.exchangeable))
    ]
    if not doubted:
        return ""
    what = "What each circuit gives"
    if any(spot.background_doubt and spot.confirming_reading is None for spot in doubted):
        what = "What is left with everything off, and what each circuit gives,"
    only = doubted[0] if len(doubted) == 1 else None
    if only is not None and only.background_doubt and not (confirmed and only.exchangeable):
        return f"{what} is not certain yet: everything off was read once. One more reading of it would make it certain."
    return f"{what} is not certain yet. A few more readings would make it certain."


def contribution_doubt(given: SourceContribution, effect: Effect | None) -> str:
    """State why what a circuit or cord gives is not confirmed, or what confirms it beside the sweep; empty for neither.

    What switching it on and off confirms is confirmed wherever it is named. It also bears the sweep's value out where
    the two agree more closely than a reading of something else would.

    Args:
        given: what it gives by the sweep.
        effect: of switching it on and off at the same spot; None where nobody did.
    """
    if not given.doubt or effect is None or effect.verdict is not ConfirmationVerdict.CONFIRMED:
        return given.doubt
    expanded_volts = COVERAGE_FACTOR * hypot(given.u_volts, effect.u_volts)
    agrees = abs(given.volts - abs(effect.volts)) <= expanded_volts <= MAX_SHARE_OF_AGREEMENT * given.volts
    return f"{CONFIRMED_BY_SWITCHING}{'' if agrees else MIXED_UP_IN_SWEEP}"


def more_than_all_text(spot: SpotPlan) -> str:
    """Format why a circuit gives more than everything on together; empty where none does, or nobody read that.

    Args:
        spot: the plan at the spot.
    """
    everything = spot.everything_on
    if everything is None:
        return ""
    more = [given for given in spot.contributions if given.volts > everything.volts]
    if not more:
        return ""
    names = joined([given.source.name for given in more])
    within = all(
        given.volts - everything.volts <= COVERAGE_FACTOR * hypot(given.u_volts, everything.u_volts)
        for given in more
    )
    unsure = " Here the difference is also within the uncertainty." if within else ""
    return (
        f"{names} alone can give more than everything on together ({form_volts(everything.volts)} V): values of "
        f"circuits do not simply add up; two on different legs of the supply take away from each other.{unsure}"
    )


def next_reading_lines(plan: SwitchOffPlan) -> list[str]:
    """Format which reading comes next, for somebody who is not at the window; nothing once it is confirmed."""
    spot = next((spot for spot in plan.spots if spot.spot_id == plan.next_spot_id), None)
    if spot is None or plan.next_combination is None:
        return []
    return [f"The next reading: {plan.next_combination.label}, at “{spot.name}”."]


def lacks_background(plan: SwitchOffPlan) -> bool:
    """Whether nobody read a swept spot with everything off that may be switched off."""
    return any(spot.background is None for spot in plan.spots)


def proposal_text(plan: SwitchOffPlan) -> str:
    """Format what the readings suggest by now, without a full stop."""
    if not plan.proposed:
        return "The readings suggest that nothing has to be switched off"
    return f"The readings suggest {names_text(plan.proposed)}"


def answer_text(plan: SwitchOffPlan) -> str:
    """Format what a confirmed answer reaches, by readings of it; empty while it is not confirmed."""
    target, verdict, nothing = f"{plan.target_volts:g} V", plan.verdict, not (plan.off or plan.unplug)
    if verdict is None:
        return ""
    if verdict == "below":
        if nothing:
            return f"Nothing has to be switched off: every swept spot was read below {target} as it is."
        return (
            f"The shortest list that keeps every swept spot below {target}, as readings with everything else on "
            "confirm:"
        )
    if verdict == "above":
        if nothing:
            return f"The target of {target} is not reached, and switching off does not lower it."
        return f"The target of {target} is not reached by switching off. Nearest to it:"
    if nothing:
        return f"With everything on it cannot be told apart from the target of {target}; switching off changes little."
    return f"The shortest list for tonight. What it leaves cannot be told apart from the target of {target}:"


def names_text(sources: Sequence[Source]) -> str:
    """Format the names of circuits and cords, with what is done with them: 'Bedroom and Study off, Lamp unplugged'."""
    off = [source.name for source in sources if source.kind == "circuit"]
    unplug = [source.name for source in sources if source.kind == "cord"]
    parts = [f"{joined(off)} off"] if off else []
    parts += [f"{joined(unplug)} unplugged"] if unplug else []
    return ", ".join(parts)
