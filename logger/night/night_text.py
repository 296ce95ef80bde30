"""A night in words, line by line, and the sentence that compares two nights, for command, window and report."""

from __future__ import annotations

from logger.clock import format_long_duration
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.night.analysis.night_comparison import NightComparison
from logger.night.night_analysis import NightAnalysis
from logger.night.night_facts import night_facts


def night_lines(analysis: NightAnalysis) -> list[str]:
    """Format the summary of a night as lines of text."""
    night, summary = analysis.night, analysis.summary
    lines = [
        f"{night.rfc3339(0.0)} to {night.rfc3339(summary.end_s)} ({night.zone_name}): "
        f"{format_long_duration(summary.covered_s)} recorded, {format_long_duration(summary.missed_s)} missed"
    ]
    for group in night_facts(analysis):
        lines.append(group.heading)
        lines += [f"  {fact.what}: {', '.join(filter(None, (fact.text, fact.note)))}" for fact in group.facts]
    return lines


def comparison_text(comparison: NightComparison | None) -> str:
    """Format the comparison of two nights; it is None where one of them has too little still time."""
    if comparison is None:
        return "The nights cannot be compared: one of them has too little still time."
    before, after, change = comparison.before, comparison.after, comparison.difference
    doubt = (
        "" if before.independent and after.independent else " The level wanders too slowly for a sure figure."
    )
    sign = "+" if change.volts >= 0 else "\N{MINUS SIGN}"
    return (
        f"Before {before.volts:.3f} V ± {COVERAGE_FACTOR * before.u_volts:.3f} V, after {after.volts:.3f} V ± "
        f"{COVERAGE_FACTOR * after.u_volts:.3f} V: {comparison.verdict}, {sign}{abs(change.volts):.3f} V ± "
        f"{COVERAGE_FACTOR * change.u_volts:.3f} V (p = {change.significance:.2g}).{doubt}"
    )
