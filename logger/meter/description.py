"""Descriptions of meters: how one is connected, how its lines are read, how well it measures.

Each is a file of its own, NAME.toml, in the folder `meters` of the user's settings folder (`folder()`), made by the
window and by `stillvolt identify --keep NAME`, and meant to be edited by hand:

    name = "Bench meter"

    [port]
    baud = 9600                   # bits per second
    data_bits = 8                 # 5 to 8
    parity = "N"                  # N, E, O, M or S
    stop_bits = 1                 # 1, 1.5 or 2
    dtr = true                    # left out: as the system sets it
    rts = true

    [query]                       # only for a meter that sends nothing by itself
    line = "READ?"                # a line feed is added unless it ends in \\r or \\n
    every_s = 0.5                 # 0.02 to 60

    [line]                        # only where the lines had to be taught; without it they are read as they come
    separator = "semicolon"       # tab, semicolon, bar, comma, space or none
    field = 2                     # the value, counted from 1
    fields = 4                    # a line with another number of fields is damaged; left out: any number
    # or, for key=value and JSON:  key = "v"   occurrence = 1   occurrences = 1
    scale = 0.001                 # volts for 1 of the number, in the unit that the line gives (default 1)
    known_words = ["X1"]          # words of unknown meaning that may stand on the line
    ignored_fields = [4]          # fields that are not looked at
    overload_words = ["99999"]    # texts of the value that mean overload

    [meter]
    input_resistance_ohm = 10e6
    input_capacitance_farad = 30e-12
    true_rms = true
    isolated_link = true          # the cable does not connect meter and computer electrically
    calibrated_on = 2026-03-01

    [[accuracy]]                  # one for each range, the smallest first
    up_to_volts = 0.6
    percent_of_reading = 1.0
    counts = 3
    resolution_volts = 0.0001     # one count

What is left out has the default of `Description`, and its name stands in `assumed`, so that a report can say so.
"""

from __future__ import annotations

import datetime
import math
import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

import platformdirs

from logger.errors import StillvoltError
from logger.meter.line_format import SEPARATORS, LineFormat
from logger.meter.lines import LineReading, read_line
from logger.meter.port import MAX_QUERY_EVERY_S, MIN_QUERY_EVERY_S, PortSettings


@dataclass(frozen=True, slots=True)
class Accuracy:
    """What a meter's data sheet says about one of its ranges.

    Args:
        up_to_volts: end of the range.
        percent_of_reading, counts: the limit of error is this part of the reading plus so many counts.
        resolution_volts: one count.
    """

    up_to_volts: float
    percent_of_reading: float
    counts: float
    resolution_volts: float

    def limit_volts(self, volts: float) -> float:
        """The limit of error at a reading. (As a standard uncertainty: divided by the square root of 3.)"""
        return volts * self.percent_of_reading / 100.0 + self.counts * self.resolution_volts


ASSUMED_ACCURACY = (Accuracy(600.0, 2.0, 5.0, 0.001),)
"""A plain multimeter on AC volts; common practice, no source."""


NO_PORT = PortSettings(url="")


