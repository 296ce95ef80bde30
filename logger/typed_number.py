"""Numbers as people type them: which of them has two meanings, since its comma or point may part thousands.

In: a number as it was typed, and its unit. Out: both meanings, so that who typed it is asked and nothing is guessed;
and how a number stands in a field, so that it is read as itself.
"""

from __future__ import annotations

import re

from logger.translation import decimal_sign, shown_number

_THREE_DIGITS = re.compile(r"[+-]?([1-9][0-9]{0,2})([.,])([0-9]{3})")
"""A comma or a point with exactly three digits behind it. A number that begins with zero has no thousands."""


def two_meanings(number: str, unit: str) -> tuple[str, str] | None:
    """Return how to type each meaning of a number whose mark may part thousands; None where it has one meaning.

    '1,500' of mV is ('1.5 mV', '1500 mV'). A point in volts is what a display shows, `1.234 V`, and so is a comma where
    the language writes one: no meter that a hand holds is made for a thousand volts and more.

    Args:
        number: as it was typed, without its unit.
        unit: the unit that holds for it.
    """
    match = _THREE_DIGITS.fullmatch(number)
    if match is None or (match[2] in (".", decimal_sign()) and unit.casefold() == "v"):
        return None
    # Other than three digits behind the point, so that it may be typed as it stands here.
    decimals = match[3].rstrip("0") or "0"
    decimals += "0" if len(decimals) == 3 else ""
    return f"{match[1]}{decimal_sign()}{decimals} {unit}".strip(), f"{match[1]}{match[3]} {unit}".strip()


def as_typed(number: float, unit: str = "") -> str:
    """A number as it stands in a field before anybody types there: with the language's decimal sign, and one meaning.

    Args:
        number: as it is, in the unit; to twelve digits, as what is typed is read.
        unit: in which it is; empty for a bare number.
    """
    shown = shown_number(f"{number:.12g}")
    has_two_meanings = two_meanings(shown, unit) is not None
    return f"{shown}{'0' if has_two_meanings else ''} {unit}".strip()
