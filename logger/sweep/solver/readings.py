"""The readings of a breaker sweep: which circuits were live, and the body voltage then.

In: a CSV file with the header `on,volts,u_volts`, or the same as values. `on` names the live circuits, joined by `+`;
empty is everything off, `*` everything on.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from pathlib import Path

from logger.errors import StillvoltError

MIN_U_VOLTS = 0.001
"""No reading is better than this, whatever uncertainty it claims: a body never takes the same posture twice."""

EVERYTHING = "*"
HEADER = ["on", "volts", "u_volts"]


@dataclass(frozen=True, slots=True)
class SweepReading:
    """One reading: the circuits that were live, AC rms volts, standard uncertainty in volts."""

    on: frozenset[str]
    volts: float
    u_volts: float


@dataclass(frozen=True, slots=True)
class Sweep:
    """All readings at one spot in one posture, each combination once (repeats averaged), and the circuits' names."""

    circuits: tuple[str, ...]
    readings: tuple[SweepReading, ...]


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
        raise StillvoltError("There is no reading.", next_step="Begin with everything off.")
    if len(set(circuits)) != len(circuits):
        raise StillvoltError("A circuit is named twice.", next_step="Give each circuit a name of its own.")
    by_set: dict[frozenset[str], list[tuple[float, float]]] = {}
    for number, (live, volts, u_volts) in enumerate(rows, 1):
        unknown = sorted(live - set(circuits))
        if unknown:
            raise StillvoltError(f"Reading {number} names {unknown[0]!r}, which is not among the circuits.")
        if not (isfinite(volts) and isfinite(u_volts) and volts >= 0.0 and u_volts >= 0.0):
            raise StillvoltError(
                f"Reading {number} is not a voltage with an uncertainty: {volts}, {u_volts}."
            )
        by_set.setdefault(live, []).append((volts, max(u_volts, MIN_U_VOLTS)))
    readings = [SweepReading(live, *_mean(values)) for live, values in by_set.items()]
    return Sweep(tuple(circuits), tuple(readings))


def _names(on: str) -> list[str]:
    return [name.strip() for name in on.split("+") if name.strip() and name.strip() != EVERYTHING]


def _mean(values: list[tuple[float, float]]) -> tuple[float, float]:
    weights = [1.0 / u**2 for _, u in values]
    total = sum(weights)
    return sum(w * v for w, (v, _) in zip(weights, values, strict=True)) / total, total**-0.5


def read_sweep(path: Path, circuits: Sequence[str] = ()) -> Sweep:
    """Read the CSV file of a sweep; raises StillvoltError that names file and line."""
    rows: list[tuple[str, float, float]] = []
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            lines = csv.reader(file)
            if [cell.strip() for cell in next(lines, [])] != HEADER:
                raise StillvoltError(f"{path} does not start with the header {','.join(HEADER)}.")
            for cells in lines:
                if not any(cell.strip() for cell in cells):
                    continue
                try:
                    on, volts, u_volts = cells
                    rows.append((on, float(volts), float(u_volts)))
                except ValueError as error:
                    raise StillvoltError(
                        f"{path}, line {lines.line_num}: {','.join(cells)!r} is not on,volts,u_volts."
                    ) from error
    except (OSError, UnicodeDecodeError) as error:
        raise StillvoltError(f"{path} cannot be read ({error}).") from error
    return sweep_of(rows, circuits)
