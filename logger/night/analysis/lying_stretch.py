"""The part of a recording in which somebody lies: from the first lasting quiet stretch to the last one.

In: a `NightRecord` and a stretch of it. Out: that stretch without the restless time at its beginning and end, in
seconds on the record's time line. Somebody who walks about is still for seconds at a time only; a sleeper is still for
most of every quarter of an hour.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from logger.night.analysis.night_record import Floats, NightRecord

Stretch = tuple[float, float]
"""Start and end in seconds on a time line."""

QUIET_MINUTES = 15
"""Length of a lasting quiet stretch, min. No source: longer than reading a paper in a chair between two errands."""

QUIET_SHARE = 0.75
"""Share of its recorded time that has to be still. Sleepers who move ten times an hour are still for more than 0.9."""

MIN_COVERED_SHARE = 0.5
"""A stretch of which less was recorded does not show that anybody lies. No source."""

LONG_STILL_S = 60.0
"""The night begins with the first still span of that length in the first quiet stretch, and ends with the last one."""

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
    if len(moments_s) <= QUIET_MINUTES:
        return within
    still = [(span.start_s, span.end_s) for span in record.settled]
    still_s = _window_sums(_time_in(still, moments_s))
    covered_s = QUIET_MINUTES * _MINUTE_S - _window_sums(_time_in(record.missing, moments_s))
    enough = covered_s >= MIN_COVERED_SHARE * QUIET_MINUTES * _MINUTE_S
    quiet = np.flatnonzero(enough & (still_s >= QUIET_SHARE * covered_s))
    if not len(quiet):
        return within
    first_s, last_s = moments_s[quiet[0]], moments_s[quiet[-1] + QUIET_MINUTES]
    # The grid of whole minutes leaves less than a minute at the end.
    last_s = end_s if end_s - last_s < _MINUTE_S else last_s
    cut = [(max(a, start_s), min(b, end_s)) for a, b in still]
    long = [(a, b) for a, b in cut if b - a >= LONG_STILL_S]
    lies_s = next((a for a, b in long if b > first_s), start_s)
    rises_s = next((b for a, b in reversed(long) if a < last_s), end_s)
    return (
        lies_s if lies_s - start_s >= MIN_TRIMMED_S else start_s,
        rises_s if end_s - rises_s >= MIN_TRIMMED_S else end_s,
    )


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
    return passed_s[QUIET_MINUTES:] - passed_s[:-QUIET_MINUTES]
