r"""The text of a meter description: written, read, and checked.

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
    line = "READ?"                # a line feed is added unless it ends in \r or \n
    every_s = 0.5                 # 0.02 to 60

    [line]                        # only where the display had to be typed; without it lines are read as they come
    separator = "semicolon"       # tab, semicolon, bar, comma, space or none
    field = 2                     # the value, counted from 1
    fields = 4                    # a line with another number of fields is damaged; left out: any number
    # or, for key=value and JSON:  key = "v"   occurrence = 1   occurrences = 1
    scale = 0.001                 # volts for 1 of the number, in the unit that the line gives (default 1)
    is_bare = true                # the number has no unit; a line with one is not read
    decimals = 1                  # digits behind its point when the scale was typed; with others the unit is asked for
    known_words = ["X1"]          # words of unknown meaning that may stand on the line
    ignored_fields = [4]          # fields that are not looked at
    overload_words = ["99999"]    # texts of the value that mean overload

    [meter]
    make = "Maker"                # make, model and serial number as on its plate
    model = "M-1"
    serial_number = "0042"
    input_resistance_ohm = 10e6
    input_capacitance_farad = 30e-12
    true_rms = true
    isolated_link = true          # the cable does not connect meter and computer electrically
    calibrated_on = 2026-03-01
    calibration_interval_months = 12  # how long that holds
    certificate = "C-123, Lab"    # number of the calibration certificate, and who issued it

    [[accuracy]]                  # one for each range, the smallest first
    up_to_volts = 0.6
    percent_of_reading = 1.0
    counts = 3
    resolution_volts = 0.0001     # one count
    specified_from_volts = 0.03   # below this the data sheet says nothing; left out: all of the range is specified

What is left out has the default of `MeterDescription`, and its name stands in `assumed`, so that a report can say so.
"""

from __future__ import annotations

import dataclasses
import datetime
import tomllib
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import msgspec
from msgspec import UNSET, Meta, UnsetType

from logger.meter.description import Accuracy, MeterDescription
from logger.meter.line_format import LineFormat, SeparatorName
from logger.meter.port import MAX_QUERY_EVERY_S, MIN_QUERY_EVERY_S, PortSettings
from logger.plain_text import one_line
from logger.toml_file import Text, TomlDocument, parse_by_line
from logger.translation import tr

if TYPE_CHECKING:
    from tomlkit import TOMLDocument
    from tomlkit.items import Item, Table

PLATE = ("make", "model", "serial_number", "certificate")
"""What a meter's plate and its calibration certificate say of it, as fields of `MeterDescription`."""

MAX_PLATE_LETTERS = 100
"""Longest such text: a line of the report."""

_Whole = Annotated[int, Meta(ge=1, le=1000)]


class _PortTable(msgspec.Struct, forbid_unknown_fields=True):
    baud: Annotated[int, Meta(ge=50, le=4_000_000)] | UnsetType = UNSET
    data_bits: Annotated[int, Meta(ge=5, le=8)] | UnsetType = UNSET
    parity: Literal["N", "E", "O", "M", "S"] | UnsetType = UNSET
    stop_bits: Annotated[float, Meta(ge=1, le=2)] | UnsetType = UNSET
    dtr: bool | UnsetType = UNSET
    rts: bool | UnsetType = UNSET


class _QueryTable(msgspec.Struct, forbid_unknown_fields=True):
    line: Text
    every_s: Annotated[float, Meta(ge=MIN_QUERY_EVERY_S, le=MAX_QUERY_EVERY_S)] | UnsetType = UNSET


class _LineTable(msgspec.Struct, forbid_unknown_fields=True):
    separator: SeparatorName | UnsetType = UNSET
    field: _Whole | UnsetType = UNSET
    fields: _Whole | UnsetType = UNSET
    key: Text | UnsetType = UNSET
    occurrence: _Whole | UnsetType = UNSET
    occurrences: _Whole | UnsetType = UNSET
    scale: Annotated[float, Meta(ge=1e-12, le=1e6)] | UnsetType = UNSET
    is_bare: bool | UnsetType = UNSET
    decimals: Annotated[int, Meta(ge=0, le=12)] | UnsetType = UNSET
    known_words: list[str] | UnsetType = UNSET
    ignored_fields: list[int] | UnsetType = UNSET
    overload_words: list[str] | UnsetType = UNSET


