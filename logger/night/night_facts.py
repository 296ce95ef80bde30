"""A night told in small pieces: what the window lists and the command prints, each with its place in the night.

In: a night, its summary, what was planned, what steps were said to be. Out: groups of facts in words.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from logger.clock import format_long_duration
from logger.night.analysis.repeating_loads import RepeatingLoad
from logger.night.analysis.schedule_match import ScheduleMatch
from logger.night.analysis.summary import NightSummary
from logger.night.recorded_nights import Night
from logger.settling.events import Step

Stretch = tuple[float, float]
"""Start and end in seconds since the night's start."""

AROUND_STEP_S = 60.0
"""What is shown before and after a step."""


PLANNED = "Planned and found"
"""Heading of the planned switchings."""

NO_STEP = "no step"
"""Said of a planned switching to which no step belongs."""


@dataclass(frozen=True, slots=True)
class NightFact:
    """One fact about a night."""

    what: str
    text: str = ""
    stretch_s: Stretch | None = None
    """The part of the night that it is about; None: all of it."""
    note: str = ""
    """What has to be said beside it."""


@dataclass(frozen=True, slots=True)
class FactGroup:
    """Facts that belong together."""

    heading: str
    facts: tuple[NightFact, ...]


def night_facts(
    night: Night,
    summary: NightSummary,
    target_volts: float,
    matched: ScheduleMatch | None = None,
    step_names: Mapping[Step, str] | None = None,
) -> list[FactGroup]:
    """The whole night.

    Args:
        night, summary: of the same night.
        target_volts: what the level was held against.
        matched: planned switchings beside the steps; None: nothing was planned.
        step_names: what the user said that steps of the summary were.
    """
    groups = [
        FactGroup("Time", tuple(_time(night, summary))),
        FactGroup("Still level", tuple(_level(night, summary, target_volts))),
        FactGroup("Loads that come again", tuple(_loads(summary))),
    ]
    if matched is not None:
        groups.append(FactGroup(PLANNED, tuple(_planned(night, matched))))
    groups.append(
        FactGroup(f"Steps: {len(summary.steps)}", tuple(_steps(night, summary, matched, step_names or {})))
    )
    return [group for group in groups if group.facts]


def clock(night: Night, time_s: float, seconds: bool = True) -> str:
    """The time of day where it was recorded.

    Args:
        night: the night, which has the time zone.
        time_s: seconds since the night's start.
        seconds: whether the text has seconds.
    """
    return night.local(time_s).strftime("%H:%M:%S" if seconds else "%H:%M")


def load_in_words(load: RepeatingLoad) -> str:
    """'About 0.07 V, on for 14 min every 41 min, 9 times'"""
    on, period = format_long_duration(load.on_s), format_long_duration(load.period_s)
    return f"About {load.volts:.2f} V, on for {on} every {period}, {load.count} times"


def change_in_words(step: Step) -> str:
    """The size of a step with its sign: '+0.068 V'."""
    sign = "+" if step.after_volts >= step.before_volts else "\N{MINUS SIGN}"
    return f"{sign}{abs(step.after_volts - step.before_volts):.3f} V"


def around(step: Step) -> Stretch:
    """The stretch in which a step is looked at."""
    return step.time_s - AROUND_STEP_S, step.time_s + AROUND_STEP_S


def _time(night: Night, summary: NightSummary) -> list[NightFact]:
    facts = [
        NightFact(
            "Recorded",
            format_long_duration(summary.covered_s),
            note=f"{clock(night, 0.0, False)} to {clock(night, summary.end_s, False)} ({night.zone_name})",
        ),
        NightFact("Missed", format_long_duration(summary.missed_s) if summary.missed else "nothing"),
    ]
    facts += [
        NightFact("not recorded", f"{clock(night, start_s)} to {clock(night, end_s)}", (start_s, end_s))
        for start_s, end_s in summary.missed
    ]
    motions = len(night.record.motions)
    return [
        *facts,
        NightFact("Still", format_long_duration(summary.still_s)),
        NightFact(
            "Motion",
            format_long_duration(summary.motion_s),
            note=f"{motions} episode{'' if motions == 1 else 's'}, {summary.motions_per_hour:.1f} an hour",
        ),
    ]


def _level(night: Night, summary: NightSummary, target_volts: float) -> list[NightFact]:
    level, longest = summary.level, summary.longest_still
    if level is None or longest is None:
        return [NightFact("No level", "nothing was still")]
    facts = [
        NightFact("Median", f"{level.median_volts:.3f} V"),
        NightFact("5th to 95th percentile", f"{level.p05_volts:.3f} to {level.p95_volts:.3f} V"),
        NightFact(
            f"Above {target_volts:g} V", f"{format_long_duration(level.above_target_s)} of the still time"
        ),
    ]
    for name, hour in (("Quietest hour", summary.quietest_hour), ("Highest hour", summary.highest_hour)):
        if hour is not None and hour.median_volts is not None:
            facts.append(
                NightFact(
                    name,
                    f"{hour.median_volts:.3f} V",
                    (hour.start_s, hour.end_s),
                    f"from {clock(night, hour.start_s, False)}",
                )
            )
    return [
        *facts,
        NightFact(
            "Longest still span",
            f"{longest.volts:.3f} V",
            (longest.start_s, longest.end_s),
            f"{clock(night, longest.start_s)} to {clock(night, longest.end_s)}, "
            f"{format_long_duration(longest.end_s - longest.start_s)}",
        ),
    ]


def _loads(summary: NightSummary) -> list[NightFact]:
    return [
        NightFact(
            load_in_words(load), stretch_s=(load.starts_s[0] - AROUND_STEP_S, load.ends_s[-1] + AROUND_STEP_S)
        )
        for load in summary.loads
    ] or [NightFact("None: no steps of the same size come again at regular times")]


def _planned(night: Night, matched: ScheduleMatch) -> list[NightFact]:
    found = [
        (
            plan.time_s,
            NightFact(
                f"{clock(night, plan.time_s, False)} {plan.what}",
                change_in_words(step),
                around(step),
                f"found at {clock(night, step.time_s)}",
            ),
        )
        for plan, step in matched.pairs
    ]
    missed = [
        (
            plan.time_s,
            NightFact(
                f"{clock(night, plan.time_s, False)} {plan.what}",
                NO_STEP,
                (plan.time_s - AROUND_STEP_S, plan.time_s + AROUND_STEP_S),
                "it made no difference, did not happen, or motion hid it",
            ),
        )
        for plan in matched.planned_only
    ]
    return [fact for _, fact in sorted([*found, *missed], key=lambda pair: pair[0])]


def _steps(
    night: Night, summary: NightSummary, matched: ScheduleMatch | None, names: Mapping[Step, str]
) -> list[NightFact]:
    planned = {step: plan.what for plan, step in matched.pairs} if matched is not None else {}
    in_load = {step: load for load in summary.loads for step in summary.steps if _belongs(step, load)}
    facts = []
    for step in summary.steps:
        said = [names[step]] if names.get(step) else []
        said += [f"planned: {planned[step]}"] if step in planned else []
        said += [f"the load of about {in_load[step].volts:.2f} V"] if step in in_load else []
        facts.append(
            NightFact(clock(night, step.time_s), change_in_words(step), around(step), ", ".join(said))
        )
    return facts


def _belongs(step: Step, load: RepeatingLoad) -> bool:
    return step.time_s in (*load.starts_s, *load.ends_s)
