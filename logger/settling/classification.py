"""What happened between two levels: a movement, something switched, both, or nothing."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import sqrt

from logger.settling import limits as lim
from logger.settling.edges import Edge, find_edges, is_switching, onset_of_small_step
from logger.settling.events import Motion, Step
from logger.settling.line_fit import change_of, split_between
from logger.settling.signal_model import SignalModel
from logger.settling.span import OpenSpan, Transition


@dataclass(slots=True)
class Classification:
    """Events that led to a level, and when its step was, should it prove to be another level."""

    events: list[Motion | Step] = field(default_factory=list)
    step_s: float | None = None
    moved: bool = False
    switched: bool = False


@dataclass(frozen=True, slots=True)
class Path:
    """The blocks from a little before an transition until now. `first` is the number of the first."""

    first: int
    times_s: list[float]
    volts: list[float]
    edges: list[Edge]


def classify(
    model: SignalModel, transition: Transition, before: OpenSpan | None, span: OpenSpan
) -> Classification:
    """What led from the level `before` to that of the new `span`."""
    if before is None:
        motion = _motion(model, transition, None, span)
        return Classification([motion] if motion else [], moved=motion is not None)
    known = transition.start_block > model.history.first
    path = _path(model, transition)
    switching = known and is_switching(path.times_s, path.volts, path.edges, model.stray_volts)
    if switching and is_same_level(model, before, span):
        # On and off again in a moment is a rise that returned.
        first, last = path.edges[0], path.edges[-1]
        switching = path.times_s[last.moved] - path.times_s[first.moved] > lim.BRIEF_S
    if not switching:
        motion = _motion(model, transition, before, span)
        if motion is not None:
            return Classification(
                [motion], _hidden_step_s(path, before.level, span.level, motion), moved=True
            )
    if not known:
        return Classification()
    if len(path.edges) > 1 and not switching:
        motion = _unruly(path, span)
        return Classification([motion], _hidden_step_s(path, before.level, span.level, motion), moved=True)
    if path.edges:
        return Classification(_steps(model, path, before, span), switched=True)
    if is_same_level(model, before, span):
        return Classification()
    split = split_between(path.volts, before.level, span.level)
    near = slice(max(split - lim.ONSET_BLOCKS, 0), split + lim.ONSET_BLOCKS)
    noise = max(model.noise.sigma_volts, model.resolution.count_volts / 4, 1e-4)
    times_s, volts = path.times_s[near], path.volts[near]
    step_s = onset_of_small_step(times_s, volts, split - near.start, before.level, span.level, noise)
    return Classification([], step_s)


def classify_movement(
    model: SignalModel, transition: Transition, before: OpenSpan | None, span: OpenSpan
) -> Classification:
    """The same when it is known that the body moved."""
    motion = _motion(model, transition, before, span)
    if before is None:
        return Classification([motion] if motion else [], moved=motion is not None)
    path = _path(model, transition)
    if motion is None:
        end_s = max(transition.start_s, span.start_s)
        motion = Motion(transition.start_s, end_s, transition.peak_volts, span.known_at_s)
    return Classification([motion], _hidden_step_s(path, before.level, span.level, motion), moved=True)


def step_between(model: SignalModel, step_s: float, before: OpenSpan, span: OpenSpan) -> Step | None:
    """The step between two levels, when they differ for certain and the later one does not itself go on changing."""
    difference = span.level - before.level
    u = sqrt(model.u_level(span.count) ** 2 + before.u_volts**2)
    if abs(difference) <= max(lim.STEP_VOLTS, lim.STEP_SIGMAS * u):
        return None
    small = max(lim.SMALL_STEP_VOLTS, lim.SMALL_STEP_SIGMAS * model.stray_volts)
    if abs(difference) < small and model.history.times_s[-1] - span.start_s < lim.SMALL_STEP_S:
        return None
    so_far = model.history.volts_from(span.start_block)[: lim.LONGEST_JUMP_BLOCKS]
    if abs(change_of(so_far)) > lim.FLAT_SHARE * abs(difference):
        return None
    return Step(_between(step_s, before, span), before.level, span.level, u, model.history.times_s[-1])


def is_same_level(model: SignalModel, before: OpenSpan, span: OpenSpan) -> bool:
    """Whether two levels agree."""
    u = sqrt(model.u_level(span.count) ** 2 + before.u_volts**2)
    return abs(span.level - before.level) < max(lim.DEVIATION_VOLTS, 2 * u)


def classify_unfinished(
    model: SignalModel, transition: Transition, before: OpenSpan | None
) -> list[Motion | Step]:
    """What can be said of an transition that has not come to a level."""
    history = model.history
    if before is None or history.end - transition.start_block < 2 or transition.drift_volts_per_block:
        return []
    stray = model.stray_volts
    path = _path(model, transition)
    last_s = path.times_s[-1]
    size = max(3, sum(time_s > last_s - lim.AT_LEAST_FLAT_S for time_s in path.times_s[-12:]))
    rest = path.volts[-size:]
    is_flat = max(rest) - min(rest) <= max(6 * stray, lim.DEVIATION_VOLTS)
    level = sum(rest) / len(rest) if is_flat else before.level
    events: list[Motion | Step] = []
    step_s: float | None = None
    if transition.peak_volts - max(level, before.level) > model.significant(stray):
        events.append(Motion(transition.start_s, last_s, transition.peak_volts, last_s))
        step_s = path.times_s[split_between(path.volts, before.level, level)]
    elif len(path.edges) == 1 and transition.start_block > history.first:
        step_s = _time_of(path, path.edges[0])
    if step_s is not None and abs(level - before.level) > max(lim.STEP_VOLTS, lim.STEP_SIGMAS * stray):
        events.append(
            Step(max(step_s, before.end_s), before.level, level, sqrt(before.u_volts**2 + stray**2), last_s)
        )
    return events


def _path(model: SignalModel, transition: Transition) -> Path:
    history = model.history
    first = max(transition.start_block - lim.EDGE_MARGIN_BLOCKS, history.first)
    times_s, volts = history.times_s[first - history.first :], history.volts_from(first)
    least = max(lim.STEP_VOLTS, 1.6 * model.resolution.count_volts, lim.EDGE_SIGMAS * model.noise.sigma_volts)
    return Path(first, times_s, volts, find_edges(times_s, volts, least))


def _between(step_s: float, before: OpenSpan, span: OpenSpan) -> float:
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


def _steps(model: SignalModel, path: Path, before: OpenSpan, span: OpenSpan) -> list[Motion | Step]:
    """One step for each edge, with the levels between them as they were when the next came."""
    times_s, volts, edges = path.times_s, path.volts, path.edges
    arrived = span.start_block - path.first
    between = model.noise.sigma_volts**2 if len(edges) > 1 else 0.0
    u = sqrt(model.u_level(span.count) ** 2 + before.u_volts**2 + between)
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


def _unruly(path: Path, span: OpenSpan) -> Motion:
    """A movement below the higher of two levels: jumps without rest between them are no switching."""
    first, last = path.edges[0], path.edges[-1]
    done = min(last.done, len(path.times_s) - 1)
    start_s, end_s = path.times_s[first.moved], min(path.times_s[done], span.start_s)
    peak_volts = max(path.volts[first.moved : done + 1])
    return Motion(min(start_s, end_s), end_s, peak_volts, span.known_at_s)


def _motion(
    model: SignalModel, transition: Transition, before: OpenSpan | None, span: OpenSpan
) -> Motion | None:
    """The rise above both levels that returned, if there was one."""
    history = model.history
    base = span.level if before is None else max(span.level, before.level)
    stray = model.stray_volts
    excess = [value - base for value in history.volts_from(transition.start_block, span.start_block)]
    if not excess:
        return None
    highest = max(max(excess), transition.peak_volts - base)
    significant = model.significant(stray)
    if highest <= significant:
        # Not one block is enough, but all of them together may be.
        raised = [value for value in excess if value > stray]
        if not raised or highest <= max(lim.MOTION_VOLTS, lim.WEAK_SIGMAS * stray):
            return None
        of_all = max(stray, sqrt(model.variance_of_mean(1)))
        if sum(raised) <= lim.MOTION_SIGMAS * of_all * sqrt(len(raised)):
            return None
    if before is None and transition.largest_rise < significant:
        return None
    edge = max(3 * stray, lim.DEVIATION_VOLTS)
    out = [i for i, value in enumerate(excess) if value > edge]
    if not out or (len(out) == 1 and highest < model.standing_out(stray)):
        return None
    first = max(transition.start_block, history.first)
    start_s = (
        history.time_of(first + out[0]) if transition.start_block >= history.first else transition.start_s
    )
    return Motion(start_s, history.time_of(first + out[-1]), transition.peak_volts, span.known_at_s)
