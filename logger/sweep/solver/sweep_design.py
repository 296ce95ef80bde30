"""A sweep as arrays: the design matrix, and how each circuit is classified by its solo reading.

A reading's sum is `background + matrix @ contributions`. A circuit counts +1 where it was live. A cord counts -1 where
it was unplugged while its circuit was live, since a circuit's contribution includes that of the cords on it; a cord
whose circuit nobody knows counts +1 where it was plugged in. Circuits that were live in every reading (those that must
stay on, mostly) cannot be separated from the background and are part of it.

In: a `Sweep`. Out: a `SweepDesign`, which sorts the circuits into those that a leg is assigned to, and those that give
next to nothing or were not read alone, of which only an amount either way is estimated.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.sweep.solver.readings import Sweep

SIGNIFICANT_SIGMAS = 2.5
"""A circuit whose solo reading differs from the background by fewer standard uncertainties than this is counted as
next to nothing; what it might give widens every reading and prediction that it is part of."""

MIN_DIFFERENCE_VOLTS = 0.012
"""And so is one whose difference is below this, however small the stated uncertainties: an eighth of the usual target
decides nothing. No source, ours; how well a posture repeats is in the readings' uncertainties."""

UNREAD_U_VOLTS = 0.3
"""What a circuit that was never read alone may usually give, standard deviation."""

ZERO_BACKGROUND_SIGMAS = 4.0
"""Below so many standard uncertainties the background is counted as zero, where a magnitude has a corner: a reading of
next to nothing then only means that there is next to nothing."""


@dataclass(frozen=True, slots=True)
class SweepDesign:
    """The arrays of a sweep. R readings, n circuits and cords.

    Args:
        names: of the circuits and cords.
        circuit_of: index of each cord's circuit by the index of the cord, where it is known.
        matrix: what each contribution counts in each reading, shape (R, n).
        volts: of the readings, shape (R,).
        u_volts: their standard uncertainties, V, shape (R,).
        u_effective: the same, widened by what the unassigned ones may add up to, V, shape (R,).
        is_combined: more than one contribution adds to the background in a reading, shape (R,).
        is_fitted: readings that the fit counts; those left out are accounted for in `unassigned_u`, shape (R,).
        solo_row: the reading in which only this circuit adds to the background, by its index.
        always_live: live in every reading, shape (n,).
        unread: never read alone though not live in every reading, shape (n,).
        background_volts: magnitude of the background.
        background_u: its standard uncertainty, V.
        background_is_zero: the background is not distinguishable from zero, so that its phase does not count.
        assigned: indices of the circuits that a leg is assigned to, the largest first.
        unassigned_u: what those without a leg may give, standard deviation, V, shape (n,); 0 for the others.
        unassigned_mean: what those without a leg give by expectation, V, shape (n,).
        is_null: the solo reading equals the background, shape (n,).
        null_volts: what the null ones give by that reading, V; NaN for the others, shape (n,).
        understated: factor by which the uncertainties of the readings may be too small.
    """

    names: tuple[str, ...]
    circuit_of: Mapping[int, int]
    matrix: NDArray[np.float64]
    volts: NDArray[np.float64]
    u_volts: NDArray[np.float64]
    u_effective: NDArray[np.float64]
    is_combined: NDArray[np.bool_]
    is_fitted: NDArray[np.bool_]
    solo_row: Mapping[int, int]
    always_live: NDArray[np.bool_]
    unread: NDArray[np.bool_]
    background_volts: float
    background_u: float
    background_is_zero: bool
    assigned: tuple[int, ...]
    unassigned_u: NDArray[np.float64]
    unassigned_mean: NDArray[np.float64]
    is_null: NDArray[np.bool_]
    null_volts: NDArray[np.float64]
    understated: float


