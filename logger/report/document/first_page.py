"""The first page: what a household wants to know, in its words. Numbers are rounded as on the form; every one stands in
full further back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from logger.metrology.checks import CheckKind, CheckVerdict
from logger.metrology.context import Context
from logger.metrology.rounding import form_volts
from logger.metrology.uncertainty import Budget, compare_with
from logger.night.night_facts import length
from logger.report.document.blocks import NBSP, counted, day, joined, value_text
from logger.report.document.figures import BarRow, bars_picture, spot_legend, spot_picture
from logger.report.document.report_data import NightFacts, ReportData
from logger.report.document.svg import round_scale
from logger.sweep.advice import AdviceKind
from logger.sweep.confirmation import ConfirmationVerdict as StepVerdict
from logger.sweep.solver.switching_problem import NEGLIGIBLE_VOLTS
from logger.sweep.switch_off_plan import AtSpot, SwitchOffPlan
from logger.visit.records.records import Reading, Source, Spot
from logger.visit.results.on_off_result import OUTSIDE_WALK, SpotResult, budget_of, walk_meaning

MOST_BARS = 6
LEAST_BARS = 3
"""What gives most is shown, at several swept spots fewer at each; the rest stands in the table of the sweep."""

HALF_WIDTH = 330.0
"""Of a picture in one of the two columns."""

VERDICT_WORDS = {"above": "above", "below": "below", "not distinguishable": "too close to tell"}


@dataclass(frozen=True, slots=True)
class SpotVerdict:
    """How a value stands against the target: the word and the name of its shape."""

    word: str
    shape: str


NOT_READ = SpotVerdict("not read", "dash")


@dataclass(frozen=True, slots=True)
class SpotRow:
    """A line of the table of spots."""

    name: str
    pair: str
    picture: str
    on: SpotVerdict
    off: SpotVerdict
    remark: str


@dataclass(frozen=True, slots=True)
class Room:
    """Spots of one room."""

    name: str
    """Empty where none is stated."""
    spots: tuple[SpotRow, ...]


@dataclass(frozen=True, slots=True)
class Cause:
    """What gives how much at a spot: a picture, and what is not in it."""

    title: str
    picture: str
    rest: str


@dataclass(frozen=True, slots=True)
class FirstPage:
    """What stands on it; lists are empty and texts "" where there is nothing to say."""

    measured: str
    trust: str
    rooms: tuple[Room, ...]
    legend: str
    target: str
    summary: str
    causes: tuple[Cause, ...]
    tonight_headline: str
    switch_off: tuple[str, ...]
    unplug: tuple[str, ...]
    tonight_notes: tuple[str, ...]
    electrician: tuple[tuple[str, str], ...]
    outside: tuple[str, ...]
    nights: tuple[str, ...]
    missing: tuple[str, ...]


def first_page(facts: ReportData) -> FirstPage:
    """Put the first page together."""
    headline, off, unplug, notes = _tonight(facts)
    scale = _scale(facts)
    rooms = _rooms(facts, scale)
    target = facts.setup.target_volts
    return FirstPage(
        measured=_measured(facts),
        trust=_trust(facts),
        rooms=tuple(rooms),
        legend=spot_legend("spots-key", target, scale) if rooms else "",
        target=f"Target {target:g} V ({facts.setup.target_source})",
        summary=_summary(facts),
        causes=tuple(_causes(facts)),
        tonight_headline=headline,
        switch_off=off,
        unplug=unplug,
        tonight_notes=notes,
        electrician=_for_an_electrician(facts.tonight),
        outside=tuple(_outside(facts)),
        nights=tuple(_night(found, target) for found in facts.nights),
        missing=tuple(missing(facts)),
    )


def missing(facts: ReportData) -> list[str]:
    """What was not done in this visit, a sentence each."""
    out = []
    if not facts.standing:
        out.append("No spot has been read.")
    if not facts.checks:
        out.append("None of the checks of meter and reference was done.")
    if not facts.swept:
        out.append("The breakers were not swept.")
    elif facts.setup.supply is None:
        out.append("The supply of the home is not stated, so that the sweep cannot be worked out.")
    if not facts.nights:
        out.append("No night was recorded.")
    return out


# --- what was measured, how far it can be trusted ----------------------------------------------------------


def _measured(facts: ReportData) -> str:
    days = sorted({facts.local(reading.utc_ns).date() for reading in facts.standing})
    when = ""
    if days:
        first, last = (facts.local(facts.standing[i].utc_ns) for i in (0, -1))
        when = f"On {day(first)}" if len(days) == 1 else f"Between {day(first)} and {day(last)}"
    against = {
        "earth rod": "an earth rod in the soil",
        "building earth": "the building's protective earth",
        None: "a reference that was not stated",
    }[facts.setup.reference]
    done = []
    read = [result for result in facts.results.values() if result.on or result.off]
    if read:
        both = all(result.on and result.off for result in read)
        one = "with everything on" if all(result.on for result in read) else "with everything on or off"
        how = "with everything on and with everything off" if both else one
        done.append(f"at {counted(len(read), 'spot')} {how}")
    if facts.swept:
        done.append(f"breaker by breaker at {joined([f'“{s.spot.name}”' for s in facts.swept])}")
    if facts.nights:
        longest = max(facts.nights, key=lambda night: night.summary.end_s).summary.end_s / 3600
        nights = "a night" if len(facts.nights) == 1 else f"{len(facts.nights)} nights"
        up_to = "" if len(facts.nights) == 1 else "up to "
        done.append(f"over {nights} of {up_to}{longest:.0f} hours")
    what = f"the AC voltage on a person's skin against {against} was"
    if not done:
        return f"{when + ' ' if when else ''}{what} to be read; nothing has been read yet.".capitalize()
    text = f"{when} {what} read {joined(done)}.".strip()
    return text[0].upper() + text[1:]


def _trust(facts: ReportData) -> str:
    budgets = [b for r in facts.standing if (b := budget_of(r)) is not None]
    context = next((r.context for r in reversed(facts.standing) if r.context is not None), None)
    if not budgets or context is None:
        return "How far the values can be trusted is not known: nothing was kept of meter and reference."
    low, high = (f"{max(pick(b.expanded_volts for b in budgets), 0.01):.2f}" for pick in (min, max))
    within = f"± {low} V" if low == high else f"± {low} V to ± {high} V"
    of = "" if low == high else ", depending on the spot"
    doubt = f"With about 95{NBSP}% confidence the true value lies within {within} of the one shown{of}"
    return f"{doubt}; {_proved(context)}{_doubted(facts)}."


def _proved(context: Context) -> str:
    """What the checks say, and what is known to spoil the reference."""
    passed = [k for k in CheckKind if context.verdicts.get(k) is CheckVerdict.PASSED]
    if len(passed) == len(CheckKind):
        proved = "meter and reference passed their checks"
    else:
        open_ones = [
            f"{kind} {context.verdicts.get(kind, 'not done')}" for kind in CheckKind if kind not in passed
        ]
        proved = f"but meter and reference are not fully proved ({joined(open_ones)})"
    spoiled = context.setup.reference_state(context.rod_volts).remarks()
    return f"{proved}; to be kept in mind: {joined(spoiled)}" if spoiled else proved


def _doubted(facts: ReportData) -> str:
    doubted = [r for r in facts.standing if r.id in facts.doubts]
    if not doubted:
        return ""
    verb = "is" if len(doubted) == 1 else "are"
    return f"; {counted(len(doubted), 'reading')} {verb} in doubt by what was seen later"


# --- spots -----------------------------------------------------------------------------------------------


def _scale(facts: ReportData) -> float:
    values = [r.volts for result in facts.results.values() for r in (result.on, result.off) if r is not None]
    return round_scale(max([*values, 1.5 * facts.setup.target_volts]))


def _rooms(facts: ReportData, scale_volts: float) -> list[Room]:
    """Rooms in the order of the route; the spots of a room that is come to again stand together."""
    read = [spot for spot in facts.spots if facts.results[spot.id].on or facts.results[spot.id].off]
    order = list(dict.fromkeys(spot.room for spot in read))
    read.sort(key=lambda spot: order.index(spot.room))
    return [
        Room(room, tuple(_spot_row(spot, facts, scale_volts) for spot in spots))
        for room, spots in groupby(read, key=lambda spot: spot.room)
    ]


def _spot_row(spot: Spot, facts: ReportData, scale_volts: float) -> SpotRow:
    result, target = facts.results[spot.id], facts.setup.target_volts
    on, off = (r.volts if r else None for r in (result.on, result.off))
    return SpotRow(
        spot.name,
        result.pair(),
        spot_picture(f"spot-{spot.id}", f"{spot.name}, on and off", on, off, target, scale_volts),
        _judged(result.on, target),
        _judged(result.off, target),
        _remark(result, facts),
    )


def _judged(reading: Reading | None, target_volts: float) -> SpotVerdict:
    if reading is None:
        return NOT_READ
    budget = budget_of(reading)
    if budget is None:
        return SpotVerdict("not known", "dash")
    verdict = compare_with(budget, target_volts)
    return SpotVerdict(VERDICT_WORDS[verdict], verdict.split()[0])


def _remark(result: SpotResult, facts: ReportData) -> str:
    said = [result.why_not_comparable()]
    for word, reading in (("on", result.on), ("off", result.off)):
        if reading is None:
            continue
        if reading.id in facts.doubts:
            said.append(f"In doubt ({word}): {facts.doubts[reading.id]}")
        if reading.taken == "by hand":
            said.append(f"Entered by hand ({word}).")
        if reading.taken == "override":
            said.append(f"Taken while not settled ({word}).")
    return " ".join(filter(None, said))


def _summary(facts: ReportData) -> str:
    """How many spots are above the target."""
    target = facts.setup.target_volts
    said = []
    for word, readings in (
        ("on", [r.on for r in facts.results.values() if r.on]),
        ("off", [r.off for r in facts.results.values() if r.off]),
    ):
        budgets = [b for r in readings if (b := budget_of(r)) is not None]
        if budgets:
            above = sum(compare_with(b, target) == "above" for b in budgets)
            said.append(f"with everything {word} {above} of {len(budgets)}")
    return f"Above it: {joined(said)} spots, judged by the full values." if said else ""


# --- what causes what --------------------------------------------------------------------------------------


def _causes(facts: ReportData) -> list[Cause]:
    target = facts.setup.target_volts
    spots = facts.tonight.spots if facts.tonight else ()
    most = max(MOST_BARS // max(len(spots), 1), LEAST_BARS)
    causes = [_cause_at(spot, target, most) for spot in spots]
    confirmed = _confirmed_rows(facts)
    if confirmed:
        title = "Confirmed by switching on and off again"
        causes.append(
            Cause(title, bars_picture("confirmed", title, confirmed, target, HALF_WIDTH, key=False), "")
        )
    return causes


def _cause_at(spot: AtSpot, target_volts: float, most: int) -> Cause:
    bars = sorted(spot.bars, key=lambda bar: -bar.volts)
    shown = [bar for bar in bars if bar.volts > NEGLIGIBLE_VOLTS][:most]
    title = f"What gives how much at “{spot.name}”"
    if not shown:
        return Cause(title, "", "No single circuit or cord gives a noticeable part.")
    rows = [
        BarRow(
            bar.source.name,
            bar.volts,
            bar.u_volts,
            f"{form_volts(bar.volts)} V" + (", stays on" if bar.source.stays else ""),
            bool(bar.source.stays),
        )
        for bar in shown
    ]
    picture = bars_picture(f"causes-{spot.spot_id}", title, rows, target_volts, HALF_WIDTH, key=False)
    others = len(bars) - len(shown)
    less = "less" if len(shown) == most else "next to nothing"
    rest = (
        f"{counted(others, 'other circuit or cord', 'other circuits and cords')}: {less}." if others else ""
    )
    return Cause(title, picture, rest)


def _confirmed_rows(facts: ReportData) -> list[BarRow]:
    rows = []
    for (spot_id, source_id), effect in facts.effects.items():
        source = facts.every_source.get(source_id)
        if effect.verdict is not StepVerdict.CONFIRMED or source is None:
            continue
        where = f" ({facts.every_spot_name[spot_id]})" if spot_id in facts.every_spot_name else ""
        less = "less " if effect.volts < 0 else ""
        rows.append(
            BarRow(
                f"{source.name}{where}",
                abs(effect.volts),
                effect.u_volts,
                f"{less}{form_volts(abs(effect.volts))} V",
            )
        )
    return sorted(rows, key=lambda row: -row.volts)


# --- tonight -----------------------------------------------------------------------------------------------


def _tonight(facts: ReportData) -> tuple[str, tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    found, target = facts.tonight, facts.setup.target_volts
    if found is None:
        return "", (), (), ()
    off, unplug = ([source.name for source in sources] for sources in (found.off, found.unplug))
    if found.ambiguous:
        headline = "Not decided yet: the readings leave it open. As it stands:"
    elif not found.meets_target:
        headline = f"The target of {target:g} V is not reached by switching off. Nearest to it:"
    else:
        headline = f"The shortest list that keeps every swept spot at or under {target:g} V:"
    if not off and not unplug:
        headline = "Nothing has to be switched off: every swept spot is at or under the target as it is."
    notes = [
        f"Instead of switching {circuit.name} off: unplug {joined([cord.name for cord in cords])}."
        for circuit, cords in found.instead
    ]
    notes += _left(found.spots)
    if found.relies_on_cancellation:
        robust = joined([source.name for source in found.off_robust]) or "nothing"
        notes.append(
            "It relies on live circuits that cancel each other in this posture. "
            f"Without that, switch off: {robust}."
        )
    if found.stays:
        notes.append(f"Stays on: {joined([_with_reason(source) for source in found.stays])}.")
    return headline, tuple(off), tuple(unplug), tuple(notes)


def _with_reason(source: Source) -> str:
    return f"{source.name} ({source.stays})"


def _left(spots: Sequence[AtSpot]) -> list[str]:
    """What the list leaves: predicted, or confirmed by readings; spots of which the same holds stand together."""
    predicted: list[str] = []
    read: dict[str, list[str]] = {}
    for spot in spots:
        budget = budget_of(spot.confirming)
        if budget is None:
            predicted.append(f"“{spot.name}” {value_text(spot.predicted)}")
        else:
            read.setdefault(spot.confirmed, []).append(f"“{spot.name}” {value_text(budget)}")
    out = [f"Read with this list off: {joined(names)}: {confirmed}." for confirmed, names in read.items()]
    if predicted:
        out.append(f"Predicted with this list off, no reading confirms it yet: {joined(predicted)}.")
    return out


def _for_an_electrician(found: SwitchOffPlan | None) -> tuple[tuple[str, str], ...]:
    """Names with their amounts, and what can be done; what holds for several is said once."""
    if found is None:
        return ()
    grouped: dict[str, list[str]] = {}
    for piece in found.advice:
        if piece.kind in (AdviceKind.CIRCUIT, AdviceKind.CORD):
            # The advice begins with the amount in a sentence of its own: "The circuit gives 0.97 V (± 0.05 V). ..."
            first, _, what_to_do = piece.text.partition(". ")
            plain = bool(what_to_do) and first.endswith(f"(± {2 * piece.u_volts:.2f} V)")
            name = f"{piece.about} ({value_text(Budget.of_u('', piece.volts, piece.u_volts))})"
            grouped.setdefault(what_to_do if plain else piece.text, []).append(name if plain else piece.about)
    return tuple((joined(names), said) for said, names in grouped.items())


# --- outside -----------------------------------------------------------------------------------------------


def _outside(facts: ReportData) -> list[str]:
    out = []
    target = facts.setup.target_volts
    off = [(spot, facts.results[spot.id].off) for spot in facts.spots]
    read = [(spot.name, budget) for spot, reading in off if (budget := budget_of(reading)) is not None]
    left = [f"“{name}” ({b.volts:.2f} V)" for name, b in read if compare_with(b, target) == "above"]
    if left:
        out.append(
            f"With everything off that may be switched off, {joined(left)} "
            f"{'is' if len(left) == 1 else 'are'} left above the target{_staying(facts.sources)}."
        )
    elif read:
        out.append("With everything off no spot is above the target for sure: nothing points outside.")
    if facts.tonight is not None:
        out += [
            piece.text
            for piece in facts.tonight.advice
            if piece.kind in (AdviceKind.OUTSIDE, AdviceKind.REFERENCE)
        ]
    walked = [r for r in facts.standing if r.condition == OUTSIDE_WALK]
    if walk := walk_meaning(walked):
        out.append(walk)
    return out


def _night(found: NightFacts, target_volts: float) -> str:
    """A night in a sentence or two."""
    night, level = found.night, found.summary.level
    when = f"{day(night.local(0.0))}, {night.local(0.0):%H:%M} to {night.local(found.summary.end_s):%H:%M}"
    if level is None:
        return f"{when}: never still for long enough to tell a level."
    said = (
        f"{when}: {level.median_volts:.2f} V in the middle while lying still, above {target_volts:g} V for "
        f"{length(level.above_target_s)} of {length(found.summary.still_s)}."
    )
    if not found.summary.loads:
        return said
    loads = joined([f"{load.volts:.2f} V every {length(load.period_s)}" for load in found.summary.loads])
    return f"{said} Something switches by itself again and again: {loads}."


def _staying(sources: Sequence[Source]) -> str:
    staying = [source.name for source in sources if source.stays]
    if not staying:
        return ": a source outside the home's own wiring"
    return f": from outside the home's own wiring, or from what stays on ({joined(staying)})"
