"""The summary of a night: time covered and missed, still and in motion, the level and its hours, steps and loads.

In: a `NightRecord` and a target. Out: a `NightSummary`, with times in seconds since the night's start. All figures of
the level are over still time only, because a value that is read while the body moves is no level.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from logger.night.analysis.empty_probe import MaybeEmpty, maybe_empty
from logger.night.analysis.night_record import NightRecord, SwitchedStretch
from logger.night.analysis.quiet_stretches import told_switched
from logger.night.analysis.repeating_loads import RepeatingLoad, repeating_loads
from logger.settling.events import Settled, Step
from logger.translation import marked

HOUR_S = 3600.0

MIN_STILL_SHARE = 0.25
MIN_HOUR_SHARE = 0.95
"""An hour counts as quietest or highest only if the first share of it was still, and the second was recorded: the last
hour of a night may be a few minutes, and a short recording has none. No source."""

MAX_OVERLOAD_SHARE = 0.05
"""An hour in which the voltage was above the meter's range for more than this share of it has no level that could be
told: it is higher than the values that were read. A cord that is touched or moved overloads a meter for seconds. No
source."""

PERCENTILES = (5.0, 50.0, 95.0)

LEVELS = 101
"""At so many levels of a night their uncertainty is worked out."""

HOURS_ALIKE = marked("the hours do not differ by more than they vary within")
"""Why there is no quietest hour where `NightSummary.alike_volts` are known."""


@dataclass(frozen=True, slots=True)
class LevelSummary:
    """The distribution of the still level.

    Args:
        p05_volts: 5th percentile of the samples in still spans, V (linear interpolation).
        median_volts: their median, V.
        p95_volts: their 95th percentile, V.
        above_target_s: still time above the target, s.
        near_target_volts: expanded uncertainty of a level at the target, V.
        clearly_above_s: still time in which a level was above the target by more than its own uncertainty, s.
        clearly_below_s: still time in which it was below it by more than that, s.
        near_target_s: still time in which it cannot be told on which side of the target the level was, s.
    """

    p05_volts: float
    median_volts: float
    p95_volts: float
    above_target_s: float
    near_target_volts: float
    clearly_above_s: float
    clearly_below_s: float
    near_target_s: float

    @property
    def is_all_near_target(self) -> bool:
        """Whether all of the still time is too close to the target to tell on which side it was."""
        return self.near_target_s > 0.0 and self.clearly_above_s == self.clearly_below_s == 0.0


@dataclass(frozen=True, slots=True)
class NightHour:
    """One hour of the night, counted from the night's start.

    Args:
        start_s: its start, seconds since the night's start.
        end_s: its end; the last hour may be shorter.
        still_s: still time in it, s.
        median_volts: median of the still level, V; None without still time.
        mean_volts: mean of the still level over the still time, V; None without still time. Where a load comes and
            goes, the median is one of its two levels and jumps between them.
        motions: number of motion episodes that began in it.
        p05_volts: 5th percentile of the still level, V; None without still time.
        p95_volts: 95th percentile of the still level, V; None without still time.
        overload_s: time in it in which the voltage was above the meter's range, s.
        frozen_s: time in it in which the display stood still, s: not counted.
    """

    start_s: float
    end_s: float
    still_s: float
    median_volts: float | None
    mean_volts: float | None
    motions: int
    p05_volts: float | None = None
    p95_volts: float | None = None
    overload_s: float = 0.0
    frozen_s: float = 0.0

    @property
    def is_overloaded(self) -> bool:
        """Whether it is higher than the values that were read in it."""
        return self.overload_s > MAX_OVERLOAD_SHARE * HOUR_S


@dataclass(frozen=True, slots=True)
class NightSummary:
    """The summary of a night. Times are in seconds since its start.

    Args:
        end_s: length of the night.
        covered_s: time with values.
        missed: start and end of each time in which nothing was recorded.
        overloaded: start and end of each time in which the voltage was above the meter's range: it has no values, and
            is in no figure of the level.
        frozen: start and end of each time in which the display stood still: it was recorded, and is in no other figure.
        still_s: time in which nobody moved: in still spans, while a load switched, while the level wandered slowly.
        motion_s: time in motion episodes.
        level: distribution of the still level; None where nothing was still.
        hours: the hours of the night in order.
        quietest_hour: the hour with the lowest mean; None where no whole hour had enough still time within range, or
            where the hours are alike.
        highest_hour: the hour with most overload where one had much, else the one with the highest mean; None where
            no whole hour had enough still time, or where the hours are alike.
        alike_volts: lowest and highest mean of the hours, V, where they differ by no more than the level varies within
            each of these two; None where they do, or there is but one.
        motions_per_hour: motion episodes per hour with values that count.
        longest_still: the longest still span; None where there is none.
        steps: steps of the night.
        loads: repeating loads of the whole recording, the largest first.
        switched: times in which a load switched again and again within seconds: still, at both levels.
        switched_s: time in them.
        wandering_s: still time in which the level wandered slowly, so that the detector found none.
        maybe_empty: times in which perhaps nobody was on the probe: they count.
    """

    end_s: float
    covered_s: float
    missed: tuple[tuple[float, float], ...]
    overloaded: tuple[tuple[float, float], ...]
    frozen: tuple[tuple[float, float], ...]
    still_s: float
    motion_s: float
    level: LevelSummary | None
    hours: tuple[NightHour, ...]
    quietest_hour: NightHour | None
    highest_hour: NightHour | None
    alike_volts: tuple[float, float] | None
    motions_per_hour: float
    longest_still: Settled | None
    steps: tuple[Step, ...]
    loads: tuple[RepeatingLoad, ...]
    switched: tuple[SwitchedStretch, ...] = ()
    switched_s: float = 0.0
    wandering_s: float = 0.0
    maybe_empty: tuple[MaybeEmpty, ...] = ()

    @property
    def loads_seen(self) -> tuple[RepeatingLoad, ...]:
        """The repeating loads that came in the night."""
        return tuple(load for load in self.loads if load.came(0.0, self.end_s))

    @property
    def missed_s(self) -> float:
        """Time in which nothing was recorded, s."""
        return sum(end_s - start_s for start_s, end_s in self.missed)

    @property
    def overload_s(self) -> float:
        """Time in which the voltage was above the meter's range, s."""
        return sum(end_s - start_s for start_s, end_s in self.overloaded)

    @property
    def frozen_s(self) -> float:
        """Time in which the display stood still, s."""
        return sum(end_s - start_s for start_s, end_s in self.frozen)

    @property
    def why_no_hour(self) -> str:
        """Why there is no quietest hour, and no highest one but for overload; empty where there are.

        In English, as JSON has it: it goes through `tr` where it is shown.
        """
        if self.quietest_hour is not None:
            return ""
        if self.end_s < MIN_HOUR_SHARE * HOUR_S:
            return marked("the recording is shorter than an hour")
        if self.alike_volts is not None:
            return HOURS_ALIKE
        if self.overloaded:
            return marked("no whole hour was still for long enough and within the meter's range")
        return marked("no whole hour was still for long enough")


