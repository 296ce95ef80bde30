"""TOML files that people edit: read, checked against declared types, and every mistake named by its place.

In: the text of a file. Out: its values as instances of `msgspec.Struct` classes, or a `StillvoltError` with file and
key. A field's type is all that is declared: its limits are `msgspec.Meta(ge=..., le=...)`, its choices a `Literal`;
what the user is told about a wrong value follows from them.

Two ways to name a place: `TomlByLine` gives the line and the dotted key (meter descriptions), `TomlByTable` the table
and the value that it does not take (scenes, houses, the simulated port's URL).
"""

from __future__ import annotations

import datetime
import math
import re
import tomllib
from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

import msgspec

from logger.errors import StillvoltError
from logger.translation import shown_number, tr

T = TypeVar("T")

KeyPath = tuple[str | int, ...]
"""Keys from the top of the file to a value; numbers count the tables of an array from 0."""

Text = Annotated[str, msgspec.Meta(pattern=r"\S")]
"""A text that is not empty."""

MAX_SHOWN = 40
"""A longer value is cut in a message."""


@dataclass(frozen=True, slots=True)
class Requirement:
    """What a field takes, as far as a message needs it.

    Args:
        kind: the type without its limits.
        low, high: limits of a number; None for none.
        choices: the words that it takes; empty for any.
        item: type of the items of a list; None for other types.
    """

    kind: Any
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    item: Any = None

    @property
    def is_table(self) -> bool:
        """Whether it is a table of its own."""
        return _is_struct(self.kind)

    @property
    def is_tables(self) -> bool:
        """Whether it is an array of tables."""
        return _is_struct(self.item)


class TomlDocument(ABC):
    """Values with the name of where they come from.

    Args:
        values: as `tomllib` gives them.
        where: file, for messages.
    """

    def __init__(self, values: dict[str, Any], where: str) -> None:
        self.values = values
        self.where = where

    def convert(self, schema: type[T], values: object = None, path: KeyPath = ()) -> T:
        """Values checked and converted to a declared type.

        Args:
            schema: a `msgspec.Struct`, or the type of a single value.
            values: what is checked; None for the whole document.
            path: the keys under which the values are, for messages.

        Raises:
            StillvoltError: a value is missing, unknown or wrong; names its place.
        """
        values = self.values if values is None else values
        try:
            return msgspec.convert(values, schema, builtin_types=(datetime.date, datetime.datetime))
        except msgspec.ValidationError as error:
            raise self._translated(str(error), schema, values, path) from error

    @abstractmethod
    def mistake(self, path: KeyPath, what: str) -> StillvoltError:
        """The error that names the place of a value.

        Args:
            path: the keys to the value.
            what: what is wrong with it, to follow its name.
        """

    @abstractmethod
    def describe_missing(self, needed: Requirement) -> str:
        """What is said about a value that has to be there."""

    @abstractmethod
    def describe_unknown(self, known: Sequence[str]) -> str:
        """What is said about a key that is not among the known ones."""

    @abstractmethod
    def describe_requirement(self, needed: Requirement, value: object, path: KeyPath) -> str:
        """What is said about a value that a field does not take.

        Args:
            needed: what the field takes.
            value: what it was given.
            path: the keys to the value.
        """

    def _translated(self, message: str, schema: Any, values: object, path: KeyPath) -> StillvoltError:
        match = re.fullmatch(r"(.*?)(?: - at `\$(.*)`)?", message, re.DOTALL)
        assert match is not None
        inner: list[str | int] = [
            int(number) if number else key
            for key, number in re.findall(r"\.([^.\[\]]+)|\[(\d+)\]", match[2] or "")
        ]
        if field := re.search(r"Object missing required field `(.*)`", match[1], re.DOTALL):
            needed = _unwrapped(_type_at(schema, (*inner, field[1])))
            return self.mistake((*path, *inner, field[1]), self.describe_missing(needed))
        if field := re.search(r"Object contains unknown field `(.*)`", match[1], re.DOTALL):
            table = _unwrapped(_type_at(schema, inner)).kind
            return self.mistake(
                (*path, *inner, field[1]), self.describe_unknown(list(table.__struct_fields__))
            )
        # An item that is no table is named by its list.
        while inner and isinstance(inner[-1], int):
            inner.pop()
        value = values
        for key in inner:
            value = value[key]  # type: ignore[index]
        place = (*path, *inner)
        needed = _unwrapped(_type_at(schema, inner))
        return self.mistake(place, self.describe_requirement(needed, value, place))


