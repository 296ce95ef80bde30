"""Stage 2: items -> segments. The words between the numbers form runs; states of the meter are taken out of them.

HOLD, REL, low battery and the like speak of the whole line wherever they stand.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise, zip_longest
from typing import NamedTuple

from logger.meter.interpretation.items import (
    FLAG_OF,
    FieldState,
    Item,
    NamedNumber,
    OverloadMark,
    Run,
    RunWord,
    UnknownWord,
)
from logger.meter.interpretation.results import LineFlag
from logger.meter.tokens import FIELD, Token, TokenKind, is_no_value
from logger.meter.vocabulary import Meaning, Quantity, Role, WordKind

_WHOLE_LINE_STATES = (Role.HOLD, Role.RELATIVE, Role.LOW_IMPEDANCE, Role.LOW_BATTERY)
_NOT_IN_RUNS = frozenset({*_WHOLE_LINE_STATES, Role.LOW, Role.NOTHING, Role.TRUE, Role.FALSE})
_OVERLOAD_FIELD = Token(TokenKind.OVERLOAD, "", 0, 0, FIELD)
"""Stands for the mark where a field that is true says overload."""


class OverloadFound(NamedTuple):
    """The overload mark of a line; certain where a field exists to say so: numbers beside it mean nothing then."""

    token: Token
    is_certain: bool


class SegmentedLine(NamedTuple):
    """A line cut at its numbers.

    Args:
        numbers: in order.
        runs: the words in front of, between and behind them: one more than numbers.
        runs_after_overload: the words behind each overload mark ("17,OL,V"); they belong to no number.
        overload: the overload mark; None without one.
        flags: states of the meter.
        kinds: AC, DC, from fields that are true or false.
        unknown: the last word of which nothing is known; None without one.
    """

    numbers: tuple[NamedNumber, ...]
    runs: tuple[Run, ...]
    runs_after_overload: tuple[Run, ...]
    overload: OverloadFound | None
    flags: frozenset[LineFlag]
    kinds: frozenset[WordKind]
    unknown: Token | None


class _StatelessRun(NamedTuple):
    words: Run
    flags: frozenset[LineFlag]
    unknown: Token | None


def segment(items: Sequence[Item], known_words: frozenset[str]) -> SegmentedLine:
    """Cut a line at its numbers.

    Args:
        items: of the line, in order.
        known_words: words that may stand on the line although nothing is known about them.
    """
    numbers = tuple(item for item in items if isinstance(item, NamedNumber))
    states = [item for item in items if isinstance(item, FieldState)]
    unknown = [item.token for item in items if isinstance(item, UnknownWord)]
    runs, after_overload = _runs(items)
    last = len(runs) - 1
    cleared = [
        _without_states(run, known_words, is_last=index >= last)
        for index, run in enumerate((*runs, *after_overload))
    ]
    unknown += [run.unknown for run in cleared if run.unknown is not None]
    return SegmentedLine(
        numbers,
        tuple(run.words for run in cleared[: len(runs)]),
        tuple(run.words for run in cleared[len(runs) :]),
        _overload(items),
        frozenset().union(*(state.flags for state in states), *(run.flags for run in cleared)),
        frozenset().union(*(state.kinds for state in states)),
        unknown[-1] if unknown else None,
    )


def _runs(items: Sequence[Item]) -> tuple[list[list[RunWord]], list[list[RunWord]]]:
    """The runs around the numbers, and those behind overload marks."""
    run: list[RunWord] = []
    runs, after_overload = [run], []
    for item in items:
        if isinstance(item, RunWord):
            run.append(item)
        elif isinstance(item, NamedNumber):
            run = []
            runs.append(run)
        elif isinstance(item, OverloadMark):
            run = []
            after_overload.append(run)
    return runs, after_overload


def _overload(items: Sequence[Item]) -> OverloadFound | None:
    """The overload of a line: the last field that says it for certain, else the first mark."""
    token: Token | None = None
    is_certain = False
    for item in items:
        if isinstance(item, OverloadMark):
            if token is None or (is_no_value(token.text) and not is_no_value(item.token.text)):
                token = item.token
            is_certain |= item.is_certain
        elif isinstance(item, FieldState) and item.is_overload:
            token, is_certain = _OVERLOAD_FIELD, True
        elif isinstance(item, NamedNumber) and _is_overload_field(item):
            token, is_certain = item.token, True
    return OverloadFound(token, is_certain) if token is not None else None


def _is_overload_field(number: NamedNumber) -> bool:
    """Whether a number is that of an overload field, and not zero."""
    is_named_so = number.name is not None and number.name.role is Role.OVERLOAD
    return is_named_so and bool(float(number.token.text))


def _without_states(run: Sequence[RunWord], known_words: frozenset[str], *, is_last: bool) -> _StatelessRun:
    if not run:
        return _EMPTY_RUN
    run = _with_low_power(run)
    roles = {word.meaning.role for word in run}
    flags = {FLAG_OF[role] for role in _WHOLE_LINE_STATES if role in roles}
    unknown: Token | None = None
    if Role.BATTERY in roles and (Role.LOW in roles or (is_last and not _is_battery_good(run))):
        flags.add(LineFlag.LOW_BATTERY)
        run = [word for word in run if word.meaning.role is not Role.BATTERY]
    elif Role.LOW in roles:
        low = next(word.token for word in run if word.meaning.role is Role.LOW)
        unknown = None if low.text in known_words else low
    words = tuple(
        word
        for word, after in zip_longest(run, run[1:])
        if word.meaning.role not in _NOT_IN_RUNS
        # "RANGE AUTO": a name whose value is a word of no weight.
        and not (after and word.meaning.role is Role.OTHER_NAME and after.meaning.role is Role.NOTHING)
    )
    return _StatelessRun(words, frozenset(flags), unknown)


def _is_battery_good(run: Sequence[RunWord]) -> bool:
    """Whether a word of no weight follows the battery's name: "BATT OK"."""
    return any(
        battery.meaning.role is Role.BATTERY and after.meaning.role is Role.NOTHING
        for battery, after in pairwise(run)
    )


def _with_low_power(run: Sequence[RunWord]) -> Sequence[RunWord]:
    """A run in which "low power" is what it says of the battery, and no power that the meter measures."""
    for place, (low, power) in enumerate(pairwise(run)):
        if low.meaning.role is Role.LOW and power.meaning == _POWER:
            return (*run[:place], RunWord(Meaning(Role.LOW_BATTERY), low.token), *run[place + 2 :])
    return run


_POWER = Meaning(Role.FUNCTION, Quantity.WATTS)
_EMPTY_RUN = _StatelessRun((), frozenset(), None)