class _MeterTable(msgspec.Struct, forbid_unknown_fields=True):
    make: Text | UnsetType = UNSET
    model: Text | UnsetType = UNSET
    serial_number: Text | UnsetType = UNSET
    input_resistance_ohm: Annotated[float, Meta(ge=1e3, le=1e15)] | UnsetType = UNSET
    input_capacitance_farad: Annotated[float, Meta(ge=0.0, le=1e-6)] | UnsetType = UNSET
    true_rms: bool | UnsetType = UNSET
    isolated_link: bool | UnsetType = UNSET
    calibrated_on: datetime.date | UnsetType = UNSET
    calibration_interval_months: Annotated[int, Meta(ge=1, le=120)] | UnsetType = UNSET
    certificate: Text | UnsetType = UNSET


class _AccuracyTable(msgspec.Struct, forbid_unknown_fields=True):
    up_to_volts: Annotated[float, Meta(ge=1e-3, le=1e5)]
    percent_of_reading: Annotated[float, Meta(ge=0.0, le=100.0)]
    counts: Annotated[float, Meta(ge=0.0, le=1e4)]
    resolution_volts: Annotated[float, Meta(ge=1e-9, le=100.0)]
    specified_from_volts: Annotated[float, Meta(ge=0.0, le=1e5)] = 0.0


class _DescriptionFile(msgspec.Struct, forbid_unknown_fields=True):
    name: Text
    port: _PortTable | UnsetType = UNSET
    query: _QueryTable | UnsetType = UNSET
    line: _LineTable | UnsetType = UNSET
    meter: _MeterTable | UnsetType = UNSET
    accuracy: list[_AccuracyTable] | UnsetType = UNSET


def from_toml(text: str, path: Path) -> MeterDescription:
    """The description in a file's text.

    Raises:
        StillvoltError: something in it is wrong; file, line and field are named.
    """
    return from_document(parse_by_line(text, str(path)), path.stem)


def from_document(document: TomlDocument, file_name: str | None = None) -> MeterDescription:
    """The description in the values of a file or of a form; the one place where they are checked.

    Args:
        document: the values, with the way in which a mistake names its place.
        file_name: of the file, without its ending: the name has to be the same; None where there is no file yet.

    Raises:
        StillvoltError: something in it is wrong; its place is named.
    """
    # An empty table is none.
    values = {key: value for key, value in document.values.items() if value != {}}
    file = document.convert(_DescriptionFile, values)
    name = file.name.strip()
    if file_name is not None and name != file_name:
        raise document.mistake(
            ("name",),
            tr("is {name}, but the file is called {file}.toml").format(name=repr(file.name), file=file_name),
        )
    given = _given(file.meter)
    for key in PLATE:
        if why := _why_no_plate(given.get(key, "")):
            raise document.mistake(("meter", key), why)
    if file.accuracy is not UNSET:
        given["accuracy"] = _ranges(document, file.accuracy)
    assumed = MeterDescription("").assumed - set(given)
    return MeterDescription(
        name, _port(document, file), _line_format(document, file.line), **given, assumed=assumed
    )


def _given(table: msgspec.Struct | UnsetType) -> dict[str, Any]:
    """What stands in a table."""
    if isinstance(table, UnsetType):
        return {}
    return {key: value for key, value in msgspec.structs.asdict(table).items() if value is not UNSET}


def _why_no_plate(text: str) -> str:
    """Why a text is none of a meter's plate or certificate, to follow its name; empty where it is one."""
    if len(text) > MAX_PLATE_LETTERS:
        return tr("has {n} characters, and at most {most} fit").format(n=len(text), most=MAX_PLATE_LETTERS)
    if one_line(text) != text:
        return tr("has a character that cannot be seen, such as a line break or a mark of direction")
    return ""


def _port(document: TomlDocument, file: _DescriptionFile) -> PortSettings:
    given = _given(file.port)
    if given.get("stop_bits", 1.0) not in (1.0, 1.5, 2.0):
        raise document.mistake(("port", "stop_bits"), tr("must be 1, 1.5 or 2"))
    query = _given(file.query)
    names = {"line": "query", "every_s": "query_every_s"}
    return PortSettings(url="", **given, **{names[key]: value for key, value in query.items()})


def _line_format(document: TomlDocument, table: _LineTable | UnsetType) -> LineFormat | None:
    if isinstance(table, UnsetType):
        return None
    given = _given(table)
    if "key" in given:
        for other in ("separator", "field", "fields"):
            if other in given:
                raise document.mistake(
                    ("line", other), tr("stands beside key; only one of them says where the value is")
                )
    else:
        needed = ("separator", "field") if given.get("separator") != "none" else ("separator",)
        for key in needed:
            if key not in given:
                raise document.mistake(
                    ("line", key), tr("is missing or empty") if key == "separator" else tr("is missing")
                )
        if given.get("fields", 1000) < given.get("field", 1):
            raise document.mistake(
                ("line", "fields"),
                tr("must be between {low} and {high}").format(low=given["field"], high=1000),
            )
    if given.get("occurrence", 1) > given.get("occurrences", 1):
        raise document.mistake(("line", "occurrence"), tr("is larger than occurrences"))
    lists = {key: tuple(value) for key, value in given.items() if isinstance(value, list)}
    return LineFormat(**{**given, **lists})


