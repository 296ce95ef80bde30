"""Effective degrees of freedom: GUM (JCGM 100:2008) H.1, the calibration of an end gauge.

The components with their degrees of freedom are from memory, in nanometres; what follows from them is recomputed.
"""

from __future__ import annotations

from math import hypot, inf

import pytest
import scipy.stats

from logger.statistics import effective_degrees

OBSERVED_DIFFERENCE = [(5.8, 24.0), (3.9, 5.0), (6.7, 8.0)]
"""Repeated observations, and the comparator's random and systematic effects."""

STANDARD = (25.0, 18.0)
EXPANSION_COEFFICIENTS = (2.9, 50.0)
TEMPERATURES = (16.6, 2.0)


def test_the_observed_difference_has_25_degrees_of_freedom() -> None:
    assert hypot(*(u for u, _ in OBSERVED_DIFFERENCE)) == pytest.approx(9.7, abs=0.05)
    assert effective_degrees(OBSERVED_DIFFERENCE) == pytest.approx(25.6, abs=0.3)


def test_the_end_gauge_has_16_degrees_of_freedom() -> None:
    difference = (9.7, effective_degrees(OBSERVED_DIFFERENCE))
    parts = [STANDARD, difference, EXPANSION_COEFFICIENTS, TEMPERATURES]
    u_c = hypot(*(u for u, _ in parts))
    degrees = effective_degrees(parts)
    assert round(u_c) == 32
    assert int(degrees) == 16
    t_99 = float(scipy.stats.t.ppf(0.995, int(degrees)))
    assert t_99 == pytest.approx(2.92, abs=0.005)
    assert round(t_99 * u_c) == 93


def test_parts_that_are_exactly_known_leave_infinite_degrees() -> None:
    assert effective_degrees([(1.0, inf), (2.0, inf)]) == inf
