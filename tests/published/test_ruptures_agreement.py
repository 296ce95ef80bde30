"""Steps against the reference library `ruptures` (C. Truong, L. Oudre, N. Vayatis, Signal Processing 167, 2020).

It sees the whole trace and is told the number of steps; the detector sees one sample at a time and is told nothing.
"""

from __future__ import annotations

import numpy as np
import pytest
import ruptures

from logger.settling.events import Step
from logger.settling.replay import replay

LEVELS = [0.4, 1.6, 1.2, 2.8, 0.3, 0.6]
INTERVAL_S = 0.4
SAMPLES_APART = 2


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("noise_volts", [0.002, 0.02])
def test_steps_stand_where_the_reference_puts_them(seed: int, noise_volts: float) -> None:
    random = np.random.default_rng(seed)
    lengths = random.integers(30, 90, len(LEVELS))
    volts = np.repeat(LEVELS, lengths) + random.normal(0, noise_volts, lengths.sum())
    volts = np.round(np.abs(volts), 3)
    reference = ruptures.KernelCPD("linear", min_size=5).fit(volts).predict(n_bkps=len(LEVELS) - 1)[:-1]
    events = replay((np.arange(len(volts)) * INTERVAL_S).tolist(), volts.tolist())
    found = [event.time_s / INTERVAL_S for event in events if isinstance(event, Step)]
    assert len(found) == len(reference)
    assert np.max(np.abs(np.array(found) - reference)) <= SAMPLES_APART
