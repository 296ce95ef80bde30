"""How slowly a settled value wanders: shapes of its correlation, and how well each fits the blocks of a span.

A shape is first-order noise of one correlation time, or a damped oscillation as breathing is, with a share of a
block's variance; the rest is independent from block to block. No shape is chosen: all count, by a prior and by their
likelihood, so that the uncertainty of a level is right where a span holds only a few independent pieces. The likelihood
is that of the cosine coefficients of the blocks, which are nearly independent (Whittle's approximation); the scale of
the noise is integrated out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import exp, log

import numpy as np

from logger.correlated_noise import Floats, Times, cosine_variances, oscillation, variance_of_mean
from logger.settling import limits as lim

_WANDER_S = np.geomspace(lim.FASTEST_WANDER_S, lim.SLOWEST_WANDER_S, lim.WANDER_TIMES)
_TIMES_S = np.append(_WANDER_S, oscillation(np.array(lim.BREATHING_PERIODS_S), lim.BREATHING_KEPT_S))
_SHARES = np.array([share for share, _ in lim.WANDER_SHARES])
"""A shape for each pair of the two, in this order, and one without any wandering."""

_TIMES_PRIOR = np.append(
    _WANDER_S**lim.SLOWER_IS_LIKELIER
    / (_WANDER_S**lim.SLOWER_IS_LIKELIER).sum()
    * (1.0 - lim.STEADY_PRIOR - lim.BREATHING_PRIOR),
    np.full(len(lim.BREATHING_PERIODS_S), lim.BREATHING_PRIOR / len(lim.BREATHING_PERIODS_S)),
)
_LOG_PRIOR = np.log(
    np.append(
        np.outer(_TIMES_PRIOR, [prior for _, prior in lim.WANDER_SHARES]).ravel(),
        lim.STEADY_PRIOR,
    )
)
"""Of each shape."""


@dataclass(frozen=True, slots=True)
class WanderFit:
    """What the blocks of a span say of each shape; arrays of shape (g,).

    Args:
        log_likelihoods: of the shape, up to a constant.
        variances: of the mean of the span under the shape, volts squared.
        degrees: degrees of freedom of the scale of the noise.
    """

    log_likelihoods: Floats
    variances: Floats
    degrees: int


class LearnedWander:
    """What earlier spans taught of the shapes: a meter and a body wander on much as they did."""

    __slots__ = ("_log_likelihoods",)

    def __init__(self) -> None:
        self._log_likelihoods = np.zeros(len(_LOG_PRIOR))

    def add(self, fit: WanderFit) -> None:
        """Take in a span that is final; what was learned before fades."""
        learned = lim.WANDER_KEPT * self._log_likelihoods + fit.log_likelihoods
        self._log_likelihoods = np.maximum(learned - learned.max(), lim.LEAST_LOG_LIKELIHOOD)

    def weights(self, fit: WanderFit) -> Floats:
        """Posterior probability of each shape for a span, shape (g,)."""
        log = _LOG_PRIOR + fit.log_likelihoods + lim.WANDER_LEARNED_SHARE * self._log_likelihoods
        weights: Floats = np.exp(log - log.max())
        weights /= weights.sum()
        return weights


def fit_wander(values: Sequence[float], block_s: float, length: int) -> WanderFit | None:
    """Fit the shapes to the blocks of a span; None where they do not differ.

    Args:
        values: volts of the blocks, at least 3.
        block_s: seconds between two blocks.
        length: number of blocks in the mean whose variance is wanted, at least as many as `values`.
    """
    size = -(-len(values) // lim.WANDER_POINTS)
    # A few of the latest blocks are left out, so that the coefficients are worked out for few lengths.
    count = max(length for length in _LENGTHS if length <= len(values) // size)
    points = np.array(values[: count * size])
    if size > 1:
        points = points.reshape(count, size).mean(axis=1)
    points -= points.mean()
    if float(np.abs(points).max()) < lim.FINEST_COUNT_VOLTS:
        return None
    shapes = _coefficients(count, size, round(log(block_s) / lim.INTERVAL_STEP))
    squares = (shapes.transform @ points) ** 2
    scales = shapes.inverses @ squares
    degrees = count - 1
    log_likelihoods: Floats = shapes.log_scale - 0.5 * degrees * np.log(scales)
    variances = shapes.variances_of_mean(length / size) * scales / degrees
    return WanderFit(log_likelihoods, variances, degrees)


@dataclass(frozen=True, slots=True)
class _Coefficients:
    """The shapes as they appear in the cosine coefficients of so many points.

    Args:
        transform: from points to coefficients, shape (n - 1, n).
        inverses: one over the variance of each coefficient, shape (g, n - 1).
        log_scale: half the sum of the logarithms of `inverses`, shape (g,).
        times: correlation times in points, shape (times,).
        size: blocks in a point.
    """

    transform: Floats
    inverses: Floats
    log_scale: Floats
    times: Times
    size: int

    def variances_of_mean(self, length: float) -> Floats:
        """Variance of the mean of `length` points for blocks of unit variance, shape (g,)."""
        wandering = variance_of_mean(self.times / length)[:, None]
        return _over_shapes(wandering, 1.0 / (length * self.size))[:, 0]


def _over_shapes(wandering: Floats, independent: float) -> Floats:
    """Variances under each shape, shape (g, k).

    Args:
        wandering: variances of the wandering part at each correlation time, shape (times, k).
        independent: variance of the independent part.
    """
    shared = wandering[:, None, :] * _SHARES[:, None] + independent * (1.0 - _SHARES[:, None])
    width = wandering.shape[1]
    return np.vstack([shared.reshape(-1, width), np.full((1, width), independent)])


_LENGTHS = sorted({round(lim.WANDER_POINTS * lim.LENGTH_RATIO**i) for i in range(lim.WANDER_POINTS)} - {0, 1})
"""Numbers of points for which coefficients are worked out."""


@lru_cache(maxsize=lim.WANDER_POINTS)
def _coefficients(count: int, size: int, interval_steps: int) -> _Coefficients:
    """The coefficients of `count` points of `size` blocks each.

    Args:
        count: number of points.
        size: blocks in a point.
        interval_steps: logarithm of the seconds between two blocks, in steps of `INTERVAL_STEP`.
    """
    times = _TIMES_S / (size * exp(lim.INTERVAL_STEP * interval_steps))
    inverses = 1.0 / _over_shapes(cosine_variances(times, count), 1.0 / size)
    angles = np.pi * np.arange(1, count)[:, None] * (np.arange(count) + 0.5) / count
    transform = np.sqrt(2.0 / count) * np.cos(angles)
    return _Coefficients(transform, inverses, 0.5 * np.log(inverses).sum(axis=1), times, size)
