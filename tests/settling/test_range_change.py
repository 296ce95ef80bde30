"""A meter that changes its range: each level has the uncertainty of its own last digit, and rounding is no step."""

from __future__ import annotations

import random
from math import sqrt

import pytest

from logger.meter.last_digit import LastDigit
from logger.meter.lines import read_line
from logger.settling.detector import Detector
from logger.settling.events import Event, Settled, Step

INTERVAL_S = 0.25
LINES = 100


def events_of(lines: list[str]) -> list[Event]:
    """Events of lines of a meter, at 4 lines/s, with their last digits."""
    detector, digit = Detector(), LastDigit()
    events: list[Event] = []
    for number, line in enumerate(lines):
        raw = line.encode()
        reading = read_line(raw)
        assert reading.volts is not None
        events += detector.feed(number * INTERVAL_S, reading.volts, digit.digit_volts(raw, reading))
    return [*events, *detector.finish()]


def lines_of(form: str, volts: float, noise_volts: float) -> list[str]:
    """Lines of a level, as `form` writes them."""
    draw = random.Random(7)
    return [form.format(volts + draw.gauss(0, noise_volts)) for _ in range(LINES)]


@pytest.mark.parametrize(
    ("before", "after", "digit_volts"),
    [
        (lines_of("{:.3f} V AC", 0.54, 0.002), ["0.5 V AC"] * LINES, 0.1),
        (lines_of("{:.1f} mV AC", 273.4, 0.2), ["0.3 V AC"] * LINES, 0.1),
        (["1.234 V AC"] * LINES, ["1.2 V AC"] * LINES, 0.1),
        (["0.500 V AC"] * LINES, ["0.5 V AC"] * LINES, 0.1),
        (lines_of("{:.3f} V AC", 1.534, 0.002), ["1.53 V AC"] * LINES, 0.01),
    ],
)
def test_a_coarser_range_has_the_uncertainty_of_its_digit_and_is_no_step(before, after, digit_volts):
    for lines in (before + after, after + before):
        events = events_of(lines)
        assert not [event for event in events if isinstance(event, Step)]
        spans = [event for event in events if isinstance(event, Settled)]
        assert len(spans) == 2
        fine, coarse = spans if lines[0] == before[0] else spans[::-1]
        assert coarse.u_volts >= 0.999 * digit_volts / sqrt(12)
        assert fine.u_volts < 0.002


def test_a_change_of_level_across_a_change_of_range_is_a_step():
    events = events_of(lines_of("{:.3f} V AC", 0.54, 0.002) + ["62 V AC"] * LINES)
    assert [round(event.after_volts) for event in events if isinstance(event, Step)] == [62]


def test_a_meter_that_sends_a_coarse_digit_only_has_its_uncertainty():
    (span,) = [event for event in events_of(["0.5 V AC"] * LINES) if isinstance(event, Settled)]
    assert span.u_volts >= 0.999 * 0.1 / sqrt(12)


def test_zeros_that_are_left_out_make_no_digit_coarser():
    draw = random.Random(5)
    lines = [f'{{"ac_v":{round(0.27 + draw.gauss(0, 0.001), 3)!r}}}' for _ in range(4 * LINES)]
    assert '{"ac_v":0.27}' in lines
    (span,) = [event for event in events_of(lines) if isinstance(event, Settled)]
    assert span.u_volts < 0.001
