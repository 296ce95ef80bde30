"""A trace logged elsewhere, read strictly: a CSV file with the header `time_s,volts`.

In: a file. Out: its rows, each with its text. A row that is not plainly a time and a voltage refuses the whole file:
what is imported stays in its visit log, and what a replay finds in a damaged trace would look like any other event.
"""

from __future__ import annotations

import csv
import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from pathlib import Path

from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.meter.point_watch import MAX_METER_VOLTS
from logger.meter.splitter import MAX_LINE_BYTES
from logger.translation import tr
from logger.visit.records.imported_trace import UNITS, in_volts
from logger.visit.records.simulated_run import SIMULATED, is_mark
from logger.visit.results.typed_value import UNLIKELY_VOLTS

HEADER = ["time_s", "volts"]

MAX_TRACE_S = 366 * 86_400.0
"""No trace is longer than a year; a larger time does not count from the trace's beginning (Unix time, or ms)."""

UNIT = "unit"
"""A column that states the unit of each value."""

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_NOT_FINITE = re.compile(r"[+-]?(nan|inf|infinity)", re.ASCII | re.IGNORECASE)
_CONTROL = re.compile(r"[\x00-\x08\x0a-\x1f\x7f]")
_SQLITE_HEAD = b"SQLite format 3\x00"
_BYTE_ORDER_MARK = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True)
class TraceRow:
    """A row of a trace.

    Args:
        t_ns: its time, ns since the trace's second 0.
        volts: AC rms volts.
        raw: the row as it is in the file, without its line end.
    """

    t_ns: int
    volts: float
    raw: bytes


@dataclass(frozen=True, slots=True)
class TraceFile:
    """A trace as it was read.

    Args:
        name: name of the file, without its folder.
        sha256: of its bytes, 64 hexadecimal digits.
        rows: at least one, each later than the one before.
        simulated: a column `simulated` marks one of its rows as simulated, as it does in an export.
        unread_columns: names of the columns that nothing was read from.
        unit_exponent: power of ten of the unit of the values as they are written.
        is_unit_assumed: nobody states their unit, and they are taken for volts.
    """

    name: str
    sha256: str
    rows: tuple[TraceRow, ...]
    simulated: bool = False
    unread_columns: tuple[str, ...] = ()
    unit_exponent: int = 0
    is_unit_assumed: bool = False

    def numbers(self) -> list[str]:
        """The voltage of each row as it is written."""
        return [row_number(row.raw) for row in self.rows]

    def unread_messages(self) -> tuple[str, ...]:
        """A sentence for the user about each column that nothing was read from."""
        return tuple(
            tr("The column {name} is not known: nothing was read from it.").format(name=repr(name))
            for name in self.unread_columns
        )


class _RowError(Exception):
    """Why a row cannot be used, and what to do about it."""

    def __init__(self, reason: str, next_step: str = "") -> None:
        super().__init__(reason)
        self.next_step = next_step or tr("Correct or remove that line.")


