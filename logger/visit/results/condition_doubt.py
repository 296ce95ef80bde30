"""What speaks against a statement of what is on: a settled value, or a step of the trace, that came after it.

A statement holds until somebody states something else, and the panel does not state anything. In: the statement, the
readings, the value of now and the steps without a label. Out: one sentence, or nothing. What speaks against a statement
has to be large: a body repeats its posture within some tens of per cent, and things of the home switch by themselves.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import hypot

from logger.clock import NS_PER_S
from logger.metrology.context import Context, why_not_comparable
from logger.metrology.rounding import fixed
from logger.translation import tr, tr_kept
from logger.visit.records.condition import STILL_AFTER_STATEMENT_S, Statement
from logger.visit.records.reading_records import Reading
from logger.visit.results.used_stretch import MIN_CHANGE_SIGMAS

MIN_RATIO = 2.0
"""Two levels of which the one is so many times the other are not the same spot in another posture. No source, ours."""

MIN_APART_VOLTS = 0.05
"""Nor are they worth a question where they are nearer to each other than this: half of the usual target."""


@dataclass(frozen=True, slots=True)
class Level:
    """A level of the trace.

    Args:
        volts: its value, V.
        u_volts: its standard uncertainty, V.
        since_utc_ns: when it began, on the steady time line.
    """

    volts: float
    u_volts: float
    since_utc_ns: int


@dataclass(frozen=True, slots=True)
class UnexplainedStep:
    """A step that nobody has labelled.

    Args:
        utc_ns: when, on the steady time line; of one that nobody saw, when it was at the earliest.
        before_volts: the level before it, V.
        after_volts: the level after it, V.
        unseen_s: how long no values came while it happened, seconds; 0 for one that was seen.
    """

    utc_ns: int
    before_volts: float
    after_volts: float
    unseen_s: float = 0.0


def condition_doubt(
    stated: Statement,
    level: Level,
    at_spot: Sequence[Reading],
    steps: Iterable[UnexplainedStep],
    context: Context,
) -> str:
    """Format what speaks against a statement since it was made, in one sentence; empty where nothing does.

    Args:
        stated: what is on by the user's word.
        level: the settled value of now.
        at_spot: the readings of the spot that it is of, oldest first.
        steps: those without a label, in any order.
        context: what the value of now is read with.
    """
    if not stated.condition:
        return ""
    same = [r for r in at_spot if r.void_reason is None and r.condition == stated.condition]
    seen = [r for r in same if _is_comparable(r, context)]
    if seen and level.since_utc_ns > stated.steady_utc_ns:
        last = seen[-1]
        u_volts = hypot(last.u_volts, level.u_volts)
        if contradict(last.volts, level.volts, u_volts):
            # The value goes on while the question stands: it is above, and a number here would soon be another.
            text = (
                tr(
                    "“{spot}” was read as {volts} V with {condition}, and the value now is at least twice that."
                )
                if level.volts > last.volts
                else tr(
                    "“{spot}” was read as {volts} V with {condition}, and the value now is at most half of that."
                )
            )
            return text.format(
                spot=last.spot_name, volts=fixed(last.volts, 2), condition=tr_kept(stated.condition)
            )
    # A step that comes with the statement is what was stated; one before a reading in that condition was answered for
    # when that was taken.
    answered_utc_ns = max(
        [stated.steady_utc_ns + round(STILL_AFTER_STATEMENT_S * NS_PER_S), *(r.end_utc_ns or 0 for r in same)]
    )
    for step in steps:
        if step.utc_ns > answered_utc_ns and contradict(step.before_volts, step.after_volts, level.u_volts):
            said = {
                "before": fixed(step.before_volts, 2),
                "after": fixed(step.after_volts, 2),
                "condition": tr_kept(stated.condition),
            }
            if not step.unseen_s:
                return tr(
                    "The value went from {before} V to {after} V at once after “{condition}” was entered."
                ).format(**said)
            return tr(
                "The value went from {before} V to {after} V while no values came ({seconds} s), after “{condition}” "
                "was entered."
            ).format(**said, seconds=f"{step.unseen_s:.0f}")
    return ""


def _is_comparable(reading: Reading, context: Context) -> bool:
    """Whether a reading tells what the value of now would be: also one whose reference was corrected, by word alone."""
    if reading.context is None or reading.reference_corrected:
        return True
    return not why_not_comparable(reading.context, context)


def contradict(one_volts: float, other_volts: float, u_volts: float) -> bool:
    """Whether two levels are too far apart to be of one spot with the same things on.

    Args:
        one_volts: the one, V.
        other_volts: the other, V.
        u_volts: standard uncertainty of their difference, V.
    """
    low, high = sorted((abs(one_volts), abs(other_volts)))
    return high - low >= max(MIN_APART_VOLTS, MIN_CHANGE_SIGMAS * u_volts) and high >= MIN_RATIO * low
