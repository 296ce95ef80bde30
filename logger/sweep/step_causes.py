"""Which steps are explained: the body went elsewhere, a breaker was read, a check made, or stated then what is on.

In: steps without a label, the motions of their run, the readings and values of checks between which they lie, and when
it was stated what is on. Out: the cause of each. Such a step needs no name, and may be given one all the same.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal, NamedTuple

from logger.clock import NS_PER_S
from logger.settling.events import Motion
from logger.sweep.check_steps import EDGE_S
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, StatedMoment
from logger.visit.records.reading_records import Reading, UsedStep
from logger.visit.records.recording_records import LoggedEvent
from logger.visit.results.body_moves import is_by_body

BEFORE_STATED_S = 60.0
"""A step at most so long before a statement of what is on, in seconds, may be the switching that was stated: a panel is
often in another room, and who comes back from it states it then. No source, ours."""

AFTER_STATED_S = 3.0
"""A step at most so long after a statement, in seconds, may still be its switching: somebody else at the panel flips a
breaker as it is called out and entered. What comes later is another switching, such as of a lamp that is pulled once
what is on was entered. No source, ours."""

STATED_CHANGES: dict[str, Literal["rise", "fall"]] = {EVERYTHING_ON: "rise", EVERYTHING_OFF: "fall"}
"""Which way a step goes where what was stated has only switched things on, or only off. A panel whose legs cancel may
do the opposite: such a step is asked about."""


class StepCause(StrEnum):
    """What a step was where the values beside it show that."""

    SPOT = "spot changed"
    SWEEP = "breaker read in the sweep"
    MOVED_OR_SWEEP = "body moved, or breaker read in the sweep"
    CHECK = "check"
    STATED = "what is on was stated"
    NIGHT = "in a night"
    """Somebody slept: what switched then by itself is summed up by the stage Night."""


@dataclass(frozen=True, slots=True)
class TakenValue:
    """A value that was taken in a run: of a reading, or of a step of a check.

    Args:
        run_id: of the run.
        start_s: when the still stretch that it rests on begins, seconds since the run's start.
        end_s: when it ends.
        place: the id of the spot; None for a check.
        condition: what was on, as stated; empty for a check.
        live: the ids of what was on; None where they were not stated, and for a check.
    """

    run_id: int
    start_s: float
    end_s: float
    place: int | None
    condition: str = ""
    live: frozenset[int] | None = None


def taken_values(
    readings: Iterable[Reading], check_steps: Iterable[UsedStep], run_id: int, run_started_utc_ns: int
) -> list[TakenValue]:
    """List the values that were taken in a run, in the order of time; voided readings are left out.

    Args:
        readings: of the visit.
        check_steps: of the visit, also of checks that were begun again.
        run_id: of the run.
        run_started_utc_ns: when the run began, on the steady time line.
    """
    values = [
        TakenValue(
            run_id,
            (reading.start_utc_ns - run_started_utc_ns) / NS_PER_S,
            (reading.end_utc_ns - run_started_utc_ns) / NS_PER_S,
            reading.spot_id,
            reading.condition,
            reading.live,
        )
        for reading in readings
        if reading.run_id == run_id
        and reading.void_reason is None
        and reading.start_utc_ns is not None
        and reading.end_utc_ns is not None
    ]
    values += [
        TakenValue(run_id, step.span.start_t_ns / NS_PER_S, step.span.end_t_ns / NS_PER_S, None)
        for step in check_steps
        if step.span.run_id == run_id
    ]
    return sorted(values, key=lambda value: value.end_s)


def motions_by_run(events: Iterable[LoggedEvent]) -> dict[int, list[Motion]]:
    """The motions among the events, by the run that they lie in."""
    found: dict[int, list[Motion]] = {}
    for one in events:
        if isinstance(one.event, Motion):
            found.setdefault(one.run_id, []).append(one.event)
    return found


class StatedAt(NamedTuple):
    """When it was stated what is on.

    Args:
        time_s: seconds since the run's start.
        condition: that was stated.
        repeats: the same was stated before, so that nothing was switched for it, as far as anybody said.
    """

    time_s: float
    condition: str
    repeats: bool = False


def stated_times(
    moments: Iterable[StatedMoment], readings: Iterable[Reading], run_id: int, run_started_utc_ns: int
) -> list[StatedAt]:
    """List when it was stated in a run what is on, in the order of time.

    A reading of the sweep is a statement too, also one that was voided later: it begins when its combination was set.

    Args:
        moments: of the visit, oldest first, also those from which on it was not known what is on.
        readings: of the visit, oldest first.
        run_id: of the run.
        run_started_utc_ns: when the run began, on the steady time line.
    """
    entered = [(moment.run_id, moment.utc_ns, moment.condition, bool(moment.condition)) for moment in moments]
    taken = [
        (reading.run_id, reading.start_utc_ns, reading.condition, reading.live is not None)
        for reading in readings
    ]
    stated = []
    # A reading is compared with readings alone: its own combination was entered just before it, and set then.
    for series in (entered, taken):
        before = ""
        for of_run_id, at_ns, condition, is_statement in series:
            if is_statement and of_run_id == run_id and at_ns is not None:
                at_s = (at_ns - run_started_utc_ns) / NS_PER_S
                stated.append(StatedAt(at_s, condition, condition == before))
            before = condition
    return sorted(stated)


def step_cause(
    time_s: float,
    change_volts: float,
    values: Sequence[TakenValue],
    motions: Iterable[Motion],
    stated: Iterable[StatedAt] = (),
) -> StepCause | None:
    """Find what a step was, by the values before and after it and the statements about it; None where nothing shows it.

    Args:
        time_s: of the step, seconds since the run's start.
        change_volts: its size, V, with its sign.
        values: of the step's run, in the order of time.
        motions: of the step's run.
        stated: when it was stated in that run what is on.
    """
    shown = _cause_by_values(time_s, values, motions)
    if shown is None and any(_is_of_statement(time_s, change_volts, at, values) for at in stated):
        return StepCause.STATED
    return shown


def may_be_of_circuits(time_s: float, values: Sequence[TakenValue], stated: Iterable[StatedAt] = ()) -> bool:
    """Whether circuits may have been switched when a step came, so that its size alone does not show what it was.

    They were from a reading of the sweep until what is on is read otherwise, between two readings with other things on,
    whatever their spots, and about a statement of what is on. Once everything on was stated nobody is at the panel any
    more.

    Args:
        time_s: of the step, seconds since the run's start.
        values: of the step's run, in the order of time.
        stated: when it was stated in that run what is on.
    """
    if any(_is_about(time_s, at, values) for at in stated):
        return True
    readings = [value for value in values if value.place is not None]
    before = next((value for value in reversed(readings) if value.end_s <= time_s), None)
    after = next((value for value in readings if value.end_s > time_s), None)
    if before is None:
        return False
    return before.live is not None or (after is not None and _is_switched(before, after))


def _is_of_statement(
    time_s: float, change_volts: float, stated: StatedAt, values: Sequence[TakenValue]
) -> bool:
    """Whether a step is the switching that a statement is about: it came before it or with it, and goes that way."""
    if stated.repeats or not -BEFORE_STATED_S <= time_s - stated.time_s <= AFTER_STATED_S:
        return False
    wanted = STATED_CHANGES.get(stated.condition)
    if wanted is not None and wanted != ("rise" if change_volts > 0 else "fall"):
        return False
    return not _is_read_between(stated, time_s, values)


def _is_about(time_s: float, stated: StatedAt, values: Sequence[TakenValue]) -> bool:
    """Whether somebody may have been at the panel for a statement when a step came."""
    holds_s = AFTER_STATED_S if stated.condition == EVERYTHING_ON else BEFORE_STATED_S
    near = -BEFORE_STATED_S <= time_s - stated.time_s <= holds_s
    return near and not _is_read_between(stated, time_s, values)


def _is_read_between(stated: StatedAt, time_s: float, values: Sequence[TakenValue]) -> bool:
    """Whether a value was taken after a statement and before a step: what was stated had been set by then."""
    return any(stated.time_s <= value.end_s <= time_s for value in values)


def _cause_by_values(
    time_s: float, values: Sequence[TakenValue], motions: Iterable[Motion]
) -> StepCause | None:
    """What the values before and after a step show that it was; see `step_cause`."""
    before = next((value for value in reversed(values) if value.end_s <= time_s), None)
    # A still stretch begins about where the step lies that leads into it.
    after = next(
        (value for value in values if value.end_s > time_s and value.start_s >= time_s - EDGE_S), None
    )
    if before is None or after is None:
        return None
    if before.place is None and after.place is None:
        return StepCause.CHECK
    moves = [*motions]
    moved, switched = is_by_body(time_s, moves), _is_switched(before, after)
    if before.place == after.place:
        # Also where the reading was moved to this spot afterwards: the trace shows that somebody moved all the same.
        return (StepCause.MOVED_OR_SWEEP if moved else StepCause.SWEEP) if switched else None
    if moved:
        return StepCause.SPOT
    # Whoever has gone to the spot, and lies still, had something switched: the last step before the reading. It may as
    # well be the end of the walk.
    leads_into = after.start_s <= time_s + EDGE_S and None not in (before.place, after.place)
    if not (leads_into and switched):
        return None
    has_walked = any(before.end_s < move.end_s and move.start_s < time_s for move in moves)
    return StepCause.MOVED_OR_SWEEP if has_walked else StepCause.SWEEP


def spot_gone_to(
    time_s: float, values: Sequence[TakenValue], motions: Iterable[Motion], chosen: int | None
) -> int | None:
    """The spot that the body may be on the way to at a step, before anything is read there; None where nothing says so.

    The body moved at the step, and another spot is chosen than that of the value before it.

    Args:
        time_s: of the step, seconds since the run's start.
        values: of the step's run, in the order of time.
        motions: of the step's run.
        chosen: the id of the spot that the next reading is for; None for none.
    """
    if not values or values[-1].end_s > time_s or chosen in (None, values[-1].place):
        return None
    return chosen if is_by_body(time_s, motions) else None


def _is_switched(before: TakenValue, after: TakenValue) -> bool:
    """Whether something else was on in the later value."""
    if before.condition != after.condition:
        return True
    return before.live is not None and after.live is not None and before.live != after.live
