"""Each night in words, as a picture, by hours, with its loads and steps."""

from __future__ import annotations

from logger.clock import format_long_duration
from logger.metrology.rounding import fixed, grouped, plain
from logger.night.analysis.schedule_match import PlannedSwitching
from logger.night.night_difference import compare_nights
from logger.night.night_facts import (
    against_note,
    hour_level,
    load_length,
    near_target_sentence,
    overload_text,
    seen_text,
    step_time,
    still_value,
    untold_note,
    why_no_hour_text,
)
from logger.night.night_text import comparison_text, edges_text
from logger.night.recorded_nights import Night
from logger.report.document.blocks import Block, Figure, HeadingBlock, Items, Section, TableBlock, Text
from logger.report.document.figures.night import night_svg
from logger.report.document.report_data import NightData, ReportData
from logger.report.document.wording import day, signed_volts, step_volts
from logger.settling.events import Step
from logger.translation import tr, tr_n
from logger.visit.records.simulated_run import SIMULATED_NOTE

MAX_STEPS = 40
"""Of more only the largest are listed: most steps of a night are a sleeper's turning over. All are in the log."""


MIN_HOUR_S = 60.0
"""What is left at the end of the last whole hour is not worth a line if it is shorter."""


def night(data: ReportData) -> Section | None:
    """Build the section; None where no night was recorded."""
    if not data.nights:
        return None
    blocks: list[Block] = []
    for night_data in data.nights:
        if len(data.nights) > 1:
            text = tr("Night {number}, {day}")
            of = night_data.night
            blocks.append(HeadingBlock(text.format(number=of.number, day=day(of.local(0.0)))))
        blocks += _night(night_data, data.setup.target_volts)
    if len(data.nights) > 1:
        # By date: an imported trace may be older than what was recorded before it.
        by_date = sorted((of.night for of in data.nights), key=lambda of: of.start_utc_ns)
        first, last = by_date[0], by_date[-1]
        compared = compare_nights(first, last, same_visit=True)
        first_and_last = tr("The first against the last.")
        blocks.append(Text(f"{first_and_last} {comparison_text(compared)}"))
    return Section("night", tr("Night"), tuple(blocks))


def _night(data: NightData, target_volts: float) -> list[Block]:
    night = data.night
    text = (
        tr("Simulated night from {start} to {end}") if night.simulated else tr("Night from {start} to {end}")
    )
    title = text.format(start=night.clock_minute(0.0), end=night.clock_minute(data.summary.end_s))
    caption = tr("{title} ({zone}). Motion may leave the picture at the top.")
    blocks: list[Block] = [
        Items(tuple(_summary(data, target_volts))),
        Figure(
            night_svg(f"night-{night.number}", title, data, target_volts),
            caption.format(title=title, zone=night.zone_name),
        ),
        _hours(data),
    ]
    if data.summary.loads_seen:
        blocks.append(_loads(data))
    if data.planned is not None:
        blocks.append(planned_table(data))
    if data.summary.steps:
        blocks.append(_steps(data))
    return blocks


def _summary(data: NightData, target_volts: float) -> list[str]:
    night, summary = data.night, data.summary
    recorded = tr("{start} to {end}: {covered} recorded, {missed} not recorded.").format(
        start=night.rfc3339(0.0),
        end=night.rfc3339(summary.end_s),
        covered=format_long_duration(summary.covered_s),
        missed=night.missed_text(summary.missed_s),
    )
    still = tr_n(
        "Still for {still}; {n} motion episode, {rate} an hour, {motion} in all.",
        "Still for {still}; {n} motion episodes, {rate} an hour, {motion} in all.",
        len(night.record.motions),
    ).format(
        still=format_long_duration(summary.still_s),
        n=grouped(len(night.record.motions)),
        rate=fixed(summary.motions_per_hour, 1),
        motion=format_long_duration(summary.motion_s),
    )
    out = [
        tr(SIMULATED_NOTE) if night.simulated else "",
        *night.frozen_notes,
        recorded,
        overload_text(night, summary) if summary.overloaded else "",
        edges_text(night),
        tr("What was on in the night: {conditions}.").format(conditions=night.conditions_text),
        still,
        *_still_level(data, target_volts),
        *_hours_of_note(data),
        "" if summary.loads_seen else tr("No load that switches by itself again and again was found."),
    ]
    return [line for line in out if line]


def _still_level(data: NightData, target_volts: float) -> list[str]:
    """Write how high the value was while lying still, and its longest still span."""
    night, summary = data.night, data.summary
    out = []
    if (level := summary.level) is not None:
        values = {
            "median": fixed(level.median_volts, 4),
            "low": fixed(level.p05_volts, 4),
            "high": fixed(level.p95_volts, 4),
            "target": plain(target_volts),
            "above": format_long_duration(level.above_target_s),
        }
        if summary.overloaded:
            text = tr(
                "Still level: median {median} V, 5th to 95th percentile {low} to {high} V; above {target} V for "
                "{above}, without the {overload} beyond the meter's range, higher than the meter can show."
            )
            out.append(text.format(**values, overload=format_long_duration(summary.overload_s)))
        else:
            text = tr(
                "Still level: median {median} V, 5th to 95th percentile {low} to {high} V; above {target} V for "
                "{above}."
            )
            out.append(text.format(**values))
        out.append(near_target_sentence(level, target_volts))
    if (span := summary.longest_still) is not None:
        text = tr("Longest still span: {length} from {start}, {value}.")
        out.append(
            text.format(
                length=format_long_duration(span.end_s - span.start_s),
                start=night.clock_time(span.start_s),
                value=still_value(night, span),
            )
        )
    return out


