"""All assignments of legs that the readings allow, as starts for the fit.

For each of a grid of phases of the background, each circuit's reading alone leaves one or two sizes on each leg. The
combinations of these are held against the readings of several circuits, largest circuit first; what cannot be mended
by the circuits still to come is dropped on the way.

One thing stays hidden that way: a circuit that gives about twice what the background gives, in the opposite direction,
reads alone like one that gives nothing. One circuit at a time of those that read like nothing is tried as such a one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.sweep.solver.layout import Layout

MOST_ASSIGNMENTS = 6_000
"""Assignments that are kept while circuits are added, for one phase of the background."""

LEAST_PHASES, MOST_PHASES = 24, 48
PHASE_STEP_VOLTS = 0.03
"""Phases of the background over the full turn: as many as move it by this, within these bounds."""

KEPT_STARTS = 96
MOST_HIDDEN = 12
STARTS_CHI2 = 96.0
"""The grid of phases is coarse: what is so much worse than the best one here may fit as well once it is polished."""

PRIOR_VOLTS = 0.5
"""Contributions of this size are usual; much larger ones need evidence."""

HIDDEN_CHI2 = 9.0
"""That a circuit reads like nothing by chance is one in a hundred."""

HIDDEN_VOLTS = 0.03
"""Below this a hidden contribution is within what next to nothing may be anyway."""


@dataclass(frozen=True, slots=True)
class Start:
    """An assignment of legs to the circuits that matter."""

    legs: tuple[int, ...]
    background: complex
    sizes: tuple[float, ...]
    hidden: int | None = None
    """A circuit that reads alone like nothing and is none; it stands for all that were read together with it."""
    hidden_leg: int = -1
    hidden_volts: float = 0.0
    chi2: float = 0.0

    @property
    def prior_chi2(self) -> float:
        """What speaks against it before any reading."""
        return 0.0 if self.hidden is None else HIDDEN_CHI2


def assignments(layout: Layout, directions: NDArray[np.complex128]) -> list[Start]:
    """Assignments worth a fit, the best first.

    Args:
        layout: of the sweep.
        directions: of the legs, complex, absolute value 1.
    """
    hidden = representatives(layout)
    found: dict[tuple[object, ...], Start] = {}
    phases = _phases(layout, len(directions))
    step = float(phases[1] - phases[0]) if len(phases) > 1 else 0.0
    for phase in phases:
        background = complex(layout.background_volts * np.exp(1j * phase))
        for start in _at(layout, directions, background, step, hidden):
            # Two sizes of one circuit (both roots) are two starts.
            key = (start.legs, start.hidden, start.hidden_leg, *(round(size / 0.05) for size in start.sizes))
            if key not in found or start.chi2 < found[key].chi2:
                found[key] = start
    ranked = sorted(found.values(), key=lambda start: start.chi2)
    return [start for start in ranked if start.chi2 < ranked[0].chi2 + STARTS_CHI2][:KEPT_STARTS]


def representatives(layout: Layout) -> dict[int, list[int]]:
    """Of those that read alone like nothing, one for each way of having been read together with others, and the others
    that it stands for.
    """
    if layout.has_corner:
        return {}
    rows: dict[bytes, list[int]] = {}
    for k in np.flatnonzero(layout.nothing):
        rows.setdefault(layout.design[layout.several, k].tobytes(), []).append(int(k))
    return {members[0]: members for members in rows.values()}


def _phases(layout: Layout, legs: int) -> NDArray[np.float64]:
    if layout.background_volts < layout.background_u:
        return np.array([0.0])
    wanted = 2 * np.pi * layout.background_volts / PHASE_STEP_VOLTS
    count = 2 * int(np.clip(wanted, LEAST_PHASES, MOST_PHASES) / 2)
    turn = 2 * np.pi * np.arange(count) / count
    # With real directions a house and its mirror image read the same.
    return turn if legs == 3 else turn[: count // 2 + 1]


def _sizes(volts: float, along: float, background_volts: float) -> list[float]:
    """Sizes of a contribution that make the background read `volts`; `along`: the background's part in its direction.
    Where none does, the nearest one.
    """
    root = max(along**2 - background_volts**2 + volts**2, 0.0) ** 0.5
    sizes = [max(-along + root, 0.0)]
    if -along - root > 0.0:
        sizes.append(-along - root)
    return sizes


def _at(
    layout: Layout,
    directions: NDArray[np.complex128],
    background: complex,
    step: float,
    hidden: dict[int, list[int]],
) -> list[Start]:
    """The best assignments for one background."""
    on = layout.design[layout.several]
    volts = layout.volts[layout.several]
    u_volts = np.hypot(layout.u_eff[layout.several], 0.25 * step * abs(background))[:, None]
    options: list[list[tuple[int, float]]] = []
    sums = np.full((len(volts), 1), background, complex)
    if len(directions) == 1:
        sums = sums + (on @ layout.vague_mean)[:, None]
    prior = np.zeros(1)
    picks = np.zeros((1, 0), np.int64)
    chi2 = (((np.abs(sums) - volts[:, None]) / u_volts) ** 2).sum(axis=0)
    usual = np.array([layout.volts[layout.alone[k]] for k in layout.matters]) + 2 * abs(background)
    for at, k in enumerate(layout.matters):
        row = layout.alone[k]
        sign = layout.design[row, k]
        options.append(
            [
                (leg, size)
                for leg in (range(1) if at == 0 else range(len(directions)))
                for size in _sizes(
                    float(layout.volts[row]),
                    float((background * np.conj(sign * directions[leg])).real),
                    abs(background),
                )
            ]
        )
        values = np.array([size * directions[leg] for leg, size in options[-1]])
        misfit = (np.abs(background + sign * values) - layout.volts[row]) / np.hypot(
            layout.u_volts[row], 0.25 * step * abs(background)
        )
        own = misfit**2 + 2 * np.log1p(np.abs(values) / PRIOR_VOLTS)
        count = len(values)
        sums = (sums[:, :, None] + on[:, k, None, None] * values).reshape(len(volts), len(picks) * count)
        prior = (prior[:, None] + own).ravel()
        picks = np.column_stack([np.repeat(picks, count, axis=0), np.tile(np.arange(count), len(picks))])
        # What is still to come can bring a sum nearer by no more than its own size.
        to_come = (np.abs(on[:, layout.matters[at + 1 :]]) @ usual[at + 1 :])[:, None]
        short = np.maximum(np.abs(np.abs(sums) - volts[:, None]) - to_come, 0.0) / u_volts
        chi2 = prior + (short**2).sum(axis=0)
        if len(chi2) > MOST_ASSIGNMENTS:
            kept = np.argpartition(chi2, MOST_ASSIGNMENTS)[:MOST_ASSIGNMENTS]
            sums, prior, picks, chi2 = sums[:, kept], prior[kept], picks[kept], chi2[kept]
    found: list[tuple[NDArray[np.float64], int | None, int, float]] = [(chi2, None, -1, 0.0)]
    for k in hidden:
        for leg, direction in enumerate(directions):
            size = -2 * (background * np.conj(layout.design[layout.alone[k], k] * direction)).real
            if size > HIDDEN_VOLTS:
                misfit = (np.abs(sums + on[:, k, None] * size * direction) - volts[:, None]) / u_volts
                found.append((prior + HIDDEN_CHI2 + (misfit**2).sum(axis=0), k, leg, float(size)))
    starts = []
    for weighed, who, hidden_leg, hidden_volts in found:
        for index in np.argsort(weighed)[: 2 * KEPT_STARTS if who is None else MOST_HIDDEN]:
            chosen = [options[at][picks[index, at]] for at in range(len(options))]
            starts.append(
                Start(
                    tuple(leg for leg, _ in chosen),
                    background,
                    tuple(size for _, size in chosen),
                    who,
                    hidden_leg,
                    hidden_volts,
                    float(weighed[index]),
                )
            )
    return starts
