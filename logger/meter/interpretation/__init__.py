"""What the numbers and words of one line say together: which number is the value, and of what.

In: the tokens of a line. Out: `Value` or `OverRange`, or an exception with the reason for the user: `Refused`
(it cannot be told) or `NotAcVolts` (it can, and it is something else).

A pipeline of immutable results, one stage a module: tokens -> items (each with the name of its field) -> a line
segmented at its numbers -> a line with names -> a line with units -> the value, unless it is in doubt.
"""

from __future__ import annotations

from collections.abc import Sequence

from logger.meter.interpretation.decision import OTHER_KIND_NOTES, OTHER_VALUES, PARTLY_AC_NOTES, decide
from logger.meter.interpretation.doubts import refuse_doubtful
from logger.meter.interpretation.items import items_of
from logger.meter.interpretation.name_binding import bind_names
from logger.meter.interpretation.results import FLAG_NOTES, LineFlag, NotAcVolts, OverRange, Value
from logger.meter.interpretation.segments import segment
from logger.meter.interpretation.unit_binding import bind_units
from logger.meter.tokens import Token

__all__ = [
    "FLAG_NOTES",
    "OTHER_KIND_NOTES",
    "OTHER_VALUES",
    "PARTLY_AC_NOTES",
    "LineFlag",
    "NotAcVolts",
    "OverRange",
    "Value",
    "flags_of",
    "interpret",
]


def interpret(
    tokens: Sequence[Token], value_token: Token | None = None, known_words: frozenset[str] = frozenset()
) -> Value | OverRange:
    """Work out what a line says.

    Args:
        tokens: of the line, in order.
        value_token: the number among them that is the value, where a line format says so.
        known_words: words that may stand on the line although nothing is known about them; with `value_token` also
            the units that may stand there without belonging to the value.

    Raises:
        Refused: it cannot be told.
        NotAcVolts: it says something else than AC volts.
    """
    items = items_of(tokens, value_token, known_words)
    segmented = segment(items, known_words)
    named = bind_names(segmented, value_token, known_words)
    measured = bind_units(named)
    if value_token is not None:
        return decide(measured, known_words)
    found = decide(measured)
    if isinstance(found, Value):
        refuse_doubtful(tokens, found)
    return found


def flags_of(tokens: Sequence[Token]) -> frozenset[LineFlag]:
    """The states of the meter that stand on a line, whether or not it has a value.

    Args:
        tokens: of the line, in order.

    Raises:
        Refused: something on the line makes no sense.
    """
    return segment(items_of(tokens, None, frozenset()), frozenset()).flags
