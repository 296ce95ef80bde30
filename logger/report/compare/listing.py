"""A comparison of two visits in one sentence, as text for a terminal or a file, and as JSON."""

from __future__ import annotations

from collections import Counter
from typing import Any

from logger.metrology.change_verdict import ChangeVerdict
from logger.metrology.posture import less_certain_text
from logger.metrology.rounding import rounded
from logger.metrology.uncertainty import shown, shown_change
from logger.plain_text import one_line
from logger.report.compare.compared_visit import ComparedVisit
from logger.report.compare.comparison import Comparison
from logger.report.compare.value_change import ValueChange
from logger.visit.records.reading_records import Reading
from logger.visit.records.simulated_run import SIMULATED
from logger.visit.results.on_off_result import budget_of


def comparison_text(comparison: Comparison) -> str:
    """Write a paragraph for each spot."""
    before, after = comparison.before, comparison.after
    lines = [
        f"Before: {before.household or before.path.stem}, {before.date or 'no date'} ({before.path})",
        f"After:  {after.household or after.path.stem}, {after.date or 'no date'} ({after.path})",
        *comparison.notes,
        "",
        summary_text(comparison),
    ]
    for spot in comparison.spots:
        old = spot.pair.before
        called = f" (before: {old.name})" if old and spot.pair.after and old.name != spot.name else ""
        lines += ["", f"{spot.name}{called}"]
        lines += [
            f"  {c.condition}: {_with_remarks(c)}" for c in (spot.on, spot.off) if c.verdict != "not read"
        ]
        if spot.on.verdict == spot.off.verdict == "not read":
            lines.append("  not read in either visit")
    return "\n".join(map(one_line, lines))


SUMMARY_WORDS: dict[str, str] = {
    ChangeVerdict.NOT_DISTINGUISHABLE: "unchanged within what the readings allow",
    "only before": "read before only",
    "only after": "read after only",
}
"""What a verdict is called where its spots are counted; every other one is called what it is."""

SUMMARY_ORDER = (*ChangeVerdict, "not comparable", "only before", "only after")


def summary_text(comparison: Comparison) -> str:
    """Write how many spots have changed how, a sentence for each condition in which any was read."""
    sentences = []
    for changes in ([spot.on for spot in comparison.spots], [spot.off for spot in comparison.spots]):
        counts = Counter(str(c.verdict) for c in changes if c.verdict != "not read")
        total = counts.total()
        parts = [f"{counts[v]} {SUMMARY_WORDS.get(v, v)}" for v in map(str, SUMMARY_ORDER) if counts[v]]
        if not parts:
            continue
        first, _, words = parts[0].partition(" ")
        parts[0] = f"{first} of {total} {'spot' if total == 1 else 'spots'} {words}"
        sentences.append(f"{changes[0].condition.capitalize()}: {', '.join(parts)}.")
    return " ".join(sentences) or "Nothing was read."


def _with_remarks(change: ValueChange) -> str:
    words = change_text(change)
    return f"{words} [{'; '.join(change.remarks)}]" if change.remarks else words


def change_text(change: ValueChange) -> str:
    """Write the verdict and what it rests on."""
    details = details_text(change)
    if change.before is None or change.after is None:
        return f"{change.verdict}, {details}" if details else change.verdict
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
        text = f"{_marked(before, first)} before, {_marked(after, second)} after; changed by {moved}"
        if why_wider := less_certain_text(
            change.change.difference, change.change.before, change.change.after
        ):
            text += f", {why_wider}"
        if change.only_by_itself:
            text += "; among so many values one differs as much by chance"
        if change.verdict_text != change.verdict:
            return text
        return f"{text}; {change.change.side_text(change.target_volts)}"
    text = f"{_reading_text(before)} before, {_reading_text(after)} after"
    if change.computed is None:
        return f"{text}. {change.why}"
    restated, second, moved = shown_change(
        change.computed.before, change.computed.after, change.computed.difference
    )
    text = f"{_reading_text(before)} before, {_marked(after, second)} after"
    return (
        f"{text}. {change.why} Computed, not read: with the later meter it would have been {restated} before, "
        f"which would be {change.computed_verdict} (changed by {moved})."
    )


def _marked(reading: Reading, value: str) -> str:
    return f"{value} ({SIMULATED})" if reading.simulated else value


def _reading_text(reading: Reading) -> str:
    budget = budget_of(reading)
    value = shown(budget) if budget else f"{rounded(reading.volts).volts} V (uncertainty not known)"
    return _marked(reading, value)


def comparison_json(comparison: Comparison) -> dict[str, Any]:
    """Return what other programs get: volts; `expanded` is k = 2; `difference` is after minus before."""
    return {
        "before": _visit_json(comparison.before),
        "after": _visit_json(comparison.after),
        "notes": list(comparison.notes),
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
