"""The breaker sweep: as read, by the model, and three rules for what to switch off."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from logger.metrology.rounding import Rounded, as_number, fixed, grouped, rounded
from logger.metrology.uncertainty import COVERAGE_FACTOR, Budget
from logger.name_list import in_turn, joined, listed, quoted
from logger.report.document.blocks import Block, Figure, HeadingBlock, Items, Pairs, Section, TableBlock, Text
from logger.report.document.figures.bar_chart import BarRow, bar_chart_svg
from logger.report.document.figures.svg import PHONE_WIDTH
from logger.report.document.first_page.missing import is_told_tonight, unfinished_sweeps
from logger.report.document.first_page.still_to_read import still_to_read
from logger.report.document.report_data import ReportData, SweptSpot
from logger.report.document.sections.circuits import has_legs
from logger.report.document.sections.circumstance_pairs import entered_pairs
from logger.report.document.unplugged_cords import UnpluggedCord, unplugged_cords
from logger.report.document.wording import (
    NBSP,
    condition_text,
    expanded,
    moment_of,
    reading_text,
    value_text,
    volts_with_u,
    with_u,
)
from logger.report.stated_answers import numbers_text
from logger.sweep.confirmation import effect_size_text
from logger.sweep.listed_later import read_before_listed, replaced_since_texts
from logger.sweep.plan_text import (
    NO_LIST,
    better_of,
    contradiction_text,
    contribution_doubt,
    doubt_lines,
    no_answer_text,
    unproved_texts,
)
from logger.sweep.read_unproved import read_unproved
from logger.sweep.solver.contribution_doubts import MAX_PAIRS_NAMED, exchange_groups
from logger.sweep.spot_plan import SourceContribution, SpotPlan
from logger.sweep.sweep_progress import effective_live, is_between
from logger.sweep.sweep_rows import SweepRow, mean_of_repeats
from logger.sweep.switch_off_plan import PlanState, SwitchOffPlan
from logger.translation import marked, tr, tr_kept, tr_n
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading
from logger.visit.results.on_off_result import against_target


def sweep(data: ReportData) -> Section | None:
    """Build the section; None where no spot was swept."""
    if not data.swept:
        return None
    blocks: list[Block] = [Text(data.simulation)] if data.simulation else []
    blocks += [Text(_explained(data)), Pairs(entered_pairs(data, data.circumstances, "sweep"))]
    if data.tonight is not None and data.tonight.supply_doubt:
        blocks.append(Text(tr(data.tonight.supply_doubt)))
    answers = {spot.spot_id: spot for spot in data.tonight.spots} if data.tonight else {}
    for swept in data.swept:
        blocks += _at_spot(data, swept, answers.get(swept.spot.id))
    if data.tonight is not None:
        blocks += _lists(data.tonight, data)
        if wanted := still_to_read(data, every=True):
            blocks += [HeadingBlock(tr("What is still to be read")), Items(tuple(wanted))]
    return Section("sweep", tr("Breaker sweep"), tuple(blocks))


MAX_BARS = 12
"""Of what was read at a spot: one of every breaker of a large panel would fill a page with bars of nothing."""

MANY_ROWS = 12
"""From more on the table of what each gives is set smaller, so that it stays on one page."""

MANY_NOTHING = 6
"""So many circuits and cords of which the model gives nothing at a spot are named in a sentence, without a row each."""

SHORT_NAME = 24
"""Letters of a circuit's name that is not broken into two lines."""

_HOW_LEGS_ADD = {
    "split phase": marked(
        "Contributions of circuits on different legs do not add: on a split-phase supply they subtract."
    ),
    "three-phase": marked(
        "Circuits on different phases do not simply add up. On a three-phase supply they add like two sides of a "
        "triangle, and those of all three phases may cancel."
    ),
}
"""By the supply as the log has it; on a single phase all add."""


def _explained(data: ReportData) -> str:
    """Write how it was swept, and what the model does."""
    return " ".join(
        filter(
            None,
            (
                tr(
                    "One breaker after the other was switched on alone, all others that may be switched off being off."
                ),
                _unfinished(data),
                tr(_HOW_LEGS_ADD.get(data.setup.supply or "", "")),
                *_model_explained(data),
            ),
        )
    )