def read_trace_file(path: Path, stated_unit: str | None = None) -> TraceFile:
    """Read a trace whole; empty lines are skipped.

    A column `simulated` is a mark, a column `unit` has to state the unit of the values.

    Args:
        path: the file.
        stated_unit: a key of `UNITS`, the unit of its values as the user states it; None for volts that nobody has
            stated.

    Raises:
        StillvoltError: something in the file is not as it must be; names the file, the line and the reason. Or it is
            open whether the values are volts.
    """
    unit = stated_unit or "V"
    data = _bytes_of(path)
    rows: list[TraceRow] = []
    numbers: list[int] = []
    number, columns = 1, 0
    mark_column: int | None = None
    unit_column: int | None = None
    unread: tuple[str, ...] = ()
    simulated = False
    try:
        for number, raw in enumerate(data.removeprefix(_BYTE_ORDER_MARK).splitlines(), 1):
            if number == 1:
                names = _columns(raw)
                columns = len(names)
                mark_column = _mark_column(names)
                unit_column = next((i for i, name in enumerate(names) if name.lower() == UNIT), None)
                unread = tuple(n for n in names[len(HEADER) :] if n.lower() not in (SIMULATED, UNIT))
                continue
            if not raw.strip():
                continue
            row = _row(raw, columns, UNITS[unit])
            if unit_column is not None:
                _check_unit(_cells(raw)[unit_column], unit)
            simulated = simulated or (mark_column is not None and is_mark(_cells(raw)[mark_column]))
            if rows:
                _check_order(rows[-1], row, numbers[-1])
            rows.append(row)
            numbers.append(number)
        if rows and not data.endswith((b"\n", b"\r")):
            raise _RowError(
                tr("the last line has no line end, so it may be cut off"),
                tr("Where it is whole, end it with a line end; else remove it."),
            )
        if not rows:
            raise _RowError(
                tr("the file is empty") if not columns else tr("no row follows the header"),
                tr("Choose another file."),
            )
    except _RowError as error:
        raise StillvoltError(
            tr("{file}, line {number}: {error}.").format(file=path, number=number, error=error),
            tr("Nothing was written."),
            error.next_step,
        ) from None
    name = path.name.encode("utf-8", "backslashreplace").decode()
    is_assumed = stated_unit is None and unit_column is None
    if is_assumed:
        _refuse_millivolts(name, rows)
    digest = hashlib.sha256(data).hexdigest()
    return TraceFile(name, digest, tuple(rows), simulated, unread, UNITS[unit], is_assumed)


