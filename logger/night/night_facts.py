"""The facts of a night that the window lists and the command prints, each with the part of the night it is about.

In: a night's analysis, and the labels of its steps. Out: groups of facts, in words.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum, StrEnum
from functools import reduce
from itertools import pairwise

from logger.clock import format_long_duration, format_parts, from_to
from logger.metrology.rounding import fixed, grouped, plain, rounded, signed
from logger.metrology.uncertainty import Budget, shown
from logger.name_list import joined, listed, quoted
from logger.night.analysis.night_record import Stretch, SwitchedStretch
from logger.night.analysis.repeating_loads import REGULAR_SHARE, RepeatingLoad, hidden_load, load_of
from logger.night.analysis.schedule_match import PlannedSwitching, ScheduleMatch, UntoldSwitching
from logger.night.analysis.summary import HOURS_ALIKE, LevelSummary, NightHour, NightSummary
from logger.night.left_out import left_out_note
from logger.night.night_analysis import NightAnalysis
from logger.night.night_conditions import WHAT_WAS_ON
from logger.night.night_edges import BEGINS_BECAUSE, ENDS_BECAUSE
from logger.night.night_level import level_budget
from logger.night.night_spots import WHERE_SOMEBODY_LAY
from logger.night.recorded_nights import Night
from logger.night.unseen_changes import unseen_change_text, unseen_changes
from logger.settling.events import Settled, Step
from logger.settling.limits import SLOWEST_INTERVAL_S
from logger.translation import marked, tr, tr_n

AROUND_STEP_S = 60.0
"""The window shows this much of the night before and after a step."""

AROUND_EDGE_S = 1800.0
"""The window shows this much of the recording before and after an edge of the night."""

MAX_LISTED = 20
"""So many times without values are listed; of more, the longest ones. The number is ours."""

MAX_TOLD = 8
"""So many times are told in a sentence; of more overloads, the longest ones. The number is ours."""

MIN_WANDERING_TOLD_S = 600.0
"""Less time in which the level wandered is not told. The number is ours."""

LARGE_SHARE = 0.5
"""Of the uncertainty of a level those parts are named that are at least so large, compared with the largest."""

NIGHT_BEGINS = marked("The night begins")
NIGHT_ENDS = marked("The night ends")


class FactKind(StrEnum):
    """The subject of a group of facts; the value is its heading, through `tr` where it is shown."""

    TIME = marked("Time")
    LEVEL = marked("Steady level")
    LOADS = marked("Loads that come again")
    PLANNED = marked("Planned and found")
    STEPS = marked("Steps")


class EnteredFact(Enum):
    """What of a night somebody enters."""

    CONDITION = "condition"
    SPOT = "spot"


@dataclass(frozen=True, slots=True)
class NightFact:
    """One fact about a night, in words.

    Args:
        what: its subject.
        text: its value.
        stretch_s: the part of the night that it is about; None for the whole night.
        note: a remark on it.
        is_missing: whether it was expected and not found in the night, or not entered.
        entered: which of what somebody enters it is; None for what is found in the recording.
    """

    what: str
    text: str = ""
    stretch_s: Stretch | None = None
    note: str = ""
    is_missing: bool = False
    entered: EnteredFact | None = None


@dataclass(frozen=True, slots=True)
class FactGroup:
    """Facts that belong together."""

    kind: FactKind
    heading: str
    facts: tuple[NightFact, ...]


def night_facts(analysis: NightAnalysis, step_labels: Mapping[Step, str] | None = None) -> list[FactGroup]:
    """List the facts of a whole night, group by group.

    Args:
        analysis: analysis of the night.
        step_labels: label of each labelled step of the summary.
    """
    night, summary, matched = analysis.night, analysis.summary, analysis.matched
    facts = {
        FactKind.TIME: _time(night, summary),
        FactKind.LEVEL: _level(night, summary, analysis.target_volts),
        FactKind.LOADS: _loads(summary),
        FactKind.PLANNED: _planned(night, matched) if matched is not None else [],
        FactKind.STEPS: _steps(night, summary, matched, step_labels or {}),
    }
    headings = {FactKind.STEPS: tr("Steps: {count}").format(count=len(summary.steps))}
    return [
        FactGroup(kind, headings.get(kind, tr(kind.value)), tuple(found))
        for kind, found in facts.items()
        if found
    ]


def load_text(load: RepeatingLoad, end_s: float) -> str:
    """Format a repeating load: 'About 0.07 V higher for 14 min every 41 min, seen 9 times'.

    Not that it is on then: one that cancels another lowers the value while it is on.

    Args:
        load: a load of the recording.
        end_s: end of the night, s.
    """
    return tr("About {volts} V higher for {length} every {period}, seen {times}").format(
        volts=fixed(load.volts, 2),
        length=load_length(load),
        period=format_long_duration(load.period_s),
        times=seen_text(load, end_s),
    )


def load_length(load: RepeatingLoad) -> str:
    """Format for how long a repeating load is on: '14 min', or '10 min to 20 min' where the times differ."""
    usual, (shortest_s, longest_s) = load.on_s, (min(load.lengths_s), max(load.lengths_s))
    if max(longest_s - usual, usual - shortest_s) <= 2 * REGULAR_SHARE * usual:
        return format_long_duration(usual)
    return from_to(format_long_duration(shortest_s), format_long_duration(longest_s))


def seen_text(load: RepeatingLoad, end_s: float) -> str:
    """Format how often a repeating load was seen: '9 times', of a part of the recording as well in how much of it.

    Args:
        load: a load of the recording.
        end_s: end of the night, s.
    """
    count, total = load.came(0.0, end_s), len(load.returns)
    if count == total:
        return tr_n("{n} time", "{n} times", count).format(n=count)
    return tr_n(
        "{n} time, {total} in the whole recording", "{n} times, {total} in the whole recording", count
    ).format(n=count, total=total)


def overload_note(summary: NightSummary) -> str:
    """What a level does not tell: 'without the 2 h 40 min beyond the meter's range, ...'; empty where it tells all."""
    if not summary.overloaded:
        return ""
    return tr("without the {length} beyond the meter's range, higher than the meter can show").format(
        length=format_long_duration(summary.overload_s)
    )


