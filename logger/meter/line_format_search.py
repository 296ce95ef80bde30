"""Find the format of a meter's lines from what its display shows.

In: lines and what the display shows ("0.273", "273 mV"). Out: the candidates for the format of the lines.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import pairwise

from logger.errors import StillvoltError
from logger.meter.interpretation import NotAcVolts, OverRange
from logger.meter.line_format import SEPARATORS, LineFormat
from logger.meter.line_format_reader import (
    fields_of,
    interpret_by_format,
    is_value_of,
    reader_of,
    tokens_of_other_field,
)
from logger.meter.lines import LineStatus, read_line
from logger.meter.tokens import Refused, Token, TokenKind, decode, tokens_of
from logger.meter.unit_watch import has_unit
from logger.meter.vocabulary import NEVER_TAUGHT, Quantity, Role, meaning_of
from logger.name_list import listed
from logger.translation import shown_number, tr

MAX_FIELD_WORDS = 3
"""A field with more different unknown texts than this is no state of the meter and is not looked at."""

NEAR = Decimal("0.05")
"""The display may have moved by this part between being looked at and being typed."""

SHARE_ALIKE = 0.8
"""At least this share of the lines must have the form that is offered."""

MIN_EXPONENT, MAX_EXPONENT = -9, 3
"""Scales offered: nanovolts to kilovolts."""

COUNTS_OF_MILLIVOLTS_FROM = 100
"""A display that shows a number of this size or more without a unit is in millivolts as likely as in volts."""

USUAL_EXPONENTS = range(-5, 1)
"""Scales that are taken without a question: counts of 10 uV, the least that a display shows whose reading of a body
means anything, to volts. Any other is most likely a slip in the unit that was typed (common practice, no source)."""

UNIT_POWERS = 3
"""A number that is written with a point differs from the display by its unit, if at all: by so many powers of ten, or
by twice as many. Counts, which have no point, may be of any scale."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A format that fits what the display showed.

    Args:
        line_format: None where `read_line` reads these lines rightly by itself.
        volts: its value in the newest line that has one.
        span: where in that line (decoded) the number stands.
        is_exact: some line says what was typed to its last digit; else one is near it.
    """

    line_format: LineFormat | None
    volts: float
    span: tuple[int, int]
    is_exact: bool

    def describe(self) -> str:
        """For the user: which part of the line it is."""
        return (
            self.line_format.describe()
            if self.line_format
            else tr("the number that the line itself points out")
        )


def matching_formats(lines: Sequence[bytes], shown: str, among: Sequence[Candidate] = ()) -> list[Candidate]:
    """Find which number of the meter's lines its display shows, and in what scale.

    Args:
        lines: what the meter sent last, oldest first, without terminators.
        shown: what its display shows now; without a unit it is volts.
        among: only forms that an earlier call gave, to decide between them.

    Returns:
        The forms that fit, the likeliest first: those that match to the last digit, else those near it. None when
        nothing fits. With more than one, `how_to_decide` tells how to go on.

    Raises:
        StillvoltError: what was typed is no number, or zero.
    """
    display = _display(shown)
    # A unit, a name or a prompt may stand on lines of their own between those with the values.
    lines = [line for line in lines if any(0x30 <= byte <= 0x39 for byte in line)]
    forms: list[LineFormat | None] = [candidate.line_format for candidate in among] or [None, *_forms(lines)]
    found: list[Candidate] = []
    for form in forms:
        numbers = list(_numbers(form, lines))
        # A form for the odd line is none for the meter.
        if len(numbers) >= SHARE_ALIKE * len(lines):
            found += _fitting(form, numbers, display, scaled=bool(among))
    exact = [candidate for candidate in found if candidate.is_exact] or found
    if exact and exact[0].line_format is None:
        first = exact[0]
        if _display(shown).exponent is not None:
            # Of a number without a unit it is kept that somebody has said in which unit it is.
            first = next((c for c in exact if (c.span, c.volts) == (first.span, first.volts) and
                          c.line_format is not None and _is_bare(first.span, lines)), first)  # fmt: skip
        # The same number in another unit: 273 alone, on a display that says mV.
        return [first, *(c for c in exact if c.span == first.span and c.volts != first.volts)][:2]
    seen: set[tuple[tuple[int, int], float]] = set()
    return [
        candidate
        for candidate in exact
        # The same number of the line, told apart by another separator, is no other candidate.
        if (key := (candidate.span, candidate.volts)) not in seen and not seen.add(key)  # type: ignore[func-returns-value]
    ]


def how_to_decide(candidates: Sequence[Candidate], lines: Sequence[bytes]) -> str:
    """For the user: what has to be looked at next to decide between the candidates; empty when it is decided."""
    if len(candidates) < 2:
        return ""
    if len({candidate.span for candidate in candidates}) == 1:
        form = candidates[0].line_format
        if form is None or _exponent(form) in USUAL_EXPONENTS:
            return tr("Type it once more with the unit that the display shows (V or mV).")
        return tr(
            "By what was typed the number on the line is to be multiplied by {factor} to give volts: no usual meter "
            "sends such numbers, so the unit may be mistyped. Type it once more with the unit that the display shows "
            "(V or mV)."
        ).format(factor=shown_number(f"{form.scale:g}"))
    first, second = candidates[:2]
    if _readings(first, lines) == _readings(second, lines):
        return tr(
            "So far {one} and {other} always say the same. Let the voltage change, then type what the display shows; "
            "if they still agree, take the first."
        ).format(one=first.describe(), other=second.describe())
    readings = listed(
        [
            tr("{number} reads {volts} V").format(
                number=candidate.describe(), volts=shown_number(f"{candidate.volts:g}")
            )
            for candidate in candidates[:4]
        ]
    )
    return tr("Let the voltage change, then type what the display shows: now {readings}.").format(
        readings=readings
    )


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
class _NumberOnLine:
    """The value of one line by a form, before any scale."""

    number: Decimal
    count: Decimal
    exponent: int
    has_unit: bool
    span: tuple[int, int]


def _display(shown: str) -> _Display:
    refused = StillvoltError(
        tr("{typed} is no voltage.").format(typed=repr(shown.strip())),
        next_step=tr("Type what the display shows, for example 0.273 or 273 mV."),
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
            tr("Every number can be zero."),
            next_step=tr("Hold the probe so that the display shows something else, and type that."),
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
        widths = Counter(len(fields_of(text, separator)) for text in texts)
        if not widths:
            return
        fields, alike = widths.most_common(1)[0]
        if alike < enough or (fields == 1) != (separator == "none"):
            continue
        rows = [[text[a:b].strip() for a, b in spans] for text in texts
                if len(spans := fields_of(text, separator)) == fields]  # fmt: skip
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
        named = Counter(name.text for name, token in pairwise(tokens) if is_value_of(name.text, name, token))
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
    """The words of a field that a format has to know of."""
    if not field:
        return set()
    tokens = tokens_of_other_field(field, 0, len(field))
    return {t.text for t in tokens if t.kind is TokenKind.WORD and _is_strange(t, with_units)}


_STRANGE = frozenset({Role.UNKNOWN, Role.OTHER_NAME, Role.VALUE_NAME, Role.LOW})
"""Words that `read_line` does not know."""


def _is_strange(token: Token, with_units: bool = True) -> bool:
    meaning = meaning_of(token.text)
    if token.text.upper() in NEVER_TAUGHT:
        return False
    return meaning.role in _STRANGE or (
        with_units and meaning.role is Role.UNIT and meaning.quantity is Quantity.VOLTS
    )


def _numbers(form: LineFormat | None, lines: Sequence[bytes]) -> Iterator[_NumberOnLine | None]:
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
                yield _NumberOnLine(
                    number.scaleb(-exponent), count.scaleb(-exponent), exponent, True, reading.number_span
                )
            continue
        try:
            found = interpret_by_format(form, raw)
        except (Refused, NotAcVolts):
            continue
        if isinstance(found, OverRange):
            yield None
            continue
        number = Decimal(found.token.text)
        span = (found.token.start, found.token.end)
        yield _NumberOnLine(number, _count(number), found.exponent, found.has_unit, span)


def _fitting(
    form: LineFormat | None, numbers: list[_NumberOnLine | None], display: _Display, scaled: bool
) -> Iterator[Candidate]:
    """The scales in which a form says what the display shows."""
    values = [number for number in numbers if number is not None and number.number > 0]
    if not values:
        return
    newest = values[0]
    for exponent, unit in _scales(form, newest, display, scaled):
        exact = near = False
        for number in values:
            if (
                display.exponent is None
                and newest.has_unit
                and not scaled
                and _is_written_alike(number, display)
            ):
                unit = number.exponent
            shown, count = display.number.scaleb(unit), display.count.scaleb(unit)
            by = number.exponent + exponent
            if number.count.scaleb(by) > max(count, NEAR * shown):
                continue  # too coarse to be what is shown: 3 is not 0.273 in tenths
            off = abs(number.number.scaleb(by) - shown)
            exact |= off < count
            near |= off <= NEAR * shown
        if exact or near:
            volts = float(newest.number.scaleb(newest.exponent + exponent))
            scale = float(Decimal(1).scaleb(exponent))
            decimals = None if newest.has_unit else max(-_exponent_of(number.count) for number in values)
            scaled_form = (
                replace(form, scale=scale, is_bare=bool(exponent), decimals=decimals) if form else None
            )
            yield Candidate(scaled_form, volts, newest.span, exact)


def _exponent_of(count: Decimal) -> int:
    """The power of ten that the last digit of a number is worth."""
    return count.adjusted()


def _scales(
    form: LineFormat | None, newest: _NumberOnLine, display: _Display, scaled: bool
) -> list[tuple[int, int]]:
    """The powers of ten to look at: of the scale, and of the unit that the display is in."""
    unit = display.exponent if display.exponent is not None else 0
    if form is None or newest.has_unit:
        return [(0, unit)]
    if scaled:
        return [(_exponent(form), unit)]
    shown = display.number.scaleb(unit)
    exponent = round((shown / newest.number.scaleb(newest.exponent)).log10())
    found = [(exponent, unit)]
    is_open = exponent > 0 or display.number >= COUNTS_OF_MILLIVOLTS_FROM
    if display.exponent is None and is_open:
        found.append((exponent - UNIT_POWERS, -3))
    elif exponent not in USUAL_EXPONENTS:
        # What the same digits are with another unit on the display.
        usual = [exponent + by for by in (UNIT_POWERS, 2 * UNIT_POWERS, -UNIT_POWERS, -2 * UNIT_POWERS)]
        found += [(one, unit + one - exponent) for one in usual if one in USUAL_EXPONENTS]
    has_point = newest.count < 1
    return [
        pair
        for pair in found
        if MIN_EXPONENT <= pair[0] <= MAX_EXPONENT and not (has_point and pair[0] % UNIT_POWERS)
    ]


def _exponent(form: LineFormat) -> int:
    """The power of ten of a form's scale."""
    return round(Decimal(repr(form.scale)).log10())


def _is_bare(span: tuple[int, int], lines: Sequence[bytes]) -> bool:
    """Whether the newest line that has its number at a place says nothing of a unit of volts.

    Args:
        span: the place.
        lines: oldest first.
    """
    readings = ((raw, read_line(raw)) for raw in reversed(lines))
    newest = next(((raw, reading) for raw, reading in readings if reading.number_span == span), None)
    return newest is not None and not has_unit(*newest)


def _is_written_alike(on_line: _NumberOnLine, display: _Display) -> bool:
    """Whether the display, typed without its unit, shows the digits of the line."""
    return abs(on_line.number - display.number) <= NEAR * display.number


def _readings(candidate: Candidate, lines: Sequence[bytes]) -> list[float | None]:
    read = reader_of(candidate.line_format) if candidate.line_format else read_line
    return [read(raw).volts for raw in lines]


def _count(number: Decimal) -> Decimal:
    """The value of a number's last digit."""
    exponent = number.as_tuple().exponent
    return Decimal(1).scaleb(exponent if isinstance(exponent, int) else 0)
