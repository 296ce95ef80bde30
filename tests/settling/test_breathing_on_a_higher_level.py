"""Somebody sits still at a spot with a higher level: breathing has grown with the level and does not hide it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from logger.settling.detector import Detector
from logger.settling.events import State

RATE_HZ = 5.0


@pytest.mark.parametrize("seed", range(6))
def test_a_higher_level_with_some_breathing_settles_and_stays_so(seed: int) -> None:
    draw = np.random.default_rng(seed)
    move = 1.8 + np.abs(np.cumsum(draw.normal(0.0, 0.4, 25)))
    at_s = np.arange(200) / RATE_HZ
    low = 0.81 * (1 + 0.004 * np.sin(2 * np.pi * at_s / 4.0))
    high = 2.87 * (1 + 0.004 * np.sin(2 * np.pi * at_s / draw.uniform(3.0, 5.0) + draw.uniform(0, 6)))
    volts = np.concatenate([low, move, high]) + draw.normal(0.0, 0.001, 425)
    detector, shown = Detector(), []
    for number, value in enumerate(volts):
        detector.feed(number / RATE_HZ, round(float(value), 3), 0.001)
        shown.append(detector.now.state)
    flat = shown[225:]
    settled = flat.index(State.SETTLED) / RATE_HZ
    assert settled < 8.0
    given_up = sum(a is State.SETTLED and b is not State.SETTLED for a, b in pairwise(flat))
    assert given_up <= 1
    assert flat.count(State.CHANGING) / RATE_HZ < 6.0
