"""Stage 1: tokens -> items. Each number and each word gets the name of the field that it stands in.

A name with a sign ("V=0.273", a JSON object) speaks of all that follows up to the next separator of fields or the
next number. What is glued to a number without being a unit is refused here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from logger.meter.interpretation.results import LineFlag
from logger.meter.interpretation.unit_merging import merge_all
from logger.meter.tokens import FIELD, GLUED, Refused, Token, TokenKind
from logger.meter.vocabulary import (
    BESIDE_VOLTS,
    Meaning,
    Quantity,
    Role,
    WordKind,
    meaning_of,
    meanings_of_name,
)
from logger.translation import kept_text

Name = tuple[Meaning, ...]
"""What the words of a field's name mean; empty for no name."""


class NamedNumber(NamedTuple):
    """A number and what the name in front of it says; None without one."""

    token: Token
    name: Meaning | None


class RunWord(NamedTuple):
    """A known word, or a part of the name of the field that it is the value of ("CURR:AC")."""

    meaning: Meaning
    token: Token


Run = tuple[RunWord, ...]
"""Words between two numbers, in order."""


class OverloadMark(NamedTuple):
    """OL and its like; certain when it stands in a field that exists to say so."""

    token: Token
    is_certain: bool


class UnknownWord(NamedTuple):
    """A word of which nothing is known and which may say anything."""

    token: Token


class FieldState(NamedTuple):
    """What a field that is true, false or low says of the whole line: "hold": true, "bat": low."""

    flags: frozenset[LineFlag] = frozenset()
    kinds: frozenset[WordKind] = frozenset()
    is_overload: bool = False


Item = NamedNumber | RunWord | OverloadMark | UnknownWord | FieldState

FLAG_OF = {
    Role.HOLD: LineFlag.HOLD,
    Role.EXTREME: LineFlag.EXTREME,
    Role.RELATIVE: LineFlag.RELATIVE,
    Role.LOW_IMPEDANCE: LineFlag.LOW_IMPEDANCE,
    Role.LOW_BATTERY: LineFlag.LOW_BATTERY,
}
_NOT_THE_VALUE = frozenset(
    {Role.OTHER_NAME, Role.STATE_NAME, Role.EXTREME, Role.BATTERY, Role.LOW, *FLAG_OF, Role.OVERLOAD}
)
_STATES_WITH_A_NUMBER = frozenset(
    {Role.HOLD, Role.EXTREME, Role.RELATIVE, Role.LOW_IMPEDANCE, Role.LOW_BATTERY}
)
VALIDITY = dict.fromkeys(("VALID", "IS_VALID", "ISVALID", "OK", "GOOD"), True) | dict.fromkeys(
    (
        "INVALID", "FAULT", "ERROR", "ERR", "STALE", "OUTDATED", "TIMEOUT", "FROZEN", "SATURATED", "CLIPPED",
        "CLIPPING", "UNDERRANGE",
    ),
    False,
)  # fmt: skip
"""Names of fields that say whether the value is one, and what stands in them where it is."""
OFF = "0"
"""The number of a field of a state that is off; any other digit is that of one that is on."""
VERSION_DECIMALS = 2
"""V1.04 is a version as it is usually written; a display has more decimals."""

_LEARNED_NAME: Name = (Meaning(Role.VALUE_NAME),)
_OTHER_NAME: Name = (Meaning(Role.OTHER_NAME),)
_LOW_BATTERY = FieldState(frozenset({LineFlag.LOW_BATTERY}))


