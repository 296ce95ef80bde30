"""Puts the first pages of a new, empty visit log over damaged ones.

The list of tables is in a file's first pages. Where those are lost, nothing of the rest can be read, though it is
whole. A visit log is always made in the same way, so that its tables begin at the same pages as in any new one: the
list of a new one leads to them. Only the tables that an older log has got by an upgrade begin elsewhere; those are lost
then, and so is a table whose own first page is damaged.
"""

from __future__ import annotations

import sqlite3
import struct
from contextlib import closing
from pathlib import Path

from logger.visit.storage.connection import write_schema
from logger.visit.storage.schema import USER_VERSION

PAGE_BYTES = 4096
"""Size of a page: SQLite's default, which `connection.write_schema` leaves."""

_INTERIOR = 5
"""An inner page of a table (https://www.sqlite.org/fileformat2.html, 1.6)."""

_HEADER_BYTES = 100
"""The file's header, before the first page's own (the same, 1.3)."""


def replace_schema_pages(damaged: Path, version: int, folder: Path) -> None:
    """Write the list of tables of a new log into a copy of a damaged one.

    Args:
        damaged: the copy; it is changed.
        version: of the schema of the new log.
        folder: for the new log; it may have files of other names.
    """
    content = bytearray(damaged.read_bytes())
    for number, page in _schema_pages(version, folder).items():
        end = number * PAGE_BYTES
        content.extend(bytes(max(0, end - len(content))))
        content[end - PAGE_BYTES : end] = page
    # The header's count of pages, and no list of free ones (the same, 1.3.8 to 1.3.9).
    content[28:40] = struct.pack(">III", len(content) // PAGE_BYTES, 0, 0)
    content[18:20] = b"\x02\x02"  # the journal counts, if there is one
    damaged.write_bytes(content)


def replace_header(damaged: Path, folder: Path) -> None:
    """Write the header of a new log over that of a copy of a damaged one, and fill its last page with zeros.

    Args:
        damaged: the copy; it is changed.
        folder: for the new log; it may have files of other names.
    """
    header = bytearray(_schema_pages(USER_VERSION, folder)[1][:_HEADER_BYTES])
    pages = -(-damaged.stat().st_size // PAGE_BYTES)
    header[28:40] = struct.pack(">III", pages, 0, 0)
    header[18:20] = b"\x02\x02"  # the journal counts, if there is one
    with damaged.open("r+b") as file:
        file.truncate(pages * PAGE_BYTES)
        file.write(header)


def first_pages(folder: Path) -> dict[int, str]:
    """Table by the number of its first page in a new visit log, which is made in a folder."""
    path = folder / "new_first_pages"
    path.unlink(missing_ok=True)
    write_schema(path)
    with closing(sqlite3.connect(path)) as db:
        return {
            row[1]: row[0]
            for row in db.execute("SELECT name, rootpage FROM sqlite_schema WHERE type = 'table'")
        }


def _schema_pages(version: int, folder: Path) -> dict[int, bytes]:
    """The pages of the list of tables of a new log, by their number."""
    path = folder / f"new_{version}"
    path.unlink(missing_ok=True)
    write_schema(path, version)
    content = path.read_bytes()
    pages: dict[int, bytes] = {}
    to_read = [1]
    while to_read:
        number = to_read.pop()
        page = content[(number - 1) * PAGE_BYTES : number * PAGE_BYTES]
        pages[number] = page
        to_read += _children(page, _HEADER_BYTES if number == 1 else 0)
    return pages


def _children(page: bytes, start: int) -> list[int]:
    """The pages below an inner one; the header of the page is at `start`."""
    if page[start] != _INTERIOR:
        return []
    cells = struct.unpack_from(">H", page, start + 3)[0]
    offsets = struct.unpack_from(f">{cells}H", page, start + 12)
    rightmost = struct.unpack_from(">I", page, start + 8)[0]
    return [*(struct.unpack_from(">I", page, offset)[0] for offset in offsets), rightmost]


def readable_tables(db: sqlite3.Connection, tables: tuple[str, ...]) -> int:
    """How many of the tables begin where the list of tables leads."""
    readable = 0
    for table in tables:
        try:
            db.execute(f"SELECT * FROM {table} LIMIT 1").fetchone()
            readable += 1
        except sqlite3.DatabaseError:
            continue
    return readable
