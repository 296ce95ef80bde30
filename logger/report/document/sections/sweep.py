"""The breaker sweep: as read, by the model, and three rules for what to switch off."""

from __future__ import annotations

from logger.metrology.rounding import fixed, rounded
from logger.name_list import joined
from logger.report.document.blocks import Block, Figure, HeadingBlock, Section, TableBlock, Text
from logger.report.document.figures.bar_chart import BarRow, bar_chart_svg
from logger.report.document.report_data import ReportData, SweptSpot
from logger.report.document.wording import EXPANDED, moment_of, reading_text, value_text
from logger.sweep.listed_later import read_before_listed, replaced_since_texts
from logger.sweep.plan_text import (
    contradiction_text,
    contribution_doubt,
    doubt_lines,
    next_reading_lines,
    no_answer_text,
)
from logger.sweep.spot_plan import SourceContribution, SpotPlan
from logger.sweep.sweep_progress import effective_live
from logger.sweep.sweep_rows import SweepRow, mean_of_repeats
from logger.sweep.switch_off_plan import PlanState, SwitchOffPlan
from logger.translation import tr, tr_kept
from logger.visit.records.home_records import Source
from logger.visit.results.on_off_result import against_target


def sweep(data: ReportData) -> Section | None:
    """Build the section; None where no spot was swept."""
    if not data.swept:
        return None
    blocks: list[Block] = [Text(data.simulation)] if data.simulation else []
    blocks += [
        Text(
            tr(
                "One breaker after the other was switched on alone, with everything off and everything on around it. "
                "Contributions of circuits on different legs or phases do not add: they subtract, or add like the "
                "sides of a triangle. The model therefore looks at every assignment of legs that the readings allow, "
                "and gives for each circuit what it adds by itself, with its leg where all of them agree. A circuit "
                "that must stay on was never off; what it gives is part of the background."
            )
        )
    ]
    if data.tonight is not None and data.tonight.supply_doubt:
        blocks.append(Text(tr(data.tonight.supply_doubt)))
    answers = {spot.spot_id: spot for spot in data.tonight.spots} if data.tonight else {}
    for swept in data.swept:
        blocks += _at_spot(data, swept, answers.get(swept.spot.id))
    if data.tonight is not None:
        blocks += _three_rules(data.tonight)
    return Section("sweep", tr("Breaker sweep"), tuple(blocks))


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
    title = tr("As read at {spot}: each circuit alone").format(spot=spot.name)
    caption = tr("{title}; bars above the target are orange, others blue; whiskers are k = 2")
    blocks: list[Block] = [
        HeadingBlock(tr("At {spot}").format(spot=spot.name)),
        Figure(
            bar_chart_svg(f"sweep-{spot.id}", title, bars, data.setup.target_volts),
            caption.format(title=title),
        ),
        TableBlock(
            _combinations_caption(data, swept),
            (tr("Condition"), tr("What was live"), tr("Readings"), tr("Mean, V"), EXPANDED),
            tuple(_combinations(data, swept)),
            frozenset({2, 3, 4}),
            small=True,
        ),
    ]
    if before := read_before_listed(data.readings, spot.id, data.sources):
        blocks.append(Text(before.text))
    blocks += [Text(text) for text in replaced_since_texts(data.readings, spot.id, data.sources)]
    if answer is not None and not answer.is_consistent:
        blocks += _contradiction(data, answer)
    elif answer is not None:
        blocks += [Text(line) for line in doubt_lines(answer)]
        blocks.append(_contributions(data, answer))
    return blocks


def _contributions(data: ReportData, answer: SpotPlan) -> TableBlock:
    """Build the table of what each circuit and cord gives at a spot, by the model."""
    if answer.background is None:
        caption = tr("By the model, what each gives at {spot}; the background was not read")
    elif answer.background_doubt:
        caption = tr(
            "By the model, what each gives at {spot}; background {volts} V, read once: all below rests on it"
        )
    else:
        caption = tr("By the model, what each gives at {spot}; background {volts} V")
    volts = fixed(answer.background.volts, 4) if answer.background else ""
    return TableBlock(
        caption.format(spot=answer.name, volts=volts),
        (
            tr("Circuit or cord"),
            tr("Contribution, V"),
            "u, V",
            tr("Leg"),
            tr("Tonight"),
            tr("Remark"),
        ),
        tuple(
            (
                bar.source.name,
                fixed(bar.volts, 4),
                fixed(bar.u_volts, 4),
                tr_kept(bar.leg) or tr("open"),
                _tonight_word(bar.source, data.tonight),
                _remark(data, answer.spot_id, bar),
            )
            for bar in answer.contributions
        ),
        frozenset({1, 2}),
    )


