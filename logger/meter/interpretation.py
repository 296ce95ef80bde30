"""What the numbers and words of one line say together: which number is the value, and of what.

In: the tokens of a line. Out: `Value` or `OverRange`, or an exception with the reason for the user: `Refused`
(it cannot be told) or `NotAcVolts` (it can, and it is something else).

The words between two numbers form a run. A run's unit belongs to the number before it ("0.273 V, 50.0 Hz") or,
where the line begins with a unit and does not end with one, to the number after it ("V 0.273 Hz 50.0"). A name
with a sign ("V=0.273", a JSON object) always belongs to what follows. Marks that stand without a unit (AC, DC)
speak of the whole line.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from logger.meter.tokens import FIELD, GLUED, SPACE, Refused, Token, TokenKind
from logger.meter.vocabulary import (
    BESIDE_VOLTS,
    Meaning,
    Quantity,
    Role,
    WordKind,
    meaning_of,
    meanings_of_name,
)


class NotAcVolts(Exception):
    """The line is read, and is about something else; the message is for the user."""


class LineFlag(StrEnum):
    """What else a line says about its value; the text completes "the meter ..."."""

    HOLD = "holds its display; release HOLD"
    EXTREME = "shows a minimum, maximum or average; switch to the value of this moment"
    RELATIVE = "shows the difference from a stored value; switch REL off"
    LOW_IMPEDANCE = "has its low input impedance on, which takes the body voltage away; switch it off"
    LOW_BATTERY = "has a low battery"


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


@dataclass(slots=True)
class _Number:
    token: Token
    unit: Meaning | None = None
    name: Meaning | None = None
    """What the name in front of it says; None without one."""

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
        return self.name is not None and self.name.role in _BESIDE_NAMES


@dataclass(slots=True)
class _Run:
    """The words between two numbers, in order."""

    words: list[tuple[Meaning, Token]] = field(default_factory=list)

    def of(self, *roles: Role) -> list[Meaning]:
        return [meaning for meaning, _ in self.words if meaning.role in roles]

    def drop(self, *roles: Role) -> None:
        self.words = [word for word in self.words if word[0].role not in roles]

    @property
    def kinds(self) -> set[WordKind]:
        return {meaning.kind for meaning in self.of(Role.KIND) if meaning.kind}

    @property
    def is_glued(self) -> bool:
        return bool(self.words) and self.words[0][1].gap == GLUED


_FLAG_OF = {
    Role.HOLD: LineFlag.HOLD,
    Role.EXTREME: LineFlag.EXTREME,
    Role.RELATIVE: LineFlag.RELATIVE,
    Role.LOW_IMPEDANCE: LineFlag.LOW_IMPEDANCE,
    Role.LOW_BATTERY: LineFlag.LOW_BATTERY,
}
_HAVE_KINDS = (Quantity.VOLTS, Quantity.AMPERES)
"""Beside any other unit, AC or DC speaks of the whole line."""
_BESIDE_NAMES = frozenset({Role.OTHER_NAME, Role.STATE_NAME, Role.EXTREME, Role.BATTERY, Role.OVERLOAD})
_LOOSE_NAMES = frozenset(
    {Role.OTHER_NAME, Role.STATE_NAME, Role.VALUE_NAME, Role.FUNCTION, Role.EXTREME, Role.BATTERY}
)
_NOT_THE_VALUE = frozenset(
    {Role.OTHER_NAME, Role.STATE_NAME, Role.EXTREME, Role.BATTERY, Role.LOW, *_FLAG_OF, Role.OVERLOAD}
)


def sense_of(
    tokens: list[Token], taught: Token | None = None, known_words: frozenset[str] = frozenset()
) -> Value | OverRange:
    """Work out what a line says.

    Args:
        tokens: of the line, in order.
        taught: the number among them that is the value, where somebody has said so.
        known_words: words that may stand on the line although nothing is known about them; with `taught` also
            the units that may stand there without belonging to the value.

    Raises:
        Refused: it cannot be told.
        NotAcVolts: it says something else than AC volts.
    """
    line = _Line(taught, known_words)
    line.gather(tokens)
    line.take_states()
    line.take_names()
    line.bind_units()
    return line.decide()


_TAUGHT_NAME = (Meaning(Role.VALUE_NAME),)
_TAUGHT_BESIDE = (Meaning(Role.OTHER_NAME),)


class _Line:
    def __init__(self, taught: Token | None, known_words: frozenset[str]) -> None:
        self.taught = taught
        self.known_words = known_words
        self.numbers: list[_Number] = []
        self.runs: list[_Run] = [_Run()]
        self.run = self.runs[0]
        """The run that words are added to now."""
        self.after_overload: list[_Run] = []
        """The words behind each overload mark: "17,OL,V"; they belong to no number."""
        self.flags: set[LineFlag] = set()
        self.kinds: set[WordKind] = set()
        """AC, DC, peak, said of the whole line."""
        self.functions: set[Quantity] = set()
        """What else than volts the line says that the meter measures."""
        self.overload: Token | None = None
        self.overload_is_certain = False
        """A field that exists to tell it says overload; numbers beside it mean nothing then."""
        self.unknown: Token | None = None
        self.first: Token | None = None

    # Gathering: numbers with the names in front of them, and the runs of words.

    def gather(self, tokens: list[Token]) -> None:
        name: tuple[Meaning, ...] = ()
        previous: Token | None = None
        self.first = tokens[0] if tokens else None
        for token in tokens:
            glued_to_number = (
                previous is not None and previous.kind is TokenKind.NUMBER and token.gap == GLUED
            )
            if token.gap == FIELD:
                if previous is not None and previous.kind is TokenKind.NAME and _names_volts(name):
                    raise Refused("the value is missing")
                name = ()
            if token.kind is TokenKind.NAME:
                name = meanings_of_name(token.text)
                if glued_to_number:
                    raise Refused("something unknown is attached to the number")
            elif token.kind is TokenKind.NUMBER:
                if token.gap == GLUED and previous is not None and previous.kind is TokenKind.WORD:
                    self._check_prefix(previous)
                self._add_number(token, name)
                name = ()
            elif token.kind is TokenKind.OVERLOAD:
                self._add_overload(token, name)
            elif token.kind is TokenKind.WORD:
                if glued_to_number and meaning_of(token.text).role not in (Role.UNIT, Role.KIND):
                    raise Refused("something unknown is attached to the number")
                self._add_word(token, name)
            previous = token

    def _check_prefix(self, word: Token) -> None:
        """Refuse a number that begins right behind a word, unless the word is a unit or a function."""
        if self.numbers and self.numbers[-1].token.end == word.start:
            raise Refused("letters stand inside the number")
        meaning = meaning_of(word.text)
        if meaning.role not in (Role.UNIT, Role.KIND, Role.FUNCTION) or (
            # "V0.273", but not "21.5 C0.273" nor "firmware v1.2"
            len(word.text) == 1 and not (word.text == "V" and word is self.first)
        ):
            raise Refused("something unknown is attached to the number")

    def _add_number(self, token: Token, name: tuple[Meaning, ...]) -> None:
        number = _Number(token, name=_name_of_a_number(self._taught_name(token, name)))
        if number.name is not None and number.name.role is Role.OVERLOAD and float(token.text):
            self.overload, self.overload_is_certain = token, True
        self.numbers.append(number)
        self.runs.append(_Run())
        self.run = self.runs[-1]

    def _taught_name(self, token: Token, name: tuple[Meaning, ...]) -> tuple[Meaning, ...]:
        """The name of a number, as far as it has not been taught which number is the value."""
        if self.taught is None:
            return name
        if token is not self.taught:
            is_overload = any(part.role is Role.OVERLOAD for part in name)
            return name if is_overload else _TAUGHT_BESIDE
        # A name that is a unit ("mv": 273) is the unit; any other, even "a", was known to whoever taught it.
        units = tuple(part for part in name if part.role in (Role.UNIT, Role.KIND))
        return units if any(part.quantity is Quantity.VOLTS for part in units) else _TAUGHT_NAME

    def _add_overload(self, token: Token, name: tuple[Meaning, ...]) -> None:
        roles = {part.role for part in name}
        if Role.OTHER_NAME in roles or Role.BATTERY in roles:
            return
        others = {part.quantity for part in name if part.quantity} - {Quantity.VOLTS}
        if others & BESIDE_VOLTS:
            return  # no frequency to be found says nothing about the volts
        self.overload = self.overload or token
        self.overload_is_certain |= Role.STATE_NAME in roles
        self.run = _Run()
        self.after_overload.append(self.run)
        self._add_name_to_run(token, name)

    def _add_word(self, token: Token, name: tuple[Meaning, ...]) -> None:
        meaning = meaning_of(token.text)
        role = meaning.role
        roles = {part.role for part in name}
        if name and role in (Role.TRUE, Role.FALSE):
            self._switch(name, role is Role.TRUE)
        elif Role.OTHER_NAME in roles or Role.BATTERY in roles:
            if role is Role.LOW and Role.BATTERY in roles:
                self.flags.add(LineFlag.LOW_BATTERY)
        elif role is Role.OVERLOAD:
            self._add_overload(token, name)
        elif role is Role.NOT_A_NUMBER:
            raise Refused("the meter says that it has no number")
        elif role is Role.UNKNOWN:
            # Free text in a field of its own ("status": "ready") tells nothing about the value.
            if not (roles & {Role.STATE_NAME, Role.UNKNOWN}):
                self._wonder(token)
        else:
            if role in (Role.KIND, Role.UNIT):
                self._add_name_to_run(token, name)
            self.run.words.append((meaning, token))

    def _wonder(self, token: Token) -> None:
        """Take a word for unknown, unless it was said to be known."""
        if token.text not in self.known_words:
            self.unknown = token

    def _add_name_to_run(self, token: Token, name: tuple[Meaning, ...]) -> None:
        """A name whose value is a word: "CURR:AC", "V: OL"."""
        self.run.words += [
            (part, token) for part in name if part.role in (Role.UNIT, Role.KIND, Role.FUNCTION)
        ]

    def _switch(self, name: tuple[Meaning, ...], on: bool) -> None:
        """A field that is true or false."""
        for part in name:
            if part.role is Role.KIND and part.kind is WordKind.AC and not on:
                self.kinds.add(WordKind.DC)
            elif on and part.role is Role.KIND and part.kind:
                self.kinds.add(part.kind)
            elif on and part.role is Role.OVERLOAD:
                self.overload, self.overload_is_certain = Token(TokenKind.OVERLOAD, "", 0, 0, FIELD), True
            elif on and part.role is Role.LOW:
                self.flags.add(LineFlag.LOW_BATTERY)
            elif on and part.role in _FLAG_OF:
                self.flags.add(_FLAG_OF[part.role])

    # Binding: which state, name and unit belongs to what.

    def take_states(self) -> None:
        """HOLD, REL, low battery and the like speak of the whole line wherever they stand."""
        runs = [*self.runs, *self.after_overload]
        for index, run in enumerate(runs):
            is_last = index >= len(self.runs) - 1
            low = run.of(Role.LOW) and run.of(Role.BATTERY)
            if low or (is_last and run.of(Role.BATTERY)):
                self.flags.add(LineFlag.LOW_BATTERY)
                run.drop(Role.BATTERY)
            elif run.of(Role.LOW):
                self._wonder(next(token for meaning, token in run.words if meaning.role is Role.LOW))
            for role in (Role.HOLD, Role.RELATIVE, Role.LOW_IMPEDANCE, Role.LOW_BATTERY):
                if run.of(role):
                    self.flags.add(_FLAG_OF[role])
            # "RANGE AUTO": a name whose value is a word of no weight.
            run.words = [
                word
                for word, after in zip(run.words, [*run.words[1:], None], strict=False)
                if not (after and word[0].role is Role.OTHER_NAME and after[0].role is Role.NOTHING)
            ]
            run.drop(Role.HOLD, Role.RELATIVE, Role.LOW_IMPEDANCE, Role.LOW_BATTERY, Role.LOW)
            run.drop(Role.NOTHING, Role.TRUE, Role.FALSE)

    def take_names(self) -> None:
        """Names without a sign stand in front of their number: "RANGE 4 V", "FREQ 50.0"."""
        for number, run in zip(self.numbers, self.runs, strict=False):
            while run.words and run.words[-1][0].role in _LOOSE_NAMES:
                meaning, _ = run.words.pop()
                if number.token is self.taught and meaning.role is not Role.FUNCTION:
                    continue
                if meaning.role is Role.EXTREME and len(self.numbers) == 1:
                    self.flags.add(LineFlag.EXTREME)
                elif number.name is None or number.name.role is Role.VALUE_NAME:
                    number.name = meaning
        for run in (*self.runs, *self.after_overload):
            if run.of(Role.EXTREME):
                self.flags.add(LineFlag.EXTREME)
            self.functions |= {meaning.quantity for meaning in run.of(Role.FUNCTION) if meaning.quantity}
        for meaning, token in self.runs[-1].words:
            if meaning.role in (Role.OTHER_NAME, Role.VALUE_NAME):
                self._wonder(token)  # a name of nothing, or a letter that looks like one
        for run in (*self.runs, *self.after_overload):
            run.words = [word for word in run.words if word[0].role in (Role.UNIT, Role.KIND)]

    def bind_units(self) -> None:
        """Give every number its unit."""
        units = [_unit_of(run) for run in self.runs]
        for run, unit in zip(self.runs, units, strict=True):
            if unit is None or unit.quantity not in _HAVE_KINDS:
                self.kinds |= run.kinds
        of_overloads = [_unit_of(run) for run in self.after_overload]
        if any(unit and unit.quantity is Quantity.VOLTS for unit in of_overloads):
            # "OL,V,---,Hz": no frequency is found beside too high a voltage.
            of_overloads = [unit for unit in of_overloads if unit and unit.quantity not in BESIDE_VOLTS]
        for run in self.after_overload:
            self.kinds |= run.kinds
        for unit in (*of_overloads, *(() if self.numbers else units)):
            if unit and unit.quantity:
                self.functions.add(unit.quantity)
            if unit and unit.kind:
                self.kinds.add(unit.kind)
        if not self.numbers:
            return
        if len(self.numbers) == 1:
            self.numbers[0].unit = units[1]
        elif self._units_come_first(units):
            self._bind_to_the_next(units)
        else:
            self._bind_to_the_one_before(units)
        for index, number in enumerate(self.numbers):
            front = number.name if number.name is not None and number.name.role is Role.UNIT else None
            if index == 0 and not self._units_come_first(units):
                front = _merged(units[0], front)
            number.unit = _merged(front, number.unit)

    def _units_come_first(self, units: list[Meaning | None]) -> bool:
        first, second, last = units[0], units[1], units[-1]
        if (
            len(self.numbers) == 1
            or first is None
            or last is not None
            or any(run.is_glued for run in self.runs[1:])
        ):
            return False
        return second is None or second.quantity is not first.quantity

    def _bind_to_the_next(self, units: list[Meaning | None]) -> None:
        between = units[1:-1]
        if all(between):
            for number, unit in zip(self.numbers, units, strict=False):
                number.unit = unit
        elif any(between):
            raise Refused("it is not clear which number the unit belongs to")
        else:
            values = [number for number in self.numbers if not number.is_beside and number.quantity is None]
            (values[0] if len(values) == 1 else _the_only_fraction(values)).unit = units[0]

    def _bind_to_the_one_before(self, units: list[Meaning | None]) -> None:
        for index, number in enumerate(self.numbers):
            number.unit = units[index + 1]
            after = self.numbers[index + 1] if index + 1 < len(self.numbers) else None
            if (
                after is not None
                and after.name is None
                and units[index + 2] is None
                and number.unit is not None
                and number.is_count
                and not self.runs[index + 1].is_glued
            ):
                # "17;V;0.273": a counter in front, or 17 volts?
                raise Refused("it is not clear which number the unit belongs to")

    # Deciding.

    def decide(self) -> Value | OverRange:
        if self.overload is not None:
            return self._decide_overload(self.overload)
        number, alone = self._the_value()
        unit = number.unit
        kinds = set(self.kinds)
        if unit is not None and unit.kind is not None:
            if unit.kind is WordKind.AC and WordKind.DC in kinds:
                raise Refused("it says both AC and DC")
            kinds.add(unit.kind)
        self._refuse_other_functions(kinds, number.quantity)
        if self.taught is not None and unit is None:
            self._refuse_new_units()
        is_ac_for_sure = WordKind.AC in kinds and number.quantity is Quantity.VOLTS
        if self.unknown is not None and not is_ac_for_sure:
            raise Refused(f"{_shown(self.unknown.text)!r} is not known")
        if number.name is not None and not is_ac_for_sure:
            if number.name.role is Role.BATTERY:
                raise Refused("it may be the voltage of the battery")
            if number.name.role is Role.UNKNOWN and unit is None:
                raise Refused("the name in front of the number is not known")
        if number.name is not None and number.name.role is Role.BATTERY:
            self.flags.add(LineFlag.LOW_BATTERY)
        exponent = unit.exponent if unit is not None else 0
        if number.token.comma and exponent < 0 and _could_be_thousands(number.token.text):
            raise Refused("a comma may be a decimal comma or separate thousands")
        return Value(number.token, exponent, frozenset(self.flags), alone, unit is not None)

    def _refuse_new_units(self) -> None:
        """With the unit somewhere else on the line, another one than when it was taught changes the scale."""
        for run in self.runs:
            for meaning, token in run.words:
                is_volts = meaning.role is Role.UNIT and meaning.quantity is Quantity.VOLTS
                if is_volts and token.text not in self.known_words:
                    raise Refused(f"{_shown(token.text)!r} was not on the line when the meter was taught")

    def _decide_overload(self, mark: Token) -> OverRange:
        if not self.overload_is_certain:
            for number in self.numbers:
                if not number.is_beside and (
                    number.quantity is Quantity.VOLTS or (number.quantity is None and not number.is_count)
                ):
                    raise Refused("it says overload and gives a number")
        self._refuse_other_functions(self.kinds, None)
        return OverRange((mark.start, mark.end), frozenset(self.flags))

    def _the_value(self) -> tuple[_Number, bool]:
        """The number that is the value, and whether no other says the same."""
        numbers = [number for number in self.numbers if not number.is_beside]
        volts = [number for number in numbers if number.quantity is Quantity.VOLTS]
        if not volts:
            # "BATT 0.273 V AC": a state of the battery rather than its voltage, since that is direct.
            volts = [n for n in self.numbers if n.unit is not None and n.name is not None
                     and n.name.role is Role.BATTERY and n.unit.kind is WordKind.AC]  # fmt: skip
        if volts:
            alternating = [n for n in volts if n.unit is not None and n.unit.kind is WordKind.AC]
            chosen = alternating or volts
            if len({(number.token.text, number.unit and number.unit.exponent) for number in chosen}) > 1:
                raise Refused(_two_numbers(chosen))
            self._check_neighbours(chosen[0])
            return chosen[0], len(volts) == 1
        if not numbers:
            self._refuse_other_functions(self.kinds, None)
            raise Refused("there is no number in it")
        bare = [number for number in numbers if number.quantity is None]
        others = {number.quantity for number in numbers if number.quantity is not None}
        if bare and others <= BESIDE_VOLTS:
            named = [n for n in bare if n.name is not None and n.name.role is Role.VALUE_NAME]
            if len(named) == 1:
                self._check_neighbours(named[0])
                return named[0], True
            value = bare[0] if len(bare) == 1 else _the_only_fraction(bare)
            if value.name is None and value.is_count and len(self.numbers) > 1:
                raise Refused(_two_numbers(self.numbers))
            return value, True
        if bare:
            raise Refused(_two_numbers(numbers))
        return numbers[0], True

    def _check_neighbours(self, value: _Number) -> None:
        """Refuse a value next to which a number stands that may be a part of it, or of which it may be a part.

        "0.2;3 V" and "0 273 V" are more likely a damaged 0.273 V than two fields; so is "V=0.2;73". What stands in
        front of a value is a counter; behind it, without a unit of its own, a state or another count.
        """
        if len(self.numbers) > 1 and value.token.text.lstrip("+-")[0] == ".":
            raise Refused(_two_numbers(self.numbers))
        place = self.numbers.index(value)
        if value.name is None:
            for number in self.numbers[:place]:
                if number.quantity is not None or number.name is not None:
                    continue
                if not number.is_count or (value.is_count and not self._is_field_of_small_units(place)):
                    raise Refused(_two_numbers([number, value]))
        after = self.numbers[place + 1] if place + 1 < len(self.numbers) else None
        if (
            after is not None
            and not self.runs[place + 1].words
            and after.name is None
            and after.quantity is None
        ):
            split_off = value.is_count or not after.is_count or after.token.gap < FIELD
            if split_off:
                raise Refused(_two_numbers([value, after]))

    def _is_field_of_small_units(self, place: int) -> bool:
        """Whether whole numbers of millivolts stand in a field of their own, the unit in the next: "17;273;mV"."""
        value, run = self.numbers[place], self.runs[place + 1]
        has_field = value.token.gap == FIELD and bool(run.words) and run.words[0][1].gap == FIELD
        return has_field and value.unit is not None and value.unit.exponent < 0

    def _refuse_other_functions(self, kinds: set[WordKind], quantity: Quantity | None) -> None:
        """Raise `NotAcVolts` when the line is about anything but AC volts."""
        others = sorted(({quantity} if quantity else set()) | self.functions, key=str)
        others = [other for other in others if other is not Quantity.VOLTS]
        if others:
            raise NotAcVolts(f"the meter sends {others[0]}; switch it to AC volts")
        if WordKind.AC in kinds and WordKind.DC in kinds:
            raise Refused("it says both AC and DC")
        for kind in sorted(kinds - {WordKind.AC}):
            raise NotAcVolts(f"the meter sends {kind} volts; switch it to AC volts")


def _name_of_a_number(name: tuple[Meaning, ...]) -> Meaning | None:
    """What the words of a name say about the number behind it."""
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
    if units:
        unit: Meaning | None = None
        for part in units:
            unit = _merged(unit, part)
        assert unit is not None
        return Meaning(Role.UNIT, unit.quantity, unit.exponent, kind)
    if kind is not None:
        return Meaning(Role.UNIT, Quantity.VOLTS, kind=kind)
    return Meaning(Role.VALUE_NAME if Role.VALUE_NAME in roles else Role.UNKNOWN)


def _names_volts(name: tuple[Meaning, ...]) -> bool:
    return any(part.quantity is Quantity.VOLTS for part in name)


def _unit_of(run: _Run) -> Meaning | None:
    """The one unit of a run with the marks beside it; None when there is only a mark or nothing."""
    if len(run.words) > 1 and run.is_glued and len(run.words[0][1].text) == 1:
        meaning, token = run.words[1]
        if meaning.role is Role.UNIT and token.gap == SPACE:
            raise Refused("the unit stands twice, or the first is a damaged digit")
    unit: Meaning | None = None
    for meaning in run.of(Role.UNIT):
        # "273.1,mV,ACV": a unit, then a function.
        is_function = unit is not None and meaning.kind is not None and meaning.exponent == 0
        unit = _merged(meaning, unit) if is_function else _merged(unit, meaning)
    if unit is not None and unit.quantity in _HAVE_KINDS:
        for kind in run.kinds:
            unit = _merged(unit, Meaning(Role.UNIT, unit.quantity, unit.exponent, kind)) or unit
    return unit


def _merged(front: Meaning | None, behind: Meaning | None) -> Meaning | None:
    """The unit of a number from what stands in front of it (a function, a name) and behind it.

    In "ACV 273.1 mV" and "Vac: 273.1 mV" the front says what is measured and the unit behind says how it is
    written; the other way round they contradict each other.

    Raises:
        Refused: they contradict each other.
    """
    if front is None or behind is None:
        return front or behind
    if front.quantity is not behind.quantity or front.exponent not in (0, behind.exponent):
        raise Refused("it gives two units for one number")
    kinds = {kind for kind in (front.kind, behind.kind) if kind}
    if kinds == {WordKind.AC, WordKind.DC}:
        raise Refused("it says both AC and DC")
    # Peak and AC+DC say more than AC or DC alone.
    kind = next(
        (kind for kind in (WordKind.PEAK, WordKind.AC_AND_DC, WordKind.AC, WordKind.DC) if kind in kinds),
        None,
    )
    return Meaning(Role.UNIT, front.quantity, behind.exponent, kind)


def _the_only_fraction(numbers: list[_Number]) -> _Number:
    """The value among numbers without units: the last one, with a decimal point, when all before it are counters.

    Raises:
        Refused: it is not so.
    """
    if not numbers:
        raise Refused("there is no number in it")
    *before, last = numbers
    text = last.token.text
    if all(number.is_count for number in before) and "." in text and text[0] != ".":
        return last
    raise Refused(_two_numbers(numbers))


def _could_be_thousands(text: str) -> bool:
    whole, _, part = text.lstrip("+").partition(".")
    return len(part) == 3 and part.isdigit() and 1 <= len(whole) <= 3 and whole[0] != "0"


def _two_numbers(numbers: list[_Number]) -> str:
    shown = [_shown(number.token.text) for number in numbers[:2]]
    return f"two numbers, {' and '.join(shown)}: teach the meter which one its display shows"


def _shown(text: str) -> str:
    return text if len(text) <= 20 else text[:19] + "…"