def _bytes_of(path: Path) -> bytes:
    """The content of a file that is no database."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise StillvoltError(
            tr("{file} cannot be read ({error}).").format(file=path, error=error.strerror),
            tr("Nothing was written."),
        ) from error
    if data.startswith(_SQLITE_HEAD):
        raise StillvoltError(
            tr("{file}, line 1: this is a visit log or another database, not a CSV file.").format(file=path),
            tr("Nothing was written."),
            tr("`stillvolt export` writes the tables of a visit log."),
        )
    return data


def _refuse_millivolts(name: str, rows: Sequence[TraceRow]) -> None:
    """Refuse a trace whose values are so high that they are most likely millivolts.

    Args:
        name: of its file.
        rows: its rows, at least one; nothing in them states the unit.

    Raises:
        StillvoltError: a value is that high.
    """
    highest = max(rows, key=lambda row: row.volts)
    if highest.volts >= UNLIKELY_VOLTS:
        raise StillvoltError(
            tr("Is {number} in {file} in volts or in millivolts?").format(
                number=row_number(highest.raw), file=name
            ),
            tr("Nothing was written."),
            tr("State it with --unit mV or --unit V, or add a column named “unit” with V in each row."),
        )


def _mark_column(names: Sequence[str]) -> int | None:
    """Which column marks rows as simulated; None where none does."""
    return next((i for i, name in enumerate(names) if name.strip().lower() == SIMULATED), None)


def row_number(raw: bytes) -> str:
    """The volts of a row that `read_trace_file` has accepted, as they are written."""
    return _cells(raw)[1]


def _columns(raw: bytes) -> list[str]:
    """The columns that the header names."""
    names = _cells(raw)
    if names[: len(HEADER)] != HEADER:
        header = ",".join(HEADER)
        raise _RowError(
            tr("the header {header} is missing").format(header=header),
            tr("Put that header on the first line, and seconds and volts below it."),
        )
    twice = next((name for i, name in enumerate(names) if name and name in names[:i]), None)
    if twice is not None:
        raise _RowError(
            tr("the column {name} stands twice in the header").format(name=repr(twice[:40])),
            tr("Leave the one that is meant, or rename the other."),
        )
    return names


def _row(raw: bytes, columns: int, unit_exponent: int) -> TraceRow:
    """A row of a trace.

    Args:
        raw: the line.
        columns: how many cells it has to have.
        unit_exponent: power of ten of the unit of the values.
    """
    cells = _cells(raw)
    if len(cells) != columns:
        raise _RowError(
            tr("{n} cells where the header names {columns}").format(n=len(cells), columns=columns),
            tr("Numbers have a decimal point, and a comma only parts the cells."),
        )
    time_s = _number(cells[0], HEADER[0])
    _number(cells[1], HEADER[1])
    volts = in_volts(cells[1], unit_exponent) + 0.0
    if time_s > MAX_TRACE_S:
        raise _RowError(
            tr("time_s is {cell}, more than a year after the trace's beginning").format(cell=cells[0]),
            tr("Let time_s count seconds from the beginning of the trace."),
        )
    if volts > MAX_METER_VOLTS:
        raise _RowError(
            tr("volts is {cell}, which is above {most} V").format(cell=cells[1], most=f"{MAX_METER_VOLTS:g}"),
            tr("The values are in another unit, or their decimal point is wrong: convert them to volts."),
        )
    return TraceRow(round(time_s * NS_PER_S), volts, raw)


def _check_unit(cell: str, unit: str) -> None:
    """Refuse a row that states another unit than that of the values.

    Args:
        cell: what the row states.
        unit: a key of `UNITS`.
    """
    if cell.replace("\u00b5", "u").replace("\u03bc", "u") not in (unit, f"{unit}AC", f"{unit} AC"):
        raise _RowError(
            tr("the unit is {cell}, while the column volts is in {unit}").format(
                cell=repr(cell[:40]), unit=unit
            ),
            tr("State the unit of the values with --unit V or --unit mV; all rows need the same."),
        )


def _cells(raw: bytes) -> list[str]:
    if len(raw) > MAX_LINE_BYTES:
        raise _RowError(tr("the line has more than {n} bytes").format(n=MAX_LINE_BYTES))
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        text = "\0"
    if _CONTROL.search(text):
        raise _RowError(tr("the bytes are no text"), tr("Save the trace as CSV in UTF-8."))
    if '"' not in text:
        return [cell.strip() for cell in text.split(",")]
    try:
        (cells,) = csv.reader([text], strict=True)
    except csv.Error as error:
        raise _RowError(tr("the quotation marks are wrong ({error})").format(error=error)) from None
    return [cell.strip() for cell in cells]


def _number(cell: str, name: str) -> float:
    """The number in a cell of column `name`."""
    if not cell:
        raise _RowError(tr("{column} is empty").format(column=name))
    if not _NUMBER.fullmatch(cell):
        if _NOT_FINITE.fullmatch(cell):
            raise _not_finite(cell, name)
        raise _RowError(
            tr("{column} is {cell}, which is not a number").format(column=name, cell=repr(cell[:40]))
        )
    value = float(cell)
    if not isfinite(value):
        raise _not_finite(cell, name)
    if value < 0:
        raise _RowError(tr("{column} is {cell}, and cannot be negative").format(column=name, cell=cell))
    return value + 0.0  # no negative zero


def _not_finite(cell: str, name: str) -> _RowError:
    return _RowError(tr("{column} is {cell}, which is not finite").format(column=name, cell=repr(cell[:40])))


def _check_order(before: TraceRow, row: TraceRow, before_number: int) -> None:
    """Refuse a row that is not later than the one before.

    Args:
        before: the row before.
        row: the row.
        before_number: number of the line of the row before.
    """
    if row.t_ns < before.t_ns:
        raise _RowError(
            tr("time_s goes back from {before} to {now}").format(
                before=f"{before.t_ns / NS_PER_S:.9g}", now=f"{row.t_ns / NS_PER_S:.9g}"
            ),
            tr("Sort the rows by time, or put each part into a file of its own."),
        )
    if row.t_ns == before.t_ns:
        text = (
            tr("the row repeats line {number}")
            if row.volts == before.volts
            else tr("the row has the time of line {number}")
        )
        raise _RowError(text.format(number=before_number), tr("Give each row its own time, or remove one."))
