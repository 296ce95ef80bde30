"""Which circuit gives how much, on which leg: a model of complex contributions fitted to magnitudes.

With the circuits of a set S live the body voltage is `|b + sum over S of m_i e_i|`: `b` the background of unknown
phase, `m_i >= 0` a circuit's contribution, `e_i` the direction of its leg (split phase 1 and -1; single phase 1;
three-phase 1, exp(2j pi/3), exp(4j pi/3)). Only magnitudes are read, so legs follow from combinations alone: every
assignment of legs that the readings allow is found, fitted and weighed, and what they leave open stays open.

In: a `Sweep`. Out: a `Belief`: many possible houses with weights, from which every question is answered.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from logger.sources.readings import Sweep

Supply = Literal["split", "single", "three"]

DIRECTIONS: dict[Supply, NDArray[np.complex128]] = {
    # ANSI C84.1: the legs of a 120/240 V service are 180 degrees apart; three-phase: 120 degrees.
    "split": np.array([1.0, -1.0], complex),
    "single": np.array([1.0], complex),
    "three": np.exp(2j * np.pi * np.arange(3) / 3),
}

SIGNIFICANT = 2.5
"""A circuit whose reading alone differs from the background by fewer standard uncertainties than this is counted as
next to nothing; what it might give widens every reading and prediction that it is part of."""

LEAST_DIFFERENCE_VOLTS = 0.012
"""And so is one below this: a body's posture does not repeat better."""

MOST_ASSIGNMENTS = 60_000
"""Assignments of legs that are looked at for one phase of the background; circuits beyond that, the smallest ones,
keep the direction that fits them best alone."""

PHASES = 24
"""Phases of the background that are tried over the full turn."""

KEPT_HYPOTHESES = 96
PLAUSIBLE_CHI2 = 16.0
"""Assignments whose chi-square is worse than the best one's by more than this are out: exp(-8), one in 3,000."""

DRAWS = 12
"""Possible houses drawn around each fit."""

PRIOR_VOLTS = 0.5
"""Contributions of this size are usual; much larger ones need evidence."""

SMALL_VOLTS = 1e-4
"""Rounds off the corner of a magnitude at zero, where it has no slope."""

ITERATIONS = 14
SETTLED_CHI2 = 1e-3


@dataclass(frozen=True, slots=True)
class Belief:
    """Possible houses. K houses, n circuits.

    Args:
        circuits: n names.
        background: complex V, shape (K,).
        contributions: complex V, shape (K, n).
        weights: sum 1, shape (K,).
        hypothesis: number of the assignment of legs that a house belongs to, shape (K,).
        legs: leg of each circuit by assignment, shape (hypotheses, n); -1 where it is next to nothing.
    """

    circuits: tuple[str, ...]
    background: NDArray[np.complex128]
    contributions: NDArray[np.complex128]
    weights: NDArray[np.float64]
    hypothesis: NDArray[np.int64]
    legs: NDArray[np.int64]

    def predict(self, live: NDArray[np.bool_]) -> NDArray[np.float64]:
        """Body voltage in every possible house, V, for each of the combinations.

        Args:
            live: which circuits are live, shape (combinations, n).

        Returns:
            Shape (combinations, K).
        """
        magnitudes: NDArray[np.float64] = np.abs(
            self.background[None, :] + live.astype(float) @ self.contributions.T
        )
        return magnitudes


def believe(sweep: Sweep, supply: Supply, seed: int = 0) -> Belief:
    """What the readings say of the house.

    Args:
        sweep: readings at one spot.
        supply: of the home.
        seed: of the draws around each fit.
    """
    problem = _Problem(sweep, supply)
    starts = problem.assignments()
    return problem.belief(problem.fit(starts), np.random.default_rng(seed))


@dataclass(frozen=True, slots=True)
class _Start:
    legs: tuple[int, ...]
    background: complex
    sizes: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class _Fits:
    """H assignments of legs, fitted together; P = 2 + parameters of the contributions."""

    legs: NDArray[np.int64]
    """Shape (H, circuits that matter)."""
    directions: NDArray[np.complex128]
    """Direction of each contribution's parameter, shape (H, P - 2)."""
    parameters: NDArray[np.float64]
    """Background (real, imaginary), then V along each direction, shape (H, P)."""
    covariance: NDArray[np.float64]
    """Shape (H, P, P)."""
    chi2: NDArray[np.float64]
    """With the prior, shape (H,)."""


