"""Each night in words, as a picture, by hours, with its loads and steps."""

from __future__ import annotations

from logger.clock import format_long_duration, format_parts
from logger.metrology.rounding import (
    DECIMALS_WITHOUT_UNCERTAINTY,
    decimals_shown,
    fixed,
    grouped,
    plain,
    rounded,
)
from logger.metrology.uncertainty import shown
from logger.night.analysis.schedule_match import PlannedSwitching
from logger.night.analysis.summary import NightHour
from logger.night.night_difference import compare_nights
from logger.night.night_facts import (
    against_note,
    hour_level,
    load_length,
    maybe_empty_sentences,
    near_target_sentence,
    overload_text,
    seen_text,
    step_time,
    still_value,
    switched_sentences,
    untold_note,
    why_no_hour_text,
)
from logger.night.night_level import level_budget
from logger.night.night_text import comparison_text, edges_text
from logger.night.recorded_nights import Night
from logger.night.unseen_changes import unseen_change_text, unseen_changes
from logger.report.document.blocks import Block, Figure, HeadingBlock, Items, Pairs, Section, TableBlock, Text
from logger.report.document.figures.night import night_svg
from logger.report.document.figures.svg import PHONE_WIDTH
from logger.report.document.report_data import NightData, ReportData
from logger.report.document.sections.circumstance_pairs import TextPairs, entered_pairs
from logger.report.document.wording import (
    NBSP,
    condition_text,
    day,
    expanded,
    moment,
    signed_volts,
    step_volts,
)
from logger.settling.events import Step
from logger.settling.limits import STEP_VOLTS
from logger.translation import tr, tr_n
from logger.visit.records.simulated_run import SIMULATED_NOTE
from logger.visit.storage.time_zone import offset_of

MAX_STEPS = 40
"""Of more only the largest are listed: most steps of a night are a sleeper's turning over. All are in the log."""


LEAST_REST_S = 30.0
"""What is less is lost in the rounding of the other times."""

MIN_HOUR_S = 60.0
"""What is left at the end of the last whole hour is not worth a line if it is shorter."""


def night(data: ReportData) -> Section | None:
    """Build the section; None where no night was recorded."""
    if not data.nights:
        return None
    blocks: list[Block] = []
    for number, night_data in enumerate(data.nights, 1):
        if len(data.nights) > 1:
            text = tr("Night {number}, {day}")
            blocks.append(HeadingBlock(text.format(number=number, day=day(night_data.night.local(0.0)))))
        blocks += _night(
            night_data,
            data.setup.target_volts,
            entered_pairs(data, night_data.circumstances, "night"),
            is_seen_elsewhere=any(other.summary.loads_seen for other in data.nights),
        )
    if len(data.nights) > 1:
        # By date: an imported trace may be older than what was recorded before it.
        by_date = sorted((of.night for of in data.nights), key=lambda of: of.start_utc_ns)
        first, last = by_date[0], by_date[-1]
        compared = compare_nights(first, last, same_visit=True)
        first_and_last = tr("The first against the last.")
        blocks.append(Text(f"{first_and_last} {comparison_text(compared)}"))
    return Section("night", tr("Night"), tuple(blocks))


def _night(data: NightData, target_volts: float, how: TextPairs, *, is_seen_elsewhere: bool) -> list[Block]:
    """Build one night.

    Args:
        data: of the night.
        target_volts: of the visit, V.
        how: what was entered of it.
        is_seen_elsewhere: a night of the visit has a load that switches by itself again and again.
    """
    night = data.night
    text = (
        tr("Simulated night from {start} to {end}") if night.simulated else tr("Night from {start} to {end}")
    )
    title = text.format(start=night.clock_minute(0.0), end=night.clock_minute(data.summary.end_s))
    caption = tr("{title} ({zone}). Motion may leave the picture at the top.")
    blocks: list[Block] = [
        Figure(
            night_svg(f"night-{night.number}", title, data, target_volts),
            caption.format(title=title, zone=night.zone_name),
            night_svg(f"nightphone-{night.number}", title, data, target_volts, PHONE_WIDTH),
        ),
        Items(tuple(_summary(data, target_volts, is_seen_elsewhere=is_seen_elsewhere))),
        Pairs(how),
        _hours(data),
    ]
    if data.summary.loads_seen:
        counted = tr(
            "A load may have been on more often: only rises and falls that fit each other in size and time are counted."
        )
        blocks += [_loads(data), Text(counted)]
    if data.planned is not None:
        blocks.append(planned_table(data))
    if data.summary.steps:
        text = tr(
            "A step is a lasting change of at least {volts} V that no movement hides. What changes less, slowly or in "
            "a movement is not listed, so “before” may differ from the “after” above it."
        )
        blocks += [Text(text.format(volts=plain(STEP_VOLTS))), _steps(data)]
    blocks += [Text(unseen_change_text(data.night, change)) for change in unseen_changes(data.night.record)]
    return blocks


