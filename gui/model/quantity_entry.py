"""Numbers as people type them: with a comma or a point, and with a unit or without.

In: what was typed. Out: the number in one unit, or a sentence on why it is none.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from logger.metrology.lengths import METRES_PER_FOOT, METRES_PER_INCH, LengthUnit
from logger.metrology.rounding import plain
from logger.translation import shown_number, tr
from logger.typed_number import two_meanings

VOLTS: Mapping[str, float] = {"V": 1.0, "mV": 1e-3, "µV": 1e-6, "uV": 1e-6, "kV": 1e3}
METRES: Mapping[str, float] = {
    "m": 1.0, "cm": 0.01, "ft": METRES_PER_FOOT, "metre": 1.0, "metres": 1.0, "meter": 1.0, "meters": 1.0,
    "foot": METRES_PER_FOOT, "feet": METRES_PER_FOOT, "'": METRES_PER_FOOT, "′": METRES_PER_FOOT,
    "in": METRES_PER_INCH, "inch": METRES_PER_INCH, "inches": METRES_PER_INCH, '"': METRES_PER_INCH,
    "″": METRES_PER_INCH, "''": METRES_PER_INCH,
}  # fmt: skip
SECONDS: Mapping[str, float] = {"s": 1.0, "min": 60.0}
OHMS: Mapping[str, float] = {
    "ohm": 1.0, "Ω": 1.0, "kohm": 1e3, "kΩ": 1e3, "Mohm": 1e6, "MΩ": 1e6, "Gohm": 1e9, "GΩ": 1e9,
}  # fmt: skip
FARADS: Mapping[str, float] = {"F": 1.0, "nF": 1e-9, "pF": 1e-12, "µF": 1e-6, "uF": 1e-6}
PERCENT: Mapping[str, float] = {"%": 1.0}
NUMBER: Mapping[str, float] = {}

_FEET_AND_INCHES = re.compile(
    r"([0-9].*?)\s*(?:'|′|ft|foot|feet)\s*([0-9].*?)\s*(?:\"|″|''|in|inch|inches)?", re.IGNORECASE
)
_NUMBER_AND_UNIT = re.compile(r"([+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,3})?)\s*(.*)")

MAX_SHOWN_LETTERS = 30
"""Of what was typed so many are repeated in a sentence."""


def read_quantity(
    text: str, units: Mapping[str, float], unit: str = "", low: float = 0.0, high: float = 1e12
) -> float:
    """The number that was typed, times what its unit counts.

    Args:
        text: what was typed.
        units: how much each unit counts; capitals count where two units differ by them only.
        unit: the one that holds where none was typed.
        low, high: the least and the most that it may be, in what the units are counted in.

    Raises:
        ValueError: it is none; the error is a sentence.
    """
    shown = " ".join("".join(letter for letter in text if letter.isprintable() or letter.isspace()).split())
    example = shown_number(f"0.5 {unit}".strip())
    if not shown:
        raise ValueError(tr("Enter a number, such as {example}.").format(example=example))
    match = _NUMBER_AND_UNIT.fullmatch(shown.replace("\N{MINUS SIGN}", "-"))
    short = shown if len(shown) <= MAX_SHOWN_LETTERS else f"{shown[:MAX_SHOWN_LETTERS]}…"
    if match is None:
        raise ValueError(
            tr("“{typed}” is not a number such as {example}.").format(typed=short, example=example)
        )
    named = _named_unit(match[2].strip(), units) if match[2].strip() else unit
    if named is None:
        by_size: dict[float, str] = {}
        for name, size in units.items():
            by_size.setdefault(size, name)
        known = ", ".join(by_size.values()) or tr("none")
        raise ValueError(
            tr("“{typed}” has a unit that is not known here. Known: {known}.").format(
                typed=short, known=known
            )
        )
    meanings = two_meanings(match[1], named)
    if meanings is not None:
        raise ValueError(
            tr("“{typed}” may be {decimals} or {thousands}. Type one of these.").format(
                typed=short, decimals=meanings[0], thousands=meanings[1]
            )
        )
    # To twelve digits, so that 50 mV is 0.05 V and not 0.05000000000000001 V.
    value = float(f"{float(match[1].replace(',', '.')) * units.get(named, 1.0):.12g}")
    return _within(value, low, high, unit, units)


def _within(value: float, low: float, high: float, unit: str, units: Mapping[str, float]) -> float:
    """A number that lies between two; raises ValueError with a sentence where it does not."""
    if not low <= value <= high:
        factor = units.get(unit, 1.0)
        raise ValueError(
            tr("It must be between {low} and {high}.").format(
                low=f"{plain(low / factor)} {unit}".strip(), high=f"{plain(high / factor)} {unit}".strip()
            )
        )
    return value


def mistake_in(read: Callable[[], object]) -> str:
    """Why reading what was typed fails, in a sentence; empty where it does not."""
    try:
        read()
    except ValueError as error:
        return str(error)
    return ""


MAX_METRES = 10_000.0
"""Longest wire or way at a home that is taken for no slip."""


def read_length(text: str, unit: LengthUnit, most: float = MAX_METRES) -> float:
    """A length that was typed, metres; a unit that was typed counts, else the one that was chosen.

    Args:
        text: what was typed.
        unit: the one that holds where none was typed.
        most: the longest that can be meant, metres.

    Raises:
        ValueError: it is none; the error is a sentence.
    """
    usual = "ft" if unit is LengthUnit.FEET else "m"
    if (both := _FEET_AND_INCHES.fullmatch(text.strip())) is None:
        return read_quantity(text, METRES, usual, high=most)
    metres = (
        read_quantity(both[1], {"ft": 1.0}, "ft") * METRES_PER_FOOT
        + read_quantity(both[2], {"in": 1.0}, "in") * METRES_PER_INCH
    )
    return _within(float(f"{metres:.12g}"), 0.0, most, usual, METRES)


def is_typed_in_feet(text: str) -> bool:
    """Whether a length was typed with feet or inches as its unit, so that it is shown in feet again.

    Args:
        text: what was typed; `read_length` accepts it.
    """
    is_both = _FEET_AND_INCHES.fullmatch(text.strip()) is not None
    return is_both or text.strip().casefold().endswith(
        tuple(unit for unit, size in METRES.items() if size in (METRES_PER_FOOT, METRES_PER_INCH))
    )


def _named_unit(typed: str, units: Mapping[str, float]) -> str | None:
    """The unit that was meant; without regard to capitals where only one could be."""
    typed = typed.replace("\N{GREEK SMALL LETTER MU}", "\N{MICRO SIGN}").replace("\N{OHM SIGN}", "Ω")
    if typed in units:
        return typed
    same = [unit for unit in units if unit.casefold() == typed.casefold()]
    return same[0] if len(same) == 1 else None
