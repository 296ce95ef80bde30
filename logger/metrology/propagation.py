"""Propagation of distributions through a model (JCGM 101:2008, "GUM supplement 1").

The inputs are drawn, the model is evaluated, and mean, standard uncertainty and 95 % interval are those of what comes
out. Each input is drawn once from each of as many layers of equal probability, in an order of its own (Latin
hypercube), which needs far fewer trials than free drawing; the draws are the same every time.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

Quantiles = Callable[[Floats], Floats]
"""An input: its quantiles at probabilities between 0 and 1."""

TRIALS = 2000
"""Enough for 1 % of a standard uncertainty where the model is smooth."""

TAIL = 0.025
"""Probability on either side of the coverage interval: 95 %."""

_SEED = 101
_NORMAL = NormalDist()


@dataclass(frozen=True, slots=True)
class Propagated:
    """What comes out of a model."""

    mean: float
    u: float
    low: float
    high: float
    """Ends of the 95 % interval with equal tails."""


def rectangular_between(low: float, high: float) -> Quantiles:
    """An input of which only the limits are known."""
    return lambda probabilities: low + (high - low) * probabilities


def log_normal(median: float, u_share: float) -> Quantiles:
    """An input that is positive, uncertain by a share, and without hard limits.

    Args:
        median: half of the inputs lie below.
        u_share: standard uncertainty of its logarithm, about that of the input as a share of it.
    """
    return lambda probabilities: median * np.exp(u_share * _normal_quantiles(probabilities))


def propagate(model: Callable[..., Floats], inputs: Sequence[Quantiles], trials: int = TRIALS) -> Propagated:
    """Propagate independent inputs through a model.

    Args:
        model: takes an array of shape (trials,) for each input, and gives one.
        inputs: their quantiles, in the order in which the model takes them.
        trials: how many draws.
    """
    rng = np.random.default_rng(_SEED)
    layers = [(rng.permutation(trials) + rng.random(trials)) / trials for _ in inputs]
    values = model(*(quantiles(layer) for quantiles, layer in zip(inputs, layers, strict=True)))
    low, high = np.quantile(values, (TAIL, 1.0 - TAIL))
    return Propagated(float(values.mean()), float(values.std(ddof=1)), float(low), float(high))


def _normal_quantiles(probabilities: Floats) -> Floats:
    return np.array([_NORMAL.inv_cdf(probability) for probability in probabilities.tolist()])