def overload_text(night: Night, summary: NightSummary) -> str:
    """Say when the voltage was above the meter's range, and for how long in all, in a sentence or two."""
    longest = sorted(summary.overloaded, key=lambda stretch: stretch[0] - stretch[1])[:MAX_TOLD]
    count = len(summary.overloaded)
    if count > MAX_TOLD:
        text = tr(
            "Overload, beyond the meter's range and higher than the meter can show, for {length}; of {count} times the "
            "longest ones: {times}."
        )
    else:
        text = tr(
            "Overload, beyond the meter's range and higher than the meter can show, for {length}: {times}."
        )
    return text.format(
        length=format_long_duration(summary.overload_s),
        count=count,
        times=joined(list(map(night.stretch_text, sorted(longest)))),
    )


def hour_level(hour: NightHour, decimals: int) -> str:
    """Format the mean level of an hour: '0.250 V'; of one with much overload 'beyond the meter's range for 40 min'."""
    if hour.is_overloaded:
        return tr("beyond the meter's range for {length} of it").format(
            length=format_long_duration(hour.overload_s)
        )
    if hour.mean_volts is None and hour.frozen_s:
        return tr("the display stood still for {length} of it").format(
            length=format_long_duration(hour.frozen_s)
        )
    return "–" if hour.mean_volts is None else f"{fixed(hour.mean_volts, decimals)} V"


def why_no_hour_text(summary: NightSummary, decimals: int) -> str:
    """Say why a night has no quietest hour, and between what the means of hours are that do not differ.

    Args:
        summary: of the night.
        decimals: of the means.
    """
    if summary.why_no_hour != HOURS_ALIKE or summary.alike_volts is None:
        return tr(summary.why_no_hour)
    low, high = (fixed(volts, decimals) for volts in summary.alike_volts)
    return tr("the hours do not differ by more than they vary within (means {low} to {high} V)").format(
        low=low, high=high
    )


