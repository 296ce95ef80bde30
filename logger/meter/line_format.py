"""Lines whose value a user has pointed out: which field of the line the display shows, and in what scale.

In: lines and what the display shows ("0.273", "273 mV"). Out: the candidates for the form of the lines. In with a
form: the bytes of a line. Out: a `LineReading`, read with the same care as lines that explain themselves: a
damaged byte is never a value, and the meter's words (OL, HOLD, DC) keep their meaning.

`read_line` finds the value by itself wherever the line says which number it is. A taught form is for the others:
two numbers alike, counts without a unit, words nobody knows.
"""

from __future__ import annotations

import contextlib
import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import pairwise
from typing import Literal

from logger.diagnostics import log_exception
from logger.errors import StillvoltError
from logger.meter.interpretation import NotAcVolts, OverRange, Value, interpret
from logger.meter.lines import (
    MISTAKE_NOTE,
    OVERLOAD_NOTE,
    LineReading,
    LineStatus,
    checked_volts,
    flags_note,
    read_any_line,
    read_line,
)
from logger.meter.splitter import MAX_LINE_BYTES
from logger.meter.tokens import FIELD, GLUED, Refused, Token, TokenKind, decode, inner_control, tokens_of
from logger.meter.vocabulary import Quantity, Role, meaning_of

SeparatorName = Literal["tab", "semicolon", "bar", "comma", "space", "none"]
SEPARATORS: dict[SeparatorName, str] = {
    "tab": "\t",
    "semicolon": ";",
    "bar": "|",
    "comma": ",",
    "space": " ",
    "none": "",
}
"""Names of what separates fields, the surest first. `space` is any number of spaces; `none`: one field."""

MAX_FIELD_WORDS = 3
"""A field with more different unknown texts than this is no state of the meter and is not looked at."""

NEAR = Decimal("0.05")
"""The display may have moved by this part between being looked at and being typed."""

SHARE_ALIKE = 0.8
"""At least this share of the lines must have the form that is offered."""

MIN_EXPONENT, MAX_EXPONENT = -9, 3
"""Scales offered: nanovolts to kilovolts."""

COUNTS_OF_MILLIVOLTS_FROM = 100
"""A display that shows a whole number of this size or more without a unit is in millivolts as likely as in volts."""


@dataclass(frozen=True, slots=True)
class LineFormat:
    """Where in a line the value stands.

    Args:
        separator: name in `SEPARATORS`; for a line of fields.
        field: which field is the value, counted from 1.
        fields: how many fields a line has; another number is a damaged line. None: any number.
        key: name of the value, for lines with names (key=value, JSON); then separator, field, fields are not used.
        occurrence, occurrences: which of the values of this name, and how many there are.
        scale: volts for 1 of the number in the unit that the line gives it (in volts when it gives none).
        known_words: words of unknown meaning that may stand on the line, and units beside other numbers.
        ignored_fields: fields that are not looked at, counted from 1.
        overload_words: texts of the value that mean overload, beside those known anyway ("99999").
    """

    separator: SeparatorName = "none"
    field: int = 1
    fields: int | None = None
    key: str | None = None
    occurrence: int = 1
    occurrences: int = 1
    scale: float = 1.0
    known_words: tuple[str, ...] = ()
    ignored_fields: tuple[int, ...] = ()
    overload_words: tuple[str, ...] = ()

    def reader(self) -> Callable[[bytes], LineReading]:
        """What reads lines of this form; used like `read_line`."""
        return lambda raw: read_taught(self, raw)

    def says(self) -> str:
        """For the user: which part of the line, in which scale."""
        if self.key is not None:
            which = f"the value named {self.key}" if self.occurrences == 1 else (
                f"value {self.occurrence} of the {self.occurrences} named {self.key}"
            )  # fmt: skip
        else:
            which = "the number on the line" if self.separator == "none" else f"field {self.field}"
        return which if self.scale == 1.0 else f"{which}, times {self.scale:g}"


@dataclass(frozen=True, slots=True)
class Candidate:
    """A form that fits what the display showed.

    Args:
        form: None where `read_line` reads these lines rightly by itself.
        volts: its value in the newest line that has one.
        span: where in that line (decoded) the number stands.
        is_exact: some line says what was typed to its last digit; else one is near it.
    """

    form: LineFormat | None
    volts: float
    span: tuple[int, int]
    is_exact: bool

    def says(self) -> str:
        """For the user: which part of the line it is."""
        return self.form.says() if self.form else "the number that the line itself points out"


