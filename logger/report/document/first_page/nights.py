"""Each recorded night in a sentence or two."""

from __future__ import annotations

from logger.clock import format_long_duration
from logger.name_list import joined
from logger.night.night_facts import BEYOND_RANGE, HIGHER_THAN_SHOWN
from logger.report.document.report_data import NightData
from logger.report.document.wording import day


def night_sentence(data: NightData, target_volts: float) -> str:
    """Write a night in a sentence or two."""
    night, level = data.night, data.summary.level
    mark = "Simulated. " if night.simulated else ""
    when = f"{mark}{day(night.local(0.0))}, {night.clock_minute(0.0)} to {night.clock_minute(data.summary.end_s)}"
    overload_s = data.summary.overload_s
    if data.summary.overloaded:
        when += f": {BEYOND_RANGE} for {format_long_duration(overload_s)}, {HIGHER_THAN_SHOWN}. Otherwise"
    else:
        when += ":"
    if level is None:
        return f"{when} never still for long enough to tell a level."
    text = (
        f"{when} half of the time at most {level.median_volts:.2f} V while lying still, above {target_volts:g} V for "
        f"{format_long_duration(level.above_target_s)} of {format_long_duration(data.summary.still_s)}."
    )
    if not data.summary.loads:
        return text
    loads = joined(
        [f"{load.volts:.2f} V every {format_long_duration(load.period_s)}" for load in data.summary.loads]
    )
    return f"{text} Something switches by itself again and again: {loads}."
