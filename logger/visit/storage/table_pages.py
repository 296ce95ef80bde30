"""Reads the rows of a visit log's tables from their pages, where the lists that lead to these pages are damaged.

In: a file of pages, however it is cut or damaged. Out: the rows of each table. SQLite finds a page only by way of the
pages above it; one that is lost hides all below. Here each page is looked at by itself, after the file format's
description (https://www.sqlite.org/fileformat2.html). A page belongs to the table whose columns its rows fit, by count,
type and range; where they fit two tables, to the one that begins there in a new visit log, or to none.
"""

from __future__ import annotations

import mmap
import struct
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing
from functools import cache
from itertools import islice
from pathlib import Path

from logger.visit.storage.content_limits import MAX_ROW_BYTES, expected_columns, is_usual_value
from logger.visit.storage.schema import USER_VERSION
from logger.visit.storage.schema_pages import PAGE_BYTES

Value = int | float | str | bytes | None
Row = tuple[Value, ...]
"""A row in the order of its table's columns; the id is in its place."""

_LEAF = 13
"""Kind of a page that holds rows of a table (1.6 of the description)."""

_LEAF_HEADER_BYTES = 8

_MAX_LOCAL = PAGE_BYTES - 35
"""Longest row that lies wholly in its page; of a longer one a part lies in pages of its own (1.6)."""

_MIN_LOCAL = (PAGE_BYTES - 12) * 32 // 255 - 23

_ROWS_LOOKED_AT = 8
"""Rows of a page by which its table is found; a page has about 80 lines of a meter."""

_INTEGER_BYTES = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}
"""Length of an integer by its serial type (2.1)."""


