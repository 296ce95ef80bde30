"""The checksum of a visit log: SHA-256 over what was recorded, stated, planned and taken, in an order of its own.

It does not hang on how SQLite lays out the file: opening the log, a checkpoint, a copy or `VACUUM` leave it as it is. A
changed value, a row more or a row less changes it.

The definition, for who wants to compute it elsewhere. All tables but `live`, `request`, `entry_checksum` and
`entry_chain` count (those are the recorder's heartbeat, what it is asked, and checksums), with their rows in the order
of their first column. Each column gives a digest: the SHA-256 of its values, each written as JSON and followed by a
line feed: integers in decimal, reals as the shortest decimal that reads back as the same double (as Python writes them:
0.27, 1e-07), texts with all but ASCII escaped, bytes as a text of lower-case hexadecimal digits, NULL as null. The
checksum is the SHA-256 of one line for each column, sorted: `table.column digest` and a line feed. A column that has
only NULL or its default value is left out, so that a log that a newer version has given more columns keeps its
checksum.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from typing import Any

from logger.visit.storage.log_connection import LogConnection

NOT_RECORDED = ("live", "request", "entry_checksum", "entry_chain")

_ROWS_AT_ONCE = 5000


def checksum(connection: LogConnection) -> str:
    """SHA-256 of the content of a log as it is now, 64 hexadecimal digits."""
    with connection.read_transaction():
        tables = [
            row["name"]
            for row in connection.all(
                "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
            )
        ]
        lines = [line for table in tables if table not in NOT_RECORDED for line in _lines(connection, table)]
    return hashlib.sha256("".join(sorted(lines)).encode()).hexdigest()


def _lines(connection: LogConnection, table: str) -> list[str]:
    """A line for each column of a table that has content."""
    info = connection.all(f"PRAGMA table_info({table})")
    columns = [_Column(f"{table}.{row['name']}", row["type"], row["dflt_value"]) for row in info]
    rows = connection.db.execute(f"SELECT * FROM {table} ORDER BY {info[0]['name']}")
    rows.row_factory = None
    # Column by column, since a night has hundreds of thousands of rows.
    while batch := rows.fetchmany(_ROWS_AT_ONCE):
        for column, values in zip(columns, zip(*batch, strict=True), strict=True):
            column.add(values)
    return [column.line() for column in columns if column.has_content]


class _Column:
    """The digest of a column, as its values come in."""

    def __init__(self, name: str, kind: str, default: str | None) -> None:
        self.name = name
        self.has_content = False
        self._is_blob = kind == "BLOB"
        self._empty = {None, _DEFAULTS.get(default)}
        self._digest = hashlib.sha256()

    def add(self, values: Sequence[Any]) -> None:
        self.has_content = self.has_content or not self._empty.issuperset(values)
        if self._is_blob:
            values = [None if value is None else value.hex() for value in values]
        # With a line feed as separator the array's text is the values' text between its brackets.
        self._digest.update(f"{_encode(values)[1:-1]}\n".encode("ascii"))

    def line(self) -> str:
        return f"{self.name} {self._digest.hexdigest()}\n"


_DEFAULTS: dict[str | None, int | str] = {"''": "", "0": 0}
"""Default values as the schema writes them."""

_encode = json.JSONEncoder(separators=("\n", ":")).encode
