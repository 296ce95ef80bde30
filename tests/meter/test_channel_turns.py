"""Lines that name different channels in turn are no samples of one voltage."""

from __future__ import annotations

import re

import pytest

from logger.meter.lines import read_line
from logger.meter.meter_monitor import SEVERAL_CHANNELS_NOTE, MeterMonitor


def monitor_of(lines: list[str]) -> tuple[MeterMonitor, list[str]]:
    """A monitor that has taken lines at 4 lines/s, and its messages."""
    monitor = MeterMonitor()
    messages: list[str] = []
    for number, line in enumerate(lines):
        raw = line.encode()
        messages += [one.message for one in monitor.on_line(number / 4, raw, read_line(raw))]
    return monitor, messages


@pytest.mark.parametrize(
    "turn",
    [
        ["CH1 1.000 V AC", "CH2 1.030 V AC"],
        ["1: 0.273 V", "2: 0.281 V"],
        ["CH1 0.2 V"] * 16 + ["CH2 0.26 V"] * 16,
        ["0.200 V AC, CH1"] * 16 + ["0.260 V AC, CH2"] * 16,
        ['{"ch":1,"v":0.200}'] * 16 + ['{"ch":2,"v":0.260}'] * 16,
        ["PROBE1 0.200 V"] * 16 + ["Probe 2 0.260 V"] * 16,
        ["(1) 0.200 V"] * 16 + ["(2) 0.260 V"] * 16,
    ],
)
def test_channels_in_turn_are_named_once_and_as_long_as_they_come(turn):
    monitor, messages = monitor_of(turn * 4)
    assert monitor.no_sample_note == SEVERAL_CHANNELS_NOTE
    (message,) = [one for one in messages if "channels" in one]
    assert monitor.problem == message
    assert re.search(r"1\)?, ", message)


@pytest.mark.parametrize(
    "lines", [["CH1 1.000 V AC"] * 20, [f"{n} 0.273 V" for n in range(90)], ["0.273 V"] * 9]
)
def test_one_channel_and_a_counter_are_no_channels_in_turn(lines):
    assert monitor_of(lines)[0].no_sample_note == ""
