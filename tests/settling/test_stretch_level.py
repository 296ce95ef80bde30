"""The level of a part of a settled span, against traces whose level is known."""

from __future__ import annotations

import numpy as np
import pytest

from logger.settling.limits import STILL_S
from logger.settling.stretch_level import stretch_level

DRAWS = 120

COVERED_AT_LEAST = 0.89
"""Share of levels within two standard uncertainties; 0.95 is stated, less three standard deviations of the draws."""


@pytest.mark.parametrize("rate_hz", [2.0, 5.0, 10.0])
@pytest.mark.parametrize("correlation_s", [0.0, 2.0])
def test_its_uncertainty_covers_the_level(rate_hz: float, correlation_s: float) -> None:
    random = np.random.default_rng(8)
    times_s = np.arange(round(40 * rate_hz)) / rate_hz
    kept = np.exp(-1 / rate_hz / correlation_s) if correlation_s else 0.0
    within = 0
    for _ in range(DRAWS):
        level = random.uniform(0.2, 0.4)
        noise = random.standard_normal(len(times_s))
        for i in range(1, len(noise)):
            noise[i] = kept * noise[i - 1] + np.sqrt(1 - kept**2) * noise[i]
        found = stretch_level(times_s, np.round(level + 0.01 * noise, 3))
        assert found is not None
        within += abs(found.volts - level) <= 2 * found.u_volts
    assert within / DRAWS >= COVERED_AT_LEAST


def test_a_stretch_shorter_than_the_detector_calls_still_has_no_level() -> None:
    times_s = np.arange(0.0, STILL_S - 0.01, 0.1)
    assert stretch_level(times_s, np.full(len(times_s), 0.3)) is None
    times_s = np.arange(0.0, STILL_S + 0.11, 0.1)
    assert stretch_level(times_s, np.full(len(times_s), 0.3)) is not None


def test_values_that_are_all_the_same_are_as_uncertain_as_their_count() -> None:
    times_s = np.arange(0.0, 20.0, 0.2)
    found = stretch_level(times_s, np.full(len(times_s), 0.27))
    assert found is not None
    assert found.volts == pytest.approx(0.27)
    assert found.u_volts == pytest.approx(0.01 / 12**0.5)
