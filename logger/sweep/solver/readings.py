"""The readings of a breaker sweep: which circuits were live, and the body voltage then.

In: values with the names of the live circuits, joined by `+` or as sets; empty is everything off, `*` everything on.
`logger.sweep.readings_csv` reads them from a file.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import isfinite

from logger.errors import StillvoltError
from logger.repeats import MIN_U_VOLTS, Repeats, combine
from logger.translation import tr

UNDERSTATED = 2.0
"""Readings of a file may claim half the uncertainty that they have: tests and weights allow for it. No source, ours."""

EVERYTHING = "*"
HEADER = ["on", "volts", "u_volts"]


@dataclass(frozen=True, slots=True)
class SweepReading:
    """One reading.

    Args:
        on: the circuits that were live.
        volts: AC rms.
        u_volts: standard uncertainty, V.
        way: another number for another meter input, reference or posture among the readings of one combination.
    """

    on: frozenset[str]
    volts: float
    u_volts: float
    way: int = 0


@dataclass(frozen=True, slots=True)
class Sweep:
    """All readings at one spot in one posture.

    Args:
        circuits: names on the panel.
        readings: each combination once, repeats combined.
        rows: each reading as it was taken, in its order; row 1 is the first one.
        understated: the uncertainties may be too small by this factor; 1 where the posture is known to be in them.
    """

    circuits: tuple[str, ...]
    readings: tuple[SweepReading, ...]
    rows: tuple[SweepReading, ...] = ()
    understated: float = UNDERSTATED

    def with_rows(self, rows: Sequence[SweepReading]) -> Sweep:
        """The same panel with other rows, repeats combined."""
        return replace(self, readings=combined_repeats(rows), rows=tuple(rows))


def sweep_of(rows: Sequence[tuple[str, float, float]], circuits: Sequence[str] = ()) -> Sweep:
    """Put readings together.

    Args:
        rows: `on` as in the CSV file, volts, u_volts.
        circuits: all names on the panel; without it, those that the rows name.

    Raises:
        StillvoltError: a name that is not on the panel, a value that is no voltage, or no row at all.
    """
    names = list(circuits)
    if not names:
        for on, _, _ in rows:
            names += [name for name in _names(on) if name not in names]
    everything = frozenset(names)
    return sweep_of_sets(
        [
            (everything if on.strip() == EVERYTHING else frozenset(_names(on)), volts, u_volts)
            for on, volts, u_volts in rows
        ],
        names,
    )


def sweep_of_sets(rows: Sequence[tuple[frozenset[str], float, float]], circuits: Sequence[str]) -> Sweep:
    """Put readings together whose live circuits are given as sets, so that a name may hold any character.

    Args:
        rows: live circuits, volts, u_volts.
        circuits: all names on the panel, in its order.

    Raises:
        StillvoltError: a name that is not on the panel, a value that is no voltage, or no row at all.
    """
    if not rows:
        raise StillvoltError(tr("There is no reading."), next_step=tr("Begin with everything off."))
    if len(set(circuits)) != len(circuits):
        raise StillvoltError(
            tr("A circuit is named twice."), next_step=tr("Give each circuit a name of its own.")
        )
    readings = []
    for number, (live, volts, u_volts) in enumerate(rows, 1):
        unknown = sorted(live - set(circuits))
        if unknown:
            raise StillvoltError(
                tr("Reading {n} names {name}, which is not among the circuits.").format(
                    n=number, name=repr(unknown[0])
                )
            )
        if not (isfinite(volts) and isfinite(u_volts) and volts >= 0.0 and u_volts >= 0.0):
            raise StillvoltError(
                tr("Reading {n} is not a voltage with an uncertainty: {volts}, {u_volts}.").format(
                    n=number, volts=volts, u_volts=u_volts
                )
            )
        readings.append(SweepReading(live, volts, max(u_volts, MIN_U_VOLTS)))
    return Sweep(tuple(circuits), combined_repeats(readings), tuple(readings))


def combined_repeats(rows: Sequence[SweepReading]) -> tuple[SweepReading, ...]:
    """Each combination once: the weighted mean of its repeats, wider by the Birge ratio where they scatter."""
    return tuple(
        SweepReading(live, repeats.volts, repeats.u_volts)
        for live, repeats in repeats_by_combination(rows).items()
    )


def repeats_by_combination(rows: Sequence[SweepReading]) -> dict[frozenset[str], Repeats]:
    """The repeats of each combination, in the order in which the combinations were first read."""
    by_set: dict[frozenset[str], list[SweepReading]] = {}
    for row in rows:
        by_set.setdefault(row.on, []).append(row)
    return {live: combine([(row.volts, row.u_volts) for row in same]) for live, same in by_set.items()}


def times_alike(rows: Iterable[SweepReading]) -> int:
    """How many of some readings of one combination were taken in the same way: only these repeat each other."""
    return max(Counter(row.way for row in rows).values(), default=0)


def _names(on: str) -> list[str]:
    return [name.strip() for name in on.split("+") if name.strip() and name.strip() != EVERYTHING]
