"""What to switch off tonight, as acts: one list, what goes off with it, what stays on, where it was read."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from logger.cautions import ESSENTIAL_TONIGHT
from logger.metrology.rounding import DECIMALS_WITHOUT_UNCERTAINTY, fixed, grouped, plain
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.name_list import in_turn, joined
from logger.report.document.first_page.amounts import amount_at
from logger.report.document.first_page.doubted_list import spots_in_doubt
from logger.report.document.first_page.in_short import above_without_a_list
from logger.report.document.first_page.missing import is_told_tonight, unfinished_sweeps
from logger.report.document.report_data import ReportData
from logger.report.document.wording import day, reading_text, some_of
from logger.sweep.plan_text import NO_LIST, contradiction_reason, no_answer_text, unproved_texts, why_listed
from logger.sweep.solver.contribution_doubts import EXCHANGED_DOUBT
from logger.sweep.switch_off_plan import PlanState, SwitchOffPlan
from logger.translation import tr, tr_kept
from logger.visit.records.condition import OUTSIDE_WALK
from logger.visit.records.home_details import circuit_label
from logger.visit.records.home_records import Source
from logger.visit.results.on_off_result import against_target

MAX_NAMED = 3
"""Circuits and cords that are named for one thing on the first page; the section of the sweep names all."""

MOST = 0.5
"""A circuit that gives more than this share of everything on gives most of it."""

MAX_BRIEF_LETTERS = 700
"""Of a text that one column holds in eight lines or less."""

LONG_AGO = timedelta(days=366)
"""After this a household is asked whether lamps or wiring are still the same. No source."""


@dataclass(frozen=True, slots=True)
class ToSwitch:
    """One line of the list.

    Args:
        name: of the breaker or cord.
        note: what goes off with it; empty for nothing that is listed.
    """

    name: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Tonight:
    """What to do before going to bed, or why that is not known; no headline where there is no plan.

    Args:
        headline: what to do, or why there is nothing to do.
        switch_off: breakers.
        unplug_head: stands before the cords.
        unplug: cords, where breakers alone are not enough.
        back: what to do before and in the morning; empty where nothing is switched.
        safer: the one further decision, where the list is good for one posture only.
        stays: what is left on, and why.
        measured: from when to when, and what follows where that is long ago.
        notes: why something is on it that is not shown to give much, where it was read, and what may do instead.
    """

    headline: str = ""
    switch_off: tuple[ToSwitch, ...] = ()
    unplug_head: str = ""
    unplug: tuple[ToSwitch, ...] = ()
    back: str = ""
    safer: str = ""
    stays: str = ""
    measured: str = ""
    notes: tuple[str, ...] = ()

    @property
    def is_brief(self) -> bool:
        """Whether it has no list and so little text that the page sets it in one column."""
        texts = (self.headline, self.measured, self.stays, *self.notes)
        return not self.switch_off and not self.unplug and sum(map(len, texts)) <= MAX_BRIEF_LETTERS


def tonight(data: ReportData, written: datetime | None = None) -> Tonight:
    """Write the list as acts, with what it leaves and what it relies on; without an answer, why there is none.

    Args:
        data: of the report.
        written: when the report is made; None where that does not matter.
    """
    plan = data.tonight
    if plan is None:
        return Tonight()
    if plan.state is not PlanState.CONFIRMED:
        # Nobody switches off what a report only supposes.
        if is_told_tonight(data):
            nothing = tr("So it is not known yet which breakers help: leave all of them on tonight.")
            unfinished = *unfinished_sweeps(data), *unproved_texts(plan)
            said = (tr(NO_LIST), *unfinished, nothing, *_not_to_rely_on(plan, data))
            return Tonight(" ".join(said), notes=(_without_a_list(data),))
        nothing = tr("So leave all breakers on tonight.")
        return Tonight(f"{_why_no_list(plan)} {nothing}")
    if not (plan.off or plan.unplug):
        return Tonight(_nothing_to_do(plan), notes=tuple(_read(plan, data)))
    return Tonight(
        _headline(plan, data),
        tuple(ToSwitch(_label_in_list(source, plan, data), _off_with(source, data)) for source in plan.off),
        _unplug_head(plan),
        tuple(ToSwitch(cord.name, _circuit_of(cord, data)) for cord in plan.unplug),
        " ".join(filter(None, (_where(plan, data), _before(plan, data), _back(plan)))),
        _safer(plan, data),
        _stays(plan),
        _when_measured(plan, data, written),
        (
            *_for_which_spot(plan, data),
            *why_listed(plan, data.effects).values(),
            *_read(plan, data),
            *_instead(plan),
        ),
    )


def _without_a_list(data: ReportData) -> str:
    """What can be done while there is no list, with the cords that are known."""
    cords = [source.name for source in data.sources if source.kind == "cord" and not source.stays]
    unplug = tr(
        "What can be done tonight without a list: unplug lamps, chargers and extension leads beside the bed, or move "
        "them away from it."
    )
    if cords:
        text = tr(
            "What can be done tonight without a list: unplug lamps, chargers and extension leads beside the bed, such "
            "as {cords}, or move them away from it."
        )
        unplug = text.format(cords=some_of(cords, MAX_NAMED))
    stays = tr(
        "Leave medical devices plugged in, and whatever must not go off. Nobody has measured whether that is enough."
    )
    return f"{unplug} {stays}"


def _not_to_rely_on(plan: SwitchOffPlan, data: ReportData) -> list[str]:
    """Why a breaker stays on that the page shows as giving most of a value: what it gives is not certain yet."""
    text = tr(
        "At “{spot}” most of it seems to come from {circuit}, but two values there may have been written down under "
        "each other's name: do not rely on it yet."
    )
    return [
        text.format(circuit=label_of(given.source, data), spot=spot.name)
        for spot in plan.spots
        if spot.is_consistent and spot.everything_on is not None
        for given in spot.contributions
        if given.doubt == EXCHANGED_DOUBT
        and given.source.kind == "circuit"
        and given.volts > COVERAGE_FACTOR * given.u_volts
        and given.volts > MOST * spot.everything_on.volts
    ][:1]


def _when_measured(plan: SwitchOffPlan, data: ReportData, written: datetime | None) -> str:
    """When the list and what it rests on were read, and that it may have become wrong since where that is long ago."""
    confirmed = [s.confirming_reading.utc_ns for s in plan.spots if s.confirming_reading is not None]
    if not confirmed:
        return ""
    elsewhere = [spot.confirming_reading.utc_ns for spot in plan.elsewhere]
    first = data.local(min([*(spot.read_from_utc_ns for spot in plan.spots), *elsewhere]))
    last = data.local(max([*(spot.read_to_utc_ns for spot in plan.spots), *elsewhere]))
    said = tr("Measured {day}.").format(day=day(last))
    if first.date() != last.date():
        said = tr("Measured from {first} to {last}.").format(first=day(first), last=day(last))
    # What was read again with just this list off holds from then on, however old the other readings are.
    if written is None or written - data.local(min(confirmed)) <= LONG_AGO:
        return said
    if written - last <= LONG_AGO:
        old = tr("Part of it is over a year old: if lamps or wiring changed since, measure again first.")
    else:
        old = tr(
            "That is over a year ago: you can do this all the same, but if lamps or wiring changed since, whether it "
            "helps is not known before it is measured again."
        )
    return f"{said} {old}"


def _why_no_list(plan: SwitchOffPlan) -> str:
    """Why there is no list yet; what is to be read again is asked of whoever measured, not of the household."""
    if plan.state is not PlanState.CONTRADICTORY:
        return no_answer_text(plan, reading_text)
    contradict = [contradiction_reason(spot) for spot in plan.contradictions]
    return " ".join((tr(NO_LIST), *contradict, *unproved_texts(plan)))


def _headline(plan: SwitchOffPlan, data: ReportData) -> str:
    """What to do first; whether it is enough stands once, in the few sentences at the head of the page."""
    if panel := _panel_of_all(plan, data):
        text = tr("Before going to bed, at the panel (fuse box) {panel}, switch off these breakers:")
        return text.format(panel=panel)
    return tr("Before going to bed, at the panel (fuse box), switch off these breakers:") if plan.off else ""


def _for_which_spot(plan: SwitchOffPlan, data: ReportData) -> list[str]:
    """Which breakers of the list give more than the target by themselves at which spot, where that differs."""
    given: dict[str, list[str]] = {}
    for spot in plan.spots:
        volts = {one.source.id: amount_at(spot, one, data).volts for one in spot.contributions}
        given[spot.name] = [
            details.number
            if (details := data.source_details.get(circuit.id)) and details.number
            else circuit.name
            for circuit in plan.off
            if volts.get(circuit.id, 0.0) > plan.target_volts
        ]
    at_spots = {name: breakers for name, breakers in given.items() if breakers}
    if len({tuple(breakers) for breakers in at_spots.values()}) <= 1:
        return []
    text = tr("“{spot}”: {breakers}")
    each = [text.format(spot=name, breakers=joined(breakers)) for name, breakers in at_spots.items()]
    return [tr("Which breakers matter at which spot: {each}.").format(each=in_turn(each))]


def _panel_of_all(plan: SwitchOffPlan, data: ReportData) -> str:
    """The one panel of a list too long to name it in each line; empty where it is named there."""
    details = [data.source_details.get(circuit.id) for circuit in plan.off]
    panels = {one.panel if one is not None and one.number else "" for one in details}
    return panels.pop() if len(plan.off) > MAX_NAMED and len(panels) == 1 else ""


def _label_in_list(circuit: Source, plan: SwitchOffPlan, data: ReportData) -> str:
    """A circuit as it is found at the panel, without the panel where the line above the list has it."""
    details = data.source_details.get(circuit.id)
    if details is not None and _panel_of_all(plan, data):
        details = replace(details, panel="")
    return circuit_label(circuit, details)


def _nothing_to_do(plan: SwitchOffPlan) -> str:
    """Why nothing is switched off; only by readings of just that."""
    if plan.verdict == "below":
        text = tr("Nothing has to be switched off: {spots} were read below {target} V as they are.")
        if len(plan.spots) == 1:
            text = tr("Nothing has to be switched off: {spots} was read below {target} V as it is.")
    elif plan.verdict == "above":
        text = tr(
            "Switching off does not help: at {spots} the value is above the target of {target} "
            "V, and switching off does not lower it."
        )
    else:
        text = tr(
            "Switching off changes little: with everything on, the value at {spots} cannot be "
            "told apart from the target of {target} V."
        )
    return text.format(spots=spot_names(plan), target=plain(plan.target_volts))


def spot_names(plan: SwitchOffPlan) -> str:
    """The spots that the list was worked out for, in quotes."""
    return joined([tr("“{name}”").format(name=spot.name) for spot in plan.spots])


def label_of(circuit: Source, data: ReportData) -> str:
    """A circuit as it is found at the panel, as far as that was entered."""
    return circuit_label(circuit, data.source_details.get(circuit.id))


def _off_with(circuit: Source, data: ReportData) -> str:
    """What has no power with a circuit: what it feeds, as it was entered, and the listed cords on it."""
    feeds = _feeds(circuit, data)
    cords = [
        cord.name
        for cord in data.sources
        if cord.kind == "cord"
        and cord.circuit_id == circuit.id
        and cord.name.casefold() not in feeds.casefold()
    ]
    if not cords and not feeds:
        return ""
    if not cords:
        return tr("turns off {feeds}").format(feeds=feeds)
    text = (
        tr("turns off {feeds}, and {cords}") if feeds else tr("turns off {cords}; what else was not recorded")
    )
    return text.format(feeds=feeds, cords=joined(cords))


def _feeds(circuit: Source, data: ReportData) -> str:
    """What a circuit feeds, as it was entered; empty where it was not."""
    details = data.source_details.get(circuit.id)
    return details.feeds if details is not None else ""


def _circuit_of(cord: Source, data: ReportData) -> str:
    circuit = data.every_source.get(cord.circuit_id) if cord.circuit_id is not None else None
    return tr("on {circuit}").format(circuit=circuit.name) if circuit is not None else ""


def _unplug_head(plan: SwitchOffPlan) -> str:
    if not plan.unplug:
        return ""
    return tr("Unplug as well:") if plan.off else tr("Before going to bed, unplug:")


def _where(plan: SwitchOffPlan, data: ReportData) -> str:
    """Where the panels are; empty where no breaker is switched."""
    if not plan.off:
        return ""
    places = data.circumstances.panel_places
    return tr("Panel: {place}.").format(place=places or tr("place not recorded"))


def _before(plan: SwitchOffPlan, data: ReportData) -> str:
    """What to do before a breaker is switched off; empty where none is."""
    if not plan.off:
        return ""
    if all(_feeds(circuit, data) for circuit in plan.off):
        return tr("Shut computers down first.")
    return tr(
        "Shut computers down first. Where nothing stands after a breaker, what it feeds was not recorded: look before "
        "you switch it off."
    )


def _back(plan: SwitchOffPlan) -> str:
    if not plan.off:
        return tr("Switching it off at the lamp or device is not enough.")
    return tr(
        "A wall switch is not enough. Switch them on again in the morning. Until then nothing on them works, neither "
        "light nor outlets nor alarm clocks: keep a torch at hand."
    )


def _safer(plan: SwitchOffPlan, data: ReportData) -> str:
    """The one decision that the list leaves: what to switch off as well where it rests on voltages that cancel.

    Args:
        plan: of tonight.
        data: of the report.
    """
    if not plan.relies_on_cancellation:
        return ""
    tonight_ids = {source.id for source in (*plan.off, *plan.unplug)}
    more = [source for source in plan.off_robust if source.id not in tonight_ids]
    why = tr(
        "If you lie or sit differently, the value may be higher: several voltages partly cancel where it was measured."
    )
    if not more:
        # The robust set is the list itself where none does without cancelling.
        return " ".join((why, tr("No list does without that.")))
    if not tonight_ids <= {source.id for source in plan.off_robust}:
        return " ".join((why, tr("A list without that was worked out, and nobody has read it.")))
    if not promises_less(plan):
        return why
    if len(more) > MAX_NAMED:
        text = tr(
            "It was worked out that {n} more off together might help a little. Nobody has measured that: leave them on."
        )
        return " ".join((why, text.format(n=grouped(len(more)))))
    circuits = [label_of(source, data) for source in more if source.kind == "circuit"]
    cords = [source.name for source in more if source.kind == "cord"]
    if circuits and cords:
        text = tr(
            "Tonight only what is listed is switched off. Nobody has measured yet whether it helps to switch off "
            "{circuits} and unplug {cords} as well."
        )
    elif circuits:
        text = tr(
            "Tonight only what is listed is switched off. Nobody has measured yet whether it helps to switch off "
            "{circuits} as well."
        )
    else:
        text = tr(
            "Tonight only what is listed is unplugged. Nobody has measured yet whether it helps to unplug {cords} as "
            "well."
        )
    return " ".join((why, text.format(circuits=joined(circuits), cords=joined(cords))))


def promises_less(plan: SwitchOffPlan) -> bool:
    """Whether the longer list is predicted to leave less at some spot than was read, and more at none, as shown."""
    places = DECIMALS_WITHOUT_UNCERTAINTY
    changes = [round(spot.left_robust_volts, places) - round(spot.left.volts, places) for spot in plan.spots]
    return all(change <= 0 for change in changes) and any(change < 0 for change in changes)


def _stays(plan: SwitchOffPlan) -> str:
    """What stays on and why, circuits and cords apart, and the caution on what else has to."""
    out = []
    for kind, text in (
        ("circuit", tr("{names}.")),
        ("cord", tr("Leave plugged in: {names}.")),
    ):
        names = [
            tr("{source} ({why})").format(source=source.name, why=tr_kept(source.stays))
            for source in plan.essential
            if source.kind == kind
        ]
        if names:
            out.append(text.format(names=joined(names)))
    return " ".join([*out, tr(ESSENTIAL_TONIGHT)])


def _read(plan: SwitchOffPlan, data: ReportData) -> list[str]:
    """Write what was read with the list switched off; spots with the same verdict share a sentence."""
    read: dict[str, list[str]] = {}
    for spot in plan.spots_read:
        against = against_target(spot.left, plan.target_volts)
        text = tr("“{spot}” {volts} V").format(spot=spot.name, volts=fixed(spot.left.volts, 2))
        read.setdefault(against, []).append(text)
    text = tr("Read with everything on: {spots}: {against}.")
    out = (
        []
        if plan.off or plan.unplug
        else [text.format(spots=joined(names), against=against) for against, names in read.items()]
    )
    if doubted := spots_in_doubt(data):
        text = tr(
            "Something speaks against the reading of this list at {spots}: you can do this tonight, but whether it is "
            "enough is not certain."
        )
        out.append(text.format(spots=joined([tr("“{name}”").format(name=name) for name in doubted])))
    listed = {one.spot_id for one in plan.spots_read}
    # How many they are stands in the summary: a second count of other spots would be a riddle beside it.
    others = any(spot.id not in listed and spot.room != OUTSIDE_WALK for spot in data.spots)
    if others and not above_without_a_list(data):  # else the summary names them
        out.append(tr("Not measured: whether it helps at other spots."))
    return [" ".join(out)]


def _instead(plan: SwitchOffPlan) -> list[str]:
    text = tr(
        "Unplugging {cords} may do instead of switching {circuit} off: that was worked out, not measured."
    )
    return [
        text.format(circuit=circuit.name, cords=joined([cord.name for cord in cords]))
        for circuit, cords in plan.instead
    ]