def _model_explained(data: ReportData) -> list[str]:
    """Write what the model does and what its figures are beside the readings; nothing of what is not shown."""
    if data.tonight is None:
        return []
    of_legs = (
        tr(
            "The model therefore looks at every assignment of legs that the readings allow, and gives for each "
            "circuit what it adds by itself, with what is plugged in there. A, B and C are the model's names: "
            "it tells which circuits share a leg, not which leg of the panel that is. The letters begin anew "
            "at each spot, so A at one spot and A at another may be two legs. A leg is “not known yet” where "
            "the readings allow more than one."
        )
        if has_legs(data)
        else tr(
            "The model gives for each circuit what it adds by itself, with what is plugged in there, as far as the "
            "readings tell."
        )
    )
    confirmed = tr(
        "Where switching on and off has confirmed what something gives, that change and its U stand in place of the "
        "model's."
    )
    return [
        of_legs,
        tr(
            "A circuit that must stay on counts as never off; what it gives is part of the background. What was read "
            "with a circuit alone on and what the model gives of it are two things: the model takes out the "
            "background, whose phase nobody knows. Its U also counts how well the posture repeats, and every other "
            "house that the readings allow, so it may be larger than that of the reading; where many readings bear it "
            "out, it may be smaller."
        ),
        *([confirmed] if any(effect.is_confirmed_rise for effect in data.effects.values()) else []),
        tr(
            "The household's page has the reading with a circuit alone on where it agrees with the model and its own U "
            "is no larger than the model's, with the U of the model; elsewhere it has the model's value."
        ),
    ]


def _unfinished(data: ReportData) -> str:
    """Write where not every breaker was; empty where each was."""
    begun = [quoted(swept.spot.name) for swept in data.swept if not swept.progress.complete]
    return tr("At {spots} this was begun but not finished.").format(spots=joined(begun)) if begun else ""


def _when_read(swept: SweptSpot) -> str:
    """Write when everything off and everything on were read, against the readings between them."""
    readings = [reading for same in swept.progress.taken.values() for reading in same]
    between = [reading.utc_ns for reading in readings if is_between(reading.condition)]
    return " ".join(
        tr(texts[_place(readings, condition, between)]) for condition, texts in _WHEN_READ.items()
    )


def _place(readings: Sequence[Reading], condition: str, between: Sequence[int]) -> str:
    times = [reading.utc_ns for reading in readings if reading.condition == condition]
    before, after = any(t < min(between) for t in times), any(t > max(between) for t in times)
    if not times:
        return "never"
    return "both" if before and after else "before" if before else "after" if after else "between"


_WHEN_READ = {
    EVERYTHING_OFF: {
        "never": marked("Everything off was not read here."),
        "both": marked("Everything off was read before and after the breakers."),
        "before": marked(
            "Everything off was read before the breakers only, so a change during the sweep would not show in it."
        ),
        "after": marked(
            "Everything off was read after the breakers only, so a change during the sweep would not show in it."
        ),
        "between": marked("Everything off was read only in between."),
    },
    EVERYTHING_ON: {
        "never": marked("Everything on was not read here."),
        "both": marked("Everything on was read before and after the breakers."),
        "before": marked("Everything on was read before the breakers only."),
        "after": marked("Everything on was read after the breakers only."),
        "between": marked("Everything on was read only in between."),
    },
}


