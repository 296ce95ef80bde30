"""What happened between two levels: a movement, something switched, both, or nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum, auto
from math import sqrt

from logger.settling import limits as lim
from logger.settling.edges import Edge, find_edges, is_switching, onset_of_small_step
from logger.settling.events import Motion, Step
from logger.settling.line_fit import change_of, split_between
from logger.settling.signal_model import SignalModel, outlier_limit
from logger.settling.span import OpenSpan
from logger.settling.transition import Interruption, Transition


class Cause(Enum):
    """What led from one level to the next."""

    UNCLEAR = auto()
    """Neither a movement nor a clean jump."""
    SWITCHED = auto()
    MOVED = auto()


@dataclass(frozen=True, slots=True)
class Classification:
    """Events that led to a level, and when its step was, should it prove to be another level."""

    events: tuple[Motion | Step, ...] = ()
    step_s: float | None = None
    cause: Cause = Cause.UNCLEAR


@dataclass(frozen=True, slots=True)
class TransitionPath:
    """The blocks from a little before a transition until now. `first` is the number of the first."""

    first: int
    times_s: list[float]
    volts: list[float]
    edges: list[Edge]
    """Jumps that were seen: not those across an interruption."""
    interruptions: list[Interruption]
    """Gaps and overloads between two of the blocks."""

    def unseen_change_s(self, index: int) -> float | None:
        """Time in seconds of a change between the blocks `index` - 1 and `index`, if that was interrupted."""
        block = self.first + index
        return next((one.middle_s for one in self.interruptions if one.block == block), None)

    def time_of_change(self, index: int) -> float:
        """Time in seconds of a change that the block at `index` is the first to show."""
        unseen_s = self.unseen_change_s(index)
        return self.times_s[index] if unseen_s is None else unseen_s


@dataclass(frozen=True, slots=True)
class NewLevel:
    """A level that was found."""

    volts: float
    u_volts: float
    """Its standard uncertainty."""
    start_block: int
    """The first block that belongs to it."""
    start_s: float
    """Time of that block."""
    known_at_s: float
    """When it became known."""


def classify(
    model: SignalModel, transition: Transition, before: OpenSpan | None, level: NewLevel
) -> Classification:
    """What led from the level before to a new one.

    Args:
        model: the noise, the count and the recent blocks.
        transition: what is between the two.
        before: the span before; None when there was none.
        level: the new level.
    """
    if before is None:
        motion = _find_motion(model, transition, None, level)
        return Classification((motion,), cause=Cause.MOVED) if motion else Classification()
    is_kept = transition.start_block > model.history.first
    path = _path_of(model, transition)
    switching = is_kept and is_switching(path.times_s, path.volts, path.edges, model.stray_volts)
    if switching and levels_agree(before, level.volts, level.u_volts):
        # On and off again in a moment is a rise that returned.
        first, last = path.edges[0], path.edges[-1]
        switching = path.times_s[last.moved] - path.times_s[first.moved] > lim.BRIEF_S
    if not switching:
        motion = _find_motion(model, transition, before, level)
        if motion is not None:
            return _moved(path, before, level, motion)
    if not is_kept:
        return Classification()
    if len(path.edges) > 1 and not switching:
        return _moved(path, before, level, _movement_of_jumps(path, before, level))
    if path.edges:
        return Classification(tuple(_steps_of_jumps(model, path, before, level)), cause=Cause.SWITCHED)
    if levels_agree(before, level.volts, level.u_volts):
        return Classification()
    split = split_between(path.volts, before.level_volts, level.volts)
    if path.interruptions:
        # What was seen of the change was no jump; where nothing was seen, it may have been one.
        return Classification(step_s=path.unseen_change_s(split))
    near = slice(max(split - lim.ONSET_BLOCKS, 0), split + lim.ONSET_BLOCKS)
    count = lim.SMALL_STEP_NOISE_COUNTS * model.resolution.count_volts
    noise = max(model.noise.sigma_volts, count, lim.SMALL_STEP_NOISE_VOLTS)
    times_s, volts = path.times_s[near], path.volts[near]
    step_s = onset_of_small_step(times_s, volts, split - near.start, before.level_volts, level.volts, noise)
    return Classification(step_s=step_s)


def classify_movement(
    model: SignalModel, transition: Transition, before: OpenSpan | None, level: NewLevel
) -> Classification:
    """What led from the level before to a new one when it is known that the body moved.

    Args:
        model: the noise, the count and the recent blocks.
        transition: what is between the two.
        before: the span before; None when there was none.
        level: the new level.
    """
    motion = _find_motion(model, transition, before, level)
    if before is None:
        return Classification((motion,), cause=Cause.MOVED) if motion else Classification()
    path = _path_of(model, transition)
    if motion is None:
        end_s = max(transition.start_s, level.start_s)
        motion = Motion(transition.start_s, end_s, transition.peak_volts, level.known_at_s)
    return _moved(path, before, level, motion)


def _moved(path: TransitionPath, before: OpenSpan, level: NewLevel, motion: Motion) -> Classification:
    """The classification of a movement, with the step that it may hide.

    Args:
        path: the blocks about the transition.
        before: the span before.
        level: the new level.
        motion: the movement.
    """
    step_s = _hidden_step_s(path, before.level_volts, level.volts, motion)
    return Classification((motion,), step_s, Cause.MOVED)


def step_between(model: SignalModel, step_s: float, before: OpenSpan, span: OpenSpan) -> Step | None:
    """The step between two levels, when they differ for certain and the later one does not itself go on changing.

    Args:
        model: the noise and the recent blocks.
        step_s: when the step was, should it be one.
        before: the span before.
        span: the span after, growing.
    """
    difference = span.level_volts - before.level_volts
    u = sqrt(model.u_level(span.count) ** 2 + before.u_volts**2)
    least_volts = max(lim.STEP_VOLTS, lim.STEP_SIGMAS * u)
    least_volts = max(least_volts, rerounded_volts(span.transition, u))
    unseen = (one for one in span.transition.interruptions if not one.digit_volts)
    if any(one.start_s < step_s < one.end_s for one in unseen):
        # Nobody saw whether the body moved.
        least_volts = max(least_volts, lim.UNSEEN_POSTURE_SHARE * max(span.level_volts, before.level_volts))
    if abs(difference) <= least_volts:
        return None
    now_s = model.history.times_s[-1]
    small = max(lim.SMALL_STEP_VOLTS, lim.SMALL_STEP_SIGMAS * model.stray_volts)
    if abs(difference) < small and now_s - span.start_s < lim.SMALL_STEP_S:
        return None
    so_far = model.history.volts_from(span.start_block)[: lim.LONGEST_JUMP_BLOCKS]
    if abs(change_of(so_far)) > lim.FLAT_SHARE * abs(difference):
        return None
    time_s = _between(step_s, before.end_s, span.start_s)
    return Step(time_s, before.level_volts, span.level_volts, u, now_s)


def rerounded_volts(transition: Transition, u_volts: float) -> float:
    """The largest difference that another rounding makes of one level; 0 where the meter did not change its range.

    Args:
        transition: between the two levels.
        u_volts: standard uncertainty of the difference.
    """
    coarsest_volts = max((one.digit_volts for one in transition.interruptions), default=0.0)
    return coarsest_volts / 2 + lim.REROUNDED_SIGMAS * u_volts if coarsest_volts else 0.0


def levels_agree(before: OpenSpan, level_volts: float, u_volts: float) -> bool:
    """Whether a level agrees with that of the span before it.

    Args:
        before: the span before.
        level_volts: the level.
        u_volts: its standard uncertainty.
    """
    u = sqrt(u_volts**2 + before.u_volts**2)
    difference = abs(level_volts - before.level_volts)
    return difference < max(lim.DEVIATION_VOLTS, lim.SAME_LEVEL_SIGMAS * u)


def is_same_level(model: SignalModel, before: OpenSpan, span: OpenSpan) -> bool:
    """Whether the levels of two spans agree.

    Args:
        model: the noise and the count.
        before: the earlier span, which has ended.
        span: the later span.
    """
    return levels_agree(before, span.level_volts, model.u_level(span.count))


def classify_unfinished(
    model: SignalModel, transition: Transition, before: OpenSpan | None
) -> list[Motion | Step]:
    """What is known of a transition that has not come to a level.

    Args:
        model: the noise, the count and the recent blocks.
        transition: the transition.
        before: the span before it.
    """
    history = model.history
    is_short = history.end - transition.start_block < lim.MIN_UNFINISHED_BLOCKS
    if before is None or is_short or transition.drift_volts_per_block:
        return []
    stray = model.stray_volts
    path = _path_of(model, transition)
    last_s = path.times_s[-1]
    latest_s = path.times_s[-lim.MAX_FLAT_BLOCKS :]
    size = max(lim.AT_LEAST_FLAT_BLOCKS, sum(at_s > last_s - lim.AT_LEAST_FLAT_S for at_s in latest_s))
    rest = path.volts[-size:]
    is_flat = max(rest) - min(rest) <= max(lim.FLAT_SIGMAS * stray, lim.DEVIATION_VOLTS)
    level = sum(rest) / len(rest) if is_flat else before.level_volts
    events: list[Motion | Step] = []
    step_s: float | None = None
    if transition.peak_volts - max(level, before.level_volts) > model.significant(stray):
        events.append(Motion(transition.start_s, last_s, transition.peak_volts, last_s))
        step_s = path.time_of_change(split_between(path.volts, before.level_volts, level))
    elif len(path.edges) == 1 and transition.start_block > history.first:
        step_s = _time_of(path, path.edges[0])
    least_volts = max(lim.STEP_VOLTS, lim.STEP_SIGMAS * stray, rerounded_volts(transition, stray))
    is_other = abs(level - before.level_volts) > least_volts
    if step_s is not None and is_other:
        u = sqrt(before.u_volts**2 + stray**2)
        events.append(Step(max(step_s, before.end_s), before.level_volts, level, u, last_s))
    return events


def _path_of(model: SignalModel, transition: Transition) -> TransitionPath:
    history = model.history
    first = max(transition.start_block - transition.margin_blocks, history.first)
    times_s, volts = history.times_s[first - history.first :], history.volts_from(first)
    counts = lim.EDGE_COUNTS * model.resolution.count_volts
    least = max(lim.STEP_VOLTS, counts, lim.EDGE_SIGMAS * model.noise.sigma_volts)
    interruptions = [one for one in transition.interruptions if first <= one.block < history.end]
    edges = find_edges(_times_without(interruptions, first, times_s), volts, least)
    seen = [edge for edge in edges if all(edge.moved != one.block - first for one in interruptions)]
    return TransitionPath(first, times_s, volts, seen, interruptions)


def _times_without(interruptions: Sequence[Interruption], first: int, times_s: list[float]) -> list[float]:
    """The times of blocks, in seconds, as they would be had nothing interrupted the trace.

    Args:
        interruptions: what interrupted it.
        first: number of the first block.
        times_s: times of the blocks.
    """
    for one in interruptions:
        index = one.block - first
        if index == 0:
            continue
        usual_s = times_s[index] - one.end_s if one.end_s < times_s[index] else lim.BLOCK_S
        lost_s = times_s[index] - times_s[index - 1] - usual_s
        times_s = [time_s + lost_s for time_s in times_s[:index]] + times_s[index:]
    return times_s


def _between(step_s: float, earliest_s: float, latest_s: float) -> float:
    """The time of a step kept out of both spans, whatever a fit makes of it.

    Args:
        step_s: the time that was found.
        earliest_s: the end of the span before.
        latest_s: the start of the span after.
    """
    return min(max(step_s, earliest_s), latest_s)


def _time_of(path: TransitionPath, edge: Edge) -> float:
    """The time of a jump: between the last block before it and the first after."""
    return (path.times_s[edge.moved - 1] + path.times_s[edge.moved]) / 2


def _hidden_step_s(
    path: TransitionPath, before_volts: float, after_volts: float, motion: Motion
) -> float | None:
    """When the level changed about a movement. None when it had crept there before the body moved.

    Args:
        path: the blocks about the transition.
        before_volts: the level before.
        after_volts: the level after.
        motion: the movement.
    """
    quiet = [volts for time_s, volts in zip(path.times_s, path.volts, strict=True) if time_s < motion.start_s]
    latest = quiet[-lim.HIDDEN_STEP_BLOCKS :]
    if len(quiet) > lim.HIDDEN_STEP_MIN_BLOCKS:
        flat = lim.HIDDEN_STEP_FLAT_SHARE * abs(after_volts - before_volts)
        level = sum(latest) / len(latest)
        is_there = abs(level - after_volts) < abs(level - before_volts)
        if max(latest) - min(latest) < flat and is_there:
            return next((_time_of(path, edge) for edge in path.edges if edge.done < len(quiet)), None)
    split = split_between(path.volts, before_volts, after_volts)
    # The tail of the meter's averaging must not carry the step out of the movement.
    return min(path.time_of_change(split), motion.end_s)


def _steps_of_jumps(
    model: SignalModel, path: TransitionPath, before: OpenSpan, level: NewLevel
) -> list[Motion | Step]:
    """One step for each jump, with the levels between them as they were when the next came.

    Args:
        model: the noise.
        path: the blocks about the transition.
        before: the span before.
        level: the new level.
    """
    times_s, volts, edges = path.times_s, path.volts, path.edges
    arrived = level.start_block - path.first
    between = model.noise.sigma_volts**2 if len(edges) > 1 else 0.0
    u = sqrt(level.u_volts**2 + before.u_volts**2 + between)
    steps: list[Motion | Step] = []
    low = _level_before_edge(path, before, edges[0])
    for i, edge in enumerate(edges):
        is_last = i + 1 == len(edges)
        end = arrived if is_last else edges[i + 1].moved
        if is_last and times_s[min(arrived, len(times_s) - 1)] - times_s[edge.done] < lim.TAIL_S:
            high = level.volts
        else:
            rest = volts[max(edge.done, end - lim.SWITCH_LEVEL_BLOCKS) : end]
            rest = rest or volts[edge.done : edge.done + 1]
            high = sum(rest) / len(rest)
        if abs(high - low) > max(lim.STEP_VOLTS, lim.STEP_SIGMAS * u):
            step_s = _between(_time_of(path, edge), before.end_s, level.start_s)
            steps.append(Step(step_s, low, high, u, level.known_at_s))
        low = high
    return steps


def _level_before_edge(path: TransitionPath, before: OpenSpan, edge: Edge) -> float:
    """The level in volts that a jump began at: after an interruption, what was seen since.

    Args:
        path: the blocks about the transition.
        before: the span before.
        edge: the jump.
    """
    since = max((one.block - path.first for one in path.interruptions), default=edge.moved)
    seen = path.volts[since : edge.moved]
    return sum(seen) / len(seen) if seen else before.level_volts


def _movement_of_jumps(path: TransitionPath, before: OpenSpan, level: NewLevel) -> Motion:
    """A movement below the higher of two levels: jumps without rest between them are no switching."""
    first, last = path.edges[0], path.edges[-1]
    done = min(last.done, len(path.times_s) - 1)
    start_s, end_s = max(path.times_s[first.moved], before.end_s), min(path.times_s[done], level.start_s)
    peak_volts = max(path.volts[first.moved : done + 1])
    return Motion(min(start_s, end_s), end_s, peak_volts, level.known_at_s)


def _find_motion(
    model: SignalModel, transition: Transition, before: OpenSpan | None, level: NewLevel
) -> Motion | None:
    """The rise above both levels that returned, if there was one.

    Args:
        model: the noise, the count and the recent blocks.
        transition: what is between the two levels.
        before: the span before; None when there was none.
        level: the new level.
    """
    history = model.history
    base = level.volts if before is None else max(level.volts, before.level_volts)
    stray = model.stray_volts
    excess = [value - base for value in history.volts_from(transition.start_block, level.start_block)]
    if not excess:
        return None
    highest = max(max(excess), transition.peak_volts - base)
    significant = model.significant(stray)
    if highest <= significant and not _is_weak_motion(model, excess, highest):
        return None
    unseen_before = before is None or bool(transition.interruptions)
    if unseen_before and transition.largest_rise_volts < significant:
        return None
    edge = max(lim.MOTION_EDGE_SIGMAS * stray, lim.DEVIATION_VOLTS)
    out = [i for i, value in enumerate(excess) if value > edge]
    if not out or (len(out) == 1 and highest < outlier_limit(stray)):
        return None
    first = max(transition.start_block, history.first)
    is_kept = transition.start_block >= history.first
    start_s = history.time_of(first + out[0]) if is_kept else transition.start_s
    return Motion(start_s, history.time_of(first + out[-1]), transition.peak_volts, level.known_at_s)


def _is_weak_motion(model: SignalModel, excess: list[float], highest: float) -> bool:
    """Whether blocks of which none is high enough alone are a motion all together.

    Args:
        model: the noise and the count.
        excess: volts of the blocks above both levels.
        highest: the largest excess of a block or a sample, volts.
    """
    stray = model.stray_volts
    raised = [value for value in excess if value > stray]
    if not raised or highest <= max(lim.MOTION_VOLTS, lim.WEAK_SIGMAS * stray):
        return False
    of_all = max(stray, sqrt(model.noise.variance_of_mean(1)))
    return sum(raised) > lim.MOTION_SIGMAS * of_all * sqrt(len(raised))
