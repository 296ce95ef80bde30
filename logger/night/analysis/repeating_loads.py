"""Loads that switch by themselves and come again: a refrigerator, a heater on a thermostat, a timer.

In: the steps of a recording. Out: for each repeating load its size, for how long it is on, its period and each time it
was seen. Steps of the same size in opposite directions are paired; a series of pairs is a load only if its times are
too regular to be chance. Then each single step that comes when the load is due counts too: motion, or another switching
at the same moment, may have hidden its partner.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
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

CLOCK_SHARE = 0.02
MIN_CLOCK_COUNT = 6
"""A timer, or what is as regular, starts within this share of its period. So many starts show it, for however long the
load is then on each time. No source."""

MIN_SHARE_FILLED = 0.75
"""A part of the period counts as the period where steps that were in no regular pair fill so much of its times."""

SAME_MOMENT_S = 30.0
"""Two switchings that are less apart than this may be one step. The detector tells apart what is farther. No source."""


@dataclass(frozen=True, slots=True)
class LoadReturn:
    """One time that a load came, with the steps of it that were seen; one of both may be None.

    Args:
        start_s: time of the rise, s.
        end_s: time of the fall after it, s.
    """

    start_s: float | None
    end_s: float | None


@dataclass(frozen=True, slots=True)
class RepeatingLoad:
    """A load that switches on and off at regular times.

    A load that cancels another one lowers the value while it is on. It is then described by the times when it is off,
    because the steps of one night do not distinguish the two.

    Args:
        volts: rise of the value, V.
        on_s: median time for which the value is higher, s.
        period_s: median time from one start to the next, s.
        returns: each time of which at least one step was seen, in order, seconds since the night's start.
        late_s: by how much a rise was early or late at most, s.
    """

    volts: float
    on_s: float
    period_s: float
    returns: tuple[LoadReturn, ...]
    late_s: float = 0.0

    @property
    def starts_s(self) -> tuple[float, ...]:
        """Times of the rises that were seen, s."""
        return tuple(each.start_s for each in self.returns if each.start_s is not None)

    @property
    def ends_s(self) -> tuple[float, ...]:
        """Times of the falls that were seen, s."""
        return tuple(each.end_s for each in self.returns if each.end_s is not None)

    @property
    def lengths_s(self) -> tuple[float, ...]:
        """For how long the value was higher each time that both of its steps were seen, s."""
        return tuple(
            each.end_s - each.start_s
            for each in self.returns
            if each.start_s is not None and each.end_s is not None
        )

    def off_s(self, *, rises: bool) -> float:
        """Return by how much a rise (or a fall) was off at most, s: a fall also by how long the load was on."""
        if rises:
            return self.late_s
        return self.late_s + max(abs(length_s - self.on_s) for length_s in self.lengths_s)

    def moments_s(self, *, rises: bool) -> list[float]:
        """Return when it rose (or fell) each time, s: as seen, else by the other step of that time."""
        found = []
        for each in self.returns:
            seen_s, other_s = (each.start_s, each.end_s) if rises else (each.end_s, each.start_s)
            if seen_s is not None:
                found.append(seen_s)
            elif other_s is not None:
                found.append(other_s - self.on_s if rises else other_s + self.on_s)
        return found

    def came(self, start_s: float, end_s: float) -> int:
        """Return how often it was seen between two moments.

        Args:
            start_s: the first moment, s.
            end_s: the last moment, s.
        """
        return sum(
            any(time_s is not None and start_s <= time_s <= end_s for time_s in (each.start_s, each.end_s))
            for each in self.returns
        )

    def due_s(self, time_s: float, *, rises: bool) -> float:
        """Return when a rise (or a fall) of it is due next to a moment, s.

        Args:
            time_s: the moment, s.
            rises: whether a rise is meant.
        """
        moments_s = self.moments_s(rises=rises)
        after = int(np.searchsorted(moments_s, time_s))
        first_s, apart_s = moments_s[max(after - 1, 0)], self.period_s
        if 0 < after < len(moments_s):
            between_s = moments_s[after] - first_s
            apart_s = between_s / max(round(between_s / self.period_s), 1)
        return first_s + round((time_s - first_s) / apart_s) * apart_s


@dataclass(frozen=True, slots=True)
class _Pair:
    on_s: float
    off_s: float
    volts: float

    @property
    def length_s(self) -> float:
        return self.off_s - self.on_s


def repeating_loads(steps: Sequence[Step]) -> list[RepeatingLoad]:
    """Find the repeating loads among the steps of a recording; the largest comes first."""
    found = (_load(group) for group in _of_same_size(steps))
    return sorted((load for load in found if load is not None), key=lambda load: -load.volts)


def load_of(step: Step, loads: Sequence[RepeatingLoad]) -> RepeatingLoad | None:
    """Return the repeating load that a step probably belongs to: of its size, when due; None where there is none.

    A second step at a time for which the load's own was seen is that of something else of the same size.

    Args:
        step: a step of the night.
        loads: repeating loads of its recording.
    """
    rises = step.after_volts > step.before_volts
    for load in loads:
        apart_volts = abs(_size(step) - load.volts)
        alike = apart_volts <= max(SAME_SIGMAS * step.u_volts, SAME_SHARE * load.volts, SAME_VOLTS)
        due_s, own_s = load.due_s(step.time_s, rises=rises), load.starts_s if rises else load.ends_s
        near_s = max(REGULAR_SHARE * load.period_s, load.off_s(rises=rises))
        if step.time_s in own_s:
            return load
        was_seen = any(abs(seen_s - due_s) <= near_s for seen_s in own_s)
        if alike and not was_seen and abs(step.time_s - due_s) <= near_s:
            return load
    return None


def hidden_load(
    time_s: float, loads: Sequence[RepeatingLoad], within_s: float = SAME_MOMENT_S
) -> RepeatingLoad | None:
    """Return a repeating load of which a step was due at a moment and was not seen by itself; None where there is none.

    Another switching at that moment then has the load's step in its own, or the load did not come.

    Args:
        time_s: the moment, s since the night's start.
        loads: repeating loads of the recording.
        within_s: the step was due within this time of the moment, or within what the load was ever late, s.
    """
    for load in loads:
        for rises, seen_s in ((True, load.starts_s), (False, load.ends_s)):
            due_s = load.due_s(time_s, rises=rises)
            moments_s = load.moments_s(rises=rises)
            goes_on_s = (MAX_MISSED_PERIODS + 1) * load.period_s
            comes = moments_s[0] - goes_on_s <= due_s <= moments_s[-1] + goes_on_s
            is_seen = any(abs(one_s - due_s) <= REGULAR_SHARE * load.period_s for one_s in seen_s)
            if comes and not is_seen and abs(due_s - time_s) <= max(within_s, load.off_s(rises=rises)):
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


def _load(group: Sequence[Step]) -> RepeatingLoad | None:
    """Return the load that the steps of one size make up; None where they are not regular."""
    pairs = _pairs(group)
    period_s = _period(pairs, CLOCK_SHARE) if len(pairs) >= MIN_CLOCK_COUNT else None
    if period_s is not None:
        # In a longer one a fall and the next rise were hidden.
        kept = [pair for pair in pairs if pair.length_s < period_s]
    else:
        kept = _of_usual_length(pairs)
        period_s = _period(kept, 2 * REGULAR_SHARE)
    if period_s is None or len(kept) < MIN_COUNT:
        return None
    on_s = float(np.median([pair.length_s for pair in kept]))
    returns, period_s = _with_single_steps(kept, on_s, period_s, group)
    found = RepeatingLoad(float(np.median([pair.volts for pair in kept])), on_s, period_s, returns)
    intervals = np.diff(found.moments_s(rises=True))
    periods = intervals / np.maximum(np.round(intervals / period_s), 1)
    period_s = float(np.median(periods))
    return replace(found, period_s=period_s, late_s=float(np.abs(periods - period_s).max()))


def _of_usual_length(pairs: Sequence[_Pair]) -> list[_Pair]:
    """Return the pairs of the usual length; none where too few are."""
    if len(pairs) < MIN_COUNT:
        return []
    usual = float(np.median([pair.length_s for pair in pairs]))
    share = 2 * REGULAR_SHARE * min(len(pairs) / CERTAIN_COUNT, 1.0)
    kept = [pair for pair in pairs if abs(pair.length_s - usual) <= share * usual]
    return kept if len(kept) >= max(MIN_COUNT, MIN_SHARE_SEEN * len(pairs)) else []


def _period(pairs: Sequence[_Pair], share: float) -> float | None:
    """Return the period of pairs of which some may be missing, s; None where they are not regular.

    Args:
        pairs: pairs in order of time.
        share: no interval differs from the period by more than this share of it; half of them by a quarter as much.
    """
    intervals = np.diff([pair.on_s for pair in pairs])
    if not len(intervals):
        return None
    # Where every other return was hidden the usual interval is two periods: a shorter one is tried first.
    for guess in np.quantile(intervals, (0.1, 0.5)):
        times = np.round(intervals / guess)
        if (times < 1).any() or (times > MAX_MISSED_PERIODS + 1).any():
            continue
        periods = intervals / times
        period_s = float(np.median(periods))
        off_by = np.abs(periods - period_s) / period_s
        seen = (len(intervals) + 1) / (times.sum() + 1)
        if np.median(off_by) <= share / 4 and off_by.max() <= share and seen >= MIN_SHARE_SEEN:
            return period_s
    return None


def _with_single_steps(
    kept: Sequence[_Pair], on_s: float, period_s: float, group: Sequence[Step]
) -> tuple[tuple[LoadReturn, ...], float]:
    """Add the steps of no regular pair that come when the load is due, and return its shortest period, s.

    Args:
        kept: the regular pairs, in order of time.
        on_s: their usual length, s.
        period_s: their period, s.
        group: all steps of that size, in order of time.
    """
    in_pair = {time_s for pair in kept for time_s in (pair.on_s, pair.off_s)}
    single = [step for step in group if step.time_s not in in_pair]
    for parts in range(MAX_MISSED_PERIODS + 1, 1, -1):
        part_s = period_s / parts
        if part_s <= on_s:
            continue
        # A few steps may come at such times by chance: they have to be more regular.
        near_s = REGULAR_SHARE * part_s * min(parts * len(kept) / CERTAIN_COUNT, 1.0)
        between = list(_between(kept, on_s, part_s, single, near_s))
        seen = len(kept) + sum(each is not None for each in between)
        if seen >= MIN_SHARE_FILLED * (len(kept) + len(between)):
            period_s = part_s
            break
    near_s = REGULAR_SHARE * period_s
    found = [LoadReturn(pair.on_s, pair.off_s) for pair in kept]
    found += [each for each in _between(kept, on_s, period_s, single, near_s) if each is not None]
    for way, first_s in ((-1, kept[0].on_s), (1, kept[-1].on_s)):
        found += _beyond(first_s, way * period_s, on_s, single, near_s)
    return tuple(sorted(found, key=lambda each: _moment(each, on_s))), period_s


def _between(
    kept: Sequence[_Pair], on_s: float, period_s: float, single: Sequence[Step], near_s: float
) -> Iterator[LoadReturn | None]:
    """Yield what was seen at each time at which the load was due between two of the regular pairs; None for nothing."""
    for pair, following in pairwise(kept):
        apart_s = following.on_s - pair.on_s
        times = max(round(apart_s / period_s), 1)
        for number in range(1, times):
            yield _seen(pair.on_s + number * apart_s / times, on_s, single, near_s)


def _beyond(
    start_s: float, period_s: float, on_s: float, single: Sequence[Step], near_s: float
) -> Iterator[LoadReturn]:
    """Yield each return after a start, before it with a period below zero, until too many in a row are missed."""
    missed = 0
    while missed <= MAX_MISSED_PERIODS:
        start_s += period_s
        found = _seen(start_s, on_s, single, near_s)
        if found is None:
            missed += 1
        else:
            missed, start_s = 0, _moment(found, on_s)
            yield found


def _moment(each: LoadReturn, on_s: float) -> float:
    """Return the start of a return, s: as seen, else by its end."""
    return each.start_s if each.start_s is not None else (each.end_s or 0.0) - on_s


def _seen(due_s: float, on_s: float, single: Sequence[Step], near_s: float) -> LoadReturn | None:
    """Return which steps were seen of a load that was due at a moment; None where neither was.

    Args:
        due_s: when it was due, s.
        on_s: for how long it is on, s.
        single: steps of its size that are in no regular pair.
        near_s: a step may be off by so much, s.
    """
    start_s = _nearest([s.time_s for s in single if s.after_volts > s.before_volts], due_s, near_s)
    begun_s, off_s = (due_s, near_s) if start_s is None else (start_s, 2 * REGULAR_SHARE * on_s)
    end_s = _nearest([s.time_s for s in single if s.after_volts < s.before_volts], begun_s + on_s, off_s)
    return None if start_s is None and end_s is None else LoadReturn(start_s, end_s)


def _nearest(times_s: Sequence[float], to_s: float, within_s: float) -> float | None:
    """Return the time that is nearest to a moment, if it is near enough."""
    nearest_s = min(times_s, key=lambda time_s: abs(time_s - to_s), default=None)
    return nearest_s if nearest_s is not None and abs(nearest_s - to_s) <= within_s else None
