"""Propagation of distributions against JCGM 101:2008 (GUM supplement 1), and what it is used for."""

from __future__ import annotations

from dataclasses import replace
from math import pi, sqrt

import numpy as np
import pytest
from scipy import stats

from logger.meter.description import Accuracy, MeterDescription
from logger.metrology.propagation import log_normal, propagate, rectangular_between
from logger.metrology.setup import MeterFacts
from logger.metrology.uncertainty import ReferenceState, reading_budget
from logger.visit.results.input_correction import corrected_budget


def test_the_additive_model_of_four_rectangular_inputs():
    """JCGM 101 9.2.3: four inputs on +-sqrt(3): estimate 0, u = 2.0, 95 % interval [-3.88, 3.88], not [-3.92, 3.92].

    The interval was recomputed with 4 million free draws before it was written here: -3.879 and 3.879.
    """
    four = [rectangular_between(-sqrt(3), sqrt(3))] * 4
    found = propagate(lambda *inputs: sum(inputs), four, trials=200_000)
    assert found.mean == pytest.approx(0.0, abs=0.001)
    assert found.u == pytest.approx(2.0, abs=0.005)
    assert (found.low, found.high) == (pytest.approx(-3.88, abs=0.02), pytest.approx(3.88, abs=0.02))
    assert found.high < 1.96 * 2 - 0.02


def test_a_mass_in_air_is_as_linear_propagation_has_it():
    """JCGM 101 7 and 9.2.2 by its own rule: a linear model of normal inputs is normal, u the root of the squares."""
    found = propagate(lambda a, b: a + b, [log_normal(100.0, 1e-4), log_normal(50.0, 4e-4)], trials=20_000)
    assert found.u == pytest.approx(np.hypot(0.01, 0.02), rel=0.01)
    assert found.high - found.mean == pytest.approx(1.96 * np.hypot(0.01, 0.02), rel=0.02)


def test_quantiles_are_those_of_the_log_normal_distribution():
    """SciPy's lognorm, independent."""
    probabilities = np.array([0.025, 0.16, 0.5, 0.9])
    expected = stats.lognorm.ppf(probabilities, 0.25, scale=150e-12)
    assert log_normal(150e-12, 0.25)(probabilities) == pytest.approx(expected, rel=1e-9)


def test_restating_for_another_input_propagates_body_and_both_inputs():
    """Free draws with numpy and the divider's textbook formula, independent of the program's own."""
    exact = (Accuracy(6.0, 0.0, 0.0, 0.001),)
    stated = MeterDescription("").assumed - {"input_capacitance_farad"}
    low, high = (
        MeterFacts.of(
            MeterDescription(
                "", accuracy=exact, input_resistance_ohm=ohms, input_capacitance_farad=farads, assumed=stated
            )
        )
        for ohms, farads in ((1e6, 50e-12), (10e6, 30e-12))
    )
    rng = np.random.default_rng(12)
    draws = 400_000
    body = 150e-12 * np.exp(0.25 * rng.standard_normal(draws))

    def admittance(ohms: float, farads: float) -> np.ndarray:
        conductance = 1 / (ohms * np.exp(0.01 * rng.standard_normal(draws)))
        capacitance = farads * np.exp(0.15 * rng.standard_normal(draws))
        return np.hypot(conductance, 2 * pi * 50 * (body + capacitance))

    ratio = admittance(1e6, 50e-12) / admittance(10e6, 30e-12)
    found = corrected_budget(reading_budget(0.2, 0.0, exact[0], ReferenceState()), low, high, 50.0)
    assert found.volts == pytest.approx(0.2 * ratio.mean(), rel=0.005)
    assert found.components[-1].u_volts == pytest.approx(0.2 * ratio.std(), rel=0.03)
    inside = np.abs(0.2 * ratio - found.volts) <= found.expanded_volts
    assert 0.93 <= inside.mean() <= 0.975, "k = 2 covers, though the distribution is not normal"


def test_an_input_that_nobody_stated_widens():
    exact = (Accuracy(6.0, 0.0, 0.0, 0.001),)
    one = MeterFacts.of(MeterDescription("", accuracy=exact, input_resistance_ohm=1e6))
    other = MeterFacts.of(MeterDescription("", accuracy=exact))
    stated, stated_other = replace(one, assumed=()), replace(other, assumed=())
    budget = reading_budget(0.2, 0.0, exact[0], ReferenceState())
    assumed_u, stated_u = (
        corrected_budget(budget, *pair, mains_hz=50.0).u_volts
        for pair in ((one, other), (stated, stated_other))
    )
    assert assumed_u > stated_u
