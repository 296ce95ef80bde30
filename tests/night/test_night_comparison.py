"""Two nights compared: the uncertainty of a night's level counts its autocorrelation."""

from __future__ import annotations

import numpy as np
import pytest

from logger.night.analysis.night_comparison import level_difference, night_level
from logger.night.analysis.night_record import NightRecord
from logger.settling.events import Settled


def wandering(mean_volts, hours, rng, u_volts=0.02, hold_s=300.0):
    """A level that wanders for minutes around a mean (AR(1) each second), all of it still."""
    n = int(hours * 3600)
    keep = np.exp(-1.0 / hold_s)
    steps = rng.standard_normal(n) * u_volts * (1 - keep**2) ** 0.5
    level = np.empty(n)
    value = u_volts * rng.standard_normal()
    for i in range(n):
        value = keep * value + steps[i]
        level[i] = value
    return NightRecord(
        np.arange(n, dtype=float), mean_volts + level, (Settled(0, n - 1, mean_volts, 0.001, 5, n),), float(n)
    )


def test_the_uncertainty_of_a_wandering_level_is_honest():
    """Over many nights the means scatter as their uncertainties predict.

    As independent samples they would have an uncertainty 20 times too small.
    """
    rng = np.random.default_rng(3)
    found = [night_level(wandering(0.3, 4.0, rng)) for _ in range(40)]
    scores = np.array([(level.volts - 0.3) / level.u_volts for level in found])
    assert 0.6 < np.sqrt((scores**2).mean()) < 1.6
    assert all(level.u_volts > 5 * 0.02 / (4 * 3600) ** 0.5 for level in found)


def test_breakers_off_is_distinguished_from_breakers_on_and_alike_nights_are_not():
    rng = np.random.default_rng(4)
    on, off, again = (night_level(wandering(v, 3.0, rng)) for v in (0.35, 0.12, 0.35))
    assert on is not None and off is not None and again is not None
    fell = level_difference(on, off)
    assert fell.volts == pytest.approx(-0.23, abs=0.03) and fell.significance < 1e-6
    assert level_difference(on, again).significance > 0.01


def test_a_night_with_hardly_any_still_time_has_no_level():
    rng = np.random.default_rng(5)
    assert night_level(wandering(0.3, 0.05, rng)) is None
