"""A night in words, line by line, and the sentence that compares two nights, for command, window and report."""

from __future__ import annotations

from logger.clock import format_long_duration
from logger.metrology.uncertainty import COVERAGE_FACTOR, shown
from logger.night.night_analysis import NightAnalysis
from logger.night.night_difference import ComparedNights
from logger.night.night_facts import night_facts

ONLY_THESE = "these two nights only"
"""Stands beside each verdict: two nights do not show how much other nights differ."""


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


def comparison_text(compared: ComparedNights) -> str:
    """Format the comparison of two nights, or why there is none."""
    before, after, change = compared.before, compared.after, compared.difference
    if before is None or after is None or change is None:
        return compared.why_not
    sign = "+" if change.volts >= 0 else "\N{MINUS SIGN}"
    remarks = "".join(f" The nights were {remark}." for remark in compared.remarks)
    return (
        f"Before {shown(before)}, after {shown(after)}: {compared.verdict}, {sign}{abs(change.volts):.3f} V ± "
        f"{COVERAGE_FACTOR * change.u_volts:.3f} V (p = {change.significance:.2g}), {ONLY_THESE}.{remarks}"
    )
