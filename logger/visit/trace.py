"""The trace of a visit, ready to be drawn: any stretch of it in a bounded number of points.

In: samples and events as they come out of the visit log. Out: points and spans in seconds on one time line,
at the resolution that is asked for. The cost of a look depends on the resolution, not on the log's length: minimum
and maximum of every 4, 16, 64 ... samples are kept beside the samples.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.clock import NS_PER_S
from logger.settling.events import Event, Gap, Motion, Overload, Settled, Step, span_s
from logger.visit.records.recording_records import LoggedEvent, Samples

Floats = NDArray[np.float64]

Kind = type[Settled] | type[Motion] | type[Step] | type[Gap] | type[Overload]

_FOLD = 4
"""Each level holds one bin for so many bins of the level below."""

_LEVELS = 12
"""4 ** 12 samples a bin: at 100 samples/s a bin of the highest level is two days long."""


class _Column:
    """An array that grows at its end."""

    def __init__(self) -> None:
        self._store = np.empty(1024)
        self.size = 0

    def extend(self, values: Floats) -> None:
        needed = self.size + len(values)
        if needed > len(self._store):
            store = np.empty(max(needed, 2 * len(self._store)))
            store[: self.size] = self._store[: self.size]
            self._store = store
        self._store[self.size : needed] = values
        self.size = needed

    @property
    def values(self) -> Floats:
        return self._store[: self.size]


class _Level:
    """Bins of equally many samples: first and last time, minimum and maximum, breaks inside."""

    def __init__(self) -> None:
        self.first_s = _Column()
        self.last_s = _Column()
        self.low = _Column()
        self.high = _Column()
        self.breaks = _Column()
        """How many samples of the bin, its first one not counted, do not follow the one before them."""
        self.starts_broken = _Column()
        """1 where the bin's first sample does not follow the sample before it, else 0."""

    @property
    def size(self) -> int:
        return self.low.size


@dataclass(frozen=True, slots=True)
class Polyline:
    """Points to be joined by lines; every array has shape (n,)."""

    times_s: Floats
    volts: Floats
    joined: NDArray[np.bool_]
    """Whether a point is joined to the next one: not across a gap."""


@dataclass(frozen=True, slots=True)
class Spans:
    """Stretches of time; both arrays have shape (n,), sorted."""

    start_s: Floats
    end_s: Floats


