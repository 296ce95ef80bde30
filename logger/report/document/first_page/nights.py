"""Each recorded night in a sentence or two."""

from __future__ import annotations

from logger.clock import format_long_duration
from logger.metrology.rounding import fixed, grouped, plain
from logger.name_list import joined
from logger.night.night_edges import NOT_LYING
from logger.night.night_facts import MAX_TOLD, near_target_sentence
from logger.report.document.report_data import NightData
from logger.report.document.wording import day
from logger.translation import tr


def night_sentence(data: NightData, target_volts: float) -> str:
    """Write a night in a sentence or two, and what was on in it."""
    what_was_on = tr("What was on in the night: {conditions}.").format(conditions=data.night.conditions_text)
    level = data.summary.level
    near = [near_target_sentence(level, target_volts)] if level and level.near_target_s else []
    return " ".join(
        [_level_sentence(data, target_volts), *near, *_not_counted(data), *_loads(data), what_was_on]
    )


def _level_sentence(data: NightData, target_volts: float) -> str:
    night, summary = data.night, data.summary
    when = tr("{day}, {start} to {end}").format(
        day=day(night.local(0.0)), start=night.clock_minute(0.0), end=night.clock_minute(summary.end_s)
    )
    if night.simulated:
        when = tr("Simulated. {when}").format(when=when)
    overload = format_long_duration(summary.overload_s)
    if summary.level is None:
        if not summary.overloaded:
            return tr("{when}: never still for long enough to tell a level.").format(when=when)
        text = tr(
            "{when}: beyond the meter's range for {overload}, higher than the meter can show. Otherwise never still "
            "for long enough to tell a level."
        )
        return text.format(when=when, overload=overload)
    values = {
        "when": when,
        "volts": fixed(summary.level.median_volts, 2),
        "target": plain(target_volts),
        "above": format_long_duration(summary.level.above_target_s),
        "still": format_long_duration(summary.still_s),
    }
    if not summary.overloaded:
        text = tr(
            "{when}: half of the time at most {volts} V while lying still, above {target} V for {above} of {still}."
        )
        return text.format(**values)
    text = tr(
        "{when}: beyond the meter's range for {overload}, higher than the meter can show. Otherwise half of the time "
        "at most {volts} V while lying still, above {target} V for {above} of {still}."
    )
    return text.format(**values, overload=overload)


def _loads(data: NightData) -> list[str]:
    """Write what comes again by itself, in a sentence."""
    if data.summary.level is None or not data.summary.loads_seen:
        return []
    loads = [
        tr("{volts} V every {period}").format(
            volts=fixed(load.volts, 2), period=format_long_duration(load.period_s)
        )
        for load in data.summary.loads_seen
    ]
    text = tr("Something switches by itself again and again: {loads}.")
    return [text.format(loads=joined(loads))]


def _not_counted(data: NightData) -> list[str]:
    """Write which time is in none of these figures, in a sentence each."""
    night, frozen = data.night, data.summary.frozen
    # Readings, checks and what somebody moved by hand are known to the household; that it was restless may not be.
    out = [night.left_out_sentence(stretch, why) for stretch, why in night.left_out if why == NOT_LYING]
    if not frozen:
        return out
    length = format_long_duration(data.summary.frozen_s)
    if len(frozen) > MAX_TOLD:
        text = tr("The display stood still {n} times ({length}): not counted.")
        return [*out, text.format(n=grouped(len(frozen)), length=length)]
    times = [
        tr("{start} to {end}").format(start=night.clock_minute(start_s), end=night.clock_minute(end_s))
        for start_s, end_s in frozen
    ]
    text = tr("The display stood still {times} ({length}): not counted.")
    return [*out, text.format(times=joined(times), length=length)]
