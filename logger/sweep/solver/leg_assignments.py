"""All assignments of legs that the readings allow, as starts for the fit.

For each of a grid of phases of the background, each circuit's solo reading leaves one or two sizes on each leg. The
combinations of these are compared with the readings of several circuits, largest circuit first; what cannot be mended
by the circuits still to come is dropped on the way (a beam search).

One thing stays hidden that way: a circuit that gives about twice what the background gives, in the opposite direction,
reads alone like one that gives nothing. One circuit at a time of those that read like nothing is tried as such a one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.sweep.solver.sweep_design import SweepDesign

PHASE_STEP_VOLTS = 0.03
"""Phases of the background over the full turn: as many as move it by this, within the bounds of `SearchEffort`."""

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
    """

    max_assignments: int
    min_phases: int
    max_phases: int
    max_starts: int
    max_hidden_starts: int
    max_iterations: int


THOROUGH = SearchEffort(6_000, 24, 48, 96, 12, 16)
"""For the answer."""

QUICK = SearchEffort(300, 8, 16, 8, 1, 8)
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

    @property
    def prior_chi2(self) -> float:
        """What speaks against the assignment before any reading."""
        return 0.0 if self.hidden is None else HIDDEN_CHI2


@dataclass(frozen=True, slots=True)
class _Beam:
    """The assignments that are kept for one phase of the background. A assignments, C readings of several circuits.

    Args:
        matrix: rows of the design matrix, shape (C, n).
        volts: of the readings, shape (C,).
        u_volts: their standard uncertainties, shape (C, 1).
        options: of each assigned circuit its possible legs and sizes.
        picks: index of the chosen option of each circuit, shape (A, circuits).
        sums: of background and contributions in each reading, complex V, shape (C, A).
        prior: chi-square of the solo readings and the sizes, shape (A,).
        chi2: the same with the readings of several circuits, shape (A,).
    """

    matrix: NDArray[np.float64]
    volts: NDArray[np.float64]
    u_volts: NDArray[np.float64]
    options: tuple[tuple[tuple[int, float], ...], ...]
    picks: NDArray[np.int64]
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
    hidden = representatives(design)
    found: dict[tuple[object, ...], Start] = {}
    phases = _phases(design, len(directions), effort)
    step = float(phases[1] - phases[0]) if len(phases) > 1 else 0.0
    for phase in phases:
        background = complex(design.background_volts * np.exp(1j * phase))
        for start in _starts_for_phase(design, directions, background, step, hidden, effort):
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


def _sizes(volts: float, along: float, background_volts: float) -> list[float]:
    """Sizes of a contribution that make the background read `volts`; where none does, the nearest one.

    Args:
        volts: the solo reading.
        along: the background's part in the direction of the contribution, V.
        background_volts: magnitude of the background.
    """
    root = max(along**2 - background_volts**2 + volts**2, 0.0) ** 0.5
    sizes = [max(-along + root, 0.0)]
    if -along - root > 0.0:
        sizes.append(-along - root)
    return sizes


def _starts_for_phase(
    design: SweepDesign,
    directions: NDArray[np.complex128],
    background: complex,
    step: float,
    hidden: dict[int, list[int]],
    effort: SearchEffort,
) -> list[Start]:
    """The best assignments for one phase of the background, without and with one hidden circuit.

    Args:
        design: of the sweep.
        directions: of the legs, complex, absolute value 1.
        background: complex V.
        step: of the grid of phases, rad.
        hidden: `representatives`.
        effort: how thoroughly they are sought.
    """
    beam = _beam_for_phase(design, directions, background, step, effort.max_assignments)
    starts = _best_starts(beam, background, beam.chi2, Start((), background, ()), 2 * effort.max_starts)
    for k in hidden:
        column = beam.matrix[:, k, None]
        for leg, direction in enumerate(directions):
            size = -2 * (background * np.conj(design.matrix[design.solo_row[k], k] * direction)).real
            if size > MIN_HIDDEN_VOLTS:
                misfit = (np.abs(beam.sums + column * size * direction) - beam.volts[:, None]) / beam.u_volts
                chi2 = beam.prior + HIDDEN_CHI2 + (misfit**2).sum(axis=0)
                template = Start((), background, (), k, leg, float(size))
                starts += _best_starts(beam, background, chi2, template, effort.max_hidden_starts)
    return starts


