"""A level with noise of its own after a quiet one is a level; a movement of the same size is none."""

from __future__ import annotations

import numpy as np
import pytest

from logger.settling.detector import Detector
from logger.settling.events import Settled, State, Step
from logger.settling.replay import replay

QUIET = 0.3 + 0.001 * np.random.default_rng(5).standard_normal(300)
RATE_HZ = 5.0


def _rounded(*parts: np.ndarray) -> list[float]:
    return np.round(np.concatenate(parts), 3).tolist()


def _settled_s(volts: list[float], start_s: float, end_s: float) -> float:
    events = replay([i / RATE_HZ for i in range(len(volts))], volts, [1e-3] * len(volts))
    return sum(
        max(min(e.end_s, end_s) - max(e.start_s, start_s), 0.0) for e in events if isinstance(e, Settled)
    )


@pytest.mark.parametrize(("level", "sigma"), [(5.0, 0.05), (1.0, 0.01), (2.0, 0.02)])
def test_a_load_that_is_noisier_than_the_quiet_before_it_is_a_level(level: float, sigma: float) -> None:
    """It was motion for as long as it lasted: 60 s at 0.300 V +- 1 mV, then 5.00 V +- 50 mV."""
    noisy = level + sigma * np.random.default_rng(3).standard_normal(600)
    volts = _rounded(QUIET, noisy, QUIET)
    events = replay([i / RATE_HZ for i in range(len(volts))], volts, [1e-3] * len(volts))
    (first, last) = [e for e in events if isinstance(e, Step) if abs(e.after_volts - e.before_volts) > 0.1]
    assert (first.time_s, last.time_s) == pytest.approx((60.0, 180.0), abs=1.5)
    assert first.after_volts == pytest.approx(level, rel=0.02)
    assert _settled_s(volts, 60.0, 180.0) > 0.9 * 120.0


def test_it_is_settled_within_a_minute_and_stays_so() -> None:
    detector = Detector()
    noisy = 5.0 + 0.05 * np.random.default_rng(3).standard_normal(600)
    states = []
    for i, volts in enumerate(_rounded(QUIET, noisy)):
        detector.feed(i / RATE_HZ, volts, 1e-3)
        states.append(detector.now.state)
    assert set(states[round(120 * RATE_HZ) :]) == {State.SETTLED}


@pytest.mark.parametrize("time_s", [0.5, 1.0])
@pytest.mark.parametrize("is_raised", [False, True])
def test_a_movement_that_goes_on_for_minutes_is_no_level(time_s: float, is_raised: bool) -> None:
    """It wanders about its mean by 2 %, with a correlation time of half a second and of one."""
    draw = np.random.default_rng(7)
    keep, value, wander = np.exp(-1 / RATE_HZ / time_s), 0.0, []
    for shock in draw.standard_normal(1200):
        value = keep * value + np.sqrt(1 - keep**2) * shock
        wander.append(abs(value) if is_raised else value)
    volts = _rounded(QUIET, 1.0 * (1 + 0.02 * np.array(wander)), QUIET)
    assert _settled_s(volts, 60.0, 300.0) < 15.0
