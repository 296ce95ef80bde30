"""Each recorded night in a sentence or two."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from logger.clock import format_long_duration, format_parts
from logger.metrology.context import why_not_comparable
from logger.metrology.rounding import fixed, grouped, plain
from logger.name_list import joined
from logger.night.analysis.summary import LevelSummary
from logger.night.left_out import left_out_sentences
from logger.night.night_edges import NOT_LYING, NOT_STEADY
from logger.night.night_facts import (
    MAX_TOLD,
    maybe_empty_sentences,
    switched_sentences,
)
from logger.night.unseen_changes import unseen_change_text, unseen_changes
from logger.report.document.report_data import NightData, ReportData
from logger.report.document.wording import condition_text, day
from logger.sweep.sweep_progress import combination_as_at_night
from logger.sweep.switch_off_plan import SwitchOffPlan
from logger.translation import marked, tr, tr_n
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading

MIN_TOLD_S = 60.0
"""Time clearly above the target, or not clearly below it, from which it counts: to the minute, as lengths are shown."""

MIN_MISSED_S = 60.0
"""Less that was not recorded changes nothing of what a household is told of a night."""


def night_sentences(data: ReportData, *, only_needed: bool) -> list[str]:
    """Write each night in a few sentences, the earliest first.

    Args:
        data: of the report.
        only_needed: of several nights only those in which tonight's list was off, or the last one where it never was;
            the others are counted.
    """
    plan = data.tonight
    shown = list(data.nights)
    if only_needed and len(shown) > 1:
        of_list = [
            night
            for night in shown
            if plan is not None and (plan.off or plan.unplug) and _list_was_off(night, plan, data.sources)
        ]
        shown = of_list or shown[-1:]
    marks = not data.all_simulated
    out = [
        night_sentence(night, data.setup.target_volts, plan, data.sources, marks_simulated=marks)
        for night in shown
    ]
    if others := len(data.nights) - len(shown):
        text = tr_n(
            "{n} other night is in the section “Night”.",
            "{n} other nights are in the section “Night”.",
            others,
        )
        out[-1] = " ".join((out[-1], text.format(n=grouped(others))))
    return out


def night_sentence(
    data: NightData,
    target_volts: float,
    plan: SwitchOffPlan | None = None,
    sources: Sequence[Source] = (),
    *,
    marks_simulated: bool = True,
) -> str:
    """Write a night in a few sentences: how high, what comes again by itself, and what it tells of tonight's list.

    Args:
        data: the night.
        target_volts: of the visit, V.
        plan: tonight's list; None for none.
        sources: circuits and cords of the visit.
        marks_simulated: a simulated night is called so; False where the page says it of everything.
    """
    the_list = plan if plan is not None and (plan.off or plan.unplug) else None
    was_off = the_list is not None and _list_was_off(data, the_list, sources)
    return " ".join(
        [
            _level_sentence(data, target_volts, marks_simulated=marks_simulated),
            *_not_counted(data),
            *filter(None, _of_the_list(data, the_list, was_off=was_off)),
            *_loads(data, has_list=the_list is not None, was_off=was_off),
        ]
    )


def _level_sentence(data: NightData, target_volts: float, *, marks_simulated: bool) -> str:
    night, summary = data.night, data.summary
    when = tr("{day}, {start} to {end}").format(
        day=day(night.local(0.0)), start=night.clock_minute(0.0), end=night.clock_minute(summary.end_s)
    )
    if night.simulated and marks_simulated:
        when = tr("Simulated. {when}").format(when=when)
    overload = format_long_duration(summary.overload_s)
    if summary.level is None:
        if not summary.overloaded:
            return tr("{when}: never steady for long enough to tell a level.").format(when=when)
        text = tr(
            "{when}: beyond the meter's range for {overload}, higher than the meter can show. Otherwise "
            "never steady for long enough to tell a level."
        )
        return text.format(when=when, overload=overload)
    values = {
        "when": when,
        "low": fixed(summary.level.p05_volts, 2),
        "high": fixed(summary.level.p95_volts, 2),
        "target": plain(target_volts),
        "above": format_long_duration(summary.level.above_target_s),
        "still": format_long_duration(summary.still_s),
    }
    if summary.level.near_target_s > 0.0:
        return _near_target_sentence(data, summary.level, values)
    if not summary.overloaded:
        text = tr(
            "{when}: while lying still mostly {low} V to {high} V, above {target} V for {above} of {still}."
        )
        return text.format(**values)
    text = tr(
        "{when}: beyond the meter's range for {overload}, higher than the meter can show. Otherwise while lying still "
        "mostly {low} V to {high} V, above {target} V for {above} of {still}."
    )
    return text.format(**values, overload=overload)


def _near_target_sentence(data: NightData, level: LevelSummary, values: Mapping[str, str]) -> str:
    """The same where some of the time is too close to the target to tell on which side it was.

    Args:
        data: of the night.
        level: its level.
        values: what stands in the places of the sentence.
    """
    told = {
        **values,
        **_lengths(level, data.summary.still_s),
        "overload": format_long_duration(data.summary.overload_s),
    }
    if data.summary.overloaded and level.is_all_near_target:
        text = tr(
            "{when}: beyond the meter's range for {overload}, higher than the meter can show. Otherwise while "
            "lying still mostly {low} V to {high} V, all of it too close to {target} V to tell whether it was "
            "above or below."
        )
        return text.format(**told)
    if data.summary.overloaded:
        text = tr(
            "{when}: beyond the meter's range for {overload}, higher than the meter can show. Otherwise while "
            "lying still mostly {low} V to {high} V."
        )
        return " ".join((text.format(**told), _shares_sentence(level, data.summary.still_s, told)))
    if level.is_all_near_target:
        text = tr(
            "{when}: while lying still mostly {low} V to {high} V, for all of {still} too close to {target} V to "
            "tell whether it was above or below."
        )
        return text.format(**told)
    text = tr("{when}: while lying still mostly {low} V to {high} V.")
    return " ".join((text.format(**told), _shares_sentence(level, data.summary.still_s, told)))


def _shares_sentence(level: LevelSummary, still_s: float, told: Mapping[str, str]) -> str:
    """Write on which side of the target the value was for which share of the night, with the hours behind it.

    Args:
        level: of the night, some of it too close to the target to tell.
        still_s: how long somebody lay still, s.
        told: the target and the lengths as they are shown.
    """
    text = tr(
        "Of that time ({still}) {below_share} was clearly below {target} V ({below}), {above_share} clearly above "
        "({above}); for the rest ({near}) the measurement cannot tell."
    )
    return text.format(
        **told,
        below_share=tr(share_in_words(level.clearly_below_s / still_s)),
        above_share=tr(share_in_words(level.clearly_above_s / still_s)),
    )


_SHARES = (
    (0.0, marked("nearly nothing")),
    (0.1, marked("about a tenth")),
    (0.2, marked("about a fifth")),
    (0.25, marked("about a quarter")),
    (1 / 3, marked("about a third")),
    (0.4, marked("about two fifths")),
    (0.5, marked("about half")),
    (0.6, marked("about three fifths")),
    (2 / 3, marked("about two thirds")),
    (0.75, marked("about three quarters")),
    (0.8, marked("about four fifths")),
    (0.9, marked("about nine tenths")),
    (1.0, marked("nearly all")),
)
"""Shares as they are spoken of; none is further than a twentieth from what it stands for."""


def share_in_words(share: float) -> str:
    """Say a share of 0 to 1 in words, in English; exactly nothing is nothing."""
    return min(_SHARES, key=lambda one: abs(one[0] - share))[1] if share else marked("nothing")


def _lengths(level: LevelSummary, still_s: float) -> dict[str, str]:
    """How long the value was on which side of the target, as shown: the parts add up to the time of lying still."""
    parts_s = (level.clearly_below_s, level.clearly_above_s, level.near_target_s)
    still, parts = format_parts(still_s, parts_s)
    return {"still": still, **dict(zip(("below", "above", "near"), parts, strict=True))}


def _list_was_off(data: NightData, plan: SwitchOffPlan, sources: Sequence[Source]) -> bool:
    """Whether it was written down that just tonight's list was off all night."""
    wanted = combination_as_at_night(
        [circuit.id for circuit in plan.off], sources, [cord.id for cord in plan.unplug]
    ).label
    return {change.condition for change in data.night.conditions} == {wanted}


