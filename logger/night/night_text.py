"""A night in words, line by line, and the sentence that compares two nights, for command, window and report."""

from __future__ import annotations

from collections.abc import Mapping

from logger.clock import format_long_duration
from logger.metrology.rounding import Rounded, RoundedChange, as_number, rounded_change, signed_as_shown
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.night.analysis.night_comparison import NightVerdict
from logger.night.left_out import left_out_sentences
from logger.night.night_analysis import NightAnalysis
from logger.night.night_difference import REMARK_SENTENCES, ComparedNights
from logger.night.night_edges import BEGINS_BECAUSE, ENDS_BECAUSE
from logger.night.night_facts import night_facts
from logger.night.night_spots import NOT_RECORDED
from logger.night.recorded_nights import Night, date_and_minute
from logger.translation import marked, tr, with_percent
from logger.visit.records.simulated_run import SIMULATED_NOTE

TURNED = marked("The night that was named as before is the later one; it counts as after.")

_VERDICTS: Mapping[NightVerdict, str] = {
    NightVerdict.LOWER: marked("lower"),
    NightVerdict.HIGHER: marked("higher"),
    NightVerdict.NOT_DISTINGUISHABLE: marked("no clear change"),
    NightVerdict.NOT_COMPARABLE: marked("not comparable"),
}


def night_lines(analysis: NightAnalysis) -> list[str]:
    """Format the summary of a night as lines of text."""
    night, summary = analysis.night, analysis.summary
    lines = [analysis.damage] if analysis.damage else []
    lines += [tr(SIMULATED_NOTE)] if night.simulated else []
    lines += (*night.clock_notes, *night.frozen_notes)
    if summary.overloaded:
        covered = tr(
            "{start} to {end} ({zone}): {covered} recorded, {overload} beyond the meter's range, {missed} missed"
        )
    else:
        covered = tr("{start} to {end} ({zone}): {covered} recorded, {missed} missed")
    lines.append(
        covered.format(
            start=night.rfc3339(0.0),
            end=night.rfc3339(summary.end_s),
            zone=night.zone_name,
            covered=format_long_duration(summary.covered_s),
            overload=format_long_duration(summary.overload_s),
            missed=night.missed_text(summary.missed_s),
        )
    )
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
    sentences = [
        tr("The night begins at {start} ({why_start}) and ends at {end} ({why_end}).").format(
            start=night.clock_time(0.0),
            why_start=tr(BEGINS_BECAUSE[edges.begins]),
            end=night.clock_time(end_s),
            why_end=tr(ENDS_BECAUSE[edges.ends]),
        )
    ]
    if (began_s, ended_s) != (0.0, end_s):
        sentences.append(
            tr("Recorded from {start} to {end}.").format(
                start=night.clock_minute(began_s), end=night.clock_minute(ended_s)
            )
        )
    sentences += [left_out_sentences(night, part) for part in night.left_out]
    return " ".join(sentences)


def comparison_text(compared: ComparedNights) -> str:
    """Format the comparison of two nights, or why there is none."""
    figures = compared_figures(compared)
    if figures is None:
        return " ".join(filter(None, (compared.why_not, conditions_text(compared), parts_text(compared))))
    first, second = map(date_and_minute, compared.began)
    sentences = [tr(TURNED)] if compared.turned else []
    # That it is of these two nights only stands beside each verdict: they do not show how much other nights differ.
    sentences += [
        tr(
            "Mean level while steady: before ({first}) {before}, after ({second}) {after}: {verdict}, these two nights "
            "only."
        ).format(
            first=first,
            before=value_text(figures.before),
            second=second,
            after=value_text(figures.after),
            verdict=verdict_text(compared.verdict),
        ),
        difference_text(compared),
        conditions_text(compared),
        parts_text(compared),
    ]
    return " ".join(filter(None, sentences))


def compared_figures(compared: ComparedNights) -> RoundedChange | None:
    """Round both levels and their difference so that the figures agree; None where there is no comparison."""
    before, after, change = compared.before, compared.after, compared.difference
    if before is None or after is None or change is None:
        return None
    return rounded_change(
        (before.volts, before.expanded_volts),
        (after.volts, after.expanded_volts),
        COVERAGE_FACTOR * change.u_volts,
    )


def value_text(figures: Rounded) -> str:
    """Format a level: '0.85 V ± 0.02 V'."""
    return f"{figures.volts} V ± {figures.expanded} V"


def verdict_text(verdict: NightVerdict) -> str:
    """Format the verdict on two nights, as it stands within a sentence: 'lower'."""
    return tr(_VERDICTS[verdict])


def conditions_text(compared: ComparedNights) -> str:
    """Format what was on in either night, and where the person lay; empty where both are the same night."""
    if not compared.conditions:
        return ""
    before, after = compared.conditions
    was_on = tr("What was on in the earlier night: {before}. In the later night: {after}.").format(
        before=before, after=after
    )
    if not any(compared.spots):
        return was_on
    before, after = (spot or tr(NOT_RECORDED) for spot in compared.spots)
    lay = tr("Where the person lay in the earlier night: {before}. In the later night: {after}.").format(
        before=before, after=after
    )
    return f"{was_on} {lay}"


def parts_text(compared: ComparedNights) -> str:
    """Format what of either recording is left out of the comparison, and how high it was; empty for nothing."""
    heads = tr("Of the earlier night: {parts}"), tr("Of the later night: {parts}")
    return " ".join(
        head.format(parts=parts)
        for head, parts in zip(heads, compared.left_out or ("", ""), strict=True)
        if parts
    )


def difference_text(compared: ComparedNights) -> str:
    """Format by how much two nights differ and what limits that; why they are not compared where they are not."""
    figures = compared_figures(compared)
    if figures is None:
        return compared.why_not
    size, expanded = figures.difference
    differs = tr("The later night differs by {volts} V ± {expanded} V, with about 95 % confidence.").format(
        volts=signed_as_shown(as_number(size)), expanded=expanded
    )
    return " ".join([with_percent(differs), *(tr(REMARK_SENTENCES[remark]) for remark in compared.remarks)])
