"""Reading a TOML table key by key, so that every mistake is told with its file and key in one sentence."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from logger.errors import StillvoltError


def parse_toml(text: str, where: str) -> Table:
    """The top table of a TOML text.

    Raises:
        StillvoltError: it is not TOML; names `where` and the line.
    """
    try:
        return Table(tomllib.loads(text), where)
    except (tomllib.TOMLDecodeError, ValueError, RecursionError) as error:
        raise StillvoltError(f"{where} is not readable as TOML: {error}.") from error


def read_text(path: Path) -> str:
    """The text of a scene or house file.

    Raises:
        StillvoltError: it cannot be read, or is not text.
    """
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise StillvoltError(f"{path} is not a text file in UTF-8.") from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise StillvoltError(f"{path} cannot be read: {reason}.") from error


class Table:
    """One table. Each getter takes a key out; `finish` refuses what is left over (a misspelt key, mostly).

    Args:
        values: as `tomllib` gives them.
        where: file and table, for messages.
    """

    def __init__(self, values: dict[str, Any], where: str) -> None:
        self._values = dict(values)
        self.where = where

    def refuse(self, key: str, what: str) -> StillvoltError:
        """The error that names this table and `key`."""
        return StillvoltError(f"{self.where}: {key} {what}.")

    def has(self, key: str) -> bool:
        """Whether the key is there and was not taken out yet."""
        return key in self._values

    def names(self) -> list[str]:
        """The keys that are left."""
        return list(self._values)

    def number(self, key: str, default: float | None, low: float, high: float) -> float:
        """A number from `low` to `high`."""
        value = self._take(key, default)
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise self.refuse(key, f"must be a number from {low:g} to {high:g}, not {_shown(value)}")
        return float(value)

    def pair(self, key: str, low: float, high: float) -> tuple[float, float]:
        """Two numbers in a list, each from `low` to `high`; one number stands for that and nothing."""
        value = self._take(key, None)
        numbers = value if isinstance(value, list) else [value, 0.0]
        if len(numbers) != 2:
            raise self.refuse(key, f"must be a number or two in a list, not {_shown(value)}")
        both = Table({key: numbers[0]}, self.where), Table({key: numbers[1]}, self.where)
        return both[0].number(key, None, low, high), both[1].number(key, None, low, high)

    def text(self, key: str, default: str | None = None) -> str:
        """A text that is not empty."""
        value = self._take(key, default)
        if not isinstance(value, str) or not value.strip():
            raise self.refuse(key, f"must be a text, not {_shown(value)}")
        return value.strip()

    def choice(self, key: str, default: str | None, choices: tuple[str, ...]) -> str:
        """One of these words."""
        value = self._take(key, default)
        if value not in choices:
            raise self.refuse(key, f"must be one of {', '.join(choices)}, not {_shown(value)}")
        return str(value)

    def flag(self, key: str, default: bool) -> bool:
        """true or false."""
        value = self._take(key, default)
        if not isinstance(value, bool):
            raise self.refuse(key, f"must be true or false, not {_shown(value)}")
        return value

    def table(self, key: str) -> Table:
        """A table inside this one; empty when it is not there."""
        value = self._take(key, {})
        if not isinstance(value, dict):
            raise self.refuse(key, "must be a table")
        return Table(value, f"{self.where} [{key}]")

    def overlay(self, key: str, over: Table) -> None:
        """Let the values of the table `key` in `over`, where there are any, replace those of the same table here."""
        values = over._take(key, {})
        if not isinstance(values, dict):
            raise over.refuse(key, "must be a table")
        self._values[key] = self._values.get(key, {}) | values

    def tables(self, key: str) -> list[Table]:
        """The tables of an array of tables."""
        value = self._take(key, [])
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            raise self.refuse(key, f"must be written as [[{key}]]")
        return [Table(item, f"{self.where} [[{key}]] {n}") for n, item in enumerate(value, 1)]

    def finish(self) -> None:
        """Raises StillvoltError when a key is left over."""
        for key in self._values:
            raise self.refuse(key, "is not known here")

    def _take(self, key: str, default: Any) -> Any:
        if key in self._values:
            return self._values.pop(key)
        if default is None:
            raise self.refuse(key, "is missing")
        return default


def _shown(value: Any) -> str:
    shown = repr(value)
    return shown if len(shown) <= 40 else f"{shown[:37]}..."
