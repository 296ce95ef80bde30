"""All assignments of legs that the readings allow, as starts for the fit.

For each of a grid of phases of the background, each circuit's solo reading leaves one or two sizes on each leg. The
combinations of these are compared with the readings of several circuits, largest circuit first; what cannot be mended
by the circuits still to come is dropped on the way (a beam search).

One thing stays hidden that way: a circuit that gives about twice what the background gives, in the opposite direction,
reads alone like one that gives nothing. One circuit at a time of those that read like nothing is tried as such a one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.sweep.solver.sweep_design import SweepDesign

PHASE_STEP_VOLTS = 0.03
"""Phases of the background over the full turn: as many as move it by this, within the bounds of `SearchEffort`."""

MAX_ASSIGNMENTS_TOGETHER = 8_000
"""Assignments of several phases that are computed at once, which is quicker while they are few."""

PHASE_U_SHARE = 0.25
"""The coarse grid of phases adds this share of how far one step moves the background to a reading's uncertainty."""

STARTS_CHI2 = 96.0
"""The grid of phases is coarse: what is so much worse than the best one here may fit as well once it is polished."""

SAME_SIZE_VOLTS = 0.05
"""Two starts whose sizes differ by less are one."""

PRIOR_VOLTS = 0.5
"""Contributions of this size are usual; much larger ones need evidence."""

HIDDEN_CHI2 = 9.0
"""That a circuit reads like nothing by chance is one in a hundred."""

MIN_HIDDEN_VOLTS = 0.03
"""Below this a hidden contribution is within what next to nothing may be anyway."""


@dataclass(frozen=True, slots=True)
class SearchEffort:
    """How thoroughly assignments are sought.

    Args:
        max_assignments: kept while circuits are added, for one phase of the background.
        min_phases: of the background over the full turn.
        max_phases: the same, at most.
        max_starts: assignments that are fitted.
        max_hidden_starts: of those with a hidden circuit, for one phase and leg.
        max_iterations: of the fit.
        max_start_chi2: chi-square of the best assignment, beyond which none is fitted.
        fits_null: what reads alone like nothing is fitted as well; else it widens the readings that it is part of, and
            none of it is hidden by the background.
    """

    max_assignments: int
    min_phases: int
    max_phases: int
    max_starts: int
    max_hidden_starts: int
    max_iterations: int
    max_start_chi2: float
    fits_null: bool


THOROUGH = SearchEffort(6_000, 24, 48, 96, 12, 16, float("inf"), fits_null=True)
"""For the answer."""

QUICK = SearchEffort(300, 8, 16, 8, 0, 8, 300.0, fits_null=False)
"""For each of the many mistakes that may have been made: the best fit counts, and no rival of it."""


@dataclass(frozen=True, slots=True)
class Start:
    """An assignment of legs to the circuits that have one, with where the fit begins.

    Args:
        legs: of each assigned circuit.
        background: complex V.
        sizes: of each assigned circuit, V.
        hidden: index of a circuit that reads alone like nothing and is none; it represents all that were read together
            with it. None: no circuit is hidden.
        hidden_leg: its leg.
        hidden_volts: its size.
        chi2: chi-square of the readings and the prior, before the fit.
    """

    legs: tuple[int, ...]
    background: complex
    sizes: tuple[float, ...]
    hidden: int | None = None
    hidden_leg: int = -1
    hidden_volts: float = 0.0
    chi2: float = 0.0
    unread: tuple[complex, ...] = ()
    """What each circuit of `unread_circuits` gives, complex V; empty begins at what their priors expect."""

    @property
    def prior_chi2(self) -> float:
        """What speaks against the assignment before any reading."""
        return 0.0 if self.hidden is None else HIDDEN_CHI2


@dataclass(frozen=True, slots=True)
class _Beam:
    """The assignments that are kept for one phase of the background. A assignments, C readings of several circuits.

    Args:
        background: complex V.
        matrix: rows of the design matrix, shape (C, n).
        volts: of the readings, shape (C,).
        u_volts: their standard uncertainties, shape (C, 1).
        legs: of each assigned circuit, shape (A, circuits).
        sizes: the same in V, shape (A, circuits).
        sums: of background and contributions in each reading, complex V, shape (C, A).
        prior: chi-square of the solo readings and the sizes, shape (A,).
        chi2: the same with the readings of several circuits, shape (A,).
    """

    background: complex
    matrix: NDArray[np.float64]
    volts: NDArray[np.float64]
    u_volts: NDArray[np.float64]
    legs: NDArray[np.int64]
    sizes: NDArray[np.float64]
    sums: NDArray[np.complex128]
    prior: NDArray[np.float64]
    chi2: NDArray[np.float64]


