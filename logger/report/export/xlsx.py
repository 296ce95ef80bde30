"""The tables of a visit as one spreadsheet file: a sheet for each, units in the header row, the header frozen."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from pathlib import Path
from typing import Any

import pandas as pd
from xlsxwriter import Workbook
from xlsxwriter.exceptions import FileCreateError

from logger.output_kind import GENERATOR
from logger.report.export.table import ExportTable

MAX_ROWS = 1_048_576
"""Of a sheet, its header included (the limit of the usual programs, from memory)."""

MAX_CHARACTERS = 32_767
"""Of a cell, likewise."""

MAX_WIDTH = 60
"""Of a column, in characters."""

WIDTH_ROWS = 200
"""The width of a column is that of its longest value in so many rows, from above."""


class _Exact(float):
    """A number that is written with all its digits: the library's 16 do not always give the same one back."""

    def __format__(self, _: str) -> str:
        return float.__repr__(self)


def write_workbook(
    path: Path, frames: Sequence[tuple[ExportTable[Any], pd.DataFrame]], about: pd.DataFrame
) -> None:
    """Write the file.

    Args:
        path: replaced.
        frames: tables in the order of the sheets.
        about: what tables and columns hold; the first sheet.

    Raises:
        OSError: it cannot be written.
    """
    too_long = {table.name for table, frame in frames if len(frame) >= MAX_ROWS}
    about = about.copy()
    for name in too_long:
        whole = (about["table"] == name) & (about["column"] == "")
        about.loc[whole, "meaning"] += " More than a sheet holds: they are in the CSV and Parquet exports."
    try:
        # Row by row, so that a night needs no memory.
        with Workbook(path, {"constant_memory": True}) as book:
            book.set_properties({"author": GENERATOR})
            _sheet(book, "about", list(about.columns), about)
            for table, frame in frames:
                if table.name not in too_long:
                    _sheet(book, table.name, [_header(c.name, c.unit) for c in table.columns], frame)
    except FileCreateError as error:
        raise error.args[0] from None  # the OSError behind it


def _header(name: str, unit: str) -> str:
    """'volts, V'."""
    return f"{name}, {unit}" if unit else name


def _sheet(book: Any, name: str, header: list[str], frame: pd.DataFrame) -> None:
    sheet = book.add_worksheet(name)
    sheet.freeze_panes(1, 0)
    columns = [frame[column].tolist() for column in frame.columns]
    for at, (title, values) in enumerate(zip(header, columns, strict=True)):
        longest = max(len(str(value)) for value in (title, *values[:WIDTH_ROWS]))
        sheet.set_column(at, at, min(longest + 2, MAX_WIDTH))
    bold = book.add_format({"bold": True})
    for at, title in enumerate(header):
        sheet.write_string(0, at, title, bold)
    for row, cells in enumerate(zip(*columns, strict=True), 1):
        for at, value in enumerate(cells):
            if isinstance(value, str):  # never a formula, an address or a number, whatever was typed
                if value:
                    sheet.write_string(row, at, _storable(value))
            elif isinstance(value, int):
                sheet.write_number(row, at, value)
            elif isinstance(value, float) and isfinite(value):
                sheet.write_number(row, at, _Exact(value))


def _storable(text: str) -> str:
    r"""Write control characters as \xNN: the file format has no place for them."""
    if not text.isprintable():
        text = "".join(c if c.isprintable() or c == "\n" else f"\\x{ord(c):02x}" for c in text)
    return text[:MAX_CHARACTERS]