def change_text(step: Step) -> str:
    """Format the size of a step with its sign: '+0.068 V'."""
    return f"{signed(step.after_volts - step.before_volts, 3)} V"


def step_time(night: Night, step: Step) -> str:
    """Format when a step was: 'at 23:10:05'; of one that nobody saw, the times without values that it lies between."""
    unseen = night.record.unseen(step)
    if unseen is None:
        return tr("at {time}").format(time=night.clock_time(step.time_s))
    overloaded = any(start_s < unseen[1] and unseen[0] < end_s for start_s, end_s in night.record.overloaded)
    if overloaded:
        text = tr("between {start} and {end}, while the value was beyond the meter's range")
    else:
        text = tr("between {start} and {end}, while nothing was recorded")
    start, end = map(night.clock_time, unseen)
    return text.format(start=start, end=end)


def around_step(step: Step) -> Stretch:
    """Return the part of the night in which the window shows a step."""
    return step.time_s - AROUND_STEP_S, step.time_s + AROUND_STEP_S


def _time(night: Night, summary: NightSummary) -> list[NightFact]:
    facts = [
        *([NightFact(tr("No night"), note=night.why_no_night)] if night.why_no_night else []),
        *_edges(night),
        NightFact(
            tr(WHAT_WAS_ON),
            night.conditions_text,
            is_missing=not any(change.condition for change in night.conditions),
            entered=EnteredFact.CONDITION,
        ),
        NightFact(
            tr(WHERE_SOMEBODY_LAY),
            night.spot.text,
            is_missing=not night.spot.is_known,
            entered=EnteredFact.SPOT,
        ),
        NightFact(
            tr("Recorded"),
            format_long_duration(summary.covered_s),
            note=_recorded_note(night),
        ),
        *(
            NightFact(tr("Left out"), night.left_out_text(part.stretch), part.stretch, left_out_note(part))
            for part in night.left_out
        ),
        *_ports(night),
        NightFact(
            tr("Missed"),
            night.missed_text(summary.missed_s) if summary.missed or night.set_back_s else tr("no time"),
        ),
    ]
    motions = len(night.record.motions)
    return [
        *facts,
        *_without_values(night, summary),
        NightFact(tr("Steady"), format_long_duration(summary.still_s), note=_wandering_note(summary)),
        *_unlike_the_rest(night, summary),
        NightFact(
            tr("Motion"),
            format_long_duration(summary.motion_s),
            note=tr_n("{n} episode, {rate} an hour", "{n} episodes, {rate} an hour", motions).format(
                n=motions, rate=fixed(summary.motions_per_hour, 1)
            ),
        ),
    ]


def _unlike_the_rest(night: Night, summary: NightSummary) -> list[NightFact]:
    """Return when something switched again and again, and when perhaps nobody was on the probe."""
    return [
        *(
            NightFact(
                tr("Something that switches"),
                night.left_out_text((one.start_s, one.end_s)),
                (one.start_s, one.end_s),
                tr(
                    "between {low} V and {high} V again and again, about every {period}: no motion, and both "
                    "levels count"
                ).format(**_switched_values(one, 3)),
            )
            for one in summary.switched
        ),
        *(
            NightFact(
                tr("Perhaps nobody on the probe"),
                night.left_out_text(one.stretch),
                one.stretch,
                tr(
                    "{volts} V, far below the rest ({rest} V), and no motion: nobody was on it, or something was "
                    "switched off; it counts"
                ).format(volts=fixed(one.volts, 3), rest=fixed(one.rest_volts, 3)),
            )
            for one in summary.maybe_empty
        ),
    ]


def _wandering_note(summary: NightSummary) -> str:
    """Say for how much of the steady time the level wandered; empty for little."""
    if summary.wandering_s < MIN_WANDERING_TOLD_S:
        return ""
    return tr("for {length} of it wandering slowly, without motion").format(
        length=format_long_duration(summary.wandering_s)
    )