def read_taught(form: LineFormat, raw: bytes) -> LineReading:
    """Read one line, without its terminator, by a taught form."""
    if len(raw) > MAX_LINE_BYTES:
        return LineReading(LineStatus.UNREADABLE, note="the line is too long")
    try:
        sense = _sense(form, raw)
        if isinstance(sense, OverRange):
            return LineReading(LineStatus.OVERLOAD, None, OVERLOAD_NOTE, sense.span, sense.flags)
        volts = checked_volts(sense, form.scale)
    except Refused as refused:
        # A line of another form may still say that there is an overload, or what the meter's knob was turned to.
        without = read_any_line(raw)
        if without.status in (LineStatus.OVERLOAD, LineStatus.NOT_AC_VOLTS):
            return without
        return LineReading(LineStatus.UNREADABLE, note=str(refused))
    except NotAcVolts as other:
        return LineReading(LineStatus.NOT_AC_VOLTS, note=str(other))
    except Exception:  # as in `read_line`: one line must not end a night's recording
        log_exception(f"reading the line {raw!r} by {form}")
        return LineReading(LineStatus.UNREADABLE, note=MISTAKE_NOTE)
    span = (sense.token.start, sense.token.end)
    if volts is None:
        return LineReading(LineStatus.OVERLOAD, None, OVERLOAD_NOTE, span, sense.flags)
    return LineReading(LineStatus.VOLTS, volts, flags_note(sense.flags), span, sense.flags)


def teach(lines: Sequence[bytes], shown: str, among: Sequence[Candidate] = ()) -> list[Candidate]:
    """Find which number of the meter's lines its display shows, and in what scale.

    Args:
        lines: what the meter sent last, oldest first, without terminators.
        shown: what its display shows now; without a unit it is volts.
        among: only forms that an earlier call gave, to decide between them.

    Returns:
        The forms that fit, the likeliest first: those that match to the last digit, else those near it. None when
        nothing fits. With more than one, `what_decides` tells how to go on.

    Raises:
        StillvoltError: what was typed is no number, or zero.
    """
    display = _display(shown)
    forms: list[LineFormat | None] = [candidate.form for candidate in among] or [None, *_forms(lines)]
    found: list[Candidate] = []
    for form in forms:
        numbers = list(_numbers(form, lines))
        # A form for the odd line is none for the meter.
        if len(numbers) >= SHARE_ALIKE * len(lines):
            found += _fitting(form, numbers, display, scaled=bool(among))
    exact = [candidate for candidate in found if candidate.is_exact] or found
    if exact and exact[0].form is None:
        first = exact[0]
        # The same number in another unit: 273 alone, on a display that says mV.
        return [first, *(c for c in exact if c.span == first.span and c.volts != first.volts)][:2]
    seen: set[tuple[tuple[int, int], float]] = set()
    return [
        candidate
        for candidate in exact
        # The same number of the line, told apart by another separator, is no other candidate.
        if (key := (candidate.span, candidate.volts)) not in seen and not seen.add(key)  # type: ignore[func-returns-value]
    ]


def what_decides(candidates: Sequence[Candidate], lines: Sequence[bytes]) -> str:
    """For the user: what has to be looked at next to decide between the candidates; empty when it is decided."""
    if len(candidates) < 2:
        return ""
    if len({candidate.span for candidate in candidates}) == 1:
        return "Type it once more with the unit that the display shows (V or mV)."
    first, second = candidates[:2]
    if _courses(first, lines) == _courses(second, lines):
        return (
            f"So far {first.says()} and {second.says()} always say the same. Let the voltage change, then type what "
            "the display shows; if they still agree, take the first."
        )
    said = ", ".join(f"{candidate.says()} reads {candidate.volts:g} V" for candidate in candidates[:4])
    return f"Let the voltage change, then type what the display shows: now {said}."


# Reading by a form.


def _sense(form: LineFormat, raw: bytes) -> Value | OverRange:
    text = decode(raw)
    if form.key is not None:
        tokens = tokens_of(text)
        values = [token for name, token in pairwise(tokens) if _is_value_of(form.key, name, token)]
        if len(values) != form.occurrences:
            raise Refused(f"{form.key} is not on the line as it was when the meter was taught")
        value = values[form.occurrence - 1]
        if value.kind is TokenKind.OVERLOAD or text[value.start : value.end] in form.overload_words:
            return OverRange((value.start, value.end), frozenset())
        if value.kind is not TokenKind.NUMBER:
            raise Refused(f"{form.key} has no number")
        return interpret(tokens, value, frozenset(form.known_words))
    spans = _fields(text, form.separator)
    if (form.fields is not None and len(spans) != form.fields) or len(spans) < form.field:
        raise Refused(
            f"it has {len(spans)} fields, not {form.fields or form.field} as when the meter was taught"
        )
    if inner_control(text):
        raise Refused("there is a control character in the middle")
    tokens, value_token = [], None
    for number, (start, end) in enumerate(spans, 1):
        if number == form.field:
            if text[start:end].strip() in form.overload_words:
                return OverRange((start, end), frozenset())
            of_field = _tokens_of_field(text, start, end)
            numbers = [token for token in of_field if token.kind is TokenKind.NUMBER]
            marks = [token for token in of_field if token.kind is TokenKind.OVERLOAD]
            if len(numbers) + len(marks) != 1:
                raise Refused(
                    f"field {number} has no number" if not numbers else "two numbers stand in one field"
                )
            value_token = (numbers or marks)[0]
        elif number in form.ignored_fields or start == end:
            continue
        else:
            of_field = _other_field(text, start, end)
        tokens += of_field
    return interpret(tokens, value_token, frozenset(form.known_words))


