"""Two nights compared as two readings are: refused where they are not comparable, with meter and reference in u.

In: two nights with the context in which they were recorded. Out: both levels and their difference with all that is
uncertain about them, and the verdict; or why there is none.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from math import hypot

from logger.clock import format_long_duration
from logger.metrology.context import Context, shared_range, why_not_comparable, why_visits_not_comparable
from logger.metrology.rounding import fixed
from logger.metrology.setup import UNKNOWN_METER, MeterFacts
from logger.metrology.uncertainty import (
    Budget,
    difference_budget,
    independent_difference_budget,
)
from logger.night.analysis.night_comparison import (
    NightComparison,
    NightDifference,
    NightVerdict,
    compare_records,
)
from logger.night.left_out import left_out_sentences
from logger.night.night_level import budget_in, learned_count_volts, u_count
from logger.night.recorded_nights import Night
from logger.translation import marked, tr
from logger.visit.results.same_home import why_maybe_other_home

LABELS = ("after", "before")

SAME_NIGHT = marked(
    "Both are the same night: one recording, of which each file may hold a copy. "
    "Choose another night to compare with."
)
TOO_LITTLE_STILL = marked("The nights cannot be compared: one of them has too little still time.")
TOO_FEW_PIECES = marked(
    "Not enough independent pieces in these nights: the level wanders too slowly for its scatter to be known."
)
OTHER_RANGE = "read on different ranges, so that the meter's gain does not cancel"
OTHER_METER = "read with different meters, so that their gain does not cancel"
AT_ONE_TIME = "recorded at the same time in part, so that neither shows a change of the other"
OVERLOADED = marked(
    "The nights cannot be compared: in one of them the voltage was above the meter's range for {length}, which is "
    "higher than the meter can show."
)
HIGHER_LEFT_OUT = "compared without a part of a recording that was higher than its night"
HIDDEN_LEVEL = (
    marked(
        "The nights cannot be compared: of the earlier one {stretch} is left out as not steady, and its value was "
        "{low} V to {high} V then, higher than in the rest. To compare the rest alone, give the edges of that "
        "night by hand."
    ),
    marked(
        "The nights cannot be compared: of the later one {stretch} is left out as not steady, and its value was "
        "{low} V to {high} V then, higher than in the rest. To compare the rest alone, give the edges of that "
        "night by hand."
    ),
)
"""Why there is no verdict where the earlier or the later night may have been higher than what is said of it."""
OTHER_SPOT = "recorded at spots with different names, so that the difference may be that of the spots"
SOME_OVERLOAD = "compared without the seconds or minutes in which the voltage was above the meter's range"
MAX_OVERLOAD_SHARE = 0.01
"""No verdict where a night was overloaded for more than this share of the time with values or overload: its level is
higher than that of its values. No source."""
UNDESCRIBED_METER = "read with meters that nobody described, so that their gain is not taken to cancel"

REMARK_SENTENCES: Mapping[str, str] = {
    OTHER_RANGE: marked(
        "The nights were read on different ranges, so the meter's error need not be the same "
        "in both. The uncertainty of the difference is larger for that."
    ),
    OTHER_METER: marked(
        "The nights were read with different meters, so their errors need not be the same. "
        "The uncertainty of the difference is larger for that."
    ),
    UNDESCRIBED_METER: marked(
        "The meters of these nights were not described: their errors may differ, and the difference is less certain."
    ),
    AT_ONE_TIME: marked(
        "The nights were recorded at the same time in part, so that neither shows a change of the other."
    ),
    OTHER_SPOT: marked(
        "The nights were recorded at spots with different names, so that the difference may be that of the spots."
    ),
    HIGHER_LEFT_OUT: marked(
        "A part that is left out of one of the nights was higher than that night: this says nothing of that part."
    ),
    SOME_OVERLOAD: marked(
        "The nights were compared without the seconds or minutes in which the voltage was above the meter's range."
    ),
}
"""What limits a comparison, as JSON has it, and the sentence that is shown."""


@dataclass(frozen=True, slots=True)
class ComparedNights:
    """Two nights, the earlier one first, and how they compare.

    Args:
        why_not: why they are not comparable, in one sentence; empty where they are.
        before: level of the earlier night with its budget; None where they are not comparable.
        after: level of the later night with its budget; None where they are not comparable.
        difference: the second minus the first, with all of its uncertainty; None where they are not comparable.
        verdict: whether the second night is lower, higher, or cannot be distinguished from the first.
        remarks: what limits the comparison, in a few words each: keys of `REMARK_SENTENCES`.
        began: local time at which each night began; empty where both are the same night.
        turned: whether the night that was named as before is the later one. It counts as after all the same.
        conditions: what was on in either night, in words; empty where both are the same night.
        spots: where the person lay in either night, each empty where that is not known; none where both are the same.
        left_out: what of either recording is left out and may have been another night, in sentences, each empty where
            nothing is; none where both are the same.
    """

    why_not: str
    before: Budget | None = None
    after: Budget | None = None
    difference: NightDifference | None = None
    verdict: NightVerdict = NightVerdict.NOT_COMPARABLE
    remarks: tuple[str, ...] = ()
    began: tuple[datetime, ...] = ()
    turned: bool = False
    conditions: tuple[str, ...] = ()
    spots: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()


def in_order(one: Night, other: Night, *, same_visit: bool) -> tuple[Night, Night]:
    """Return two nights in the order of their dates; simulated nights of one visit in the order of recording.

    A practice night is dated to before everything in its visit, so that of two the later one has the earlier date.

    Args:
        one: the one night.
        other: the other one.
        same_visit: whether both are of one visit.
    """
    if same_visit and one.simulated and other.simulated:
        is_later = other.runs[0].id < one.runs[0].id
    else:
        is_later = other.start_utc_ns < one.start_utc_ns
    return (other, one) if is_later else (one, other)


def compare_nights(one: Night, other: Night, *, same_visit: bool) -> ComparedNights:
    """Compare two nights. The one that was recorded earlier counts as before, whichever is given first.

    Args:
        one: the night that was named as before, or that is shown first.
        other: the other one.
        same_visit: whether both are of one visit, in which an unstated reference or meter is the same one.
    """
    if _same_recording(one, other):
        return ComparedNights(tr(SAME_NIGHT))
    before, after = in_order(one, other, same_visit=same_visit)
    found = _compared(before, after, same_visit=same_visit)
    earlier, later = sorted((before, after), key=lambda night: night.start_utc_ns)
    at_one_time = (AT_ONE_TIME,) if later.start_utc_ns < earlier.utc_ns(earlier.record.end_s) else ()
    other_spot = (OTHER_SPOT,) if before.spot.is_another(after.spot, same_visit=same_visit) else ()
    overloaded = (SOME_OVERLOAD,) if before.record.overloaded or after.record.overloaded else ()
    higher = (
        (HIGHER_LEFT_OUT,)
        if any(one.is_higher and one.limits_comparison for one in (*before.left_out, *after.left_out))
        else ()
    )
    return replace(
        found,
        remarks=(*found.remarks, *at_one_time, *other_spot, *overloaded, *higher),
        began=(before.local(0.0), after.local(0.0)),
        turned=before is not one,
        conditions=(before.conditions_text, after.conditions_text),
        spots=(before.spot.name, after.spot.name),
        left_out=(_left_out_text(before), _left_out_text(after)),
    )


def _left_out_text(night: Night) -> str:
    return " ".join(left_out_sentences(night, part) for part in night.left_out if part.limits_comparison)


def _same_recording(one: Night, other: Night) -> bool:
    """Whether a run of one night is a copy of a run of the other: alike in start, port and settings."""
    runs, others = (
        {(run.started_utc_ns, run.port, run.settings) for run in night.runs} for night in (one, other)
    )
    return bool(runs & others)


def _compared(before: Night, after: Night, *, same_visit: bool) -> ComparedNights:
    """Compare two nights, the earlier one first; see `compare_nights`."""
    rule = why_not_comparable if same_visit else why_visits_not_comparable
    if why := rule(before.context, after.context):
        return ComparedNights(why)
    if not same_visit and (why := _why_other_home(before.context, after.context)):
        return ComparedNights(why)
    assert before.context is not None and after.context is not None
    for night in (before.record, after.record):
        overload_s = sum(end_s - start_s for start_s, end_s in night.overloaded)
        if overload_s > MAX_OVERLOAD_SHARE * (
            night.end_s - sum(end_s - start_s for start_s, end_s in night.silent)
        ):
            return ComparedNights(tr(OVERLOADED).format(length=format_long_duration(overload_s)))
    for whole, text in zip((before, after), HIDDEN_LEVEL, strict=True):
        for part in whole.left_out:
            if part.hides_a_level and part.volts is not None:
                low, high = (fixed(volts, 2) for volts in part.volts)
                stretch = whole.left_out_text(part.stretch)
                return ComparedNights(tr(text).format(stretch=stretch, low=low, high=high))
    found = compare_records(before.record, after.record)
    if found is None:
        return ComparedNights(tr(TOO_LITTLE_STILL))
    if not found.enough_pieces:
        return ComparedNights(tr(TOO_FEW_PIECES))
    counts_volts = learned_count_volts(before.record), learned_count_volts(after.record)
    return _with_budget(found, (before.context, after.context), counts_volts, same_visit=same_visit)


def _why_other_home(before: Context | None, after: Context | None) -> str:
    """Return why the nights are of two homes; empty where a household was not entered, because nobody knows then."""
    households = [context.setup.household if context else "" for context in (before, after)]
    return why_maybe_other_home(*households) if all(name.strip() for name in households) else ""


def _with_budget(
    found: NightComparison,
    contexts: tuple[Context, Context],
    counts_volts: tuple[float, float],
    *,
    same_visit: bool,
) -> ComparedNights:
    """Add what meter and reference may be off by, as a difference of two readings has it.

    Args:
        found: the comparison by scatter alone.
        contexts: context of each night.
        counts_volts: least count that each night's samples show, V.
        same_visit: whether both are of one visit.
    """
    levels = found.before, found.after
    # The mean of a steady display does not come nearer to the truth with more samples than half a count.
    old, new = (
        context.budget(level.volts, u_count(level.volts, context, count_volts))
        for level, context, count_volts in zip(levels, contexts, counts_volts, strict=True)
    )
    meters = contexts[0].setup.meter, contexts[1].setup.meter
    accuracy = shared_range(*contexts, (old.volts, new.volts))
    remarks: tuple[str, ...] = ()
    if accuracy is not None and (same_visit or meters[0] != UNKNOWN_METER):
        systematic = difference_budget(new, old, accuracy, LABELS)
    else:
        systematic = independent_difference_budget(new, old, LABELS)
        remarks = (_why_gain_stays(*meters),)
    difference = found.difference.widened(hypot(found.difference.u_volts, systematic.u_volts))
    before, after = (
        budget_in(context, level.volts, level.u_volts, count_volts)
        for level, context, count_volts in zip(levels, contexts, counts_volts, strict=True)
    )
    verdict = NightComparison(found.before, found.after, difference).verdict
    return ComparedNights("", before, after, difference, verdict, remarks)


def _why_gain_stays(one: MeterFacts, other: MeterFacts) -> str:
    if one != other:
        return OTHER_METER
    return UNDESCRIBED_METER if one == UNKNOWN_METER else OTHER_RANGE