def _switched_values(one: SwitchedStretch, decimals: int) -> dict[str, str]:
    return {
        "low": fixed(one.low_volts, decimals),
        "high": fixed(one.high_volts, decimals),
        "period": format_long_duration(one.period_s),
    }


def switched_sentences(night: Night, summary: NightSummary) -> list[str]:
    """Say when something switched within seconds again and again, between which levels, in a sentence each."""
    text = tr(
        "From {start} to {end} something switched the value between {low} V and {high} V again and again, about every "
        "{period}: both count."
    )
    return [
        text.format(
            start=night.clock_minute(one.start_s),
            end=night.clock_minute(one.end_s),
            **_switched_values(one, 2),
        )
        for one in summary.switched
    ]


def maybe_empty_sentences(night: Night, summary: NightSummary) -> list[str]:
    """Say when perhaps nobody was on the probe, and why it is thought so, in a few sentences each."""
    text = tr(
        "From {start} to {end} ({length}) nobody moved and the value was {volts} V, far below the {rest} V of the "
        "rest: perhaps nobody was on the probe then, or something was switched off. It counts until the night's edges "
        "are moved."
    )
    return [
        text.format(
            start=night.clock_minute(one.stretch[0]),
            end=night.clock_minute(one.stretch[1]),
            length=format_long_duration(one.stretch[1] - one.stretch[0]),
            volts=fixed(one.volts, 2),
            rest=fixed(one.rest_volts, 2),
        )
        for one in summary.maybe_empty
    ]


def _without_values(night: Night, summary: NightSummary) -> list[NightFact]:
    """Return the times of a night that have no values, or values that count for nothing, and why."""
    rare = tr("the values come too rarely to find a level: at least one in {seconds} s is needed").format(
        seconds=f"{SLOWEST_INTERVAL_S:.0f}"
    )
    # Where nearly all is missing, the values come too rarely, and no time of it is news.
    few = summary.covered_s + summary.overload_s < summary.missed_s
    facts = _listed(night, summary.missed, tr("not recorded"), rare if few else "")
    if summary.overloaded:
        length = format_long_duration(summary.overload_s)
        facts.append(
            NightFact(
                tr("Beyond the meter's range"),
                length,
                note=tr("overload: higher than the meter can show"),
            )
        )
    facts += _listed(night, summary.overloaded, tr("overload"))
    frozen = [
        NightFact(what, night.stretch_text(stretch), stretch, note)
        for what, note, stretches in (
            (
                tr("The display stood still"),
                tr("not counted: the meter was on HOLD, or had stopped"),
                night.frozen,
            ),
            (
                tr("The display may have stood still"),
                tr("counted: the meter may have been on HOLD, or have stopped"),
                night.doubted,
            ),
        )
        for stretch in stretches
    ]
    return facts + frozen


def _ports(night: Night) -> list[NightFact]:
    """Return that a night was recorded from more than one port: one level of two meters would mean nothing.

    Only the runs count that have values within the night: its recording may go on after it with another meter.
    """
    begun: dict[str, float] = {}
    starts_s = [night.run_starts_s[run.id] for run in night.runs]
    times_s = night.record.times_s
    for run, (start_s, next_s) in zip(night.runs, pairwise([*starts_s, math.inf]), strict=True):
        if ((times_s >= start_s) & (times_s < next_s)).any():
            begun.setdefault(run.port, max(start_s, 0.0))
    if len(begun) < 2:
        return []
    ports = [
        tr("{port} from {time}").format(port=port, time=night.clock_minute(start_s))
        for port, start_s in begun.items()
    ]
    one_by_one = reduce(
        lambda before, then: tr("{before}, then {then}").format(before=before, then=then), ports
    )
    note = tr("if these are two meters, the levels below mix both")
    return [NightFact(tr("Recorded from more than one port"), one_by_one, note=note)]


