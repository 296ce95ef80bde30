"""Starts for the circuits that were read only together with others, such as where each was switched off alone.

Only magnitudes are read, and the misfit of a sum of unknown amounts has one minimum for each choice of the sums' signs
(or phases): a fit that begins at zero finds one of them by chance. Here many choices are tried, the amounts solved for
each by linear least squares, and the choice renewed from the sums until it stays (alternating projections, R. W.
Gerchberg and W. O. Saxton, Optik 35, 1972). The best ones are where the fit begins.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from logger.sweep.solver.leg_assignments import SearchEffort, Start
from logger.sweep.solver.sweep_design import SweepDesign, unread_circuits

MAX_BASES = 12
"""Assignments of the other circuits' legs for which the unread ones are sought, the best ones."""

MAX_CHOICES = 1024
"""Choices of signs or phases that are tried for each; a random sample where there are more."""

ROUNDS = 12
"""Renewals of a choice; most stay after a few."""

SAME_AMOUNT_VOLTS = 0.02
"""Amounts that differ by less are one start."""


@dataclass(frozen=True, slots=True)
class _Sums:
    """The readings that the unread circuits are part of. C readings, U circuits.

    Args:
        matrix: what each unread circuit counts, shape (C, U).
        others: sums of background and other circuits, complex V, shape (C,).
        volts: of the readings, shape (C,).
        u_volts: their standard uncertainties, V, shape (C,).
        prior_u: what the unread may give, standard deviation, V, shape (U,).
    """

    matrix: NDArray[np.float64]
    others: NDArray[np.complex128]
    volts: NDArray[np.float64]
    u_volts: NDArray[np.float64]
    prior_u: NDArray[np.float64]


def with_unread_starts(
    design: SweepDesign, starts: Sequence[Start], legs: NDArray[np.complex128], effort: SearchEffort
) -> list[Start]:
    """The starts, those with amounts of the unread circuits first; the same starts where there is no unread circuit.

    Args:
        design: of the sweep.
        starts: assignments of the other circuits, the best first.
        legs: directions of the legs, complex, absolute value 1.
        effort: how thoroughly they are sought.
    """
    unread = unread_circuits(design)
    if not unread:
        return list(starts)
    rows = design.is_combined & (design.matrix[:, unread] != 0.0).any(axis=1)
    bases = starts[:MAX_BASES]
    each = max(2, effort.max_starts // len(bases))
    found = []
    for base in bases:
        values = np.zeros(len(design.names), complex)
        values[list(design.assigned)] = np.array(base.sizes) * legs[list(base.legs)]
        if base.hidden is not None:
            values[base.hidden] = base.hidden_volts * legs[base.hidden_leg]
        sums = _Sums(
            design.matrix[np.ix_(rows, unread)],
            base.background + design.matrix[rows] @ values,
            design.volts[rows],
            design.u_volts[rows],
            design.unassigned_u[unread],
        )
        amounts, chi2 = _amounts(sums, legs, max(64, MAX_CHOICES * effort.max_starts // 96))
        for at in _best_distinct(amounts, chi2, each):
            chosen = tuple(complex(volts) for volts in amounts[at])
            found.append(replace(base, unread=chosen, chi2=float(chi2[at])))
    found.sort(key=lambda start: start.chi2)
    plain = effort.max_starts // 8
    return [*found[: effort.max_starts - plain], *starts[:plain]]


def _amounts(
    sums: _Sums, legs: NDArray[np.complex128], max_choices: int
) -> tuple[NDArray[np.complex128], NDArray[np.float64]]:
    """Amounts of the unread circuits, shape (choices, U), complex V, and the chi-square of each, shape (choices,).

    Args:
        sums: the readings that they are part of.
        legs: directions of the legs.
        max_choices: of signs or phases.
    """
    choice = _choices(len(sums.volts), legs, max_choices)
    weighted = sums.matrix / sums.u_volts[:, None] ** 2
    normal = sums.matrix.T @ weighted + np.diag(sums.prior_u**-2.0)
    solve = np.linalg.solve(normal, weighted.T)
    amounts = np.zeros((len(choice), sums.matrix.shape[1]), complex)
    for _ in range(ROUNDS):
        amounts = (sums.volts * choice - sums.others) @ solve.T
        if len(legs) < 3:
            amounts = amounts.real.astype(complex)
        if len(legs) == 1:
            amounts = np.maximum(amounts.real, 0.0).astype(complex)
        total = sums.others + amounts @ sums.matrix.T
        size = np.abs(total)
        renewed = np.where(size > 0.0, total / np.where(size > 0.0, size, 1.0), choice)
        if np.allclose(renewed, choice):
            break
        choice = renewed
    misfit = (np.abs(sums.others + amounts @ sums.matrix.T) - sums.volts) / sums.u_volts
    return amounts, (misfit**2).sum(axis=1) + (np.abs(amounts / sums.prior_u) ** 2).sum(axis=1)


def _choices(count: int, legs: NDArray[np.complex128], max_choices: int) -> NDArray[np.complex128]:
    """Choices of the direction of each of the sums, shape (choices, count): all of them, or a random sample.

    Args:
        count: of the sums.
        legs: directions of the legs.
        max_choices: how many at most.
    """
    directions = np.unique(np.round([*legs, *-legs], 12)) if len(legs) > 1 else np.ones(1, complex)
    if len(directions) ** (count - 1) <= max_choices:
        # To turn every sum alike changes nothing that is read.
        rest = list(product(directions, repeat=count - 1))
        return np.array([(directions[-1], *chosen) for chosen in rest], complex).reshape(len(rest), count)
    return np.asarray(np.random.default_rng(0).choice(directions, (max_choices, count)), np.complex128)


def _best_distinct(amounts: NDArray[np.complex128], chi2: NDArray[np.float64], count: int) -> list[int]:
    """Indices of the best amounts, each once.

    Args:
        amounts: shape (choices, U), complex V.
        chi2: shape (choices,).
        count: how many at most.
    """
    kept: list[int] = []
    for at in np.argsort(chi2):
        if all(np.abs(amounts[at] - amounts[other]).max() > SAME_AMOUNT_VOLTS for other in kept):
            kept.append(int(at))
            if len(kept) == count:
                break
    return kept