def _ranges(document: TomlDocument, tables: list[_AccuracyTable]) -> tuple[Accuracy, ...]:
    if not tables:
        raise document.mistake(
            ("accuracy",), tr("is written as one or more tables [[{key}]]").format(key="accuracy")
        )
    for index, (before, after) in enumerate(pairwise(tables), 1):
        if after.up_to_volts <= before.up_to_volts:
            raise document.mistake(
                ("accuracy", index, "up_to_volts"), tr("is not above that of the range before")
            )
    for index, table in enumerate(tables):
        if table.specified_from_volts >= table.up_to_volts:
            raise document.mistake(
                ("accuracy", index, "specified_from_volts"), tr("is not below the end of the range")
            )
    return tuple(Accuracy(**msgspec.structs.asdict(table)) for table in tables)


def form_values(description: MeterDescription) -> dict[str, Any]:
    """The values of a description's file, by table and key; `from_document` gives the same description back."""
    return tomllib.loads(as_toml(description))


def as_toml(description: MeterDescription) -> str:
    """The text of a description's file; `from_toml` gives the same description back.

    Fields in `assumed` are written as comments, so that whoever edits the file sees what could be said.
    """
    import tomlkit  # noqa: PLC0415  start-up time: a recorder that reads a description writes none

    port, line = description.port, description.line
    document = tomlkit.document()
    document.add("name", _item(description.name))
    settings = _add_table(document, "port")
    for key in _PortTable.__struct_fields__:
        value = getattr(port, key)
        if value is None:
            settings.add(tomlkit.comment(f"{key} = true  # as the system sets it"))
        else:
            settings.add(key, _item(value))
    if port.query is not None:
        query = _add_table(document, "query")
        query.add("line", _item(port.query))
        query.add("every_s", _item(port.query_every_s))
    if line is not None:
        _add_line_format(_add_table(document, "line"), line)
    meter = _add_table(document, "meter")
    for key in _MeterTable.__struct_fields__:
        value = getattr(description, key)
        if key in description.assumed:
            shown = "2026-01-31" if value is None else _item(value).as_string()
            meter.add(tomlkit.comment(f"{key} = {shown}  # {'not known' if value is None else 'assumed'}"))
        elif value is not None and value != "":
            meter.add(key, _item(value))
    return tomlkit.dumps(document) + _accuracy_text(description)


def _add_table(document: TOMLDocument, name: str) -> Table:
    import tomlkit  # noqa: PLC0415  as in `as_toml`

    document.add(tomlkit.nl())
    table = tomlkit.table()
    document.add(name, table)
    return table


def _add_line_format(table: Table, line: LineFormat) -> None:
    if line.key is not None:
        keys = ["key", "occurrence", "occurrences"]
    else:
        keys = ["separator", "field", *(["fields"] if line.fields is not None else [])]
    lists = [
        key for key in ("is_bare", "known_words", "ignored_fields", "overload_words") if getattr(line, key)
    ]
    if line.decimals is not None:
        keys.append("decimals")
    for key in (*keys, "scale", *lists):
        table.add(key, _item(getattr(line, key)))


def _accuracy_text(description: MeterDescription) -> str:
    """The ranges as tables; commented out where they are assumed."""
    import tomlkit  # noqa: PLC0415  as in `as_toml`

    assumed = "accuracy" in description.assumed
    text = ""
    for range_ in description.accuracy:
        document = tomlkit.document()
        tables, table = tomlkit.aot(), tomlkit.table()
        for key, value in dataclasses.asdict(range_).items():
            table.add(key, _item(value))
        tables.append(table)
        document.add("accuracy", tables)
        lines = tomlkit.dumps(document).splitlines()
        if assumed:
            lines = [f"# {line}" for line in lines]
            lines[0] += "  # assumed"
        text += "\n" + "\n".join(lines) + "\n"
    return text


def _item(value: object) -> Item:
    """A value as it is written; a float with no more digits than it needs."""
    import tomlkit  # noqa: PLC0415  as in `as_toml`
    from tomlkit.items import Float, Trivia  # noqa: PLC0415  as in `as_toml`

    if isinstance(value, float):
        short = f"{value:g}"
        return Float(value, Trivia(), short if float(short) == value else repr(value))
    return tomlkit.item(list(value) if isinstance(value, tuple) else value)
