"""What a line without a value says of the unit of the numbers that follow it: "Unit: mV", "Value [mV];Time", "mV DC".

In: one line. Out: the units of volts that it names and what else it says that the numbers are; None where it says
nothing of a unit. Only words count, since a unit behind a number is that number's: "Battery 2900 mV". That of a range
is the display's.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from logger.meter.lines import LineReading, LineStatus
from logger.meter.tokens import Refused, decode
from logger.meter.vocabulary import KIND_NAMES, Meaning, Quantity, Role, meaning_of

MAX_SHOWN = 40
"""Longer lines are shortened where they are shown."""

MAX_BYTES = 1024
"""A longer line is no header: a stream without line ends would hold the recorder up while words are looked for."""

MAX_WORDS_OF_UNIT = 2
"""A unit alone, or with what it is called in front of it: "Unit: Hz"."""

_WORD = re.compile(r"(?P<number>(?<![A-Za-z])\d[\d.,]*\s*)?(?P<word>[A-Za-z\u00b5\u03a9\u00b0~]+)(?!\d)")
_RANGE = re.compile(r"RANGE|RNG", re.IGNORECASE)
_BESIDE = frozenset({Quantity.SECONDS, Quantity.DEGREES, Quantity.PERCENT, Quantity.HERTZ})
"""Quantities of a column beside that of the volts."""
_OF_A_HEADER = frozenset(
    {Role.UNIT, Role.KIND, Role.FUNCTION, Role.STATE_NAME, Role.VALUE_NAME, Role.OTHER_NAME, Role.NOTHING}
)
"""What a function's name means where all words are of these; in "Power on, self test" it means nothing."""
_WITH_A_UNIT = frozenset({Role.UNIT, Role.STATE_NAME, Role.FUNCTION})
"""A line of such words alone, "Hz" or "Unit: Hz", is of no column beside that of the volts."""
_NAMES = frozenset({"VOLTAGE", "VOLTS", "VOLT"})
"""Words that are as often the name of what is measured as its unit."""


class UnitLine(NamedTuple):
    """What a line says of the unit of numbers without one.

    Args:
        text: the line, for the user.
        exponents: powers of ten of the units of volts that it names.
        other: what else than AC volts it says that the numbers are; empty for nothing.
    """

    text: str
    exponents: frozenset[int]
    other: str = ""

    @property
    def is_volts(self) -> bool:
        """Whether numbers without a unit are volts by it."""
        return self.exponents == {0} and not self.other


def unit_line(raw: bytes, reading: LineReading) -> UnitLine | None:
    """What a line says of a unit; None where it says nothing of one, or has a value of its own.

    Args:
        raw: the line.
        reading: how it is read.
    """
    if reading.status in (LineStatus.VOLTS, LineStatus.OVERLOAD) or len(raw) > MAX_BYTES:
        return None
    try:
        text = decode(raw)
    except Refused:
        return None
    is_of_range = _RANGE.search(text) is not None
    words: list[_Word] = []
    for match in _WORD.finditer(text.replace("_", " ")):
        if match["number"] and not is_of_range:
            if reading.status is LineStatus.NOT_AC_VOLTS:
                return None  # a value of something else, with its unit
            continue
        is_bracketed = text[: match.start("word")].endswith(("[", "("))
        words.append(_Word(match["word"], meaning_of(match["word"]), is_bracketed))
    exponents, other = _volts_of(words), _other_than_volts(words)
    if not exponents and not other:
        return None
    shown = text.strip()
    return UnitLine(
        shown if len(shown) <= MAX_SHOWN else f"{shown[: MAX_SHOWN - 1]}…",
        exponents,
        other,
    )


class _Word(NamedTuple):
    text: str
    meaning: Meaning
    is_bracketed: bool


def _volts_of(words: Sequence[_Word]) -> frozenset[int]:
    """The powers of ten of the units of volts among words; a name alone, such as "voltage", counts as volts."""
    units = [
        word for word in words if word.meaning.role is Role.UNIT and word.meaning.quantity is Quantity.VOLTS
    ]
    written = [word for word in units if word.text.upper() not in _NAMES]
    return frozenset(word.meaning.exponent for word in written or units)


def _other_than_volts(words: Sequence[_Word]) -> str:
    """What else than AC volts the words say that is measured; empty for nothing."""
    kinds = {kind for word in words if (kind := word.meaning.kind) is not None and kind in KIND_NAMES}
    if kinds:
        return min(KIND_NAMES[kind] for kind in kinds)
    if _volts_of(words):
        return ""
    is_plain = all(word.meaning.role in _OF_A_HEADER for word in words)
    is_unit_alone = len(words) <= MAX_WORDS_OF_UNIT and all(w.meaning.role in _WITH_A_UNIT for w in words)
    for word in words:
        quantity = word.meaning.quantity
        if quantity is None:
            continue
        is_unit = word.meaning.role is Role.UNIT
        is_of_values = (len(word.text) > 1 or word.is_bracketed) and quantity not in _BESIDE
        is_function = word.meaning.role is Role.FUNCTION
        if (is_unit and (is_of_values or is_unit_alone)) or (is_function and is_plain):
            return str(quantity)
    return ""
