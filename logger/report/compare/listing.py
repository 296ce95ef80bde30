"""A comparison of two visits in one sentence, as text for a terminal or a file, and as JSON."""

from __future__ import annotations

from collections import Counter
from typing import Any

from logger.metrology.change_verdict import ChangeVerdict
from logger.metrology.posture import less_certain_text
from logger.metrology.rounding import rounded
from logger.metrology.uncertainty import shown, shown_change
from logger.name_list import listed
from logger.plain_text import one_line
from logger.report.compare.compared_visit import ComparedVisit
from logger.report.compare.comparison import Comparison
from logger.report.compare.value_change import VERDICT_WORDS, ValueChange
from logger.translation import marked, tr, tr_kept, tr_n
from logger.visit.records.reading_records import Reading
from logger.visit.results.on_off_result import budget_of


def comparison_text(comparison: Comparison) -> str:
    """Write a paragraph for each spot."""
    lines = [
        text.format(
            household=visit.household or visit.path.stem, date=visit.date or tr("no date"), file=visit.path
        )
        for text, visit in (
            (tr("Before: {household}, {date} ({file})"), comparison.before),
            (tr("After:  {household}, {date} ({file})"), comparison.after),
        )
    ]
    lines += [
        *comparison.notes,
        "",
        summary_text(comparison),
    ]
    for spot in comparison.spots:
        old = spot.pair.before
        is_renamed = old and spot.pair.after and old.name != spot.name
        text = tr("{spot} (before: {earlier})") if is_renamed else "{spot}"
        lines += ["", text.format(spot=spot.name, earlier=old.name if old else "")]
        lines += [
            f"  {tr_kept(c.condition)}: {_with_remarks(c)}"
            for c in (spot.on, spot.off)
            if c.verdict != "not read"
        ]
        either = tr("read in neither visit with everything on or everything off")
        if spot.on.verdict == spot.off.verdict == "not read":
            lines.append(f"  {either}")
    return "\n".join(map(one_line, lines))


SUMMARY_WORDS: dict[str, str] = {
    ChangeVerdict.IMPROVED: marked("{n} improved"),
    ChangeVerdict.SLIGHTLY_LOWER: marked("{n} slightly lower"),
    ChangeVerdict.NOT_DISTINGUISHABLE: marked("{n} without a clear change"),
    ChangeVerdict.SLIGHTLY_HIGHER: marked("{n} slightly higher"),
    ChangeVerdict.WORSE: marked("{n} worse"),
    "not comparable": marked("{n} not comparable"),
    "only before": marked("{n} read before only"),
    "only after": marked("{n} read after only"),
}
"""How many spots have each verdict, in this order; translated where it is shown."""


def summary_text(comparison: Comparison) -> str:
    """Write how many spots have changed how, a sentence for each condition in which any was read."""
    sentences = []
    for is_on in (True, False):
        changes = [spot.on if is_on else spot.off for spot in comparison.spots]
        counts = Counter(str(c.verdict) for c in changes if c.verdict != "not read")
        parts = [
            tr(text).format(n=counts[verdict]) for verdict, text in SUMMARY_WORDS.items() if counts[verdict]
        ]
        if not parts:
            continue
        total = counts.total()
        text = (
            tr_n("Everything on, {n} spot: {counts}.", "Everything on, {n} spots: {counts}.", total)
            if is_on
            else tr_n("Everything off, {n} spot: {counts}.", "Everything off, {n} spots: {counts}.", total)
        )
        sentences.append(text.format(n=total, counts=listed(parts)))
    return " ".join(sentences) or tr("No spot was read with everything on or everything off.")


def _with_remarks(change: ValueChange) -> str:
    words = change_text(change)
    return f"{words} [{'; '.join(change.remarks)}]" if change.remarks else words


def change_text(change: ValueChange) -> str:
    """Write the verdict and what it rests on."""
    details = details_text(change)
    if change.before is None or change.after is None:
        return f"{change.verdict_text}, {details}" if details else change.verdict_text
    return details if change.change is None else f"{change.verdict_text}; {details}"