def _at_spot(data: ReportData, swept: SweptSpot, answer: SpotPlan | None) -> list[Block]:
    spot = swept.spot
    bars = [
        BarRow(
            _row_name(row),
            row.value.volts,
            row.value.expanded_volts / 2,
            tr("{volts} V").format(volts=rounded(row.value.volts, row.value.expanded_volts).volts),
        )
        for row in swept.rows
        if row.value is not None
    ]
    title = tr("What was read at {spot}").format(spot=spot.name)
    shown = _highest(bars)
    caption = tr("{title}; whiskers are k = 2")
    if len(shown) < len(bars):
        caption = tr(
            "{title}: everything on and off, each breaker alone and each cord that may be unplugged; the {n} highest "
            "of these {total}; whiskers are k = 2"
        )
    blocks: list[Block] = [
        HeadingBlock(tr("At {spot}").format(spot=spot.name)),
        Text(_when_read(swept)),
        Figure(
            bar_chart_svg(f"sweep-{spot.id}", title, shown, data.setup.target_volts),
            caption.format(title=title, n=len(shown), total=grouped(len(bars))),
            bar_chart_svg(f"sweepphone-{spot.id}", title, shown, data.setup.target_volts, PHONE_WIDTH),
        ),
        TableBlock(
            _combinations_caption(data, swept),
            (tr("Condition"), tr("What had voltage then"), tr("Reading no."), expanded(tr("Mean"))),
            tuple(_combinations(data, swept)),
            frozenset({2, 3}),
            small=True,
        ),
    ]
    blocks += _supposed(swept)
    if before := read_before_listed(data.readings, spot.id, data.sources):
        blocks.append(Text(before.text))
    blocks += [Text(one.text) for one in read_unproved(data.readings, [spot.id], data.sources)]
    blocks += [Text(text) for text in replaced_since_texts(data.readings, spot.id, data.sources)]
    if answer is not None and not answer.is_consistent:
        blocks += _contradiction(data, answer)
    elif answer is not None:
        blocks += [Text(line) for line in (*doubt_lines(answer), *_swapped_pairs(answer))]
        blocks += _contributions(data, answer)
        blocks += _not_shown(data, answer, swept)
    return blocks


def _swapped_pairs(answer: SpotPlan) -> list[str]:
    """Name every two readings that may have been swapped, by their numbers, where the sentence on them does not."""
    if len(answer.exchangeable) <= MAX_PAIRS_NAMED:
        return []
    text = tr("{number} with {others}")
    pairs = [
        text.format(number=number, others=numbers_text(others))
        for number, others in exchange_groups([(one.id, other.id) for one, other in answer.exchangeable])
    ]
    text = tr("All readings here that may have been swapped by mistake, by their numbers: {pairs}.")
    return [text.format(pairs=in_turn(pairs))]


def _highest(bars: Sequence[BarRow]) -> list[BarRow]:
    """The highest bars, in the order of all; of those that are shown with the same value all or none."""
    falling = sorted(bars, key=lambda bar: -bar.volts)
    first_left_out = falling[MAX_BARS].value_text if len(falling) > MAX_BARS else ""
    highest = [bar for bar in falling[:MAX_BARS] if bar.value_text != first_left_out] or falling[:MAX_BARS]
    return [bar for bar in bars if bar in highest]


def _contributions(data: ReportData, answer: SpotPlan) -> list[Block]:
    """Build the table of what each circuit and cord gives at a spot, by the model; many that show nothing in words."""
    if answer.background is None:
        caption = tr("By the model, what each gives at {spot}; the background was not read")
    elif answer.background_doubt:
        caption = tr(
            "By the model, what each gives at {spot}; background {volts}, read once: all below rests on it"
        )
    else:
        caption = tr("By the model, what each gives at {spot}; background {volts}")
    volts = value_text(answer.background) if answer.background else ""
    with_legs = has_legs(data)
    # On a single phase all add, and before there is a list nothing of it is known: each row would say the same.
    plan = data.tonight if data.tonight and data.tonight.state is PlanState.CONFIRMED else None
    listed_tonight = (*plan.off, *plan.unplug) if plan else ()
    nothing = [
        bar
        for bar in answer.contributions
        if bar.source not in listed_tonight
        and not as_number(_given(data, answer.spot_id, bar).volts)
        and not _remark(data, answer, bar)
    ]
    if len(nothing) < MANY_NOTHING:
        nothing = []
    table = TableBlock(
        caption.format(spot=answer.name, volts=volts),
        (
            tr("Circuit or cord"),
            expanded(tr("At {spot}").format(spot=answer.name)),
            *([tr("Leg of the model")] if with_legs else []),
            *([tr("Tonight")] if plan else []),
            tr("Remark"),
        ),
        tuple(
            (
                bar.source.name.replace(" ", NBSP) if len(bar.source.name) <= SHORT_NAME else bar.source.name,
                _given_text(data, answer, bar),
                *([tr_kept(bar.leg) or tr("not known yet").replace(" ", NBSP)] if with_legs else []),
                *([_tonight_word(bar.source, plan)] if plan else []),
                _remark(data, answer, bar),
            )
            for bar in answer.contributions
            if bar not in nothing
        ),
        frozenset({1}),
        small=len(answer.contributions) - len(nothing) > MANY_ROWS,
    )
    if not nothing:
        return [table]
    widest = max(nothing, key=lambda bar: bar.u_volts)
    text = tr(
        "Not in the table: {n} more, of which the model gives {zero} V at {spot}, with a U of at most {u} V: {names}."
    )
    said = text.format(
        n=grouped(len(nothing)),
        spot=answer.name,
        zero=_given(data, answer.spot_id, widest).volts,
        u=_given(data, answer.spot_id, widest).expanded,
        names=joined([bar.source.name for bar in nothing]),
    )
    return [table, Text(said)]