def _summary(data: NightData, target_volts: float, *, is_seen_elsewhere: bool) -> list[str]:
    night, summary = data.night, data.summary
    rest_s = summary.covered_s - summary.still_s - summary.motion_s
    covered, (steady, motion, rest) = format_parts(
        summary.covered_s, (summary.still_s, summary.motion_s, max(rest_s, 0.0))
    )
    recorded = tr("{start} to {end}: {covered} recorded, {missed} not recorded.").format(
        start=_moment(night, 0.0),
        end=_moment(night, summary.end_s),
        covered=covered,
        missed=night.missed_text(summary.missed_s),
    )
    still = tr_n(
        "Steady for {still}; {n} motion episode, {rate} an hour, {motion} in all.",
        "Steady for {still}; {n} motion episodes, {rate} an hour, {motion} in all.",
        len(night.record.motions),
    ).format(
        still=steady,
        n=grouped(len(night.record.motions)),
        rate=fixed(summary.motions_per_hour, 1),
        motion=motion,
    )
    out = [
        tr(SIMULATED_NOTE) if night.simulated else "",
        *night.frozen_notes,
        recorded,
        overload_text(night, summary) if summary.overloaded else "",
        edges_text(night),
        _what_was_on(data),
        still,
        *switched_sentences(night, summary),
        *maybe_empty_sentences(night, summary),
        _neither_text(rest_s, rest),
        _where(night),
        *_still_level(data, target_volts),
        *_hours_of_note(data),
        "" if summary.loads_seen or summary.switched else _no_load(is_seen_elsewhere),
    ]
    return [line for line in out if line]


def _what_was_on(data: NightData) -> str:
    """What had voltage in the night; of lamps and devices that is not whether they ran."""
    said = tr("What was on in the night: {conditions}.").format(
        conditions=data.night.conditions_as(condition_text)
    )
    if not data.circumstances.night_in_use:
        return said
    return " ".join((said, tr("Breakers and cords are meant; what of it ran stands below.")))


def _no_load(is_seen_elsewhere: bool) -> str:
    found = tr("No load that switches by itself again and again was found.")
    if not is_seen_elsewhere:
        return found
    return " ".join((found, tr("Another night shows one: here larger changes may hide it.")))


def _where(night: Night) -> str:
    if not night.spot.is_known:
        return tr("At which spot the person lay is not recorded.")
    return tr("The person lay at “{spot}”.").format(spot=night.spot.name)


def _still_level(data: NightData, target_volts: float) -> list[str]:
    """Write how high the value was while lying still, and its longest still span."""
    night, summary = data.night, data.summary
    out = []
    if (level := summary.level) is not None:
        values = {
            "median": shown(level_budget(night, level.median_volts)),
            "low": _level_text(night, level.p05_volts),
            "high": _level_text(night, level.p95_volts),
            "target": plain(target_volts),
            "above": format_long_duration(level.above_target_s),
        }
        if summary.overloaded:
            text = tr(
                "Steady level: median {median}, 5th to 95th percentile {low} to {high} V; the value itself above "
                "{target} V for {above}, without the {overload} beyond the meter's range, higher than the meter can "
                "show."
            )
            out.append(text.format(**values, overload=format_long_duration(summary.overload_s)))
        else:
            text = tr(
                "Steady level: median {median}, 5th to 95th percentile {low} to {high} V; the value itself above "
                "{target} V for {above}."
            )
            out.append(text.format(**values))
        out.append(near_target_sentence(level, target_volts))
    if (span := summary.longest_still) is not None:
        text = tr("Longest steady span: {length} from {start}, {value}.")
        out.append(
            text.format(
                length=format_long_duration(span.end_s - span.start_s),
                start=night.clock_time(span.start_s),
                value=still_value(night, span),
            )
        )
    return out