def _hours_of_note(data: NightData) -> list[str]:
    """Write which hours were the quietest and the highest, or why none is."""
    night, summary = data.night, data.summary
    out = []
    if (hour := summary.quietest_hour) is not None:
        text = (
            tr("Quietest hour: from {start}, {level}.")
            if hour.is_overloaded
            else tr("Quietest hour: from {start}, mean {level}.")
        )
        out.append(text.format(start=night.clock_minute(hour.start_s), level=hour_level(hour, 4)))
    if (hour := summary.highest_hour) is not None:
        text = (
            tr("Highest hour: from {start}, {level}.")
            if hour.is_overloaded
            else tr("Highest hour: from {start}, mean {level}.")
        )
        out.append(text.format(start=night.clock_minute(hour.start_s), level=hour_level(hour, 4)))
    if summary.level is not None and summary.why_no_hour:
        text = (
            tr("No quietest hour: {why}.")
            if summary.highest_hour is not None
            else tr("No quietest and no highest hour: {why}.")
        )
        out.append(text.format(why=why_no_hour_text(summary, 4)))
    return out


def _hours(data: NightData) -> TableBlock:
    night = data.night
    return TableBlock(
        tr("Hour by hour, from the night's start"),
        (tr("From"), tr("To"), tr("Still"), tr("Mean of the still level, V"), tr("Motion episodes")),
        tuple(
            (
                night.clock_minute(hour.start_s),
                night.clock_minute(hour.end_s),
                format_long_duration(hour.still_s),
                hour_level(hour, 4).removesuffix(" V"),
                str(hour.motions),
            )
            for hour in data.summary.hours
            if hour.end_s - hour.start_s >= MIN_HOUR_S
        ),
        frozenset({2, 3, 4}),
    )


def _loads(data: NightData) -> TableBlock:
    end_s = data.summary.end_s
    return TableBlock(
        tr("Loads that switch by themselves again and again"),
        (
            tr("Higher by, V"),
            tr("For"),
            tr("Every"),
            tr("Seen"),
            tr("First step"),
            tr("Last step"),
        ),
        tuple(
            (
                fixed(load.volts, 4),
                load_length(load),
                format_long_duration(load.period_s),
                seen_text(load, end_s),
                data.night.clock_time(min(within)),
                data.night.clock_time(max(within)),
            )
            for load in data.summary.loads_seen
            for within in [[s for s in (*load.starts_s, *load.ends_s) if 0.0 <= s <= end_s]]
        ),
        frozenset({0}),
    )


def planned_table(data: NightData) -> TableBlock:
    """Build the table of planned switchings of a night for which some are planned."""
    assert data.planned is not None
    night, planned = data.night, data.planned
    rows = [(plan.time_s, plan.what, _found_text(night, plan, step)) for plan, step in planned.pairs]
    rows += [
        (
            plan.time_s,
            plan.what,
            tr("no step found: it made no difference, did not happen, or motion hid it"),
        )
        for plan in planned.planned_only
    ]
    rows += [
        (
            one.plan.time_s,
            one.plan.what,
            tr("cannot be told: {why}").format(why=untold_note(night, one)),
        )
        for one in planned.untold
    ]
    # By the night's time line: by the time of day 02:30 would stand before 23:30.
    in_order = tuple((night.clock_minute(time_s), what, found) for time_s, what, found in sorted(rows))
    heads = (tr("Planned at"), tr("What"), tr("Found"))
    return TableBlock(tr("Planned against found"), heads, in_order)


def _found_text(night: Night, plan: PlannedSwitching, step: Step) -> str:
    values = {
        "time": night.clock_time(step.time_s),
        "change": signed_volts(step.after_volts - step.before_volts),
    }
    if note := against_note(plan, step):
        return tr("step at {time}, {change} V; {note}").format(**values, note=note)
    return tr("step at {time}, {change} V").format(**values)


def _steps(data: NightData) -> TableBlock:
    night, steps = data.night, data.summary.steps
    largest = sorted(steps, key=lambda step: -abs(step.after_volts - step.before_volts))[:MAX_STEPS]
    caption = tr("Steps of the night")
    if len(steps) > MAX_STEPS:
        text = tr("Steps of the night: the {n} largest of {total}")
        caption = text.format(n=MAX_STEPS, total=grouped(len(steps)))
    return TableBlock(
        caption,
        (tr("At"), tr("Before, V"), tr("After, V"), tr("Change, V"), "u, V"),
        tuple(
            (
                night.clock_time(step.time_s)
                if night.record.unseen(step) is None
                else step_time(night, step),
                *step_volts(step),
                fixed(step.u_volts, 4),
            )
            for step in sorted(largest, key=lambda step: step.time_s)
        ),
        frozenset({1, 2, 3, 4}),
        small=True,
    )
