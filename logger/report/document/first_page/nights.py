"""Each recorded night in a sentence or two."""

from __future__ import annotations

from logger.clock import format_long_duration
from logger.name_list import joined
from logger.night.night_conditions import WHAT_WAS_ON
from logger.night.night_edges import NOT_LYING
from logger.night.night_facts import BEYOND_RANGE, HIGHER_THAN_SHOWN, MAX_TOLD
from logger.report.document.report_data import NightData
from logger.report.document.wording import day


def night_sentence(data: NightData, target_volts: float) -> str:
    """Write a night in a sentence or two, and what was on in it."""
    return f"{_level_sentences(data, target_volts)} {WHAT_WAS_ON}: {data.night.conditions_text}."


def _level_sentences(data: NightData, target_volts: float) -> str:
    night, level = data.night, data.summary.level
    mark = "Simulated. " if night.simulated else ""
    when = f"{mark}{day(night.local(0.0))}, {night.clock_minute(0.0)} to {night.clock_minute(data.summary.end_s)}"
    overload_s = data.summary.overload_s
    if data.summary.overloaded:
        when += f": {BEYOND_RANGE} for {format_long_duration(overload_s)}, {HIGHER_THAN_SHOWN}. Otherwise"
    else:
        when += ":"
    if level is None:
        return " ".join([f"{when} never still for long enough to tell a level.", *_not_counted(data)])
    text = (
        f"{when} half of the time at most {level.median_volts:.2f} V while lying still, above {target_volts:g} V for "
        f"{format_long_duration(level.above_target_s)} of {format_long_duration(data.summary.still_s)}."
    )
    text = " ".join([text, *_not_counted(data)])
    if not data.summary.loads_seen:
        return text
    loads = joined(
        [
            f"{load.volts:.2f} V every {format_long_duration(load.period_s)}"
            for load in data.summary.loads_seen
        ]
    )
    return f"{text} Something switches by itself again and again: {loads}."


def _not_counted(data: NightData) -> list[str]:
    """Write which time is in none of these figures, in a sentence each."""
    night, frozen = data.night, data.summary.frozen
    # Readings, checks and what somebody moved by hand are known to the household; that it was restless may not be.
    out = [
        f"{night.left_out_text(stretch)} is left out: {why}."
        for stretch, why in night.left_out
        if why == NOT_LYING
    ]
    if not frozen:
        return out
    times = joined(
        [f"{night.clock_minute(start_s)} to {night.clock_minute(end_s)}" for start_s, end_s in frozen]
    )
    which = times if len(frozen) <= MAX_TOLD else f"{len(frozen)} times"
    return [
        *out,
        f"The display stood still {which} ({format_long_duration(data.summary.frozen_s)}): not counted.",
    ]
