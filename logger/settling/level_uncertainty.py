"""The standard uncertainty of a settled level that is reported, and what it consists of.

Tests for a departure from a level use `SignalModel.u_level` instead, which knows the noise only as far as it was
learned: a test has to stay sharp while the reported uncertainty of a level is still large.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import erf, exp, hypot, pi, sqrt

import numpy as np

from logger.correlated_noise import Floats
from logger.settling import limits as lim
from logger.settling.line_fit import jitter_of, mean_and_variance
from logger.settling.resolution import u_resolution
from logger.settling.wander import LearnedWander, WanderFit, fit_wander
from logger.statistics import MIN_SERIES_DEGREES, student_quantile


@dataclass(frozen=True, slots=True)
class LevelUncertainty:
    """The standard uncertainty of a level, in volts.

    Args:
        wander_volts: from scatter with its autocorrelation.
        resolution_volts: from the meter's count.
        fit: what the span teaches of how the value wanders; None where nothing does.
        left_out_volts: from the blocks between its ends that are not on its level.
    """

    wander_volts: float
    resolution_volts: float
    fit: WanderFit | None
    left_out_volts: float = 0.0

    @property
    def u_volts(self) -> float:
        """All together."""
        return hypot(self.wander_volts, self.resolution_volts, self.left_out_volts)


@dataclass(frozen=True, slots=True)
class SpanBlocks:
    """What a level rests on.

    Args:
        volts: means of its latest blocks, at least 3.
        length: number of all its blocks.
        samples: mean number of samples in a block.
        block_s: seconds between two blocks.
        count_volts: the meter's count.
    """

    volts: Sequence[float]
    length: int
    samples: float
    block_s: float
    count_volts: float


def level_uncertainty(blocks: SpanBlocks, learned: LearnedWander) -> LevelUncertainty:
    """The uncertainty of the mean of a span's blocks.

    Args:
        blocks: of the span.
        learned: of the spans before it.
    """
    fit = fit_wander(blocks.volts, blocks.block_s, blocks.length)
    wander_volts = 0.0 if fit is None else _covering_u(learned.weights(fit), fit)
    # The fit may leave out the latest blocks; the mean is of all of them, and rests on the scatter of each.
    scatter_volts = sqrt(mean_and_variance(blocks.volts)[1] / blocks.length)
    return LevelUncertainty(max(wander_volts, scatter_volts), _u_rounding(blocks), fit)


def with_rise(
    blocks: SpanBlocks, learned: LearnedWander, found: LevelUncertainty, rise_volts: float
) -> LevelUncertainty:
    """An uncertainty that has at least that of a value anywhere on a rise, where the rise is certain.

    A value that rises evenly by so much is rectangular about its mean (GUM 4.3.7).

    Args:
        blocks: of the span.
        learned: of the spans before it.
        found: the uncertainty of the mean.
        rise_volts: the rise of the whole span.
    """
    u_volts = abs(rise_volts) / sqrt(12.0)
    if u_volts <= found.wander_volts:
        return found
    values = np.array(blocks.volts)
    flat = _without(values, np.arange(len(values), dtype=np.float64))
    white = float(flat.std()) / sqrt(blocks.length)
    # The blocks left of a line wander by no less than white noise would: the fit is mostly not needed.
    if u_volts <= lim.TILT_SIGMAS * white:
        return found
    if u_volts <= lim.TILT_SIGMAS * sqrt(_wander_square(blocks, flat, learned)):
        return found
    return replace(found, wander_volts=u_volts)


@dataclass(frozen=True, slots=True)
class UncertaintyParts:
    """The parts of the scatter's uncertainty that have a name of their own, in volts; the rest is wandering.

    Args:
        tilt_volts: what the rise or fall of the span adds.
        averaging_volts: what the approach of its first seconds to the level adds.
    """

    tilt_volts: float
    averaging_volts: float


def uncertainty_parts(
    blocks: SpanBlocks, learned: LearnedWander, whole: LevelUncertainty, was_approached: bool
) -> UncertaintyParts:
    """What tilt and approach add to an uncertainty: by how much it would be less without them (in squares).

    Args:
        blocks: of the span.
        learned: of the spans before it.
        whole: the uncertainty with all of it.
        was_approached: something led to the span, so that a meter's averaging may still show in it.
    """
    if whole.fit is None:
        return UncertaintyParts(0.0, 0.0)
    values = np.array(blocks.volts)
    at_s: Floats = blocks.block_s * np.arange(len(values), dtype=np.float64)
    left = whole.wander_volts**2
    averaging = 0.0
    if was_approached:
        values = _without(values, np.exp(-at_s / lim.AVERAGING_S[-1]))
        averaging = max(0.0, left - _wander_square(blocks, values, learned))
        left -= averaging
    values = _without(values, at_s)
    tilt = max(0.0, left - _wander_square(blocks, values, learned))
    return UncertaintyParts(sqrt(tilt), sqrt(averaging))


def _without(values: Floats, shape: Floats) -> Floats:
    """Values less what a shape explains of them by least squares; both of shape (n,)."""
    centred: Floats = shape - shape.mean()
    left: Floats = values - centred * float(centred @ values / (centred @ centred))
    return left


def _wander_square(blocks: SpanBlocks, values: Floats, learned: LearnedWander) -> float:
    """Square of the scatter's uncertainty if the blocks had other values.

    Args:
        blocks: gives all but the values.
        values: volts of the blocks, shape (n,).
        learned: of the spans before.
    """
    return level_uncertainty(replace(blocks, volts=values.tolist()), learned).wander_volts ** 2


def hold_longer_s(u_volts: float, level_volts: float, held_s: float) -> float:
    """For how many seconds more to hold still at most for a level that is worth taking; 0 when it is one already.

    When it will be, nobody knows before: the scatter of what comes decides. Only the limit is certain, and it comes
    nearer as time goes.

    Args:
        u_volts: standard uncertainty of the level from scatter.
        level_volts: the level.
        held_s: for how long it has been held.
    """
    is_good_enough = u_volts <= max(lim.LEVEL_U_VOLTS, lim.LEVEL_U_SHARE * level_volts)
    return 0.0 if is_good_enough else max(lim.LONGEST_HOLD_S - held_s, 0.0)


_SIGMAS = np.linspace(0.0, lim.MAX_SIGMAS, lim.SIGMA_STEPS)
_CANDIDATE_STEPS = np.linspace(0.0, 1.0, lim.COVERING_CANDIDATES)
_WITHIN = np.array([erf(sigmas / sqrt(2.0)) for sigmas in _SIGMAS])
"""Probability within so many standard deviations of a normal distribution."""


def _covering_u(weights: Floats, fit: WanderFit) -> float:
    """Half of the half-width that covers the level with probability `COVERED`, over all shapes.

    Args:
        weights: probability of each shape, shape (g,).
        fit: gives the variance of the mean under each.
    """
    counted = weights > lim.SMALLEST_WEIGHT
    weights, deviations = weights[counted], np.sqrt(fit.variances[counted])
    low, high = float(deviations.min()), float(deviations.max())
    candidates = low * (2.0 * high / low) ** _CANDIDATE_STEPS
    within = np.interp(2.0 * candidates[:, None] / deviations, _SIGMAS, _WITHIN) @ weights
    u_volts = float(np.interp(lim.COVERED * within[-1], within, candidates))
    # Wider as Student's t is: the scale of the noise is known from so many degrees of freedom only.
    return u_volts * student_quantile(2.0, max(fit.degrees, MIN_SERIES_DEGREES)) / 2.0


def _u_rounding(blocks: SpanBlocks) -> float:
    """Standard uncertainty that rounding to the count leaves in the mean.

    Noise that is larger than the count averages the rounding out: at a noise of s the error of a mean is a sine of the
    level, of the amplitude count / pi exp(-2 (pi s / count)^2), and it is rectangular without noise. Where only two
    neighbouring counts were shown, the noise may have been much or next to none, and the level is anywhere between
    their mean and the edge between the two.

    Args:
        blocks: of the span.
    """
    count = blocks.count_volts
    low, high = min(blocks.volts), max(blocks.volts)
    mean, variance = mean_and_variance(blocks.volts)
    if high - low < lim.FINEST_COUNT_VOLTS:
        return u_resolution(count)  # one count was shown, wherever the learned ones lie
    if low < count:
        return u_resolution(count)  # what is below zero is shown as zero, so noise averages nothing out
    if high - low <= lim.NEIGHBOURING_COUNTS * count:
        beyond_edge = abs(mean / count % 1.0 - 0.5)
        return 2.0 * beyond_edge * u_resolution(count)
    noise = max(variance, blocks.samples * jitter_of(blocks.volts) ** 2) - u_resolution(count) ** 2
    return count / (pi * sqrt(2.0)) * exp(-2.0 * pi**2 * max(noise, 0.0) / count**2)