class Trace:
    """The samples of a visit on one time line that never goes back.

    Second 0 is `origin_utc_ns`, the first sample's time. Each run keeps its own steady clock; a run that by the
    computer's clock would begin before the one before it had ended (the clock was set back in between) is moved
    to just after it.

    Args:
        break_s: neighbouring samples further apart than this are not joined.
    """

    def __init__(self, break_s: float = 2.5) -> None:
        self._break_s = break_s
        self.origin_utc_ns: int | None = None
        self._shift_ns: dict[int, int] = {}
        self._last_run_id = 0
        self._run_ids: list[int] = []
        self._run_starts_s: list[float] = []
        self._levels = [_Level() for _ in range(_LEVELS + 1)]

    def __len__(self) -> int:
        return self._levels[0].size

    @property
    def end_s(self) -> float:
        """Time of the last sample; 0 when there is none."""
        times = self._levels[0].last_s.values
        return float(times[-1]) if len(times) else 0.0

    def append(self, samples: Samples) -> None:
        """Add samples that came after all that were added before."""
        if not len(samples.volts):
            return
        starts = np.flatnonzero(np.diff(samples.run_id, prepend=samples.run_id[0] - 1))
        for start, stop in zip(starts, [*starts[1:], len(samples.volts)], strict=True):
            self._append_run(
                int(samples.run_id[start]), samples.steady_utc_ns[start:stop], samples.volts[start:stop]
            )

    def seconds(self, steady_utc_ns: int, run_id: int | None = None) -> float:
        """Where a moment of a run (None: of the newest) lies on the time line."""
        shift_ns = self._shift_ns.get(self._last_run_id if run_id is None else run_id, 0)
        origin_utc_ns = steady_utc_ns if self.origin_utc_ns is None else self.origin_utc_ns
        return (steady_utc_ns + shift_ns - origin_utc_ns) / NS_PER_S

    def utc_ns(self, time_s: float) -> int:
        """The time of day, by the clock at the start of the run, that belongs to a place on the time line."""
        shift_ns = self._shift_ns.get(self.run_at(time_s), 0)
        return (self.origin_utc_ns or 0) + round(time_s * NS_PER_S) - shift_ns

    def run_at(self, time_s: float) -> int:
        """The run that a place on the time line belongs to: the last that had begun by then; 0 without any."""
        if not self._run_ids:
            return 0
        return self._run_ids[max(bisect_right(self._run_starts_s, time_s) - 1, 0)]

    def samples_between(self, start_s: float, end_s: float) -> tuple[Floats, Floats]:
        """Every sample of a stretch, both ends included.

        Args:
            start_s: start of the stretch, on the time line.
            end_s: its end.

        Returns:
            Their times in seconds and their volts, both of shape (n,); they belong to the trace, not to the caller.
        """
        base = self._levels[0]
        first = int(np.searchsorted(base.first_s.values, start_s))
        stop = int(np.searchsorted(base.first_s.values, end_s, side="right"))
        return base.first_s.values[first:stop], base.low.values[first:stop]

    def polyline(self, start_s: float, end_s: float, most_bins: int) -> Polyline:
        """The stretch from start to end as points: each sample where there are few, else minima and maxima.

        Args:
            start_s, end_s: the stretch; the neighbours just outside are included, so that lines leave the picture.
            most_bins: about as many as the picture has columns. At most 2 * most_bins points come back, and a few
                more for the newest samples and for gaps.
        """
        base = self._levels[0]
        first = max(int(np.searchsorted(base.first_s.values, start_s)) - 1, 0)
        stop = min(int(np.searchsorted(base.first_s.values, end_s, side="right")) + 1, base.size)
        level = 0
        while (stop - first) // _FOLD**level > most_bins and level < _LEVELS:
            level += 1
        parts: list[Polyline] = []
        at = first // _FOLD**level * _FOLD**level
        # The newest samples do not fill a bin yet: what is left over is drawn one level finer, down to samples.
        for depth in range(level, -1, -1):
            bins = self._levels[depth]
            width = _FOLD**depth
            low, high = at // width, min(-(-stop // width), bins.size)
            if high > low:
                parts.append(_points(bins, low, high, raw=depth == 0))
                at = high * width
        if not parts:
            return Polyline(np.empty(0), np.empty(0), np.empty(0, np.bool_))
        return Polyline(
            np.concatenate([p.times_s for p in parts]),
            np.concatenate([p.volts for p in parts]),
            np.concatenate([p.joined for p in parts]),
        )

    def _append_run(self, run_id: int, steady_utc_ns: NDArray[np.int64], volts: Floats) -> None:
        if self.origin_utc_ns is None:
            self.origin_utc_ns = int(steady_utc_ns[0])
        begins = run_id not in self._shift_ns
        if begins:
            end_utc_ns = self.origin_utc_ns + round(self.end_s * NS_PER_S)
            late_ns = end_utc_ns - int(steady_utc_ns[0]) + round(self._break_s * NS_PER_S)
            overlaps = len(self) > 0 and int(steady_utc_ns[0]) <= end_utc_ns
            self._shift_ns[run_id] = late_ns if overlaps else 0
            self._last_run_id = run_id
            self._run_ids.append(run_id)
            self._run_starts_s.append(
                (int(steady_utc_ns[0]) + self._shift_ns[run_id] - self.origin_utc_ns) / NS_PER_S
            )
        times_s = (steady_utc_ns + self._shift_ns[run_id] - self.origin_utc_ns) / NS_PER_S
        previous_s = self.end_s if len(self) else times_s[0]
        broken = (np.diff(times_s, prepend=previous_s) > self._break_s).astype(np.float64)
        if begins:
            broken[0] = 1.0
        base = self._levels[0]
        for column, values in (
            (base.first_s, times_s), (base.last_s, times_s), (base.low, volts), (base.high, volts),
            (base.breaks, np.zeros(len(volts))), (base.starts_broken, broken),
        ):  # fmt: skip
            column.extend(values)
        for below, above in zip(self._levels, self._levels[1:], strict=False):
            _fold(below, above)


def _fold(below: _Level, above: _Level) -> None:
    """Bring a level up to date with the one below it; only bins that are full are made."""
    low, high = above.size * _FOLD, below.size // _FOLD * _FOLD
    if high == low:
        return

    def grouped(column: _Column) -> Floats:
        return column.values[low:high].reshape(-1, _FOLD)

    above.first_s.extend(grouped(below.first_s)[:, 0])
    above.last_s.extend(grouped(below.last_s)[:, -1])
    above.low.extend(grouped(below.low).min(axis=1))
    above.high.extend(grouped(below.high).max(axis=1))
    broken = grouped(below.starts_broken)
    above.starts_broken.extend(broken[:, 0])
    above.breaks.extend(grouped(below.breaks).sum(axis=1) + broken[:, 1:].sum(axis=1))


