"""Verdicts against a target as conformity decisions with guard bands (JCGM 106:2012)."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
import pytest

from logger.metrology.uncertainty import (
    COVERAGE_FACTOR,
    Budget,
    compare_off_with,
    compare_with,
    off_limits,
    rectangular,
)

NORMAL = NormalDist()


def probability_below(limit: float, value: float, u: float) -> float:
    """JCGM 106 7.3: the conformance probability for one upper limit."""
    return NORMAL.cdf((limit - value) / u)


def test_the_conformance_probability_of_the_worked_example():
    """JCGM 106 7.3.2, a Zener diode: limit -5.40 V, -5.47 V measured, u = 0.05 V: 92 % (from memory, recomputed)."""
    assert probability_below(-5.40, -5.47, 0.05) == pytest.approx(0.92, abs=0.003)
    verdict = compare_with(Budget.of_u("as stated", -5.47, 0.05), -5.40)
    assert verdict == "not distinguishable", "a guard band of U asks for more than 92 %"


@pytest.mark.parametrize("u_volts", [0.001, 0.01, 0.03])
@pytest.mark.parametrize("compare", [compare_with, compare_off_with])
def test_a_guard_band_of_the_expanded_uncertainty_leaves_two_percent(compare, u_volts):
    """JCGM 106 8.3.2.2: with w = U (k = 2) the probability of a false acceptance is at most 2.3 % (from memory)."""
    target_volts = 0.1
    edge_volts = target_volts - COVERAGE_FACTOR * u_volts
    for volts, verdict in ((edge_volts - 1e-9, "below"), (edge_volts + 1e-9, "not distinguishable")):
        assert compare(Budget.of_u("as stated", volts, u_volts), target_volts) == verdict
    assert 1 - probability_below(target_volts, edge_volts, u_volts) == pytest.approx(0.0228, abs=1e-4)
    assert compare(
        Budget.of_u("as stated", target_volts + COVERAGE_FACTOR * u_volts + 1e-9, u_volts), target_volts
    ) == ("above")


def test_the_limits_of_an_off_value_hold_whatever_the_angle():
    """The triangle inequality: |V_body| <= |V_body - V_reference| + |V_reference|, by drawing all angles."""
    rng = np.random.default_rng(5)
    body, reference = rng.uniform(0.0, 0.2, 20_000), rng.uniform(0.0, 0.05, 20_000)
    shown = np.abs(body - reference * np.exp(2j * np.pi * rng.random(20_000)))
    held = []
    for true, volts in zip(body.tolist(), shown.tolist(), strict=True):
        budget = Budget(volts, (rectangular("reference: earth rod", 0.05),))
        limits = off_limits(budget)
        held.append(limits.low_volts <= true <= limits.high_volts)
    assert all(held)
    alone = np.mean(body <= shown)
    assert alone < 0.8, "that the reference's error only adds would be wrong for a fifth of them"


def test_an_off_value_counts_the_reference_as_a_limit_and_the_rest_expanded():
    budget = Budget(0.03, (rectangular("meter accuracy", 0.003), rectangular("reference: earth rod", 0.05)))
    limits = off_limits(budget)
    # JCGM 106: by the limit of one line and k = 2 of the other; below by both, and not below nothing.
    assert limits.high_volts == pytest.approx(0.03 + np.hypot(0.05, 2 * 0.003 / 3**0.5))
    assert limits.high_volts < 0.03 + budget.expanded_volts and limits.low_volts == 0.0
    assert compare_off_with(budget, 0.085) == "below"
    assert compare_with(budget, 0.085) == "not distinguishable"
