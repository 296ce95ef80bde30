"""Whether the readings of a sweep contradict each other, and which of them resolve it when they are taken away.

In: a `Sweep` with its rows. Out: a `Consistency`. Two tests, both of chi-square: the repeats of each combination about
their mean, and the readings about the best fit of all assignments of legs. Where one of them fails, the mistakes that
people make are tried on the rows: a decimal place, two rows exchanged, a breaker forgotten on, and any other error of
one row, which is to leave it out. A mistake counts by how well the rest then agrees; one that leaves nothing free (a
decimal place) counts more than one that takes a reading away.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from logger.metrology.supply import SupplyKey
from logger.statistics import chi2_upper_tail
from logger.sweep.solver.leg_assignments import assignments
from logger.sweep.solver.phasor_fit import fit
from logger.sweep.solver.posterior import DIRECTIONS
from logger.sweep.solver.readings import Sweep, SweepReading, repeats_by_combination
from logger.sweep.solver.sweep_design import sweep_design

LEVEL = 1e-3
"""Readings contradict each other where scatter as large as theirs is less likely than this."""

UNDERSTATED = 2.0
"""Readings may claim half the uncertainty that they have: tests and weights allow for it."""

MAX_SUSPECTS = 3
MIN_SUSPECT_SHARE = 0.03
"""A row is named where it has at least this share of the weight of all mistakes that resolve the contradiction."""

MIN_EXCHANGED_VOLTS = 0.03
"""Two readings that differ by less are not taken for exchanged."""

MIN_DOUBTED_VOLTS = 0.3
"""A reading below this is not doubted while it agrees: ten times lower it would differ by little that matters."""

MIN_BELOW, BELOW_SIGMAS = 3, 6.0
"""A background is too high where so many readings that contain it are lower by so many standard uncertainties."""

MAX_EXCHANGES = 60
"""Pairs of rows that are tried, those that differ most first."""

MAX_FORGOTTEN = 8
"""Circuits that are tried as forgotten on, those that read highest alone first."""

LEFT_OUT_CHI2 = 40.0
"""What a reading left out counts against a decimal place or an exchange: it would agree with any value, and a sharp
value that agrees by chance is one in some hundred. In units of chi-square of uncertainties that may be understated."""

FORGOTTEN_CHI2 = 16.0
"""What one of several circuits forgotten on counts, since one of them agrees more easily than a single one."""


@dataclass(frozen=True, slots=True)
class Misfit:
    """How far readings are from what fits them best.

    Args:
        chi2: of the misfit, with what the priors of small contributions add.
        degrees_of_freedom: readings minus effective parameters, at least 1.
    """

    chi2: float
    degrees_of_freedom: float

    @property
    def contradicts(self) -> bool:
        """Whether so large a misfit is no chance, even with uncertainties that are understated."""
        chi2 = self.chi2 / UNDERSTATED**2
        # What is no larger than expected needs no probability.
        return chi2 > self.degrees_of_freedom and chi2_upper_tail(chi2, self.degrees_of_freedom) < LEVEL


@dataclass(frozen=True, slots=True)
class Consistency:
    """Whether readings agree with each other.

    Args:
        consistent: they do.
        suspects: numbers of the rows that resolve it when they are taken away, the most likely first; 1 is the first.
        read_again: what was live in these rows, in their order. Where readings agree: combinations of those
            that would agree as well ten times lower.
        fit: misfit of the readings about the best fit.
        repeats: misfit of the repeats of each combination that was read more than once.
    """

    consistent: bool
    suspects: tuple[int, ...]
    read_again: tuple[frozenset[str], ...]
    fit: Misfit
    repeats: tuple[Misfit, ...]


@dataclass(frozen=True, slots=True)
class _Mistake:
    """A mistake that may have been made: indices of the rows it concerns, and the rows without it."""

    at: tuple[int, ...]
    rows: tuple[SweepReading, ...]
    penalty: float


def check_consistency(sweep: Sweep, supply: SupplyKey, cords: Mapping[str, str]) -> Consistency:
    """Test whether the readings at one spot agree, and name the rows that resolve it where they do not.

    Args:
        sweep: readings at one spot.
        supply: of the home.
        cords: which of the sweep's names are cords, and the circuit of each; empty where that is not known.
    """
    rows = sweep.rows or sweep.readings
    repeats, misfit = _repeats(rows), fit_misfit(sweep, supply, cords)
    too_high = _background_too_high(rows)
    if too_high is not None:
        return Consistency(False, (too_high + 1,), (rows[too_high].on,), misfit, repeats)
    if not (misfit.contradicts or any(repeat.contradicts for repeat in repeats)):
        return Consistency(True, (), _doubted(replace(sweep, rows=rows), supply, cords), misfit, repeats)
    suspects = _suspects(replace(sweep, rows=rows), supply, cords)
    return Consistency(
        False, tuple(at + 1 for at in suspects), tuple(rows[at].on for at in suspects), misfit, repeats
    )


def _background_too_high(rows: Sequence[SweepReading]) -> int | None:
    """Index of the reading with the fewest live, where half of the readings with one circuit more are clearly below it.

    Each of these circuits would have to cancel the background, and by the same amount. Where it was read again the two
    readings decide.
    """
    least = min(range(len(rows)), key=lambda at: len(rows[at].on))
    dark = rows[least]
    if sum(row.on == dark.on for row in rows) > 1:
        return None
    alone = [row for row in rows if dark.on < row.on and len(row.on) == len(dark.on) + 1]
    below = [
        row
        for row in alone
        if dark.volts - row.volts
        > max(MIN_EXCHANGED_VOLTS, BELOW_SIGMAS * (row.u_volts**2 + dark.u_volts**2) ** 0.5)
    ]
    return least if len(below) >= max(MIN_BELOW, len(alone) / 2) else None


def _doubted(sweep: Sweep, supply: SupplyKey, cords: Mapping[str, str]) -> tuple[frozenset[str], ...]:
    """Combinations read once that would agree with all others as well if they were ten times lower.

    Such a reading agrees by chance: of many assignments of legs one fits. The arguments are those of
    `check_consistency`.
    """
    rows = sweep.rows
    times = Counter(row.on for row in rows)
    high = [
        at
        for at, row in enumerate(rows)
        if times[row.on] == 1
        and row.volts > MIN_DOUBTED_VOLTS
        # Nothing speaks for or against a reading whose circuits are in no other one.
        and any(row.on < other.on for other in rows)
    ]
    return tuple(
        rows[mistake.at[0]].on
        for mistake in _decimal_places(rows, high)
        if np.isfinite(_score(sweep, mistake, supply, cords))
    )


def fit_misfit(sweep: Sweep, supply: SupplyKey, cords: Mapping[str, str]) -> Misfit:
    """Misfit of the best assignment of legs; the arguments are those of `check_consistency`."""
    legs = DIRECTIONS[supply]
    design = sweep_design(sweep, len(legs), cords)
    fits = fit(design, assignments(design, legs), legs)
    best = int(np.argmin(fits.chi2))
    problem, parameters = fits.problem, fits.parameters[best]
    misfit, jacobian, _ = problem.evaluate(fits.parameters)
    prior = (parameters - problem.mean[best]) ** 2 * problem.precision[best]
    # Priors of background and of what has a leg only hold the fit; those of what is next to nothing are information.
    informative = prior[2 + len(design.assigned) :].sum()
    effective = float(np.trace(jacobian[best].T @ jacobian[best] @ fits.covariance[best]))
    spare = float(problem.counts[best].sum()) - effective
    return Misfit(float((misfit[best] ** 2).sum() + informative), max(1.0, spare))


def _repeats(rows: Sequence[SweepReading]) -> tuple[Misfit, ...]:
    """Misfit of the repeats of each combination that was read more than once."""
    return tuple(
        Misfit(repeats.chi2, repeats.degrees_of_freedom)
        for repeats in repeats_by_combination(rows).values()
        if repeats.degrees_of_freedom
    )


def _suspects(sweep: Sweep, supply: SupplyKey, cords: Mapping[str, str]) -> list[int]:
    """Indices of the suspect rows, the most likely first; the arguments are those of `check_consistency`."""
    left_out = [(mistake, _score(sweep, mistake, supply, cords)) for mistake in _left_out(sweep.rows)]
    resolving = [mistake.at[0] for mistake, score in left_out if np.isfinite(score)]
    # To change one row resolves nothing that leaving it out does not.
    others = [
        *_decimal_places(sweep.rows, resolving, (0.1, 10.0)),
        *_forgotten(sweep, resolving),
        *_exchanged(sweep.rows),
    ]
    scored = left_out + [(mistake, _score(sweep, mistake, supply, cords)) for mistake in others]
    found = [(mistake, score) for mistake, score in scored if np.isfinite(score)]
    if not found:
        return _farthest(sweep, supply, cords)
    least = min(score for _, score in found)
    weight: dict[int, float] = {}
    for mistake, score in found:
        for at in mistake.at:
            weight[at] = weight.get(at, 0.0) + float(np.exp((least - score) / 2 / UNDERSTATED**2))
    total = sum(np.exp((least - score) / 2 / UNDERSTATED**2) for _, score in found)
    ranked = sorted(weight, key=lambda at: -weight[at])
    return [at for at in ranked if weight[at] >= MIN_SUSPECT_SHARE * total][:MAX_SUSPECTS]


def _score(sweep: Sweep, mistake: _Mistake, supply: SupplyKey, cords: Mapping[str, str]) -> float:
    """Chi-square with the mistake undone and what the mistake counts; infinite where that resolves nothing.

    Args:
        sweep: readings at one spot.
        mistake: the one that is undone.
        supply: of the home.
        cords: as in `check_consistency`.
    """
    if not mistake.rows:
        return float("inf")
    repeats = _repeats(mistake.rows)
    if any(repeat.contradicts for repeat in repeats):
        return float("inf")
    misfit = fit_misfit(sweep.with_rows(mistake.rows), supply, cords)
    if misfit.contradicts:
        return float("inf")
    return misfit.chi2 + sum(repeat.chi2 for repeat in repeats) + mistake.penalty


def _farthest(sweep: Sweep, supply: SupplyKey, cords: Mapping[str, str]) -> list[int]:
    """The rows without which the misfit is least, for contradictions that no single mistake resolves.

    Repeats that disagree with each other come first, since they need no model.
    """
    rows = sweep.rows
    apart = [
        at
        for at, row in enumerate(rows)
        if any(
            other.on == row.on
            and Misfit((other.volts - row.volts) ** 2 / (other.u_volts**2 + row.u_volts**2), 1.0).contradicts
            for other in rows
        )
    ]
    without = [
        fit_misfit(sweep.with_rows(mistake.rows), supply, cords).chi2 if mistake.rows else np.inf
        for mistake in _left_out(rows)
    ]
    ranked = sorted(range(len(rows)), key=lambda at: (at not in apart, without[at]))
    return ranked[:MAX_SUSPECTS]


def _changed(rows: Sequence[SweepReading], changes: Mapping[int, SweepReading]) -> tuple[SweepReading, ...]:
    return tuple(changes.get(at, row) for at, row in enumerate(rows))


def _left_out(rows: Sequence[SweepReading]) -> Iterator[_Mistake]:
    """Each row left out."""
    for at in range(len(rows)):
        yield _Mistake((at,), (*rows[:at], *rows[at + 1 :]), LEFT_OUT_CHI2)


def _decimal_places(
    rows: Sequence[SweepReading], candidates: Sequence[int], factors: Sequence[float] = (0.1,)
) -> Iterator[_Mistake]:
    """Each of the candidate rows times each factor."""
    for at in candidates:
        for factor in factors:
            yield _Mistake((at,), _changed(rows, {at: replace(rows[at], volts=factor * rows[at].volts)}), 0.0)


def _exchanged(rows: Sequence[SweepReading]) -> list[_Mistake]:
    """Two rows with each other's volts, of those that differ most."""
    pairs = [
        (one, other)
        for one, other in combinations(range(len(rows)), 2)
        if abs(rows[one].volts - rows[other].volts) > MIN_EXCHANGED_VOLTS
        and rows[one].on != rows[other].on
        and len(rows[one].on) == len(rows[other].on)
    ]
    pairs.sort(key=lambda pair: -abs(rows[pair[0]].volts - rows[pair[1]].volts))
    return [
        _Mistake(
            (one, other),
            _changed(
                rows,
                {one: replace(rows[other], on=rows[one].on), other: replace(rows[one], on=rows[other].on)},
            ),
            FORGOTTEN_CHI2,
        )
        for one, other in pairs[:MAX_EXCHANGES]
    ]


def _forgotten(sweep: Sweep, candidates: Sequence[int]) -> Iterator[_Mistake]:
    """Each of the candidate rows with one more circuit live."""
    least = frozenset.intersection(*(row.on for row in sweep.rows))
    alone = {next(iter(extra)): row.volts for row in sweep.rows if len(extra := row.on - least) == 1}
    largest = sorted(alone, key=lambda name: -alone[name])[:MAX_FORGOTTEN]
    for at in candidates:
        row = sweep.rows[at]
        for name in largest:
            if name not in row.on:
                yield _Mistake(
                    (at,), _changed(sweep.rows, {at: replace(row, on=row.on | {name})}), FORGOTTEN_CHI2
                )
