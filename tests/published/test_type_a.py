"""Mean and experimental standard deviation: JCGM 100:2008 (GUM) 4.4.3, table 1, twenty temperatures."""

from __future__ import annotations

from math import sqrt

from logger.settling.line_fit import mean_and_variance

READINGS = [
    96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
    100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
]  # fmt: skip


def test_the_guide_s_example() -> None:
    mean, variance = mean_and_variance(READINGS)
    assert round(mean, 3) == 100.145
    assert round(sqrt(variance), 3) == 1.489
    assert round(sqrt(variance / len(READINGS)), 3) == 0.333