def _is_value_of(key: str, name: Token, token: Token) -> bool:
    return name.kind is TokenKind.NAME and name.text == key and token.kind is not TokenKind.NAME


def _fields(text: str, separator: SeparatorName) -> list[tuple[int, int]]:
    """Where the fields of a line stand."""
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


def _other_field(text: str, start: int, end: int) -> list[Token]:
    """The tokens of a field that is not the value; one that makes no sense is one word, unknown."""
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


# Finding a form.


@dataclass(frozen=True, slots=True)
class _Display:
    """What the display shows: the number, its last digit, and the power of ten of its unit if one was typed."""

    number: Decimal
    count: Decimal
    exponent: int | None

    @property
    def is_whole(self) -> bool:
        return self.count == 1


@dataclass(frozen=True, slots=True)
class _Seen:
    """The value of one line by a form, before any scale."""

    number: Decimal
    count: Decimal
    exponent: int
    has_unit: bool
    span: tuple[int, int]


def _display(shown: str) -> _Display:
    refused = StillvoltError(
        f"{shown.strip()!r} is no voltage.",
        next_step="Type what the display shows, for example 0.273 or 273 mV.",
    )
    try:
        tokens = tokens_of(shown.strip().removeprefix("+").lstrip("~ "))
        numbers = [token for token in tokens if token.kind is TokenKind.NUMBER]
        words = [meaning_of(token.text) for token in tokens if token.kind is TokenKind.WORD]
    except Refused:
        raise refused from None
    units = [word for word in words if word.role is Role.UNIT and word.quantity is Quantity.VOLTS]
    strangers = [word for word in words if word.role is not Role.KIND and word not in units]
    if len(numbers) != 1 or len(units) > 1 or strangers or len(tokens) != len(numbers) + len(words):
        raise refused
    number = Decimal(numbers[0].text)
    if number < 0:
        raise refused
    if not number:
        raise StillvoltError(
            "Every number can be zero.",
            next_step="Hold the probe so that the display shows something else, and type that.",
        )
    return _Display(number, _count(number), units[0].exponent if units else None)


def _forms(lines: Sequence[bytes]) -> Iterator[LineFormat]:
    """All forms that the lines may have, the surest first."""
    texts = []
    for raw in lines:
        try:
            texts.append(decode(raw).strip("\x00 "))
        except Refused:
            continue
    enough = SHARE_ALIKE * len(lines)
    yield from _key_forms(texts, enough)
    for separator in SEPARATORS:
        widths = Counter(len(_fields(text, separator)) for text in texts)
        if not widths:
            return
        fields, alike = widths.most_common(1)[0]
        if alike < enough or (fields == 1) != (separator == "none"):
            continue
        rows = [[text[a:b].strip() for a, b in spans] for text in texts
                if len(spans := _fields(text, separator)) == fields]  # fmt: skip
        for field in range(1, fields + 1):
            others = [n for n in range(1, fields + 1) if n != field]
            strange = {n: {word for row in rows for word in _strange_words(row[n - 1])} for n in others}
            words = {word for found in strange.values() if len(found) <= MAX_FIELD_WORDS for word in found}
            words |= {word for row in rows for word in _strange_words(row[field - 1], with_units=False)}
            yield LineFormat(
                separator,
                field,
                fields,
                known_words=tuple(sorted(words)),
                ignored_fields=tuple(n for n, found in strange.items() if len(found) > MAX_FIELD_WORDS),
            )


def _key_forms(texts: list[str], enough: float) -> Iterator[LineFormat]:
    counts: Counter[tuple[str, int]] = Counter()
    words: set[str] = set()
    for text in texts:
        try:
            tokens = tokens_of(text)
        except Refused:
            continue
        named = Counter(name.text for name, token in pairwise(tokens) if _is_value_of(name.text, name, token))
        counts.update(named.items())
        words |= {token.text for token in tokens if token.kind is TokenKind.WORD and _is_strange(token)}
    for (key, occurrences), alike in counts.items():
        if alike >= enough:
            for occurrence in range(1, occurrences + 1):
                yield LineFormat(
                    key=key,
                    occurrence=occurrence,
                    occurrences=occurrences,
                    known_words=tuple(sorted(words)),
                )


