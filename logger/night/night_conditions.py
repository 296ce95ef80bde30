"""What was on in a night, as somebody entered it: never assumed, and "not entered" where nobody did.

What was entered for the night itself counts, before it or in the morning; else what was stated for readings in the same
recording, while that holds and nothing speaks against it. A recording that was stopped ends what was stated in it: what
was switched until the next one began was not seen. In: facts, readings and events of a visit log, and when a night was.
Out: what was on, piece by piece.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from math import hypot
from typing import Any

from logger.clock import NS_PER_S
from logger.night.night_entries import NightEntry, entered_for, entries_of, keep_entry
from logger.settling.events import Motion, Settled, Step
from logger.translation import marked
from logger.visit.records.condition import STILL_AFTER_STATEMENT_S, Statement
from logger.visit.records.fact_names import CONDITION, CONDITION_BEGUN, NIGHT_CONDITION
from logger.visit.records.reading_records import Reading
from logger.visit.records.recording_records import Run
from logger.visit.results.body_moves import is_by_body
from logger.visit.results.condition_doubt import contradict
from logger.visit.storage.visit_log import VisitLog

NOT_ENTERED = marked("not entered")
WHAT_WAS_ON = marked("What was on in the night")


@dataclass(frozen=True, slots=True)
class NightCondition:
    """What was on from a moment of a night until the next one.

    Args:
        since_s: from when, seconds since the night's start.
        condition: what was on; empty where nobody entered it.
    """

    since_s: float
    condition: str


def keep_night_entry(log: VisitLog, entry: NightEntry[str]) -> None:
    """Keep what is on in a night, empty for not known after all; its time is that of now."""
    keep_entry(log, NIGHT_CONDITION, entry, {"condition": entry.value})


def night_entries(log: VisitLog) -> list[NightEntry[str]]:
    """Return what was entered to be on in the nights of a visit, oldest first; what is no entry is left out."""
    return entries_of(log, NIGHT_CONDITION, _condition_of)


def _condition_of(kept: Mapping[str, Any]) -> str | None:
    condition = kept["condition"]
    return None if condition is None else str(condition)


def condition_at(log: VisitLog, run_ids: Collection[int], start_utc_ns: int) -> str:
    """Return what was on when a night began; empty where nobody entered it.

    Args:
        log: the visit log.
        run_ids: the runs of the night's recording.
        start_utc_ns: when the night began.
    """
    entered = entered_for(night_entries(log), run_ids, start_utc_ns)
    if entered is not None:
        return entered
    stated = _last_stated(log, start_utc_ns)
    readings = [reading for reading in log.present_readings() if reading.utc_ns <= start_utc_ns]
    begun = [run for run in log.runs.all() if run.id in run_ids and run.started_utc_ns <= start_utc_ns]
    if not begun or not stated.holds(readings, start_utc_ns):
        return ""
    same = [r for r in readings if r.void_reason is None and r.condition == stated.condition]
    return "" if _is_in_doubt(log, begun[-1], stated, same, start_utc_ns) else stated.condition


def _last_stated(log: VisitLog, until_utc_ns: int) -> Statement:
    """Return what was stated for readings last until a moment."""
    stated = [
        Statement(condition, utc_ns)
        for utc_ns, condition in log.facts.values_of(CONDITION)
        if utc_ns <= until_utc_ns
    ]
    if not stated:
        return Statement()
    begun = [text for utc_ns, text in log.facts.values_of(CONDITION_BEGUN) if utc_ns >= stated[-1].utc_ns]
    return stated[-1].with_moment(begun[0]) if begun else stated[-1]


def _is_in_doubt(
    log: VisitLog, run: Run, stated: Statement, same: Sequence[Reading], start_utc_ns: int
) -> bool:
    """Whether something speaks against a statement by the time a night begins, or it is of an earlier recording.

    Args:
        log: the visit log.
        run: the one in which the night begins.
        stated: what was stated.
        same: the readings in that condition, oldest first.
        start_utc_ns: when the night begins.
    """
    known_ns = max([stated.steady_utc_ns, *(r.end_utc_ns or 0 for r in same if r.run_id == run.id)])
    if known_ns < run.started_utc_ns:
        return True
    events = [one.event for one in log.events.with_open() if one.run_id == run.id]
    start_s = (start_utc_ns - run.started_utc_ns) / NS_PER_S
    since_s = (known_ns - run.started_utc_ns) / NS_PER_S + STILL_AFTER_STATEMENT_S
    labels = {label.t_ns: label.meaning for label in log.step_labels.all() if label.run_id == run.id}
    motions = [event for event in events if isinstance(event, Motion)]
    for step in events:
        if isinstance(step, Step) and since_s < step.time_s <= start_s:
            meaning = labels.get(round(step.time_s * NS_PER_S), "")
            if meaning in ("on", "off"):
                return True
            is_far = contradict(step.before_volts, step.after_volts, step.u_volts)
            if is_far and meaning != "ignored" and not is_by_body(step.time_s, motions):
                return True
    newest = {reading.spot_id: reading for reading in same}.values()
    level = next((event for event in events if isinstance(event, Settled) and event.end_s > start_s), None)
    return (
        level is not None
        and bool(newest)
        and all(
            contradict(reading.volts, level.volts, hypot(reading.u_volts, level.u_volts))
            for reading in newest
        )
    )


def night_conditions(
    log: VisitLog, run_ids: Collection[int], start_utc_ns: int, end_utc_ns: int
) -> tuple[NightCondition, ...]:
    """Return what was on in a night: when it began, and each change that was stated during it.

    Args:
        log: the visit log.
        run_ids: the runs of the night's recording.
        start_utc_ns: when the night began.
        end_utc_ns: when it ended.
    """
    found = [NightCondition(0.0, condition_at(log, run_ids, start_utc_ns))]
    for utc_ns, condition in log.facts.values_of(CONDITION):
        if start_utc_ns < utc_ns < end_utc_ns and condition != found[-1].condition:
            found.append(NightCondition((utc_ns - start_utc_ns) / NS_PER_S, condition))
    return tuple(found)