class TomlByLine(TomlDocument):
    """A file whose mistakes are named by line.

    Args:
        values: as `tomllib` gives them.
        where: the file.
        text: its text.
    """

    def __init__(self, values: dict[str, Any], where: str, text: str) -> None:
        super().__init__(values, where)
        self._text = text

    def mistake(self, path: KeyPath, what: str) -> StillvoltError:
        """See `TomlDocument`."""
        line = line_of(self._text, path)
        key = ".".join(part for part in path if isinstance(part, str))
        # Translators: what is wrong follows the name of a key, as in "meter.toml, line 3: port.baud is missing."
        at_line, nowhere = tr("{file}, line {line}: {key} {what}."), tr("{place}: {key} {what}.")
        return StillvoltError(
            at_line.format(file=self.where, line=line, key=key, what=what)
            if line
            else nowhere.format(place=self.where, key=key, what=what),
            next_step=tr("Correct it in a text editor."),
        )

    def describe_missing(self, needed: Requirement) -> str:
        """See `TomlDocument`."""
        return tr("is missing or empty") if needed.kind is str else tr("is missing")

    def describe_unknown(self, known: Sequence[str]) -> str:
        """See `TomlDocument`."""
        return tr("is not known here; known are {keys}").format(keys=", ".join(sorted(known)))

    def describe_requirement(self, needed: Requirement, value: object, path: KeyPath) -> str:
        """See `TomlDocument`."""
        key = path[-1]
        if needed.is_table:
            return tr("is a table, written [{key}]").format(key=key)
        if needed.is_tables:
            return tr("is written as one or more tables [[{key}]]").format(key=key)
        if needed.kind is list:
            texts, numbers = tr("must be a list of text in quotes"), tr("must be a list of whole numbers")
            return texts if needed.item is str else numbers
        if needed.kind is bool:
            return tr("must be true or false")
        if needed.kind is datetime.date:
            return tr("must be a date such as 2026-03-01, without quotes")
        if needed.choices and isinstance(value, str):
            return tr("must be one of {choices}").format(choices=", ".join(needed.choices))
        if needed.choices or needed.kind is str:
            return self.describe_missing(needed) if isinstance(value, str) else tr("must be text in quotes")
        is_number = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
        if needed.kind is int and not (is_number and isinstance(value, int)):
            return tr("must be a whole number")
        if not is_number:
            return tr("must be a number")
        return tr("must be between {low} and {high}").format(low=_limit(needed.low), high=_limit(needed.high))


class TomlByTable(TomlDocument):
    """A file whose mistakes are named by table and key."""

    def mistake(self, path: KeyPath, what: str) -> StillvoltError:
        """See `TomlDocument`."""
        where = self.where
        for part, after in pairwise(path):
            if isinstance(part, int):
                continue
            where += f" [[{part}]] {after + 1}" if isinstance(after, int) else f" [{part}]"
        return StillvoltError(tr("{place}: {key} {what}.").format(place=where, key=path[-1], what=what))

    def describe_missing(self, needed: Requirement) -> str:
        """See `TomlDocument`."""
        return tr("is missing")

    def describe_unknown(self, known: Sequence[str]) -> str:
        """See `TomlDocument`."""
        return tr("is not known here")

    def describe_requirement(self, needed: Requirement, value: object, path: KeyPath) -> str:
        """See `TomlDocument`."""
        if needed.is_table or needed.kind is dict:
            return tr("must be a table")
        if needed.is_tables:
            return tr("must be written as [[{key}]]").format(key=path[-1])
        if needed.kind is bool:
            what = tr("must be true or false, not {value}")
        elif needed.choices:
            what = tr("must be one of {choices}, not {value}")
        elif needed.kind is str:
            what = tr("must be a text, not {value}")
        else:
            what = tr("must be a number from {low} to {high}, not {value}")
        return what.format(
            choices=", ".join(needed.choices),
            low=_limit(needed.low),
            high=_limit(needed.high),
            value=shortened(value),
        )

    def number(self, value: object, path: KeyPath, low: float, high: float) -> float:
        """A number whose limits follow from other values.

        Args:
            value: what is checked.
            path: the keys to it.
            low: the least that it may be.
            high: the most that it may be.

        Raises:
            StillvoltError: it is none, or beyond its limits.
        """
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            needed = Requirement(float, low, high)
            raise self.mistake(path, self.describe_requirement(needed, value, path))
        return float(value)

    def pair(self, value: object, path: KeyPath, low: float, high: float) -> tuple[float, float]:
        """Two numbers in a list; one number stands for that and nothing.

        Args:
            value: what is checked.
            path: the keys to it.
            low: the least that each may be.
            high: the most that each may be.

        Raises:
            StillvoltError: it is something else.
        """
        numbers = value if isinstance(value, list) else [value, 0.0]
        if len(numbers) != 2:
            raise self.mistake(
                path, tr("must be a number or two in a list, not {value}").format(value=shortened(value))
            )
        return self.number(numbers[0], path, low, high), self.number(numbers[1], path, low, high)


