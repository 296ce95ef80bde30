"""Section for the next professional: each night in words, as a picture, by hours, its loads and steps."""

from __future__ import annotations

from logger.night.night_facts import length
from logger.night.night_text import compare_nights, compared_in_words
from logger.report.document.blocks import (
    Block,
    Figure,
    HeadingBlock,
    Items,
    Section,
    TableBlock,
    Text,
    day,
    signed,
)
from logger.report.document.figures import night_picture
from logger.report.document.report_data import NightFacts, ReportData

MOST_STEPS = 40
"""Of more only the largest are listed: most steps of a night are a sleeper's turning over. All are in the log."""


LEAST_HOUR_S = 60.0
"""What is left at the end of the last whole hour is not worth a line if it is shorter."""


def nights(facts: ReportData) -> Section | None:
    """The nights of the visit."""
    if not facts.nights:
        return None
    blocks: list[Block] = []
    for found in facts.nights:
        if len(facts.nights) > 1:
            blocks.append(HeadingBlock(f"Night {found.night.number}, {day(found.night.local(0.0))}"))
        blocks += _night(found, facts.setup.target_volts)
    if len(facts.nights) > 1:
        first, last = facts.nights[0].night, facts.nights[-1].night
        blocks.append(Text(f"The first against the last. {compared_in_words(compare_nights(first, last))}"))
    return Section("night", "Night", tuple(blocks))


def _night(found: NightFacts, target_volts: float) -> list[Block]:
    night = found.night
    title = f"Night from {night.local(0.0):%H:%M} to {night.local(found.summary.end_s):%H:%M}"
    blocks: list[Block] = [
        Items(tuple(_summary(found, target_volts))),
        Figure(
            night_picture(f"night-{night.number}", title, found, target_volts),
            f"{title} ({night.zone_name}). Motion may leave the picture at the top.",
        ),
        _hours(found),
    ]
    if found.summary.loads:
        blocks.append(_loads(found))
    if found.planned is not None:
        blocks.append(_planned(found))
    if found.summary.steps:
        blocks.append(_steps(found))
    return blocks


def _summary(found: NightFacts, target_volts: float) -> list[str]:
    night, summary = found.night, found.summary
    out = [
        f"{night.rfc3339(0.0)} to {night.rfc3339(summary.end_s)}: {length(summary.covered_s)} recorded, "
        f"{length(summary.missed_s)} without a value.",
        f"Still for {length(summary.still_s)}; {len(night.record.motions)} motion episodes, "
        f"{summary.motions_per_hour:.1f} an hour, {length(summary.motion_s)} in all.",
    ]
    level = summary.level
    if level is not None:
        out.append(
            f"Still level: median {level.median_volts:.4f} V, 5th to 95th percentile {level.p05_volts:.4f} to "
            f"{level.p95_volts:.4f} V; above {target_volts:g} V for {length(level.above_target_s)}."
        )
    if summary.longest_still is not None:
        span = summary.longest_still
        out.append(
            f"Longest still span: {length(span.end_s - span.start_s)} from {night.local(span.start_s):%H:%M:%S}, "
            f"{span.volts:.4f} V."
        )
    for word, hour in (("Quietest", summary.quietest_hour), ("Highest", summary.highest_hour)):
        if hour is not None and hour.median_volts is not None:
            out.append(
                f"{word} hour: from {night.local(hour.start_s):%H:%M}, median {hour.median_volts:.4f} V."
            )
    if not summary.loads:
        out.append("No load that switches by itself again and again was found.")
    return out


def _hours(found: NightFacts) -> TableBlock:
    night = found.night
    return TableBlock(
        "Hour by hour, from the night's start",
        ("From", "To", "Still", "Median of the still level, V", "Motion episodes"),
        tuple(
            (
                f"{night.local(hour.start_s):%H:%M}",
                f"{night.local(hour.end_s):%H:%M}",
                length(hour.still_s),
                "–" if hour.median_volts is None else f"{hour.median_volts:.4f}",
                str(hour.motions),
            )
            for hour in found.summary.hours
            if hour.end_s - hour.start_s >= LEAST_HOUR_S
        ),
        frozenset({2, 3, 4}),
    )


def _loads(found: NightFacts) -> TableBlock:
    return TableBlock(
        "Loads that switch by themselves again and again",
        ("Higher by, V", "For", "Every", "Seen", "First", "Last"),
        tuple(
            (
                f"{load.volts:.4f}",
                length(load.on_s),
                length(load.period_s),
                f"{load.count} times",
                f"{found.night.local(load.starts_s[0]):%H:%M:%S}",
                f"{found.night.local(load.starts_s[-1]):%H:%M:%S}",
            )
            for load in found.summary.loads
        ),
        frozenset({0}),
    )


def _planned(found: NightFacts) -> TableBlock:
    assert found.planned is not None
    night, planned = found.night, found.planned
    rows = [
        (
            f"{night.local(plan.time_s):%H:%M}",
            plan.what,
            f"step at {night.local(step.time_s):%H:%M:%S}, {signed(step.after_volts - step.before_volts)} V",
        )
        for plan, step in planned.pairs
    ]
    rows += [
        (
            f"{night.local(plan.time_s):%H:%M}",
            plan.what,
            "no step found: it made no difference, did not happen, or motion hid it",
        )
        for plan in planned.planned_only
    ]
    return TableBlock("Planned against found", ("Planned at", "What", "Found"), tuple(sorted(rows)))


def _steps(found: NightFacts) -> TableBlock:
    night, steps = found.night, found.summary.steps
    largest = sorted(steps, key=lambda step: -abs(step.after_volts - step.before_volts))[:MOST_STEPS]
    more = f": the {MOST_STEPS} largest of {len(steps)}" if len(steps) > MOST_STEPS else ""
    return TableBlock(
        f"Steps of the night{more}",
        ("At", "Before, V", "After, V", "Change, V", "u, V"),
        tuple(
            (
                f"{night.local(step.time_s):%H:%M:%S}",
                f"{step.before_volts:.4f}",
                f"{step.after_volts:.4f}",
                signed(step.after_volts - step.before_volts),
                f"{step.u_volts:.4f}",
            )
            for step in sorted(largest, key=lambda step: step.time_s)
        ),
        frozenset({1, 2, 3, 4}),
        small=True,
    )