class _Problem:
    """The sweep as arrays; circuits that matter first to be assigned."""

    def __init__(self, sweep: Sweep, supply: Supply) -> None:
        self.names = sweep.circuits
        self.directions = DIRECTIONS[supply]
        self.on = np.array([[name in r.on for name in self.names] for r in sweep.readings], bool)
        self.on = self.on.reshape(len(sweep.readings), len(self.names))
        self.volts = np.array([r.volts for r in sweep.readings])
        self.u_volts = np.array([r.u_volts for r in sweep.readings])
        live = self.on.sum(axis=1)
        alone: dict[int, int] = {
            int(np.flatnonzero(self.on[row])[0]): int(row) for row in np.flatnonzero(live == 1)
        }
        dark = np.flatnonzero(live == 0)
        self.background_volts = float(self.volts[dark[0]]) if len(dark) else 0.0
        self.background_u = float(self.u_volts[dark[0]]) if len(dark) else 0.05
        small_u = np.zeros(len(self.names))
        small_mean = np.zeros(len(self.names))
        matters = []
        for circuit in range(len(self.names)):
            if circuit not in alone:
                matters.append(circuit)
                continue
            row = alone[circuit]
            u = float(np.hypot(self.u_volts[row], self.background_u))
            difference = abs(float(self.volts[row]) - self.background_volts)
            if difference > max(SIGNIFICANT * u, LEAST_DIFFERENCE_VOLTS):
                matters.append(circuit)
            else:
                # Between its least (along the background) and its most (across it), which nobody knows.
                across = abs(float(self.volts[row]) ** 2 - self.background_volts**2) ** 0.5
                small_u[circuit] = max(u, difference, across / 2)
                # Contributions of one phase add up, and then even these have to be counted.
                if len(self.directions) == 1:
                    small_mean[circuit] = max(across**2 - u**2, 0.0) ** 0.5 if across < 5 * u else difference
        self.alone = alone
        self.small_u = small_u
        self.small_mean = small_mean
        # At zero a magnitude has a corner, and alone these readings say no more than that there is next to nothing:
        # that is in `small_u` already.
        self.counts = np.array(
            [not (n == 1 and small_u[row.argmax()] > 0) for n, row in zip(live, self.on, strict=True)]
        )
        size = {c: abs(float(self.volts[alone[c]])) if c in alone else 0.0 for c in matters}
        # The largest comes first: its leg is the first one by definition.
        self.matters = sorted(matters, key=lambda c: (-size[c], c))
        several = live > 1
        self.several = np.flatnonzero(several)
        # What next to nothing adds up to is not known: it widens the readings that it is part of.
        self.u_eff = np.sqrt(self.u_volts**2 + self.on.astype(float) @ small_u**2)

    # ---- all assignments that the readings allow

    def assignments(self) -> list[_Start]:
        found: dict[tuple[int, ...], tuple[float, _Start]] = {}
        for phase in self._phases():
            background = self.background_volts * np.exp(1j * phase)
            options = [
                self._options(circuit, background, first=k == 0) for k, circuit in enumerate(self.matters)
            ]
            count = 1
            for k, choices in enumerate(options):
                if count * len(choices) > MOST_ASSIGNMENTS:
                    options[k] = choices[:1]
                count *= len(options[k])
            chi2, picks = self._weigh(background, options)
            for index in np.argsort(chi2)[: 4 * KEPT_HYPOTHESES]:
                chosen = [options[k][picks[k][index]] for k in range(len(options))]
                legs = tuple(leg for leg, _ in chosen)
                start = _Start(legs, complex(background), tuple(size for _, size in chosen))
                # Two sizes of one circuit (both roots) are two starts.
                key = (*legs, *(round(size / 0.05) for _, size in chosen))
                if key not in found or chi2[index] < found[key][0]:
                    found[key] = (float(chi2[index]), start)
        ranked = sorted(found.values(), key=lambda item: item[0])
        if not ranked:
            return [_Start((), complex(self.background_volts), ())]
        best = ranked[0][0]
        # The grid of phases is coarse: what is a little worse here may fit as well once it is polished.
        return [start for chi2, start in ranked if chi2 < best + 6 * PLAUSIBLE_CHI2][:KEPT_HYPOTHESES]

    def _phases(self) -> NDArray[np.float64]:
        if self.background_volts < self.background_u:
            return np.array([0.0])
        turn = 2 * np.pi * np.arange(PHASES) / PHASES
        # With real directions a house and its mirror image read the same.
        return turn if len(self.directions) == 3 else turn[: PHASES // 2 + 1]

    def _options(self, circuit: int, background: complex, first: bool) -> list[tuple[int, float]]:
        """Leg and size of a circuit that its reading alone allows, the usual one (smallest) first."""
        legs = range(1) if first else range(len(self.directions))
        if circuit not in self.alone:
            return [(leg, size) for leg in legs for size in (0.05, 0.5)]
        volts = float(self.volts[self.alone[circuit]])
        out: list[tuple[int, float]] = []
        for leg in legs:
            along = (background * np.conj(self.directions[leg])).real
            root = max(along**2 - abs(background) ** 2 + volts**2, 0.0) ** 0.5
            sizes = {max(-along + root, 0.0)}
            if -along - root > 0.0:
                sizes.add(-along - root)
            out += [(leg, size) for size in sizes]
        return sorted(out, key=lambda option: option[1])

    def _weigh(
        self, background: complex, options: list[list[tuple[int, float]]]
    ) -> tuple[NDArray[np.float64], list[NDArray[np.int64]]]:
        """Chi-square of every combination of options over the readings of several circuits, with a prior."""
        grids = np.meshgrid(*[np.arange(len(o)) for o in options], indexing="ij") if options else []
        picks = [grid.ravel() for grid in grids]
        count = len(picks[0]) if picks else 1
        sums = np.full((len(self.volts), count), background, complex)
        chi2 = np.zeros(count)
        for circuit, choices, pick in zip(self.matters, options, picks, strict=True):
            values = np.array([size * self.directions[leg] for leg, size in choices])[pick]
            sums[self.on[:, circuit]] += values
            chi2 += 2 * np.abs(values) / PRIOR_VOLTS
        misfit = (np.abs(sums) - self.volts[:, None]) / self.u_eff[:, None]
        chi2 += (misfit**2).sum(axis=0)
        return chi2, picks

    # ---- all assignments, fitted together

    def fit(self, starts: list[_Start]) -> _Fits:
        """Levenberg-Marquardt on background and contributions with the legs held, for all assignments at once.

        What is next to nothing has no leg to be found: it is a small amount either way (in any direction with three
        phases), which all readings that it is part of have a say in.
        """
        small = np.flatnonzero(self.small_u)
        free = [1.0 + 0j, 1j] if len(self.directions) == 3 else [1.0 + 0j]
        self.owner = np.array([*self.matters, *np.repeat(small, len(free))], int)
        legs = np.array([start.legs for start in starts], int).reshape(len(starts), len(self.matters))
        directions = np.empty((len(starts), len(self.owner)), complex)
        directions[:, : len(self.matters)] = self.directions[legs]
        directions[:, len(self.matters) :] = np.tile(free, len(small))
        parameters = np.zeros((len(starts), 2 + len(self.owner)))
        for row, start in zip(parameters, starts, strict=True):
            row[:2] = start.background.real, start.background.imag
            row[2 : 2 + len(start.sizes)] = start.sizes
        # A circuit of one phase cannot take away; neither can one whose leg is given.
        floor = np.full(parameters.shape[1], -np.inf)
        floor[2 : 2 + len(self.matters)] = 0.0
        if len(self.directions) == 1:
            floor[2:] = 0.0
        # The background's magnitude was read; where it is near zero nothing else would hold its two parts.
        background_u = max(self.background_volts, self.background_u)
        usual = np.concatenate(
            [
                [background_u, background_u],
                np.full(len(self.matters), 2 * PRIOR_VOLTS),
                np.repeat(self.small_u[small], len(free)),
            ]
        )
        precision = usual**-2.0
        usual_mean = np.zeros_like(usual)
        usual_mean[2 + len(self.matters) :] = np.repeat(self.small_mean[small], len(free))
        parameters[:, 2 + len(self.matters) :] = usual_mean[2 + len(self.matters) :]
        misfit, jacobian, cost = self._evaluate(parameters, directions, usual_mean, precision)
        damping = np.full(len(starts), 1e-3)
        diagonal = np.arange(parameters.shape[1])
        for _ in range(ITERATIONS):
            hessian = np.swapaxes(jacobian, 1, 2) @ jacobian
            hessian[:, diagonal, diagonal] += precision
            gradient = (misfit[:, None, :] @ jacobian)[:, 0, :] + precision * (parameters - usual_mean)
            damped = hessian.copy()
            damped[:, diagonal, diagonal] *= 1 + damping[:, None]
            trial = np.maximum(parameters - np.linalg.solve(damped, gradient[:, :, None])[:, :, 0], floor)
            new_misfit, new_jacobian, new_cost = self._evaluate(trial, directions, usual_mean, precision)
            better = new_cost < cost
            done = float((cost - new_cost)[better].max(initial=0.0)) < SETTLED_CHI2 and bool(better.any())
            parameters[better], misfit[better] = trial[better], new_misfit[better]
            jacobian[better], cost[better] = new_jacobian[better], new_cost[better]
            damping = np.clip(np.where(better, damping / 5, damping * 8), 1e-9, 1e9)
            if done:
                break
        hessian = np.swapaxes(jacobian, 1, 2) @ jacobian
        hessian[:, diagonal, diagonal] += precision
        return _Fits(legs, directions, parameters, np.asarray(np.linalg.inv(hessian), np.float64), cost)

    def _evaluate(
        self,
        parameters: NDArray[np.float64],
        directions: NDArray[np.complex128],
        usual_mean: NDArray[np.float64],
        precision: NDArray[np.float64],
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Misfit (H, readings), its Jacobian (H, readings, P) and chi-square with the prior (H,)."""
        on = self.on[np.ix_(self.counts, self.owner)].astype(float)
        volts, u_volts = self.volts[self.counts], self.u_volts[self.counts]
        total = (parameters[:, :1] + 1j * parameters[:, 1:2]) + (parameters[:, 2:] * directions) @ on.T
        magnitude = np.sqrt(np.abs(total) ** 2 + SMALL_VOLTS**2)
        misfit = (magnitude - volts) / u_volts
        unit = np.conj(total) / magnitude / u_volts
        jacobian = np.empty((*misfit.shape, parameters.shape[1]))
        jacobian[:, :, 0] = unit.real
        jacobian[:, :, 1] = -unit.imag
        jacobian[:, :, 2:] = (unit[:, :, None] * directions[:, None, :]).real * on
        return misfit, jacobian, (misfit**2).sum(axis=1) + (parameters - usual_mean) ** 2 @ precision

    # ---- possible houses

    def belief(self, fits: _Fits, random: np.random.Generator) -> Belief:
        best = float(fits.chi2.min())
        kept: list[int] = []
        for index in np.argsort(fits.chi2):
            if fits.chi2[index] > best + PLAUSIBLE_CHI2:
                break
            # Different starts may have come to the same place.
            if not any(
                (fits.legs[other] == fits.legs[index]).all()
                and np.allclose(fits.parameters[other], fits.parameters[index], atol=0.004)
                for other in kept
            ):
                kept.append(int(index))
        n = len(self.names)
        background = np.empty(len(kept) * DRAWS, complex)
        contributions = np.zeros((len(kept) * DRAWS, n), complex)
        weights = np.empty(len(kept) * DRAWS)
        legs = np.full((len(kept), n), -1)
        for k, index in enumerate(kept):
            covariance = fits.covariance[index]
            root = np.linalg.cholesky((covariance + covariance.T) / 2 + 1e-12 * np.eye(len(covariance)))
            noise = random.standard_normal((DRAWS, len(covariance)))
            noise[0] = 0.0
            drawn = fits.parameters[index] + noise @ root.T
            drawn[:, 2 : 2 + len(self.matters)] = np.maximum(drawn[:, 2 : 2 + len(self.matters)], 0.0)
            rows = np.arange(k * DRAWS, (k + 1) * DRAWS)
            background[rows] = drawn[:, 0] + 1j * drawn[:, 1]
            for column, circuit in enumerate(self.owner):
                contributions[rows, circuit] += drawn[:, 2 + column] * fits.directions[index, column]
            # Drawn from the normal distribution around the fit, weighed by what the readings say of each house.
            totals = background[rows, None] + contributions[rows] @ self.on[self.counts].T
            chi2 = (((np.abs(totals) - self.volts[self.counts]) / self.u_volts[self.counts]) ** 2).sum(axis=1)
            ratio = np.exp(np.clip((chi2[0] - chi2 + (noise**2).sum(axis=1)) / 2, -4.0, 0.0))
            weights[rows] = np.exp(-(fits.chi2[index] - best) / 2) * ratio / ratio.sum()
            legs[k, self.matters] = fits.legs[index]
        return Belief(
            self.names,
            background,
            contributions,
            weights / weights.sum(),
            np.repeat(np.arange(len(kept)), DRAWS),
            legs,
        )