def pages_by_table(file: Path, first_pages: Mapping[int, str]) -> dict[str, list[int]]:
    """Find the pages that hold rows, for each table.

    Args:
        file: the damaged file; its journal is not looked at.
        first_pages: table by the number of its first page in a new visit log.
    """
    found: dict[str, list[int]] = {}
    with _mapped(file) as content:
        # The first page holds the list of tables, never rows.
        for number in range(2, len(content) // PAGE_BYTES + 1):
            if content[(number - 1) * PAGE_BYTES] == _LEAF:
                table = _table_of(
                    list(islice(_records(content, number), _ROWS_LOOKED_AT)), first_pages.get(number)
                )
                if table:
                    found.setdefault(table, []).append(number)
    return found


def rows_of_pages(file: Path, table: str, pages: Sequence[int]) -> Iterator[Row]:
    """Read the rows of a table that fit it.

    Args:
        file: the damaged file.
        table: whose rows are wanted.
        pages: that hold them, as `pages_by_table` found them.
    """
    with _mapped(file) as content:
        for number in pages:
            for rowid, values in _records(content, number):
                row = _as_row(table, rowid, values)
                if row is not None:
                    yield row


def _mapped(file: Path) -> closing[mmap.mmap] | closing[_NoBytes]:
    if file.stat().st_size == 0:
        return closing(_NoBytes())
    with file.open("rb") as opened:
        return closing(mmap.mmap(opened.fileno(), 0, access=mmap.ACCESS_READ))


class _NoBytes(bytes):
    """An empty file, which cannot be mapped."""

    def close(self) -> None:
        """Close nothing."""


_Content = mmap.mmap | _NoBytes


def _table_of(records: Sequence[tuple[int, Row]], first_page_of: str | None) -> str:
    """The table that most rows of a page fit; empty where there is none, or more than one."""
    fitting = {
        table: sum(_as_row(table, rowid, values) is not None for rowid, values in records)
        for table in expected_columns(USER_VERSION)
    }
    most = max(fitting.values())
    best = [table for table, count in fitting.items() if count == most > 0]
    if first_page_of in best:
        return str(first_page_of)
    return best[0] if len(best) == 1 else ""


def _as_row(table: str, rowid: int, values: Row) -> Row | None:
    """A record as a row of a table; None where it does not fit."""
    columns = expected_columns(USER_VERSION)[table]
    if not _fewest_columns(table) <= len(values) <= len(columns):
        return None
    # What an upgrade added is a text, and empty where the row is older.
    padded = [*values, *[""] * (len(columns) - len(values))]
    row: list[Value] = []
    for value, (name, kind, required) in zip(padded, columns, strict=True):
        if not row and value is None:
            value = rowid  # the first column is the id, which is kept beside the record
        elif kind == "REAL" and isinstance(value, int):
            value = float(value)  # whole numbers are stored as integers
        if not is_usual_value(name, kind, required, value):
            return None
        row.append(value)
    return tuple(row)


@cache
def _fewest_columns(table: str) -> int:
    """The columns of a table as the first version had it that brought it."""
    versions = (expected_columns(version) for version in range(1, USER_VERSION + 1))
    return next(len(tables[table]) for tables in versions if table in tables)


def _records(content: _Content, number: int) -> Iterator[tuple[int, Row]]:
    """Id and values of each row of a page that can be decoded; a row has its id in the first column's place or None."""
    start = (number - 1) * PAGE_BYTES
    page = content[start : start + PAGE_BYTES]
    cells = min(struct.unpack_from(">H", page, 3)[0], (PAGE_BYTES - _LEAF_HEADER_BYTES) // 2)
    for offset in struct.unpack_from(f">{cells}H", page, _LEAF_HEADER_BYTES):
        try:
            size, at = _varint(page, offset)
            rowid, at = _varint(page, at)
            if rowid < 1 or size > MAX_ROW_BYTES:
                continue
            yield rowid, _decoded(_payload(content, page, at, size))
        except (IndexError, ValueError, struct.error):
            continue  # a damaged row


def _varint(data: bytes, at: int) -> tuple[int, int]:
    """An integer of 1 to 9 bytes, and where the next begins (1.6); raises IndexError beyond the end."""
    value = 0
    for count in range(8):
        octet = data[at + count]
        value = value << 7 | octet & 0x7F
        if octet < 0x80:
            return value, at + count + 1
    value = value << 8 | data[at + 8]
    return value - (1 << 64) if value >= 1 << 63 else value, at + 9


def _payload(content: _Content, page: bytes, at: int, size: int) -> bytes:
    """The whole record of a row, also where a part of it lies in other pages."""
    if size <= _MAX_LOCAL:
        if at + size > len(page):
            raise ValueError("the row ends behind its page")
        return page[at : at + size]
    local = _MIN_LOCAL + (size - _MIN_LOCAL) % (PAGE_BYTES - 4)
    local = local if local <= _MAX_LOCAL else _MIN_LOCAL
    parts, left = [page[at : at + local]], size - local
    (following,) = struct.unpack_from(">I", page, at + local)
    while left > 0:
        start = (following - 1) * PAGE_BYTES
        if following < 2 or start + PAGE_BYTES > len(content):
            raise ValueError("a part of the row is missing")
        part = content[start + 4 : start + 4 + min(left, PAGE_BYTES - 4)]
        (following,) = struct.unpack_from(">I", content, start)
        parts.append(part)
        left -= len(part)
    return b"".join(parts)


def _decoded(record: bytes) -> Row:
    """The values of a record (2.1); raises ValueError or IndexError where it is none."""
    header_bytes, at = _varint(record, 0)
    kinds = []
    while at < header_bytes:
        kind, at = _varint(record, at)
        kinds.append(kind)
    values: list[Value] = []
    at = header_bytes
    for kind in kinds:
        value, length = _value(kind, record, at)
        values.append(value)
        at += length
    if at != len(record):
        raise ValueError("the record has another length than it states")
    return tuple(values)


def _value(kind: int, record: bytes, at: int) -> tuple[Value, int]:
    """The value of a serial type, and its length in bytes."""
    if kind == 0:
        return None, 0
    if kind in (8, 9):
        return kind - 8, 0
    if kind == 7:
        return struct.unpack_from(">d", record, at)[0], 8
    if kind in _INTEGER_BYTES:
        length = _INTEGER_BYTES[kind]
        return int.from_bytes(record[at : at + length], "big", signed=True), length
    if kind < 12:
        raise ValueError("no such type")
    length = (kind - 12) // 2
    if at + length > len(record):
        raise ValueError("the value ends behind its record")
    content = record[at : at + length]
    return content if kind % 2 == 0 else content.decode("utf-8", errors="replace"), length