def summarise(
    night: NightRecord, target_volts: float, expanded_at: Callable[[float], float] = lambda _: 0.0
) -> NightSummary:
    """Sum up a night.

    Args:
        night: its samples and events.
        target_volts: the target that the level is compared with, V.
        expanded_at: expanded uncertainty of a level, V, with meter and reference.
    """
    durations_s = night.durations_s()
    still = night.still_mask()
    covered_s = max(night.end_s - sum(end_s - start_s for start_s, end_s in night.missing), 0.0)
    measured_s = max(night.end_s - sum(end_s - start_s for start_s, end_s in night.unmeasured), 0.0)
    hours = _hours(night, still, durations_s)
    enough = [
        h
        for h in hours
        if h.mean_volts is not None
        and h.end_s - h.start_s >= MIN_HOUR_SHARE * HOUR_S
        and h.still_s >= MIN_STILL_SHARE * HOUR_S
        and not h.is_overloaded
    ]
    overloaded = [hour for hour in hours if hour.is_overloaded]
    quietest, highest = min(enough, key=_mean, default=None), max(enough, key=_mean, default=None)
    alike_volts = _alike_volts(quietest, highest)
    if alike_volts is not None:
        quietest = highest = None
    return NightSummary(
        end_s=night.end_s,
        covered_s=covered_s,
        missed=tuple(night.silent),
        overloaded=tuple(night.overloaded),
        frozen=night.frozen,
        still_s=float(durations_s[still].sum()),
        motion_s=sum(motion.end_s - motion.start_s for motion in night.motions),
        level=_level(night, still, durations_s, target_volts, expanded_at),
        hours=hours,
        quietest_hour=quietest,
        highest_hour=max(overloaded, key=lambda hour: hour.overload_s, default=highest),
        alike_volts=alike_volts,
        motions_per_hour=len(night.motions) / (measured_s / HOUR_S) if measured_s else 0.0,
        longest_still=max(night.settled, key=lambda span: span.end_s - span.start_s, default=None),
        steps=tuple(night.steps),
        loads=tuple(repeating_loads(night.steps_of_recording)),
        switched=told_switched(night.switched),
        switched_s=sum(end_s - start_s for start_s, end_s in night.switched_times),
        wandering_s=sum(end_s - start_s for start_s, end_s in night.wandering),
        maybe_empty=maybe_empty(night),
    )


