"""Stage 6: a value that was decided, refused where the same characters may well mean something else."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from logger.meter.interpretation.results import LineFlag, Value
from logger.meter.tokens import CAPITAL_PREFIX_NOTE, FIELD, SPACE, Refused, Token, TokenKind, unknown_word
from logger.meter.vocabulary import Role, WordKind, meaning_of, meanings_of_name
from logger.translation import kept_text

_SAY_WHAT_IS_MEASURED = frozenset({Role.UNIT, Role.KIND, Role.FUNCTION, Role.VALUE_NAME})
_NAME_A_COUNT = frozenset({Role.OTHER_NAME, Role.EXTREME})
"""What a word means in front of a number that is no part of the value: a counter, a channel, a number of values."""
_RANGE_NAMES = frozenset({"RANGE", "RNG", "LIMIT"})
_DOUBT_WORDS = frozenset({"ERR", "ERROR", "FAULT", "FAIL", "INVALID", "UNCAL", "H"})
"""Words behind a value by which the meter itself doubts it; H is short for HOLD on many displays."""
FACTOR_NAMES = frozenset({"GAIN", "FACTOR", "MULT", "MULTIPLIER", "SCALE"})
"""Names of what a value is multiplied by."""
_VOLT_WORDS = frozenset({"VOLT", "VOLTS"})
_OPEN_PREFIX = re.compile(r"(?:^|[^A-Za-z]|AC|DC|RMS)M(?:V|v)")
MILLI = -3
GROUP_DIGITS = 3
"""Digits are written in groups of so many."""
MOST_DIGITS, USUAL_DIGITS = 5, 4
"""A hand-held meter shows so many digits at most (60,000 counts), and mostly so many (6,000; common practice, no
source). "50.1" may be the rest of 1250.1; "0.273" is whole, and a counter in front of it is a counter."""


def refuse_doubtful(tokens: Sequence[Token], value: Value) -> None:
    """Refuse a value of which it is not certain that it is one, or that it is all of it.

    Args:
        tokens: of the line, in order.
        value: what was decided.

    Raises:
        Refused: with the reason.
    """
    _refuse_parts_of_one_number(tokens, value.token)
    _refuse_an_unknown_name(tokens, value.token)
    _refuse_whole_numbers(tokens, value)
    _refuse_a_range(tokens, value.token)
    _refuse_a_unit_beside_its_name(tokens, value)
    _refuse_a_capital_prefix(tokens, value)
    _refuse_doubted_by_the_meter(tokens)
    _refuse_a_factor(tokens)
    _refuse_a_battery_between_values(tokens)
    _refuse_volts_of_a_battery(tokens, value)


def _refuse_parts_of_one_number(tokens: Sequence[Token], number: Token) -> None:
    """Refuse "1 234.5 mV" and "25 0.1 mV": a blank in a number, or between a counter and its value.

    "17 0.273 V" is a counter and a value: as one number it would have more digits than a display.
    """
    at = tokens.index(number)
    before = tokens[at - 1] if at else None
    if before is None or before.kind is not TokenKind.NUMBER or number.gap != SPACE:
        return
    if not before.text.isdigit() or len(before.text) > GROUP_DIGITS or before.text[0] == "0":
        return
    whole, _, decimals = number.text.partition(".")
    if len(whole) == GROUP_DIGITS:
        raise Refused(kept_text("the blank may separate thousands, or a counter and its value"))
    name = tokens[at - 2] if at > 1 else None
    is_named = name is not None and (
        name.kind is TokenKind.NAME or meaning_of(name.text).role in _NAME_A_COUNT
    )
    most_digits = USUAL_DIGITS if whole == "0" else MOST_DIGITS
    if not is_named and len(before.text + whole + decimals) <= most_digits:
        raise Refused(
            kept_text(
                "two numbers, {one} and {other}, that may be one with a damaged digit between them: teach the meter "
                "which one its display shows"
            ).format(one=before.text, other=number.text)
        )


def _refuse_an_unknown_name(tokens: Sequence[Token], number: Token) -> None:
    """Refuse "Uss=0.5 V" and "v_null=0.5": a part of the value's name is not known."""
    name: Token | None = None
    for token in tokens[: tokens.index(number)]:
        if token.kind is TokenKind.NAME:
            name = token
        elif token.gap == FIELD or token.kind is not TokenKind.WORD:
            name = None
    if name is not None and number.gap != FIELD:
        parts = meanings_of_name(name.text)
        if any(part.role is Role.UNKNOWN for part in parts):
            raise unknown_word(name.text)


def _refuse_whole_numbers(tokens: Sequence[Token], value: Value) -> None:
    """Refuse "OK 0" and "0273": a state of something, and a number that has lost its point."""
    text = value.token.text.lstrip("+")
    if not text.isdigit():
        return
    if len(text) > 1 and text[0] == "0" and value.exponent == 0:
        raise Refused(kept_text("a zero in front of a whole number: its point may be missing"))
    words = [token for token in tokens if token.kind in (TokenKind.WORD, TokenKind.NAME)]
    is_measured = any(
        token.kind is TokenKind.NAME or meaning_of(token.text).role in _SAY_WHAT_IS_MEASURED
        for token in words
    )
    if words and not value.has_unit and not is_measured:
        raise Refused(kept_text("a whole number without a unit beside a word may be a state"))


