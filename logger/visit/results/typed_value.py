"""Parses a value that was read from the meter's display by eye.

In: '0.27', '0,27 V', '270 mV', '0.27 +- 0.02', or two of them as they are written on a form, on (off): '0.9 (0.05)'.
Out: volts and standard uncertainty.
"""

from __future__ import annotations

import re
from decimal import Decimal
from math import sqrt

from logger.errors import StillvoltError

_NUMBER = r"(\d+(?:[.,]\d*)?|[.,]\d+)"
_VALUE = re.compile(rf"{_NUMBER}\s*(mV|V)?(?:\s*(?:±|\+-|\+/-)\s*{_NUMBER}\s*(mV|V)?)?", re.IGNORECASE)

_PAIR = re.compile(r"(?P<on>[^()]*)\((?P<off>[^()]+)\)")
_NOT_READ = ("", "-", "–", "—")

Value = tuple[float, float]
"""Volts and standard uncertainty, V."""


def parse_pair(text: str) -> tuple[Value | None, Value | None]:
    """On and off where the text has parentheses, either None where it was not read; else one value and None.

    Raises:
        StillvoltError: as `parse_value`.
    """
    match = _PAIR.fullmatch(text.strip())
    if match is None:
        return parse_value(text), None
    on = match["on"].strip()
    return None if on in _NOT_READ else parse_value(on), parse_value(match["off"])


def parse_value(text: str) -> Value:
    """Volts and standard uncertainty, V.

    The number after the plus-minus is how far the display wandered (half-width, rectangular: GUM 4.3.7). Without it
    only half of the last digit that was typed counts.

    Raises:
        StillvoltError: it is no voltage.
    """
    match = _VALUE.fullmatch(text.strip())
    units = {unit.casefold() for unit in (match[2], match[4]) if unit} if match else set()
    if match is None or len(units) > 1:
        raise StillvoltError(
            f"“{text.strip()}” is not understood as volts.",
            "No reading was entered.",
            "Type it like 0.27 or 270 mV; with how far it wandered: 0.27 +- 0.02.",
        )
    value = Decimal(match[1].replace(",", "."))
    scale = 0.001 if units == {"mv"} else 1.0
    exponent = value.as_tuple().exponent
    assert isinstance(exponent, int)  # the pattern lets no NaN through
    half_width = float(match[3].replace(",", ".")) if match[3] else 0.5 * 10.0**exponent
    return float(value) * scale, half_width * scale / sqrt(3.0)
