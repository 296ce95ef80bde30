"""A night in words, line by line, and the sentence that compares two nights, for command, window and report."""

from __future__ import annotations

from logger.clock import format_long_duration
from logger.metrology.rounding import rounded, sign_of
from logger.metrology.uncertainty import COVERAGE_FACTOR, shown
from logger.night.night_analysis import NightAnalysis
from logger.night.night_difference import ComparedNights
from logger.night.night_edges import BEGINS_BECAUSE, ENDS_BECAUSE
from logger.night.night_facts import BEYOND_RANGE, night_facts
from logger.night.recorded_nights import Night, date_and_minute
from logger.visit.records.simulated_run import SIMULATED_NOTE

TURNED = "The night that was named as before is the later one; it counts as after."

ONLY_THESE = "these two nights only"
"""Stands beside each verdict: two nights do not show how much other nights differ."""


def night_lines(analysis: NightAnalysis) -> list[str]:
    """Format the summary of a night as lines of text."""
    night, summary = analysis.night, analysis.summary
    lines = [analysis.damage] if analysis.damage else []
    lines += [SIMULATED_NOTE] if night.simulated else []
    lines += (*night.clock_notes, *night.frozen_notes)
    lines += [
        f"{night.rfc3339(0.0)} to {night.rfc3339(summary.end_s)} ({night.zone_name}): "
        f"{format_long_duration(summary.covered_s)} recorded, "
        + (f"{format_long_duration(summary.overload_s)} {BEYOND_RANGE}, " if summary.overloaded else "")
        + f"{format_long_duration(summary.missed_s)} missed"
    ]
    for group in night_facts(analysis):
        lines.append(group.heading)
        lines += [
            "  " + ": ".join(filter(None, (fact.what, ", ".join(filter(None, (fact.text, fact.note))))))
            for fact in group.facts
        ]
    return lines


def edges_text(night: Night) -> str:
    """Format when and why a night begins and ends, and what was recorded around it; empty for one in no visit log."""
    edges = night.edges
    if edges is None:
        return ""
    began_s, ended_s = edges.recording_s
    end_s = night.record.end_s
    recorded = f" Recorded from {night.clock_minute(began_s)} to {night.clock_minute(ended_s)}."
    return (
        f"The night begins at {night.clock_time(0.0)} ({BEGINS_BECAUSE[edges.begins]}) and ends at "
        f"{night.clock_time(end_s)} ({ENDS_BECAUSE[edges.ends]})."
        + (recorded if (began_s, ended_s) != (0.0, end_s) else "")
        + "".join(f" {night.left_out_text(stretch)} is left out: {why}." for stretch, why in night.left_out)
    )


def comparison_text(compared: ComparedNights) -> str:
    """Format the comparison of two nights, or why there is none."""
    before, after = compared.before, compared.after
    if before is None or after is None:
        return " ".join(filter(None, (compared.why_not, conditions_text(compared))))
    first, second = map(date_and_minute, compared.began)
    return (f"{TURNED} " if compared.turned else "") + (
        f"Before ({first}) {shown(before)}, after ({second}) {shown(after)}: {compared.verdict}, {ONLY_THESE}. "
        f"{difference_text(compared)} {conditions_text(compared)}"
    )


def conditions_text(compared: ComparedNights) -> str:
    """Format what was on in either night, in a sentence; empty where both are the same night."""
    if not compared.conditions:
        return ""
    before, after = compared.conditions
    return f"What was on in the earlier night: {before}. In the later night: {after}."


def difference_text(compared: ComparedNights) -> str:
    """Format by how much two nights differ and what limits that; why they are not compared where they are not."""
    change = compared.difference
    if change is None:
        return compared.why_not
    size, expanded = rounded(abs(change.volts), COVERAGE_FACTOR * change.u_volts)
    return " ".join(
        (
            f"The later night differs by {sign_of(change.volts)}{size} V ± {expanded} V, with about 95 % confidence.",
            *(f"The nights were {remark}." for remark in compared.remarks),
        )
    )
