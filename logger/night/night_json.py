"""A night's summary as the JSON object that `stillvolt night VISIT --json` prints.

Times of day are RFC 3339 with the offset in force where and when it was recorded; lengths are seconds; voltages are
AC rms volts.
"""

from __future__ import annotations

from typing import Any

from logger.night.analysis.repeating_loads import RepeatingLoad
from logger.night.analysis.schedule_match import PlannedSwitching, ScheduleMatch, UntoldSwitching
from logger.night.analysis.summary import NightHour, NightSummary
from logger.night.night_analysis import NightAnalysis
from logger.night.night_difference import ComparedNights
from logger.night.night_level import level_budget
from logger.night.recorded_nights import ClockSet, Night
from logger.settling.events import Step


def night_json(analysis: NightAnalysis) -> dict[str, Any]:
    """Convert the summary of a night to plain values for JSON."""
    night, summary, matched = analysis.night, analysis.summary, analysis.matched
    at, level, longest = night.rfc3339, summary.level, summary.longest_still
    return {
        "night": night.number,
        "zone": night.zone_name,
        "start": at(0.0),
        "end": at(summary.end_s),
        "length_s": summary.end_s,
        "edges": _edges(night),
        "conditions": _conditions(night),
        "covered_s": summary.covered_s,
        "missed_s": summary.missed_s,
        "missed": [{"start": at(start_s), "end": at(end_s)} for start_s, end_s in summary.missed],
        "missed_for_unknown_time_at": [at(time_s) for time_s in night.set_back_s],
        "overload_s": summary.overload_s,
        "overload": [{"start": at(start_s), "end": at(end_s)} for start_s, end_s in summary.overloaded],
        "still_s": summary.still_s,
        "motion_s": summary.motion_s,
        "motion_episodes": len(night.record.motions),
        "motion_episodes_per_hour": summary.motions_per_hour,
        "target_volts": analysis.target_volts,
        "median_volts": level.median_volts if level else None,
        "p05_volts": level.p05_volts if level else None,
        "p95_volts": level.p95_volts if level else None,
        "above_target_s": level.above_target_s if level else 0.0,
        "clearly_above_target_s": level.clearly_above_s if level else 0.0,
        "clearly_below_target_s": level.clearly_below_s if level else 0.0,
        "near_target_s": level.near_target_s if level else 0.0,
        "near_target_volts": level.near_target_volts if level else None,
        "longest_still": {
            "start": at(longest.start_s),
            "end": at(longest.end_s),
            "length_s": longest.end_s - longest.start_s,
            "volts": longest.volts,
            "u_volts": longest.u_volts,
            "u_combined_volts": level_budget(night, longest.volts, longest.u_volts).u_volts,
        }
        if longest
        else None,
        "quietest_hour": _hour(night, summary.quietest_hour),
        "highest_hour": _hour(night, summary.highest_hour),
        "why_no_hour": summary.why_no_hour,
        "hours": [_hour(night, hour) for hour in summary.hours],
        "steps": [_step(night, step) for step in summary.steps],
        "repeating_loads": [_load(night, load) for load in summary.loads_seen],
        "planned": _planned(night, matched) if matched is not None else [],
        "clock_set": [_clock_set(night, was_set) for was_set in night.clock_set],
        "frozen_s": summary.frozen_s,
        "frozen": [{"start": at(start_s), "end": at(end_s)} for start_s, end_s in night.frozen],
        "doubted": [{"start": at(start_s), "end": at(end_s)} for start_s, end_s in night.doubted],
        "simulated": night.simulated,
        "damage": analysis.damage,
        "spot": night.spot.name or None,
    } | _unlike_the_rest(night, summary)


def _unlike_the_rest(night: Night, summary: NightSummary) -> dict[str, Any]:
    """Times in which the detector found no level and nobody moved, and in which perhaps nobody was there."""
    at = night.rfc3339
    return {
        "switched_s": summary.switched_s,
        "switched": [
            {
                "start": at(one.start_s),
                "end": at(one.end_s),
                "low_volts": one.low_volts,
                "high_volts": one.high_volts,
                "period_s": one.period_s,
            }
            for one in summary.switched
        ],
        "wandering_s": summary.wandering_s,
        "maybe_nobody_on_probe": [
            {
                "start": at(one.stretch[0]),
                "end": at(one.stretch[1]),
                "median_volts": one.volts,
                "rest_median_volts": one.rest_volts,
            }
            for one in summary.maybe_empty
        ],
    }


def _conditions(night: Night) -> list[dict[str, Any]]:
    return [
        {"since": night.rfc3339(change.since_s), "condition": change.condition or None}
        for change in night.conditions
    ]


def _clock_set(night: Night, was_set: ClockSet) -> dict[str, Any]:
    at, before, after = night.clock_set_times(was_set)
    return {
        "at": at,
        "from": before,
        "to": after,
        "offset_s": was_set.offset_s,
        "message": was_set.message,
    }