@dataclass(frozen=True, slots=True)
class Description:
    """A meter.

    Args:
        name: for people; also the name of its file.
        port: settings; its url is empty, since the same meter may be plugged in anywhere.
        line: None where `read_line` reads the meter's lines by itself.
        accuracy: one for each range, the smallest first.
        input_resistance_ohm, input_capacitance_farad: what the meter puts between body and earth.
        true_rms: it measures rms for any wave form.
        isolated_link: its cable does not connect it to the computer electrically (optical, radio).
        calibrated_on: day of the last calibration; None when unknown.
        assumed: names of those of these fields that nobody has given and that have their default.
    """

    name: str
    port: PortSettings = NO_PORT
    line: LineFormat | None = None
    accuracy: tuple[Accuracy, ...] = ASSUMED_ACCURACY
    # 10 Mohm is the input of nearly every multimeter; the rest is the careful guess (common practice, no source).
    input_resistance_ohm: float = 10e6
    input_capacitance_farad: float = 100e-12
    true_rms: bool = False
    isolated_link: bool = False
    calibrated_on: datetime.date | None = None
    assumed: frozenset[str] = frozenset(
        {
            "accuracy",
            "input_resistance_ohm",
            "input_capacitance_farad",
            "true_rms",
            "isolated_link",
            "calibrated_on",
        }
    )

    def read(self) -> Callable[[bytes], LineReading]:
        """What reads the meter's lines."""
        return self.line.reader() if self.line else read_line

    def settings(self, url: str) -> PortSettings:
        """The settings of the port that the meter is plugged in at."""
        return replace(self.port, url=url, meter=self.name)

    def accuracy_at(self, volts: float) -> Accuracy:
        """The range that a reading belongs to: the smallest that holds it, else the largest."""
        return next((range_ for range_ in self.accuracy if volts <= range_.up_to_volts), self.accuracy[-1])


def folder() -> Path:
    """The folder of the meter descriptions; it need not exist."""
    return Path(platformdirs.user_config_dir("stillvolt", appauthor=False)) / "meters"


def path_of(name: str, where: Path | None = None) -> Path:
    """The file of a description.

    Raises:
        StillvoltError: the name cannot be that of a file.
    """
    stem = name.strip()
    if not stem or len(stem) > 80 or stem[0] == "." or re.search(r'[<>:"/\\|?*\x00-\x1f]', stem):
        raise StillvoltError(
            f"A meter cannot be called {name!r}.",
            next_step="Use letters, digits, spaces and hyphens, up to 80.",
        )
    return (where or folder()) / f"{stem}.toml"


def list_descriptions(where: Path | None = None) -> list[str]:
    """The names under which descriptions are kept, in order."""
    return sorted((path.stem for path in (where or folder()).glob("*.toml")), key=str.casefold)


def load(name: str, where: Path | None = None) -> Description:
    """The description kept under a name.

    Raises:
        StillvoltError: there is none, or something in it is wrong; then file, line and field are named.
    """
    path = path_of(name, where)
    if not path.exists():
        known = ", ".join(list_descriptions(where))
        raise StillvoltError(
            f"No meter called {name!r} is described in {path.parent}.",
            next_step=f"There are: {known}."
            if known
            else "`stillvolt identify --keep NAME` makes a description.",
        )
    return load_file(path)


def load_file(path: Path) -> Description:
    """The description in a file.

    Raises:
        StillvoltError: it cannot be read, or something in it is wrong; then file, line and field are named.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise StillvoltError(f"{path} cannot be read ({error}).") from error
    return from_toml(text, path)


def from_toml(text: str, path: Path) -> Description:
    """The description in a file's text; raises StillvoltError as `load_file` does."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise StillvoltError(
            f"{path}: it is not written as TOML ({error}).", next_step="Correct that line."
        ) from error
    return _Loader(path, text).description(data)


def save(description: Description, where: Path | None = None) -> Path:
    """Keep a description under its name. A file of that name is kept beside it as NAME.toml.1, .2 and so on.

    Fields in `assumed` are written as comments, so that whoever edits the file sees what could be said.

    Returns:
        The file.

    Raises:
        StillvoltError: it cannot be written; what was there is left as it was.
    """
    path = path_of(description.name, where)
    text = as_toml(description)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.exists():
            if path.read_text(encoding="utf-8", errors="replace") == text:
                return path
            path.rename(_free_backup(path))
        new = path.with_suffix(".new")
        new.write_text(text, encoding="utf-8")
        new.replace(path)
    except OSError as error:
        raise StillvoltError(
            f"{path} cannot be written ({error.strerror}).", "Nothing was changed.", "Choose another name."
        ) from error
    return path


