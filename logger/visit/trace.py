"""The trace of a visit, ready to be drawn: any stretch of it in a bounded number of points.

In: samples and events as they come out of the visit log. Out: points and spans in seconds on one time line,
at the resolution that is asked for. The cost of a look depends on the resolution, not on the log's length: lowest
and highest of every 4, 16, 64 ... samples are kept beside the samples.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from logger.clock import NS_PER_S
from logger.settling.events import Event, Gap, Motion, Overload, Settled, Step, span_s
from logger.visit.records.recording_records import LoggedEvent, Samples

Floats = NDArray[np.float64]

Kind = type[Settled] | type[Motion] | type[Step] | type[Gap] | type[Overload]

Scalar = TypeVar("Scalar", bound=np.generic)

_FOLD = 4
"""Each level holds one bin for so many bins of the level below, the first one for so many samples."""

_LEVELS = 12
"""4 ** 12 samples a bin: at 100 samples/s a bin of the highest level is two days long."""


class _Column(Generic[Scalar]):
    """An array that grows at its end.

    Args:
        kind: the type of its numbers.
    """

    def __init__(self, kind: type[Scalar]) -> None:
        self._store: NDArray[Scalar] = np.empty(1024, kind)
        self.size = 0

    def extend(self, values: NDArray[Scalar]) -> None:
        needed = self.size + len(values)
        if needed > len(self._store):
            store = np.empty(max(needed, 2 * len(self._store)), self._store.dtype)
            store[: self.size] = self._store[: self.size]
            self._store = store
        self._store[self.size : needed] = values
        self.size = needed

    @property
    def values(self) -> NDArray[Scalar]:
        return self._store[: self.size]


class _Level:
    """Bins of equally many samples: which sample of each is the lowest, and which the highest."""

    def __init__(self) -> None:
        self.lowest = _Column(np.int64)
        self.highest = _Column(np.int64)

    @property
    def size(self) -> int:
        return self.lowest.size


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


@dataclass(frozen=True, slots=True)
class TimeJump:
    """A place on the time line where the time of day does not go on as the line does."""

    at_s: float
    """Where the later run begins."""
    before_utc_ns: int
    """When the last sample before it was."""
    after_utc_ns: int
    """When its first sample was: it may be earlier."""


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
        self._jumps: list[TimeJump] = []
        self._times_s = _Column(np.float64)
        self._volts = _Column(np.float64)
        self._breaks = _Column(np.int64)
        """How many samples up to this one do not follow the sample before them."""
        self._levels = [_Level() for _ in range(_LEVELS)]
        """Bins of 4, 16, 64 ... samples."""

    def __len__(self) -> int:
        return self._volts.size

    @property
    def end_s(self) -> float:
        """Time of the last sample; 0 when there is none."""
        times = self._times_s.values
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

    @property
    def run_count(self) -> int:
        """How many recordings it is made of."""
        return len(self._run_ids)

    def run_starts_between(self, start_s: float, end_s: float) -> list[float]:
        """Where runs begin within a stretch of the time line: there the time of day may jump."""
        return [at for at in self._run_starts_s if start_s < at < end_s]

    def jumps_between(self, start_s: float, end_s: float) -> list[TimeJump]:
        """Where, within a stretch of the time line, a run stands at another distance from the last than in time."""
        return [jump for jump in self._jumps if start_s < jump.at_s < end_s]

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
        times_s = self._times_s.values
        first = int(np.searchsorted(times_s, start_s))
        stop = int(np.searchsorted(times_s, end_s, side="right"))
        return times_s[first:stop], self._volts.values[first:stop]

    def polyline(self, start_s: float, end_s: float, most_bins: int) -> Polyline:
        """The stretch from start to end as points, each of them a sample at its own time.

        Where there are few samples, each is a point; else the first, the lowest and the highest of each bin, in the
        order in which they were measured.

        Args:
            start_s, end_s: the stretch; the neighbours just outside are included, so that lines leave the picture.
            most_bins: about as many as the picture has columns. At most 3 * most_bins points come back, and a few
                more for the newest samples and for gaps.
        """
        times_s, breaks = self._times_s.values, self._breaks.values
        first = max(int(np.searchsorted(times_s, start_s)) - 1, 0)
        stop = min(int(np.searchsorted(times_s, end_s, side="right")) + 1, len(self))
        level = 0
        while (stop - first) // _FOLD**level > most_bins and level < _LEVELS:
            level += 1
        parts: list[NDArray[np.int64]] = []
        at = first // _FOLD**level * _FOLD**level
        # The newest samples do not fill a bin yet: what is left over is drawn one level finer, down to samples.
        for depth in range(level, -1, -1):
            width = _FOLD**depth
            low, high = at // width, min(-(-stop // width), len(self) // width)
            if high > low:
                parts.append(self._chosen(depth, low, high))
                at = high * width
        if not parts:
            return Polyline(np.empty(0), np.empty(0), np.empty(0, np.bool_))
        chosen = np.unique(np.concatenate(parts))
        joined = np.ones(len(chosen), np.bool_)
        joined[:-1] = breaks[chosen[1:]] == breaks[chosen[:-1]]
        if chosen[-1] + 1 < len(self):
            joined[-1] = breaks[chosen[-1] + 1] == breaks[chosen[-1]]
        return Polyline(times_s[chosen], self._volts.values[chosen], joined)

    def _chosen(self, depth: int, low: int, high: int) -> NDArray[np.int64]:
        """The samples that are drawn of the bins low..high of a level, not sorted; level 0 has a sample a bin."""
        if depth == 0:
            return np.arange(low, high)
        width, bins, breaks = _FOLD**depth, self._levels[depth - 1], self._breaks.values
        first = np.arange(low, high) * width
        last = first + width - 1
        lowest, highest = bins.lowest.values[low:high], bins.highest.values[low:high]
        parts = [first, lowest, highest, last[-1:]]
        # Before a gap the curve ends at the last sample, as there is no next bin that it goes on to.
        after = breaks[np.minimum(last + 1, len(self) - 1)]
        parts.append(last[after != breaks[last]])
        torn = np.flatnonzero(breaks[last] != breaks[first])
        if len(torn):
            # A gap inside a bin: both sides of its first and of its last gap, and beside the extremes a sample each,
            # so that there is a line to be seen.
            inside = [np.searchsorted(breaks, breaks[end[torn]] + by) for end, by in ((first, 1), (last, 0))]
            parts += [last[torn], *inside, *(at - 1 for at in inside)]
            for extreme in (lowest[torn], highest[torn]):
                parts += [np.maximum(extreme - 1, first[torn]), np.minimum(extreme + 1, last[torn])]
        return np.concatenate(parts)

    def _append_run(self, run_id: int, steady_utc_ns: NDArray[np.int64], volts: Floats) -> None:
        if self.origin_utc_ns is None:
            self.origin_utc_ns = int(steady_utc_ns[0])
        begins = run_id not in self._shift_ns
        if begins:
            end_utc_ns = self.origin_utc_ns + round(self.end_s * NS_PER_S)
            late_ns = end_utc_ns - int(steady_utc_ns[0]) + round(self._break_s * NS_PER_S)
            overlaps = len(self) > 0 and int(steady_utc_ns[0]) <= end_utc_ns
            shift_ns = late_ns if overlaps else 0
            at_s = (int(steady_utc_ns[0]) + shift_ns - self.origin_utc_ns) / NS_PER_S
            shift_before_ns = self._shift_ns.get(self._last_run_id, 0)
            if shift_ns != shift_before_ns:
                self._jumps.append(TimeJump(at_s, end_utc_ns - shift_before_ns, int(steady_utc_ns[0])))
            self._shift_ns[run_id] = shift_ns
            self._last_run_id = run_id
            self._run_ids.append(run_id)
            self._run_starts_s.append(at_s)
        times_s = (steady_utc_ns + self._shift_ns[run_id] - self.origin_utc_ns) / NS_PER_S
        previous_s = self.end_s if len(self) else times_s[0]
        broken = (np.diff(times_s, prepend=previous_s) > self._break_s).astype(np.int64)
        if begins:
            broken[0] = 1
        total = int(self._breaks.values[-1]) if len(self) else 0
        self._times_s.extend(times_s)
        self._volts.extend(volts)
        self._breaks.extend(total + np.cumsum(broken))
        for depth, level in enumerate(self._levels):
            self._fold(depth, level)

    def _fold(self, depth: int, level: _Level) -> None:
        """Bring a level up to date with the one below it; only bins that are full are made."""
        volts = self._volts.values
        below = self._levels[depth - 1] if depth else None
        low, high = level.size * _FOLD, (len(volts) if below is None else below.size) // _FOLD * _FOLD
        if high == low:
            return
        samples = np.arange(low, high)
        for column, of_below, place in (
            (level.lowest, samples if below is None else below.lowest.values[low:high], np.argmin),
            (level.highest, samples if below is None else below.highest.values[low:high], np.argmax),
        ):
            candidates = of_below.reshape(-1, _FOLD)
            extreme = place(volts[candidates], axis=1)
            column.extend(np.take_along_axis(candidates, extreme[:, None], axis=1)[:, 0])


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
