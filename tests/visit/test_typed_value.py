"""What is typed as a value from the display: nothing of it is guessed by a factor of a thousand."""

from __future__ import annotations

from math import sqrt

import pytest

from logger.errors import StillvoltError
from logger.metrology.setup import UNKNOWN_METER
from logger.visit.results.typed_value import looks_like_value, parse_pair, parse_value, refuse_above_range


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
        ("1.234 V", 1.234, 0.0005),
        ("0,273 V", 0.273, 0.0005),
        ("1.2340 mV", 0.001234, 0.00000005),
    ],
)
def test_each_number_has_its_own_unit(text: str, volts: float, half_width: float) -> None:
    assert parse_value(text) == pytest.approx((volts, half_width / sqrt(3.0)))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("0.27 +- 20 mV", "another has none"),
        ("300 mV +- 0.02", "another has none"),
        ("3 MV", "not understood"),
        ("270", "in volts or in millivolts"),
        ("27.3", "in volts or in millivolts"),
        ("1,500 mV", r"1\.5 mV or 1500 mV"),
        ("1.234 mV", r"1\.2340 mV or 1234 mV"),
        ("1,500", r"1\.5 V or 1500 V"),
        ("900 mV +- 1,000 mV", r"1\.0 mV or 1000 mV"),
    ],
)
def test_what_has_two_meanings_is_asked(text: str, why: str) -> None:
    with pytest.raises(StillvoltError, match=why):
        parse_value(text)


@pytest.mark.parametrize(
    "text", ["900 mV (50)", "0.9 (50 mV)", "0.9 V (0.05 +- 20 mV)", "900 (50 mV)", "900 mV (99)", "900 mV(-)"]
)
def test_of_a_pair_too_each_number_needs_its_unit_once_one_is_in_millivolts(text: str) -> None:
    with pytest.raises(StillvoltError):
        parse_pair(text)


def test_a_pair_has_one_unit_or_each_number_its_own() -> None:
    on, off = parse_pair("900 mV (0.05 V)")
    assert on is not None and off is not None and (on[0], off[0]) == pytest.approx((0.9, 0.05))
    assert parse_pair("- (50 mV)") == (None, parse_value("50 mV"))
    assert parse_pair("0.9 V (0.05)") == parse_pair("0.9 (0.05)")


@pytest.mark.parametrize(
    ("text", "meant"), [("0.27 (3)", "0.27 (3.0) or 0.27 +- 0.03"), ("0,2 (15)", "0,2 (15,0) or 0,2 +- 1,5")]
)
def test_an_uncertainty_of_the_last_digits_is_no_value_with_everything_off(text: str, meant: str) -> None:
    """JCGM 100:2008, 7.2.2 writes 100.021 47(35) g for a standard uncertainty of 0.35 mg."""
    with pytest.raises(StillvoltError, match="how uncertain the last digits") as refused:
        parse_pair(text)
    assert meant in refused.value.next_step
    assert parse_pair("0.27 (3.0)")[1] == parse_value("3.0") and parse_pair("0.27 (0)")[1] == parse_value("0")


def test_a_value_above_the_meters_range_is_refused() -> None:
    refuse_above_range(600.0, UNKNOWN_METER)
    with pytest.raises(StillvoltError, match="above the meter's largest range"):
        refuse_above_range(1200.0, UNKNOWN_METER)


def test_a_value_names_nothing_that_is_on() -> None:
    assert all(map(looks_like_value, ("1.27", "0.9 (0.05)", "270 mV", "0.3 +- 0.1 V")))
    assert not any(map(looks_like_value, ("everything on", "circuits 3 and 5", "lamp", "")))