def as_toml(description: Description) -> str:
    """The text of a description's file; `load_file` gives the same description back."""
    port, line = description.port, description.line
    out = [f"name = {_toml(description.name)}", "", "[port]"]
    for key in ("baud", "data_bits", "parity", "stop_bits", "dtr", "rts"):
        value = getattr(port, key)
        out.append(f"# {key} = true  # as the system sets it" if value is None else f"{key} = {_toml(value)}")
    if port.query is not None:
        out += ["", "[query]", f"line = {_toml(port.query)}", f"every_s = {_toml(port.query_every_s)}"]
    if line is not None:
        out += ["", "[line]"]
        if line.key is not None:
            out += [f"{key} = {_toml(getattr(line, key))}" for key in ("key", "occurrence", "occurrences")]
        else:
            out += [f"separator = {_toml(line.separator)}", f"field = {line.field}"]
            if line.fields is not None:
                out.append(f"fields = {line.fields}")
        out.append(f"scale = {_toml(line.scale)}")
        for key in ("known_words", "ignored_fields", "overload_words"):
            if getattr(line, key):
                out.append(f"{key} = {_toml(list(getattr(line, key)))}")
    out += ["", "[meter]"]
    for key in _METER_KEYS:
        value = getattr(description, key)
        if key in description.assumed:
            shown = "2026-01-31" if value is None else _toml(value)
            out.append(f"# {key} = {shown}  # {'not known' if value is None else 'assumed'}")
        elif value is not None:
            out.append(f"{key} = {_toml(value)}")
    for range_ in description.accuracy:
        mark = "# " if "accuracy" in description.assumed else ""
        out += ["", f"{mark}[[accuracy]]" + ("  # assumed" if mark else "")]
        out += [f"{mark}{field.name} = {_toml(getattr(range_, field.name))}" for field in fields(Accuracy)]
    return "\n".join(out) + "\n"


_METER_KEYS = (
    "input_resistance_ohm",
    "input_capacitance_farad",
    "true_rms",
    "isolated_link",
    "calibrated_on",
)


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        escaped = value.replace("\\", "\\\\").replace('"', '\\"')
        return '"' + re.sub(r"[\x00-\x1f\x7f]", lambda m: f"\\u{ord(m[0]):04x}", escaped) + '"'
    if isinstance(value, list):
        return "[" + ", ".join(_toml(item) for item in value) + "]"
    if isinstance(value, float):
        return f"{value:g}" if float(f"{value:g}") == value else repr(value)
    return str(value)


def _free_backup(path: Path) -> Path:
    number = 1
    while (backup := path.with_name(f"{path.name}.{number}")).exists():
        number += 1
    return backup