def sweep_design(sweep: Sweep, leg_count: int, cords: Mapping[str, str]) -> SweepDesign:
    """Turn a sweep into arrays.

    Args:
        sweep: readings at one spot.
        leg_count: number of directions that a leg may have.
        cords: which of the sweep's names are cords, and the circuit of each; empty where that is not known.
    """
    names = sweep.circuits
    circuit_of = circuits_of_cords(names, cords)
    matrix = design_matrix(_live_mask(sweep), circuit_of)
    volts = np.array([r.volts for r in sweep.readings])
    u_volts = np.array([r.u_volts for r in sweep.readings])
    always_live = (matrix == 1.0).all(axis=0)
    matrix[:, always_live] = 0.0
    count = (matrix != 0.0).sum(axis=1)
    solo_row: dict[int, int] = {}
    for row in np.flatnonzero(count == 1):
        solo_row.setdefault(int(np.flatnonzero(matrix[row])[0]), int(row))
    dark_rows = np.flatnonzero(count == 0)
    solo = _SoloReadings(volts, u_volts, solo_row, *_background(volts, u_volts, solo_row, dark_rows))
    roles = [
        _BACKGROUND_ROLE
        if always_live[k]
        else _cord_role(k, circuit_of[k], solo, matrix)
        if k in circuit_of and not always_live[circuit_of[k]]
        else _circuit_role(k, solo, leg_count)
        if k in solo_row
        else _Role(is_unread=True, u_volts=_unread_u_volts(k, matrix, volts))
        for k in range(len(names))
    ]
    unassigned_u = np.array([role.u_volts for role in roles])
    is_null = np.array([k in solo_row and unassigned_u[k] > 0.0 for k in range(len(names))], bool)
    is_fitted = np.ones(len(volts), bool)
    if solo.background_is_zero:
        is_fitted[[solo_row[int(k)] for k in np.flatnonzero(is_null)]] = False
    return SweepDesign(
        names=names,
        circuit_of=circuit_of,
        matrix=matrix,
        volts=volts,
        u_volts=u_volts,
        # What next to nothing adds up to is not known: it widens the readings that it is part of.
        u_effective=np.sqrt(u_volts**2 + matrix**2 @ unassigned_u**2),
        is_combined=count > 1,
        is_fitted=is_fitted,
        solo_row=solo_row,
        always_live=always_live,
        unread=np.array([role.is_unread for role in roles], bool),
        background_volts=solo.background_volts,
        background_u=solo.background_u,
        background_is_zero=solo.background_is_zero,
        assigned=_assigned_by_size(roles, solo),
        unassigned_u=unassigned_u,
        unassigned_mean=np.array([role.mean_volts for role in roles]),
        is_null=is_null,
        null_volts=np.array([role.null_volts for role in roles]),
        understated=sweep.understated,
    )


@dataclass(frozen=True, slots=True)
class _SoloReadings:
    """The readings of one circuit each, and the background that they are compared with."""

    volts: NDArray[np.float64]
    u_volts: NDArray[np.float64]
    row_of: Mapping[int, int]
    background_volts: float
    background_u: float

    @property
    def background_is_zero(self) -> bool:
        """Whether the background is not distinguishable from zero."""
        return self.background_volts < ZERO_BACKGROUND_SIGMAS * self.background_u


@dataclass(frozen=True, slots=True)
class _Role:
    """What a circuit or cord is in the fit; the fields are those of `SweepDesign` for one of them."""

    is_assigned: bool = False
    is_unread: bool = False
    u_volts: float = 0.0
    mean_volts: float = 0.0
    null_volts: float = np.nan


_BACKGROUND_ROLE = _Role()
"""The role of what is part of the background."""


def _live_mask(sweep: Sweep) -> NDArray[np.bool_]:
    """Which circuits and cords were live in each reading, shape (R, n)."""
    live = [[name in reading.on for name in sweep.circuits] for reading in sweep.readings]
    return np.array(live, bool).reshape(len(sweep.readings), len(sweep.circuits))


def _assigned_by_size(roles: Sequence[_Role], solo: _SoloReadings) -> tuple[int, ...]:
    """Indices of the circuits that a leg is assigned to, by their difference from the background.

    The largest comes first, since its leg is the first one by definition.
    """
    size = {
        k: abs(float(solo.volts[solo.row_of[k]]) - solo.background_volts)
        for k, role in enumerate(roles)
        if role.is_assigned
    }
    return tuple(sorted(size, key=lambda k: (-size[k], k)))


