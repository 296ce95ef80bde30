"""A plan in whole sentences, as the window and the report both write them.

In: a `SwitchOffPlan`. Out: why there is no answer yet, which readings contradict each other, what the answer reaches.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from math import hypot

from logger.metrology.rounding import DECIMALS_WITHOUT_UNCERTAINTY, fixed, grouped, plain
from logger.metrology.supply import Supply
from logger.metrology.uncertainty import COVERAGE_FACTOR, compare_with
from logger.name_list import joined, quoted
from logger.sweep.confirmation import ConfirmationVerdict, Effect
from logger.sweep.solver.answer import NextReason
from logger.sweep.solver.answer_text import SET_DOUBTS
from logger.sweep.solver.contribution_doubts import (
    EXCHANGED_DOUBT,
    MAX_PAIRS_NAMED,
    MAX_READ_AGAIN,
    SUPPLY_DOUBT,
    background_once_text,
    deciding_rows,
    exchange_groups,
    exchange_text,
)
from logger.sweep.spot_plan import SourceContribution, SpotPlan
from logger.sweep.switch_off_plan import PlanState, SwitchOffPlan
from logger.translation import marked, tr, tr_kept, tr_n
from logger.visit.records.condition import EVERYTHING_OFF
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading
from logger.visit.results.contradicting_repeats import why_no_second

NO_LIST = marked("There is no list for tonight yet.")
"""Goes through `tr` where it is shown."""

WHY_NEXT: Mapping[NextReason, str] = {
    "misfit": marked("It shows whether an earlier reading of the same was right."),
    "swapped": marked("It shows whether two earlier readings were swapped."),
    "mistake": marked("It shows whether an earlier reading was mistaken."),
    "not read": marked("It shows what was not read by itself yet."),
    "decides": marked("It decides what belongs on the list, and what voltage remains with all of that off."),
    "list": marked("It confirms the reading of the list itself."),
}
"""What the next reading decides; it goes through `tr` where it is shown."""

USUAL_EXTRA_READINGS, MAX_USUAL_EXTRA_READINGS = 3, 5
"""So many readings after the plain sweep decide in half of the homes whose circuits give what is usual, and so many in
19 of 20 (fixtures/figures/sources.md, family `numbers`); nothing bounds them in a home that is made to mislead."""

MAX_SHARE_OF_AGREEMENT = 0.5
"""The sweep and a switching agree where their difference is within the expanded uncertainty, and that is at most this
share of the value: with a wider one nearly any other reading would agree as well. No source, ours."""

SUSPECT = marked("It contradicts other readings of the sweep at this spot.")
"""What speaks against a suspect reading; it goes through `tr` where it is shown."""


def contradiction_reason(spot: SpotPlan) -> str:
    """Format why the readings of a spot give no answer together, for anybody who reads the report."""
    if spot.why_not_alike:
        return tr("The readings at “{spot}” cannot be put together. {why}").format(
            spot=spot.name, why=spot.why_not_alike
        )
    return tr("The readings at “{spot}” contradict each other.").format(spot=spot.name)


def contradiction_text(spot: SpotPlan, value_of: Callable[[Reading], str]) -> str:
    """Format which readings of a spot are to be taken again; empty where they agree.

    Args:
        spot: the plan at the spot.
        value_of: formats the value of a reading.
    """
    if spot.is_consistent:
        return ""
    if spot.why_not_alike:
        from_one = tr("Read all of them again with one meter and one reference.")
        return f"{contradiction_reason(spot)} {from_one}"
    again = ", ".join(f"{tr_kept(reading.condition)} ({value_of(reading)})" for reading in spot.suspects)
    if again:
        return tr("The readings at “{spot}” contradict each other. Read these again: {readings}.").format(
            spot=spot.name, readings=again
        )
    return contradiction_reason(spot)


def likely_causes(plan: SwitchOffPlan, supply: Supply | None) -> list[str]:
    """What may be behind readings that contradict each other, a sentence each, the likeliest first; none without them.

    Args:
        plan: the plan.
        supply: as it was entered. With one leg nothing cancels, so that readings which do can only contradict.
    """
    spots = [spot for spot in plan.contradictions if not spot.why_not_alike]
    if not spots:
        return []
    causes = [tr(plan.supply_doubt)] if plan.supply_doubt else []
    if supply == "single phase" and not causes:
        causes.append(tr("You entered a single-phase supply. Is it so?"))
    for spot in spots:
        if spot.swapped:
            text = tr("“{first}” and “{second}” may have been swapped at “{spot}”.")
            causes.append(text.format(**_swapped_words((spot.swapped[0], spot.swapped[1])), spot=spot.name))
    causes.append(tr("A breaker was not as stated, or a unit (V or mV) is wrong."))
    return causes


def no_answer_text(plan: SwitchOffPlan, value_of: Callable[[Reading], str]) -> str:
    """Format why there is no answer yet; empty once it is confirmed.

    Args:
        plan: the plan.
        value_of: formats the value of a reading.
    """
    if plan.state is PlanState.CONFIRMED:
        return ""
    return " ".join((tr(NO_LIST), why_no_answer_text(plan, value_of)))


def why_no_answer_text(plan: SwitchOffPlan, value_of: Callable[[Reading], str]) -> str:
    """Format the same without saying that there is no list; the arguments are those of `no_answer_text`."""
    if plan.state is PlanState.CONFIRMED:
        return ""
    return " ".join((_why_no_answer(plan, value_of), *unproved_texts(plan)))


def unproved_texts(plan: SwitchOffPlan) -> list[str]:
    """State which readings the plan does not rest on, as the function check had failed before them, spot by spot."""
    return [found.text for found in plan.unproved]


def _why_no_answer(plan: SwitchOffPlan, value_of: Callable[[Reading], str]) -> str:
    """Why there is no answer yet, by what counts; the arguments are those of `no_answer_text`."""
    if plan.state is PlanState.CONTRADICTORY:
        return " ".join(contradiction_text(spot, value_of) for spot in plan.contradictions)
    if lacks_background(plan):
        at = next(spot for spot in plan.spots if spot.background is None)
        if at.read_before_listed is not None:
            return at.read_before_listed.text
        return tr("Everything off was not read at “{spot}”: read that first.").format(spot=at.name)
    if plan.state is PlanState.OPEN:
        return _open_text(plan)
    where = joined([quoted(spot.name) for spot in plan.spots if spot.confirming_reading is None])
    if not where:
        text = tr(
            "{proposal}, but only because live circuits cancel each other. That has to be read twice. Between the two "
            "readings the person gets up."
        )
        return " ".join((text.format(proposal=proposal_text(plan)), *_read_apart(plan)))
    if all(spot.read_by_word for spot in plan.spots if spot.confirming_reading is None):
        text = tr(
            "{proposal}. That was read at {spots}, but the value had not changed, so nothing shows that it was "
            "switched. Switch off something that changes the value, switch it on again, then read it once more."
        )
    elif any(spot.read_without_unlisted for spot in plan.spots):
        text = tr(
            "{proposal}, but that was read at {spots} only with the circuits that are not listed off as well."
        )
    else:
        text = tr("{proposal}, and nobody has read that at {spots} yet.")
    return text.format(proposal=proposal_text(plan), spots=where)


def _read_apart(plan: SwitchOffPlan) -> list[str]:
    """Format why readings of the list do not count as two, a sentence for each spot where that holds."""
    text = tr("The last two readings of it at “{spot}” do not count as two. {why}")
    return [
        text.format(spot=spot.name, why=why_no_second(*spot.read_apart))
        for spot in plan.spots
        if spot.read_apart
    ]


def _open_text(plan: SwitchOffPlan) -> str:
    """Format what an open plan lacks: a reading that decides, or a second one of what it rests on.

    Args:
        plan: an open one.
    """
    next_spot = next((spot for spot in plan.spots if spot.spot_id == plan.next_spot_id), None)
    if next_spot is not None and next_spot.set_doubt not in ("", "read once"):
        why = tr(SET_DOUBTS[next_spot.set_doubt])
        if next_spot.set_doubt == "exchanged" and (swapped := _swapped_of_list(plan, next_spot)):
            text = tr("the readings “{first}” and “{second}” may have been swapped by mistake")
            why = text.format(**_swapped_words(swapped))
        return tr("{proposal}, read at “{spot}” but not confirmed: {why}.").format(
            proposal=proposal_text(plan), spot=next_spot.name, why=why
        )
    wanted = plan.next_combination
    if next_spot is not None and next_spot.background_doubt and wanted and wanted.label == EVERYTHING_OFF:
        return tr(
            "Everything off was read once at “{spot}”, and the list rests on it: read it once more."
        ).format(spot=next_spot.name)
    return tr("The readings do not decide it yet. More are needed.")


def why_next_text(plan: SwitchOffPlan) -> str:
    """Format what the next reading of an open plan decides; empty where the plan says so anyway."""
    if plan.state is not PlanState.OPEN or lacks_background(plan) or plan.why_next not in WHY_NEXT:
        return ""
    here = [spot for spot in plan.spots if spot.spot_id == plan.next_spot_id]
    pairs = [pair for spot in here for pair in spot.exchangeable]
    if plan.why_next == "swapped" and pairs:
        text = (
            tr(
                "Two readings may have been swapped: “{first}” and “{second}”. This one shows whether they were."
            )
            if len(pairs) == 1
            else tr(
                "Readings may have been swapped, such as “{first}” and “{second}”. This one shows whether they were."
            )
        )
        first, second = (tr_kept(reading.condition) for reading in pairs[0])
        return text.format(first=first, second=second)
    return tr(WHY_NEXT[plan.why_next])


def readings_left_text(plan: SwitchOffPlan, of_sweep: int, taken: int) -> str:
    """Format how many readings are left until there is a list, in a sentence; empty where that cannot be said.

    Args:
        plan: the plan.
        of_sweep: how many are left of the plain sweep that is asked for; 0 where none is.
        taken: how many were taken after the plain sweep.
    """
    if of_sweep:
        return tr_n("The sweep has {n} reading left.", "The sweep has {n} readings left.", of_sweep).format(
            n=of_sweep
        )
    if plan.state is PlanState.UNCONFIRMED:
        left = max(sum(spot.confirming_reading is None for spot in plan.spots), 1)
        return tr_n("{n} more reading is needed.", "{n} more readings are needed.", left).format(n=left)
    if plan.state is not PlanState.OPEN:
        return ""
    if taken < MAX_USUAL_EXTRA_READINGS:
        left = max(USUAL_EXTRA_READINGS - taken, 1)
        return tr_n("About {n} more reading.", "About {n} more readings.", left).format(n=left)
    return tr("One more reading; it may be the last.")


def extra_reading_text(taken: int) -> str:
    """Format about how many readings are still needed after the plain sweep, the next one among them.

    Nobody knows before how many it takes: past the usual number it is one more each time, and then only counted.

    Args:
        taken: how many were taken after the plain sweep.
    """
    if taken < MAX_USUAL_EXTRA_READINGS:
        return tr("about {n} more").format(n=max(USUAL_EXTRA_READINGS - taken, 1))
    return tr("reading {n}").format(n=taken + 1)


def doubt_lines(spot: SpotPlan) -> list[str]:
    """State what the readings at a spot cannot show, for professionals, and which reading would; none for no doubt.

    Args:
        spot: the plan at the spot; readings that contradict each other leave no such doubt.
    """
    if not spot.is_consistent:
        return []
    lines = []
    if spot.background_doubt:
        lines.append(background_once_text(spot.confirming_reading is None, spot.name))
    names = {reading.id: quoted(tr_kept(reading.condition)) for pair in spot.exchangeable for reading in pair}
    pairs = [(one.id, other.id) for one, other in spot.exchangeable]
    exchanged = exchange_text(names, pairs, spot.name, _deciding(spot) or deciding_rows(pairs))
    return [*lines, exchanged] if exchanged else lines


def swapped_with(spots: Iterable[SpotPlan]) -> dict[int, list[int]]:
    """With which others each reading may have been swapped by mistake, by their ids in order; others are missing.

    Args:
        spots: the plan at each spot; readings that contradict each other leave no such doubt.
    """
    found: dict[int, set[int]] = {}
    for pair in [pair for spot in spots if spot.is_consistent for pair in spot.exchangeable]:
        for one, other in (pair, pair[::-1]):
            found.setdefault(one.id, set()).add(other.id)
    return {number: sorted(others) for number, others in found.items()}


def to_be_certain_text(plan: SwitchOffPlan, *, every: bool = False, at_once: bool = False) -> str:
    """State what more readings would make certain, and which; empty where nothing is in doubt.

    Where the supply is in doubt, that comes before any reading. While there is no list, the window asks for its next
    reading beside this, so that only what rests on everything off is added; a report asks for all at once.

    Args:
        plan: of tonight.
        every: each reading is named, however many they are; else the first and how many follow.
        at_once: what may have been swapped is named while there is no list as well.
    """
    # While there is no list, why there is none says it.
    unproved = unproved_texts(plan) if plan.state is PlanState.CONFIRMED else []
    certain = _doubts_to_settle(plan, every=every, at_once=at_once)
    return " ".join(filter(None, (*unproved, certain)))


def _doubts_to_settle(plan: SwitchOffPlan, *, every: bool, at_once: bool) -> str:
    """The same of what the readings that count leave in doubt; the arguments are those of `to_be_certain_text`."""
    if plan.supply_doubt:
        return " ".join((tr(plan.supply_doubt), tr("What each circuit gives is not certain before that.")))
    confirmed = at_once or plan.state is PlanState.CONFIRMED
    doubted = [
        spot
        for spot in plan.spots
        if spot.is_consistent and (spot.background_doubt or (confirmed and spot.exchangeable))
    ]
    if not doubted:
        return ""
    only = doubted[0] if len(doubted) == 1 else None
    if only is not None and only.background_doubt and not (confirmed and only.exchangeable):
        text = tr(
            "Read “{spot}” with everything off once more: what each circuit gives there rests on that one reading."
        )
        return text.format(spot=only.name)
    wanted = list(dict.fromkeys(again for spot in doubted for again in _to_read_again(spot, confirmed)))
    if every or len(wanted) <= MAX_READ_AGAIN + 1:  # "and 1 more" is as long as that one
        text = tr(
            "What some circuits give is not certain yet. To make it certain, read once more: {readings}."
        )
        return text.format(readings=joined(wanted))
    left = len(wanted) - MAX_READ_AGAIN
    first = tr(
        "What some circuits give is not certain yet. Read once more first: {readings}. After these: {n} more."
    )
    return first.format(readings=joined(wanted[:MAX_READ_AGAIN]), n=grouped(left))


def _to_read_again(spot: SpotPlan, confirmed: bool) -> list[str]:
    """The readings at a spot, each with its spot, that settle what the others cannot show once they are taken again.

    Args:
        spot: the plan at the spot.
        confirmed: the list is confirmed, so that what may have been swapped is asked for as well.
    """
    return [
        tr("“{condition}” at “{spot}”").format(condition=tr_kept(one), spot=spot.name)
        for one in conditions_to_read_again(spot, confirmed)
    ]


def conditions_to_read_again(spot: SpotPlan, confirmed: bool) -> list[str]:
    """What was on in the readings at a spot that are worth a second one beside the first, to be sure of them.

    Args:
        spot: the plan at the spot.
        confirmed: the list is confirmed, so that what may have been swapped is asked for as well.
    """
    conditions = [EVERYTHING_OFF] if spot.background_doubt else []
    if confirmed:
        by_id = {reading.id: reading for pair in spot.exchangeable for reading in pair}
        conditions += [by_id[number].condition for number in _deciding(spot)]
    return list(dict.fromkeys(conditions))


def _deciding(spot: SpotPlan) -> list[int]:
    """Ids of the readings that show every swap at a spot once they are taken again.

    Everything off comes first where it is asked for anyway, if something may have been swapped with it.
    """
    pairs = [(one.id, other.id) for one, other in spot.exchangeable]
    asked = {
        reading.id
        for pair in spot.exchangeable
        for reading in pair
        if spot.background_doubt and reading.condition == EVERYTHING_OFF
    }
    return [*sorted(asked), *deciding_rows([pair for pair in pairs if not asked.intersection(pair)])]


def _swapped_words(pair: tuple[Reading, Reading]) -> dict[str, str]:
    """What was on in two readings that may have been swapped by mistake, by its place in a sentence."""
    return {"first": tr_kept(pair[0].condition), "second": tr_kept(pair[1].condition)}


def _swapped_text(given: SourceContribution, exchangeable: Sequence[tuple[Reading, Reading]]) -> str:
    """Which readings that show a circuit or cord may have been swapped, as a part of a sentence; empty for none.

    Args:
        given: what it gives.
        exchangeable: readings at the spot, two by two, that may have been swapped.
    """
    showing = [
        pair
        for pair in exchangeable
        if given.source.id in (pair[0].live or frozenset()) ^ (pair[1].live or frozenset())
    ]
    conditions = {reading.id: tr_kept(reading.condition) for pair in exchangeable for reading in pair}
    groups = exchange_groups([(one.id, other.id) for one, other in showing or exchangeable])
    if not groups:
        return ""
    number, others = groups[0]
    if len(others) > MAX_PAIRS_NAMED:
        text = tr("the reading “{reading}” may have been swapped by mistake with one of {n} others")
        return text.format(reading=conditions[number], n=grouped(len(others)))
    if len(others) == 1:
        text = tr("the readings “{first}” and “{second}” may have been swapped by mistake")
        return text.format(first=conditions[number], second=conditions[others[0]])
    text = tr("the reading “{reading}” may have been swapped by mistake with one of these: {others}")
    return text.format(reading=conditions[number], others=joined([quoted(conditions[one]) for one in others]))


def _swapped_of_list(plan: SwitchOffPlan, spot: SpotPlan) -> tuple[Reading, Reading] | None:
    """The reading of the list at a spot, and another that it may have been swapped with; None for none.

    Args:
        plan: names the list.
        spot: where it was read.
    """
    off = frozenset(source.id for source in plan.proposed)
    of_list = [r for pair in spot.exchangeable for r in pair if r.live is not None and not r.live & off]
    own = max(of_list, key=lambda reading: len(reading.live or ()), default=None)
    return next((pair for pair in spot.exchangeable if own is not None and own in pair), None)


def contribution_doubt(
    given: SourceContribution, effect: Effect | None, exchangeable: Sequence[tuple[Reading, Reading]] = ()
) -> str:
    """State why what a circuit or cord gives is not confirmed, or what confirms it beside the sweep; empty for neither.

    What switching it on and off confirms is confirmed wherever it is named. It also bears the sweep's value out where
    the two agree more closely than a reading of something else would.

    Args:
        given: what it gives by the sweep.
        effect: of switching it on and off at the same spot; None where nobody did.
        exchangeable: the readings there, two by two, that may have been swapped by mistake.
    """
    swapped = _swapped_text(given, exchangeable) if given.doubt == EXCHANGED_DOUBT else ""
    if not given.doubt or effect is None or effect.verdict is not ConfirmationVerdict.CONFIRMED:
        if (
            given.doubt
            and given.doubt != SUPPLY_DOUBT
            and given.source.kind == "circuit"
            and given.alone is None
        ):
            return tr("an estimate: it was not read with it alone on")
        return tr("an estimate: {why}").format(why=swapped) if swapped else tr(given.doubt)
    expanded_volts = COVERAGE_FACTOR * hypot(given.u_volts, effect.u_volts)
    agrees = abs(given.volts - abs(effect.volts)) <= expanded_volts <= MAX_SHARE_OF_AGREEMENT * given.volts
    if agrees:
        return tr("confirmed by switching it on and off")
    if given.doubt == SUPPLY_DOUBT:
        return tr(
            "confirmed by switching it on and off, but its value in the sweep is an estimate: check the supply"
        )
    if not swapped:
        return tr(
            "confirmed by switching it on and off, but two readings of the sweep may have been swapped by mistake"
        )
    return tr("confirmed by switching it on and off, but of the sweep {why}").format(why=swapped)


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
    text = tr(
        "{names} alone can give more than everything on together ({volts} V): the voltages of several circuits partly "
        "cancel each other, so their values do not add up."
    ).format(names=names, volts=fixed(everything.volts, DECIMALS_WITHOUT_UNCERTAINTY))
    return " ".join((text, tr("Here the difference is also within the uncertainty."))) if within else text


def better_of(given: SourceContribution, effect: Effect | None) -> SourceContribution | Effect:
    """Choose what is shown of a circuit or cord at a spot: one figure of one thing, wherever it is shown.

    Where switching it there has confirmed it, that change: it is measured at once before and after. What the readings
    of the sweep give of the same is as wide as the unknown phase of all others leaves it.

    Args:
        given: what it gives by the sweep.
        effect: of switching it on and off at the same spot; None where nobody did.
    """
    return effect if effect is not None and effect.is_confirmed_rise else given


def why_listed(plan: SwitchOffPlan, effects: Mapping[tuple[int | None, int], Effect]) -> dict[str, str]:
    """Format why something is on tonight's list that is not shown to give more than the target by itself.

    Args:
        plan: the plan; one that is not confirmed has no list.
        effects: of switching them, by the ids of spot and of circuit or cord.

    Returns:
        A sentence or two by the name of the circuit or cord; none for what gives more than the target.
    """
    return {
        source.name: _why_listed(source, plan)
        for source in (*plan.off, *plan.unplug)
        if not any(
            best.volts > max(plan.target_volts, COVERAGE_FACTOR * best.u_volts)
            for spot, given in _contributions_of(source, plan)
            for best in (better_of(given, effects.get((spot.spot_id, source.id))),)
        )
    }


def _why_listed(source: Source, plan: SwitchOffPlan) -> str:
    above = [
        (given.alone.volts, spot.name)
        for spot, given in _contributions_of(source, plan)
        if given.alone is not None and compare_with(given.alone, plan.target_volts) == "above"
    ]
    if not above:
        text = tr("{source} is on the list since no reading shows that it may stay on.")
        return text.format(source=source.name)
    volts, name = max(above)
    text = tr(
        "{source} is on the list since {volts} V was read at “{spot}” with it alone on, above {target} V. How much of "
        "that it gives by itself is not certain."
    )
    return text.format(source=source.name, volts=fixed(volts, 2), spot=name, target=plain(plan.target_volts))


def _contributions_of(source: Source, plan: SwitchOffPlan) -> list[tuple[SpotPlan, SourceContribution]]:
    return [
        (spot, given) for spot in plan.spots for given in spot.contributions if given.source.id == source.id
    ]


def next_reading_lines(plan: SwitchOffPlan) -> list[str]:
    """Format which reading comes next, for somebody who is not at the window; nothing once it is confirmed."""
    spot = next((spot for spot in plan.spots if spot.spot_id == plan.next_spot_id), None)
    if spot is None or plan.next_combination is None:
        return []
    return [
        tr("The next reading: {condition}, at “{spot}”.").format(
            condition=plan.next_combination.shown, spot=spot.name
        )
    ]


def lacks_background(plan: SwitchOffPlan) -> bool:
    """Whether nobody read a swept spot with everything off that may be switched off."""
    return any(spot.background is None for spot in plan.spots)


def proposal_text(plan: SwitchOffPlan) -> str:
    """Format what the readings suggest by now, without a full stop."""
    circuits = joined([source.name for source in plan.proposed if source.kind == "circuit"])
    cords = joined([source.name for source in plan.proposed if source.kind == "cord"])
    if circuits and cords:
        text = tr("The readings suggest {circuits} off, {cords} unplugged")
    elif circuits:
        text = tr("The readings suggest {circuits} off")
    elif cords:
        text = tr("The readings suggest {cords} unplugged")
    else:
        text = tr("The readings suggest that nothing has to be switched off")
    return text.format(circuits=circuits, cords=cords)
