"""Whether a line without a value is one of the newest values, damaged at one place: DC.0105 beside 0.0105.

In: the lines with a voltage, in order. Out: whether another line may be one of them with a byte lost, exchanged or
doubled, or a piece of one that was split. What such a line says of the meter counts for nothing.
"""

from __future__ import annotations

from collections import deque

KEPT_VALUES = 5
"""So many of the newest values are compared: a meter between two ranges writes two forms."""

MAX_NEW_BYTES = 2
"""One byte became so many at most where a line was damaged at one place."""

_DIGITS_ALIKE = bytes.maketrans(b"123456789", b"0" * 9)


class RecentValues:
    """The newest lines of a meter with a voltage. Plain state, constant memory."""

    def __init__(self) -> None:
        self._values: deque[bytes] = deque(maxlen=KEPT_VALUES)

    def take(self, raw: bytes) -> None:
        """Take a line with a voltage."""
        self._values.append(raw)

    def may_be_damaged_one(self, raw: bytes) -> bool:
        """Whether a line may be one of them, damaged at one place, or a piece of one."""
        shape = raw.translate(_DIGITS_ALIKE)
        return any(_is_damaged(shape, value.translate(_DIGITS_ALIKE)) for value in set(self._values))


def _is_damaged(shape: bytes, like: bytes) -> bool:
    if len(like) <= MAX_NEW_BYTES:
        return False  # too little is left of it to tell: "5" and "mV"
    if like.startswith(shape) or like.endswith(shape):
        return True
    new = len(shape) - len(like) + 1
    return 0 <= new <= MAX_NEW_BYTES and any(
        shape[:place] == like[:place] and shape[place + new :] == like[place + 1 :]
        for place in range(len(like))
    )
