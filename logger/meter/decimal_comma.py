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
"""So many lines in a row with a decimal comma settle it once a line was refused, or had a point: of `1,234 mV` damage
makes `1,23 mV`, and of 0.273 it makes 0,273. Before that one line does. As many with a point take it back: a meter that
writes 12.04 writes 1234 as 1,234."""

OPEN_LINES = 3
"""For so many lines after one with an open comma a whole number is not read: `1,` and `487 V` are the pieces of one
that was split, and 1487 V is one that lost its comma."""


class DecimalComma:
    """Reads the lines of one meter, and learns whether its comma is a decimal comma.

    Args:
        read: reads a line by itself.
        is_settled: it is known to be one.
    """

    def __init__(self, read: Callable[[bytes], LineReading], is_settled: bool = False) -> None:
        self._read = read
        self._is_settled = is_settled
        self._is_doubtful = False
        """Whether a line was refused, or its number had a point."""
        self._comma_lines = 0
        """Lines in a row whose comma is a decimal comma."""
        self._point_lines = 0
        """Lines in a row whose number has a point."""
        self._open_lines = 0
        """For so many lines more a whole number may be a part of one whose comma is open."""

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
        reading = self.read(raw)
        if self._is_settled:
            has_news = b"." in raw or self._point_lines
        else:
            has_news = b"," in raw or self._comma_lines or not self._is_doubtful
        if has_news:
            self._learn(raw, reading)
        if reading.note == COMMA_NOTE:
            reading = self.read(raw)
        return self._without_parts(raw, reading)

    def _without_parts(self, raw: bytes, reading: LineReading) -> LineReading:
        if reading.note == COMMA_NOTE:
            self._open_lines = OPEN_LINES
        elif self._open_lines:
            self._open_lines -= 1
            span = reading.number_span if reading.status is LineStatus.VOLTS else None
            if span is not None and decode(raw)[slice(*span)].isdigit():
                return LineReading(LineStatus.UNREADABLE, note=COMMA_NOTE)
        return reading

    def _learn(self, raw: bytes, reading: LineReading) -> None:
        if reading.note == COMMA_NOTE:
            self._is_doubtful, self._comma_lines = True, 0
        elif reading.status is LineStatus.VOLTS and reading.number_span is not None:
            number = decode(raw)[slice(*reading.number_span)]
            self._comma_lines = self._comma_lines + 1 if "," in number else 0
            self._point_lines = self._point_lines + 1 if "." in number else 0
            self._is_doubtful |= "." in number
            if self._comma_lines >= (MIN_COMMA_LINES if self._is_doubtful else 1):
                self._is_settled = True
            elif self._point_lines >= MIN_COMMA_LINES:
                self._is_settled = False
