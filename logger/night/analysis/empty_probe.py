"""Times of a night in which perhaps nobody was on the probe: far below the rest, for hours, without a motion.

In: a `NightRecord`. Out: such times. Somebody who gets up and leaves the probe behind looks so, and a house in which
something was switched off while the sleeper lay still: a doubt, and no more.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from logger.night.analysis.night_record import NightRecord, Stretch, merged, without

LOW_SHARE = 0.2
"""A level is far below the rest if it is lower than this share of the night's 95th percentile. No source."""

MIN_MOTIONLESS_S = 2 * 3600.0
"""For less than this a sleeper may well lie still. No source."""

MISSED_MOTIONS = 5.0
"""So many motions are expected in such a time, by how often there were some in the rest of the night: that there are
none by chance has a probability of 0.7 % then, if they come at random (Poisson)."""

MIN_REST_S = 1800.0
"""What it is far below of lasts at least so long. No source."""

EDGE_S = 120.0
"""Before and after such a time of low level a motion is that of getting up, or of coming back. No source."""

_CELL_S = 60.0


@dataclass(frozen=True, slots=True)
class MaybeEmpty:
    """A time in which perhaps nobody was on the probe.

    Args:
        stretch: its start and end, s since the night's start.
        volts: its median, V.
        rest_volts: the median of the still level of the rest of the night, V.
    """

    stretch: Stretch
    volts: float
    rest_volts: float


def maybe_empty(record: NightRecord) -> tuple[MaybeEmpty, ...]:
    """Return the times in which perhaps nobody was on the probe, in order.

    Args:
        record: of the night.
    """
    still = record.still_mask()
    if not still.any():
        return ()
    low_volts = LOW_SHARE * float(np.percentile(record.volts[still], 95.0))
    edges_s = np.arange(0.0, record.end_s + _CELL_S, _CELL_S)
    places = np.searchsorted(record.times_s, edges_s)
    parts = zip(places[:-1].tolist(), places[1:].tolist(), strict=True)
    low = [last > first and float(np.median(record.volts[first:last])) <= low_volts for first, last in parts]
    runs = np.flatnonzero(np.diff(np.concatenate(([False], low, [False])).astype(np.int8))).reshape(-1, 2)
    moved = [(motion.start_s, motion.end_s) for motion in record.motions]
    pieces: list[Stretch] = []
    for a, b in runs.tolist():
        run = (float(edges_s[a]), min(float(edges_s[b]), record.end_s))
        inside = [(s, e) for s, e in moved if s > run[0] + EDGE_S and e < run[1] - EDGE_S]
        pieces += without([run], merged([*inside, *record.unmeasured]))
    long = [piece for piece in pieces if piece[1] - piece[0] >= MIN_MOTIONLESS_S]
    in_long = np.zeros(len(still), bool)
    for start_s, end_s in long:
        in_long |= (record.times_s >= start_s) & (record.times_s <= end_s)
    rest = still & ~in_long
    if float(record.durations_s()[rest].sum()) < MIN_REST_S:
        return ()
    rest_volts = float(np.median(record.volts[rest]))
    inside_s = sum(end_s - start_s for start_s, end_s in long)
    rest_s = record.end_s - inside_s - sum(end_s - start_s for start_s, end_s in record.unmeasured)
    every_s = rest_s / len(moved) if moved else np.inf
    found = []
    for start_s, end_s in long:
        if end_s - start_s < MISSED_MOTIONS * every_s:
            continue
        here = (record.times_s >= start_s) & (record.times_s <= end_s)
        found.append(MaybeEmpty((start_s, end_s), float(np.median(record.volts[here])), rest_volts))
    return tuple(found)
