"""Stage 5: a line with units -> the value. Which number is the AC voltage, or why none is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from logger.meter.interpretation.results import LineFlag, NotAcVolts, OverRange, Value
from logger.meter.interpretation.segments import OverloadFound
from logger.meter.interpretation.unit_binding import (
    MeasuredLine,
    MeasuredNumber,
    shortened,
    the_only_fraction,
    two_numbers,
)
from logger.meter.tokens import (
    FIELD,
    NO_VALUE_NOTE,
    AmbiguousComma,
    Refused,
    is_no_value,
    unknown_word,
)
from logger.meter.vocabulary import BESIDE_VOLTS, KIND_NAMES, Meaning, Quantity, Role, WordKind
from logger.translation import kept_text


class _ChosenNumber(NamedTuple):
    number: MeasuredNumber
    alone: bool
    """No second number of the line says the same."""


def decide(line: MeasuredLine, learned_words: frozenset[str] | None = None) -> Value | OverRange:
    """Decide what a line says.

    Args:
        line: its numbers with their units.
        learned_words: where a line format says which number is the value: the units that may stand elsewhere on the
            line. None without a format.

    Raises:
        Refused: it cannot be told.
        NotAcVolts: it says something else than AC volts.
    """
    if line.overload is not None:
        return _over_range(line, line.overload)
    number, alone = _choose(line)
    unit, name = number.unit, number.name
    kinds = _kinds_with_unit(line.kinds, unit)
    _refuse_other_functions(kinds, line.functions, number.quantity)
    if learned_words is not None and unit is None:
        _refuse_new_units(line, learned_words)
    if line.unknown is not None:
        raise unknown_word(line.unknown.text)
    is_ac_for_sure = WordKind.AC in kinds and number.quantity is Quantity.VOLTS
    if name is not None and name.role is Role.BATTERY and not is_ac_for_sure:
        raise Refused(kept_text("it may be the voltage of the battery"))
    is_of_battery = name is not None and name.role is Role.BATTERY
    flags = line.flags | {LineFlag.LOW_BATTERY} if is_of_battery else line.flags
    exponent = unit.exponent if unit is not None else 0
    if number.token.comma and _could_be_thousands(number.token.text):
        raise AmbiguousComma(number.token, exponent)
    return Value(number.token, exponent, flags, alone, unit is not None)


def _kinds_with_unit(kinds: frozenset[WordKind], unit: Meaning | None) -> frozenset[WordKind]:
    """The kinds of the whole line and of the value's unit."""
    if unit is None or unit.kind is None:
        return kinds
    if unit.kind is WordKind.AC and WordKind.DC in kinds:
        raise Refused(kept_text("it says both AC and DC"))
    return kinds | {unit.kind}


def _refuse_new_units(line: MeasuredLine, learned_words: frozenset[str]) -> None:
    """Refuse a unit other than the learned one: the scale would change."""
    for run in line.runs:
        for meaning, token in run:
            is_volts = meaning.role is Role.UNIT and meaning.quantity is Quantity.VOLTS
            if is_volts and token.text not in learned_words:
                raise Refused(
                    kept_text("it has the unit {unit}, not as when the meter was taught").format(
                        unit=repr(shortened(token.text))
                    )
                )


def _over_range(line: MeasuredLine, overload: OverloadFound) -> OverRange:
    if not overload.is_certain:
        for number in line.numbers:
            if not number.is_beside and (
                number.quantity is Quantity.VOLTS or (number.quantity is None and not number.is_count)
            ):
                raise Refused(
                    kept_text("it shows dashes and gives a number")
                    if is_no_value(overload.token.text)
                    else kept_text("it says overload and gives a number")
                )
    _refuse_other_functions(line.kinds, line.functions, None)
    if not overload.is_certain and is_no_value(overload.token.text):
        raise Refused(NO_VALUE_NOTE)
    return OverRange((overload.token.start, overload.token.end), line.flags)


def _choose(line: MeasuredLine) -> _ChosenNumber:
    """The number that is the value."""
    numbers = [number for number in line.numbers if not number.is_beside]
    volts = [number for number in numbers if number.quantity is Quantity.VOLTS]
    volts = volts or _alternating_batteries(line.numbers)
    if volts:
        return _choose_among_volts(line, volts)
    if not numbers:
        _refuse_other_functions(line.kinds, line.functions, None)
        raise Refused(kept_text("there is no number in it"))
    bare = [number for number in numbers if number.quantity is None]
    if not bare:
        return _ChosenNumber(numbers[0], alone=True)
    others = {number.quantity for number in numbers if number.quantity is not None}
    if others <= BESIDE_VOLTS:
        return _ChosenNumber(_choose_without_unit(line, bare), alone=True)
    raise Refused(two_numbers(numbers))


def _alternating_batteries(numbers: Sequence[MeasuredNumber]) -> list[MeasuredNumber]:
    """Numbers named by the battery, with AC volts: a state of it ("BATT 0.273 V AC"), since its voltage is direct."""
    return [
        number
        for number in numbers
        if number.name is not None
        and number.name.role is Role.BATTERY
        and number.unit is not None
        and number.unit.kind is WordKind.AC
    ]


