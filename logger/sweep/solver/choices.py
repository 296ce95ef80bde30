"""What can be switched off or unplugged, and the body voltage that each set of it leaves.

In: base values and effects of each choice, in every possible house (posterior sample). Out: the values of any set.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

MAX_VALUES_IN_MEMORY = 4_000_000
"""Values (sets times houses) that are computed at once."""


@dataclass(frozen=True, slots=True)
class Choices:
    """Breakers to switch off and cords to unplug, with what each takes away. m choices, K houses, S spots.

    A set is a row of zeros and ones, shape (m,): 1 where the choice is off.

    Args:
        base: values with nothing switched off, complex V, shape (S, K).
        effects: what each choice takes away, complex V, shape (S, K, m); the largest choices first.
        weights: of the houses, shape (K,).
        excluded: pairs of choices that are never off together (a cord and its circuit).
        groups: number of the group of similar houses that each house belongs to, shape (K,).
        costs: what it costs to have each choice off, whole numbers above zero, shape (m,); 1 each where none is given.
    """

    base: NDArray[np.complex128]
    effects: NDArray[np.complex128]
    weights: NDArray[np.float64]
    excluded: tuple[tuple[int, int], ...] = ()
    groups: NDArray[np.int64] | None = None
    costs: NDArray[np.int64] | None = None

    @property
    def cost_of_each(self) -> NDArray[np.int64]:
        """What it costs to have each choice off, shape (m,)."""
        return np.ones(self.count, np.int64) if self.costs is None else self.costs

    @property
    def count(self) -> int:
        """Number of choices."""
        return int(self.effects.shape[2])

    def values(self, off: NDArray[np.float64]) -> NDArray[np.float64]:
        """Body voltage of each set, V.

        Args:
            off: 1 where it is off, shape (sets, m).

        Returns:
            Shape (S, sets, K).
        """
        out = np.empty((len(self.base), len(off), self.base.shape[1]))
        for s, (base, effects) in enumerate(zip(self.base, self.effects, strict=True)):
            out[s] = np.hypot(base.real - off @ effects.real.T, base.imag - off @ effects.imag.T)
        return out

    def means(self, off: NDArray[np.float64]) -> NDArray[np.float64]:
        """Mean body voltage of each set over the houses, V, shape (S, sets); `off` as in `values`."""
        step = max(1, MAX_VALUES_IN_MEMORY // max(self.base.size, 1))
        parts = [self.values(off[at : at + step]) @ self.weights for at in range(0, len(off), step)]
        return np.asarray(np.concatenate(parts, axis=1), np.float64)

    def coarse(self) -> Choices:
        """Replace each group of houses by its mean house, so that there are fewer houses to compute.

        The values of the result are nowhere higher than the means of this one, since the magnitude of a mean is no
        more than the mean magnitude.
        """
        if self.groups is None:
            return self
        groups = np.unique(self.groups)
        share = (self.groups == groups[:, None]) * self.weights
        weights = share.sum(axis=1)
        share /= np.maximum(weights, 1e-300)[:, None]
        return Choices(self.base @ share.T, share @ self.effects, weights, self.excluded, costs=self.costs)

    def magnitudes(self) -> NDArray[np.float64]:
        """Mean magnitude of each choice's effect, V, shape (S, m)."""
        return np.asarray(np.einsum("skm,k->sm", np.abs(self.effects), self.weights), np.float64)

    def allowed(self, off: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Which sets hold no excluded pair, shape (sets,); `off` as in `values`."""
        allowed = np.ones(len(off), bool)
        for one, other in self.excluded:
            allowed &= (off[:, one] == 0.0) | (off[:, other] == 0.0)
        return allowed
