"""A unit that the lines do not state is assumed in words; one that changes alone settles nothing."""

from __future__ import annotations

import pytest

from logger.meter.lines import LineReading, LineStatus, read_line
from logger.meter.meter_monitor import MeterMonitor
from logger.meter.recorded_stream import read_stream
from logger.meter.unit_watch import ASSUMED_UNIT, OPEN_UNIT_NOTE


def send(monitor: MeterMonitor, *lines: str) -> list[str]:
    messages = []
    for place, line in enumerate(lines):
        raw = line.encode()
        messages += [one.message for one in monitor.on_line(place / 4, raw, read_line(raw))]
    return messages


@pytest.mark.parametrize("line", ["273.0", "+2.730E-01", "17,0.273", '{"value":0.27}'])
def test_a_number_without_a_unit_is_noticed_once_unless_a_description_states_it(line: str) -> None:
    assert send(MeterMonitor(), *[line] * 9) == [ASSUMED_UNIT]
    assert send(MeterMonitor(unit_is_stated=True), *[line] * 9) == []


@pytest.mark.parametrize("line", ["273.0 mV", "0.273V", "ACV 0.273", "0.273 VAC", "volts=0.273", "273.0 µV"])
def test_a_number_with_a_unit_is_not(line: str) -> None:
    assert send(MeterMonitor(), *[line] * 9) == []


@pytest.mark.parametrize(
    ("taught_digit_volts", "scale", "line", "is_open"),
    [
        (1e-4, 1e-3, "0.1231", True),
        (1e-4, 1e-3, "1.231", True),
        (1e-4, 1e-3, "12.31", False),
        (1e-4, 1e-3, "89.1", False),
        (1e-3, 1.0, "891.2", True),
        (1e-3, 1.0, "12.34", True),
        (1e-3, 1.0, "0.2314", False),
        (0.0, 1.0, "891.2", False),
    ],
    ids=[
        "mV, then V",
        "mV, then V, 6 V",
        "mV, finer",
        "mV",
        "V, then mV",
        "V, coarser",
        "V, finer",
        "not known",
    ],
)
def test_numbers_that_are_written_otherwise_than_when_they_were_taught_are_in_no_known_unit(
    taught_digit_volts: float, scale: float, line: str, is_open: bool
) -> None:
    monitor = MeterMonitor(unit_is_stated=True, taught_digit_volts=taught_digit_volts)
    reading = LineReading(LineStatus.VOLTS, float(line) * scale, number_span=(0, len(line)))
    messages = [one.message for n in range(9) for one in monitor.on_line(n / 10, line.encode(), reading)]
    assert bool(monitor.no_sample_note) is is_open
    assert ["1000-fold wrong" in message for message in messages] == [True] * is_open


def test_the_unit_alone_changes_and_changes_back() -> None:
    monitor = MeterMonitor()
    assert send(monitor, *["273.0 mV"] * 5) == []
    (message,) = [one for one in send(monitor, *["273.1 V"] * 5) if "unit changed" in one]
    assert "from mV to V" in message and "1000-fold" in message
    assert monitor.problem == message and monitor.no_sample_note == OPEN_UNIT_NOTE
    send(monitor, *["280.0 V", "250.0 V"])
    assert monitor.no_sample_note == OPEN_UNIT_NOTE, "nothing shows that it is right"
    assert any("again" in one for one in send(monitor, *["273.0 mV"] * 3))
    assert monitor.problem == monitor.no_sample_note == ""


@pytest.mark.parametrize(("first", "before", "after"), [(3, "V", "mV"), (38, "V", "mV"), (3, "mV", "V")])
def test_the_unit_that_the_lines_say_again_and_again_is_followed(first: int, before: str, after: str) -> None:
    monitor = MeterMonitor()
    send(monitor, *[f"300.1 {before}"] * first, f"300.2 {after}")
    assert monitor.no_sample_note == OPEN_UNIT_NOTE
    messages = send(monitor, *[f"300.2 {after}"] * 80)
    assert monitor.no_sample_note == monitor.problem == ""
    assert any(
        f"the {first} before them said {before}" in one and "1000-fold wrong" in one for one in messages
    )


def test_volts_after_many_millivolts_are_never_followed() -> None:
    monitor = MeterMonitor()
    send(monitor, *["300.1 mV"] * 40, *["300.2 V"] * 400)
    assert monitor.no_sample_note == OPEN_UNIT_NOTE, "a link that always loses the m would give volts"


@pytest.mark.parametrize(
    ("before", "after"),
    [("580.0 mV", "0.620 V"), ("0.273 V", "273.0 mV"), ("5.900 V", "5.90 V"), ("99.9 mV", "0.1 V")],
)
def test_a_change_of_range_is_none(before: str, after: str) -> None:
    monitor = MeterMonitor()
    send(monitor, *[before] * 5, *[after] * 5)
    assert monitor.no_sample_note == ""


