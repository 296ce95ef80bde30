"""A unit that the lines do not state is assumed in words; one that changes alone settles nothing."""

from __future__ import annotations

import pytest

from logger.meter.lines import read_line
from logger.meter.meter_monitor import OPEN_UNIT_NOTE, MeterMonitor
from logger.meter.unit_watch import ASSUMED_UNIT


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


@pytest.mark.parametrize(
    ("before", "after"),
    [("580.0 mV", "0.620 V"), ("0.273 V", "273.0 mV"), ("5.900 V", "5.90 V"), ("99.9 mV", "0.1 V")],
)
def test_a_change_of_range_is_none(before: str, after: str) -> None:
    monitor = MeterMonitor()
    send(monitor, *[before] * 5, *[after] * 5)
    assert monitor.no_sample_note == ""
