"""Stage 4: a line with names -> a line with units. Each number gets its unit.

A run's unit belongs to the number before it ("0.273 V, 50.0 Hz") or, where the line begins with a unit and does not
end with one, to the number after it ("V 0.273 Hz 50.0").
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from logger.meter.interpretation.items import NamedNumber, Run
from logger.meter.interpretation.name_binding import NamedLine
from logger.meter.interpretation.results import LineFlag
from logger.meter.interpretation.segments import OverloadFound
from logger.meter.interpretation.unit_merging import STRONGEST_KIND_FIRST, merge_units
from logger.meter.tokens import FIELD, GLUED, MAX_SHOWN_CHARS, SPACE, Refused, Token
from logger.meter.vocabulary import BESIDE_VOLTS, Meaning, Quantity, Role, WordKind
from logger.translation import kept_text

_HAVE_KINDS = (Quantity.VOLTS, Quantity.AMPERES)
"""Beside any other unit, AC or DC speaks of the whole line."""

_BESIDE_NAMES = frozenset({Role.OTHER_NAME, Role.STATE_NAME, Role.EXTREME, Role.BATTERY, Role.OVERLOAD})

Units = Sequence[Meaning | None]
"""The unit of each run; None where it has none."""


class MeasuredNumber(NamedTuple):
    """A number with all that is known of it: what its name says, and its unit; None for none."""

    token: Token
    name: Meaning | None
    unit: Meaning | None

    @property
    def is_count(self) -> bool:
        """Whether it may be a counter or a state: digits and nothing else."""
        return self.token.text.isdigit()

    @property
    def quantity(self) -> Quantity | None:
        """What it is a number of; None when nothing says so."""
        if self.name is not None and self.name.role is Role.FUNCTION:
            return self.name.quantity
        return self.unit.quantity if self.unit else None

    @property
    def is_beside(self) -> bool:
        """Whether its name says that it is not the value."""
        return self.name is not None and self.name.role in _BESIDE_NAMES


class MeasuredLine(NamedTuple):
    """All that a line says: its numbers with units, and what it says as a whole.

    Args:
        numbers: in order.
        runs: the units and kinds in front of, between and behind the numbers.
        overload: the overload mark; None without one.
        flags: states of the meter.
        kinds: AC, DC, peak, where they speak of the whole line.
        functions: quantities that the line says the meter measures.
        unknown: a word of which nothing is known; None without one.
    """

    numbers: tuple[MeasuredNumber, ...]
    runs: tuple[Run, ...]
    overload: OverloadFound | None
    flags: frozenset[LineFlag]
    kinds: frozenset[WordKind]
    functions: frozenset[Quantity]
    unknown: Token | None


def bind_units(line: NamedLine) -> MeasuredLine:
    """Give every number its unit.

    Raises:
        Refused: units contradict each other, or it is not clear which number one belongs to.
    """
    units = [unit_of(run, is_behind=place > 0) for place, run in enumerate(line.runs)]
    kinds = set(line.kinds)
    for run, unit in zip(line.runs, units, strict=True):
        if unit is None or unit.quantity not in _HAVE_KINDS:
            kinds |= kinds_of(run)
    of_overloads = [unit_of(run) for run in line.runs_after_overload]
    if any(unit and unit.quantity is Quantity.VOLTS for unit in of_overloads):
        # "OL,V,---,Hz": no frequency is found beside too high a voltage.
        of_overloads = [unit for unit in of_overloads if unit and unit.quantity not in BESIDE_VOLTS]
    for run in line.runs_after_overload:
        kinds |= kinds_of(run)
    functions = set(line.functions)
    for unit in (*of_overloads, *(() if line.numbers else units)):
        if unit and unit.quantity:
            functions.add(unit.quantity)
        if unit and unit.kind:
            kinds.add(unit.kind)
    return MeasuredLine(
        _measured(line, units),
        line.runs,
        line.overload,
        line.flags,
        frozenset(kinds),
        frozenset(functions),
        line.unknown,
    )


def kinds_of(run: Run) -> frozenset[WordKind]:
    """The marks AC, DC and so on that stand in a run as words of their own."""
    return frozenset(
        word.meaning.kind for word in run if word.meaning.role is Role.KIND and word.meaning.kind
    )


def is_glued(run: Run) -> bool:
    """Whether a run begins right behind the number in front of it."""
    return bool(run) and run[0].token.gap == GLUED


def unit_of(run: Run, is_behind: bool = True) -> Meaning | None:
    """The one unit of a run with the marks beside it; None when there is only a mark or nothing.

    Args:
        run: the words between two numbers, or at an end of the line.
        is_behind: whether it stands behind a number.

    Raises:
        Refused: two units contradict each other, or the first may be a damaged digit.
    """
    if len(run) > 1 and is_glued(run) and len(run[0].token.text) == 1:
        second = run[1]
        if second.meaning.role is Role.UNIT and second.token.gap == SPACE:
            raise Refused(kept_text("the unit stands twice, or the first is a damaged digit"))
    unit: Meaning | None = None
    for word in run:
        meaning = word.meaning
        if meaning.role is Role.UNIT:
            # "273.1,mV,ACV": a unit, then a function.
            is_function = unit is not None and meaning.kind is not None and meaning.exponent == 0
            if unit is not None and not is_function and unit.exponent != meaning.exponent:
                # "ACV mV 273.1" and "273.1;ACV;mV": a function, then a unit; "0.273 V mV" is two units.
                is_after_function = unit.kind is not None and (not is_behind or word.token.gap == FIELD)
                if not is_after_function:
                    raise Refused(kept_text("it gives two units for one number"))
            unit = merge_units(meaning, unit) if is_function else merge_units(unit, meaning)
    if unit is not None and unit.quantity in _HAVE_KINDS:
        kinds = kinds_of(run)
        # In a fixed order: the strongest settles what AC and DC beside it would contradict.
        for kind in (kind for kind in STRONGEST_KIND_FIRST if kind in kinds):
            unit = merge_units(unit, Meaning(Role.UNIT, unit.quantity, unit.exponent, kind)) or unit
    return unit


def _measured(line: NamedLine, units: Units) -> tuple[MeasuredNumber, ...]:
    numbers = line.numbers
    if not numbers:
        return ()
    comes_first = _units_come_first(line, units)
    if len(numbers) == 1:
        own: Units = [units[1]]
    elif comes_first:
        own = _units_behind_them(numbers, units)
    else:
        own = _units_in_front_of_them(line, units)
    measured = []
    for index, (number, unit) in enumerate(zip(numbers, own, strict=True)):
        front = number.name if number.name is not None and number.name.role is Role.UNIT else None
        if index == 0 and not comes_first:
            front = merge_units(units[0], front)
        measured.append(MeasuredNumber(number.token, number.name, merge_units(front, unit)))
    return tuple(measured)


def _units_come_first(line: NamedLine, units: Units) -> bool:
    first, second, last = units[0], units[1], units[-1]
    if (
        len(line.numbers) == 1
        or first is None
        or last is not None
        or any(is_glued(run) for run in line.runs[1:])
    ):
        return False
    return second is None or second.quantity is not first.quantity


def _units_behind_them(numbers: Sequence[NamedNumber], units: Units) -> Units:
    """The units of numbers that each stand behind theirs."""
    between = units[1:-1]
    if all(between):
        return units[:-1]
    if any(between):
        raise Refused(kept_text("it is not clear which number the unit belongs to"))
    without = [MeasuredNumber(number.token, number.name, None) for number in numbers]
    values = [number for number in without if not number.is_beside and number.quantity is None]
    owner = values[0] if len(values) == 1 else the_only_fraction(values)
    return [units[0] if number is owner else None for number in without]


def _units_in_front_of_them(line: NamedLine, units: Units) -> Units:
    """The units of numbers that each stand in front of theirs."""
    numbers = line.numbers
    for index, (number, after) in enumerate(pairwise(numbers)):
        if (
            after.name is None
            and units[index + 2] is None
            and units[index + 1] is not None
            and number.token.text.isdigit()
            and not is_glued(line.runs[index + 1])
        ):
            # "17;V;0.273": a counter in front, or 17 volts?
            raise Refused(kept_text("it is not clear which number the unit belongs to"))
    return units[1:]


def the_only_fraction(numbers: Sequence[MeasuredNumber]) -> MeasuredNumber:
    """The value among numbers without units: the last one, with a decimal point, when all before it are counters.

    Raises:
        Refused: it is not so.
    """
    if not numbers:
        raise Refused(kept_text("there is no number in it"))
    *before, last = numbers
    text = last.token.text
    if all(number.is_count for number in before) and "." in text and text[0] != ".":
        return last
    raise Refused(two_numbers(numbers))


def two_numbers(numbers: Sequence[MeasuredNumber]) -> str:
    """The reason for the user when nothing shows which of several numbers is the value."""
    shown = [shortened(number.token.text) for number in numbers[:2]]
    return kept_text("two numbers, {one} and {other}: teach the meter which one its display shows").format(
        one=shown[0], other=shown[1]
    )


def shortened(text: str) -> str:
    """A piece of a line as it is shown in a reason."""
    return text if len(text) <= MAX_SHOWN_CHARS else text[: MAX_SHOWN_CHARS - 1] + "…"
