"""What the last digit of each number of a trace is worth, from its decimal places as written.

In: the numbers of a trace as text. Out: volts, by the same `LastDigit` that follows a meter's lines, so that a level
has the uncertainty that it has live. Import and replay use it alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

from logger.clock import NS_PER_S
from logger.meter.last_digit import LastDigit
from logger.meter.lines import LineReading, LineStatus
from logger.recording.trace_file import TraceFile
from logger.settling.events import Event
from logger.settling.replay import replay
from logger.visit.records.imported_trace import in_volts

MAX_SHOWN_DECIMALS = 8
"""No meter shows more decimals of a volt (10 nV): a trace with such a number was computed; it has no last digit."""


def digits_of(numbers: Sequence[str], unit_exponent: int = 0) -> list[float]:
    """What the last digit of each number is worth, in volts; 0 where that is not known.

    Args:
        numbers: the values of a trace as they are written, in order.
        unit_exponent: power of ten of their unit.
    """
    if any(len(text.partition(".")[2]) - unit_exponent > MAX_SHOWN_DECIMALS for text in numbers):
        return [0.0] * len(numbers)
    last_digit = LastDigit()
    return [_digit_volts(last_digit, text, unit_exponent) for text in numbers]


def _digit_volts(last_digit: LastDigit, text: str, unit_exponent: int) -> float:
    """What the last digit of a number is worth, in volts.

    Args:
        last_digit: follows the numbers.
        text: the number.
        unit_exponent: power of ten of its unit.
    """
    volts = in_volts(text, unit_exponent)
    if not isfinite(volts):
        return 0.0
    raw = text.strip().encode("utf-8")
    span = (0, len(raw))
    reading = LineReading(LineStatus.VOLTS, volts, number_span=span, unit_exponent=unit_exponent)
    return last_digit.digit_volts(raw, reading)


def replay_trace(trace: TraceFile) -> list[Event]:
    """Events of a trace, in the order in which they became known."""
    return replay(
        [row.t_ns / NS_PER_S for row in trace.rows],
        [row.volts for row in trace.rows],
        digits_of(trace.numbers(), trace.unit_exponent),
    )