def _edges(night: Night) -> dict[str, Any] | None:
    if night.edges is None:
        return None
    began_s, ended_s = night.edges.recording_s
    return {
        "begins": night.edges.begins.value,
        "ends": night.edges.ends.value,
        "recording_start": night.rfc3339(began_s),
        "recording_end": night.rfc3339(ended_s),
        "left_out": [
            {
                "start": night.rfc3339(part.stretch[0]),
                "end": night.rfc3339(part.stretch[1]),
                "length_s": part.stretch[1] - part.stretch[0],
                "why": part.why,
                "p05_volts": part.volts[0] if part.volts else None,
                "p95_volts": part.volts[1] if part.volts else None,
                "is_higher_than_night": part.is_higher,
            }
            for part in night.left_out
        ],
    }


def comparison_json(compared: ComparedNights) -> dict[str, Any]:
    """Convert the comparison of two nights to plain values for JSON; what there is not is null."""
    before, after, change = compared.before, compared.after, compared.difference
    began: list[str | None] = [when.isoformat(timespec="seconds") for when in compared.began] or [None, None]
    values: dict[str, Any] = {
        "before_began": began[0],
        "after_began": began[1],
        "comparable": not compared.why_not,
        "why_not": compared.why_not,
        "difference_volts": change.volts if change else None,
        "u_volts": change.u_volts if change else None,
        "verdict": compared.verdict.value,
        "named_before_is_later": compared.turned,
        "remarks": list(compared.remarks),
        "before_conditions": compared.conditions[0] if compared.conditions else None,
        "after_conditions": compared.conditions[1] if compared.conditions else None,
        "compared": None,
    }
    if before is not None and after is not None and change is not None:
        values["compared"] = {
            "before_volts": before.volts,
            "u_before_volts": before.u_volts,
            "after_volts": after.volts,
            "u_after_volts": after.u_volts,
            "change_volts": change.volts,
            "u_change_volts": change.u_volts,
            "significance": change.significance,
        }
    before_left_out, after_left_out = compared.left_out or (None, None)
    values |= {"before_left_out": before_left_out or None, "after_left_out": after_left_out or None}
    before_spot, after_spot = compared.spots or (None, None)
    return values | {"before_spot": before_spot or None, "after_spot": after_spot or None}


def _planned(night: Night, matched: ScheduleMatch) -> list[dict[str, Any]]:
    every: list[tuple[PlannedSwitching, Step | None, UntoldSwitching | None]] = [
        *((plan, step, None) for plan, step in matched.pairs),
        *((one.plan, None, one) for one in matched.untold),
        *((plan, None, None) for plan in matched.planned_only),
    ]
    return [
        {
            "time": night.rfc3339(plan.time_s),
            "what": plan.what,
            "step": None if step is None else _step(night, step),
            "against_expectation": step is not None and plan.is_against(step),
            "step_of_repeating_load": _untold_step(night, untold, is_of_load=True),
            "step_with_repeating_load": _untold_step(night, untold, is_of_load=False),
            "repeating_load_due": untold is not None and untold.load is not None,
            "step_shared_with": list(untold.others) if untold is not None else [],
        }
        for plan, step, untold in sorted(every, key=lambda item: item[0].time_s)
    ]


def _untold_step(night: Night, untold: UntoldSwitching | None, *, is_of_load: bool) -> dict[str, Any] | None:
    if untold is None or untold.load is None or untold.step is None or untold.is_of_load is not is_of_load:
        return None
    return _step(night, untold.step)


def _hour(night: Night, hour: NightHour | None) -> dict[str, Any] | None:
    if hour is None:
        return None
    return {
        "start": night.rfc3339(hour.start_s),
        "end": night.rfc3339(hour.end_s),
        "still_s": hour.still_s,
        "median_volts": hour.median_volts,
        "mean_volts": hour.mean_volts,
        "motion_episodes": hour.motions,
        "overload_s": hour.overload_s,
        "frozen_s": hour.frozen_s,
    }


def _step(night: Night, step: Step) -> dict[str, Any]:
    earliest_s, latest_s = night.record.unseen(step) or (None, None)
    return {
        "time": night.rfc3339(step.time_s),
        "earliest": None if earliest_s is None else night.rfc3339(earliest_s),
        "latest": None if latest_s is None else night.rfc3339(latest_s),
        "before_volts": step.before_volts,
        "after_volts": step.after_volts,
        "change_volts": step.after_volts - step.before_volts,
        "u_volts": step.u_volts,
    }


def _load(night: Night, load: RepeatingLoad) -> dict[str, Any]:
    end_s = night.record.end_s
    return {
        "volts": load.volts,
        "on_s": load.on_s,
        "shortest_on_s": min(load.lengths_s),
        "longest_on_s": max(load.lengths_s),
        "period_s": load.period_s,
        "count": load.came(0.0, end_s),
        "recording_count": len(load.returns),
        "starts": [night.rfc3339(start_s) for start_s in load.starts_s if 0.0 <= start_s <= end_s],
    }
