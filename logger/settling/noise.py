"""What the detector learns about the meter: its least count, and how far it strays from a level by itself."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from operator import mul

SCALES = (1, 4, 16, 64)
"""Means over this many blocks have a variance of their own each. White noise makes it fall with the number; breathing,
beats and a meter's averaging do not, and are learned so without a model of any of them."""

CARRY_OVER = 0.4
"""Assumed until learned: going from one scale to the next (four times the blocks) leaves this share of the variance, or
what the correlation of neighbours leaves, if that is more. White noise leaves 0.25."""

MAX_LEARNED_CORRELATION = 0.95

PRIOR_WEIGHTS = (2.0, 4.0, 4.0, 4.0)
MAX_WEIGHTS = (500.0, 200.0, 100.0, 50.0)
"""Weight, in values, of what is assumed; and the most that the past may weigh, so that the noise of last hour is
forgotten."""

CLIP_VARIANCES = 9.0
"""A square larger than this many variances counts as this many: an unnoticed event must not teach noise."""


MIN_NOISE_VOLTS = 0.0005
KNOWN_BLOCKS = 4
YOUNG_WEIGHT = 48.0

QUIETER = 6.0
LATELY_BLOCKS = 24.0
"""A window, or a running mean of so many squares, this many times below the learned variance is believed instead."""


class Noise:
    """Variance of block means about their level, at each scale, learned while still."""

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
        self.least_variance = MIN_NOISE_VOLTS**2
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

    def begin(self, variance: float, jitter_variance: float, count: int) -> None:
        """A level was found: its window of `count` blocks had this variance, by neighbours' differences that."""
        if variance > 0:
            weight = self._weights[0]
            found = 1 - jitter_variance / variance
            self._correlation = (self._correlation * weight + found * count) / (weight + count)
        if variance < self._learned[0] / QUIETER:
            self._forget()
        share = min(self._weights[0], MAX_WEIGHTS[0] - count)
        if share >= 20:
            variance = min(variance, 2.0 * self.variances[0])
        self._learned[0] = (self._learned[0] * share + variance * count) / (share + count)
        self._weights[0] = share + count
        self._lately = self._learned[0]
        self._batch_sums = [0.0] * len(SCALES)
        self._batch_counts = [0] * len(SCALES)
        self.settle()

    def _forget(self) -> None:
        """What was taken for noise was not: the quietest that a trace has been is the meter's own."""
        self._learned = [0.0] * len(SCALES)
        self._weights = [0.0] * len(SCALES)

    def learn(self, deviations: Sequence[float]) -> None:
        """Four more blocks of a still span, as deviations from its level in volts."""
        mean_square = clipped = sum(map(mul, deviations, deviations)) / 4
        limit = CLIP_VARIANCES * max(self.variances[0], self.least_variance)
        if 4 * mean_square > limit:
            clipped = sum([min(deviation * deviation, limit) for deviation in deviations]) / 4
        weight = self._weights[0]
        if weight < MAX_WEIGHTS[0]:
            weight = self._weights[0] = weight + 4.0
        variance = self._learned[0] = self._learned[0] + (clipped - self._learned[0]) * 4 / weight
        products = sum(map(mul, deviations, (self._previous, *deviations[:3])))
        self._previous = deviations[3]
        if variance > 0:
            found = products / (4 * variance)
            found = 1.0 if found > 1.0 else -1.0 if found < -1.0 else found
            self._correlation += (found - self._correlation) * 4 / (weight if weight > 20.0 else 20.0)
        self._lately += (mean_square - self._lately) * 4 / LATELY_BLOCKS
        if self._lately < variance / QUIETER:
            self._forget()
            self._learned[0], self._weights[0] = 2.0 * self._lately, LATELY_BLOCKS
        mean = sum(deviations) / 4
        self._add(1, mean)
        for scale in (2, 3):
            self._batch_sums[scale] += mean
            self._batch_counts[scale] += 1
            if self._batch_counts[scale] < 4:
                break
            mean = self._batch_sums[scale] / 4
            self._batch_sums[scale] = 0.0
            self._batch_counts[scale] = 0
            self._add(scale, mean)
        # Every four blocks while much is new, then every sixteen.
        if weight < YOUNG_WEIGHT or self._batch_counts[2] == 0:
            self.settle()

    def _add(self, scale: int, mean: float) -> None:
        """One more mean over this scale's blocks."""
        square = min(mean * mean, CLIP_VARIANCES * max(self.variances[scale], self.least_variance))
        weight = self._weights[scale] = min(self._weights[scale] + 1.0, MAX_WEIGHTS[scale])
        self._learned[scale] += (square - self._learned[scale]) / weight

    def settle(self) -> None:
        """Work out `variances` from what is learned and what is assumed."""
        assumed = self._learned[0]
        for scale in range(len(SCALES)):
            prior, weight = PRIOR_WEIGHTS[scale], self._weights[scale]
            value = (assumed * prior + self._learned[scale] * weight) / (prior + weight)
            self.variances[scale] = value
            if scale < len(SCALES) - 1:
                size = SCALES[scale + 1]
                assumed = max(
                    value * CARRY_OVER, self.variances[0] * _ar1_inflation(self._correlation, size) / size
                )
        self.sigma_volts = sqrt(self.variances[0])
        self.is_known = self._weights[0] >= KNOWN_BLOCKS

    def rescale(self, ratio: float) -> None:
        """Blocks now hold fewer or more samples: the variance of a block is `ratio` times what was learned."""
        self._learned = [value * ratio for value in self._learned]
        self._weights = [
            min(weight, 20.0 / scale) for weight, scale in zip(self._weights, SCALES, strict=True)
        ]
        self.settle()

    def long_run_variance(self, count: int) -> float:
        """Variance of a mean of about `count` blocks, times `count`; 0 while that is more assumed than learned."""
        scale = 3 if count >= 128 else 2 if count >= 32 else 1
        return (
            self.variances[scale] * SCALES[scale] if self._weights[scale] >= 2 * PRIOR_WEIGHTS[scale] else 0.0
        )

    def inflation(self, count: int) -> float:
        """How much larger the variance of a mean of about `count` blocks is than white noise would make it."""
        first = self.variances[0]
        if first <= 0:
            return 1.0
        scale = 3 if count >= 128 else 2 if count >= 32 else 1 if count >= 8 else 0
        return max(1.0, self.variances[scale] * SCALES[scale] / first)