def _strange_words(field: str, with_units: bool = True) -> set[str]:
    """The words of a field that a taught form has to know of."""
    if not field:
        return set()
    tokens = _other_field(field, 0, len(field))
    return {t.text for t in tokens if t.kind is TokenKind.WORD and _is_strange(t, with_units)}


_STRANGE = frozenset({Role.UNKNOWN, Role.OTHER_NAME, Role.VALUE_NAME, Role.LOW})
"""Words that would make `read_line` wonder."""


def _is_strange(token: Token, with_units: bool = True) -> bool:
    meaning = meaning_of(token.text)
    return meaning.role in _STRANGE or (
        with_units and meaning.role is Role.UNIT and meaning.quantity is Quantity.VOLTS
    )


def _numbers(form: LineFormat | None, lines: Sequence[bytes]) -> Iterator[_Seen | None]:
    """What each line says by a form, newest first; None for an overload; lines that do not fit are left out."""
    for raw in reversed(lines):
        if form is None:
            reading = read_line(raw)
            if reading.status is LineStatus.OVERLOAD:
                yield None
            elif reading.volts is not None and reading.number_span is not None:
                number = Decimal(repr(reading.volts))
                as_shown = Decimal(
                    decode(raw)[slice(*reading.number_span)].replace(" ", "").replace(",", ".")
                )
                exponent = number.adjusted() - as_shown.adjusted() if number else 0
                count = _count(as_shown).scaleb(exponent)
                yield _Seen(
                    number.scaleb(-exponent), count.scaleb(-exponent), exponent, True, reading.number_span
                )
            continue
        try:
            sense = _sense(form, raw)
        except (Refused, NotAcVolts):
            continue
        if isinstance(sense, OverRange):
            yield None
            continue
        number = Decimal(sense.token.text)
        span = (sense.token.start, sense.token.end)
        yield _Seen(number, _count(number), sense.exponent, sense.has_unit, span)


def _fitting(
    form: LineFormat | None, numbers: list[_Seen | None], display: _Display, scaled: bool
) -> Iterator[Candidate]:
    """The scales in which a form says what the display shows."""
    values = [seen for seen in numbers if seen is not None and seen.number > 0]
    if not values:
        return
    newest = values[0]
    for exponent, unit in _scales(form, newest, display, scaled):
        exact = near = False
        for seen in values:
            if (
                display.exponent is None
                and newest.has_unit
                and not scaled
                and _is_written_alike(seen, display)
            ):
                unit = seen.exponent
            shown, count = display.number.scaleb(unit), display.count.scaleb(unit)
            by = seen.exponent + exponent
            if seen.count.scaleb(by) > max(count, NEAR * shown):
                continue  # too coarse to be what is shown: 3 is not 0.273 in tenths
            off = abs(seen.number.scaleb(by) - shown)
            exact |= off < count
            near |= off <= NEAR * shown
        if exact or near:
            volts = float(newest.number.scaleb(newest.exponent + exponent))
            scale = float(Decimal(1).scaleb(exponent))
            yield Candidate(replace(form, scale=scale) if form else None, volts, newest.span, exact)


def _scales(form: LineFormat | None, newest: _Seen, display: _Display, scaled: bool) -> list[tuple[int, int]]:
    """The powers of ten to look at: of the scale, and of the unit that the display is in."""
    unit = display.exponent if display.exponent is not None else 0
    if form is None or newest.has_unit:
        return [(0, unit)]
    if scaled:
        return [(round(Decimal(repr(form.scale)).log10()), unit)]
    shown = display.number.scaleb(unit)
    exponent = round((shown / newest.number.scaleb(newest.exponent)).log10())
    found = [(exponent, unit)]
    if exponent == 0 and display.exponent is None and display.is_whole and (
        display.number >= COUNTS_OF_MILLIVOLTS_FROM
    ):  # fmt: skip
        found.append((-3, -3))
    return [pair for pair in found if MIN_EXPONENT <= pair[0] <= MAX_EXPONENT]


def _is_written_alike(seen: _Seen, display: _Display) -> bool:
    """Whether the display, typed without its unit, shows the digits of the line."""
    return abs(seen.number - display.number) <= NEAR * display.number


def _courses(candidate: Candidate, lines: Sequence[bytes]) -> list[float | None]:
    read = candidate.form.reader() if candidate.form else read_line
    return [read(raw).volts for raw in lines]


def _count(number: Decimal) -> Decimal:
    """The value of a number's last digit."""
    exponent = number.as_tuple().exponent
    return Decimal(1).scaleb(exponent if isinstance(exponent, int) else 0)
