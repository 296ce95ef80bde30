"""Where a path between two levels jumps: switching is quick, a drift is not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp, inf

from logger.settling import limits as lim


@dataclass(frozen=True, slots=True)
class Edge:
    """A jump. `moved` is the index of the first value after it began, `done` of the first that has mostly arrived."""

    moved: int
    done: int


def find_edges(times_s: Sequence[float], volts: Sequence[float], least_volts: float) -> list[Edge]:
    """Jumps of at least `least_volts` in a path.

    What is looked at is the change over `EDGE_LAG_S`. A jump is a burst of it that is over within `STEP_RISE_S`; the
    tail that a meter's averaging leaves behind falls off and starts no burst of its own. A ramp is one long burst, so
    it is not a jump; where noise cuts it into pieces, they do not exceed the path's usual change by enough.

    Args:
        times_s: times of the blocks.
        volts: their means, as many.
        least_volts: the smallest change that counts.
    """
    if len(volts) < 3:
        return []
    interval_s = max((times_s[-1] - times_s[0]) / (len(times_s) - 1), lim.MIN_INTERVAL_S)
    lag = min(max(1, round(lim.EDGE_LAG_S / interval_s)), len(volts) - 1)
    changes = [after - before for before, after in zip(volts, volts[lag:], strict=False)]
    usual = sorted(map(abs, changes))[len(changes) // 2]
    least_volts = max(least_volts + lim.EDGE_ABOVE_USUAL * usual, lim.EDGE_OVER_USUAL * usual)
    found: list[Edge] = []
    start: int | None = None
    sign = 0.0
    peak = 0.0
    ebb = 0.0
    for i, change in enumerate([*changes, 0.0]):
        size = abs(change)
        if start is not None:
            if change * sign > lim.EDGE_OVER_SHARE * peak:
                peak = max(peak, size)
                continue
            end = i - 1 + lag
            if times_s[end] - times_s[start] <= lim.STEP_RISE_S + (lag + 1) * interval_s:
                found.append(Edge(start + lag, end))
            start, ebb = None, size
        if size < ebb:
            ebb = size
        above_ebb = lim.EDGE_ABOVE_EBB * (ebb if change * sign > 0 else 0.0)
        if size >= least_volts + above_ebb and i < len(changes):
            start, sign, peak, ebb = i, 1.0 if change > 0 else -1.0, size, 0.0
    return found


def is_switching(
    times_s: Sequence[float], volts: Sequence[float], edges: Sequence[Edge], noise_volts: float
) -> bool:
    """Whether the path is nothing but jumps with rest between them, as switching something on and off makes it.

    Args:
        times_s: times of the blocks.
        volts: their means, as many.
        edges: the jumps in the path, in order.
        noise_volts: standard deviation of one block.
    """
    if len(edges) < 2:
        return False
    return all(
        _is_rest_between(times_s, volts, edge, following, noise_volts) for edge, following in pairwise(edges)
    )


def _is_rest_between(
    times_s: Sequence[float], volts: Sequence[float], edge: Edge, following: Edge, noise_volts: float
) -> bool:
    """Whether the path rests between two jumps.

    Args:
        times_s: times of the blocks.
        volts: their means, as many.
        edge: a jump.
        following: the next one.
        noise_volts: standard deviation of one block.
    """
    lead = max(1, (following.done - following.moved) // lim.SWITCH_LEAD_DIVISOR)
    rest = volts[edge.done : following.moved - lead]
    rest_s = times_s[following.moved - 1] - times_s[edge.done]
    if len(rest) < 2 or rest_s < lim.SWITCH_REST_S:
        return False
    longest_edge_s = max(times_s[one.done] - times_s[one.moved] for one in (edge, following))
    if times_s[following.moved] - times_s[edge.moved] < lim.SWITCH_APART_S:
        return False
    if rest_s < lim.SWITCH_REST_SHARE * longest_edge_s:
        return False
    size, next_size = (abs(volts[one.done] - volts[one.moved - 1]) for one in (edge, following))
    unrest = lim.SWITCH_UNREST_SIGMAS * noise_volts
    allowed = max(unrest, lim.SWITCH_UNREST_SHARE * min(size, next_size))
    # An averaging meter still creeps the edge's own way; nothing else may move.
    sign = 1.0 if volts[edge.done] > volts[edge.moved - 1] else -1.0
    far = rest[0]
    for value in rest:
        far = max(far, value, key=lambda v: sign * v)
        if sign * (far - value) > allowed:
            return False
    allowed = lim.SWITCH_TAIL_ALLOWANCE * max(unrest, lim.SWITCH_UNREST_SHARE * size)
    return abs(sum(rest[-2:]) / 2 - rest[len(rest) // 2]) <= allowed


def onset_of_small_step(
    times_s: Sequence[float],
    volts: Sequence[float],
    split: int,
    before: float,
    after: float,
    noise_volts: float,
) -> float | None:
    """When a step that does not stand out of the noise began; None when a ramp fits clearly better.

    Least squares: a step at about `split`, as meters of different averaging show it, against ramps of `RAMP_S`.

    Args:
        times_s: times of the blocks about the change.
        volts: their means, as many.
        split: index of the first block after the change.
        before: level before it, volts.
        after: level after it, volts.
        noise_volts: standard deviation of one block.
    """
    middle_s = times_s[split]
    change = after - before

    def misfit_of_step(start_s: float, averaging_s: float) -> float:
        total = 0.0
        for time_s, value in zip(times_s, volts, strict=True):
            since_s = time_s - start_s
            total += (
                value - before - (change * (1 - exp(-since_s / averaging_s)) if since_s > 0 else 0.0)
            ) ** 2
        return total

    def misfit_of_ramp(start_s: float, length_s: float) -> float:
        total = 0.0
        for time_s, value in zip(times_s, volts, strict=True):
            share = min(max((time_s - start_s) / length_s, 0.0), 1.0)
            total += (value - before - change * share) ** 2
        return total

    previous_s = times_s[split - 1] if split else middle_s
    edge_s = (previous_s + middle_s) / 2
    tried = {edge_s: misfit_of_step(edge_s, lim.NO_AVERAGING_S)}
    for averaging_s in lim.AVERAGING_S:
        for early in lim.STEP_SHIFTS:
            start_s = edge_s - early * averaging_s
            tried[start_s] = min(tried.get(start_s, inf), misfit_of_step(start_s, averaging_s))
    onset_s = min(tried, key=lambda start_s: tried[start_s])
    ramp = min(
        misfit_of_ramp(middle_s - shift * length_s, length_s)
        for length_s in lim.RAMP_S
        for shift in lim.RAMP_SHIFTS
    )
    return None if tried[onset_s] - ramp > lim.RAMP_EVIDENCE * noise_volts**2 else onset_s