def _points(bins: _Level, low: int, high: int, raw: bool) -> Polyline:
    """The bins low..high as points. A bin is a line from its minimum to its maximum, joined to its neighbours."""
    part = slice(low, high)
    first_s, last_s = bins.first_s.values[part], bins.last_s.values[part]
    follows = np.ones(high - low, np.bool_)
    ends = bins.starts_broken.values[low + 1 : high + 1]
    follows[: len(ends)] = ends == 0
    if raw:
        return Polyline(first_s, bins.low.values[part], follows)
    times_s = np.column_stack((first_s, last_s)).ravel()
    volts = np.column_stack((bins.low.values[part], bins.high.values[part])).ravel()
    joined = np.column_stack((np.ones(high - low, np.bool_), follows)).ravel()
    torn = np.flatnonzero(bins.breaks.values[part])
    if len(torn):
        # A gap inside a bin: its range is drawn on both sides of the gap and nothing in between.
        where = np.repeat(2 * torn + 1, 2)
        times_s = np.insert(times_s, where, np.column_stack((first_s[torn], last_s[torn])).ravel())
        ranges = np.column_stack((bins.high.values[part][torn], bins.low.values[part][torn])).ravel()
        volts = np.insert(volts, where, ranges)
        joined = np.insert(joined, where, np.tile([False, True], len(torn)))
    return Polyline(times_s, volts, joined)


@dataclass(frozen=True, slots=True)
class Placed:
    """An event with its place on the time line of a `Trace`."""

    start_s: float
    end_s: float
    event: Event


class EventLine:
    """The detector's events on a trace's time line, found again by stretch of time."""

    def __init__(self, trace: Trace) -> None:
        self._trace = trace
        self._placed: dict[Kind, list[Placed]] = {}
        self._ends: dict[Kind, Floats] = {}
        self._starts: dict[Kind, Floats] = {}

    def append(self, events: Iterable[LoggedEvent]) -> None:
        """Add events; their samples must be in the trace already."""
        grown = set()
        for logged in events:
            kind = type(logged.event)
            self._placed.setdefault(kind, []).append(
                self.place(logged.event, logged.run_id, logged.run_started_utc_ns)
            )
            grown.add(kind)
        for kind in grown:
            placed = self._placed[kind]
            placed.sort(key=lambda p: p.start_s)
            self._starts[kind] = np.array([p.start_s for p in placed])
            self._ends[kind] = np.array([p.end_s for p in placed])

    def place(self, event: Event, run_id: int, run_started_utc_ns: int) -> Placed:
        """Where an event of a run lies on the time line.

        Args:
            event: times in seconds since the start of its run.
            run_id: the run.
            run_started_utc_ns: when the run began, by the wall clock.
        """
        zero_s = self._trace.seconds(run_started_utc_ns, run_id)
        start_s, end_s = span_s(event)
        return Placed(zero_s + start_s, zero_s + end_s, event)

    def between(self, kind: Kind, start_s: float, end_s: float) -> Sequence[Placed]:
        """The events of a kind that touch a stretch of time, in order.

        Args:
            kind: the class of the events.
            start_s: start of the stretch, on the time line of the trace.
            end_s: its end.
        """
        if kind not in self._placed:
            return ()
        return self._placed[kind][self._range(kind, start_s, end_s)]

    def merged_between(self, kind: Kind, start_s: float, end_s: float, resolution_s: float) -> Spans:
        """The same as bare spans, joined where a picture could not show them apart.

        Args:
            kind: the class of the events.
            start_s: start of the stretch, on the time line of the trace.
            end_s: its end.
            resolution_s: spans with a smaller gap between them are joined.
        """
        if kind not in self._placed:
            return Spans(np.empty(0), np.empty(0))
        part = self._range(kind, start_s, end_s)
        return merged(self._starts[kind][part], self._ends[kind][part], resolution_s)

    def count(self, kind: Kind, start_s: float, end_s: float) -> int:
        """How many `between` would give.

        Args:
            kind: the class of the events.
            start_s: start of the stretch, on the time line of the trace.
            end_s: its end.
        """
        part = self._range(kind, start_s, end_s) if kind in self._placed else slice(0, 0)
        return int(part.stop - part.start)

    def _range(self, kind: Kind, start_s: float, end_s: float) -> slice:
        low = int(np.searchsorted(self._ends[kind], start_s))
        high = int(np.searchsorted(self._starts[kind], end_s, side="right"))
        return slice(low, max(high, low))


def merged(start_s: Floats, end_s: Floats, resolution_s: float) -> Spans:
    """Spans joined where less than `resolution_s` lies between them, so that a picture has a bounded number.

    Args:
        start_s, end_s: shape (n,), sorted by start, not overlapping.
        resolution_s: the width of a column of the picture.
    """
    if not len(start_s):
        return Spans(start_s, end_s)
    new = np.ones(len(start_s), np.bool_)
    new[1:] = start_s[1:] - end_s[:-1] >= resolution_s
    starts = np.flatnonzero(new)
    return Spans(start_s[starts], np.maximum.reduceat(end_s, starts))
