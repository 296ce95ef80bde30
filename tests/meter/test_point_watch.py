"""A number that may have lost its point or its first digit settles nothing, until it is written as before."""

from __future__ import annotations

import pytest

from logger.meter.meter_monitor import MeterMonitor
from logger.meter.point_watch import OPEN_POINT_NOTE

from .test_unit_watch import send


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ("1.3002 VAC", "13002 VAC", "more than 1000 V"),
        ("0.3002 VAC", "3002 VAC", "more than 1000 V"),
        ("0.302 VAC", "302.1 VAC", "1000-fold"),
        ("0.302 VAC", "410.1 VAC", "two ranges at once"),
        ("300.1 mVAC", "3001 mVAC", "10-fold"),
        ("1.3002 VAC", ".3002 VAC", "lost a digit"),
        ("1.3002", ".3002", "lost a digit"),
        ("902.1 mVAC", "02.1 mVAC", "lost a digit"),
        ("300.1 mVAC", "00.1 mVAC", "lost a digit"),
        ("1302.1 mVAC", "302.1 mVAC", "lost a digit"),
        ("12.3001 VAC", "2.3001 VAC", "lost a digit"),
        ("1.3021 VAC", "1.021 VAC", "lost a digit"),
        ("1.3021", "1.021", "lost a digit"),
        ("1.2073 VAC", "1.273 VAC", "lost a digit"),
        ("123.41 mVAC", "13.41 mVAC", "lost a digit"),
        ("123.41 mVAC", "12.41 mVAC", "lost a digit"),
        ("1.02 VAC", ".42 VAC", "lost a digit"),
    ],
)
def test_a_number_that_may_be_damaged_the_same_way_in_each_line_is_no_sample(
    before: str, after: str, words: str
) -> None:
    monitor = MeterMonitor(unit_is_stated=True)
    assert send(monitor, *[before] * 9) == []
    (message,) = send(monitor, *[after] * 40)
    assert words in message and "Nothing is settled" in message
    assert monitor.problem == message and monitor.no_sample_note == OPEN_POINT_NOTE
    (over,) = send(monitor, before)
    assert "as they were before" in over and monitor.problem == monitor.no_sample_note == ""


def test_a_value_above_what_a_meter_shows_is_none_from_the_first_line_on() -> None:
    monitor = MeterMonitor()
    assert send(monitor, *["3002 VAC"] * 9) and monitor.no_sample_note == OPEN_POINT_NOTE


@pytest.mark.parametrize(
    "lines",
    [
        ("0.302 VAC", "4.10 VAC", "0.302 VAC", "4.10 VAC", "52.0 VAC"),
        ("0.302 VAC", "0.31 VAC", "3.2 VAC", "0.3021 VAC"),
        ("30.12 mV", "3.012 V", "300.1 mV"),
        ("0.030 V", "5.12 V", "58.3 V"),
        ("+3.002E-01", "+3.002E+00", "+3.002E+01"),
        (".302 V", "1.302 V", ".302 V"),
        ("12.31 V", "9.87 V", "10.02 V", "7.31 V"),
        ("012.3 mV", "005.1 mV", "120.4 mV"),
        ("0.302 VAC", "3.12 VAC", "3.02 VAC", "0.302 VAC", "3.02 VAC"),
        ("1.3021 V", "1.302 V", "1.30 V"),
        ("0.5996 V", "0.601 V", "0.832 V", "1.21 V"),
        ("0.5996 V", "0.731 V", "0.5731 V"),
        ("1.02 V", "1.00 V", ".98 V", ".31 V"),
        ("123.4 mV", "15.6 mV", "45.6 mV"),
    ],
    ids=[
        "ranges",
        "finer and coarser",
        "unit",
        "coarser",
        "exponent",
        "no zero",
        "a digit less",
        "zeros in front",
        "known range",
        "a digit less of the same",
        "up",
        "up at once",
        "below one volt",
        "a fall",
    ],
)
def test_ranges_of_a_meter_are_followed(lines: tuple[str, ...]) -> None:
    monitor = MeterMonitor(unit_is_stated=True)
    for line in lines:
        send(monitor, *[line] * 3)
        assert monitor.no_sample_note == "", line


def test_numbers_without_a_zero_in_front_are_read_once_they_have_risen_past_one_volt() -> None:
    monitor = MeterMonitor(unit_is_stated=True)
    (message,) = send(monitor, *["1.250 VAC"] * 9, *[".420 VAC"] * 9)
    assert "lost a digit" in message and monitor.no_sample_note == OPEN_POINT_NOTE
    send(monitor, ".700 VAC", ".970 VAC", "1.020 VAC", ".420 VAC")
    assert monitor.no_sample_note == ""
