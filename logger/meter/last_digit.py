"""What the last digit of a number is worth, from the text of its line: a coarser range shows less than one before it.

A form may leave zeros at the end of a fraction out: its short numbers are as fine as the others. It is taken to leave
them out until it has written some, or until short numbers come so often that no zeros explain them.
"""

from __future__ import annotations

from math import log10

from logger.meter.lines import LineReading

WRITTEN_ZEROS = 2
"""So many numbers that end in a zero show that the form writes zeros; one may be a damaged digit."""

MIN_ZERO_DECIMALS = 2
"""A number with fewer decimals shows nothing: forms that leave zeros out write 5.0 all the same."""

MIN_MISSING_DIGITS = 6
"""Short numbers in a row that lack so many digits, counted where the value changes, are no dropped zeros: those have a
chance of 1e-6."""

MIN_SHORT_LINES = 8
"""Nor are so many short lines in a row that lack two digits each: a display rests on such a value in 1 of 100 cases."""


class LastDigit:
    """Follows one meter. Plain state, bounded memory."""

    def __init__(self) -> None:
        self._written_zeros = 0
        self._finest: dict[int, int] = {}
        """Most decimals by the power of ten of unit and exponent."""
        self._missing_digits = 0
        self._short_lines = 0
        self._last_volts: float | None = None

    def digit_volts(self, raw: bytes, reading: LineReading) -> float:
        """What the last digit of a number is worth, in volts; 0 where the line does not show it.

        Args:
            raw: the line.
            reading: how it is read.
        """
        shown = shown_digit(raw, reading)
        if shown is None:
            return 0.0
        one_volts, decimals, ends_in_zero = shown
        if self._written_zeros < WRITTEN_ZEROS:
            self._written_zeros += ends_in_zero and decimals >= MIN_ZERO_DECIMALS
            decimals = self._decimals_with_zeros(reading, one_volts, decimals)
        return one_volts / 10.0**decimals

    def _decimals_with_zeros(self, reading: LineReading, one_volts: float, decimals: int) -> int:
        """The decimals of a number with the zeros that it may have left out.

        Args:
            reading: the line as it was read.
            one_volts: what a 1 in front of the point is worth.
            decimals: digits behind the point.
        """
        scale = round(log10(one_volts))
        finest = self._finest[scale] = max(self._finest.get(scale, 0), decimals)
        if decimals == finest:
            self._missing_digits = self._short_lines = 0
            return decimals
        self._short_lines += 1
        if reading.volts != self._last_volts:
            self._missing_digits += finest - decimals
            self._last_volts = reading.volts
        rests = finest - decimals > 1 and self._short_lines >= MIN_SHORT_LINES
        return decimals if rests or self._missing_digits >= MIN_MISSING_DIGITS else finest


def shown_digit(raw: bytes, reading: LineReading) -> tuple[float, int, bool] | None:
    """What a 1 in front of the point is worth in volts, the number of decimals, and whether the last digit is 0.

    Args:
        raw: the line.
        reading: how it is read.

    Returns:
        None where the line does not show it.
    """
    if reading.number_span is None or not reading.volts:
        return None
    mantissa = reading.split(raw)[1].replace(b",", b".").upper().partition(b"E")[0]
    decimals = len(mantissa.partition(b".")[2])
    try:
        return abs(reading.volts / float(mantissa)), decimals, mantissa.endswith(b"0")
    except (ValueError, ZeroDivisionError):
        return None