def _listed(night: Night, stretches: Sequence[Stretch], what: str, why_none: str = "") -> list[NightFact]:
    """Return a fact for each stretch of a night; of very many only the longest ones, and one fact on all others.

    Args:
        night: the night.
        stretches: its stretches without values.
        what: why they have none.
        why_none: where very many are not listed one by one: why not; empty where the longest ones are.
    """
    by_length = sorted(stretches, key=lambda stretch: stretch[0] - stretch[1])
    shown, others = by_length, by_length[:0]
    if len(by_length) > MAX_LISTED:
        count = 0 if why_none else MAX_LISTED
        shown, others = by_length[:count], by_length[count:]
    facts = [NightFact(what, night.stretch_text(stretch), stretch) for stretch in sorted(shown)]
    if others:
        longest = format_long_duration(others[0][1] - others[0][0])
        if shown:
            text = tr_n(
                "one more time, of {longest}", "{n} more times, each of at most {longest}", len(others)
            )
        else:
            text = tr("{n} times, each of at most {longest}")
        facts.append(NightFact(what, text.format(n=grouped(len(others)), longest=longest), note=why_none))
    return facts


def _recorded_note(night: Night) -> str:
    """Return when the night was, and when the whole recording was where that is longer."""
    start, end = map(night.clock_minute, (0.0, night.record.end_s))
    if night.edges is None or night.edges.recording_s == (0.0, night.record.end_s):
        return tr("{start} to {end} ({zone})").format(start=start, end=end, zone=night.zone_name)
    began, ended = map(night.clock_minute, night.edges.recording_s)
    return tr("{start} to {end} ({zone}); the whole recording: {began} to {ended}").format(
        start=start, end=end, zone=night.zone_name, began=began, ended=ended
    )


def _edges(night: Night) -> list[NightFact]:
    """Return when and why the night begins and ends, each with what is around it in the trace."""
    edges = night.edges
    if edges is None:
        return []
    at_s = (0.0, BEGINS_BECAUSE[edges.begins]), (night.record.end_s, ENDS_BECAUSE[edges.ends])
    return [
        NightFact(
            tr(what), night.clock_time(edge_s), (edge_s - AROUND_EDGE_S, edge_s + AROUND_EDGE_S), tr(why)
        )
        for what, (edge_s, why) in zip((NIGHT_BEGINS, NIGHT_ENDS), at_s, strict=True)
    ]


def _level(night: Night, summary: NightSummary, target_volts: float) -> list[NightFact]:
    level, longest = summary.level, summary.longest_still
    if level is None:
        why = tr("the display stood still, which is no measurement") if night.frozen else ""
        still = (
            tr("nothing was steady within the meter's range")
            if summary.overloaded
            else tr("nothing was steady")
        )
        return [NightFact(tr("No level"), still, note=why)]
    budget = level_budget(night, level.median_volts)
    facts = [
        NightFact(tr("Middle value (median)"), shown(budget), note=_mostly_by(budget)),
        NightFact(
            tr("5th to 95th percentile"),
            tr("{low} to {high} V").format(low=fixed(level.p05_volts, 3), high=fixed(level.p95_volts, 3)),
        ),
        _above_target(level, target_volts, overload_note(summary)),
    ]
    for name, hour in (
        (tr("Lowest hour"), summary.quietest_hour),
        (tr("Highest hour"), summary.highest_hour),
    ):
        if hour is not None:
            since = tr("from {time}") if hour.is_overloaded else tr("mean, from {time}")
            facts.append(
                NightFact(
                    name,
                    hour_level(hour, 3),
                    (hour.start_s, hour.end_s),
                    since.format(time=night.clock_minute(hour.start_s)),
                )
            )
    if summary.why_no_hour:
        which = tr("Lowest hour") if summary.highest_hour is not None else tr("Lowest and highest hour")
        value = tr("no clear difference") if summary.why_no_hour == HOURS_ALIKE else tr("none")
        facts.append(NightFact(which, value, note=why_no_hour_text(summary, 3)))
    if longest is None:
        return facts
    return [
        *facts,
        NightFact(
            tr("Mean of the longest steady span"),
            still_value(night, longest),
            (longest.start_s, longest.end_s),
            tr("{start} to {end}, {length}").format(
                start=night.clock_time(longest.start_s),
                end=night.clock_time(longest.end_s),
                length=format_long_duration(longest.end_s - longest.start_s),
            ),
        ),
    ]


