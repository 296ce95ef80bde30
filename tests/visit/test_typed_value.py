"""What is typed as a value from the display: nothing of it is guessed by a factor of a thousand."""

from __future__ import annotations

from math import sqrt

import pytest

from logger.errors import StillvoltError
from logger.metrology.setup import UNKNOWN_METER
from logger.visit.results.typed_value import looks_like_value, parse_value, refuse_above_range


@pytest.mark.parametrize(
    ("text", "volts", "half_width"),
    [
        ("0.27", 0.27, 0.005),
        ("270 mV", 0.27, 0.0005),
        ("0,27 v", 0.27, 0.005),
        ("0.27 +- 0.02", 0.27, 0.02),
        ("0.27 V +- 20 mV", 0.27, 0.02),
        ("300 mV ± 0.02 V", 0.3, 0.02),
        ("0,3 ± 0,1 V", 0.3, 0.1),
        ("0.3 V +- 0.1", 0.3, 0.1),
        ("230 V", 230.0, 0.5),
    ],
)
def test_each_number_has_its_own_unit(text: str, volts: float, half_width: float) -> None:
    assert parse_value(text) == pytest.approx((volts, half_width / sqrt(3.0)))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("0.27 +- 20 mV", "only one number has a unit"),
        ("300 mV +- 0.02", "only one number has a unit"),
        ("3 MV", "not understood"),
        ("270", "in volts or in millivolts"),
    ],
)
def test_what_has_two_meanings_is_asked(text: str, why: str) -> None:
    with pytest.raises(StillvoltError, match=why):
        parse_value(text)


def test_a_value_above_the_meters_range_is_refused() -> None:
    refuse_above_range(600.0, UNKNOWN_METER)
    with pytest.raises(StillvoltError, match="above the meter's largest range"):
        refuse_above_range(1200.0, UNKNOWN_METER)


def test_a_value_names_nothing_that_is_on() -> None:
    assert all(map(looks_like_value, ("1.27", "0.9 (0.05)", "270 mV", "0.3 +- 0.1 V")))
    assert not any(map(looks_like_value, ("everything on", "circuits 3 and 5", "lamp", "")))
