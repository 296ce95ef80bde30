"""Whether the comma of a stream is a decimal comma where a line by itself does not show it: 1,234 V beside 0,273 V.

In: the lines of one meter, in order. Out: how each is read. A lone comma with three digits behind it may separate
thousands; a comma with another number of digits behind it, or behind a single zero, is a decimal comma, and so then is
every comma of the stream.
"""

from __future__ import annotations

from collections.abc import Callable

from logger.meter.lines import LineReading, LineStatus
from logger.meter.tokens import COMMA_NOTE, decode

MIN_COMMA_LINES = 3
"""So many lines in a row with a decimal comma settle it once a line was refused: of `1,234 mV` damage makes `1,23 mV`.
Before that one line does."""


class DecimalComma:
    """Reads the lines of one meter, and learns whether its comma is a decimal comma.

    Args:
        read: reads a line by itself.
        is_settled: it is known to be one.
    """

    def __init__(self, read: Callable[[bytes], LineReading], is_settled: bool = False) -> None:
        self._read = read
        self._is_settled = is_settled
        self._was_refused = False
        self._lines = 0
        """Lines in a row whose comma is a decimal comma."""

    def read(self, raw: bytes) -> LineReading:
        """Read a line by what is known so far, without learning from it."""
        reading = self._read(raw)
        if not self._is_settled or reading.note != COMMA_NOTE or reading.number_span is None:
            return reading
        text = decode(raw)
        start, end = reading.number_span
        return self._read(f"{text[:start]}{text[start:end].replace(',', '.')}{text[end:]}".encode())

    def take(self, raw: bytes) -> LineReading:
        """Read the next line of the meter."""
        if not self._is_settled and b"," in raw:
            reading = self._read(raw)
            self._learn(raw, reading)
            if reading.note != COMMA_NOTE:
                return reading
        return self.read(raw)

    def _learn(self, raw: bytes, reading: LineReading) -> None:
        if reading.note == COMMA_NOTE:
            self._was_refused, self._lines = True, 0
        elif reading.status is LineStatus.VOLTS and reading.number_span is not None:
            has_comma = "," in decode(raw)[slice(*reading.number_span)]
            self._lines = self._lines + 1 if has_comma else 0
            self._is_settled = self._lines >= (MIN_COMMA_LINES if self._was_refused else 1)
