"""The part of a recording in which somebody lies: from the first hour without restlessness to the last one.

In: a `NightRecord` and a stretch of it. Out: that stretch without the restless time at its beginning and end, in
seconds on the record's time line. Somebody who is up walks every few minutes; a sleeper is still for most of every ten
minutes, and a walk in the night has an hour or more in bed on both of its sides.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from logger.night.analysis.night_record import Floats, NightRecord, Stretch

WINDOW_MINUTES = 10
"""Restlessness shows within such a window, min: whoever is up walks more often than that."""

STILL_SHARE = 0.75
"""A window of which less was still is restless. Sleepers who move ten times an hour are still for more than 0.9. No
source (`scripts/bench/night.py edges`)."""

MIN_COVERED_SHARE = 0.5
"""A window of which less was measured does not show restlessness. No source."""

LYING_MINUTES = 60
"""Somebody lies where no window is restless for so long, min; between errands people sit for less. No source."""

LONG_MOTION_S = 45.0
"""Somebody who turns over is still again within this time; whoever walks to bed takes longer. No source."""

NEAR_EDGE_S = 1800.0
"""The night begins after the last long motion within this time of the first such hour, and ends before the first one
within this time of the last."""

MIN_TRIMMED_S = 120.0
"""Less is not cut off: somebody starts the recording and lies down."""

_MINUTE_S = 60.0


def longest_free(whole: Stretch, work: Sequence[Stretch]) -> Stretch:
    """Return the longest part of a stretch that is free of work; the whole where nothing was done in it.

    Args:
        whole: the stretch.
        work: start and end of each piece of work on the same time line, s, in any order.
    """
    start_s, end_s = whole
    found, free_from_s = (start_s, start_s), start_s
    inside = sorted(piece for piece in work if piece[1] >= start_s and piece[0] <= end_s)
    for busy_s, done_s in [*inside, (end_s, end_s)]:
        if busy_s - free_from_s > found[1] - found[0]:
            found = (free_from_s, busy_s)
        free_from_s = max(free_from_s, done_s)
    return found


def lying_stretch(record: NightRecord, within: Stretch) -> Stretch:
    """Return where somebody lies in a part of a recording; that part itself where nothing shows it.

    Args:
        record: samples and events of the recording.
        within: the part.
    """
    start_s, end_s = within
    moments_s = np.arange(start_s, end_s + 1e-6, _MINUTE_S)
    if len(moments_s) <= LYING_MINUTES:
        return within
    hours = _runs_of(~_restless(record, moments_s), LYING_MINUTES - WINDOW_MINUTES)
    # Where nothing at all was still, as on a display that stood still, nothing shows that somebody lies.
    still_s = _time_in(record.still, moments_s)
    hours = [(a, b) for a, b in hours if still_s[b + WINDOW_MINUTES] > still_s[a]]
    if not hours:
        return within
    first_s, last_s = moments_s[hours[0][0]], moments_s[hours[-1][1] + WINDOW_MINUTES]
    # The grid of whole minutes leaves less than a minute at the end.
    last_s = end_s if end_s - last_s < _MINUTE_S else last_s
    up = _long_motions(record, first_s, last_s)
    lies_s = max((b for _, b in up if b <= first_s + NEAR_EDGE_S), default=first_s)
    rises_s = min((a for a, _ in up if a >= max(last_s - NEAR_EDGE_S, lies_s)), default=last_s)
    return (
        lies_s if lies_s - start_s >= MIN_TRIMMED_S else start_s,
        rises_s if end_s - rises_s >= MIN_TRIMMED_S else end_s,
    )


def _long_motions(record: NightRecord, start_s: float, end_s: float) -> list[Stretch]:
    """Return the times between two moments that were measured and not still for longer than `LONG_MOTION_S`.

    Args:
        record: samples and events of the recording.
        start_s: the first moment, s.
        end_s: the last moment, s.
    """
    quiet = sorted([*record.still, *record.unmeasured])
    found, passed_s = [], start_s
    for quiet_s, until_s in [*quiet, (end_s, end_s)]:
        quiet_s = min(quiet_s, end_s)
        if quiet_s - passed_s > LONG_MOTION_S:
            found.append((passed_s, quiet_s))
        passed_s = max(passed_s, until_s)
    return found


def _restless(record: NightRecord, moments_s: Floats) -> NDArray[np.bool_]:
    """Return which of the windows that begin at those moments are restless, shape (n - `WINDOW_MINUTES`,)."""
    window_s = WINDOW_MINUTES * _MINUTE_S
    still_s = _window_sums(_time_in(record.still, moments_s))
    covered_s = window_s - _window_sums(_time_in(record.unmeasured, moments_s))
    restless: NDArray[np.bool_] = (covered_s >= MIN_COVERED_SHARE * window_s) & (
        still_s < STILL_SHARE * covered_s
    )
    return restless


def _runs_of(which: NDArray[np.bool_], length: int) -> list[tuple[int, int]]:
    """Return the first and the last index of each run of more than `length` that are true.

    Args:
        which: shape (n,).
        length: the run is longer than this.
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([False], which, [False])).astype(np.int8)))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > length]


def _time_in(spans: Sequence[Stretch], moments_s: Floats) -> Floats:
    """Return how much of the time before each moment is in spans that follow each other."""
    if not spans:
        return np.zeros(len(moments_s))
    ends = np.maximum.accumulate(np.array(spans, dtype=float).ravel())
    lengths_s = np.diff(ends)
    lengths_s[1::2] = 0.0
    passed: Floats = np.interp(moments_s, ends, np.append(0.0, np.cumsum(lengths_s)))
    return passed


def _window_sums(passed_s: Floats) -> Floats:
    return passed_s[WINDOW_MINUTES:] - passed_s[:-WINDOW_MINUTES]
