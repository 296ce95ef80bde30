"""Sections for the next professional: the breaker sweep with what the model makes of it, and the named steps."""

from __future__ import annotations

from logger.report.document.blocks import (
    EXPANDED,
    Block,
    Figure,
    HeadingBlock,
    Section,
    TableBlock,
    Text,
    joined,
    moment,
    signed,
    value_text,
)
from logger.report.document.figures import BarRow, bars_picture
from logger.report.document.report_data import ReportData, SweptSpot
from logger.sweep.confirmation import in_words
from logger.sweep.sweep_rows import SweepRow, mean_of
from logger.sweep.switch_off_plan import AtSpot, SwitchOffPlan
from logger.visit.records.records import Source
from logger.visit.results.on_off_result import budget_of


def sweep(facts: ReportData) -> Section | None:
    """Every spot that was swept."""
    if not facts.swept:
        return None
    blocks: list[Block] = [
        Text(
            "One breaker after the other was switched on alone, with everything off and everything on around it. "
            "Contributions of circuits on different legs or phases do not add: they subtract, or add like the sides "
            "of a triangle. The model therefore looks at every assignment of legs that the readings allow, and gives "
            "for each circuit what it adds by itself, with its leg where all of them agree. A circuit that must stay "
            "on was never off; what it gives is part of the background."
        )
    ]
    answers = {spot.spot_id: spot for spot in facts.tonight.spots} if facts.tonight else {}
    for swept in facts.swept:
        blocks += _at_spot(facts, swept, answers.get(swept.spot.id))
    if facts.tonight is not None:
        blocks += _rule(facts, facts.tonight)
    return Section("sweep", "Breaker sweep", tuple(blocks))


def _at_spot(facts: ReportData, swept: SweptSpot, answer: AtSpot | None) -> list[Block]:
    spot = swept.spot
    bars = [
        BarRow(_row_name(row), row.value.volts, row.value.expanded_volts / 2, f"{row.value.volts:.3f} V")
        for row in swept.rows
        if row.value is not None
    ]
    title = f"As read at {spot.name}: each circuit alone"
    blocks: list[Block] = [
        HeadingBlock(f"At {spot.name}"),
        Figure(
            bars_picture(f"sweep-{spot.id}", title, bars, facts.setup.target_volts),
            f"{title}; bars above the target are orange, others blue; whiskers are k = 2",
        ),
        TableBlock(
            f"Every combination read at {spot.name}{_always(facts, swept)}",
            ("Condition", "What was live", "Readings", "Mean, V", EXPANDED),
            tuple(_combinations(facts, swept)),
            frozenset({2, 3, 4}),
            small=True,
        ),
    ]
    if answer is not None:
        blocks.append(
            TableBlock(
                f"By the model, what each gives at {spot.name}; background {answer.background_volts:.4f} V",
                ("Circuit or cord", "Contribution, V", "u, V", "Leg", "Tonight", "Remark"),
                tuple(
                    (
                        bar.source.name,
                        f"{bar.volts:.4f}",
                        f"{bar.u_volts:.4f}",
                        bar.leg or "open",
                        _tonight_word(bar.source, facts.tonight),
                        bar.source.stays or ("two-pole" if bar.source.two_pole else ""),
                    )
                    for bar in answer.bars
                ),
                frozenset({1, 2}),
            )
        )
    return blocks


def _tonight_word(source: Source, found: SwitchOffPlan | None) -> str:
    if found is None or source not in (*found.off, *found.unplug):
        return "on"
    return "unplug" if source.kind == "cord" else "off"


def _row_name(row: SweepRow) -> str:
    return f"without {row.name}" if row.source is not None and row.source.kind == "cord" else row.name


def _always_live(swept: SweptSpot) -> frozenset[int]:
    return frozenset.intersection(*swept.found.taken)


def _always(facts: ReportData, swept: SweptSpot) -> str:
    """What was live in every reading: named once."""
    names = [source.name for source in facts.sources if source.id in _always_live(swept)]
    return f"; always live: {joined(names)}" if names else ""


def _combinations(facts: ReportData, swept: SweptSpot) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    always = _always_live(swept)
    for live, readings in swept.found.taken.items():
        mean = mean_of(readings)
        names = [source.name for source in facts.sources if source.id in live - always]
        rows.append(
            (
                readings[-1].condition,
                ", ".join(names) or "nothing else",
                ", ".join(str(r.id) for r in readings),
                f"{mean.volts:.4f}" if mean else "–",
                f"{mean.expanded_volts:.4f}" if mean and readings[-1].context else "–",
            )
        )
    return rows


def _rule(facts: ReportData, found: SwitchOffPlan) -> list[Block]:
    """Tonight's list beside the plain rule."""
    rows = []
    for spot in found.spots:
        read = budget_of(spot.confirming)
        rows.append(
            (
                spot.name,
                value_text(spot.predicted),
                value_text(read) if read else "not read",
                f"{spot.predicted_robust_volts:.3f} V",
                f"{spot.predicted_plain_volts:.3f} V",
            )
        )
    lists = (
        ("Tonight", (*found.off, *found.unplug)),
        ("Without relying on cancellation", found.off_robust),
        ("Plain rule: each that alone gives more than the target", found.plain),
    )
    blocks: list[Block] = [
        HeadingBlock("What to switch off, by three rules"),
        TableBlock(
            "The lists (the plain rule is common practice, no source)",
            ("Rule", "Switch off or unplug"),
            tuple(
                (name, joined([source.name for source in sources]) or "nothing") for name, sources in lists
            ),
        ),
        TableBlock(
            "What each list leaves",
            ("Spot", "Tonight, predicted", "Tonight, read", "Without cancellation", "Plain rule"),
            tuple(rows),
        ),
    ]
    if found.ambiguous:
        wanted = f": {found.next_combination.says}" if found.next_combination else ""
        blocks.append(Text(f"The readings do not decide it yet. The reading that tells most is{wanted}."))
    return blocks


def steps(facts: ReportData) -> Section | None:
    """Lasting changes of level that were given a name, and what follows from them."""
    named = [known for known in facts.steps if known.name is not None]
    if not named:
        return None
    rows = []
    for known in named:
        assert known.name is not None
        source = facts.every_source.get(known.name.source_id or 0)
        rows.append(
            (
                moment(facts.local(facts.step_utc_ns(known))),
                facts.every_spot_name.get(known.name.spot_id or 0, "not stated"),
                f"{source.name} {known.name.meaning}" if source else known.name.meaning,
                f"{known.found.step.before_volts:.4f}",
                f"{known.found.step.after_volts:.4f}",
                signed(known.change_volts),
                f"{known.found.step.u_volts:.4f}",
            )
        )
    blocks: list[Block] = [
        TableBlock(
            "Steps of the trace with what was switched",
            ("When", "Spot", "What it was", "Before, V", "After, V", "Change, V", "u, V"),
            tuple(rows),
            frozenset({3, 4, 5, 6}),
        )
    ]
    if facts.effects:
        blocks.append(
            TableBlock(
                "What switching each of them on does",
                ("Circuit or cord", "Spot", "Effect"),
                tuple(
                    (
                        facts.every_source[source_id].name,
                        facts.every_spot_name.get(spot_id or 0, "not stated"),
                        in_words(effect).replace("-", "−"),
                    )
                    for (spot_id, source_id), effect in facts.effects.items()
                    if source_id in facts.every_source
                ),
            )
        )
    unnamed = len(facts.steps) - len(named)
    if unnamed:
        blocks.append(Text(f"{unnamed} further steps outside nights have no name."))
    return Section("steps", "Named steps and effects", tuple(blocks))
