"""Each night in words, as a picture, by hours, with its loads and steps."""

from __future__ import annotations

from logger.clock import format_long_duration
from logger.night.night_conditions import WHAT_WAS_ON
from logger.night.night_difference import compare_nights
from logger.night.night_facts import (
    against_note,
    alike_text,
    hour_level,
    load_length,
    overload_note,
    overload_text,
    seen_text,
    step_time,
    still_value,
    untold_note,
)
from logger.night.night_text import comparison_text, edges_text
from logger.report.document.blocks import Block, Figure, HeadingBlock, Items, Section, TableBlock, Text
from logger.report.document.figures.night import night_svg
from logger.report.document.report_data import NightData, ReportData
from logger.report.document.wording import day, signed_volts
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
            blocks.append(
                HeadingBlock(f"Night {night_data.night.number}, {day(night_data.night.local(0.0))}")
            )
        blocks += _night(night_data, data.setup.target_volts)
    if len(data.nights) > 1:
        # By date: an imported trace may be older than what was recorded before it.
        by_date = sorted((of.night for of in data.nights), key=lambda of: of.start_utc_ns)
        first, last = by_date[0], by_date[-1]
        compared = compare_nights(first, last, same_visit=True)
        blocks.append(Text(f"The first against the last. {comparison_text(compared)}"))
    return Section("night", "Night", tuple(blocks))


def _night(data: NightData, target_volts: float) -> list[Block]:
    night = data.night
    kind = "Simulated night" if night.simulated else "Night"
    title = f"{kind} from {night.clock_minute(0.0)} to {night.clock_minute(data.summary.end_s)}"
    blocks: list[Block] = [
        Items(tuple(_summary(data, target_volts))),
        Figure(
            night_svg(f"night-{night.number}", title, data, target_volts),
            f"{title} ({night.zone_name}). Motion may leave the picture at the top.",
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
    out = [SIMULATED_NOTE] if night.simulated else []
    out += [
        *night.frozen_notes,
        f"{night.rfc3339(0.0)} to {night.rfc3339(summary.end_s)}: {format_long_duration(summary.covered_s)} recorded, "
        f"{format_long_duration(summary.missed_s)} not recorded.",
        *([overload_text(night, summary)] if summary.overloaded else []),
        edges_text(night),
        f"{WHAT_WAS_ON}: {night.conditions_text}.",
        f"Still for {format_long_duration(summary.still_s)}; {len(night.record.motions)} motion episodes, "
        f"{summary.motions_per_hour:.1f} an hour, {format_long_duration(summary.motion_s)} in all.",
    ]
    level = summary.level
    if level is not None:
        out.append(
            f"Still level: median {level.median_volts:.4f} V, 5th to 95th percentile {level.p05_volts:.4f} to "
            f"{level.p95_volts:.4f} V; above {target_volts:g} V for {format_long_duration(level.above_target_s)}"
            + "".join(f", {note}" for note in [overload_note(summary)] if note)
            + "."
        )
    if summary.longest_still is not None:
        span = summary.longest_still
        out.append(
            f"Longest still span: {format_long_duration(span.end_s - span.start_s)} "
            f"from {night.clock_time(span.start_s)}, {still_value(span)}."
        )
    for word, hour in (("Quietest", summary.quietest_hour), ("Highest", summary.highest_hour)):
        if hour is not None:
            mean = "" if hour.is_overloaded else "mean "
            out.append(f"{word} hour: from {night.clock_minute(hour.start_s)}, {mean}{hour_level(hour, 4)}.")
    if level is not None and summary.why_no_hour:
        which = "No quietest" if summary.highest_hour is not None else "No quietest and no highest"
        out.append(f"{which} hour: {summary.why_no_hour}{alike_text(summary, 4)}.")
    if not summary.loads_seen:
        out.append("No load that switches by itself again and again was found.")
    return [line for line in out if line]


def _hours(data: NightData) -> TableBlock:
    night = data.night
    return TableBlock(
        "Hour by hour, from the night's start",
        ("From", "To", "Still", "Mean of the still level, V", "Motion episodes"),
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
        "Loads that switch by themselves again and again",
        ("Higher by, V", "For", "Every", "Seen", "First step", "Last step"),
        tuple(
            (
                f"{load.volts:.4f}",
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
    rows = [
        (
            plan.time_s,
            plan.what,
            f"step at {night.clock_time(step.time_s)}, {signed_volts(step.after_volts - step.before_volts)} V"
            + "".join(f"; {note}" for note in [against_note(plan, step)] if note),
        )
        for plan, step in planned.pairs
    ]
    rows += [
        (
            plan.time_s,
            plan.what,
            "no step found: it made no difference, did not happen, or motion hid it",
        )
        for plan in planned.planned_only
    ]
    rows += [
        (one.plan.time_s, one.plan.what, f"cannot be told: {untold_note(night, one)}")
        for one in planned.untold
    ]
    # By the night's time line: by the time of day 02:30 would stand before 23:30.
    in_order = tuple((night.clock_minute(time_s), what, found) for time_s, what, found in sorted(rows))
    return TableBlock("Planned against found", ("Planned at", "What", "Found"), in_order)


def _steps(data: NightData) -> TableBlock:
    night, steps = data.night, data.summary.steps
    largest = sorted(steps, key=lambda step: -abs(step.after_volts - step.before_volts))[:MAX_STEPS]
    more = f": the {MAX_STEPS} largest of {len(steps)}" if len(steps) > MAX_STEPS else ""
    return TableBlock(
        f"Steps of the night{more}",
        ("At", "Before, V", "After, V", "Change, V", "u, V"),
        tuple(
            (
                step_time(night, step).removeprefix("at "),
                f"{step.before_volts:.4f}",
                f"{step.after_volts:.4f}",
                signed_volts(step.after_volts - step.before_volts),
                f"{step.u_volts:.4f}",
            )
            for step in sorted(largest, key=lambda step: step.time_s)
        ),
        frozenset({1, 2, 3, 4}),
        small=True,
    )
