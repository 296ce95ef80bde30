"""Two nights over the same classes."""

from __future__ import annotations

import numpy as np
import pytest

from logger.night.analysis.distribution import level_distributions
from logger.night.analysis.night_record import NightRecord
from logger.settling.events import Settled


def night(volts: np.ndarray, still_from: int = 0) -> NightRecord:
    end_s = float(len(volts))
    return NightRecord(
        np.arange(len(volts), dtype=float),
        volts,
        (Settled(float(still_from), end_s, 0.3, 0.01, end_s, len(volts)),),
        end_s,
    )


def test_shares_of_the_still_time_over_common_classes():
    rng = np.random.default_rng(1)
    found = level_distributions(night(rng.normal(0.5, 0.02, 4000)), night(rng.normal(0.2, 0.02, 4000)))
    assert found is not None
    before, after = found
    assert (before.edges_volts == after.edges_volts).all()
    assert before.shares.sum() == pytest.approx(1, abs=0.025) == after.shares.sum()
    middles = (before.edges_volts[1:] + before.edges_volts[:-1]) / 2
    assert (before.shares * middles).sum() == pytest.approx(0.5, abs=0.02)
    assert (before.median_volts, after.median_volts) == pytest.approx((0.5, 0.2), abs=0.005)


def test_what_is_read_while_moving_does_not_count_and_levels_that_never_change_are_no_trouble():
    volts = np.full(100, 0.3)
    volts[:50] = 9.0
    found = level_distributions(night(volts, still_from=50), night(np.full(10, 0.3)))
    assert found is not None and found[0].edges_volts[-1] < 0.4
    nothing = NightRecord(np.arange(5.0), np.ones(5), (), 5.0)
    assert level_distributions(nothing, nothing) is None