def _ar1_inflation(correlation: float, count: int) -> float:
    """How much larger than by white noise the variance of a mean is when neighbours correlate and nothing else does."""
    r = min(max(correlation, 0.0), MAX_LEARNED_CORRELATION)
    return (1 + r) / (1 - r) - 2 * r * (1 - r**count) / (count * (1 - r) ** 2)


class Resolution:
    """Least count of the meter, from the values themselves: the greatest common divisor of their differences.

    Learned anew for each still span, since a meter that changes range changes its count.
    """

    __slots__ = ("_last", "_seen", "_step", "count_volts", "wants_more")

    ENOUGH = 60
    """Differences looked at in one go."""

    BELIEVED = 12
    """Differences after which even a coarse count is believed."""

    COARSEST_VOLTS = 0.01
    """The largest count assumed until then."""

    FINEST_VOLTS = 1e-5
    """Values on a grid finer than this count as not on a grid: no meter for this job resolves it."""

    def __init__(self) -> None:
        self.count_volts = self.COARSEST_VOLTS
        """The count; while all values have been the same, from the digits of that value."""
        self.wants_more = True
        self._seen = 0
        self._step = 0.0
        self._last: float | None = None

    def renew(self) -> None:
        """Begin to learn anew; the old count stands until the new one can be believed."""
        self.wants_more = True
        self._seen = 0
        self._step = 0.0

    def see(self, volts: float) -> None:
        """Look at one more value that differs from the one before."""
        last, self._last = self._last, volts
        if last is None:
            digits = repr(volts).partition(".")[2]
            count = 10.0 ** -len(digits) if digits.isdigit() else 0.0
            self.count_volts = min(self.COARSEST_VOLTS, max(count, self.FINEST_VOLTS))
            return
        if volts == last:
            return
        self._step = _common_divisor(self._step, abs(volts - last), self.FINEST_VOLTS)
        self._seen += 1
        if self._seen >= self.BELIEVED:
            self.count_volts = self._step
            self.wants_more = self._seen < self.ENOUGH
        else:
            self.count_volts = max(min(self.count_volts, self._step), self.FINEST_VOLTS)


def _common_divisor(step: float, difference: float, finest: float) -> float:
    """Greatest common divisor of two voltages, at least `finest`; rounding in their last bits is no remainder."""
    larger, smaller = (difference, step) if difference > step else (step, difference)
    while smaller > finest / 2:
        larger, smaller = smaller, larger % smaller
        if larger - smaller < finest / 2:
            smaller = 0.0
    return larger if larger > finest else finest


def u_resolution(count_volts: float) -> float:
    """Standard uncertainty from the meter's count: rectangular over half a count either way (GUM 4.3.7)."""
    return count_volts / 2 / sqrt(3)
