"""How a meter writes its number: the layout that stays the same from line to line and changes only with the range."""

from __future__ import annotations

import re
from typing import NamedTuple

from logger.meter.lines import LineReading

MIN_LOST_DECIMALS = 2
"""A number without its point is so many powers of ten too high at least; by one, a voltage may rise."""


class NumberLayout(NamedTuple):
    """How a number is written.

    Args:
        front: what stands in front of it on the line; numbers there are all alike.
        is_signed: it has a plus; a minus is written in front of zero alone, see `lines`, and changes no layout.
        is_padded: it has a zero in front that need not be there.
        whole_digits: digits in front of the point.
        decimals: digits behind it.
        is_comma: the point is a comma.
        exponent_digits: digits of the exponent.
        unit_exponent: the power of ten of the unit.
    """

    front: bytes
    is_signed: bool
    is_padded: bool
    whole_digits: int
    decimals: int
    is_comma: bool
    exponent_digits: int
    unit_exponent: int

    def differs_by_size_only(self, other: NumberLayout) -> bool:
        """Whether a meter writes both in one range: one number has more digits in front of its point."""
        return self._replace(whole_digits=other.whole_digits) == other

    def is_of_range(self, other: NumberLayout, may_drop_zeros: bool) -> bool:
        """Whether a meter writes both in one range, whatever stands in front of them.

        Args:
            other: another layout.
            may_drop_zeros: a number may have fewer decimals in the same range.
        """
        same = self._replace(front=other.front, is_signed=other.is_signed, is_padded=other.is_padded)
        if may_drop_zeros and self.decimals < other.decimals:
            same = same._replace(decimals=other.decimals)
        return same.differs_by_size_only(other)

    def lost_point_in(self, other: NumberLayout) -> bool:
        """Whether another layout is this one without its point, or with a digit in its place.

        Args:
            other: of a number that has no point.
        """
        if not self.decimals or other.decimals:
            return False
        digits = self.whole_digits + self.decimals
        if other.whole_digits == digits and self.decimals < MIN_LOST_DECIMALS:
            return False
        as_other = self._replace(
            whole_digits=other.whole_digits, decimals=0, is_padded=other.is_padded, is_comma=False
        )
        # A range keeps the number of digits or loses one: with a digit more there is none.
        return other.whole_digits in (digits, digits + 1) and as_other == other

    def count_volts(self) -> float:
        """What one step of the last digit is worth, where there is no exponent."""
        return float(10.0 ** (self.unit_exponent - self.decimals))


MAX_LAYOUTS = 1024
"""Numbers come in few shapes; noise is no reason to remember more."""

_layouts: dict[tuple[bytes, int, int], NumberLayout] = {}
_DIGITS = re.compile(rb"[01]+")
_BLANKS = b" \t\x00"
_DIGITS_ALIKE = bytes.maketrans(b"123456789", b"1" * 9)


def layout_of(raw: bytes, reading: LineReading) -> NumberLayout:
    """How the number of a line is written.

    Args:
        raw: the line.
        reading: how it is read; its number's place is known.
    """
    span = reading.number_span
    assert span is not None
    # Zeros stay, since a zero in front of others makes another layout.
    key = (raw[: span[1]].translate(_DIGITS_ALIKE), span[0], reading.unit_exponent)
    layout = _layouts.get(key)
    if layout is None:
        if len(_layouts) >= MAX_LAYOUTS:
            _layouts.clear()
        front, number = key[0][: span[0]], key[0][span[0] :]
        front = _DIGITS.sub(b"0", front.translate(None, _BLANKS))  # a counter has any number of digits
        mantissa, _, exponent = number.upper().partition(b"E")
        whole, _, decimals = mantissa.replace(b",", b".").partition(b".")
        layout = NumberLayout(
            front,
            whole[:1] == b"+",
            is_padded(raw, reading),
            _digits(whole),
            len(decimals),
            b"," in mantissa,
            _digits(exponent),
            reading.unit_exponent,
        )
        _layouts[key] = layout
    return layout


def behind_of(raw: bytes, reading: LineReading) -> bytes:
    """What stands behind the number of a line, where numbers are all alike.

    Args:
        raw: the line.
        reading: how it is read; its number's place is known.
    """
    return _DIGITS.sub(b"0", reading.split(raw)[2].translate(_DIGITS_ALIKE, _BLANKS))


def is_padded(raw: bytes, reading: LineReading) -> bool:
    """Whether the number of a line has a zero in front that need not be there: a meter writes it always or never.

    Args:
        raw: the line.
        reading: how it is read.
    """
    if reading.number_span is None:
        return False
    number = reading.split(raw)[1].lstrip(b"+-")
    return number[:1] == b"0" and number[1:2].isdigit()


def _digits(text: bytes) -> int:
    return text.count(b"0") + text.count(b"1")


def ends_with_zero(raw: bytes, reading: LineReading) -> bool:
    """Whether the last digit of a line's number, in front of any exponent, is 0.

    Args:
        raw: the line.
        reading: how it is read; its number's place is known.
    """
    number = reading.split(raw)[1].upper()
    return number.partition(b"E")[0].endswith(b"0")
