"""Stage 3: segments -> a line with names.

Names without a sign stand in front of their number: "RANGE 4 V", "FREQ 50.0".
"""

from __future__ import annotations

from typing import NamedTuple

from logger.meter.interpretation.items import NamedNumber, Run
from logger.meter.interpretation.results import LineFlag
from logger.meter.interpretation.segments import OverloadFound, SegmentedLine
from logger.meter.tokens import Token
from logger.meter.vocabulary import Quantity, Role, WordKind

_LOOSE_NAMES = frozenset(
    {Role.OTHER_NAME, Role.STATE_NAME, Role.VALUE_NAME, Role.FUNCTION, Role.EXTREME, Role.BATTERY}
)


class NamedLine(NamedTuple):
    """A line whose names are bound to its numbers; what is left of the runs are units and kinds.

    Args:
        numbers, runs, runs_after_overload, overload, flags, kinds, unknown: as in `SegmentedLine`.
        functions: quantities that the line says the meter measures.
    """

    numbers: tuple[NamedNumber, ...]
    runs: tuple[Run, ...]
    runs_after_overload: tuple[Run, ...]
    overload: OverloadFound | None
    flags: frozenset[LineFlag]
    kinds: frozenset[WordKind]
    functions: frozenset[Quantity]
    unknown: Token | None


class _NameInFront(NamedTuple):
    number: NamedNumber
    rest: Run
    is_extreme: bool


def bind_names(line: SegmentedLine, value_token: Token | None, known_words: frozenset[str]) -> NamedLine:
    """Take the names out of the runs and bind them to their numbers.

    Args:
        line: cut at its numbers.
        value_token: the number that is the value, where a line format says so.
        known_words: words that may stand on the line although nothing is known about them.
    """
    is_only = len(line.numbers) == 1
    named = [
        _name_in_front(
            number,
            run,
            has_no_other=is_only or _is_count(number, behind),
            is_value=number.token is value_token,
        )
        for number, run, behind in zip(line.numbers, line.runs, line.runs[1:], strict=False)
    ]
    runs = (*(one.rest for one in named), line.runs[-1])
    flags, functions = set(line.flags), set()
    if any(one.is_extreme for one in named):
        flags.add(LineFlag.EXTREME)
    for run in (*runs, *line.runs_after_overload):
        for meaning, _ in run:
            if meaning.role is Role.EXTREME:
                flags.add(LineFlag.EXTREME)
            elif meaning.role is Role.FUNCTION and meaning.quantity:
                functions.add(meaning.quantity)
    # At the end of a line: a name of nothing, or a letter that looks like one.
    unknown = [
        token
        for meaning, token in runs[-1]
        if meaning.role in (Role.OTHER_NAME, Role.VALUE_NAME) and token.text not in known_words
    ]
    return NamedLine(
        tuple(one.number for one in named),
        tuple(map(_units_only, runs)),
        tuple(map(_units_only, line.runs_after_overload)),
        line.overload,
        frozenset(flags),
        line.kinds,
        frozenset(functions),
        unknown[-1] if unknown else line.unknown,
    )


def _is_count(number: NamedNumber, behind: Run) -> bool:
    """Whether a number counts something ("AVG 10", "MAX 1"): it has neither a point nor a unit.

    Args:
        number: it.
        behind: the words behind it.
    """
    return number.token.text.isdigit() and not (behind and behind[0].meaning.role is Role.UNIT)


def _name_in_front(number: NamedNumber, run: Run, *, has_no_other: bool, is_value: bool) -> _NameInFront:
    """The name that a number has by the last words of the run in front of it.

    Args:
        number: it.
        run: the words in front of it.
        has_no_other: a word such as MAX there is about the line's value, and no other number is one.
        is_value: a line format says that the number is the value.
    """
    name, end, is_extreme = number.name, len(run), False
    while end and run[end - 1].meaning.role in _LOOSE_NAMES:
        end -= 1
        meaning = run[end].meaning
        if is_value and meaning.role is not Role.FUNCTION:
            continue
        if meaning.role is Role.EXTREME and has_no_other:
            is_extreme = True
        elif name is None or name.role is Role.VALUE_NAME:
            name = meaning
    if end == len(run):
        return _NameInFront(number, run, is_extreme=False)
    return _NameInFront(NamedNumber(number.token, name), run[:end], is_extreme)


def _units_only(run: Run) -> Run:
    return tuple(word for word in run if word.meaning.role in (Role.UNIT, Role.KIND))
