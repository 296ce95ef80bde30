"""What the interpretation of a line ends in: its value, an overload, or a refusal (`Refused`, `NotAcVolts`)."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from logger.meter.tokens import Token
from logger.translation import kept_text


class NotAcVolts(Exception):
    """The line is read, and is about something else; the message is for the user."""


class LineFlag(StrEnum):
    """What else a line says about its value."""

    HOLD = "hold"
    EXTREME = "extreme"
    RELATIVE = "relative"
    LOW_IMPEDANCE = "low impedance"
    LOW_BATTERY = "low battery"


FLAG_NOTES = {
    LineFlag.LOW_IMPEDANCE: kept_text(
        "the meter has its low input impedance on, which takes the body voltage away; switch it off"
    ),
    LineFlag.HOLD: kept_text("the meter holds its display; release HOLD"),
    LineFlag.LOW_BATTERY: kept_text(
        "the meter says that its battery is low: its values are not to be trusted until it is changed"
    ),
    LineFlag.EXTREME: kept_text(
        "the meter shows a minimum, maximum or average; switch to the value of this moment"
    ),
    LineFlag.RELATIVE: kept_text("the meter shows the difference from a stored value; switch REL off"),
}
"""What the flags of a line say, in the order in which several are said."""


@dataclass(frozen=True, slots=True)
class Value:
    """The AC voltage of a line: the token of its number and the power of ten that turns it into volts."""

    token: Token
    exponent: int
    flags: frozenset[LineFlag]
    alone: bool
    """No second number of the line says the same."""
    has_unit: bool
    """The line gives the number a unit."""


@dataclass(frozen=True, slots=True)
class OverRange:
    """The line says that the voltage is above the meter's range."""

    span: tuple[int, int]
    flags: frozenset[LineFlag]