def assignments(
    design: SweepDesign, directions: NDArray[np.complex128], effort: SearchEffort = THOROUGH
) -> list[Start]:
    """Assignments worth a fit, the best first.

    Args:
        design: of the sweep.
        directions: of the legs, complex, absolute value 1.
        effort: how thoroughly they are sought.
    """
    hidden = representatives(design) if effort.fits_null else {}
    found: dict[tuple[object, ...], Start] = {}
    phases = _phases(design, len(directions), effort)
    step = float(phases[1] - phases[0]) if len(phases) > 1 else 0.0
    for beam in _beams(design, directions, phases, step, effort.max_assignments):
        for start in _starts_of(beam, design, directions, hidden, effort):
            # Two sizes of one circuit (both roots) are two starts.
            key = (
                start.legs,
                start.hidden,
                start.hidden_leg,
                *(round(size / SAME_SIZE_VOLTS) for size in start.sizes),
            )
            if key not in found or start.chi2 < found[key].chi2:
                found[key] = start
    ranked = sorted(found.values(), key=lambda start: start.chi2)
    return [start for start in ranked if start.chi2 < ranked[0].chi2 + STARTS_CHI2][: effort.max_starts]


def representatives(design: SweepDesign) -> dict[int, list[int]]:
    """Group the circuits whose solo reading equals the background by the combined readings they share.

    Returns:
        {representative: members}, by index; empty where the background is zero, so that nothing hides behind it.
    """
    if design.background_is_zero:
        return {}
    members_of: dict[bytes, list[int]] = {}
    for k in np.flatnonzero(design.is_null):
        members_of.setdefault(design.matrix[design.is_combined, k].tobytes(), []).append(int(k))
    return {members[0]: members for members in members_of.values()}


