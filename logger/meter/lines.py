"""One line of a meter, read: AC rms volts, an overload, something that is not AC volts, or unreadable.

In: the bytes of a line without its terminator. Out: a `LineReading`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from typing import BinaryIO

from logger.meter.splitter import MAX_LINE_BYTES, LineSplitter
from logger.meter.tokens import FIELD, GLUED, Refused, Token, TokenKind, decode, tokens_of
from logger.meter.words import BESIDE_VOLTS, Kind, Meaning, Quantity, Role, meaning_of, meanings_of_name

MAX_VOLTS = 100_000.0
"""No meter with any probe shows more; a larger number is a damaged one."""

INFINITY_VOLTS = 9.9e37
"""SCPI-1999 volume 1, 7.2.1.4 and 7.2.1.5: +-9.9E37 stands for infinity, 9.91E37 for not a number."""
NOT_A_NUMBER_VOLTS = 9.91e37


class LineStatus(StrEnum):
    """How a line was read. Only VOLTS is a sample."""

    VOLTS = "volts"
    OVERLOAD = "overload"
    NOT_AC_VOLTS = "not_ac_volts"
    UNREADABLE = "unreadable"


class LineFlag(StrEnum):
    """What else a line says about its value; the text completes "the meter ..."."""

    HOLD = "holds its display; release HOLD"
    EXTREME = "shows a minimum, maximum or average, not the value of this moment"
    RELATIVE = "shows the difference from a stored value; switch REL off"
    LOW_IMPEDANCE = "has its low input impedance on, which takes the body voltage away"
    LOW_BATTERY = "has a low battery"


NOT_LIVE = frozenset({LineFlag.HOLD, LineFlag.EXTREME, LineFlag.RELATIVE})


@dataclass(frozen=True, slots=True)
class LineReading:
    """A line as it was read.

    Args:
        status: how it was read.
        volts: AC rms volts, for VOLTS only.
        note: a fragment of a sentence for the user: why the line is no sample, or what the flags say.
        number_span: where in the decoded line (UTF-8, else Latin 1) the number stands.
        flags: what else the line says about its value.
    """

    status: LineStatus
    volts: float | None = None
    note: str = ""
    number_span: tuple[int, int] | None = None
    flags: frozenset[LineFlag] = frozenset()

    @property
    def is_live(self) -> bool:
        """Whether the volts are those of this moment: a held display is flat and would look settled."""
        return self.status is LineStatus.VOLTS and not self.flags & NOT_LIVE


def read_line(raw: bytes) -> LineReading:
    """Read one line, without its terminator."""
    match = _COMMON(raw)
    if match:
        number, unit = match.groups()
        volts = float(number) * _COMMON_SCALE[unit]
        if volts <= MAX_VOLTS:
            return LineReading(LineStatus.VOLTS, volts, "", match.span(1))
    return read_any_line(raw)


_COMMON = re.compile(
    rb"(?:\x00*[ \t]*)(\+?[0-9]{1,12}\.[0-9]{1,12}(?:[eE][+-][0-9]{1,2})?) ?(mV|uV|V)?(?: ?AC| ?RMS| ?rms|~)?[ \t]*"
).fullmatch
"""The commonest forms; whatever does not match is read by `read_any_line`, which gives the same for these."""

_COMMON_SCALE = {None: 1.0, b"V": 1.0, b"mV": 1e-3, b"uV": 1e-6}


def read_stream(stream: BinaryIO) -> Iterator[LineReading]:
    """Read every line of a recorded stream. Empty lines are no lines: they come from CR LF and from pauses."""
    splitter = LineSplitter()
    while piece := stream.read(65_536):
        yield from _read_all(splitter.feed(piece))
    rest = splitter.flush()
    if rest:
        # A file may end without a terminator; its last line is whole all the same.
        yield read_line(rest)


def _read_all(pieces: Iterable[tuple[bytes, bool]]) -> Iterator[LineReading]:
    for line, whole in pieces:
        yield (
            read_line(line)
            if whole
            else LineReading(LineStatus.UNREADABLE, note="the line was cut off or had no end")
        )


def read_any_line(raw: bytes) -> LineReading:
    """`read_line` without its short cut for the commonest forms."""
    if len(raw) > MAX_LINE_BYTES:
        return LineReading(LineStatus.UNREADABLE, note="the line is too long")
    try:
        return _Line(tokens_of(decode(raw))).read()
    except Refused as refused:
        return LineReading(LineStatus.UNREADABLE, note=str(refused))
    except _NotAcVolts as other:
        return LineReading(LineStatus.NOT_AC_VOLTS, note=str(other))


@dataclass(slots=True)
class _Number:
    token: Token
    unit: Meaning | None = None
    name: Meaning | None = None
    """What a name in front of it says; None without one."""

    @property
    def value(self) -> float:
        return float(self.token.text)

    @property
    def is_count(self) -> bool:
        """Whether it may be a counter or a state: digits and nothing else."""
        return self.token.text.isdigit()

    @property
    def quantity(self) -> Quantity | None:
        if self.name is not None and self.name.role is Role.FUNCTION:
            return self.name.quantity
        return self.unit.quantity if self.unit else None

    @property
    def is_beside(self) -> bool:
        """Whether its name says that it is not the value."""
        return self.name is not None and self.name.role in (Role.OTHER_NAME, Role.EXTREME, Role.BATTERY)


@dataclass(slots=True)
class _Run:
    """The words between two numbers."""

    words: list[tuple[Meaning, Token]] = field(default_factory=list)

    def of(self, *roles: Role) -> list[Meaning]:
        return [meaning for meaning, _ in self.words if meaning.role in roles]


class _Line:
    """Works out what the tokens of one line say together."""

    def __init__(self, tokens: list[Token]) -> None:
        self._numbers: list[_Number] = []
        self._runs: list[_Run] = [_Run()]
        self._flags: set[LineFlag] = set()
        self._kinds: set[Kind] = set()
        self._functions: set[Quantity] = set()
        self._overload: Token | None = None
        self._not_a_number = False
        self._unknown: Token | None = None
        self._glued_unknown = False
        self._time = False
        self._gather(tokens)

    # Gathering: numbers with their names, and runs of words between them.

    def _gather(self, tokens: list[Token]) -> None:
        name: tuple[Meaning, ...] | None = None
        previous: Token | None = None
        for token in tokens:
            if token.kind is TokenKind.NAME:
                name = meanings_of_name(token.text)
            elif token.kind is TokenKind.ASIDE:
                name = None
            elif token.kind is TokenKind.NUMBER:
                if previous is not None and previous.kind is TokenKind.WORD and token.gap == GLUED:
                    self._glued_word(previous)
                self._numbers.append(_Number(token))
                if name is not None:
                    self._name_number(self._numbers[-1], name)
                    name = None
                self._runs.append(_Run())
            elif token.kind is TokenKind.OVERLOAD:
                if not (name and any(meaning.role is Role.OTHER_NAME for meaning in name)):
                    self._overload = token
            else:
                if token.gap == FIELD and previous is not None and previous.kind is not TokenKind.NAME:
                    name = None
                self._word(token, name, previous)
            previous = token

    def _glued_word(self, word: Token) -> None:
        """A word that a number follows without a gap is a prefix; glued to a number before it too, it is a
        damaged digit."""
        if any(number.token.end == word.start for number in self._numbers):
            raise Refused("letters stand inside the number")

    def _name_number(self, number: _Number, name: tuple[Meaning, ...]) -> None:
        kinds = {meaning.kind for meaning in name if meaning.kind}
        for role in (
            Role.OTHER_NAME,
            Role.EXTREME,
            Role.BATTERY,
            Role.LOW,
            Role.STATE_NAME,
            Role.HOLD,
            Role.RELATIVE,
        ):
            if any(meaning.role is role for meaning in name):
                number.name = Meaning(Role.OTHER_NAME)
                return
        if any(meaning.role is Role.OVERLOAD for meaning in name):
            number.name = Meaning(Role.OTHER_NAME)
            if number.value:
                self._overload = number.token
            return
        for meaning in name:
            if meaning.role is Role.FUNCTION:
                number.name = meaning
                return
        for meaning in name:
            if meaning.role is Role.UNIT:
                kind = meaning.kind or (kinds.pop() if len(kinds) == 1 else None)
                number.name = Meaning(Role.UNIT, meaning.quantity, meaning.scale, kind)
                return
        if kinds:
            kind = kinds.pop() if len(kinds) == 1 else Kind.AC_AND_DC
            number.name = Meaning(Role.UNIT, Quantity.VOLTS, 1.0, kind)
        elif any(meaning.role is Role.VALUE_NAME for meaning in name):
            number.name = Meaning(Role.VALUE_NAME)
        else:
            number.name = Meaning(Role.UNKNOWN)

    def _word(self, token: Token, name: tuple[Meaning, ...] | None, previous: Token | None) -> None:
        meaning = meaning_of(token.text)
        role = meaning.role
        if name is not None:
            if role in (Role.TRUE, Role.FALSE):
                self._switch(name, role is Role.TRUE)
                return
            names = {part.role for part in name}
            if Role.OTHER_NAME in names or Role.BATTERY in names:
                if role is Role.LOW and Role.BATTERY in names:
                    self._flags.add(LineFlag.LOW_BATTERY)
                return
            if role is Role.UNKNOWN and names & {Role.STATE_NAME, Role.UNKNOWN}:
                return
            for part in name:
                if part.role in (Role.UNIT, Role.KIND, Role.FUNCTION) and part.kind:
                    self._kinds.add(part.kind)
        if role is Role.OVERLOAD:
            self._overload = token
        elif role is Role.NOT_A_NUMBER:
            self._not_a_number = True
        elif role is Role.UNKNOWN:
            glued = previous is not None and previous.kind is TokenKind.NUMBER and token.gap == GLUED
            self._glued_unknown |= glued
            self._unknown = token
        else:
            self._runs[-1].words.append((meaning, token))

    def _switch(self, name: tuple[Meaning, ...], on: bool) -> None:
        """A field that is true or false."""
        if not on:
            return
        roles = {part.role for part in name}
        if Role.OVERLOAD in roles:
            self._overload = Token(TokenKind.OVERLOAD, "", 0, 0, FIELD)
        if Role.LOW in roles:
            self._flags.add(LineFlag.LOW_BATTERY)
        for role, flag in _FLAG_OF.items():
            if role in roles:
                self._flags.add(flag)
        for part in name:
            if part.kind and part.role in (Role.KIND, Role.UNIT):
                self._kinds.add(part.kind)

    # Binding: which unit, mark and name belongs to which number.

    def read(self) -> LineReading:
        """The line as a whole."""
        if self._glued_unknown:
            raise Refused("something unknown is attached to the number")
        self._take_states()
        self._take_names()
        self._bind_units()
        self._take_marks()
        if self._not_a_number:
            raise Refused("the meter says that it has no number")
        if self._overload is not None:
            return self._read_overload()
        number = self._choose()
        return self._read_number(number)

    def _take_states(self) -> None:
        """HOLD, low battery, REL and the like; what is left are units, marks, functions and names."""
        for index, run in enumerate(self._runs):
            battery = run.of(Role.BATTERY)
            if run.of(Role.LOW) or (battery and index == len(self._runs) - 1):
                self._flags.add(LineFlag.LOW_BATTERY)
            for role in (Role.HOLD, Role.RELATIVE, Role.LOW_IMPEDANCE):
                if run.of(role):
                    self._flags.add(_FLAG_OF[role])
            drop = {
                Role.NOTHING,
                Role.HOLD,
                Role.RELATIVE,
                Role.LOW_IMPEDANCE,
                Role.LOW,
                Role.TRUE,
                Role.FALSE,
            }
            if run.of(Role.LOW):
                drop.add(Role.BATTERY)
            run.words = [word for word in run.words if word[0].role not in drop]

    def _take_names(self) -> None:
        """Names without a sign: "RANGE 4 V", "FREQ 50.0". They stand at the end of a run, before a number."""
        only = len(self._numbers) == 1
        for number, run in zip(self._numbers, self._runs, strict=False):
            while run.words and run.words[-1][0].role in _LOOSE_NAMES:
                meaning, _ = run.words.pop()
                if meaning.role in (Role.EXTREME, Role.BATTERY) and only:
                    self._flags.add(
                        LineFlag.EXTREME if meaning.role is Role.EXTREME else LineFlag.LOW_BATTERY
                    )
                    if meaning.role is Role.BATTERY:
                        number.name = number.name or Meaning(Role.BATTERY)
                elif number.name is None or number.name.role is Role.VALUE_NAME:
                    number.name = meaning
        for run in self._runs:
            if run.of(Role.EXTREME):
                self._flags.add(LineFlag.EXTREME)
            self._functions |= {m.quantity for m in run.of(Role.FUNCTION) if m.quantity}
            run.words = [word for word in run.words if word[0].role in (Role.UNIT, Role.KIND)]

    def _bind_units(self) -> None:
        units = [self._unit_of(run) for run in self._runs]
        first, last = units[0], units[-1]
        numbers = self._numbers
        if not numbers:
            if first:
                self._functions |= {first.quantity} if first.quantity else set()
                self._kinds |= {first.kind} if first.kind else set()
            return
        if len(numbers) == 1:
            numbers[0].unit = _merged(first, last)
            return
        glued = any(run.words and run.words[0][1].gap == GLUED for run in self._runs[1:])
        same = first and units[1] and first.quantity is units[1].quantity
        if first and not last and not glued and not same:
            if any(units[1:-1]) and not all(units[1:-1]):
                raise Refused("it is not clear which number the unit belongs to")
            if all(units[1:-1]) and (units[1] or self._only_value_follows()):
                for number, unit in zip(numbers, units, strict=False):
                    number.unit = unit
                return
            numbers_left = [number for number in numbers if number.name is None]
            value = _the_only_fraction(numbers_left)
            if value is None:
                raise Refused(_two_numbers(numbers_left or numbers))
            value.unit = first
            return
        for index, number in enumerate(numbers):
            number.unit = units[index + 1]
            if number.unit is None or self._runs[index + 1].words[0][1].gap == GLUED:
                continue
            following = numbers[index + 1] if index + 1 < len(numbers) else None
            if following and not units[index + 2] and number.is_count and following.name is None:
                raise Refused("it is not clear which number the unit belongs to")
        if first:
            numbers[0].unit = _merged(first, numbers[0].unit)

    def _only_value_follows(self) -> bool:
        return len(self._numbers) == 1

    def _unit_of(self, run: _Run) -> Meaning | None:
        """The one unit of a run with the marks beside it; None when there is only a mark or nothing."""
        units = run.of(Role.UNIT)
        kinds = {meaning.kind for meaning in run.of(Role.KIND) if meaning.kind}
        if not units:
            return None
        merged = units[0]
        for unit in units[1:]:
            joined = _merged(merged, unit)
            assert joined is not None
            merged = joined
        if merged.kind:
            kinds.add(merged.kind)
        if len(kinds) > 1 and Kind.PEAK not in kinds and Kind.AC_AND_DC not in kinds:
            raise Refused("it says both AC and DC")
        kind = next((k for k in (Kind.PEAK, Kind.AC_AND_DC) if k in kinds), None) or (
            kinds.pop() if kinds else None
        )
        return Meaning(Role.UNIT, merged.quantity, merged.scale, kind)

    def _take_marks(self) -> None:
        """Marks that stand in a run without a unit speak of the whole line."""
        for run in self._runs:
            if not run.of(Role.UNIT):
                self._kinds |= {meaning.kind for meaning in run.of(Role.KIND) if meaning.kind}
        for number in self._numbers:
            if number.name is not None and number.name.role is Role.UNIT:
                number.unit = _merged(number.name, number.unit)

    # Deciding.

    def _read_overload(self) -> LineReading:
        for number in self._numbers:
            if number.quantity is Quantity.VOLTS and not number.is_beside:
                raise Refused("it says overload and gives a number")
            if number.quantity is None and not number.is_beside and not number.is_count:
                raise Refused("it says overload and gives a number")
        self._refuse_other_functions(self._kinds, set())
        assert self._overload is not None
        span = (self._overload.start, self._overload.end)
        return LineReading(
            LineStatus.OVERLOAD, None, "the voltage is above the meter's range", span, frozenset(self._flags)
        )

    def _choose(self) -> _Number:
        """The number that is the value.

        Raises:
            Refused: there is none, or no way to tell.
        """
        numbers = [number for number in self._numbers if not number.is_beside]
        if not numbers:
            if self._functions or self._kinds:
                self._refuse_other_functions(self._kinds, set())
            raise Refused("there is no number in it")
        volts = [number for number in numbers if number.quantity is Quantity.VOLTS]
        if volts:
            alternating = [n for n in volts if n.unit is not None and n.unit.kind is Kind.AC]
            chosen = alternating or volts
            if len({_volts(number) for number in chosen}) > 1:
                raise Refused(_two_numbers(chosen))
            self._check_company(chosen[0])
            return chosen[0]
        bare = [number for number in numbers if number.quantity is None]
        others = {number.quantity for number in numbers if number.quantity is not None}
        if not bare or (len(self._numbers) > 1 and others - BESIDE_VOLTS):
            if bare:
                raise Refused(_two_numbers(numbers))
            return numbers[0]
        named = [n for n in bare if n.name is not None and n.name.role is Role.VALUE_NAME]
        if len(named) == 1:
            return named[0]
        if len(bare) == 1:
            return bare[0]
        value = _the_only_fraction(bare)
        if value is None:
            raise Refused(_two_numbers(bare))
        return value

    def _check_company(self, value: _Number) -> None:
        """Refuse a value with a unit when the numbers before it are no counters: "0.2;3 V" is more likely a
        damaged 0.273 V than two fields."""
        if value.name is not None:
            return
        for number in self._numbers:
            if number is value:
                return
            if number.quantity is not None or number.name is not None:
                continue
            if (
                not number.is_count
                or (value.is_count and value.token.gap < FIELD)
                or value.token.text[0] == "."
            ):
                raise Refused(_two_numbers([number, value]))

    def _read_number(self, number: _Number) -> LineReading:
        unit = number.unit
        kinds = set(self._kinds)
        if unit is not None and unit.kind is not None:
            if kinds and unit.kind not in kinds and unit.kind in (Kind.AC, Kind.DC):
                raise Refused("it says both AC and DC")
            kinds.add(unit.kind)
        if number.quantity not in (None, Quantity.VOLTS):
            self._refuse_other_functions(kinds, {number.quantity})
        self._refuse_other_functions(kinds, set())
        if self._unknown is not None and (unit is None or Kind.AC not in kinds):
            raise Refused(f"{_shown(self._unknown.text)!r} is not known")
        if number.name is not None and number.name.role is Role.UNKNOWN and unit is None:
            raise Refused("the name in front of the number is not known")
        if number.name is not None and number.name.role is Role.BATTERY and Kind.AC not in kinds:
            raise Refused("it may be the voltage of the battery")
        volts = _volts(number)
        if abs(volts) == INFINITY_VOLTS:
            span = (number.token.start, number.token.end)
            return LineReading(LineStatus.OVERLOAD, None, "the voltage is above the meter's range", span)
        if volts == NOT_A_NUMBER_VOLTS:
            raise Refused("the meter says that it has no number")
        if number.token.text[0] == "-":
            raise Refused("an AC voltage is never negative")
        if volts > MAX_VOLTS:
            raise Refused("no meter reads as much")
        if number.token.comma and unit and unit.scale < 1 and _LIKE_THOUSANDS.fullmatch(number.token.text):
            raise Refused("a comma may be a decimal comma or separate thousands")
        flags = frozenset(self._flags)
        note = "; ".join(f"the meter {flag.value}" for flag in sorted(flags))
        return LineReading(LineStatus.VOLTS, volts, note, (number.token.start, number.token.end), flags)

    def _refuse_other_functions(self, kinds: set[Kind], quantities: set[Quantity | None]) -> None:
        """Raise `_NotAcVolts` when the line is about anything but AC volts."""
        others = [q for q in (*quantities, *self._functions) if q not in (None, Quantity.VOLTS)]
        what = ""
        if others:
            what = str(others[0])
        elif Kind.DC in kinds and Kind.AC in kinds:
            raise Refused("it says both AC and DC")
        elif kinds - {Kind.AC}:
            what = f"{next(iter(kinds - {Kind.AC}))} volts"
        if what:
            raise _NotAcVolts(f"the meter sends {what}; switch it to AC volts")


class _NotAcVolts(Exception):
    """The line is read, and is about something else; the message is for the user."""


_FLAG_OF = {
    Role.HOLD: LineFlag.HOLD,
    Role.EXTREME: LineFlag.EXTREME,
    Role.RELATIVE: LineFlag.RELATIVE,
    Role.LOW_IMPEDANCE: LineFlag.LOW_IMPEDANCE,
}
_LOOSE_NAMES = (Role.OTHER_NAME, Role.VALUE_NAME, Role.FUNCTION, Role.EXTREME, Role.BATTERY, Role.STATE_NAME)
_LIKE_THOUSANDS = re.compile(r"\+?[1-9]\d{0,2}\.\d{3}", re.ASCII)


def _merged(one: Meaning | None, other: Meaning | None) -> Meaning | None:
    """Two units that speak of the same number.

    Raises:
        Refused: they contradict each other.
    """
    if one is None or other is None:
        return one or other
    if one.quantity is not other.quantity or one.scale != other.scale:
        raise Refused("it gives two units for one number")
    if one.kind and other.kind and one.kind is not other.kind:
        raise Refused("it says both AC and DC")
    return Meaning(Role.UNIT, one.quantity, one.scale, one.kind or other.kind)


def _volts(number: _Number) -> float:
    """The value times the scale of its unit; as exact as the decimal number that the line shows."""
    if number.unit is None or number.unit.scale == 1.0:
        return number.value
    return number.value * number.unit.scale


def _the_only_fraction(numbers: list[_Number]) -> _Number | None:
    """The value among numbers without units: it comes last, has a decimal point, and what stands before it
    are counters."""
    if not numbers or numbers[-1].is_count or any(not number.is_count for number in numbers[:-1]):
        return None
    text = numbers[-1].token.text
    return numbers[-1] if "." in text and text[0] != "." else None


def _two_numbers(numbers: list[_Number]) -> str:
    shown = [_shown(number.token.text) for number in numbers[:2]]
    return f"two numbers, {' and '.join(shown)}: teach the meter which one its display shows"


def _shown(text: str) -> str:
    return text if len(text) <= 20 else text[:19] + "…"
