"""What happened between two levels: a movement, something switched, both, or nothing."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import sqrt

from logger.settling import limits as lim
from logger.settling.edges import Edge, find_edges, is_switching, onset_of_small_step
from logger.settling.events import Motion, Step
from logger.settling.line_fit import change_of, split_between
from logger.settling.signal_model import SignalModel
from logger.settling.span import OpenSpan, OpenSpanState


@dataclass(slots=True)
class TransitionKind:
    """Events that led to a level, and when its step was, should it prove to be another level."""

    events: list[Motion | Step] = field(default_factory=list)
    step_s: float | None = None
    moved: bool = False
    switched: bool = False


@dataclass(frozen=True, slots=True)
class Path:
    """The blocks from a little before an episode until now. `first` is the number of the first."""

    first: int
    times_s: list[float]
    volts: list[float]
    edges: list[Edge]


def tell(
    memory: SignalModel, episode: OpenSpan, before: OpenSpanState | None, span: OpenSpanState
) -> TransitionKind:
    """What led from the level `before` to that of the new `span`."""
    if before is None:
        motion = _motion(memory, episode, None, span)
        return TransitionKind([motion] if motion else [], moved=motion is not None)
    known = episode.start_block > memory.history.first
    path = _path(memory, episode)
    switching = known and is_switching(path.times_s, path.volts, path.edges, memory.stray_volts)
    if switching and is_same_level(memory, before, span):
        # On and off again in a moment is a rise that returned.
        first, last = path.edges[0], path.edges[-1]
        switching = path.times_s[last.moved] - path.times_s[first.moved] > lim.BRIEF_S
    if not switching:
        motion = _motion(memory, episode, before, span)
        if motion is not None:
            return TransitionKind(
                [motion], _hidden_step_s(path, before.level, span.level, motion), moved=True
            )
    if not known:
        return TransitionKind()
    if len(path.edges) > 1 and not switching:
        motion = _unruly(path, span)
        return TransitionKind([motion], _hidden_step_s(path, before.level, span.level, motion), moved=True)
    if path.edges:
        return TransitionKind(_steps(memory, path, before, span), switched=True)
    if is_same_level(memory, before, span):
        return TransitionKind()
    split = split_between(path.volts, before.level, span.level)
    near = slice(max(split - lim.ONSET_BLOCKS, 0), split + lim.ONSET_BLOCKS)
    noise = max(memory.noise.sigma_volts, memory.resolution.count_volts / 4, 1e-4)
    times_s, volts = path.times_s[near], path.volts[near]
    step_s = onset_of_small_step(times_s, volts, split - near.start, before.level, span.level, noise)
    return TransitionKind([], step_s)


def tell_movement(
    memory: SignalModel, episode: OpenSpan, before: OpenSpanState | None, span: OpenSpanState
) -> TransitionKind:
    """The same when it is known that the body moved."""
    motion = _motion(memory, episode, before, span)
    if before is None:
        return TransitionKind([motion] if motion else [], moved=motion is not None)
    path = _path(memory, episode)
    if motion is None:
        end_s = max(episode.start_s, span.start_s)
        motion = Motion(episode.start_s, end_s, episode.peak_volts, span.known_at_s)
    return TransitionKind([motion], _hidden_step_s(path, before.level, span.level, motion), moved=True)


def step_between(
    memory: SignalModel, step_s: float, before: OpenSpanState, span: OpenSpanState
) -> Step | None:
    """The step between two levels, when they differ for certain and the later one does not itself go on changing."""
    difference = span.level - before.level
    u = sqrt(memory.u_level(span.count) ** 2 + before.u_volts**2)
    if abs(difference) <= max(lim.STEP_VOLTS, lim.STEP_SIGMAS * u):
        return None
    small = max(lim.SMALL_STEP_VOLTS, lim.SMALL_STEP_SIGMAS * memory.stray_volts)
    if abs(difference) < small and memory.history.times_s[-1] - span.start_s < lim.SMALL_STEP_S:
        return None
    so_far = memory.history.volts_from(span.start_block)[: lim.LONGEST_JUMP_BLOCKS]
    if abs(change_of(so_far)) > lim.FLAT_SHARE * abs(difference):
        return None
    return Step(_between(step_s, before, span), before.level, span.level, u, memory.history.times_s[-1])


def is_same_level(memory: SignalModel, before: OpenSpanState, span: OpenSpanState) -> bool:
    """Whether two levels agree."""
    u = sqrt(memory.u_level(span.count) ** 2 + before.u_volts**2)
    return abs(span.level - before.level) < max(lim.DEVIATION_VOLTS, 2 * u)


def tell_unfinished(
    memory: SignalModel, episode: OpenSpan, before: OpenSpanState | None
) -> list[Motion | Step]:
    """What can be said of an episode that has not come to a level."""
    history = memory.history
    if before is None or history.end - episode.start_block < 2 or episode.drift_volts_per_block:
        return []
    stray = memory.stray_volts
    path = _path(memory, episode)
    last_s = path.times_s[-1]
    size = max(3, sum(time_s > last_s - lim.AT_LEAST_FLAT_S for time_s in path.times_s[-12:]))
    rest = path.volts[-size:]
    is_flat = max(rest) - min(rest) <= max(6 * stray, lim.DEVIATION_VOLTS)
    level = sum(rest) / len(rest) if is_flat else before.level
    events: list[Motion | Step] = []
    step_s: float | None = None
    if episode.peak_volts - max(level, before.level) > memory.significant(stray):
        events.append(Motion(episode.start_s, last_s, episode.peak_volts, last_s))
        step_s = path.times_s[split_between(path.volts, before.level, level)]
    elif len(path.edges) == 1 and episode.start_block > history.first:
        step_s = _time_of(path, path.edges[0])
    if step_s is not None and abs(level - before.level) > max(lim.STEP_VOLTS, lim.STEP_SIGMAS * stray):
        events.append(
            Step(max(step_s, before.end_s), before.level, level, sqrt(before.u_volts**2 + stray**2), last_s)
        )
    return events


def _path(memory: SignalModel, episode: OpenSpan) -> Path:
    history = memory.history
    first = max(episode.start_block - lim.EDGE_MARGIN_BLOCKS, history.first)
    times_s, volts = history.times_s[first - history.first :], history.volts_from(first)
    least = max(
        lim.STEP_VOLTS, 1.6 * memory.resolution.count_volts, lim.EDGE_SIGMAS * memory.noise.sigma_volts
    )
    return Path(first, times_s, volts, find_edges(times_s, volts, least))


def _between(step_s: float, before: OpenSpanState, span: OpenSpanState) -> float:
    """A step is in neither span, whatever a fit makes of it."""
    return min(max(step_s, before.end_s), span.start_s)


def _time_of(path: Path, edge: Edge) -> float:
    """A jump was between the last block before it and the first after."""
    return (path.times_s[edge.moved - 1] + path.times_s[edge.moved]) / 2


def _hidden_step_s(path: Path, before: float, after: float, motion: Motion) -> float | None:
    """When the level changed about a movement. None when it had crept there before the body moved."""
    quiet = [volts for time_s, volts in zip(path.times_s, path.volts, strict=True) if time_s < motion.start_s]
    latest = quiet[-2 * lim.EDGE_MARGIN_BLOCKS :]
    if len(quiet) > 3 * lim.EDGE_MARGIN_BLOCKS and max(latest) - min(latest) < 0.2 * abs(after - before):
        level = sum(latest) / len(latest)
        if abs(level - after) < abs(level - before):
            return next((_time_of(path, edge) for edge in path.edges if edge.done < len(quiet)), None)
    split = split_between(path.volts, before, after)
    # The tail of the meter's averaging must not carry the step out of the movement.
    return min(path.times_s[split], motion.end_s)


def _steps(
    memory: SignalModel, path: Path, before: OpenSpanState, span: OpenSpanState
) -> list[Motion | Step]:
    """One step for each edge, with the levels between them as they were when the next came."""
    times_s, volts, edges = path.times_s, path.volts, path.edges
    arrived = span.start_block - path.first
    between = memory.noise.sigma_volts**2 if len(edges) > 1 else 0.0
    u = sqrt(memory.u_level(span.count) ** 2 + before.u_volts**2 + between)
    steps: list[Motion | Step] = []
    low = before.level
    for i, edge in enumerate(edges):
        is_last = i + 1 == len(edges)
        end = arrived if is_last else edges[i + 1].moved
        if is_last and times_s[min(arrived, len(times_s) - 1)] - times_s[edge.done] < lim.TAIL_S:
            high = span.level
        else:
            rest = volts[max(edge.done, end - 5) : end] or volts[edge.done : edge.done + 1]
            high = sum(rest) / len(rest)
        if abs(high - low) > max(lim.STEP_VOLTS, lim.STEP_SIGMAS * u):
            step_s = _between(_time_of(path, edge), before, span)
            steps.append(Step(step_s, low, high, u, span.known_at_s))
        low = high
    return steps


def _unruly(path: Path, span: OpenSpanState) -> Motion:
    """A movement below the higher of two levels: jumps without rest between them are no switching."""
    first, last = path.edges[0], path.edges[-1]
    done = min(last.done, len(path.times_s) - 1)
    start_s, end_s = path.times_s[first.moved], min(path.times_s[done], span.start_s)
    peak_volts = max(path.volts[first.moved : done + 1])
    return Motion(min(start_s, end_s), end_s, peak_volts, span.known_at_s)


def _motion(
    memory: SignalModel, episode: OpenSpan, before: OpenSpanState | None, span: OpenSpanState
) -> Motion | None:
    """The rise above both levels that returned, if there was one."""
    history = memory.history
    base = span.level if before is None else max(span.level, before.level)
    stray = memory.stray_volts
    excess = [value - base for value in history.volts_from(episode.start_block, span.start_block)]
    if not excess:
        return None
    highest = max(max(excess), episode.peak_volts - base)
    significant = memory.significant(stray)
    if highest <= significant:
        # Not one block is enough, but all of them together may be.
        raised = [value for value in excess if value > stray]
        if not raised or highest <= max(lim.MOTION_VOLTS, lim.WEAK_SIGMAS * stray):
            return None
        of_all = max(stray, sqrt(memory.variance_of_mean(1)))
        if sum(raised) <= lim.MOTION_SIGMAS * of_all * sqrt(len(raised)):
            return None
    if before is None and episode.largest_rise < significant:
        return None
    edge = max(3 * stray, lim.DEVIATION_VOLTS)
    out = [i for i, value in enumerate(excess) if value > edge]
    if not out or (len(out) == 1 and highest < memory.standing_out(stray)):
        return None
    first = max(episode.start_block, history.first)
    start_s = history.time_of(first + out[0]) if episode.start_block >= history.first else episode.start_s
    return Motion(start_s, history.time_of(first + out[-1]), episode.peak_volts, span.known_at_s)