def _phases(design: SweepDesign, legs: int, effort: SearchEffort) -> NDArray[np.float64]:
    """Phases of the background to try, rad."""
    if design.background_volts < design.background_u:
        return np.array([0.0])
    wanted = 2 * np.pi * design.background_volts / PHASE_STEP_VOLTS
    count = 2 * int(np.clip(wanted, effort.min_phases, effort.max_phases) / 2)
    turn = 2 * np.pi * np.arange(count) / count
    # With real directions a house and its mirror image read the same.
    return turn if legs == 3 else turn[: count // 2 + 1]


def _starts_of(
    beam: _Beam,
    design: SweepDesign,
    directions: NDArray[np.complex128],
    hidden: dict[int, list[int]],
    effort: SearchEffort,
) -> list[Start]:
    """The best assignments for one phase of the background, without and with one hidden circuit.

    Args:
        beam: the assignments for that phase.
        design: of the sweep.
        directions: of the legs, complex, absolute value 1.
        hidden: `representatives`.
        effort: how thoroughly they are sought.
    """
    background = beam.background
    starts = _best_starts(beam, beam.chi2, Start((), background, ()), 2 * effort.max_starts)
    for k in hidden:
        column = beam.matrix[:, k, None]
        for leg, direction in enumerate(directions):
            size = -2 * (background * np.conj(design.matrix[design.solo_row[k], k] * direction)).real
            if size > MIN_HIDDEN_VOLTS:
                misfit = (np.abs(beam.sums + column * size * direction) - beam.volts[:, None]) / beam.u_volts
                chi2 = beam.prior + HIDDEN_CHI2 + (misfit**2).sum(axis=0)
                template = Start((), background, (), k, leg, float(size))
                starts += _best_starts(beam, chi2, template, effort.max_hidden_starts)
    return starts


def _best_starts(beam: _Beam, chi2: NDArray[np.float64], template: Start, count: int) -> list[Start]:
    """Starts from the best assignments of a beam.

    Args:
        beam: the assignments.
        chi2: of each assignment, shape (A,).
        template: a start with the hidden circuit, if there is one.
        count: how many are taken at most.
    """
    return [
        Start(
            tuple(beam.legs[index].tolist()),
            beam.background,
            tuple(beam.sizes[index].tolist()),
            template.hidden,
            template.hidden_leg,
            template.hidden_volts,
            float(chi2[index]),
        )
        for index in np.argsort(chi2)[:count]
    ]


def _sizes(
    design: SweepDesign, k: int, backgrounds: NDArray[np.complex128], towards: NDArray[np.complex128]
) -> NDArray[np.float64]:
    """Sizes of a circuit that explain its solo reading; where none does, the nearest one.

    Args:
        design: of the sweep.
        k: index of the circuit.
        backgrounds: complex V, shape (P,).
        towards: directions that the circuit may have, shape (legs,).

    Returns:
        Shape (P, legs, 2); the second is NaN where there is one size only.
    """
    row = design.solo_row[k]
    along = (backgrounds[:, None] * np.conj(design.matrix[row, k] * towards)).real
    rest = along**2 - np.abs(backgrounds[:, None]) ** 2 + float(design.volts[row]) ** 2
    root = np.sqrt(np.maximum(rest, 0.0))
    second = np.where(-along - root > 0.0, -along - root, np.nan)
    return np.stack([np.maximum(-along + root, 0.0), second], axis=2)


def _beams(
    design: SweepDesign,
    directions: NDArray[np.complex128],
    phases: NDArray[np.float64],
    step: float,
    max_assignments: int,
) -> Iterator[_Beam]:
    """The beam of each phase of the background; the arguments are those of `_beams_together`."""
    most = min(max_assignments, 2 * (2 * len(directions)) ** max(len(design.assigned) - 1, 0))
    together = max(1, MAX_ASSIGNMENTS_TOGETHER // most)
    for at in range(0, len(phases), together):
        yield from _beams_together(design, directions, phases[at : at + together], step, max_assignments)


# long: the arrays of a beam grow together, circuit by circuit; parts of it would take nine of them as arguments.
def _beams_together(
    design: SweepDesign,
    directions: NDArray[np.complex128],
    phases: NDArray[np.float64],
    step: float,
    max_assignments: int,
) -> Iterator[_Beam]:
    """Add the assigned circuits one after the other, and keep the assignments that the readings allow.

    Args:
        design: of the sweep.
        directions: of the legs, complex, absolute value 1.
        phases: of the background, rad, shape (P,); they are computed together.
        step: of the grid of phases, rad.
        max_assignments: kept while circuits are added, for each phase.
    """
    backgrounds = np.asarray(design.background_volts * np.exp(1j * phases), np.complex128)
    matrix, volts = design.matrix[design.is_combined], design.volts[design.is_combined]
    phase_u = PHASE_U_SHARE * step * design.background_volts
    u_volts = np.hypot(design.u_effective[design.is_combined], phase_u)[:, None]
    sums = np.tile(backgrounds[:, None], (len(volts), 1, 1))
    if len(directions) == 1:
        sums = sums + (matrix @ design.unassigned_mean)[:, None, None]
    count = len(phases)
    prior = np.zeros((count, 1))
    legs = np.zeros((count, 1, 0), np.int64)
    sizes = np.zeros((count, 1, 0))
    misfit = (np.abs(sums) - volts[:, None, None]) / u_volts[:, :, None]
    chi2 = (misfit**2).sum(axis=0)
    usual = np.array([design.volts[design.solo_row[k]] for k in design.assigned])
    usual = usual + 2 * design.background_volts
    for at, k in enumerate(design.assigned):
        tried = np.arange(1 if at == 0 else len(directions))
        own_sizes = _sizes(design, k, backgrounds, directions[tried]).reshape(count, -1)
        own_legs = np.repeat(tried, 2)
        known = ~np.isnan(own_sizes)
        some = known.any(axis=0)
        own_sizes, own_legs, known = own_sizes[:, some], own_legs[some], known[:, some]
        values = np.where(known, own_sizes, 0.0) * directions[own_legs]
        row = design.solo_row[k]
        misfit = np.abs(backgrounds[:, None] + design.matrix[row, k] * values) - design.volts[row]
        own = (misfit / np.hypot(design.u_volts[row], phase_u)) ** 2 + 2 * np.log1p(
            np.abs(values) / PRIOR_VOLTS
        )
        own = np.where(known, own, np.inf)
        grown = prior.shape[1] * len(own_legs)
        sums = (sums[:, :, :, None] + matrix[:, k, None, None, None] * values[:, None, :]).reshape(
            len(volts), count, grown
        )
        prior = (prior[:, :, None] + own[:, None, :]).reshape(count, grown)
        before = np.repeat(np.arange(legs.shape[1]), len(own_legs))
        option = np.tile(np.arange(len(own_legs)), legs.shape[1])
        new_legs = np.broadcast_to(own_legs[option], (count, grown))[:, :, None]
        legs = np.concatenate([legs[:, before], new_legs], axis=2)
        sizes = np.concatenate([sizes[:, before], own_sizes[:, option, None]], axis=2)
        # What is still to come can bring a sum nearer by no more than its own size.
        later = list(design.assigned[at + 1 :])
        to_come = (np.abs(matrix[:, later]) @ usual[at + 1 :])[:, None, None]
        short = np.maximum(np.abs(np.abs(sums) - volts[:, None, None]) - to_come, 0.0) / u_volts[:, :, None]
        chi2 = prior + (short**2).sum(axis=0)
        keep = min(max_assignments, int(np.isfinite(prior).sum(axis=1).max()))
        if grown > keep:
            kept = np.argpartition(chi2, keep - 1, axis=1)[:, :keep]
            prior, chi2 = np.take_along_axis(prior, kept, 1), np.take_along_axis(chi2, kept, 1)
            sums = np.take_along_axis(sums, kept[None], 2)
            legs = np.take_along_axis(legs, kept[:, :, None], 1)
            sizes = np.take_along_axis(sizes, kept[:, :, None], 1)
    for p, background in enumerate(backgrounds):
        alive = np.isfinite(chi2[p])
        yield _Beam(
            complex(background),
            matrix,
            volts,
            u_volts,
            legs[p, alive],
            sizes[p, alive],
            sums[:, p, alive],
            prior[p, alive],
            chi2[p, alive],
        )
