"""How far the reference may be off: what checks of a rod show of it, and what they do not."""

from __future__ import annotations

from math import atan, cos, hypot, pi

import numpy as np
import pytest

from logger.metrology.reference_error import (
    ROD_PAIR_FACTOR,
    SHARED_BY_BOTH_RODS_VOLTS,
    UNPROVEN_ROD_VOLTS,
    SeenByChecks,
    rod_error,
)
from logger.metrology.uncertainty import COVERAGE_FACTOR, RECTANGULAR


def test_no_change_never_narrows_and_a_change_widens():
    assert rod_error(SeenByChecks()).volts == UNPROVEN_ROD_VOLTS
    assert rod_error(SeenByChecks(change_volts=0.0)).volts == UNPROVEN_ROD_VOLTS
    assert rod_error(SeenByChecks(change_volts=0.2)).volts == 0.2
    assert not rod_error(SeenByChecks(change_volts=0.0)).by_second_rod


def test_a_second_rod_narrows_and_never_below_what_both_may_share():
    good = rod_error(SeenByChecks(0.0, 0.006, True))
    assert good.by_second_rod and good.volts == pytest.approx(hypot(0.012, SHARED_BY_BOTH_RODS_VOLTS))
    assert rod_error(SeenByChecks(0.0, 0.0, True)).volts == SHARED_BY_BOTH_RODS_VOLTS
    assert rod_error(SeenByChecks(0.03, 0.006, True)).volts == 0.03, "a change that was seen counts"


def test_rods_that_do_not_agree_widen_and_an_undecided_check_leaves_it():
    assert rod_error(SeenByChecks(None, 0.06, False)).volts == pytest.approx(hypot(0.12, 0.01))
    assert rod_error(SeenByChecks(None, 0.021, False)).volts == UNPROVEN_ROD_VOLTS
    undecided = rod_error(SeenByChecks(None, 0.024, None))
    assert undecided.volts == UNPROVEN_ROD_VOLTS and not undecided.by_second_rod


def test_the_factor_covers_one_of_two_independent_rods_at_95_percent():
    """By the ratio of two complex normal variables, and by drawing them."""
    factor = COVERAGE_FACTOR / RECTANGULAR * ROD_PAIR_FACTOR
    # V1 = (S + D) / 2 with S, D independent and of one size; S / D is uniform on Riemann's sphere, and
    # |S / D + 1| <= 2 factor is a cap of it.
    cap = atan(2 * factor - 1) + atan(2 * factor + 1)
    assert 1 - (1 + cos(cap)) / 2 == pytest.approx(0.951, abs=0.001)
    rng = np.random.default_rng(4)
    first, second = _phasors(rng), _phasors(rng)
    assert np.mean(abs(first) <= factor * abs(first - second)) == pytest.approx(0.951, abs=0.002)


def _phasors(rng: np.random.Generator) -> np.ndarray:
    return rng.normal(size=200_000) + 1j * rng.normal(size=200_000)


def test_a_second_rod_twice_as_far_shows_half_of_the_gradient():
    """A hemispherical electrode of radius a has the potential I rho / (2 pi r) in the soil (textbook)."""

    def potential(distance_m: float) -> float:
        return 5.0 * 100.0 / (2 * pi * distance_m)

    near, far = potential(10.0), potential(20.0)
    assert near == pytest.approx(ROD_PAIR_FACTOR * (near - far))