def _mean(hour: NightHour) -> float:
    assert hour.mean_volts is not None
    return hour.mean_volts


def _alike_volts(quietest: NightHour | None, highest: NightHour | None) -> tuple[float, float] | None:
    """Return the means of both hours where they differ by no more than the level varies within each of them, V.

    An hour that is steady is told from one in which something was switched, however much that one varies. Not the
    uncertainty of the means: over an hour of a meter's noise that is so small that every two hours differ.

    Args:
        quietest: the hour with the lowest mean.
        highest: the hour with the highest mean.
    """
    if quietest is None or highest is None or quietest is highest:
        return None
    varies = min((hour.p95_volts or 0.0) - (hour.p05_volts or 0.0) for hour in (quietest, highest))
    low, high = _mean(quietest), _mean(highest)
    return (low, high) if high - low <= varies else None


def _level(
    night: NightRecord,
    still: np.ndarray[tuple[int], np.dtype[np.bool_]],
    durations_s: np.ndarray[tuple[int], np.dtype[np.float64]],
    target_volts: float,
    expanded_at: Callable[[float], float],
) -> LevelSummary | None:
    volts = night.volts[still]
    if len(volts) == 0:
        return None
    low, middle, high = np.percentile(volts, PERCENTILES)
    lengths_s = durations_s[still]
    # The uncertainty goes with the level: it is worked out at some of them, and taken in between.
    levels = np.unique(np.quantile(volts, np.linspace(0.0, 1.0, LEVELS)))
    expanded = np.interp(volts, levels, [expanded_at(float(level)) for level in levels])
    above, below = volts - expanded > target_volts, volts + expanded < target_volts
    return LevelSummary(
        p05_volts=float(low),
        median_volts=float(middle),
        p95_volts=float(high),
        above_target_s=float(lengths_s[volts > target_volts].sum()),
        near_target_volts=expanded_at(target_volts),
        clearly_above_s=float(lengths_s[above].sum()),
        clearly_below_s=float(lengths_s[below].sum()),
        near_target_s=float(lengths_s[~(above | below)].sum()),
    )


def _hours(
    night: NightRecord,
    still: np.ndarray[tuple[int], np.dtype[np.bool_]],
    durations_s: np.ndarray[tuple[int], np.dtype[np.float64]],
) -> tuple[NightHour, ...]:
    edges = [min(i * HOUR_S, night.end_s) for i in range(ceil(night.end_s / HOUR_S) + 1)]
    places: Sequence[int] = np.searchsorted(night.times_s, edges).tolist()
    starts = np.array([motion.start_s for motion in night.motions])
    overloaded = night.overloaded
    hours = []
    for i in range(len(edges) - 1):
        part = slice(places[i], places[i + 1] if i + 2 < len(edges) else len(night.times_s))
        inside = still[part]
        volts = night.volts[part][inside]
        low, middle, high = np.percentile(volts, PERCENTILES).tolist() if len(volts) else (None, None, None)
        lengths_s = durations_s[part][inside]
        still_s = float(lengths_s.sum())
        hours.append(
            NightHour(
                edges[i],
                edges[i + 1],
                still_s,
                middle,
                float(np.average(volts, weights=lengths_s)) if still_s else None,
                int(((starts >= edges[i]) & (starts < edges[i + 1])).sum()),
                low,
                high,
                _shared_s(overloaded, edges[i], edges[i + 1]),
                _shared_s(night.frozen, edges[i], edges[i + 1]),
            )
        )
    return tuple(hours)


def _shared_s(stretches: Sequence[tuple[float, float]], low_s: float, high_s: float) -> float:
    return sum(max(min(end_s, high_s) - max(start_s, low_s), 0.0) for start_s, end_s in stretches)
