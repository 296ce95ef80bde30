"""Parses a value that was read from the meter's display by eye.

In: '0.27', '0,27 V', '270 mV', '0.27 +- 0.02', or two of them as they are written on a form, on (off): '0.9 (0.05)'.
Out: volts and standard uncertainty. Without a unit it is volts. Where one number of the line is in millivolts and
another has no unit, where a number without one is as high as millivolts are, or where the prefix is another one than
milli, it is asked for and never guessed; so is a comma or point that may part thousands, as in '1,500 mV'.
"""

from __future__ import annotations

import re
from decimal import Decimal
from math import sqrt

from logger.errors import StillvoltError
from logger.metrology.rounding import plain
from logger.metrology.setup import MeterFacts
from logger.translation import tr
from logger.typed_number import two_meanings

_NUMBER = r"(\d+(?:[.,]\d*)?|[.,]\d+)"
_UNIT = r"(m[vV]|[vV])?"
"""Millivolts or volts: a capital M is mega."""
_VALUE = re.compile(rf"{_NUMBER}\s*{_UNIT}(?:\s*(?:±|\+-|\+/-)\s*{_NUMBER}\s*{_UNIT})?")

_NUMBER_AND_UNIT = re.compile(rf"{_NUMBER}(?:\s*(m[vV]|[vV]))?")
"""Each number of a line, and its unit where it has one."""

_VOLTS_PER_UNIT = {"v": 1.0, "mv": 0.001}

UNLIKELY_VOLTS = 10.0
"""From here on a value needs its unit: a body voltage in a home is mostly some volts and seldom tens of them, while a
bare 27.3 is just what a millivolt range shows. The number is ours; one letter answers the question."""

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
    on, off = match["on"].strip(), match["off"].strip()
    if on in _NOT_READ:
        return None, parse_value(off)
    _refuse_last_digits(on, off)
    _refuse_mixed_units(text)
    return parse_value(on), parse_value(off)


def parse_value(text: str) -> Value:
    """Volts and standard uncertainty, V.

    The number after the plus-minus is how far the display wandered (half-width, rectangular: GUM 4.3.7). Without it
    only half of the last digit that was typed counts.

    Raises:
        StillvoltError: it is no voltage.
    """
    match = _VALUE.fullmatch(text.strip())
    if match is None:
        raise StillvoltError(
            tr("“{typed}” is not understood as volts.").format(typed=text.strip()),
            tr("No reading was entered."),
            tr("Type it like 0.27 or 270 mV; with how far it wandered: 0.27 +- 0.02."),
        )
    _refuse_mixed_units(text)
    unit, wander, wander_unit = match[2], match[3], match[4]
    _refuse_two_meanings(match[1], unit or "V")
    _refuse_two_meanings(wander or "", wander_unit or "V")
    value = Decimal(match[1].replace(",", "."))
    exponent = value.as_tuple().exponent
    assert isinstance(exponent, int)  # the pattern lets no NaN through
    scale = _VOLTS_PER_UNIT[(unit or "V").casefold()]
    volts = float(value) * scale
    if not unit and volts >= UNLIKELY_VOLTS:
        raise StillvoltError(
            tr("Is {number} in volts or in millivolts?").format(number=match[1]),
            tr("No reading was entered."),
            tr("Type the unit: {number} mV, or {number} V.").format(number=match[1]),
        )
    if wander:
        half_width_volts = float(wander.replace(",", ".")) * _VOLTS_PER_UNIT[(wander_unit or "V").casefold()]
    else:
        half_width_volts = 0.5 * 10.0**exponent * scale
    return volts, half_width_volts / sqrt(3.0)


def _refuse_two_meanings(number: str, unit: str) -> None:
    """Raise StillvoltError where the comma or point of a number may part thousands."""
    meanings = two_meanings(number, unit)
    if meanings is not None:
        raise StillvoltError(
            tr("Is “{typed}” {one} or {other}?").format(
                typed=f"{number} {unit}", one=meanings[0], other=meanings[1]
            ),
            tr("No reading was entered."),
            tr("Type it as {one}, or as {other}.").format(one=meanings[0], other=meanings[1]),
        )


def _refuse_last_digits(on: str, off: str) -> None:
    """Raise StillvoltError where the parenthesis may hold how uncertain the last digits before it are.

    So a value is written by JCGM 100:2008, 7.2.2: 0.27 (3) is 0.27 with an uncertainty of 0.03.
    """
    decimals = re.fullmatch(r"\d*[.,](\d+)", on)
    if decimals is None or re.fullmatch(r"[1-9]\d?", off) is None:
        return
    sign = "," if "," in on else "."
    uncertain = f"{Decimal(off).scaleb(-len(decimals[1])):f}".replace(".", sign)
    raise StillvoltError(
        tr(
            "Is {off} the value with everything off, in volts, or how uncertain the last digits of {on} are?"
        ).format(on=on, off=off),
        tr("No reading was entered."),
        tr("Type {pair} or {value}.").format(pair=f"{on} ({off}{sign}0)", value=f"{on} +- {uncertain}"),
    )


def _refuse_mixed_units(text: str) -> None:
    """Raise StillvoltError where a number of the line is in millivolts and another one has no unit.

    The one without may be of either unit, on whichever side of a plus-minus or a parenthesis it is.
    """
    units = [(match[2] or "").casefold() for match in _NUMBER_AND_UNIT.finditer(text)]
    if "mv" not in units or "" not in units:
        return
    in_volts, in_millivolts = _with_unit(text, "V"), _with_unit(text, "mV")
    raise StillvoltError(
        tr("In “{typed}” one number has a unit and another has none.").format(typed=text.strip()),
        tr("No reading was entered."),
        tr("Type the unit of each: {in_volts}, or {in_millivolts}.").format(
            in_volts=in_volts, in_millivolts=in_millivolts
        ),
    )


def _with_unit(text: str, unit: str) -> str:
    """The line with a unit behind each number that has none."""
    return _NUMBER_AND_UNIT.sub(lambda match: f"{match[1]} {match[2] or unit}", text.strip())


def looks_like_value(text: str) -> bool:
    """Whether a text has nothing but numbers, signs and volts: it names nothing that could be on."""
    return any(map(str.isdigit, text)) and re.fullmatch(r"(?:[\d\s.,()±+/-]|[mM]?[vV])+", text) is not None


def refuse_above_range(volts: float, meter: MeterFacts) -> None:
    """Refuse a value that the meter cannot have shown.

    Args:
        volts: as it was typed.
        meter: as stated.

    Raises:
        StillvoltError: it is above the largest range.
    """
    up_to_volts = max(range_.up_to_volts for range_ in meter.accuracy)
    if volts > up_to_volts:
        raise StillvoltError(
            tr("{volts} V is above the meter's largest range of {largest} V.").format(
                volts=plain(volts), largest=plain(up_to_volts)
            ),
            tr("No reading was entered."),
            tr("Type what the display showed, with its unit."),
        )
