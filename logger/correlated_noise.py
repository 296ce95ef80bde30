"""Noise of which the correlation fades exponentially: first-order noise (Ornstein and Uhlenbeck), damped oscillations.

The correlation is exp(-time apart / correlation time). An oscillation has a complex correlation time, one over the
fading rate plus i times the angular frequency, and the real part of the result is meant.
Times are in units of the distance between two values, the noise is of unit variance.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Times = NDArray[np.inexact[Any]]
"""Correlation times: one over the rate at which the correlation falls, complex for an oscillation."""


def oscillation(periods: Floats, damping: float) -> Times:
    """Return the complex correlation times of damped oscillations.

    Args:
        periods: shape (g,).
        damping: time after which the correlation has fallen to 1/e.
    """
    times: Times = 1.0 / (1.0 / damping + 2j * np.pi / periods)
    return times


def variance_of_mean(times: Times) -> Floats:
    """Return the variances of a mean over a unit of time, shape (g,)."""
    rates = 1.0 / times
    variance: Floats = np.real(2.0 * (rates - 1.0 + np.exp(-rates)) / rates**2)
    return variance


def averaged_covariance(times: Floats) -> tuple[Floats, Floats]:
    """Return the covariances of means over a unit of time, one mean after the other.

    Args:
        times: correlation times of first-order noise, shape (g,).

    Returns:
        The variance of one mean, and the factor a of the covariance a·exp(-k/time) of means k apart; shape (g,) each.
    """
    factor: Floats = np.real(_factor(times))
    return variance_of_mean(times), factor


def _factor(times: Times) -> Times:
    rates = 1.0 / times
    faded = np.exp(-rates)
    factor: Times = ((1.0 - faded) / rates) ** 2 / faded
    return factor


def cosine_variances(times: Times, count: int) -> Floats:
    """Return the variances of the cosine coefficients of `count` means over a unit of time.

    The coefficients are those of the orthonormal transform (DCT-II) without the first, which is the mean. They are
    nearly uncorrelated whatever the correlation time, so the noise is described by their variances.

    Args:
        times: correlation times, shape (g,).
        count: number of means n, at least 2.

    Returns:
        Variances, shape (g, n - 1).
    """
    apart = np.arange(1, count)
    angles = np.pi * np.arange(1, count)[:, None] / count
    # The sum over i of cos(angle (i + 1/2)) cos(angle (i + apart + 1/2)), in closed form.
    overlaps = (count - apart) * np.cos(apart * angles) - np.sin(apart * angles) / np.sin(angles)
    covariances = np.real(_factor(times)[:, None] * np.exp(-apart / times[:, None]))
    out: Floats = variance_of_mean(times)[:, None] + (covariances @ overlaps.T) * (2.0 / count)
    return out
