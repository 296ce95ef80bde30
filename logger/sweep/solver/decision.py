"""What to switch off: the smallest set in all possible houses together, how open that is, and what to read next.

In: what the readings at each spot say (`Posterior`), the circuits that must stay on, the target. Out: the set, whether
the readings pin it down, and the readings that would tell most. With several spots the possible houses of one spot are
paired with those of the others at random: what is not known at one is independent of what is not known at another.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from logger.sweep.solver.choices import Choices
from logger.sweep.solver.layout import design
from logger.sweep.solver.posterior import Posterior
from logger.sweep.solver.readings import Sweep
from logger.sweep.solver.robust_set import robust_set
from logger.sweep.solver.subset_search import every_set, lower_set, smaller_set

TOLERANCE_VOLTS = 0.03
"""An answer is pinned down when the value surely stays within this above the target."""

TOLERANCE_SHARE = 0.05
"""And when its prediction is within this share of it, or the tolerance."""

NEAR_VOLTS = 0.002
"""Where no set meets the target, one more circuit has to lower the value by more than this to be worth it."""

SURE = 0.97
PREDICTED_SURE = 0.95
NOTHING_VOLTS = 0.004
"""What a circuit gives at most for it not to be a candidate for switching off."""

MOST_HOUSES = 240
LEAST_GAIN = 0.03
"""A reading that is expected to tell less than this (in nats) of what to switch off is not worth taking."""

GROUPED = 8
"""Pairs and triples of so many of the largest are considered as a next reading."""

MOST_NEXT = 3
READ_SIGMAS = 3.0
"""A prediction that is further from a reading of the same combination than this is wrong."""


class Decision:
    """The set that is to be switched off, and what is open about it. S spots, n circuits and cords, K houses."""

    def __init__(
        self, spots: Sequence[tuple[Posterior, Sweep]], keep: frozenset[str], target_volts: float
    ) -> None:
        self.beliefs = _paired([belief for belief, _ in spots])
        self.sweeps = [sweep for _, sweep in spots]
        self.names = self.beliefs[0].circuits
        self.keep = np.array([name in keep for name in self.names], bool)
        self.circuit_of = self.beliefs[0].circuit_of
        self.cords = np.zeros(len(self.names), bool)
        self.weights = self.beliefs[0].weights
        self.target_volts = target_volts
        self.sizes = np.array([belief.sizes() for belief, _ in spots])
        self.u_sizes = np.array([belief.u_sizes() for belief, _ in spots])

    def decide(self, cords: NDArray[np.bool_]) -> None:
        """Find the set: of breakers alone if that meets the target, else of breakers and cords.

        Args:
            cords: which ones are cords, shape (n,).
        """
        self.cords = cords
        self._choose(self._candidates(~cords))
        if cords.any() and not self.meets:
            self._choose(self._candidates(np.ones(len(cords), bool)))
        self._settle_on(self.chosen)
        # While readings are to come there is no need to prove that no smaller set does.
        if (
            not self.is_open
            and (found := self._smaller(True)) is not None
            and found.sum() < self.chosen.sum()
        ):
            self._settle_on(found)

    def _settle_on(self, chosen: NDArray[np.float64]) -> None:
        self.chosen = chosen
        self.mean = self.choices.means(chosen[None, :])[:, 0]
        """At each spot, V, shape (S,)."""
        self.meets = bool((self.mean <= self.target_volts).all())
        self.off = np.zeros(len(self.names), bool)
        self.off[self.candidates] = chosen == 1.0
        self.values = self.choices.values(chosen[None, :])[:, 0]
        """At each spot in each house, V, shape (S, K)."""

    def _candidates(self, kinds: NDArray[np.bool_]) -> NDArray[np.intp]:
        """Largest first."""
        size = self.sizes.max(axis=0)
        able = kinds & ~self.keep & (size > NOTHING_VOLTS) & ~self.beliefs[0].always
        return np.array([k for k in np.argsort(-size, kind="stable") if able[k]], np.intp)

    def _choose(self, candidates: NDArray[np.intp]) -> None:
        self.candidates = candidates
        everything = np.ones((1, len(self.names)), bool)
        plugged_in = design(everything, self.circuit_of)[0]
        place = {int(k): at for at, k in enumerate(candidates)}
        choices = self.choices = Choices(
            np.array([b.background + b.contributions @ plugged_in for b in self.beliefs]),
            np.array([b.contributions[:, candidates] for b in self.beliefs]),
            self.weights,
            tuple(
                (place[cord], place[circuit])
                for cord, circuit in self.circuit_of.items()
                if cord in place and circuit in place
            ),
            self.beliefs[0].hypothesis if len(self.beliefs) == 1 else None,
        )
        rows = self.rows = every_set(choices)
        size = rows.sum(axis=1)
        means, sure = self._look()
        met = (means <= self.target_volts).all(axis=0)
        worst = means.max(axis=0)
        chosen: NDArray[np.float64] | None = None
        asked = 0.0
        for level in (SURE, 0.8, 0.0):
            fit = np.flatnonzero(met & (sure >= level))
            if len(fit):
                chosen, asked = rows[fit[np.lexsort((worst[fit], size[fit]))[0]]], level
                break
        below = int(chosen.sum()) if chosen is not None else choices.count + 1

        def smaller(solve: bool) -> NDArray[np.float64] | None:
            return smaller_set(
                choices,
                self.target_volts,
                rows,
                means,
                below,
                lambda values: self._sure(values) >= asked,
                solve,
            )

        self._smaller = smaller
        found = smaller(False)
        chosen = chosen if found is None else found
        self.meets = chosen is not None
        if chosen is None:
            near = np.flatnonzero(worst <= worst.min() + NEAR_VOLTS)
            chosen = lower_set(choices, rows[near[np.lexsort((worst[near], size[near]))[0]]], NEAR_VOLTS)
        self.chosen = chosen

    def _sure(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Weight of the houses, shape (..., K), in which values stay within the tolerance."""
        within: NDArray[np.float64] = (values <= self.target_volts + TOLERANCE_VOLTS) @ self.weights
        return within

    def _look(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Of each set the mean value at each spot, and the weight of the houses in which it stays within the tolerance
        at all of them; of each house the set that is best in it.
        """
        rows, houses = self.rows, len(self.weights)
        means = np.empty((len(self.beliefs), len(rows)))
        sure = np.empty(len(rows))
        least = np.full(houses, np.inf)
        self.best_of = np.zeros(houses, np.int64)
        size = rows.sum(axis=1)
        for at in range(0, len(rows), 512):
            values = self.choices.values(rows[at : at + 512])
            means[:, at : at + 512] = values @ self.weights
            worst = values.max(axis=0) if len(values) > 1 else values[0]
            sure[at : at + 512] = (worst <= self.target_volts + TOLERANCE_VOLTS) @ self.weights
            # First the number switched off, where the target is met; then the value.
            cost = worst / 1e3 + size[at : at + 512, None]
            over = worst > self.target_volts
            cost[over] = 100.0 + worst[over]
            row = np.argmin(cost, axis=0)
            lowest = cost[row, np.arange(houses)]
            better = lowest < least
            self.best_of[better] = row[better] + at
            least[better] = lowest[better]
        self.best_values = np.where(least >= 100.0, least - 100.0, 0.0)
        """In each house, the value of the set that is best in it; 0 where that meets the target."""
        return means, sure

    @property
    def is_open(self) -> bool:
        """Whether the readings leave open what to switch off, or what that gives: the chosen set may miss the target,
        a smaller or lower one may do, or its value is not known well enough at a spot.
        """
        weights = self.weights
        for values, mean in zip(self.values, self.mean, strict=True):
            off_by = np.abs(values - mean) > max(TOLERANCE_VOLTS, TOLERANCE_SHARE * mean)
            if float(weights[off_by].sum()) > 1 - PREDICTED_SURE:
                return True
        worst = self.values.max(axis=0)
        if not self.meets:
            much = np.maximum(TOLERANCE_VOLTS, TOLERANCE_SHARE * worst)
            better = (self.best_values <= self.target_volts) | (self.best_values < worst - much)
            return float(weights[better].sum()) > 1 - SURE
        if float(self._sure(worst)) < SURE:
            return True
        best_count = self.rows[self.best_of].sum(axis=1)
        better = (best_count < self.chosen.sum() - 1) & (self.best_values <= self.target_volts)
        return float(weights[better].sum()) > 1 - SURE

    def robust(self) -> NDArray[np.bool_]:
        """The smallest set that does not rely on live circuits cancelling; shape (n,)."""
        able = ~self.keep & ~self.beliefs[0].always
        # A cord of a circuit that can be switched off is never better than that circuit.
        for cord, circuit in self.circuit_of.items():
            able[cord] &= not able[circuit]
        off = np.zeros(len(self.names), bool)
        rest = self.remaining_volts(off)
        for kinds in (able & ~self.cords, able):
            chosen = np.flatnonzero(kinds & (self.sizes.max(axis=0) > NOTHING_VOLTS))
            off[:] = False
            off[chosen] = robust_set(self.sizes[:, chosen], rest, self.target_volts)
            if max(self.remaining_volts(off)) <= self.target_volts or not self.cords.any():
                break
        return off

    def remaining_volts(self, off: NDArray[np.bool_]) -> list[float]:
        """The magnitudes that are left, added, at each spot, V."""
        counts = design(~off[None, :], self.circuit_of)[0]
        return [
            self._background_volts(b) + float(size @ counts)
            for b, size in zip(self.beliefs, self.sizes, strict=True)
        ]

    @staticmethod
    def _background_volts(belief: Posterior) -> float:
        return float(np.abs(belief.background) @ belief.weights)

    def unplugged_instead(self) -> list[tuple[int, list[int]]]:
        """Circuits of the set that may stay on if the cords on them are unplugged instead, one at a time."""
        found = []
        for circuit in np.flatnonzero(self.off & ~self.cords):
            on_it = [k for k, owner in self.circuit_of.items() if owner == circuit and not self.keep[k]]
            known = [k for k in on_it if not self.beliefs[0].unread[k]]
            if not known:
                continue
            off = self.off.copy()
            off[circuit] = False
            off[known] = True
            values = np.array([belief.predict(~off[None, :])[0] for belief in self.beliefs])
            if (values @ self.weights <= self.target_volts).all() and self._sure(values.max(axis=0)) >= SURE:
                found.append((int(circuit), known))
        return found

    # ---- what to read next

    def confirming(self) -> list[tuple[int, NDArray[np.bool_]]]:
        """The chosen set at each spot where it was not read yet and the prediction rests on the background's phase,
        which no single reading tells: only a reading of the set itself is sure.
        """
        found = []
        for spot, (belief, sweep) in enumerate(zip(self.beliefs, self.sweeps, strict=True)):
            live = ~self.off | (belief.always & self.keep)
            if belief.has_phase and not self._was_read(live, sweep):
                found.append((spot, live))
        return found

    def predicted(self, spot: int) -> tuple[float, float]:
        """With the chosen set off: mean and standard uncertainty, V. Where that was read and the fit is not what was
        read, the reading counts.
        """
        values = self.values[spot]
        mean = float(self.mean[spot])
        u_volts = float(((values - mean) ** 2) @ self.weights) ** 0.5
        belief, sweep = self.beliefs[spot], self.sweeps[spot]
        for reading in sweep.readings:
            one = Sweep(sweep.circuits, (reading,))
            if self._was_read(~self.off | (belief.always & self.keep), one) and (
                abs(reading.volts - mean) > READ_SIGMAS * float(np.hypot(reading.u_volts, u_volts))
            ):
                return reading.volts, reading.u_volts
        return mean, u_volts

    def _was_read(self, live: NDArray[np.bool_], sweep: Sweep) -> bool:
        read = np.array([[name in r.on for name in self.names] for r in sweep.readings], bool)
        wanted = design(live[None, :], self.circuit_of)
        return bool((design(read, self.circuit_of) == wanted).all(axis=1).any())

    def next_readings(self) -> list[tuple[int, NDArray[np.bool_]]]:
        """Spot and live circuits of the readings that are worth taking, the one that is expected to tell most first."""
        width = max(TOLERANCE_VOLTS, TOLERANCE_SHARE * float(self.mean.max()))
        _, best = np.unique(self.best_of, return_inverse=True)
        # What is to be learned: which set is best, and what the chosen one gives.
        label = best
        for values in self.values:
            _, gives = np.unique(np.floor(values / width).astype(np.int64), return_inverse=True)
            label = label * (int(gives.max()) + 1) + gives
        ranked: list[tuple[float, int, NDArray[np.bool_]]] = []
        for spot, (belief, sweep) in enumerate(zip(self.beliefs, self.sweeps, strict=True)):
            rows = self._worth_considering(spot, belief, sweep)
            if not rows:
                continue
            u_volts = float(np.median([reading.u_volts for reading in sweep.readings]))
            gains = [
                _information(values, label, self.weights, u_volts)
                for values in belief.predict(np.array(rows))
            ]
            ranked += [(gain, spot, row) for gain, row in zip(gains, rows, strict=True) if gain > LEAST_GAIN]
        ranked.sort(key=lambda item: -item[0])
        return [(spot, row) for _, spot, row in ranked[:MOST_NEXT]]

    def never_off(self) -> list[tuple[int, NDArray[np.bool_]]]:
        """Readings that are wanted while it is open: with everything off that was never off and may be."""
        return [
            (spot, self._live(belief, []))
            for spot, belief in enumerate(self.beliefs)
            if (belief.always & ~self.keep & ~self.cords).any()
        ]

    def never_alone(self) -> list[tuple[int, NDArray[np.bool_]]]:
        """Readings that are wanted whatever the model says: alone what was not read alone and gives more than a little,
        since its leg cannot be told; what is least known first.
        """
        found = []
        for spot, belief in enumerate(self.beliefs):
            unknown = np.maximum(self.u_sizes[spot], self.sizes[spot]) * (belief.unread & ~self.cords)
            found += [
                (float(unknown[k]), spot, self._live(belief, [int(k)]))
                for k in np.flatnonzero(unknown > TOLERANCE_VOLTS)
            ]
        found.sort(key=lambda item: -item[0])
        return [(spot, live) for _, spot, live in found]

    def _live(self, belief: Posterior, on: Sequence[int]) -> NDArray[np.bool_]:
        """Those on; what must stay on and was never off stays on, and cords stay plugged in."""
        live: NDArray[np.bool_] = (belief.always & self.keep) | self.cords
        live[list(on)] = True
        return live

    def _worth_considering(self, spot: int, belief: Posterior, sweep: Sweep) -> list[NDArray[np.bool_]]:
        always = belief.always & self.keep
        rows = [~self.off]
        labels, counts = np.unique(self.best_of, return_inverse=True)
        weight = np.bincount(counts, self.weights)
        for i in np.argsort(-weight)[:8]:
            live = np.ones(len(self.names), bool)
            live[self.candidates] = self.rows[labels[i]] == 0.0
            rows.append(live)
        rows.append(self._live(belief, []))
        rows += [self._live(belief, [int(k)]) for k in np.flatnonzero(belief.unread & ~self.cords)]
        for k in np.flatnonzero(belief.unread & self.cords):
            live = np.ones(len(self.names), bool)
            live[k] = False
            rows.append(live)
        size = self.sizes[spot] * ~belief.always * ~self.cords
        large = [int(k) for k in np.argsort(-size, kind="stable") if size[k] > NOTHING_VOLTS][:GROUPED]
        for count in (2, 3):
            rows += [self._live(belief, group) for group in combinations(large, count)]
        for group in belief.alike:
            half = group[: (len(group) + 1) // 2]
            rows += [self._live(belief, [*half, *large[:1]]), self._live(belief, half)]
        read = np.array([[name in r.on for name in self.names] for r in sweep.readings], bool)
        seen = {row.tobytes() for row in design(read, self.circuit_of)}
        unique = []
        for row in rows:
            key = design((row | always)[None, :], self.circuit_of).tobytes()
            if key not in seen:
                seen.add(key)
                unique.append(row | always)
        return unique


def _paired(beliefs: Sequence[Posterior]) -> list[Posterior]:
    """With one spot the houses that carry weight, so that what follows is quick; with several, houses of equal weight,
    paired at random.
    """
    if len(beliefs) == 1:
        return [beliefs[0].only(np.argsort(-beliefs[0].weights, kind="stable")[:MOST_HOUSES])]
    random = np.random.default_rng(0)
    out = []
    for belief in beliefs:
        at = (np.arange(MOST_HOUSES) + random.random()) / MOST_HOUSES
        houses = np.minimum(np.searchsorted(belief.weights.cumsum(), at), len(belief.weights) - 1)
        drawn = belief.only(random.permutation(houses))
        drawn.weights[:] = 1.0 / MOST_HOUSES
        out.append(drawn)
    return out


def _information(
    values: NDArray[np.float64], label: NDArray[np.int64], weights: NDArray[np.float64], u_volts: float
) -> float:
    """How much a reading is expected to tell of the label, in nats: values are told apart from 3 u on."""
    _, bin_index = np.unique(np.floor(values / (3 * u_volts)).astype(np.int64), return_inverse=True)
    _, label_index = np.unique(label, return_inverse=True)
    joint = np.zeros((bin_index.max() + 1, label_index.max() + 1))
    np.add.at(joint, (bin_index, label_index), weights)
    return _entropy(joint.sum(axis=0)) + _entropy(joint.sum(axis=1)) - _entropy(joint.ravel())


def _entropy(weights: NDArray[np.float64]) -> float:
    some = weights[weights > 0]
    return float(-(some * np.log(some)).sum())
