"""Times in which nobody moved although the detector found no level: a load that switches, a level that wanders slowly.

In: a `NightRecord` with the events of the detector. Out: the same with these times known, and without the motions that
the detector took them for. The detector takes a level that ends within some seconds for a movement, and waits for one
that wanders: right for a reading, which must not be taken there. Of a night such times are a part, at the levels that
were read; left out as restless they would take the highest hours with them.

A load that switches shows two levels that come back again and again, each held: of the samples of a few minutes most
are near one of two values with nothing steady between them, which a body that moves does not do (Gaussian noise, a
sine and a ramp have a quarter, two fifths and a third of their samples that near to the middle of their halves). Held
for about the same time each time, because people do not sit and stand by the clock.

A level that wanders slowly is near its own middle within each ten seconds, and from each to the next, for some
minutes without a break: a body that moves raises the value to a multiple, for a second or more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from logger.night.analysis.night_record import Floats, NightRecord, Stretch, SwitchedStretch, merged, without
from logger.settling.events import Event, Motion

WINDOW_S = 300.0
WINDOW_EVERY_S = 60.0
"""Two levels are looked for in windows of this length, one each minute: a sleeper who turns over changes both. No
source."""

MIN_WINDOW_SAMPLES = 60

NEAR_SHARE = 0.15
"""A sample is at a level if it is nearer to it than this share of the distance of both levels. No source."""

BETWEEN_SHARES = ((0.05, 0.95), (0.05, 0.8), (0.2, 0.95))
"""Both levels are looked for between these values of a window: where somebody moved for a fifth of it, below the
highest fifth, and where what was before is lower, above the lowest one. No source."""

MIN_NEAR_SHARE = 0.6
"""At least this share of the samples of a window is at one of the levels: a meter that averages over 0.8 s shows of a
level held for 3 s half, of one held for 5 s three quarters. White noise has 0.25, a sine 0.41. No source."""

LEAST_CHANGE_VOLTS = 0.015
LEAST_CHANGE_SHARE = 0.03
LEAST_CHANGE_COUNTS = 5.0
"""Both levels are apart by at least all of these (of the higher one; of the meter's count): the detector itself settles
on values that alternate within 15 mV or 2 %, and the last digit of any display goes to and fro. No source."""

HELD_S = (2.0, 60.0)
"""Each level is held for so long, in the middle of all times: a display that alternates from line to line is of two
meters or two functions, and what is held longer the detector finds as levels and steps."""

MIN_HELD_SAMPLES = 2
MAX_BETWEEN_S = 3.0
"""A level counts as held with so many samples in a row at it; from one to the next it takes no longer than this, as a
meter averages over 2 s at most. Longer is a motion, and ends the stretch."""

MAX_IRREGULARITY = 0.35
"""How far the times for which a level is held lie from their middle one (median distance, as a share of it). Times
that come at random have 0.7. No source."""

LONGEST_HELD = 3.0
"""What is held for so many times the middle one is no part of it: before it began, and after it ended. No source."""

MIN_CHANGES = 8
MIN_SWITCHED_S = 120.0
"""So many changes from one level to the other, at least, in so long a time: a few that look regular come by chance."""

NEAR_STRETCH_S = 4.0
"""What is left of a motion beside such a stretch is none of a body if it is shorter than this: the detector's edges are
not to the second."""

CELL_S = 10.0
MIN_CELL_SAMPLES = 3
MAX_CELL_RANGE_SHARE = 0.06
MAX_CELL_RANGE_COUNTS = 3.0
"""From the 5th to the 95th percentile the samples of ten seconds lie within this share of their median, or so many
counts, and the medians of two neighbours within it too, where the value wanders slowly: 2 % rms with a correlation
time of 60 s moves by 1.1 % rms in ten seconds. No source."""

MAX_CELL_PEAK_SHARE = 0.06
"""And the highest sample of ten seconds is above their median by no more than this: a body that moves raises a value to
more. No source."""

TOLD_TOGETHER_S = 600.0
"""Times in which a load switched are told as one where they are no farther apart: turning over parts them."""

MIN_WANDER_S = 300.0
"""For less than this nobody is said to lie where the detector finds no level. No source."""

LOCAL_S = 20.0
MIN_LOCAL_SHARE = 0.45
"""Samples are of the stretch where so many of those around them are at a level, in such a time: a motion within a
window that is otherwise of a load that switches has fewer. No source."""


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two levels between which the values of a window go to and fro, V."""

    low_volts: float
    high_volts: float

    def states(self, volts: Floats) -> NDArray[np.int8]:
        """Return at which level each sample is: 0, 1, or -1 for neither; shape (n,)."""
        near = NEAR_SHARE * (self.high_volts - self.low_volts)
        found = np.full(len(volts), -1, np.int8)
        found[np.abs(volts - self.low_volts) <= near] = 0
        found[np.abs(volts - self.high_volts) <= near] = 1
        return found


@dataclass(frozen=True, slots=True)
class _Held:
    """A time in which a level was held: indices of its first and last sample, and which level it was."""

    first: int
    last: int
    state: int


def with_quiet_stretches(record: NightRecord) -> NightRecord:
    """Return the record with the times in which a load switched, or the level wandered slowly, and nobody moved.

    Args:
        record: of a whole recording.
    """
    switched = tuple(_switched(record))
    found = replace(record, switched=switched)
    found = found.without_motions_in(found.switched_times, NEAR_STRETCH_S)
    quiet = _quiet_runs(found)
    events = [part for event in found.events for part in _outside(event, quiet)]
    found = replace(found, events=tuple(events))
    level = [(span.start_s, span.end_s) for span in found.settled]
    moved = [(motion.start_s, motion.end_s) for motion in found.motions]
    others = merged([*level, *moved, *found.switched_times, *found.unmeasured])
    return replace(found, wandering=tuple(without(quiet, others)))


def told_switched(switched: Sequence[SwitchedStretch]) -> tuple[SwitchedStretch, ...]:
    """Return the times in which a load switched with those put together that are parted by little, such as a motion.

    Args:
        switched: of a night, in order.
    """
    told: list[SwitchedStretch] = []
    for one in switched:
        if told and one.start_s - told[-1].end_s <= TOLD_TOGETHER_S:
            before = told[-1]
            told[-1] = SwitchedStretch(
                before.start_s,
                one.end_s,
                min(before.low_volts, one.low_volts),
                max(before.high_volts, one.high_volts),
                before.period_s,
            )
        else:
            told.append(one)
    return tuple(told)


def _outside(event: Event, quiet: Sequence[Stretch]) -> list[Event]:
    """Return what of an event is left beside the times in which the value stayed near its middle.

    A motion that lies in such a time in part is one: its values are not near their middle. Where it does so for
    minutes, the detector waited for the end of what began with a step, as a load does that is noisier than the rest.
    """
    if not isinstance(event, Motion):
        return [event]
    parts = without([(event.start_s, event.end_s)], quiet)
    inside_s = event.end_s - event.start_s - sum(end_s - start_s for start_s, end_s in parts)
    if parts and inside_s < MIN_WANDER_S:
        return [event]
    return [
        replace(event, start_s=start_s, end_s=end_s)
        for start_s, end_s in parts
        if end_s - start_s >= NEAR_STRETCH_S
    ]


def _switched(record: NightRecord) -> list[SwitchedStretch]:
    """Return the times in which the values went to and fro between two levels, each held, in order."""
    times_s, volts = record.times_s, record.volts
    states, levels_volts, apart_volts = _states(record)
    at_level = np.flatnonzero(states >= 0)
    if not len(at_level):
        return []
    is_same = np.diff(states[at_level]) == 0
    other_level = np.abs(np.diff(levels_volts[at_level])) > 2 * NEAR_SHARE * np.minimum(
        apart_volts[at_level][1:], apart_volts[at_level][:-1]
    )
    is_break = (np.diff(times_s[at_level]) > MAX_BETWEEN_S) | (is_same & other_level)
    breaks = np.flatnonzero(is_break) + 1
    found = []
    for unbroken in np.split(at_level, breaks):
        for held in _even_chains(times_s, _held(unbroken, states[unbroken])):
            lengths_s = _lengths_s(times_s, held)
            if len(held) <= MIN_CHANGES or not all(map(_is_regular, lengths_s)):
                continue
            inside = slice(held[0].first, held[-1].last + 1)
            low, high = (float(np.median(volts[inside][states[inside] == state])) for state in (0, 1))
            start_s, end_s = float(times_s[held[0].first]), float(times_s[held[-1].last])
            if end_s - start_s < MIN_SWITCHED_S:
                continue
            found.append(
                SwitchedStretch(start_s, end_s, low, high, sum(map(float, map(np.median, lengths_s))))
            )
    return found


def _states(record: NightRecord) -> tuple[NDArray[np.int8], Floats, Floats]:
    """Return which of two levels each sample is at, where it is in a time of two levels: 0 or 1; -1 elsewhere.

    Returns:
        The states, the level that each sample is at, V, and how far apart both levels are, V; each of shape (n,).
    """
    times_s, volts = record.times_s, record.volts
    states, most_changes = np.full(len(volts), -1, np.int8), np.zeros(len(volts), np.int64)
    levels_volts, apart_volts = np.zeros(len(volts)), np.zeros(len(volts))
    starts = np.arange(0.0, max(record.end_s - WINDOW_S, 0.0) + WINDOW_EVERY_S, WINDOW_EVERY_S)
    firsts, lasts = np.searchsorted(times_s, starts), np.searchsorted(times_s, starts + WINDOW_S)
    for first, last in zip(firsts.tolist(), lasts.tolist(), strict=True):
        inside = volts[first:last]
        pair = _pair_of(inside)
        if pair is None:
            continue
        at_level = pair.states(inside)
        # Of the windows of a sample, the one counts in which the level changes most often: others hold what was before.
        better = _changes(at_level) > most_changes[first:last]
        states[first:last][better], most_changes[first:last][better] = at_level[better], _changes(at_level)
        levels_volts[first:last][better] = np.where(at_level[better] == 1, pair.high_volts, pair.low_volts)
        apart_volts[first:last][better] = pair.high_volts - pair.low_volts
    # A motion in such a time comes near to a level now and then.
    passed = np.concatenate(([0], np.cumsum(states >= 0)))
    low = np.searchsorted(times_s, times_s - LOCAL_S / 2)
    high = np.searchsorted(times_s, times_s + LOCAL_S / 2, side="right")
    states[(passed[high] - passed[low]) < MIN_LOCAL_SHARE * (high - low)] = -1
    return states, levels_volts, apart_volts


def _changes(states: NDArray[np.int8]) -> int:
    """Return how often the values go from one level to the other."""
    return int(np.count_nonzero(np.diff(states[states >= 0])))


def _pair_of(volts: Floats) -> _Pair | None:
    """Return the two levels that the values of a window go to and fro between most often; None where they do not."""
    if len(volts) < MIN_WINDOW_SAMPLES:
        return None
    ascending = np.sort(volts)
    low, high = ascending[[round(0.05 * (len(volts) - 1)), round(0.95 * (len(volts) - 1))]].tolist()
    if high - low < max(LEAST_CHANGE_VOLTS, LEAST_CHANGE_SHARE * abs(low)):
        return None  # nearly every window of a night: no time is spent on it
    count_volts = _count_volts(ascending)
    found, most_changes = None, 0
    for shares in BETWEEN_SHARES:
        pair = _halves(ascending, shares)
        if pair is None:
            continue
        least = max(
            LEAST_CHANGE_VOLTS, LEAST_CHANGE_SHARE * abs(pair.high_volts), LEAST_CHANGE_COUNTS * count_volts
        )
        states = pair.states(volts)
        is_two = np.count_nonzero(states >= 0) >= MIN_NEAR_SHARE * len(volts)
        if is_two and pair.high_volts - pair.low_volts >= least and _changes(states) > most_changes:
            found, most_changes = pair, _changes(states)
    return found


def _halves(ascending: Floats, shares: tuple[float, float]) -> _Pair | None:
    """Return the medians of both halves of sorted values, cut in the middle between them; None where all are one.

    Args:
        ascending: the values, V.
        shares: which of them the search begins with, as shares of their number.
    """
    low, high = (float(ascending[round(share * (len(ascending) - 1))]) for share in shares)
    for _ in range(4):
        cut = int(np.searchsorted(ascending, (low + high) / 2))
        if not 0 < cut < len(ascending):
            return None
        low, high = float(np.median(ascending[:cut])), float(np.median(ascending[cut:]))
    return _Pair(low, high)


def _count_volts(ascending: Floats) -> float:
    """Return the smallest difference of sorted values, V: the meter's count, as these show it; 0 where all are one."""
    apart = np.diff(ascending)
    return float(apart[apart > 1e-9].min(initial=np.inf)) if (apart > 1e-9).any() else 0.0


def _held(samples: NDArray[np.int64], states: NDArray[np.int8]) -> list[_Held]:
    """Return the times in which a level was held, in order, each at another level than the one before.

    Args:
        samples: indices of the samples at a level, shape (n,).
        states: which level each is at, shape (n,).
    """
    starts = np.flatnonzero(np.diff(states, prepend=states[0] - 1))
    ends = np.append(starts[1:], len(states))
    found: list[_Held] = []
    for a, b in zip(starts.tolist(), ends.tolist(), strict=True):
        if b - a < MIN_HELD_SAMPLES:
            continue
        if found and found[-1].state == states[a]:
            found[-1] = replace(found[-1], last=int(samples[b - 1]))
        else:
            found.append(_Held(int(samples[a]), int(samples[b - 1]), int(states[a])))
    return found


def _even_chains(times_s: Floats, held: Sequence[_Held]) -> list[list[_Held]]:
    """Return the times in which a level was held, parted where one was held for far longer than it is otherwise.

    Args:
        times_s: times of the samples, s.
        held: the times in which a level was held.
    """
    if len(held) <= MIN_CHANGES:
        return []
    middles_s = [float(np.median(lengths)) for lengths in _lengths_s(times_s, held)]
    chains: list[list[_Held]] = [[]]
    for one in held:
        if times_s[one.last] - times_s[one.first] > LONGEST_HELD * middles_s[one.state]:
            chains.append([])
        else:
            chains[-1].append(one)
    return chains


def _lengths_s(times_s: Floats, held: Sequence[_Held]) -> tuple[list[float], list[float]]:
    """Return for how long the lower and the higher level were held, each time until the other one was, s.

    Args:
        times_s: times of the samples, s.
        held: the times in which a level was held.
    """
    lengths_s: tuple[list[float], list[float]] = ([], [])
    for one, then in pairwise(held):
        lengths_s[one.state].append(float(times_s[then.first] - times_s[one.first]))
    return lengths_s


def _is_regular(lengths_s: Sequence[float]) -> bool:
    """Return whether a level was held for about the same time each time, and neither for too short nor too long."""
    middle_s = float(np.median(lengths_s))
    apart_s = float(np.median(np.abs(np.array(lengths_s) - middle_s)))
    return HELD_S[0] <= middle_s <= HELD_S[1] and apart_s <= MAX_IRREGULARITY * middle_s


def _quiet_runs(record: NightRecord) -> list[Stretch]:
    """Return the times in which every ten seconds lie near their middle and near those before, in order and apart."""
    edges_s = np.arange(0.0, record.end_s + CELL_S, CELL_S)
    places = np.searchsorted(record.times_s, edges_s).tolist()
    medians: list[float] = []
    quiet: list[bool] = []
    for first, last in pairwise(places):
        median_volts, is_quiet = _cell(np.sort(record.volts[first:last]))
        quiet.append(is_quiet and _are_near(medians[-1] if medians else median_volts, median_volts))
        medians.append(median_volts)
    runs = np.flatnonzero(np.diff(np.concatenate(([False], quiet, [False])).astype(np.int8))).reshape(-1, 2)
    return [
        (float(edges_s[a]), min(float(edges_s[b]), record.end_s))
        for a, b in runs.tolist()
        if (b - a) * CELL_S >= MIN_WANDER_S
    ]


def _cell(ascending: Floats) -> tuple[float, bool]:
    """Return the median of ten seconds, V, and whether their samples, in order of size, lie near it."""
    count = len(ascending)
    if count < MIN_CELL_SAMPLES:
        return 0.0, False
    median = float(ascending[count // 2])
    low, high = ascending[[round(0.05 * (count - 1)), round(0.95 * (count - 1))]].tolist()
    few_counts = MAX_CELL_RANGE_COUNTS * _count_volts(ascending)
    is_flat = high - low <= max(MAX_CELL_RANGE_SHARE * abs(median), few_counts)
    peak = float(ascending[-1]) - median
    return median, is_flat and peak <= max(MAX_CELL_PEAK_SHARE * abs(median), few_counts)


def _are_near(one: float, other: float) -> bool:
    return abs(one - other) <= MAX_CELL_RANGE_SHARE * max(abs(one), abs(other))
