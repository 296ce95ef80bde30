"""How well a posture repeats: the default, and what was measured on site."""

from __future__ import annotations

import numpy as np
import pytest

from logger.metrology.posture import (
    DEFAULT_DEGREES,
    DEFAULT_REPEATABILITY,
    DEFAULT_SHARE,
    Repeatability,
    pooled_repeatability,
)


def test_without_a_repeat_it_is_the_default():
    assert pooled_repeatability([]) == DEFAULT_REPEATABILITY
    assert pooled_repeatability([[0.5], [], [0.0, 0.0]]) == DEFAULT_REPEATABILITY
    assert "assumed (no source)" in DEFAULT_REPEATABILITY.basis


def test_two_lucky_readings_do_not_make_it_nothing():
    found = pooled_repeatability([[0.5, 0.5]])
    assert found.repeats == 1
    assert 0.8 * DEFAULT_SHARE < found.share < DEFAULT_SHARE


def test_repeats_are_pooled_over_spots_by_their_degrees_of_freedom():
    """By hand: two groups with relative deviations of 10 % from their means, on one and on two degrees."""
    found = pooled_repeatability([[0.9, 1.1], [1.8, 2.0, 2.2]])
    squares = DEFAULT_DEGREES * DEFAULT_SHARE**2 + 2 * 0.1**2 + 2 * 0.1**2
    assert found.degrees == DEFAULT_DEGREES + 3
    assert found.share == pytest.approx((squares / found.degrees) ** 0.5)
    assert "3 repeats on site" in found.basis


@pytest.mark.parametrize("share", [0.01, 0.2])
def test_many_repeats_outweigh_the_default(share):
    random = np.random.default_rng(9)
    groups = [list(random.normal(1.0, share, 2)) for _ in range(3000)]
    assert pooled_repeatability(groups).share == pytest.approx(share, rel=0.15)


def test_fewer_degrees_of_freedom_cover_with_a_wider_interval():
    few, many = Repeatability(0.05, 4.0), Repeatability(0.05, 1e6)
    assert many.u_share == pytest.approx(0.05, rel=1e-4)
    assert few.u_share > 1.4 * many.u_share
    assert few.component(-2.0).u_volts == pytest.approx(2.0 * few.u_share)
