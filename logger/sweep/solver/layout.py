"""A sweep as arrays: what each reading is the sum of, and what it says of each circuit on its own.

A reading's sum is `background + design @ contributions`. A circuit counts +1 where it was live. A cord counts -1 where
it was unplugged while its circuit was live, since a circuit's contribution includes that of the cords on it; a cord
whose circuit nobody knows counts +1 where it was plugged in. Circuits that were live in every reading (those that must
stay on, mostly) cannot be told from the background and are part of it.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from logger.sweep.solver.readings import Sweep

SIGNIFICANT = 2.5
"""A circuit whose reading alone differs from the background by fewer standard uncertainties than this is counted as
next to nothing; what it might give widens every reading and prediction that it is part of."""

LEAST_DIFFERENCE_VOLTS = 0.012
"""And so is one below this: a body's posture does not repeat better."""

UNREAD_VOLTS = 0.3
"""What a circuit that was never read alone may usually give."""

CORNER_SIGMAS = 4.0
"""Below so many standard uncertainties the background is counted as zero, where a magnitude has a corner: a reading of
next to nothing then says no more than that there is next to nothing."""


class Layout:
    """The arrays. R readings, n circuits and cords."""

    def __init__(self, sweep: Sweep, phases: int, cords: Mapping[str, str]) -> None:
        """Args:
        sweep: readings at one spot.
        phases: number of directions that a leg may have.
        cords: which of the sweep's names are cords, and the circuit of each; empty where that is not known.
        """
        self.names = sweep.circuits
        self.circuit_of = circuits_of_cords(self.names, cords)
        live = np.array([[name in r.on for name in self.names] for r in sweep.readings], bool)
        self.design = design(live.reshape(len(sweep.readings), len(self.names)), self.circuit_of)
        self.volts = np.array([r.volts for r in sweep.readings])
        self.u_volts = np.array([r.u_volts for r in sweep.readings])
        self.always = (self.design == 1.0).all(axis=0)
        """Live in every reading, shape (n,)."""
        self.design[:, self.always] = 0.0
        count = (self.design != 0.0).sum(axis=1)
        self.several = count > 1
        self.alone: dict[int, int] = {}
        """The reading in which only this one adds to the background."""
        for row in np.flatnonzero(count == 1):
            self.alone.setdefault(int(np.flatnonzero(self.design[row])[0]), int(row))
        self.background_volts, self.background_u = self._background(np.flatnonzero(count == 0))
        self.has_corner = self.background_volts < CORNER_SIGMAS * self.background_u
        self._sort(phases)

    def _background(self, dark: NDArray[np.intp]) -> tuple[float, float]:
        if len(dark):
            return float(self.volts[dark[0]]), float(self.u_volts[dark[0]])
        # It was not read. Most circuits give next to nothing, so what the lowest ones read alone is about it.
        alone = np.sort(self.volts[list(self.alone.values())])
        if len(alone) < 3:
            return 0.0, 0.05
        lowest = alone[: (len(alone) + 2) // 3]
        return float(np.median(lowest)), float(np.hypot(0.02, lowest[-1] - lowest[0]))

    def _sort(self, phases: int) -> None:
        """Which circuits matter, which give next to nothing, and which are not known."""
        n = len(self.names)
        self.vague_u = np.zeros(n)
        """What those that have no leg to be found may give, standard deviation, V."""
        self.vague_mean = np.zeros(n)
        self.unread = np.array([k not in self.alone and not self.always[k] for k in range(n)], bool)
        self.nothing_volts = np.full(n, np.nan)
        """What those that read alone like nothing give by that reading; NaN for the others, shape (n,)."""
        matters = []
        for k in range(n):
            if self.always[k]:
                continue
            owner = self.circuit_of.get(k)
            if owner is not None and not self.always[owner]:
                # What the cord takes of its circuit is found in the fit.
                row = self.alone.get(owner)
                self.vague_u[k] = UNREAD_VOLTS if row is None else max(0.5 * self.volts[row], 0.02)
                # It is known once a reading differs by nothing but its being unplugged.
                self.unread[k] = not (self.design[:, k] < 0.0).any()
            elif k not in self.alone:
                self.vague_u[k] = UNREAD_VOLTS
            elif not self._is_nothing(k, phases):
                matters.append(k)
        size = {k: abs(float(self.volts[self.alone[k]]) - self.background_volts) for k in matters}
        # The largest comes first: its leg is the first one by definition.
        self.matters = sorted(matters, key=lambda k: (-size[k], k))
        self.nothing = np.array([k in self.alone and self.vague_u[k] > 0.0 for k in range(n)], bool)
        counts = np.ones(len(self.volts), bool)
        if self.has_corner:
            counts[[self.alone[int(k)] for k in np.flatnonzero(self.nothing)]] = False
        self.counts = counts
        """Readings that the fit counts; what the others say is in `vague_u`, shape (R,)."""
        # What next to nothing adds up to is not known: it widens the readings that it is part of.
        self.u_eff = np.sqrt(self.u_volts**2 + self.design**2 @ self.vague_u**2)

    def _is_nothing(self, k: int, phases: int) -> bool:
        row = self.alone[k]
        volts, background = float(self.volts[row]), self.background_volts
        u = float(np.hypot(self.u_volts[row], self.background_u))
        difference = abs(volts - background)
        if difference > max(SIGNIFICANT * u, LEAST_DIFFERENCE_VOLTS):
            return False
        self.nothing_volts[k] = max(volts**2 - background**2 - u**2, 0.0) ** 0.5 if self.has_corner else 0.0
        # Between its least (along the background) and its most (across it), which nobody knows.
        across = abs(volts**2 - background**2) ** 0.5
        most = (across**2 + (0.0 if self.has_corner else 2 * background * u)) ** 0.5
        self.vague_u[k] = max(u, difference, most / 2)
        # Contributions of one phase add up, and then even these have to be counted.
        if phases == 1 and self.has_corner:
            self.vague_mean[k] = across / 2
        return True


def circuits_of_cords(names: tuple[str, ...], cords: Mapping[str, str]) -> dict[int, int]:
    """Place of a cord's circuit by the place of the cord, where it is known."""
    place = {name: k for k, name in enumerate(names)}
    return {place[cord]: place[circuit] for cord, circuit in cords.items() if circuit and cord in place}


def design(live: NDArray[np.bool_], circuit_of: Mapping[int, int]) -> NDArray[np.float64]:
    """What each contribution counts in each combination.

    Args:
        live: which circuits are on and which cords plugged in, shape (combinations, n).
        circuit_of: of each cord its circuit, where it is known.

    Returns:
        Shape (combinations, n): 1, 0, or -1 for an unplugged cord.
    """
    counts = live.astype(float)
    for cord, circuit in circuit_of.items():
        counts[:, cord] = -(live[:, circuit] & ~live[:, cord]).astype(float)
    return counts