def details_text(change: ValueChange) -> str:
    """Write what a verdict rests on; the window shows it below the verdict. Empty where nothing was read."""
    before, after = change.before, change.after
    if before is None or after is None:
        one = after or before
        return _reading_text(one) if one else ""
    if change.change is not None:
        first, second, moved = shown_change(
            change.change.before, change.change.after, change.change.difference
        )
        why_wider = less_certain_text(change.change.difference, change.change.before, change.change.after)
        text = (
            tr("{before} before, {after} after; changed by {change}, {why}")
            if why_wider
            else tr("{before} before, {after} after; changed by {change}")
        )
        parts = [
            text.format(
                before=_marked(before, first), after=_marked(after, second), change=moved, why=why_wider
            )
        ]
        if change.only_by_itself:
            parts.append(tr("among so many values one differs as much by chance"))
        if change.verdict is ChangeVerdict.NOT_DISTINGUISHABLE:  # the other verdicts say it themselves
            parts.append(change.change.side_text(change.target_volts))
        return "; ".join(parts)
    both = tr("{before} before, {after} after.")
    if change.computed is None:
        return f"{both.format(before=_reading_text(before), after=_reading_text(after))} {change.why}"
    restated, second, moved = shown_change(
        change.computed.before, change.computed.after, change.computed.difference
    )
    assert change.computed_verdict is not None
    computed = tr(
        "Computed, not read: with the later meter it would have been {before} before, which would be {verdict} "
        "(changed by {change})."
    ).format(before=restated, verdict=tr(VERDICT_WORDS[change.computed_verdict]), change=moved)
    values = both.format(before=_reading_text(before), after=_marked(after, second))
    return " ".join((values, change.why, computed))


def _marked(reading: Reading, value: str) -> str:
    return tr("{value} (simulated)").format(value=value) if reading.simulated else value


def _reading_text(reading: Reading) -> str:
    budget = budget_of(reading)
    if budget:
        return _marked(reading, shown(budget))
    value = tr("{volts} V (uncertainty not known)").format(volts=rounded(reading.volts).volts)
    return _marked(reading, value)


def comparison_json(comparison: Comparison) -> dict[str, Any]:
    """Return what other programs get: volts; `expanded` is k = 2; `difference` is after minus before."""
    return {
        "before": _visit_json(comparison.before),
        "after": _visit_json(comparison.after),
        "notes": list(comparison.notes),
        "done_between": [{"name": one.name, "status": one.status} for one in comparison.done],
        "spots": [
            {
                "before_spot": spot.pair.before.name if spot.pair.before else None,
                "after_spot": spot.pair.after.name if spot.pair.after else None,
                "room": spot.room,
                "matched": spot.pair.how or None,
                "on": _change_json(spot.on),
                "off": _change_json(spot.off),
            }
            for spot in comparison.spots
        ],
    }


def _visit_json(visit: ComparedVisit) -> dict[str, Any]:
    return {
        "path": str(visit.path),
        "household": visit.household,
        "date": visit.date,
        "simulated": bool(visit.simulation),
        "damage": visit.damage,
    }


def _change_json(change: ValueChange) -> dict[str, Any]:
    values = {
        "before": budget_of(change.before),
        "after": budget_of(change.after),
        "difference": change.difference,
        "computed_before": change.computed_before,
        "computed_difference": change.computed_difference,
    }
    entries: dict[str, Any] = {
        "verdict": str(change.verdict),
        "verdict_text": change.verdict_text,
        "significance": change.significance,
        "why": change.why,
        "after_against_target": change.after_against_target,
        "remarks": list(change.remarks),
    }
    for name, budget in values.items():
        entries[f"{name}_volts"] = budget.volts if budget else None
        entries[f"{name}_expanded_volts"] = budget.expanded_volts if budget else None
    for name, reading in (("before", change.before), ("after", change.after)):
        if reading is not None and reading.context is None:
            entries[f"{name}_volts"] = reading.volts
        entries[f"{name}_simulated"] = reading is not None and reading.simulated
    return entries