def _of_the_list(data: NightData, the_list: SwitchOffPlan | None, *, was_off: bool) -> list[str]:
    """Write whether tonight's list was off, where the person lay, and what the night says of the list.

    It says something only where both were written down, and where the list was read at that spot.
    """
    night = data.night
    conditions = {change.condition for change in night.conditions}
    was_on = tr("What was on in the night: {conditions}.").format(
        conditions=night.conditions_as(condition_text)
    )
    lay = [tr("The person lay at “{spot}”.").format(spot=night.spot.name)] if night.spot.is_known else []
    if the_list is None:
        return [was_on, *lay]
    if not was_off and conditions and "" not in conditions:
        said = tr("As that is not tonight's list, this night says nothing for or against it.")
        return [was_on, *lay, said]
    if not was_off and not lay:
        text = tr(
            "Where the person lay and what was off was not written down: this night says nothing for or against "
            "tonight's list."
        )
        return [text]
    if not was_off:
        text = tr(
            "Whether tonight's list was off was not written down: this night says nothing for or against it."
        )
        return [*lay, text]
    if not lay:
        text = tr(
            "All that is on tonight's list was off; at which spot somebody lay was not written down: this night says "
            "nothing for or against it."
        )
        return [text]
    off = tr("All that is on tonight's list was off, and the person lay at “{spot}”.").format(
        spot=night.spot.name
    )
    return [off, _why_silent(data, the_list)]