def _neither_text(rest_s: float, rest: str) -> str:
    """Write how much of a night was neither still nor in motion, so that its parts add up; empty for nearly none.

    Args:
        rest_s: that time, s.
        rest: the same as it is shown.
    """
    if rest_s < LEAST_REST_S:
        return ""
    text = tr(
        "Counted neither as steady nor as motion, such as just before and after a step of the value: {rest}."
    )
    return text.format(rest=rest)


def _moment(night: Night, time_s: float) -> str:
    """Write a moment of a night as everywhere, with its offset to UTC where the clock changes in it."""
    when = night.local(time_s)
    return moment(when) + (f"{NBSP}{offset_of(when)}" if night.clock_changes else "")


def _decimals(night: Night, volts: float) -> int:
    return decimals_shown(level_budget(night, volts).expanded_volts)


def _hour_level(night: Night, hour: NightHour) -> str:
    return hour_level(hour, _decimals(night, hour.mean_volts or 0.0))


def _level_text(night: Night, volts: float) -> str:
    return fixed(volts, _decimals(night, volts))


def _hours_of_note(data: NightData) -> list[str]:
    """Write which hours were the quietest and the highest, or why none is."""
    night, summary = data.night, data.summary
    out = []
    if (hour := summary.quietest_hour) is not None:
        text = (
            tr("Lowest hour: from {start}, {level}.")
            if hour.is_overloaded
            else tr("Lowest hour: from {start}, mean {level}.")
        )
        out.append(text.format(start=night.clock_minute(hour.start_s), level=_hour_level(night, hour)))
    if (hour := summary.highest_hour) is not None:
        text = (
            tr("Highest hour: from {start}, {level}.")
            if hour.is_overloaded
            else tr("Highest hour: from {start}, mean {level}.")
        )
        out.append(text.format(start=night.clock_minute(hour.start_s), level=_hour_level(night, hour)))
    if summary.level is not None and summary.why_no_hour:
        text = (
            tr("No lowest hour can be named: {why}.")
            if summary.highest_hour is not None
            else tr("No lowest and no highest hour can be named: {why}.")
        )
        out.append(text.format(why=why_no_hour_text(summary, _decimals(night, summary.level.median_volts))))
    return out


def _hours(data: NightData) -> TableBlock:
    night = data.night
    caption = tr("Hour by hour, from the night's start")
    means = [hour.mean_volts for hour in data.summary.hours if hour.mean_volts is not None]
    if means:
        widest = max(level_budget(night, volts).expanded_volts for volts in means)
        text = tr("Hour by hour, from the night's start; the levels are within ± {u} V (k = 2)")
        caption = text.format(u=rounded(0.0, widest).expanded)
    return TableBlock(
        caption,
        (tr("From"), tr("To"), tr("Steady"), tr("Mean of the steady level, V"), tr("Motion episodes")),
        tuple(
            (
                night.clock_minute(hour.start_s),
                night.clock_minute(hour.end_s),
                format_long_duration(hour.still_s),
                _hour_level(night, hour).removesuffix(" V"),
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
                fixed(load.volts, DECIMALS_WITHOUT_UNCERTAINTY),
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
            tr(
                "no step of {volts} V or more found: the switching made less difference or none, was not done, or "
                "motion hid it"
            ).format(volts=plain(STEP_VOLTS)),
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
    caption = tr(
        "Steps of the night. U (k = 2) is for the change only: what is uncertain of meter and reference is not in it."
    )
    if len(steps) > MAX_STEPS:
        text = tr(
            "Steps of the night: the {n} largest of {total}. U (k = 2) is for the change only: what is uncertain of "
            "meter and reference is not in it."
        )
        caption = text.format(n=MAX_STEPS, total=grouped(len(steps)))
    return TableBlock(
        caption,
        (tr("At"), tr("Before, V"), tr("After, V"), expanded(tr("Change"))),
        tuple(
            (
                night.clock_time(step.time_s)
                if night.record.unseen(step) is None
                else step_time(night, step),
                *step_volts(step),
            )
            for step in sorted(largest, key=lambda step: step.time_s)
        ),
        frozenset({1, 2, 3}),
        small=True,
    )
