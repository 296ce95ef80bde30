"""Whether damage at one place of a line explains it: a byte or a piece lost, doubled, put in or exchanged.

In: a line and another of its stream, whose pattern it should have. The line is mended at each place at which that gives
the pattern; it is explained where a mended line has a value that is to be expected.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from itertools import product

from logger.meter.lines import LineReading
from logger.meter.number_layout import is_padded

Range = tuple[float, float]
"""From so many volts to so many."""

MAX_TRIED_DIGITS = 2
"""So many lost digits are tried one by one; of more, whether the values between all 0 and all 9 hold one that is to be
expected."""

SAME = 1e-6
"""Values that differ by no more than this share are the same."""

MAX_STRANGE_BYTES = 2
"""So many bytes may have come into a line that are no digits; more are a word that the meter has put in."""

_EXPONENT = re.compile(rb"(.*?)([eE][+-]|)([0-9]*|.*)$", re.DOTALL)
_DIGITS_ALIKE = bytes.maketrans(b"123456789", b"0" * 9)


def damage_explains(
    raw: bytes,
    pattern: bytes,
    read: Callable[[bytes], LineReading],
    expected: Sequence[Range],
    exchanged: bool = False,
) -> bool:
    """Whether a line is one of the pattern's form, damaged at one place, with a value that is to be expected.

    Args:
        raw: the line.
        pattern: an undamaged line of the same stream; its digits stand for any digits.
        read: reads a line by itself.
        expected: the ranges of values that are to be expected.
        exchanged: two digits may stand in the place of one.
    """
    line, like = raw.translate(_DIGITS_ALIKE), pattern.translate(_DIGITS_ALIKE)
    same_front = _same_length(line, like)
    same_back = _same_length(line[::-1], like[::-1])
    missing = len(like) - len(line)
    may_be_padded = is_padded(pattern, read(pattern))
    reading = read(raw)
    own = reading.volts
    is_padded_wrongly = not may_be_padded and is_padded(raw, reading)
    tried: set[bytes] = set()

    def is_expected(mended: bytes) -> bool:
        if mended in tried:
            return False
        tried.add(mended)
        reading = read(mended)
        volts = reading.volts
        if not may_be_padded and is_padded(mended, reading):
            return False
        if volts is None:
            return False
        if own is not None and abs(volts - own) <= SAME * own and not is_padded_wrongly:
            return False  # such damage has not changed the value
        return any(low <= volts <= high for low, high in expected)

    for strange in (max(0, -missing), max(0, -missing) + 1):
        new = strange + missing
        if not strange and not new:
            continue  # undamaged
        first, last = (
            max(0, len(line) - same_back - strange),
            min(same_front, len(line) - strange, len(like) - new),
        )
        for place in range(first, last + 1):
            found, piece = raw[place : place + strange], pattern[place : place + new]
            if found == piece:
                continue
            if strange > -missing and strange and found.isdigit() and not (exchanged and strange > 1 and new):
                continue  # other digits in their place would explain any line
            if strange > MAX_STRANGE_BYTES and not found.isdigit():
                continue  # a word of the meter
            front, back = raw[:place], raw[place + strange :]
            if sum(byte in b"0123456789" for byte in piece) > MAX_TRIED_DIGITS:
                if _spans(front, piece, back, read, expected):
                    return True
            elif any(map(is_expected, _mended(front, piece, back))):
                return True
    return False


def one_digit_explains(raw: bytes, reading: LineReading, expected: Range) -> bool:
    """Whether a line with another digit at one place of its number has a value that is to be expected.

    Args:
        raw: the line.
        reading: how it is read.
        expected: the volts that are to be expected.
    """
    if reading.number_span is None or not reading.volts:
        return False
    mantissa = reading.split(raw)[1].upper().partition(b"E")[0].replace(b",", b".")
    number = float(mantissa)
    if not number:
        return False
    one_volts = reading.volts / number
    point = mantissa.find(b".") if b"." in mantissa else len(mantissa)
    for place, byte in enumerate(mantissa):
        if byte not in b"0123456789":
            continue
        power = point - place - 1 if place < point else point - place
        rest = number - (byte - 48) * 10.0**power
        if any(expected[0] <= one_volts * (rest + digit * 10.0**power) <= expected[1] for digit in range(10)):
            return True
    return False


def _spans(
    front: bytes, piece: bytes, back: bytes, read: Callable[[bytes], LineReading], expected: Sequence[Range]
) -> bool:
    """Whether the values of front + piece + back, from all digits 0 to all 9 in the piece, meet those to be expected.

    Args:
        front: of the line.
        piece: of the pattern, in place of what is lost; its exponent stays, as it is the neighbours' magnitude.
        back: of the line.
        read: reads a line by itself.
        expected: the ranges of values that are to be expected.
    """
    mantissa, mark, exponent = _EXPONENT.match(piece).groups()  # type: ignore[union-attr]
    rest = mark + exponent + back
    ends = [read(front + mantissa.translate(_all(digit)) + rest).volts for digit in b"09"]
    values = [end for end in ends if end is not None]
    if len(values) < len(ends):
        return False
    return any(min(values) <= high and max(values) >= low for low, high in expected)


def _mended(front: bytes, piece: bytes, back: bytes) -> Iterator[bytes]:
    """All lines with any digits in the piece."""
    choices = [b"0123456789" if byte in b"0123456789" else bytes([byte]) for byte in piece]
    for chosen in product(*choices):
        yield front + bytes(chosen) + back


def _all(digit: int) -> bytes:
    return bytes.maketrans(b"0123456789", bytes([digit]) * 10)


def _same_length(one: bytes, other: bytes) -> int:
    """How many bytes two lines have in common at their beginning."""
    length = 0
    for a, b in zip(one, other, strict=False):
        if a != b:
            break
        length += 1
    return length