def items_of(
    tokens: Sequence[Token], value_token: Token | None, known_words: frozenset[str]
) -> tuple[Item, ...]:
    """Give every number and word of a line the name of its field.

    Args:
        tokens: of the line, in order.
        value_token: the number among them that is the value, where a line format says so.
        known_words: words that may stand on the line although nothing is known about them.

    Raises:
        Refused: something unknown is attached to a number, a value is missing, or the meter has no number.
    """
    items: list[Item] = []
    name: Name = ()
    previous: Token | None = None
    last_number: Token | None = None
    for token in tokens:
        kind = token.kind
        glued_to_number = previous is not None and previous.kind is TokenKind.NUMBER and token.gap == GLUED
        if token.gap == FIELD:
            if previous is not None and previous.kind is TokenKind.NAME and _names_volts(name):
                raise Refused(kept_text("the value is missing"))
            name = ()
        if previous is not None and previous.kind is TokenKind.NAME:
            _refuse_invalid(previous, token)
        if kind is TokenKind.NAME:
            name = meanings_of_name(token.text)
            if glued_to_number:
                raise Refused(kept_text("something unknown is attached to the number"))
        elif kind is TokenKind.NUMBER:
            if token.gap == GLUED and previous is not None and previous.kind is TokenKind.WORD:
                _check_prefix(previous, token, last_number, is_first=previous is tokens[0])
            if token is not value_token and _is_switched_on(token, name):
                items.append(_switched_field(name, on=True))
            items.append(NamedNumber(token, _name_of_number(_effective_name(token, name, value_token))))
            name, last_number = (), token
        elif kind is TokenKind.OVERLOAD:
            items += _overload_items(token, name)
        elif kind is TokenKind.WORD:
            if glued_to_number and meaning_of(token.text).role not in (Role.UNIT, Role.KIND):
                raise Refused(kept_text("something unknown is attached to the number"))
            items += _word_items(token, name, known_words)
        previous = token
    return tuple(items)


def _refuse_invalid(name: Token, token: Token) -> None:
    """Refuse a line with a field that says that its value is none: "valid": false, ERR=1.

    Args:
        name: of the field.
        token: what stands in it.

    Raises:
        Refused: it says so.
    """
    validity = VALIDITY.get(name.text.upper())
    if validity is not None and _switch_of(token) is (not validity):
        raise Refused(kept_text("the meter itself marks the value as not valid"))


def _switch_of(token: Token) -> bool | None:
    """Whether the value of a field is on or off; None where it is neither."""
    if token.kind is TokenKind.NUMBER:
        return token.text != OFF if token.text.isdigit() else None
    if token.kind is not TokenKind.WORD:
        return None
    role = meaning_of(token.text).role
    return {Role.TRUE: True, Role.FALSE: False}.get(role)


def _names_volts(name: Name) -> bool:
    return any(part.quantity is Quantity.VOLTS for part in name)


def _check_prefix(word: Token, number: Token, last_number: Token | None, *, is_first: bool) -> None:
    """Refuse a number that begins right behind a word, unless the word is a unit or a function.

    Args:
        word: in front of the number.
        number: it.
        last_number: the number before; None for none.
        is_first: whether the word is the first token of the line.

    Raises:
        Refused: it may be damaged, or a name and its number.
    """
    if last_number is not None and last_number.end == word.start:
        raise Refused(kept_text("letters stand inside the number"))
    is_function = meaning_of(word.text).role in (Role.UNIT, Role.KIND, Role.FUNCTION)
    if len(word.text) == 1:
        # "V0.273", but not "21.5 C0.273" nor the version "V1.04"
        decimals = len(number.text.partition(".")[2])
        is_function = word.text == "V" and is_first and decimals > VERSION_DECIMALS
    if not is_function:
        raise Refused(kept_text("something unknown is attached to the number"))


def _effective_name(token: Token, name: Name, value_token: Token | None) -> Name:
    """The name of a number, as far as no line format says which number is the value."""
    if value_token is None:
        return name
    if token is not value_token:
        is_overload = any(part.role is Role.OVERLOAD for part in name)
        return name if is_overload else _OTHER_NAME
    # A name that is a unit ("mv": 273) is the unit; any other, even "a", was known when the format was learned.
    units = tuple(part for part in name if part.role in (Role.UNIT, Role.KIND))
    return units if _names_volts(units) else _LEARNED_NAME


