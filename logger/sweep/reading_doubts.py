"""What speaks against a reading of a sweep at the moment when it is taken, so that somebody can still look.

In: the reading, the others of its spot, and the steps of the trace. Out: sentences. They rest on what needs no fit: a
decimal place, what the circuits can give together at most and at least, and a level that changed after everything was
reported as switched. Whether all readings agree is found out by `logger.sweep.solver.consistency` afterwards.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot

from logger.clock import NS_PER_S
from logger.metrology.rounding import fixed, signed
from logger.sweep.sweep_progress import SweepProgress, combination_of, cords_of, live_at_reading
from logger.translation import tr
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading

DECIMAL_SHARE = 8.0
"""A reading that is so many times every other may have a wrong unit or decimal place; somewhat below ten, since the
others scatter."""

MIN_OTHER_COMBINATIONS = 3
"""So many other combinations have to be read before one can be odd among them: before, a strong circuit looks odd."""

MIN_DOUBTED_VOLTS = 0.3
"""Below this a decimal place changes little that matters."""

BOUND_SHARE = 0.2
"""By this share the limits of what circuits give together are widened, for the posture."""

SIGMAS = 3.0
"""By so many standard uncertainties they are widened as well."""

SWITCHING_S = 2.0
"""A step within this time after the report that all is switched is the switching itself: the detector times it so."""


@dataclass(frozen=True, slots=True)
class LevelChange:
    """A step of the trace.

    Args:
        utc_ns: when, on the steady time line.
        volts: the level after it minus the one before.
    """

    utc_ns: int
    volts: float


def reading_doubts(
    reading: Reading,
    at_spot: SweepProgress,
    sources: Sequence[Source],
    switched_utc_ns: int = 0,
    changes: Sequence[LevelChange] = (),
) -> list[str]:
    """List what speaks against a reading, each in one or two sentences; nothing where nothing does.

    Args:
        reading: just taken.
        at_spot: the sweep at its spot, with or without the reading.
        sources: circuits and cords of the visit.
        switched_utc_ns: when everything was reported as switched, on the steady time line.
        changes: steps of the trace.
    """
    live = live_at_reading(reading, sources)
    if live is None:
        return []
    others = {
        other: mean
        for other, repeats in at_spot.taken.items()
        if other != live and (mean := _mean_volts([r for r in repeats if r.id != reading.id])) is not None
    }
    doubts = [_decimal_doubt(reading, list(others.values())), _limit_doubt(reading, live, others, sources)]
    return [*filter(None, doubts), *_change_doubts(reading, switched_utc_ns, changes)]


def _mean_volts(readings: Sequence[Reading]) -> float | None:
    return sum(reading.volts for reading in readings) / len(readings) if readings else None


def _decimal_doubt(reading: Reading, others: Sequence[float]) -> str:
    """Whether a reading is ten times, or a tenth of, every other.

    Args:
        reading: just taken.
        others: means of the other combinations, V.
    """
    if len(others) < MIN_OTHER_COMBINATIONS:
        return ""
    if reading.volts > max(MIN_DOUBTED_VOLTS, DECIMAL_SHARE * max(others)):
        return tr("This reading is about ten times every other, or more. Is the unit right?")
    if min(others) > MIN_DOUBTED_VOLTS and reading.volts < min(others) / DECIMAL_SHARE:
        return tr("This reading is about a tenth of every other, or less. Is the unit right?")
    return ""


def _limit_doubt(
    reading: Reading,
    live: frozenset[int],
    others: dict[frozenset[int], float],
    sources: Sequence[Source],
) -> str:
    """Whether a reading is above or below what its circuits can give together, by their readings alone.

    What a circuit gives by itself is at most its reading alone plus the background, and at least the one minus the
    other. Together they give at most the sum, and at least what the largest keeps where all others cancel it.

    Args:
        reading: just taken.
        live: ids of what was live.
        others: mean of each other combination, V.
        sources: circuits and cords of the visit.
    """
    nothing = combination_of([], sources).live
    background = others.get(nothing)
    on = [s for s in sources if s.kind == "circuit" and s.id in live - nothing]
    # Without a cord a circuit gives something else than alone.
    whole = all(cord.id in live for cord in cords_of(sources))
    alone = [others.get(combination_of([circuit.id], sources).live) for circuit in on]
    known = [volts for volts in alone if volts is not None]
    if background is None or not whole or len(known) < 2 or len(known) < len(alone):
        return ""
    count = len(known)
    most = background + sum(known) + count * background
    largest = max(known)
    least = largest - (sum(known) - largest) - (count + 1) * background
    margin = SIGMAS * hypot(reading.u_volts, BOUND_SHARE * most / SIGMAS)
    if reading.volts > most + margin:
        return tr(
            "This is more than all circuits that are on give together, which is at most {volts} V."
        ).format(volts=fixed(most, 2))
    if reading.volts < least - margin:
        return tr(
            "This is less than the circuits that are on can give together, which is at least {volts} V."
        ).format(volts=fixed(least, 2))
    return ""


def _change_doubts(reading: Reading, switched_utc_ns: int, changes: Sequence[LevelChange]) -> list[str]:
    """Whether the level changed after everything was reported as switched.

    Args:
        reading: just taken.
        switched_utc_ns: when everything was reported as switched; 0 where nobody reported it.
        changes: steps of the trace.
    """
    if not switched_utc_ns or reading.end_utc_ns is None:
        return []
    since = switched_utc_ns + round(SWITCHING_S * NS_PER_S)
    found = [change for change in changes if since < change.utc_ns <= reading.end_utc_ns]
    if not found:
        return []
    sizes = ", ".join(f"{signed(change.volts, 2)} V" for change in found)
    return [
        tr(
            "The level changed by {sizes} after everything was reported as switched. Was anything else switched?"
        ).format(sizes=sizes)
    ]