def _background(
    volts: NDArray[np.float64],
    u_volts: NDArray[np.float64],
    solo_row: Mapping[int, int],
    dark_rows: NDArray[np.intp],
) -> tuple[float, float]:
    """Magnitude of the background and its standard uncertainty, V.

    Args:
        volts: of the readings, shape (R,).
        u_volts: their standard uncertainties, V, shape (R,).
        solo_row: the reading of each circuit alone, by its index.
        dark_rows: readings with everything off.
    """
    if len(dark_rows):
        return float(volts[dark_rows[0]]), float(u_volts[dark_rows[0]])
    # It was not read. Most circuits give next to nothing, so what the lowest ones read alone is about it.
    alone = np.sort(volts[list(solo_row.values())])
    if len(alone) < 3:
        return 0.0, 0.05
    lowest = alone[: (len(alone) + 2) // 3]
    return float(np.median(lowest)), float(np.hypot(0.02, lowest[-1] - lowest[0]))


def _cord_role(k: int, circuit: int, solo: _SoloReadings, matrix: NDArray[np.float64]) -> _Role:
    """The role of a cord: what it takes of its circuit is found in the fit.

    Args:
        k: index of the cord.
        circuit: index of its circuit.
        solo: readings of single circuits.
        matrix: the design matrix, shape (R, n).
    """
    row = solo.row_of.get(circuit)
    return _Role(
        # It is known once a reading differs by nothing but its being unplugged.
        is_unread=not (matrix[:, k] < 0.0).any(),
        u_volts=UNREAD_U_VOLTS if row is None else max(0.5 * solo.volts[row], 0.02),
    )


def _unread_u_volts(k: int, matrix: NDArray[np.float64], volts: NDArray[np.float64]) -> float:
    """What a circuit that was not read alone may give, standard deviation, V.

    Two readings that differ by nothing else limit it: it gives at most their sum.

    Args:
        k: index of the circuit.
        matrix: the design matrix, shape (R, n).
        volts: of the readings, shape (R,).
    """
    on, off = np.flatnonzero(matrix[:, k] == 1.0), np.flatnonzero(matrix[:, k] == 0.0)
    differences = (matrix[on][:, np.newaxis, :] != matrix[off][np.newaxis, :, :]).sum(axis=2)
    at_most = (volts[on][:, np.newaxis] + volts[off])[differences == 1]
    return max(UNREAD_U_VOLTS, float(at_most.min()) if at_most.size else 0.0)


def _circuit_role(k: int, solo: _SoloReadings, leg_count: int) -> _Role:
    """The role of a circuit, or of a cord whose circuit is not known, by its solo reading, which there is.

    Args:
        k: index of the circuit.
        solo: readings of single circuits.
        leg_count: number of directions that a leg may have.
    """
    row = solo.row_of[k]
    volts, background = float(solo.volts[row]), solo.background_volts
    u = float(np.hypot(solo.u_volts[row], solo.background_u))
    difference = abs(volts - background)
    if difference > max(SIGNIFICANT_SIGMAS * u, MIN_DIFFERENCE_VOLTS):
        return _Role(is_assigned=True)
    # Its contribution lies between the least (along the background) and the most (across it), which nobody knows.
    across = abs(volts**2 - background**2) ** 0.5
    most = (across**2 + (0.0 if solo.background_is_zero else 2 * background * u)) ** 0.5
    return _Role(
        u_volts=max(u, difference, most / 2),
        # Contributions of one phase add up, and then even these have to be counted.
        mean_volts=across / 2 if leg_count == 1 and solo.background_is_zero else 0.0,
        null_volts=max(volts**2 - background**2 - u**2, 0.0) ** 0.5 if solo.background_is_zero else 0.0,
    )


def unread_circuits(design: SweepDesign) -> list[int]:
    """Indices of the circuits that were read only together with others, whose amounts either way are found in the fit.

    Args:
        design: of the sweep.
    """
    together = (design.matrix[design.is_combined] != 0.0).any(axis=0)
    return [
        int(k)
        for k in np.flatnonzero(design.unread & (design.unassigned_u > 0.0) & together)
        if int(k) not in design.circuit_of
    ]


def circuits_of_cords(names: tuple[str, ...], cords: Mapping[str, str]) -> dict[int, int]:
    """Index of each cord's circuit by the index of the cord, where it is known."""
    index = {name: k for k, name in enumerate(names)}
    return {index[cord]: index[circuit] for cord, circuit in cords.items() if circuit and cord in index}


def design_matrix(live: NDArray[np.bool_], circuit_of: Mapping[int, int]) -> NDArray[np.float64]:
    """What each contribution counts in each combination.

    Args:
        live: which circuits are on and which cords plugged in, shape (combinations, n).
        circuit_of: index of each cord's circuit by the index of the cord, where it is known.

    Returns:
        Shape (combinations, n): 1, 0, or -1 for an unplugged cord.
    """
    counts = live.astype(float)
    for cord, circuit in circuit_of.items():
        counts[:, cord] = -(live[:, circuit] & ~live[:, cord]).astype(float)
    return counts
