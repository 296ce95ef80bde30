"""Loads that switch by themselves and come again: a refrigerator, a heater on a thermostat, a timer.

In: the steps of a night. Out: for each repeating load its size, for how long it is on, its period and how often it
came. Steps of the same size in opposite directions are paired; a series of pairs is a load only if its times are too
regular to be chance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from logger.settling.events import Step

MIN_COUNT = 4
"""A load has to return at least this often."""

SAME_SIGMAS = 3.0
SAME_SHARE = 0.2
SAME_VOLTS = 0.01
"""Steps are of the same size when they differ by less than the largest of: so many standard uncertainties, this share
of their size (posture changes it), or this. No source; the share is ours."""

REGULAR_SHARE = 0.12
"""The times for which a load is on, and its periods, scatter by no more than this (median absolute deviation over the
median); people switching by hand scatter by far more. No source."""

CERTAIN_COUNT = 12
"""A load that was seen less often has to be more regular: a few returns may look regular by chance."""

MAX_MISSED_PERIODS = 3
"""At most this many returns in a row may be hidden by motion; with more the series is broken."""

MIN_SHARE_SEEN = 0.5
"""At least this share of the returns between the first and the last one must have been seen."""


@dataclass(frozen=True, slots=True)
class RepeatingLoad:
    """A load that switches on and off at regular times.

    A load that cancels another one lowers the value while it is on. It is then described by the times when it is off,
    because the steps of one night do not distinguish the two.

    Args:
        volts: rise of the value, V.
        on_s: median time for which the value is higher, s.
        period_s: median time from one start to the next, s.
        count: how often the value was seen to rise and fall again.
        starts_s: times of the rises, seconds since the night's start.
        ends_s: time of the fall after each rise.
    """

    volts: float
    on_s: float
    period_s: float
    count: int
    starts_s: tuple[float, ...]
    ends_s: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class _Pair:
    on_s: float
    off_s: float
    volts: float

    @property
    def length_s(self) -> float:
        return self.off_s - self.on_s


def repeating_loads(steps: Sequence[Step]) -> list[RepeatingLoad]:
    """Find the repeating loads among the steps of a night; the largest comes first."""
    found = (_regular(_pairs(group)) for group in _of_same_size(steps))
    return sorted((load for load in found if load is not None), key=lambda load: -load.volts)


def load_of(step: Step, loads: Sequence[RepeatingLoad]) -> RepeatingLoad | None:
    """Return the repeating load that a step probably belongs to: of its size, when due; None where there is none.

    Args:
        step: a step of the night.
        loads: repeating loads of the night.
    """
    rises = step.after_volts > step.before_volts
    for load in loads:
        apart_volts = abs(_size(step) - load.volts)
        alike = apart_volts <= max(SAME_SIGMAS * step.u_volts, SAME_SHARE * load.volts, SAME_VOLTS)
        due_s = np.array(load.starts_s if rises else load.ends_s)
        # A return whose partner motion hid is in no pair, but comes when it is due.
        off_s = abs((step.time_s - due_s + load.period_s / 2) % load.period_s - load.period_s / 2)
        in_pair = step.time_s in (*load.starts_s, *load.ends_s)
        if in_pair or (alike and float(off_s.min()) <= REGULAR_SHARE * load.period_s):
            return load
    return None


def _of_same_size(steps: Sequence[Step]) -> list[list[Step]]:
    """Group the steps by size; each group is in order of time."""
    groups: list[list[Step]] = []
    for step in sorted(steps, key=_size):
        if groups and _same(step, groups[-1]):
            groups[-1].append(step)
        else:
            groups.append([step])
    return [sorted(group, key=lambda step: step.time_s) for group in groups if len(group) >= 2 * MIN_COUNT]


def _size(step: Step) -> float:
    return abs(step.after_volts - step.before_volts)


def _same(step: Step, group: Sequence[Step]) -> bool:
    middle = float(np.median([_size(member) for member in group]))
    u = float(np.hypot(step.u_volts, np.median([member.u_volts for member in group])))
    return _size(step) - middle <= max(SAME_SIGMAS * u, SAME_SHARE * middle, SAME_VOLTS)


def _pairs(group: Sequence[Step]) -> list[_Pair]:
    """Each step up with the next one down; a step whose partner was missed is left out."""
    return [
        _Pair(up.time_s, down.time_s, (_size(up) + _size(down)) / 2)
        for up, down in pairwise(group)
        if up.after_volts > up.before_volts and down.after_volts < down.before_volts
    ]


def _regular(pairs: Sequence[_Pair]) -> RepeatingLoad | None:
    """Return the load that regular pairs make up, else None; pairs of another length among them are left out."""
    if len(pairs) < MIN_COUNT:
        return None
    lengths = np.array([pair.length_s for pair in pairs])
    usual = float(np.median(lengths))
    share = 2 * REGULAR_SHARE * min(len(pairs) / CERTAIN_COUNT, 1.0)
    kept = [pair for pair in pairs if abs(pair.length_s - usual) <= share * usual]
    if len(kept) < max(MIN_COUNT, MIN_SHARE_SEEN * len(pairs)):
        return None
    starts = np.array([pair.on_s for pair in kept])
    period_s = _period(starts)
    if period_s is None:
        return None
    return RepeatingLoad(
        float(np.median([pair.volts for pair in kept])),
        float(np.median([pair.length_s for pair in kept])),
        period_s,
        len(kept),
        tuple(float(start) for start in starts),
        tuple(pair.off_s for pair in kept),
    )


def _period(starts: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float | None:
    """Return the period of starts of which some may be missing; None where they are not regular."""
    intervals = np.diff(starts)
    # Where every other return was hidden the usual interval is two periods: a shorter one is tried first.
    for guess in np.quantile(intervals, (0.1, 0.5)):
        times = np.round(intervals / guess)
        if (times < 1).any() or (times > MAX_MISSED_PERIODS + 1).any():
            continue
        periods = intervals / times
        period_s = float(np.median(periods))
        off_by = np.abs(periods - period_s) / period_s
        seen = (len(intervals) + 1) / (times.sum() + 1)
        if (
            np.median(off_by) <= REGULAR_SHARE / 2
            and off_by.max() <= 2 * REGULAR_SHARE
            and seen >= MIN_SHARE_SEEN
        ):
            return period_s
    return None
