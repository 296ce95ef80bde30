"""The meter's noise, learned from the settled spans: how far blocks, and means of blocks, stray from a level."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from operator import mul

from logger.settling import limits as lim

SCALES = lim.SCALES
"""Blocks in a mean, one for each scale."""

_BATCH = lim.TEACH_BLOCKS
_LAST = len(SCALES) - 1


class Noise:
    """Variance of block means about their level, at each scale, learned while the trace is settled."""

    __slots__ = (
        "_batch_counts",
        "_batch_sums",
        "_correlation",
        "_lately",
        "_learned",
        "_previous",
        "_weights",
        "is_known",
        "least_variance",
        "sigma_volts",
        "variances",
    )

    def __init__(self) -> None:
        self._learned = [0.0] * len(SCALES)
        self._weights = [0.0] * len(SCALES)
        self._batch_sums = [0.0] * len(SCALES)
        self._batch_counts = [0] * len(SCALES)
        self._lately = 0.0
        self._previous = 0.0
        self._correlation = 0.0
        self.least_variance = lim.MIN_NOISE_VOLTS**2
        """Deviations this small are never too large to be noise: rounding to the meter's count makes them."""
        self.variances = [0.0] * len(SCALES)
        """Volts squared, at each scale: what is learned, leaning on what is assumed while that is little."""
        self.sigma_volts = 0.0
        """Standard deviation of one block."""
        self.is_known = False
        """Whether noise was ever learned."""

    @property
    def weight(self) -> float:
        """Number of values that the variance of one block rests on (up to a limit)."""
        return self._weights[0]

    def add_window(
        self,
        variance: float,
        jitter_variance: float,
        count: int,
        breathing_variance: float = 0.0,
        grown_variance: float = 0.0,
    ) -> None:
        """Take in the window in which a level was found.

        Args:
            variance: of its blocks about their mean, volts squared.
            jitter_variance: the same from the differences of neighbours, volts squared.
            count: number of its blocks.
            breathing_variance: what breathing may make of the level, volts squared; more than that is no noise.
            grown_variance: what is more than the usual noise, and up to this, has grown with the level, volts squared:
                what was learned at the level before says nothing of it.
        """
        if variance > 0:
            weight = self._weights[0]
            found = 1 - jitter_variance / variance
            self._correlation = (self._correlation * weight + found * count) / (weight + count)
        usual = lim.MAX_WINDOW_RATIO * self.variances[0]
        if variance < self._learned[0] / lim.QUIETER or (self.is_known and usual < variance < grown_variance):
            self._forget()
        share = min(self._weights[0], lim.MAX_WEIGHTS[0] - count)
        if share >= lim.SETTLED_WEIGHT:
            if usual < variance < breathing_variance:
                # What was learned at a lower level says little of this one.
                share = float(count)
            else:
                variance = min(variance, usual)
        self._learned[0] = (self._learned[0] * share + variance * count) / (share + count)
        self._weights[0] = share + count
        self._lately = self._learned[0]
        self._batch_sums = [0.0] * len(SCALES)
        self._batch_counts = [0] * len(SCALES)
        self._update_variances()

    def _forget(self) -> None:
        """Forget what was taken for noise and was not: the quietest that a trace has been is the meter's own."""
        self._learned = [0.0] * len(SCALES)
        self._weights = [0.0] * len(SCALES)

    def add_batch(self, deviations: Sequence[float]) -> None:
        """Take in `TEACH_BLOCKS` more blocks of a settled span, as deviations from its level in volts."""
        mean_square = clipped = sum(map(mul, deviations, deviations)) / _BATCH
        limit = lim.CLIP_VARIANCES * max(self.variances[0], self.least_variance)
        if _BATCH * mean_square > limit:
            clipped = sum([min(deviation * deviation, limit) for deviation in deviations]) / _BATCH
        weight = self._weights[0]
        if weight < lim.MAX_WEIGHTS[0]:
            weight = self._weights[0] = weight + _BATCH
        variance = self._learned[0] = self._learned[0] + (clipped - self._learned[0]) * _BATCH / weight
        self._update_correlation(deviations, variance, weight)
        self._lately += (mean_square - self._lately) * _BATCH / lim.LATELY_BLOCKS
        if self._lately < variance / lim.QUIETER:
            self._forget()
            self._learned[0], self._weights[0] = lim.LATELY_RATIO * self._lately, lim.LATELY_BLOCKS
        mean = sum(deviations) / _BATCH
        self._add_mean(1, mean)
        for scale in (2, 3):
            self._batch_sums[scale] += mean
            self._batch_counts[scale] += 1
            if self._batch_counts[scale] < _BATCH:
                break
            mean = self._batch_sums[scale] / _BATCH
            self._batch_sums[scale] = 0.0
            self._batch_counts[scale] = 0
            self._add_mean(scale, mean)
        # With every batch while much is new, then with every fourth.
        if weight < lim.YOUNG_WEIGHT or self._batch_counts[2] == 0:
            self._update_variances()

    def _update_correlation(self, deviations: Sequence[float], variance: float, weight: float) -> None:
        """Take the products of neighbours into the running correlation.

        Args:
            deviations: of one batch, volts.
            variance: of a block, volts squared.
            weight: number of values that it rests on.
        """
        products = sum(map(mul, deviations, (self._previous, *deviations[:-1])))
        self._previous = deviations[-1]
        if variance > 0:
            found = products / (_BATCH * variance)
            found = 1.0 if found > 1.0 else -1.0 if found < -1.0 else found
            least = lim.SETTLED_WEIGHT
            self._correlation += (found - self._correlation) * _BATCH / (weight if weight > least else least)

    def _add_mean(self, scale: int, mean: float) -> None:
        """Take in one more mean over this scale's blocks."""
        square = min(mean * mean, lim.CLIP_VARIANCES * max(self.variances[scale], self.least_variance))
        weight = self._weights[scale] = min(self._weights[scale] + 1.0, lim.MAX_WEIGHTS[scale])
        self._learned[scale] += (square - self._learned[scale]) / weight

    def _update_variances(self) -> None:
        """Work out `variances` from what is learned and what is assumed."""
        assumed = self._learned[0]
        for scale, (prior, weight) in enumerate(zip(lim.PRIOR_WEIGHTS, self._weights, strict=True)):
            value = (assumed * prior + self._learned[scale] * weight) / (prior + weight)
            self.variances[scale] = value
            if scale < _LAST:
                size = SCALES[scale + 1]
                correlated = self.variances[0] * _ar1_inflation(self._correlation, size) / size
                assumed = max(value * lim.CARRY_OVER, correlated)
        self.sigma_volts = sqrt(self.variances[0])
        self.is_known = self._weights[0] >= lim.KNOWN_BLOCKS

    def rescale(self, ratio: float) -> None:
        """Take note that the variance of a block is `ratio` times what was learned: it holds fewer or more samples."""
        self._learned = [value * ratio for value in self._learned]
        self._weights = [
            min(weight, lim.RESCALED_WEIGHT / scale)
            for weight, scale in zip(self._weights, SCALES, strict=True)
        ]
        self._update_variances()

    def long_run_variance(self, count: int) -> float:
        """Variance of a mean of about `count` blocks, times `count`; 0 while that is more assumed than learned."""
        medium, long = lim.LONG_RUN_BLOCKS
        scale = 3 if count >= long else 2 if count >= medium else 1
        is_learned = self._weights[scale] >= lim.LEARNED_WEIGHT_RATIO * lim.PRIOR_WEIGHTS[scale]
        return self.variances[scale] * SCALES[scale] if is_learned else 0.0

    def inflation(self, count: int) -> float:
        """How much larger the variance of a mean of about `count` blocks is than white noise would make it."""
        first = self.variances[0]
        if first <= 0:
            return 1.0
        medium, long = lim.LONG_RUN_BLOCKS
        scale = 3 if count >= long else 2 if count >= medium else 1 if count >= lim.INFLATION_BLOCKS else 0
        return max(1.0, self.variances[scale] * SCALES[scale] / first)

    def variance_of_mean(self, count: int) -> float:
        """Variance of the mean of `count` settled blocks, with their autocorrelation, in volts squared."""
        medium, long = lim.MEAN_BLOCKS
        scale = 3 if count >= long else 2 if count >= medium else 1
        return max(self.variances[0], self.variances[scale] * SCALES[scale]) / count


def _ar1_inflation(correlation: float, count: int) -> float:
    """How much larger than by white noise the variance of a mean is when neighbours correlate and nothing else does."""
    r = min(max(correlation, 0.0), lim.MAX_LEARNED_CORRELATION)
    return (1 + r) / (1 - r) - 2 * r * (1 - r**count) / (count * (1 - r) ** 2)