def _given(data: ReportData, spot_id: int, given: SourceContribution) -> Rounded:
    """What a circuit or cord gives by the model, or what switching it on and off has confirmed."""
    best = better_of(given, data.effects.get((spot_id, given.source.id)))
    return rounded(best.volts, COVERAGE_FACTOR * best.u_volts)


def _given_text(data: ReportData, answer: SpotPlan, given: SourceContribution) -> str:
    """What a circuit or cord gives, with its U, for its cell."""
    if _is_unknown(data, answer, given):
        return tr("not known").replace(" ", NBSP)
    return with_u(_given(data, answer.spot_id, given))


def _is_unknown(data: ReportData, answer: SpotPlan, given: SourceContribution) -> bool:
    """Whether a cord is less certain than all of its circuit: a part cannot give more than the whole.

    Args:
        data: of the report.
        answer: at the spot.
        given: what a circuit or cord gives by the model.
    """
    whole = next((one for one in answer.contributions if one.source.id == given.source.circuit_id), None)
    if whole is None:
        return False
    best = better_of(given, data.effects.get((answer.spot_id, given.source.id)))
    return COVERAGE_FACTOR * best.u_volts > whole.volts + COVERAGE_FACTOR * whole.u_volts


def _remark(data: ReportData, spot: SpotPlan, given: SourceContribution) -> str:
    """Why a source stays on or how it is switched, and what speaks against its value or confirms it."""
    source = given.source
    kind = tr_kept(source.stays) or (tr("its breaker switches two poles") if source.two_pole else "")
    circuit = data.every_source.get(source.circuit_id or 0)
    part = tr("part of {circuit}, not on top of it").format(circuit=circuit.name) if circuit else ""
    effect = data.effects.get((spot.spot_id, source.id))
    size = effect_size_text(effect) if effect else ""
    switched = tr("by switching it: {effect}").format(effect=size) if size else ""
    doubt = contribution_doubt(given, effect, spot.exchangeable)
    return "; ".join(filter(None, (kind, part, switched, doubt)))


def _not_shown(data: ReportData, answer: SpotPlan, swept: SweptSpot) -> list[Block]:
    """Name, once for all, of what nothing shows at a spot."""
    names: list[str] = []
    told: list[str] = []
    unknown: list[str] = []
    for given in answer.contributions:
        best = better_of(given, data.effects.get((answer.spot_id, given.source.id)))
        if _is_unknown(data, answer, given):
            unknown.append(given.source.name)
        else:
            (names if best.volts <= COVERAGE_FACTOR * best.u_volts else told).append(given.source.name)
    if told and len(names) > 2 * len(told):
        text = tr(
            "At {spot} the sweep can tell only these from nothing: {names}. Of the {n} others U is at least as large "
            "as the value."
        )
        said = text.format(spot=answer.name, names=joined(told), n=grouped(len(names)))
    else:
        text = tr("At {spot} the sweep cannot tell from nothing, since U is at least as large: {names}.")
        said = text.format(spot=answer.name, names=joined(names))
    if not names:
        said = ""
    if unknown:
        text = tr("Not known at {spot}, since it is less certain than all of the circuit: {names}.")
        said = " ".join(filter(None, (said, text.format(spot=answer.name, names=joined(unknown)))))
    unplugged = unplugged_cords(data, swept)
    ranges = _ranges_text(data, answer, {found.cord.id for found in unplugged})
    return [Text(" ".join((said, *filter(None, (ranges, *map(_unplugged_text, unplugged))))))] if said else []