def _choose_among_volts(line: MeasuredLine, volts: Sequence[MeasuredNumber]) -> _ChosenNumber:
    alternating = [number for number in volts if number.unit and number.unit.kind is WordKind.AC]
    chosen = alternating or volts
    if len({(number.token.text, number.unit and number.unit.exponent) for number in chosen}) > 1:
        raise Refused(two_numbers(chosen))
    _refuse_second_value(line, chosen[0], volts)
    behind = line.numbers[line.numbers.index(chosen[0]) + 1 :]
    if any(number.name and number.name.role is Role.VALUE_NAME for number in behind if number.unit is None):
        # "0.273 V AC SAMPLE 3": a stored value with its number.
        raise Refused(two_numbers([chosen[0], *behind]))
    _check_neighbours(line, chosen[0])
    return _ChosenNumber(chosen[0], alone=len(volts) == 1)


def _refuse_second_value(line: MeasuredLine, value: MeasuredNumber, volts: Sequence[MeasuredNumber]) -> None:
    """Refuse "0.273 VAC 0.900 V" and "0.273 V AC 0.9": another value, of which nothing says what it is.

    Args:
        line: with all its numbers.
        value: the one that says AC, or the only one.
        volts: those in volts that nothing calls something else.
    """
    others = [number for number in volts if number.unit is None or number.unit.kind is None]
    behind = line.numbers[line.numbers.index(value) + 1 :]
    others += [
        number
        for number in behind
        if number.quantity is None and not number.is_count and not number.is_beside and number.name is None
    ]
    for number in others:
        if number is not value and _volts_of(number) != _volts_of(value):
            raise Refused(two_numbers([value, number]))


def _volts_of(number: MeasuredNumber) -> tuple[str, int]:
    """The digits of a number and the power of ten of its unit."""
    return number.token.text, number.unit.exponent if number.unit is not None else 0


def _choose_without_unit(line: MeasuredLine, bare: Sequence[MeasuredNumber]) -> MeasuredNumber:
    named = [number for number in bare if number.name and number.name.role is Role.VALUE_NAME]
    if len(named) == 1:
        _check_neighbours(line, named[0])
        return named[0]
    value = bare[0] if len(bare) == 1 else the_only_fraction(bare)
    if value.name is None and value.is_count and len(line.numbers) > 1:
        raise Refused(two_numbers(line.numbers))
    return value


def _check_neighbours(line: MeasuredLine, value: MeasuredNumber) -> None:
    """Refuse a value next to which a number stands that may be a part of it, or of which it may be a part.

    "0.2;3 V" and "0 273 V" are more likely a damaged 0.273 V than two fields; so is "V=0.2;73". What stands in
    front of a value is a counter; behind it, without a unit of its own, a state or another count.
    """
    numbers = line.numbers
    if len(numbers) > 1 and value.token.text.lstrip("+-")[0] == ".":
        raise Refused(two_numbers(numbers))
    place = numbers.index(value)
    if value.name is None:
        for number in numbers[:place]:
            if number.quantity is not None or number.name is not None:
                continue
            if not number.is_count or (value.is_count and not _is_field_of_small_units(line, place)):
                raise Refused(two_numbers([number, value]))
    after = numbers[place + 1] if place + 1 < len(numbers) else None
    if after is not None and not line.runs[place + 1] and after.name is None and after.quantity is None:
        split_off = value.is_count or not after.is_count or after.token.gap < FIELD
        if split_off:
            raise Refused(two_numbers([value, after]))


def _is_field_of_small_units(line: MeasuredLine, place: int) -> bool:
    """Whether whole numbers of millivolts stand in a field of their own, the unit in the next: "17;273;mV"."""
    value, run = line.numbers[place], line.runs[place + 1]
    has_field = value.token.gap == FIELD and bool(run) and run[0].token.gap == FIELD
    return has_field and value.unit is not None and value.unit.exponent < 0


def _refuse_other_functions(
    kinds: Iterable[WordKind], functions: frozenset[Quantity], quantity: Quantity | None
) -> None:
    """Refuse a line about anything but AC volts.

    Args:
        kinds: how the line says that its voltage is measured.
        functions: quantities that the line says the meter measures.
        quantity: that of the value; None when nothing says so.

    Raises:
        NotAcVolts: the line is about something else.
        Refused: it says both AC and DC.
    """
    others = sorted((functions | ({quantity} if quantity else set())) - {Quantity.VOLTS}, key=str)
    if others:
        raise NotAcVolts(_note_of(others[0]))
    kinds = frozenset(kinds)
    if WordKind.AC in kinds and WordKind.DC in kinds:
        raise Refused(kept_text("it says both AC and DC"))
    for kind in sorted(kinds - {WordKind.AC}):
        raise NotAcVolts(_note_of(KIND_NAMES[kind]))


def _could_be_thousands(text: str) -> bool:
    whole, _, part = text.lstrip("+-").partition(".")
    return len(part) == 3 and part.isdigit() and 1 <= len(whole) <= 3 and whole[0] != "0"


def _note_of(name: str) -> str:
    return kept_text("the meter sends {other}; switch it to AC volts").format(other=name)


OTHER_KIND_NOTES = frozenset(map(_note_of, KIND_NAMES.values()))
"""What is said of a line whose volts are of another kind than AC."""

PARTLY_AC_NOTES = frozenset(_note_of(KIND_NAMES[kind]) for kind in (WordKind.PEAK, WordKind.AC_AND_DC))
"""Those of them whose lines may say AC beside the value all the same."""


class OtherValue(NamedTuple):
    """What a meter sends that is no AC volts.

    Args:
        name: it completes "the meter sends ...".
        sentence: that the meter sends it.
    """

    name: str
    sentence: str


OTHER_VALUES = {
    _note_of(name): OtherValue(
        name, kept_text("The meter sends {other}; switch it to AC volts.").format(other=name)
    )
    for name in (*map(str, Quantity), *KIND_NAMES.values())
}
"""By what is said of a line with such a value."""
