"""The standard uncertainty of a settled level that is reported, and what it consists of.

Tests for a departure from a level use `SignalModel.u_level` instead, which knows the noise only as far as it was
learned: a test has to stay sharp while the reported uncertainty of a level is still large.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import erf, exp, hypot, pi, sqrt

import numpy as np

from logger.correlated_noise import Floats
from logger.settling import limits as lim
from logger.settling.line_fit import jitter_of, mean_and_variance
from logger.settling.resolution import u_resolution
from logger.settling.wander import LearnedWander, WanderFit, fit_wander


@dataclass(frozen=True, slots=True)
class LevelUncertainty:
    """The standard uncertainty of a level, in volts.

    Args:
        wander_volts: from scatter with its autocorrelation.
        resolution_volts: from the meter's count.
        fit: what the span teaches of how the value wanders; None where nothing does.
    """

    wander_volts: float
    resolution_volts: float
    fit: WanderFit | None

    @property
    def u_volts(self) -> float:
        """All together."""
        return hypot(self.wander_volts, self.resolution_volts)


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
    return LevelUncertainty(wander_volts, _u_rounding(blocks), fit)


_SIGMAS = np.linspace(0.0, lim.MAX_SIGMAS, lim.SIGMA_STEPS)
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
    candidates = np.geomspace(low, 2.0 * high, lim.COVERING_CANDIDATES)
    within = np.interp(2.0 * candidates[:, None] / deviations, _SIGMAS, _WITHIN) @ weights
    u_volts = float(np.interp(lim.COVERED * within[-1], within, candidates))
    return u_volts * few_degrees_widening(fit.degrees)


def few_degrees_widening(degrees: int) -> float:
    """Student's t for 95.45 % over 2, nearly: how much wider an interval is that rests on few degrees of freedom."""
    return 1.0 + lim.FEW_DEGREES_WIDENING / max(degrees - 1, 1)


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
    if high - low <= lim.NEIGHBOURING_COUNTS * count:
        beyond_edge = abs(mean / count % 1.0 - 0.5)
        return 2.0 * beyond_edge * u_resolution(count)
    noise = max(variance, blocks.samples * jitter_of(blocks.volts) ** 2) - u_resolution(count) ** 2
    return count / (pi * sqrt(2.0)) * exp(-2.0 * pi**2 * max(noise, 0.0) / count**2)