def _refuse_a_range(tokens: Sequence[Token], number: Token) -> None:
    """Refuse "6 V range 0.273 V" and "6V 0.273": the range may stand in front of the value.

    A value is not above its range, so a name of a range between them belongs to the number before it. A full range is a
    round number, and a fraction without unit or name behind it may be the value.
    """
    behind = tokens[tokens.index(number) + 1 :]
    digits = number.text.lstrip("+").replace(".", "").strip("0")
    if len(digits) == 1 or number.text.isdigit():
        for before, token in pairwise((number, *behind)):
            is_fraction = token.kind is TokenKind.NUMBER and not token.text.isdigit()
            if (
                is_fraction
                and before.kind is TokenKind.WORD
                and meaning_of(before.text).role is Role.UNIT
                and float(token.text) <= float(number.text)
                and not _has_unit_behind(tokens, token)
            ):
                raise Refused(kept_text("it is not clear which number is the range"))
    for name, token in pairwise(behind):
        is_range = name.kind is TokenKind.WORD and name.text.upper() in _RANGE_NAMES
        if is_range and token.kind is TokenKind.NUMBER and float(token.text) < float(number.text):
            raise Refused(kept_text("it is not clear which number is the range"))


def _has_unit_behind(tokens: Sequence[Token], number: Token) -> bool:
    """Whether a number has a unit behind it."""
    behind = tokens[tokens.index(number) + 1 :][:1]
    return any(t.kind is TokenKind.WORD and meaning_of(t.text).role is Role.UNIT for t in behind)


def _refuse_a_unit_beside_its_name(tokens: Sequence[Token], value: Value) -> None:
    """Refuse {"volts": 0.273, "unit": "mV"}: the name says volts, and another field says millivolts.

    A unit right behind the number is its own ("Volts: 273 mV"), and "voltage" is no unit.
    """
    place = tokens.index(value.token)
    name = tokens[place - 1] if place else None
    if not value.exponent or name is None or name.kind is not TokenKind.NAME:
        return
    words = re.split(r"[^A-Z]+", re.sub(r"(?<=[a-z])(?=[A-Z])", "_", name.text).upper())
    behind = tokens[place + 1 : place + 2]
    if _VOLT_WORDS.intersection(words) and not any(
        t.kind is TokenKind.WORD and t.gap < FIELD for t in behind
    ):
        raise Refused(kept_text("its name and another field give two units for one number"))


def _refuse_a_capital_prefix(tokens: Sequence[Token], value: Value) -> None:
    """Refuse "273.1 MV": milli by IEEE 488.2 table 7-2, which speaks of what a device is sent, and mega by the SI."""
    if value.exponent != MILLI:
        return
    for token in tokens:
        if token.kind in (TokenKind.WORD, TokenKind.NAME) and _OPEN_PREFIX.search(token.text):
            raise Refused(CAPITAL_PREFIX_NOTE)


def _refuse_a_factor(tokens: Sequence[Token]) -> None:
    """Refuse "GAIN=10 0.273 V": nothing says whether the value has its factor by now; one of 1 changes nothing."""
    for name, number in pairwise(tokens):
        is_name = name.kind in (TokenKind.WORD, TokenKind.NAME) and name.text.upper() in FACTOR_NAMES
        if is_name and number.kind is TokenKind.NUMBER and float(number.text) != 1.0:
            raise Refused(
                kept_text("it gives a factor ({name} {number}), which the value may have or not").format(
                    name=name.text, number=number.text
                )
            )


def _refuse_doubted_by_the_meter(tokens: Sequence[Token]) -> None:
    """Refuse "12.34 V AC err" and "Error 12 0.273 V"; "ERR 0" is a field that says that there is none."""
    following = (*tokens[1:], None)
    for token, after in zip(tokens, following, strict=True):
        if token.kind not in (TokenKind.WORD, TokenKind.NAME) or token.text.upper() not in _DOUBT_WORDS:
            continue
        has_number = after is not None and after.kind is TokenKind.NUMBER
        if token.kind is TokenKind.NAME:
            # "error=0.003" is how far the value may be off; a whole number is that of what went wrong.
            is_doubted = has_number and after is not None and after.text.strip("0").isdigit()
        else:
            is_doubted = not has_number or (after is not None and bool(float(after.text)))
        if is_doubted:
            raise Refused(
                kept_text("the meter itself marks the value as {word}").format(word=token.text.upper())
            )


def _refuse_a_battery_between_values(tokens: Sequence[Token]) -> None:
    """Refuse "4.12V BAT 250.1 mV AC": the name stands behind one number and before the other, and is either's."""
    for at, token in enumerate(tokens):
        before, after = tokens[max(at - 2, 0) : at], tokens[at + 1 : at + 3]
        is_named = token.kind is TokenKind.WORD and meaning_of(token.text).role is Role.BATTERY
        if is_named and _is_value(before) and _is_value(after):
            raise Refused(kept_text("it is not clear which number is the battery's"))


def _is_value(pair: Sequence[Token]) -> bool:
    """Whether two tokens are a number and its unit."""
    if [token.kind for token in pair] != [TokenKind.NUMBER, TokenKind.WORD]:
        return False
    return meaning_of(pair[1].text).role is Role.UNIT


def _refuse_volts_of_a_battery(tokens: Sequence[Token], value: Value) -> None:
    """Refuse "3.3 V battery": with AC it would be a state of the meter, and so it is where it says LOW."""
    if LineFlag.LOW_BATTERY not in value.flags:
        return
    words = [meaning_of(token.text) for token in tokens if token.kind is TokenKind.WORD]
    names = [
        part for token in tokens if token.kind is TokenKind.NAME for part in meanings_of_name(token.text)
    ]
    roles = {word.role for word in words}
    is_ac = any(one.kind is WordKind.AC for one in (*words, *names))
    if Role.BATTERY in roles and Role.LOW not in roles and not is_ac:
        raise Refused(kept_text("it may be the voltage of the battery"))