def _mostly_by(budget: Budget) -> str:
    """What an uncertainty mostly comes from, in a few words.

    Args:
        budget: of a level.
    """
    largest = max(component.u_volts for component in budget.components)
    names = [c.shown_name() for c in budget.components if c.u_volts >= LARGE_SHARE * largest]
    return tr("the ± comes mostly from: {components}").format(components=listed(names))


def _above_target(level: LevelSummary, target_volts: float, overloaded: str) -> NightFact:
    """For how long it was above the target; where some of the time is too close to tell, for how long clearly.

    Args:
        level: of the night.
        target_volts: the target, V.
        overloaded: what is to be said of overload; empty where there was none.
    """
    volts = plain(target_volts)
    if level.near_target_s <= 0.0:
        text = tr("{length} of the steady time").format(length=format_long_duration(level.above_target_s))
        return NightFact(tr("Above {volts} V").format(volts=volts), text, note=overloaded)
    right_to = tr("near {volts} V the values are right to within ± {u} V").format(
        volts=volts, u=rounded(target_volts, level.near_target_volts).expanded
    )
    return NightFact(
        tr("Clearly above {volts} V").format(volts=volts),
        tr("not known: the steady values are all too close to it; peaks count as movements")
        if level.is_all_near_target
        else tr("{above}, clearly below it for {below}").format(
            above=format_long_duration(level.clearly_above_s),
            below=format_long_duration(level.clearly_below_s),
        ),
        note=listed([*filter(None, (right_to, overloaded))]),
    )


def near_target_sentence(level: LevelSummary, target_volts: float) -> str:
    """Say for how long a night was clearly above and below the target; empty where none of it is too close to tell.

    Args:
        level: of the night.
        target_volts: the target, V.
    """
    if level.near_target_s <= 0.0:
        return ""
    text = (
        tr(
            "Near {target} V the values are right to within ± {u} V: all of them are too close to the target to say "
            "whether they are above or below it."
        )
        if level.is_all_near_target
        else tr(
            "Near {target} V the values are right to within ± {u} V: clearly above it for {above}, clearly below it "
            "for {below}."
        )
    )
    # Rounded so that they add up with the time that is too close to tell, as on the report's first page.
    parts_s = (level.clearly_below_s, level.clearly_above_s, level.near_target_s)
    _, (below, above, _) = format_parts(sum(parts_s), parts_s)
    return text.format(
        u=fixed(level.near_target_volts, 3),
        target=plain(target_volts),
        above=above,
        below=below,
    )


def still_value(night: Night, span: Settled) -> str:
    """The value of a still span with all that is uncertain about it, meter and reference too.

    Args:
        night: of the span.
        span: of that night.
    """
    return shown(level_budget(night, span.volts, span.u_volts))


def _loads(summary: NightSummary) -> list[NightFact]:
    return [
        NightFact(
            load_text(load, summary.end_s),
            stretch_s=(
                max(min(load.starts_s) - AROUND_STEP_S, 0.0),
                min(max(load.ends_s) + AROUND_STEP_S, summary.end_s),
            ),
        )
        for load in summary.loads_seen
    ] or [NightFact(tr("No steps of the same size come again at regular times"))]


def against_note(plan: PlannedSwitching, step: Step) -> str:
    """Say that the value went the other way than a planned switching lets expect; empty where it did not."""
    if not plan.is_against(step):
        return ""
    if step.after_volts > step.before_volts:
        return tr("against expectation: the value rose")
    return tr("against expectation: the value fell")