def _read_there(data: NightData, the_list: SwitchOffPlan) -> Reading | None:
    """The reading of the list at the spot of a night; None where it was not read there."""
    spot_id = data.night.spot.spot_id
    return next((s.confirming_reading for s in the_list.spots if s.spot_id == spot_id), None)


def _why_silent(data: NightData, the_list: SwitchOffPlan) -> str:
    """Why a night in which the list was off says nothing of it; empty where it does, which stands beside the list."""
    read = _read_there(data, the_list)
    if read is None:
        return tr("The list was not read there, so this night says nothing for or against it.")
    if why := why_not_comparable(data.night.context, read.context):
        text = tr(
            "This night says nothing for or against it, because it was recorded in another way than the list was "
            "read. {why}"
        )
        return text.format(why=why)
    if data.summary.level is None:
        return tr("As the value was never steady for long enough, this night says nothing for or against it.")
    return ""


def nights_of_the_list(data: ReportData) -> dict[int, str]:
    """Write what the recorded nights tell of tonight's list, by the ids of the spots where they tell something.

    Of several nights at a spot it is the one with the most time clearly above the target: what held once and not
    another time does not hold.

    Args:
        data: of the report.
    """
    plan = data.tonight
    if plan is None or not (plan.off or plan.unplug):
        return {}
    found: dict[int, list[tuple[float, str]]] = {}
    for night in data.nights:
        spot_id, level = night.night.spot.spot_id, night.summary.level
        if spot_id is None or level is None or not _list_was_off(night, plan, data.sources):
            continue
        if not _why_silent(night, plan):
            told = _in_the_night(night, level, plan.target_volts)
            found.setdefault(spot_id, []).append((level.clearly_above_s, told))
    return {spot_id: max(nights, key=lambda one: one[0])[1] for spot_id, nights in found.items()}


def _in_the_night(data: NightData, level: LevelSummary, target_volts: float) -> str:
    """Write how a night with the list off compares with the target, in a sentence without its stop."""
    lengths = _lengths(level, data.summary.still_s)
    if level.clearly_above_s >= MIN_TOLD_S:
        text = tr("Yet in the recorded night it was surely above {target} V for {above} of {still}")
        if data.summary.loads_seen:
            text = tr(
                "Yet in the recorded night it was surely above {target} V for {above} of {still}: it is lifted by "
                "something that switches by itself {loads}, which the list does not stop"
            )
    elif data.summary.overloaded:
        text = tr(
            "In the recorded night it was at times beyond the meter's range, so it is not shown to hold all night"
        )
    elif level.is_all_near_target:
        text = tr("In the recorded night it was too close to {target} V too, for all of {still}")
    elif _is_doubted(data) or data.summary.still_s - level.clearly_below_s >= MIN_TOLD_S:
        text = tr(
            "In the recorded night it was below {target} V for {below} of {still}, so it is not shown to hold all night"
        )
    else:
        text = tr("In the recorded night it was below {target} V too, for all of {still}")
    loads = joined(
        [
            tr("every {period} for {length}").format(
                period=format_long_duration(load.period_s), length=format_long_duration(load.on_s)
            )
            for load in data.summary.loads_seen
        ]
    )
    return text.format(target=plain(target_volts), loads=loads, **lengths)


def _is_doubted(data: NightData) -> bool:
    """Whether some of a night may not be as low as what is said of it: nobody there, a display that stood still."""
    hidden = any(part.hides_a_level for part in data.night.left_out)
    return bool(hidden or data.night.doubted or data.summary.maybe_empty)


def _loads(data: NightData, *, has_list: bool, was_off: bool) -> list[str]:
    """Write what comes again by itself, in a sentence, and whether tonight's list switches it off."""
    if data.summary.level is None or not data.summary.loads_seen:
        return []
    loads = [
        tr("every {period} for {length} by {volts} V").format(
            volts=fixed(load.volts, 2),
            period=format_long_duration(load.period_s),
            length=format_long_duration(load.on_s),
        )
        for load in data.summary.loads_seen
    ]
    text = tr("Something that switches by itself lifts the value: {loads}.")
    said = text.format(loads=joined(loads))
    if not has_list:
        return [said]
    if was_off:
        return [said, tr("Tonight's list does not stop it.")]
    return [said, tr("Whether tonight's breakers stop it is not known.")]


def _not_counted(data: NightData) -> list[str]:
    """Write which time is in none of these figures, and which counts with a doubt, in a sentence each."""
    night, frozen = data.night, data.summary.frozen
    # Readings, checks and what somebody moved by hand are known to the household; that it was restless may not be.
    out = [
        left_out_sentences(night, part)
        for part in night.left_out
        if part.why in (NOT_LYING, NOT_STEADY) or part.is_higher
    ]
    out += [*switched_sentences(night, data.summary), *maybe_empty_sentences(night, data.summary)]
    if data.summary.missed_s >= MIN_MISSED_S:
        text = tr("For {length} of that time nothing was recorded: how high it was then is not known.")
        out.append(text.format(length=format_long_duration(data.summary.missed_s)))
    out += [unseen_change_text(night, change) for change in unseen_changes(night.record)]
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