def _name_of_number(name: Name) -> Meaning | None:
    """What the words of a name say about the number behind it.

    Raises:
        Refused: the name holds two units.
    """
    if not name:
        return None
    roles = {part.role for part in name}
    kinds = {part.kind for part in name if part.kind}
    kind = kinds.pop() if len(kinds) == 1 else (WordKind.AC_AND_DC if kinds else None)
    if Role.OVERLOAD in roles:
        return Meaning(Role.OVERLOAD)
    if roles & _NOT_THE_VALUE:
        return Meaning(Role.OTHER_NAME)
    for part in name:
        if part.role is Role.FUNCTION:
            return part
    units = sorted((part for part in name if part.role is Role.UNIT), key=lambda part: part.exponent != 0)
    unit = merge_all(units)
    if unit is not None:
        return Meaning(Role.UNIT, unit.quantity, unit.exponent, kind)
    if kind is not None:
        return Meaning(Role.UNIT, Quantity.VOLTS, kind=kind)
    return Meaning(Role.VALUE_NAME if Role.VALUE_NAME in roles else Role.UNKNOWN)


def _is_switched_on(token: Token, name: Name) -> bool:
    """Whether a number says that a state of the meter is on: HOLD=1, "battery_low":1; a value has more digits."""
    roles = {part.role for part in name}
    is_state = bool(roles & _STATES_WITH_A_NUMBER) or {Role.LOW, Role.BATTERY} <= roles
    return is_state and Role.OTHER_NAME not in roles and len(token.text) == 1 and token.text != OFF


def _overload_items(token: Token, name: Name) -> Iterable[Item]:
    """An overload mark with the units that its field is named by ("V: OL"); nothing where it speaks of no volts."""
    roles = {part.role for part in name}
    if Role.OTHER_NAME in roles or Role.BATTERY in roles:
        return ()
    if BESIDE_VOLTS & {part.quantity for part in name if part.quantity}:
        return ()  # no frequency to be found says nothing about the volts
    return (OverloadMark(token, Role.STATE_NAME in roles), *_words_of_name(name, token))


def _word_items(token: Token, name: Name, known_words: frozenset[str]) -> Iterable[Item]:
    """What a word says, in the field that it stands in.

    Raises:
        Refused: the meter has no number.
    """
    meaning = meaning_of(token.text)
    role = meaning.role
    roles = {part.role for part in name}
    if name and role in (Role.TRUE, Role.FALSE):
        return (_switched_field(name, on=role is Role.TRUE),)
    if Role.BATTERY in roles:
        return (_LOW_BATTERY,) if role is Role.LOW else ()
    if Role.OTHER_NAME in roles:
        # "T:DC" is no time: the name is damaged, and the word speaks of the value.
        return (RunWord(meaning, token),) if role is Role.KIND and meaning.kind is WordKind.DC else ()
    if role is Role.OVERLOAD:
        return _overload_items(token, name)
    if role is Role.NOT_A_NUMBER:
        raise Refused(kept_text("the meter says that it has no number"))
    if role is Role.UNKNOWN:
        # Text in a field of an unknown name ("site": "kitchen"); in a field of states it speaks of the value.
        is_free_text = Role.UNKNOWN in roles and Role.STATE_NAME not in roles
        return () if is_free_text or token.text in known_words else (UnknownWord(token),)
    of_name = _words_of_name(name, token) if role in (Role.KIND, Role.UNIT) else ()
    return (*of_name, RunWord(meaning, token))


def _words_of_name(name: Name, token: Token) -> Iterable[RunWord]:
    """A name whose value is a word: "CURR:AC", "V: OL"."""
    return [RunWord(part, token) for part in name if part.role in (Role.UNIT, Role.KIND, Role.FUNCTION)]


def _switched_field(name: Name, *, on: bool) -> FieldState:
    """A field that is true or false."""
    flags: set[LineFlag] = set()
    kinds: set[WordKind] = set()
    is_overload = False
    for part in name:
        if part.role is Role.KIND and part.kind is WordKind.AC and not on:
            kinds.add(WordKind.DC)
        elif on and part.role is Role.KIND and part.kind:
            kinds.add(part.kind)
        elif on and part.role is Role.OVERLOAD:
            is_overload = True
        elif on and part.role is Role.LOW:
            flags.add(LineFlag.LOW_BATTERY)
        elif on and part.role in FLAG_OF:
            flags.add(FLAG_OF[part.role])
    return FieldState(frozenset(flags), frozenset(kinds), is_overload)
