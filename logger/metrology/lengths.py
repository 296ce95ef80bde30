"""Lengths as they are shown: in metres or feet, with no digit that nobody measured; they are kept in metres."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from enum import StrEnum

from logger.translation import shown_number

METRES_PER_FOOT = 0.3048
"""By definition of the international foot (1959)."""
METRES_PER_INCH = METRES_PER_FOOT / 12


class LengthUnit(StrEnum):
    """In which unit lengths are shown and typed; they are kept in metres."""

    METRES = "metres"
    FEET = "feet"


_within: ContextVar[tuple[LengthUnit, frozenset[float]]] = ContextVar(
    "_within", default=(LengthUnit.METRES, frozenset())
)


@contextmanager
def lengths_in(unit: LengthUnit, in_feet: frozenset[float] = frozenset()) -> Iterator[None]:
    """Let a unit hold within, in this thread.

    Args:
        unit: the one that lengths are shown in.
        in_feet: the lengths, metres, that are shown in feet nevertheless, since they were typed so.
    """
    token = _within.set((unit, in_feet))
    try:
        yield
    finally:
        _within.reset(token)


def length_text(metres: float | None, unit: LengthUnit | None = None) -> str:
    """A length in words; empty where it is not known.

    Args:
        metres: the length, metres.
        unit: in which it is shown; None takes the one that holds, see `lengths_in`.
    """
    if metres is None:
        return ""
    if unit is None:
        usual, in_feet = _within.get()
        unit = LengthUnit.FEET if metres in in_feet else usual
    if unit is LengthUnit.FEET:
        return shown_number(f"{_digits(metres / METRES_PER_FOOT)} ft")
    return shown_number(f"{_digits(metres)} m")


def _digits(length: float) -> str:
    """Whole hundredths as they are: so it was typed. Anything else was typed in another unit: three digits of it."""
    hundredths = length * 100.0
    is_whole = math.isclose(hundredths, round(hundredths), abs_tol=1e-6)
    if is_whole:
        return f"{length:.8g}"
    return f"{length:.0f}" if length >= 100.0 else f"{length:.3g}"
