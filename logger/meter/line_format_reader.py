"""Lines read by a line format, with the same care as lines that explain themselves.

In: a format and the bytes of a line. Out: a `LineReading`. A damaged byte is never a value, and the meter's words (OL,
HOLD, DC) keep their meaning.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Callable
from itertools import pairwise

from logger.diagnostics import log_exception
from logger.meter.interpretation import NotAcVolts, OverRange, Value, interpret
from logger.meter.line_format import SEPARATORS, LineFormat, SeparatorName
from logger.meter.lines import (
    MISTAKE_NOTE,
    OVERLOAD_NOTE,
    LineReading,
    LineStatus,
    checked_volts,
    flags_note,
    read_any_line,
    refused_reading,
)
from logger.meter.splitter import MAX_LINE_BYTES
from logger.meter.tokens import (
    FIELD,
    GLUED,
    NO_VALUE_NOTE,
    Refused,
    Token,
    TokenKind,
    decode,
    inner_control,
    is_no_value,
    tokens_of,
)
from logger.meter.vocabulary import Role, meaning_of
from logger.translation import kept_text


def reader_of(line_format: LineFormat) -> Callable[[bytes], LineReading]:
    """What reads lines of this format; used like `read_line`."""
    return lambda raw: read_formatted_line(line_format, raw)


def read_formatted_line(line_format: LineFormat, raw: bytes) -> LineReading:
    """Read one line, without its terminator, by a line format."""
    if len(raw) > MAX_LINE_BYTES:
        return LineReading(LineStatus.UNREADABLE, note=kept_text("the line is too long"))
    try:
        found = interpret_by_format(line_format, raw)
        if isinstance(found, OverRange):
            return LineReading(LineStatus.OVERLOAD, None, OVERLOAD_NOTE, found.span, found.flags)
        if line_format.is_bare and found.has_unit:
            raise Refused(kept_text("it has a unit, not as when the meter was taught"))
        volts = checked_volts(found, line_format.scale)
    except Refused as refused:
        # A line of another form may still say that there is an overload, or what the meter's knob was turned to.
        without = read_any_line(raw)
        if without.status in (LineStatus.OVERLOAD, LineStatus.NOT_AC_VOLTS):
            return without
        return refused_reading(refused)
    except NotAcVolts as other:
        return LineReading(LineStatus.NOT_AC_VOLTS, note=str(other))
    except Exception:  # as in `read_line`: one line must not end a night's recording
        log_exception(f"reading the line {raw!r} by {line_format}")
        return LineReading(LineStatus.UNREADABLE, note=MISTAKE_NOTE)
    span = (found.token.start, found.token.end)
    if volts is None:
        return LineReading(LineStatus.OVERLOAD, None, OVERLOAD_NOTE, span, found.flags)
    note = flags_note(found.flags)
    return LineReading(LineStatus.VOLTS, volts, note, span, found.flags, found.exponent)


def interpret_by_format(line_format: LineFormat, raw: bytes) -> Value | OverRange:
    """What a line says by a format.

    Raises:
        Refused: it cannot be told, or the line is of another form.
        NotAcVolts: it says something else than AC volts.
    """
    text = decode(raw)
    if line_format.key is not None:
        tokens = tokens_of(text)
        values = [token for name, token in pairwise(tokens) if is_value_of(line_format.key, name, token)]
        if len(values) != line_format.occurrences:
            note = (
                kept_text("it has one value named {key}, not as when the meter was taught")
                if len(values) == 1
                else kept_text("it has {n} values named {key}, not as when the meter was taught")
            )
            raise Refused(note.format(n=len(values), key=line_format.key))
        value = values[line_format.occurrence - 1]
        if value.kind is TokenKind.OVERLOAD or text[value.start : value.end] in line_format.overload_words:
            if value.kind is TokenKind.OVERLOAD and is_no_value(value.text):
                raise Refused(NO_VALUE_NOTE)
            return OverRange((value.start, value.end), frozenset())
        if value.kind is not TokenKind.NUMBER:
            raise Refused(kept_text("{key} has no number").format(key=line_format.key))
        return interpret(tokens, value, frozenset(line_format.known_words))
    spans = fields_of(text, line_format.separator)
    if (line_format.fields is not None and len(spans) != line_format.fields) or len(
        spans
    ) < line_format.field:
        note = (
            kept_text("it has one field instead of {expected}, not as when the meter was taught")
            if len(spans) == 1
            else kept_text("it has {n} fields instead of {expected}, not as when the meter was taught")
        )
        raise Refused(note.format(n=len(spans), expected=line_format.fields or line_format.field))
    if inner_control(text):
        raise Refused(kept_text("there is a control character in the middle"))
    tokens, value_token = [], None
    for number, (start, end) in enumerate(spans, 1):
        if number == line_format.field:
            if text[start:end].strip() in line_format.overload_words:
                return OverRange((start, end), frozenset())
            of_field = _tokens_of_field(text, start, end)
            numbers = [token for token in of_field if token.kind is TokenKind.NUMBER]
            marks = [token for token in of_field if token.kind is TokenKind.OVERLOAD]
            if len(numbers) + len(marks) != 1:
                raise Refused(
                    kept_text("two numbers stand in one field")
                    if numbers
                    else kept_text("field {number} has no number").format(number=number)
                )
            value_token = (numbers or marks)[0]
        elif number in line_format.ignored_fields or start == end:
            continue
        else:
            of_field = tokens_of_other_field(text, start, end)
        tokens += of_field
    return interpret(tokens, value_token, frozenset(line_format.known_words))


def is_value_of(key: str, name: Token, token: Token) -> bool:
    """Whether a token is the value of a key.

    Args:
        key: the name that is looked for, as the line format has it.
        name: the token in front.
        token: the token that follows it.
    """
    return name.kind is TokenKind.NAME and name.text == key and token.kind is not TokenKind.NAME


def fields_of(text: str, separator: SeparatorName) -> list[tuple[int, int]]:
    """Where the fields of a line are: start and end of each."""
    char = SEPARATORS[separator]
    if not char:
        return [(0, len(text))]
    if char == " ":
        return [match.span() for match in re.finditer(r"[^ \t\x00]+", text)]
    spans, start = [], 0
    for piece in text.split(char):
        spans.append((start, start + len(piece)))
        start += len(piece) + 1
    return spans


def _tokens_of_field(text: str, start: int, end: int) -> list[Token]:
    return [token.moved(start) for token in tokens_of(text[start:end])]


def tokens_of_other_field(text: str, start: int, end: int) -> list[Token]:
    """The tokens of a field that is not the value; one that makes no sense is one word, unknown.

    Args:
        text: the whole line.
        start: index of the field's first character.
        end: index after its last character.
    """
    with contextlib.suppress(Refused):
        tokens = _tokens_of_field(text, start, end)
        in_front = next((token for token, after in pairwise(tokens) if after.gap == GLUED), None)
        # "X1" is a word of its own.
        is_name = (
            in_front is not None
            and in_front.kind is TokenKind.WORD
            and (
                len(in_front.text) == 1
                or meaning_of(in_front.text).role not in (Role.UNIT, Role.KIND, Role.FUNCTION)
            )
        )
        if not is_name:
            return tokens
    return [Token(TokenKind.WORD, text[start:end].strip(), start, end, FIELD)]