class _Loader:
    """Checks what a file says, and names the place of what is wrong."""

    def __init__(self, path: Path, text: str) -> None:
        self._path = path
        self._lines = text.splitlines()

    def description(self, data: dict[str, Any]) -> Description:
        self._known(data, "", {"name", "port", "query", "line", "meter", "accuracy"})
        name = self._text(data, "", "name", required=True)
        if name.strip() != self._path.stem:
            raise self._wrong("", "name", f"is {name!r}, but the file is called {self._path.name}")
        meter = self._table(data, "meter")
        self._known(meter, "meter", set(_METER_KEYS))
        given: dict[str, Any] = {}
        for key, low, high in (
            ("input_resistance_ohm", 1e3, 1e15),
            ("input_capacitance_farad", 0.0, 1e-6),
        ):
            if key in meter:
                given[key] = self._number(meter, "meter", key, low, high)
        for key in ("true_rms", "isolated_link"):
            if key in meter:
                given[key] = self._bool(meter, "meter", key)
        if "calibrated_on" in meter:
            given["calibrated_on"] = self._date(meter, "meter", "calibrated_on")
        if "accuracy" in data:
            given["accuracy"] = self._accuracy(data["accuracy"])
        assumed = Description("").assumed - set(given)
        return Description(name.strip(), self._port(data), self._line(data), **given, assumed=assumed)

    def _port(self, data: dict[str, Any]) -> PortSettings:
        port, query = self._table(data, "port"), self._table(data, "query")
        self._known(port, "port", {"baud", "data_bits", "parity", "stop_bits", "dtr", "rts"})
        self._known(query, "query", {"line", "every_s"})
        given: dict[str, Any] = {}
        if "baud" in port:
            given["baud"] = self._whole(port, "port", "baud", 50, 4_000_000)
        if "data_bits" in port:
            given["data_bits"] = self._whole(port, "port", "data_bits", 5, 8)
        if "parity" in port:
            given["parity"] = self._one_of(port, "port", "parity", ("N", "E", "O", "M", "S"))
        if "stop_bits" in port:
            stop_bits = self._number(port, "port", "stop_bits", 1, 2)
            if stop_bits not in (1.0, 1.5, 2.0):
                raise self._wrong("port", "stop_bits", "must be 1, 1.5 or 2")
            given["stop_bits"] = stop_bits
        for key in ("dtr", "rts"):
            if key in port:
                given[key] = self._bool(port, "port", key)
        if query:
            given["query"] = self._text(query, "query", "line", required=True)
            if "every_s" in query:
                given["query_every_s"] = self._number(
                    query, "query", "every_s", MIN_QUERY_EVERY_S, MAX_QUERY_EVERY_S
                )
        return PortSettings(url="", **given)

    def _line(self, data: dict[str, Any]) -> LineFormat | None:
        line = self._table(data, "line")
        if not line:
            return None
        self._known(line, "line", {field.name for field in fields(LineFormat)})
        given: dict[str, Any] = {}
        if "key" in line:
            for other in ("separator", "field", "fields"):
                if other in line:
                    raise self._wrong(
                        "line", other, "stands beside key; only one of them says where the value is"
                    )
            given["key"] = self._text(line, "line", "key", required=True)
        else:
            separator = self._one_of(line, "line", "separator", tuple(SEPARATORS), required=True)
            given["separator"] = separator
            given["field"] = self._whole(line, "line", "field", 1, 1000, required=separator != "none")
            if "fields" in line:
                given["fields"] = self._whole(line, "line", "fields", given["field"], 1000)
        for key in ("occurrence", "occurrences"):
            if key in line:
                given[key] = self._whole(line, "line", key, 1, 1000)
        if given.get("occurrence", 1) > given.get("occurrences", 1):
            raise self._wrong("line", "occurrence", "is larger than occurrences")
        if "scale" in line:
            given["scale"] = self._number(line, "line", "scale", 1e-12, 1e6)
        for key in ("known_words", "overload_words"):
            if key in line:
                given[key] = tuple(self._list(line, "line", key, str, "text in quotes"))
        if "ignored_fields" in line:
            given["ignored_fields"] = tuple(self._list(line, "line", "ignored_fields", int, "whole numbers"))
        return LineFormat(**given)

    def _accuracy(self, ranges: Any) -> tuple[Accuracy, ...]:
        if not isinstance(ranges, list) or not ranges or not all(isinstance(one, dict) for one in ranges):
            raise self._wrong("", "accuracy", "is written as one or more tables [[accuracy]]")
        out: list[Accuracy] = []
        for index, one in enumerate(ranges):
            self._known(one, "accuracy", {field.name for field in fields(Accuracy)}, index)
            out.append(
                Accuracy(
                    self._number(one, "accuracy", "up_to_volts", 1e-3, 1e5, index),
                    self._number(one, "accuracy", "percent_of_reading", 0.0, 100.0, index),
                    self._number(one, "accuracy", "counts", 0.0, 1e4, index),
                    self._number(one, "accuracy", "resolution_volts", 1e-9, 100.0, index),
                )
            )
            if index and out[-1].up_to_volts <= out[-2].up_to_volts:
                raise self._wrong("accuracy", "up_to_volts", "is not above that of the range before", index)
        return tuple(out)

    # Single values.

    def _table(self, data: dict[str, Any], name: str) -> dict[str, Any]:
        table = data.get(name, {})
        if not isinstance(table, dict):
            raise self._wrong("", name, f"is a table, written [{name}]")
        return table

    def _known(self, table: dict[str, Any], name: str, known: set[str], index: int = 0) -> None:
        for key in table:
            if key not in known:
                near = ", ".join(sorted(known))
                raise self._wrong(name, key, f"is not known here; known are {near}", index)

    def _number(
        self, table: dict[str, Any], name: str, key: str, low: float, high: float, index: int = 0
    ) -> float:
        value = table.get(key)
        if value is None:
            raise self._wrong(name, key, "is missing", index)
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise self._wrong(name, key, "must be a number", index)
        if not low <= value <= high:
            raise self._wrong(name, key, f"must be between {low:g} and {high:g}", index)
        return float(value)

    def _whole(
        self, table: dict[str, Any], name: str, key: str, low: int, high: int, required: bool = True
    ) -> int:
        value = table.get(key)
        if value is None:
            if not required:
                return low
            raise self._wrong(name, key, "is missing")
        if isinstance(value, bool) or not isinstance(value, int):
            raise self._wrong(name, key, "must be a whole number")
        if not low <= value <= high:
            raise self._wrong(name, key, f"must be between {low} and {high}")
        return value

    def _bool(self, table: dict[str, Any], name: str, key: str) -> bool:
        if not isinstance(table[key], bool):
            raise self._wrong(name, key, "must be true or false")
        return bool(table[key])

    def _text(self, table: dict[str, Any], name: str, key: str, required: bool = False) -> str:
        value = table.get(key, "")
        if not isinstance(value, str):
            raise self._wrong(name, key, "must be text in quotes")
        if required and not value.strip():
            raise self._wrong(name, key, "is missing or empty")
        return value

    def _one_of(
        self, table: dict[str, Any], name: str, key: str, choices: tuple[str, ...], required: bool = False
    ) -> str:
        value = self._text(table, name, key, required)
        if value not in choices:
            raise self._wrong(name, key, f"must be one of {', '.join(choices)}")
        return value

    def _date(self, table: dict[str, Any], name: str, key: str) -> datetime.date:
        value = table[key]
        if isinstance(value, datetime.datetime) or not isinstance(value, datetime.date):
            raise self._wrong(name, key, "must be a date such as 2026-03-01, without quotes")
        return value

    def _list(self, table: dict[str, Any], name: str, key: str, kind: type, what: str) -> list[Any]:
        value = table[key]
        if not isinstance(value, list) or not all(
            isinstance(item, kind) and not isinstance(item, bool) for item in value
        ):
            raise self._wrong(name, key, f"must be a list of {what}")
        return value

    def _wrong(self, table: str, key: str, what: str, index: int = 0) -> StillvoltError:
        field = f"{table}.{key}" if table else key
        line = self._line_of(table, key, index)
        place = f"{self._path}, line {line}" if line else str(self._path)
        return StillvoltError(f"{place}: {field} {what}.", next_step="Correct it in a text editor.")

    def _line_of(self, table: str, key: str, index: int) -> int:
        """The line of a key, or of its table where the key is missing; 0 when neither is there."""
        here, count, table_line = "", -1, 0
        for number, line in enumerate(self._lines, 1):
            head = re.match(r"\s*\[\[?\s*([^\]]*?)\s*\]", line)
            if head:
                here = head[1].strip("\"'")
                count += here == table
                if here == table and count == index:
                    table_line = number
                if not table and here == key:
                    return number
            elif here == table and (not table or count == index):
                match = re.match(r"\s*(\"[^\"]*\"|'[^']*'|[\w-]+)\s*[=.]", line)
                if match and match[1].strip("\"'") == key:
                    return number
            elif not here and re.match(rf"\s*{re.escape(table)}\s*[=.]", line):
                table_line = number
        return table_line