def _remark(data: ReportData, spot_id: int, given: SourceContribution) -> str:
    """Why a source stays on or how it is switched, and what speaks against its value or confirms it."""
    source = given.source
    kind = tr_kept(source.stays) or (tr("two-pole") if source.two_pole else "")
    return ", ".join(filter(None, (kind, contribution_doubt(given, data.effects.get((spot_id, source.id))))))


def _contradiction(data: ReportData, spot: SpotPlan) -> list[Block]:
    """Build the list of readings that contradict the others at a spot."""
    blocks: list[Block] = [
        Text(
            " ".join(
                [
                    contradiction_text(spot, reading_text),
                    tr(
                        "The mistaken one is to be voided. What each circuit gives is not worked out before that."
                    ),
                ]
            )
        )
    ]
    if spot.suspects:
        blocks.append(
            TableBlock(
                tr("Suspect readings at {spot}, the most likely mistake first").format(spot=spot.name),
                (tr("Reading"), tr("Condition"), tr("Taken"), tr("Volts")),
                tuple(
                    (str(r.id), tr_kept(r.condition), moment_of(data, r.utc_ns), fixed(r.volts, 4))
                    for r in spot.suspects
                ),
                frozenset({3}),
            )
        )
    return blocks


def _tonight_word(source: Source, plan: SwitchOffPlan | None) -> str:
    if plan is None or plan.state is not PlanState.CONFIRMED:
        return tr("not known yet")
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
            "Every combination read at {spot}; always live: {names}; not known on which circuit, so live or not: "
            "{unknown}"
        )
    elif live:
        text = tr("Every combination read at {spot}; always live: {names}")
    elif unknown:
        text = tr("Every combination read at {spot}; not known on which circuit, so live or not: {unknown}")
    else:
        text = tr("Every combination read at {spot}")
    return text.format(spot=swept.spot.name, names=live, unknown=unknown)


def _combinations(data: ReportData, swept: SweptSpot) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    always = _always_live(data, swept)
    for live, readings in swept.progress.taken.items():
        mean = mean_of_repeats(readings)
        names = [
            source.name for source in data.sources if source.id in effective_live(live, data.sources) - always
        ]
        rows.append(
            (
                tr_kept(readings[-1].condition),
                ", ".join(names) or tr("nothing else"),
                ", ".join(str(r.id) for r in readings),
                fixed(mean.volts, 4) if mean else "–",
                fixed(mean.expanded_volts, 4) if mean and readings[-1].context else "–",
            )
        )
    return rows


def _three_rules(plan: SwitchOffPlan) -> list[Block]:
    """Build the comparison of tonight's list with the plain rule; without an answer, why there is none."""
    heading = HeadingBlock(tr("What to switch off, by three rules"))
    if plan.state is not PlanState.CONFIRMED:
        return [heading, Text(" ".join([no_answer_text(plan, reading_text), *next_reading_lines(plan)]))]
    rows = tuple(
        (
            spot.name,
            f"{value_text(spot.left)}, {against_target(spot.left, plan.target_volts)}",
            tr("{volts} V").format(volts=fixed(spot.left_robust_volts, 3)),
            tr("{volts} V").format(volts=fixed(spot.left_plain_volts, 3)),
        )
        for spot in plan.spots
    )
    lists = (
        (tr("Tonight"), (*plan.off, *plan.unplug)),
        (tr("Without relying on cancellation"), plan.off_robust),
        (tr("Plain rule: each that alone gives more than the target"), plan.plain_rule_off),
    )
    return [
        heading,
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