def _unplugged_text(found: UnpluggedCord) -> str:
    """Write what two readings tell of a cord that the model tells nothing of."""
    text = tr(
        "With just {cord} unplugged, “everything on” went from {on} to {without}: what it gives is not nothing there, "
        "though the model cannot tell how much. To be certain, unplug it and plug it in again twice."
    )
    return text.format(cord=found.cord.name, on=value_text(found.on), without=value_text(found.without))


def _ranges_text(data: ReportData, answer: SpotPlan, read_apart: Collection[int]) -> str:
    """That a value whose U is as large is a range; with the one that is shown highest; empty where all are nothing.

    Args:
        data: of the report.
        answer: at the spot.
        read_apart: ids of the cords of which two readings tell that their range does not begin at 0.
    """
    given = [
        _given(data, answer.spot_id, one)
        for one in answer.contributions
        if not _is_unknown(data, answer, one) and one.source.id not in read_apart
    ]
    wide = [one for one in given if 0.0 < as_number(one.volts) <= as_number(one.expanded)]
    if not wide:
        return ""
    highest = max(wide, key=lambda one: as_number(one.volts))
    decimals = len(highest.volts) - 1 - max(highest.volts.find("."), highest.volts.find(","))
    text = tr("“{value}” is a range from 0 to {most} V: such values must not be added up.")
    most = fixed(float(as_number(highest.volts) + as_number(highest.expanded)), decimals)
    return text.format(value=with_u(highest), most=most)


def _before_an_answer(spot: SpotPlan) -> list[str]:
    """What is to be done besides reading again; nothing where no reading is a mistake."""
    if spot.why_not_alike:
        return []
    return [tr("The mistaken one is to be voided. What each circuit gives is not worked out before that.")]


def _contradiction(data: ReportData, spot: SpotPlan) -> list[Block]:
    """Build the list of readings that contradict the others at a spot."""
    blocks: list[Block] = [Text(" ".join([contradiction_text(spot, reading_text), *_before_an_answer(spot)]))]
    if spot.suspects:
        blocks.append(
            TableBlock(
                tr("Suspect readings at {spot}, the most likely mistake first").format(spot=spot.name),
                (tr("Reading"), tr("Condition"), tr("Taken"), tr("Value")),
                tuple(
                    (str(r.id), condition_text(r.condition), moment_of(data, r.utc_ns), reading_text(r))
                    for r in spot.suspects
                ),
                frozenset({3}),
            )
        )
    return blocks


def _tonight_word(source: Source, plan: SwitchOffPlan) -> str:
    if source not in (*plan.off, *plan.unplug):
        is_dead = source.circuit_id in {circuit.id for circuit in plan.off}
        return tr("off with its circuit") if is_dead else tr("on")
    return tr("unplug") if source.kind == "cord" else tr("off")


def _row_name(row: SweepRow) -> str:
    is_cord = row.source is not None and row.source.kind == "cord"
    return tr("without {cord}").format(cord=row.name) if is_cord else tr_kept(row.name)


def _always_live(data: ReportData, swept: SweptSpot) -> frozenset[int]:
    return frozenset.intersection(*(effective_live(live, data.sources) for live in swept.progress.taken))


def _combinations_caption(data: ReportData, swept: SweptSpot) -> str:
    """Name what was live in every reading, and what may have been: the cords that may be on any circuit."""
    plugged_in = [source for source in data.sources if source.id in _always_live(data, swept)]
    live = joined([source.name for source in plugged_in if not source.circuit_is_open])
    unknown = joined([source.name for source in plugged_in if source.circuit_is_open])
    if live and unknown:
        text = tr(
            "Every combination read at {spot}. Always on: {names}. Not known on which circuit, so perhaps live and "
            "perhaps dead: {unknown}"
        )
    elif live:
        text = tr("Every combination read at {spot}. Always on: {names}")
    elif unknown:
        text = tr(
            "Every combination read at {spot}. Not known on which circuit, so perhaps live and perhaps dead: {unknown}"
        )
    else:
        text = tr("Every combination read at {spot}")
    return text.format(spot=swept.spot.name, names=live, unknown=unknown)


def _combinations(data: ReportData, swept: SweptSpot) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    always = _always_live(data, swept)
    for live, readings in swept.progress.taken.items():
        mean = mean_of_repeats(readings)
        rows.append(
            (
                condition_text(readings[-1].condition),
                _had_voltage(live, readings[-1], [one for one in data.sources if one.id not in always], data),
                ", ".join(str(r.id) for r in readings),
                _mean_text(mean, is_known=readings[-1].context is not None),
            )
        )
    return rows


