"""Whether the readings of a sweep contradict each other, and which of them resolve it when they are taken away.

In: a `Sweep` with its rows, and the model fitted to it. Out: a `Consistency`. Two tests, both of chi-square: the
repeats of each combination about their mean, and the readings about the best fit of all assignments of legs. Where one
of them fails, the mistakes that people make (`mistakes.py`) are tried on the rows. A mistake counts by how well the
rest then agrees, and by how many mistakes of its kind there may be.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, log

import numpy as np

from logger.sweep.solver.mistakes import (
    MIN_CHANGE_VOLTS,
    MistakeFit,
    changes,
    counts_of,
    exchanges_of,
    fit_mistake,
    left_out,
    repeats_misfit,
)
from logger.sweep.solver.readings import Sweep, SweepReading
from logger.sweep.solver.sweep_fit import Misfit, SweepFit

MAX_SUSPECTS = 3
"""Rows named, and beside them those that they may have been exchanged with."""

MIN_SUSPECT_SHARE = 0.03
"""A row is named where it has at least this share of the weight of all mistakes that resolve the contradiction."""

MIN_BELOW, BELOW_SIGMAS = 3, 6.0
"""A background is too high where so many readings that contain it are lower by so many standard uncertainties."""


@dataclass(frozen=True, slots=True)
class Consistency:
    """Whether readings agree with each other.

    Args:
        consistent: they do.
        suspects: numbers of the rows that resolve it when they are taken away, the most likely first; 1 is the first.
        read_again: what was live in these rows, in their order; empty where the readings agree.
        fit: misfit of the readings about the best fit.
        repeats: misfit of the repeats of each combination that was read more than once.
        swapped: numbers of the two of the suspects of which an exchange resolves it best; None where none does.
    """

    consistent: bool
    suspects: tuple[int, ...]
    read_again: tuple[frozenset[str], ...]
    fit: Misfit
    repeats: tuple[Misfit, ...]
    swapped: tuple[int, int] | None = None


def check_consistency(sweep: Sweep, found: SweepFit, cords: Mapping[str, str]) -> Consistency:
    """Test whether the readings at one spot agree, and name the rows that resolve it where they do not.

    Args:
        sweep: readings at one spot.
        found: the model fitted to them.
        cords: which of the sweep's names are cords, and the circuit of each; empty where that is not known.
    """
    sweep = sweep if sweep.rows else replace(sweep, rows=sweep.readings)
    repeats, misfit = repeats_misfit(sweep), found.misfit()
    too_high = _background_too_high(sweep.rows)
    swapped: tuple[int, int] | None = None
    if too_high is not None:
        partners = _partners(sweep, found, cords, too_high)
        suspects = [too_high, *partners][:MAX_SUSPECTS]
        swapped = (too_high, partners[0]) if partners else None
    elif misfit.contradicts or any(repeat.contradicts for repeat in repeats):
        suspects, swapped = _suspects(sweep, found, cords)
    else:
        return Consistency(True, (), (), misfit, repeats)
    return Consistency(
        False,
        tuple(at + 1 for at in suspects),
        tuple(sweep.rows[at].on for at in suspects),
        misfit,
        repeats,
        None if swapped is None else (swapped[0] + 1, swapped[1] + 1),
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
        > max(MIN_CHANGE_VOLTS, BELOW_SIGMAS * (row.u_volts**2 + dark.u_volts**2) ** 0.5)
    ]
    return least if len(below) >= max(MIN_BELOW, len(alone) / 2) else None


def _partners(sweep: Sweep, found: SweepFit, cords: Mapping[str, str], at: int) -> list[int]:
    """Indices of the rows whose reading may have been exchanged with that of a row, the lowest reading first.

    To read only that row again would leave its own reading where it does not belong.

    Args:
        sweep: readings at one spot.
        found: the model fitted to them.
        cords: which of the sweep's names are cords, and the circuit of each; empty where that is not known.
        at: index of the row.
    """
    partners: list[int] = []
    able = [
        mistake for mistake in exchanges_of(sweep, found.design) if any(at in same for same in mistake.alike)
    ]
    for mistake in sorted(able, key=lambda mistake: min(sweep.rows[one].volts for one in mistake.at)):
        if _background_too_high(mistake.rows) is not None:
            continue
        if fit_mistake(sweep, mistake, found.supply, cords).resolves:
            partners += [one for same in mistake.alike if at not in same for one in same]
        if len(partners) >= MAX_SUSPECTS:
            break
    return partners


def _suspects(
    sweep: Sweep, found: SweepFit, cords: Mapping[str, str]
) -> tuple[list[int], tuple[int, int] | None]:
    """Indices of the suspect rows, the most likely first, and of the two that were most likely exchanged.

    The arguments are those of `check_consistency`.
    """
    without = [
        fit_mistake(sweep, mistake, found.supply, cords)
        for mistake in left_out(sweep, found.design)
        if mistake.rows
    ]
    # To change one row resolves nothing that leaving it out does not; two that were exchanged are another matter.
    resolving = [at for tried in without if tried.resolves for at in tried.mistake.alike[0]]
    every = range(len(sweep.rows))
    others = [
        mistake
        for mistake in changes(sweep, found.design, every)
        if mistake.swapped is None and (len(mistake.at) == 2 or mistake.at[0] in resolving)
    ]
    tried = [*without, *(fit_mistake(sweep, mistake, found.supply, cords) for mistake in others)]
    resolved = [one for one in tried if one.resolves]
    if not resolved:
        return _farthest(sweep, without), None
    named = _named(resolved)
    return named, _exchanged_of(resolved, named)


def _exchanged_of(resolved: Sequence[MistakeFit], named: Sequence[int]) -> tuple[int, int] | None:
    """Indices of two suspects of which an exchange resolves the contradiction, the likeliest; None for none."""
    pairs = [one for one in resolved if len(one.mistake.at) == 2 and {*one.mistake.at} <= {*named}]
    best = max(pairs, key=lambda one: one.log_weight, default=None)
    return None if best is None else (best.mistake.at[0], best.mistake.at[1])


def _named(resolved: Sequence[MistakeFit]) -> list[int]:
    """Indices of the rows with a share in what resolves the contradiction, the largest share first."""
    counts = counts_of([one.mistake for one in resolved])
    highest = max(one.log_weight for one in resolved)
    share: dict[int, float] = {}
    partner: dict[int, int] = {}
    total = 0.0
    for one in sorted(resolved, key=lambda one: -one.log_weight):
        weight = exp(one.log_weight - highest - log(counts[one.mistake.kind]))
        total += weight * one.mistake.count
        for same in one.mistake.alike:
            for at in same:
                share[at] = share.get(at, 0.0) + weight * one.mistake.count / len(same)
        if len(one.mistake.at) == 2:
            for at, other in (one.mistake.at, one.mistake.at[::-1]):
                partner.setdefault(at, other)
    ranked = sorted(share, key=lambda at: -share[at])
    named = [at for at in ranked if share[at] >= MIN_SUSPECT_SHARE * total][:MAX_SUSPECTS] or ranked[:1]
    # The reading of a suspect may be where that of another belongs: both have to be read again then.
    others = [
        partner[at] for at in named if at in partner and share[partner[at]] >= MIN_SUSPECT_SHARE * total
    ]
    return list(dict.fromkeys([*named, *others]))


def _farthest(sweep: Sweep, without: Sequence[MistakeFit]) -> list[int]:
    """The rows without which the misfit is least, for contradictions that no single mistake resolves.

    Repeats that disagree with each other come first, since they need no model.

    Args:
        sweep: readings at one spot.
        without: fits without each row.
    """
    rows = sweep.rows
    apart = [
        at
        for at, row in enumerate(rows)
        if any(
            other.on == row.on
            and Misfit(
                (other.volts - row.volts) ** 2 / (other.u_volts**2 + row.u_volts**2), 1.0, sweep.understated
            ).contradicts
            for other in rows
        )
    ]
    chi2 = {at: one.chi2 for one in without for at in one.mistake.alike[0]}
    ranked = sorted(range(len(rows)), key=lambda at: (at not in apart, chi2.get(at, np.inf)))
    return ranked[:MAX_SUSPECTS]
