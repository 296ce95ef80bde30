"""First-order noise (Ornstein and Uhlenbeck): its correlation falls as exp(-time apart / correlation time).

Each function takes correlation times in units of the distance between two values, and noise of unit variance.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def variance_of_mean(times: Floats) -> Floats:
    """Return the variances of a mean over a unit of time, shape (g,)."""
    rates = 1.0 / times
    variance: Floats = 2.0 * (rates - 1.0 + np.exp(-rates)) / rates**2
    return variance


def averaged_covariance(times: Floats) -> tuple[Floats, Floats]:
    """Return the covariances of means over a unit of time, one mean after the other.

    Args:
        times: correlation times, shape (g,).

    Returns:
        The variance of one mean, and the factor a of the covariance a·exp(-k/time) of means k apart; shape (g,) each.
    """
    rates = 1.0 / times
    faded = np.exp(-rates)
    factor: Floats = ((1.0 - faded) / rates) ** 2 / faded
    return variance_of_mean(times), factor


def cosine_variances(times: Floats, count: int) -> Floats:
    """Return the variances of the cosine coefficients of `count` means over a unit of time.

    The coefficients are those of the orthonormal transform (DCT-II) without the first, which is the mean. They are
    nearly uncorrelated whatever the correlation time, so the noise is described by their variances.

    Args:
        times: correlation times, shape (g,).
        count: number of means n, at least 2.

    Returns:
        Variances, shape (g, n - 1).
    """
    variance, factor = averaged_covariance(times)
    apart = np.arange(1, count)
    angles = np.pi * np.arange(1, count)[:, None] / count
    # The sum over i of cos(angle (i + 1/2)) cos(angle (i + apart + 1/2)), in closed form.
    overlaps = (count - apart) * np.cos(apart * angles) - np.sin(apart * angles) / np.sin(angles)
    faded = np.exp(-apart / times[:, None])
    out: Floats = variance[:, None] + factor[:, None] * (faded @ overlaps.T) * (2.0 / count)
    return out
