"""The mean of a night's still level under a model of how the level wanders, with the variance of that mean.

In: the still level minute by minute. Out: for each of a grid of correlation shapes the mean, its variance and how well
the shape fits. Neighbouring minutes are not independent, because a sleeper keeps a posture for a while. The model is a
first-order autoregressive process in continuous time (Ornstein and Uhlenbeck), averaged over each minute, plus a part
that is independent from minute to minute. Its likelihood is computed exactly, gaps included, by Kalman's filter (Harvey
1989, chapter 3); mean and scale are integrated out with their usual flat priors (restricted likelihood). The shape is
not estimated and then taken as true: all shapes count by their likelihood, which is what keeps the uncertainty right
where a night holds only a few independent pieces.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from logger.correlated_noise import averaged_covariance
from logger.night.analysis.night_record import Floats, NightRecord

MINUTE_S = 60.0

MIN_STILL_SHARE = 0.1
"""A minute that was still for less than this share of it is left out."""

MIN_MINUTES = 6
"""With fewer minutes than this their scatter is too uncertain. No source."""

FASTEST_S = 20.0
"""Shortest correlation time of the grid; anything faster is independent from minute to minute."""

SLOWEST_SHARE = 0.5
"""Longest correlation time of the grid, as a share of the still time; a slower level is a trend within the night."""

TIMES = 20
WANDERING_SHARES = (0.02, 0.07, 0.2, 0.5, 0.8, 1.0)
"""How much of a minute's variance wanders; the rest is independent from minute to minute."""

INDEPENDENT_PRIOR = 0.3
"""Prior probability that nothing wanders. No source; the false alarm rate hardly depends on it."""

SMALLEST_SPREAD_VOLTS = 1e-9
"""Minutes that spread by less than this are all the same: the sum of squares of their differences is rounding."""


@dataclass(frozen=True, slots=True)
class StillMinutes:
    """The still level minute by minute.

    Args:
        minutes: number of each minute that counts, rising; shape (n,).
        volts: mean of its still samples, V, shape (n,).
        still_shares: share of the minute that was still, shape (n,).
    """

    minutes: Floats
    volts: Floats
    still_shares: Floats

    @property
    def still_s(self) -> float:
        """The still time, s."""
        return float(self.still_shares.sum()) * MINUTE_S


@dataclass(frozen=True, slots=True)
class CorrelationShapes:
    """A grid of shapes of the correlation; each array has shape (g,).

    Args:
        times_s: correlation time of the part that wanders, s.
        shares: the share of a minute's variance that wanders.
        log_prior: logarithm of the prior probability of the shape.
    """

    times_s: Floats
    shares: Floats
    log_prior: Floats


@dataclass(frozen=True, slots=True)
class LevelFit:
    """The mean level for each shape; each array has shape (g,).

    Args:
        log_likelihood: restricted log-likelihood of the shape, up to a constant.
        volts: mean level (generalised least squares), V.
        variances: variance of that mean, V².
        degrees: degrees of freedom of the scale: minutes less one.
    """

    log_likelihood: Floats
    volts: Floats
    variances: Floats
    degrees: int


def still_minutes(night: NightRecord) -> StillMinutes | None:
    """Return the still minutes of a night; None where there are fewer than `MIN_MINUTES`."""
    still = night.still_mask()
    which = (night.times_s[still] // MINUTE_S).astype(np.int64)
    if not len(which):
        return None
    durations_s = night.durations_s()[still]
    spent_s = np.bincount(which, durations_s)
    sums = np.bincount(which, durations_s * night.volts[still])
    kept = np.flatnonzero(spent_s >= MIN_STILL_SHARE * MINUTE_S)
    if len(kept) < MIN_MINUTES:
        return None
    shares = np.minimum(spent_s[kept] / MINUTE_S, 1.0)
    return StillMinutes(kept.astype(float), sums[kept] / spent_s[kept], shares)


def correlation_shapes(still_s: float) -> CorrelationShapes:
    """Return the grid for nights of so much still time.

    The prior of the correlation time falls as one over it on the logarithmic grid: flat in the correlation of
    neighbouring moments, where that is near one.

    Args:
        still_s: still time of the longer one of the nights, s.
    """
    times = np.geomspace(FASTEST_S, max(SLOWEST_SHARE * still_s, 2 * FASTEST_S), TIMES)
    times_s, shares = (grid.ravel() for grid in np.meshgrid(times, WANDERING_SHARES, indexing="ij"))
    prior = (1.0 - INDEPENDENT_PRIOR) / times_s / (1.0 / times_s).sum()
    return CorrelationShapes(
        np.append(times_s, FASTEST_S), np.append(shares, 0.0), np.log(np.append(prior, INDEPENDENT_PRIOR))
    )


def fit_level(found: StillMinutes, shapes: CorrelationShapes) -> LevelFit:
    """Fit the mean level for each shape.

    Args:
        found: the still minutes of a night.
        shapes: grid of shapes.
    """
    count, size = len(found.volts), len(shapes.shares)
    middle = float(found.volts.mean())
    if float(np.ptp(found.volts)) < SMALLEST_SPREAD_VOLTS:
        return LevelFit(np.zeros(size), np.full(size, middle), np.zeros(size), count - 1)
    centred = (found.volts - middle).tolist()
    times = shapes.times_s / MINUTE_S
    variance, factor = averaged_covariance(times)
    wandering = shapes.shares * factor / variance
    # Below zero for the wandering part alone: a mean over a minute varies less than its neighbours let expect.
    own = shapes.shares - wandering
    independent = 1.0 - shapes.shares
    state_var = wandering.copy()
    state_y, state_1 = np.zeros(size), np.zeros(size)
    log_det, sum_yy, sum_11, sum_1y = (np.zeros(size) for _ in range(4))
    gaps = np.diff(found.minutes, prepend=found.minutes[0]).tolist()
    # The same filter runs over the values and over a constant one; the mean follows from both.
    for value, gap_minutes, share in zip(centred, gaps, found.still_shares.tolist(), strict=True):
        kept = np.exp(-gap_minutes / times)
        state_y, state_1 = kept * state_y, kept * state_1
        state_var = wandering + (state_var - wandering) * kept**2
        innovation_var = np.maximum(state_var + own + independent / share, SMALLEST_SPREAD_VOLTS)
        error_y, error_1 = value - state_y, 1.0 - state_1
        gain = state_var / innovation_var
        log_det += np.log(innovation_var)
        sum_yy += error_y**2 / innovation_var
        sum_11 += error_1**2 / innovation_var
        sum_1y += error_y * error_1 / innovation_var
        state_y, state_1 = state_y + gain * error_y, state_1 + gain * error_1
        state_var = state_var * (1.0 - gain)
    mean = sum_1y / sum_11
    residual = np.maximum(sum_yy - mean**2 * sum_11, SMALLEST_SPREAD_VOLTS**2)
    log_likelihood = -0.5 * (log_det + np.log(sum_11) + (count - 1) * np.log(residual))
    return LevelFit(log_likelihood, middle + mean, residual / (count - 1) / sum_11, count - 1)