def untold_note(night: Night, untold: UntoldSwitching) -> str:
    """Say why nothing can be told of a planned switching: a repeating load is near, or another one was planned.

    Args:
        night: the night.
        untold: the planned switching.
    """
    step = untold.step
    if untold.load is None:
        assert step is not None
        text = tr("the step of {change} {when} may be of this, of {others}, or of all together")
        others = joined([quoted(what) for what in untold.others])
        return text.format(change=change_text(step), when=step_time(night, step), others=others)
    volts = fixed(untold.load.volts, 2)
    if step is None:
        return tr(
            "there is no step, but the load that comes again (a change of about {volts} V) was expected "
            "then, and both together may have made no step"
        ).format(volts=volts)
    if untold.is_of_load:
        text = tr(
            "the step of {change} {when} may be the load that comes again (a change of about {volts} V)"
        )
    else:
        text = tr(
            "the load that comes again (a change of about {volts} V) was expected then and may be part of "
            "the step of {change} {when}"
        )
    return text.format(volts=volts, change=change_text(step), when=step_time(night, step))


def _planned(night: Night, matched: ScheduleMatch) -> list[NightFact]:
    found = [
        (
            plan.time_s,
            NightFact(
                f"{night.clock_minute(plan.time_s)} {plan.what}",
                change_text(step),
                around_step(step),
                listed(
                    list(
                        filter(
                            None,
                            (
                                tr("found {when}").format(when=step_time(night, step)),
                                against_note(plan, step),
                            ),
                        )
                    )
                ),
            ),
        )
        for plan, step in matched.pairs
    ]
    missed = [
        (
            plan.time_s,
            NightFact(
                f"{night.clock_minute(plan.time_s)} {plan.what}",
                tr("no step"),
                (plan.time_s - AROUND_STEP_S, plan.time_s + AROUND_STEP_S),
                tr("the switching made no difference, was not done, or motion hid it"),
                is_missing=True,
            ),
        )
        for plan in matched.planned_only
    ]
    untold = [
        (
            one.plan.time_s,
            NightFact(
                f"{night.clock_minute(one.plan.time_s)} {one.plan.what}",
                tr("cannot be told"),
                around_step(one.step)
                if one.step is not None
                else (one.plan.time_s - AROUND_STEP_S, one.plan.time_s + AROUND_STEP_S),
                untold_note(night, one),
                is_missing=True,
            ),
        )
        for one in matched.untold
    ]
    return [fact for _, fact in sorted([*found, *missed, *untold], key=lambda pair: pair[0])]


def _steps(
    night: Night, summary: NightSummary, matched: ScheduleMatch | None, labels: Mapping[Step, str]
) -> list[NightFact]:
    planned = {step: plan.what for plan, step in matched.pairs} if matched is not None else {}
    facts = []
    for step in summary.steps:
        notes = [labels[step]] if labels.get(step) else []
        notes += [tr("planned: {what}").format(what=planned[step])] if step in planned else []
        notes += filter(None, [load_note(step, summary.loads)])
        unseen = night.record.unseen(step)
        what = step_time(night, step) if unseen else night.clock_time(step.time_s)
        facts.append(NightFact(what, change_text(step), around_step(step), listed(notes)))
    facts += [
        NightFact(
            unseen_change_text(night, change),
            stretch_s=(change.start_s - AROUND_STEP_S, change.end_s + AROUND_STEP_S),
        )
        for change in unseen_changes(night.record)
    ]
    return facts


def load_note(step: Step, loads: Sequence[RepeatingLoad]) -> str:
    """Format that a step is of a load that comes again by itself, or may hold one; empty where neither is so.

    Args:
        step: of the night.
        loads: repeating loads of the recording.
    """
    own = load_of(step, loads)
    if own is not None:
        return tr("the load that comes again (a change of about {volts} V)").format(volts=fixed(own.volts, 2))
    hidden = hidden_load(step.time_s, loads)
    if hidden is None:
        return ""
    return tr(
        "the load that comes again (a change of about {volts} V) was expected then and may be part of it"
    ).format(volts=fixed(hidden.volts, 2))