def _best_starts(
    beam: _Beam, background: complex, chi2: NDArray[np.float64], template: Start, count: int
) -> list[Start]:
    """Starts from the best assignments of a beam.

    Args:
        beam: the assignments.
        background: complex V.
        chi2: of each assignment, shape (A,).
        template: a start with the hidden circuit, if there is one.
        count: how many are taken at most.
    """
    starts = []
    for index in np.argsort(chi2)[:count]:
        chosen = [options[pick] for options, pick in zip(beam.options, beam.picks[index], strict=True)]
        starts.append(
            Start(
                tuple(leg for leg, _ in chosen),
                background,
                tuple(size for _, size in chosen),
                template.hidden,
                template.hidden_leg,
                template.hidden_volts,
                float(chi2[index]),
            )
        )
    return starts


def _options(
    design: SweepDesign, directions: NDArray[np.complex128], background: complex, k: int, legs: range
) -> tuple[tuple[int, float], ...]:
    """Legs that a circuit may be on, each with a size that explains its solo reading.

    Args:
        design: of the sweep.
        directions: of the legs, complex, absolute value 1.
        background: complex V.
        k: index of the circuit.
        legs: those that are tried.
    """
    row = design.solo_row[k]
    sign = design.matrix[row, k]
    return tuple(
        (leg, size)
        for leg in legs
        for size in _sizes(
            float(design.volts[row]),
            float((background * np.conj(sign * directions[leg])).real),
            abs(background),
        )
    )


def _beam_for_phase(
    design: SweepDesign,
    directions: NDArray[np.complex128],
    background: complex,
    step: float,
    max_assignments: int,
) -> _Beam:
    """Add the assigned circuits one after the other, and keep the assignments that the readings allow.

    Args:
        design: of the sweep.
        directions: of the legs, complex, absolute value 1.
        background: complex V.
        step: of the grid of phases, rad.
        max_assignments: kept while circuits are added.
    """
    matrix, volts = design.matrix[design.is_combined], design.volts[design.is_combined]
    phase_u = PHASE_U_SHARE * step * abs(background)
    u_volts = np.hypot(design.u_effective[design.is_combined], phase_u)[:, None]
    options: list[tuple[tuple[int, float], ...]] = []
    sums = np.full((len(volts), 1), background, complex)
    if len(directions) == 1:
        sums = sums + (matrix @ design.unassigned_mean)[:, None]
    prior = np.zeros(1)
    picks = np.zeros((1, 0), np.int64)
    chi2 = (((np.abs(sums) - volts[:, None]) / u_volts) ** 2).sum(axis=0)
    usual = np.array([design.volts[design.solo_row[k]] for k in design.assigned]) + 2 * abs(background)
    for at, k in enumerate(design.assigned):
        row = design.solo_row[k]
        legs = range(1) if at == 0 else range(len(directions))
        options.append(_options(design, directions, background, k, legs))
        values = np.array([size * directions[leg] for leg, size in options[-1]])
        misfit = (np.abs(background + design.matrix[row, k] * values) - design.volts[row]) / np.hypot(
            design.u_volts[row], phase_u
        )
        own = misfit**2 + 2 * np.log1p(np.abs(values) / PRIOR_VOLTS)
        count = len(values)
        sums = (sums[:, :, None] + matrix[:, k, None, None] * values).reshape(len(volts), len(picks) * count)
        prior = (prior[:, None] + own).ravel()
        picks = np.column_stack([np.repeat(picks, count, axis=0), np.tile(np.arange(count), len(picks))])
        # What is still to come can bring a sum nearer by no more than its own size.
        later = list(design.assigned[at + 1 :])
        to_come = (np.abs(matrix[:, later]) @ usual[at + 1 :])[:, None]
        short = np.maximum(np.abs(np.abs(sums) - volts[:, None]) - to_come, 0.0) / u_volts
        chi2 = prior + (short**2).sum(axis=0)
        if len(chi2) > max_assignments:
            kept = np.argpartition(chi2, max_assignments)[:max_assignments]
            sums, prior, picks, chi2 = sums[:, kept], prior[kept], picks[kept], chi2[kept]
    return _Beam(matrix, volts, u_volts, tuple(options), picks, sums, prior, chi2)