def _had_voltage(live: frozenset[int], reading: Reading, others: Sequence[Source], data: ReportData) -> str:
    """Write what had voltage in a reading, or what had none, whichever is shorter.

    Args:
        live: ids of what was on and plugged in.
        reading: the newest in that combination; of what was listed after it nothing is said.
        others: circuits and cords without those that had voltage in every reading.
        data: of the report.
    """
    on = effective_live(live, data.sources)
    names = [
        tr("{cord} (plugged in)").format(cord=source.name) if source.kind == "cord" else source.name
        for source in others
        if source.id in on
    ]
    if not names:
        return tr("nothing else")
    named = listed(names)
    without = [source.name for source in others if source.id not in on]
    if not all(reading.was_listed(source.id) for source in others):
        return named
    the_rest = (
        tr("all other circuits and cords except {names}").format(names=listed(without))
        if without
        else tr("all other circuits and cords")
    )
    return min(named, the_rest, key=len)


def _supposed(swept: SweptSpot) -> list[Block]:
    """Say of the readings without a list of breakers that what had voltage then is supposed."""
    taken = [r for same in swept.progress.taken.values() for r in same if r.live is None]
    if not taken:
        return []
    text = tr_n(
        "Which breakers were off in reading {numbers} was not written down: what had voltage then is supposed from the "
        "name of its condition.",
        "Which breakers were off in readings {numbers} was not written down: what had voltage then is supposed from "
        "the names of their conditions.",
        len(taken),
    )
    return [Text(text.format(numbers=joined([str(reading.id) for reading in taken])))]


def _mean_text(mean: Budget | None, *, is_known: bool) -> str:
    if mean is None:
        return "–"
    return volts_with_u(mean) if is_known else rounded(mean.volts).volts


def _lists(plan: SwitchOffPlan, data: ReportData) -> list[Block]:
    """Build the comparison of tonight's list with the plain rule; without an answer, why there is none."""
    if plan.state is not PlanState.CONFIRMED:
        # Halfway through a sweep what the readings suggest is no proposal: most breakers were not read by themselves.
        unfinished = is_told_tonight(data)
        why = (
            [tr(NO_LIST), *unfinished_sweeps(data), *unproved_texts(plan)]
            if unfinished
            else [no_answer_text(plan, reading_text)]
        )
        return [
            HeadingBlock(tr("What to switch off")),
            Text(" ".join(why)),
        ]
    heading = HeadingBlock(tr("What to switch off, by three rules"))
    rows = tuple(
        (
            spot.name,
            f"{value_text(spot.left)}, {against_target(spot.left, plan.target_volts)}",
            tr("{volts} V").format(volts=rounded(spot.left_robust_volts).volts),
            tr("{volts} V").format(volts=rounded(spot.left_plain_volts).volts),
        )
        for spot in plan.spots
    )
    lists = (
        (tr("Tonight"), (*plan.off, *plan.unplug)),
        (tr("Without relying on cancellation"), plan.off_robust),
        (tr("Plain rule: each circuit that read above the target when it alone was on"), plan.plain_rule_off),
    )
    explained = [
        tr(
            "What tonight's list leaves was read; what the other two leave is predicted by the model, without a U. A "
            "longer list may leave more: what it switches off no longer takes away from what stays on."
        )
    ]
    if set(plan.plain_rule_off) == {*plan.off, *plan.unplug}:
        explained.append(
            tr("Here the plain rule gives tonight's list: its prediction stands beside the reading.")
        )
    return [
        heading,
        Text(" ".join(explained)),
        TableBlock(
            tr("The lists (the plain rule is common practice, no source)"),
            (tr("Rule"), tr("Switch off or unplug")),
            tuple(
                (name, joined([source.name for source in sources]) or tr("nothing"))
                for name, sources in lists
            ),
        ),
        TableBlock(
            tr("What each list leaves"),
            (
                tr("Spot"),
                tr("Tonight, read"),
                tr("Without cancellation, predicted"),
                tr("Plain rule, predicted"),
            ),
            rows,
        ),
    ]