LEVEL_V = ["0.110", "0.112", "0.110", "0.109"] * 4
"""A display of 6000 counts in its range of 6.000 V."""
LEVEL_MV = ["98.5", "98.4", "98.6", "98.5"] * 4
"""The same display in its range of 600.0 mV."""


@pytest.mark.parametrize(("before", "after"), [(LEVEL_V, LEVEL_MV), (LEVEL_MV, LEVEL_V)])
@pytest.mark.parametrize("is_stated", [False, True], ids=["assumed", "taught"])
def test_a_bare_number_whose_point_moves_as_it_jumps_is_no_sample_until_it_is_back(
    before: list[str], after: list[str], is_stated: bool
) -> None:
    monitor = MeterMonitor(unit_is_stated=is_stated)
    send(monitor, *before)
    assert monitor.no_sample_note == ""
    messages = send(monitor, *after)
    assert monitor.no_sample_note == OPEN_UNIT_NOTE and "millivolts" in monitor.problem
    assert not any("last digit is now" in message for message in messages)
    send(monitor, *before)
    assert monitor.no_sample_note == monitor.problem == ""


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (["5.990", "5.980"] * 8, ["6.01", "6.03"] * 8),  # the next range, as the value rises through its end
        (["0.27", "0.271", "0.3", "0.268"] * 4, ["0.9", "0.92", "0.913", "0.905"] * 4),  # zeros left out
        (["+2.730E-01"] * 8, ["+9.850E+01"] * 8),  # IEEE 488.2 NR3: the exponent says it
        (["0.110 V"] * 8, ["98.5 mV"] * 8),
    ],
)
def test_a_change_of_range_that_a_value_shows_is_none(before: list[str], after: list[str]) -> None:
    monitor = MeterMonitor()
    send(monitor, *before, *after)
    assert monitor.no_sample_note == ""


def test_a_meter_that_is_asked_for_volts_answers_in_volts() -> None:
    monitor = MeterMonitor(unit_is_stated=True, unit_is_fixed=True)
    send(monitor, *LEVEL_V, *LEVEL_MV)
    assert monitor.no_sample_note == ""


@pytest.mark.parametrize(
    "header",
    [
        "mV AC", "Unit: mV AC", "Value [mV];Time", "time_s,voltage_mV", "# U in mV", "Range: 600 mV",
        "Ref [V];Body [mV]", "mV DC", "Frequency [Hz]", "Value (A)", "Hz", "A", "Unit: Hz", "C",
    ],
)  # fmt: skip
def test_a_unit_on_a_line_of_its_own_is_not_passed_over(header: str) -> None:
    monitor = MeterMonitor()
    messages = send(monitor, header, *LEVEL_MV)
    assert ASSUMED_UNIT not in messages and header in monitor.problem
    assert monitor.no_sample_note == OPEN_UNIT_NOTE
    stream = ["\n".join([header, *LEVEL_MV]).encode()]
    assert {reading.volts for reading in read_stream(stream)} == {None}
    mixed = ["\n".join([header, "98.5", "0.273 V", "98.5"]).encode()]
    assert [reading.volts for reading in read_stream(mixed)] == [None, None, 0.273, 98.5]


@pytest.mark.parametrize(
    "header",
    [
        "V AC",
        "Voltage;Time [s]",
        "Battery 2900 mV",
        "Power on self test",
        "Voltage (V), Temp (C)",
        "A meter of class 2",
    ],
)
def test_a_line_that_names_no_other_unit_hinders_nothing(header: str) -> None:
    monitor = MeterMonitor()
    send(monitor, header, *LEVEL_V)
    assert monitor.no_sample_note == ""


def test_a_display_at_rest_shows_its_range_as_well() -> None:
    monitor = MeterMonitor()
    send(monitor, *["0.000"] * 16, *LEVEL_MV)
    assert monitor.no_sample_note == OPEN_UNIT_NOTE


@pytest.mark.parametrize(
    ("value", "damaged"),
    [
        ("+3.26368E-0{}", "fJ3.26162E-02"),
        ("0.27{}", "V.273"),
        ("0.27{} V", "V"),
        ("5,28{}", "mV,281"),
    ],
)
def test_a_value_that_became_a_unit_leaves_the_numbers_as_they_are(value: str, damaged: str) -> None:
    monitor = MeterMonitor()
    lines = [value.format(n % 3 + 1) for n in range(12)]
    send(monitor, *lines, damaged, *lines)
    assert monitor.no_sample_note == ""


def test_a_unit_between_whole_numbers_of_one_digit_is_a_unit() -> None:
    monitor = MeterMonitor()
    send(monitor, "5", "6", "5", "mV", "6", "5")
    assert monitor.no_sample_note == OPEN_UNIT_NOTE