def read_text(path: Path) -> str:
    """The text of a file.

    Raises:
        StillvoltError: it cannot be read, or is not text.
    """
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise StillvoltError(tr("{path} is not a text file in UTF-8.").format(path=path)) from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise StillvoltError(
            tr("{path} cannot be read: {reason}.").format(path=path, reason=reason)
        ) from error


def parse_by_line(text: str, where: str) -> TomlByLine:
    """A document whose mistakes are named by line.

    Raises:
        StillvoltError: the text is not TOML; names `where` and the line.
    """
    try:
        return TomlByLine(tomllib.loads(text), where, text)
    except (ValueError, RecursionError) as error:
        raise StillvoltError(
            tr("{file}: it is not written as TOML ({reason}).").format(file=where, reason=error),
            next_step=tr("Correct that line."),
        ) from error


def parse_by_table(text: str, where: str) -> TomlByTable:
    """A document whose mistakes are named by table and key.

    Raises:
        StillvoltError: the text is not TOML; names `where` and the line.
    """
    try:
        return TomlByTable(tomllib.loads(text), where)
    except (ValueError, RecursionError) as error:
        raise StillvoltError(
            tr("{file} is not readable as TOML: {reason}.").format(file=where, reason=error)
        ) from error


def line_of(text: str, path: KeyPath) -> int:
    """The line of a key, counted from 1; that of its table where the key is missing; 0 where neither is there.

    Args:
        text: of a whole TOML file.
        path: the keys to the value.
    """
    import tomlkit  # noqa: PLC0415  start-up time: only a file with a mistake needs it
    from tomlkit.exceptions import TOMLKitError  # noqa: PLC0415  as above
    from tomlkit.items import AoT, Table  # noqa: PLC0415  as above

    # The library keeps every character but no line numbers: a mark is put at the place and looked for in the text.
    mark = b"\x7fmark\x7f".hex()
    try:
        document = tomlkit.parse(text)
    except TOMLKitError:  # what one reader takes, another may not
        return 0
    table: Any = document
    for depth, key in enumerate(path):
        try:
            item = table[key]
        except (KeyError, IndexError, TypeError):
            item = None
        if item is None or depth == len(path) - 1:
            headed = item if isinstance(item, Table) else item[0] if isinstance(item, AoT) else None
            if item is None and isinstance(table, Table):
                headed = table
            if headed is not None:
                headed.comment(mark)
            elif item is not None:
                table[key] = mark
            break
        table = item
    before, found, _ = tomlkit.dumps(document).partition(mark)
    return before.count("\n") + 1 if found else 0


def shortened(value: object) -> str:
    """A value as it is shown in a message."""
    shown = repr(value)
    return shown if len(shown) <= MAX_SHOWN else f"{shown[: MAX_SHOWN - 3]}..."


def _limit(value: float | None) -> str:
    if value is None:
        return ""
    return str(value) if isinstance(value, int) else shown_number(f"{value:g}")


def _is_struct(kind: object) -> bool:
    return isinstance(kind, type) and issubclass(kind, msgspec.Struct)


def _unwrapped(hint: Any) -> Requirement:
    """What a type hint requires."""
    low: float | None = None
    high: float | None = None
    while (origin := get_origin(hint)) in (Annotated, Union, UnionType):
        if origin is Annotated:
            hint, meta, *_ = get_args(hint)
            low, high = meta.ge if meta.ge is not None else low, meta.le if meta.le is not None else high
        else:
            hint = next(one for one in get_args(hint) if one not in (NoneType, msgspec.UnsetType))
    if origin is Literal:
        return Requirement(str, choices=get_args(hint))
    if origin in (list, tuple):
        return Requirement(list, item=_unwrapped(get_args(hint)[0]).kind)
    return Requirement(origin or hint, low, high)


def _type_at(schema: Any, path: Sequence[str | int]) -> Any:
    """The type hint of a value inside a schema."""
    hint = schema
    for key in path:
        needed = _unwrapped(hint)
        hint = needed.item if isinstance(key, int) else get_type_hints(needed.kind, include_extras=True)[key]
    return hint
