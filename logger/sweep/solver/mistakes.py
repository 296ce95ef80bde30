"""The mistakes that may have been made in a sweep, and what the home would be without each of them.

In: a `Sweep` and its `SweepDesign`. Out: `Mistake`s: a decimal place, the readings of two circuits exchanged, a breaker
forgotten on or off, and any other error of one row, which is to leave it out. `fit_mistake` fits the rest.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import inf, log, pi, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from logger.metrology.supply import SupplyKey
from logger.sweep.solver.leg_assignments import QUICK, THOROUGH
from logger.sweep.solver.readings import Sweep, SweepReading, repeats_by_combination
from logger.sweep.solver.sweep_design import SweepDesign
from logger.sweep.solver.sweep_fit import CLEARLY_BETTER, Misfit, SweepFit, fit_sweep

Kind = Literal["left out", "decimal place", "exchanged", "exchanged rows", "forgotten"]

MIN_CHANGE_VOLTS = 0.03
"""Readings that a mistake changes by less than this are not looked at."""

USUAL_RANGE_VOLTS = 3.0
"""A reading that is wrong in any other way may be anything up to this."""

MAX_FORGOTTEN = 6
"""Circuits that are tried as forgotten, those that read highest alone first."""

MAX_THOROUGH_CIRCUITS = 6
"""With no more circuits each row is left out with a thorough fit: a quick one may miss the signs of circuits that were
read only together, and there are few rows."""

MAX_COMBINED_EXCHANGES = 30
"""Exchanges that are tried of a reading that is not of one circuit alone: each of them has to be fitted."""

MAX_TRIED = 120
"""Mistakes of one kind that are tried, those that change a reading most first, so that an answer keeps nobody
waiting on a large panel."""


@dataclass(frozen=True, slots=True)
class Mistake:
    """A mistake that may have been made.

    Args:
        kind: what was done.
        at: indices of the rows that are wrong.
        rows: all rows without the mistake.
        alike: indices of the rows that each of `at` stands for, itself among them: no reading separates them.
        swapped: indices of the circuits that changed places, where that is all that it changes.
    """

    kind: Kind
    at: tuple[int, ...]
    rows: tuple[SweepReading, ...]
    alike: tuple[tuple[int, ...], ...]
    swapped: tuple[int, int] | None = None

    @property
    def count(self) -> int:
        """How many mistakes it stands for."""
        return int(np.prod([len(rows) for rows in self.alike]))


@dataclass(frozen=True, slots=True)
class MistakeFit:
    """The model fitted to the rows without a mistake.

    Args:
        mistake: the one that is undone.
        misfit: of fit and repeats.
        resolves: what is left contradicts nothing.
        log_weight: how likely it is, as the logarithm of a share, for each of the mistakes that it stands for.
        background: complex V.
        contributions: complex V, shape (n,).
    """

    mistake: Mistake
    misfit: Misfit
    resolves: bool
    log_weight: float
    background: complex
    contributions: NDArray[np.complex128]

    @property
    def chi2(self) -> float:
        """Of fit and repeats."""
        return self.misfit.chi2

    def behind_chi2(self, best: Misfit, noted: Misfit) -> float:
        """How much worse the readings fit with it undone, less than 0 where better; infinite where it is ruled out.

        An exchange is ruled out where the readings agree far more closely as they were noted.

        Args:
            best: of all readings as they were noted, with the supply that they fit best.
            noted: the same with the supply that was entered.
        """
        if not self.resolves:
            return inf
        if len(self.mistake.at) == 2 and self.misfit.unlikelihood - best.unlikelihood > CLEARLY_BETTER:
            return inf
        return self.chi2 - noted.chi2


@dataclass(frozen=True, slots=True)
class _Rows:
    """The rows of a sweep, with what separates them.

    Args:
        rows: as they were taken.
        extra: the circuits and cords that count in each row beside the background, by their indices.
        patterns: of each circuit, what it counts in the combined readings; equal where no reading separates two.
        names: of the circuits and cords.
    """

    rows: tuple[SweepReading, ...]
    extra: tuple[frozenset[int], ...]
    patterns: tuple[bytes, ...]
    names: tuple[str, ...]

    def alone(self, at: int) -> int | None:
        """Index of the circuit that a row reads alone."""
        return next(iter(self.extra[at])) if len(self.extra[at]) == 1 else None

    def group(self, at: int) -> tuple[object, ...]:
        """Equal for rows that no reading separates."""
        alone = self.alone(at)
        if alone is None or self.times(at) > 1:
            return (at,)
        return self.patterns[alone], round(self.rows[at].volts, 3)

    def times(self, at: int) -> int:
        """How often the combination of a row was read."""
        return sum(row.on == self.rows[at].on for row in self.rows)


def left_out(sweep: Sweep, design: SweepDesign) -> list[Mistake]:
    """Each row left out, rows alike once."""
    rows = _rows_of(sweep, design)
    return [
        Mistake("left out", (same[0],), (*rows.rows[: same[0]], *rows.rows[same[0] + 1 :]), (same,))
        for same in _grouped(rows, range(len(rows.rows)))
    ]


def changes(
    sweep: Sweep, design: SweepDesign, candidates: Sequence[int], min_volts: float = MIN_CHANGE_VOLTS
) -> list[Mistake]:
    """Decimal places, exchanges and circuits forgotten on or off.

    Args:
        sweep: readings at one spot.
        design: the same as arrays.
        candidates: indices of the rows that may be wrong; of two that were exchanged one is among them.
        min_volts: a mistake changes a reading by more than this.
    """
    rows = _rows_of(sweep, design)
    return [
        *_decimal_places(rows, candidates, min_volts),
        *_forgotten(rows, design, candidates, min_volts),
        *_exchanged(rows, candidates, min_volts),
    ]


def exchanges_of(sweep: Sweep, design: SweepDesign) -> list[Mistake]:
    """Each exchange of two readings that differ, of those that differ most.

    Args:
        sweep: readings at one spot.
        design: the same as arrays.
    """
    return _exchanged(_rows_of(sweep, design), range(len(sweep.rows)), MIN_CHANGE_VOLTS)


def fit_mistake(sweep: Sweep, mistake: Mistake, supply: SupplyKey, cords: Mapping[str, str]) -> MistakeFit:
    """Fit the model to what the rows would be without a mistake.

    Args:
        sweep: readings at one spot.
        mistake: the one that is undone.
        supply: of the home.
        cords: which of the sweep's names are cords, and the circuit of each; empty where that is not known.
    """
    repaired = sweep.with_rows(mistake.rows)
    repeats = repeats_misfit(repaired)
    is_small = mistake.kind == "left out" and len(sweep.circuits) <= MAX_THOROUGH_CIRCUITS
    found = fit_sweep(repaired, supply, cords, THOROUGH if is_small else QUICK)
    misfit = found.misfit()
    resolves = not (misfit.contradicts or any(repeat.contradicts for repeat in repeats))
    total = misfit.with_others(repeats)
    background, contributions = found.best_phasors()
    log_weight = -total.chi2 / sweep.understated**2 / 2
    if mistake.kind == "left out":
        # A value that explains itself agrees with a probability density, any other with an even one.
        u_volts = sweep.understated * sweep.rows[mistake.at[0]].u_volts
        log_weight -= max(0.0, log(USUAL_RANGE_VOLTS / (sqrt(2 * pi) * u_volts)))
    return MistakeFit(mistake, total, resolves, log_weight, background, contributions)


def repeats_misfit(sweep: Sweep) -> tuple[Misfit, ...]:
    """Misfit of the repeats of each combination that was read more than once, about their mean."""
    return tuple(
        Misfit(repeats.chi2, repeats.degrees_of_freedom, sweep.understated)
        for repeats in repeats_by_combination(sweep.rows).values()
        if repeats.degrees_of_freedom
    )


def misfit_of(sweep: Sweep, found: SweepFit) -> Misfit:
    """Misfit of fit and repeats together; `found` is the model fitted to the sweep."""
    return found.misfit().with_others(repeats_misfit(sweep))


def _rows_of(sweep: Sweep, design: SweepDesign) -> _Rows:
    counts = [frozenset(np.flatnonzero(line).tolist()) for line in design.matrix]
    by_combination = {reading.on: extra for reading, extra in zip(sweep.readings, counts, strict=True)}
    combined = design.matrix[design.is_combined]
    return _Rows(
        sweep.rows,
        tuple(by_combination[row.on] for row in sweep.rows),
        tuple(combined[:, k].tobytes() for k in range(len(design.names))),
        design.names,
    )


def _grouped(rows: _Rows, candidates: Sequence[int]) -> list[tuple[int, ...]]:
    """The candidate rows in groups that no reading separates."""
    groups: dict[tuple[object, ...], list[int]] = {}
    for at in candidates:
        groups.setdefault(rows.group(at), []).append(at)
    return [tuple(group) for group in groups.values()]


def _changed(rows: Sequence[SweepReading], changed: Mapping[int, SweepReading]) -> tuple[SweepReading, ...]:
    return tuple(changed.get(at, row) for at, row in enumerate(rows))


def _decimal_places(rows: _Rows, candidates: Sequence[int], min_volts: float) -> list[Mistake]:
    """Each of the candidate rows ten times lower, and ten times higher."""
    found = []
    for same in _grouped(rows, candidates):
        row = rows.rows[same[0]]
        for factor in (0.1, 10.0):
            if abs(factor - 1.0) * row.volts > min_volts:
                right = _changed(rows.rows, {same[0]: replace(row, volts=factor * row.volts)})
                found.append(Mistake("decimal place", same[:1], right, (same,)))
    return found[:MAX_TRIED]


def _exchanged(rows: _Rows, candidates: Sequence[int], min_volts: float) -> list[Mistake]:
    """Two rows with the readings of each other, of those that differ most; rows alike once."""
    able = set(candidates)
    pairs: dict[tuple[object, ...], list[tuple[int, int]]] = {}
    for one, other in combinations(range(len(rows.rows)), 2):
        if rows.rows[one].on == rows.rows[other].on:
            continue
        if abs(rows.rows[one].volts - rows.rows[other].volts) > min_volts and able & {one, other}:
            if rows.rows[one].volts < rows.rows[other].volts:
                one, other = other, one
            pairs.setdefault((rows.group(one), rows.group(other)), []).append((one, other))
    order = sorted(
        pairs.values(), key=lambda same: -abs(rows.rows[same[0][0]].volts - rows.rows[same[0][1]].volts)
    )
    with_combined = [same for same in order if any(rows.alone(at) is None for at in same[0])]
    skipped = {same[0] for same in with_combined[MAX_COMBINED_EXCHANGES:]}
    found = []
    for same in [same for same in order if same[0] not in skipped][:MAX_TRIED]:
        one, other = same[0]
        a, b = rows.alone(one), rows.alone(other)
        swapped = None
        if a is not None and b is not None and rows.patterns[a] == rows.patterns[b]:
            swapped = (a, b) if rows.times(one) == rows.times(other) == 1 else None
        found.append(
            Mistake(
                "exchanged rows" if a is None or b is None else "exchanged",
                (one, other),
                _changed(
                    rows.rows,
                    {
                        one: replace(rows.rows[other], on=rows.rows[one].on),
                        other: replace(rows.rows[one], on=rows.rows[other].on),
                    },
                ),
                (tuple(dict.fromkeys(x for x, _ in same)), tuple(dict.fromkeys(y for _, y in same))),
                swapped,
            )
        )
    return found


def _forgotten(
    rows: _Rows, design: SweepDesign, candidates: Sequence[int], min_volts: float
) -> list[Mistake]:
    """Each of the candidate rows with one circuit more or fewer live, of those that read highest alone."""
    solo = {k: float(design.volts[row]) for k, row in design.solo_row.items() if k not in design.circuit_of}
    largest = [
        k for k in sorted(solo, key=lambda k: -solo[k]) if abs(solo[k] - design.background_volts) > min_volts
    ][:MAX_FORGOTTEN]
    found = []
    for same in _grouped(rows, candidates):
        row = rows.rows[same[0]]
        # A circuit that reads like the background would have to cancel what was forgotten.
        if rows.alone(same[0]) is not None and abs(row.volts - design.background_volts) <= min_volts:
            continue
        for k in largest:
            # A circuit that was read alone and had been forgotten off would read like nothing.
            if rows.names[k] not in row.on or len(rows.extra[same[0]]) > 1:
                right = _changed(rows.rows, {same[0]: replace(row, on=row.on ^ {rows.names[k]})})
                found.append(Mistake("forgotten", same[:1], right, (same,)))
    return found[:MAX_TRIED]


def counts_of(mistakes: Sequence[Mistake]) -> Counter[Kind]:
    """How many mistakes of each kind there are."""
    counts: Counter[Kind] = Counter()
    for mistake in mistakes:
        counts[mistake.kind] += mistake.count
    return counts
