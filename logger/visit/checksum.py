"""The checksum of a visit log: SHA-256 over what was recorded, stated, planned and taken, in an order of its own.

It does not hang on how SQLite lays out the file: opening the log, a checkpoint, a copy or `VACUUM` leave it as it is. A
changed value, a row more or a row less changes it.

The definition, for who wants to compute it elsewhere. Hashed is the text of all rows of all tables but `live` and
`request` (the recorder's heartbeat and what it is asked, no record): tables in the order of their names, rows of each
by their first column, each row one line that ends in a line feed. A line is the table's name, then for every column in
the table's order that is neither NULL nor at its column's default value a tab and `name=value`; a default is left out
so that a log that a newer version has given more columns keeps its checksum. A value is an integer in decimal; a real
as the 16 hexadecimal digits of its IEEE 754 double, big-endian; a text as a JSON string with all but ASCII escaped;
bytes as lower-case hexadecimal digits.
"""

from __future__ import annotations

import hashlib
import json
import struct
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from typing import Any

from logger.visit.store import Store

NOT_RECORDED = ("live", "request")

_ROWS_AT_ONCE = 5000

Value = int | float | str | bytes | None


class Checksummed(Store):
    """The checksum of the log."""

    def checksum(self) -> str:
        """SHA-256 of the log's content as it is now, 64 hexadecimal digits."""
        digest = hashlib.sha256()
        with self.at_one_moment():
            tables = self._all(
                "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name"
            )
            for (table,) in tables:
                if table not in NOT_RECORDED:
                    for text in self._texts(table):
                        digest.update(text.encode("ascii"))
        return digest.hexdigest()

    def _texts(self, table: str) -> Iterator[str]:
        """The lines of a table, many at once."""
        columns = self._all(f"PRAGMA table_info({table})")
        rows = self._db.execute(f"SELECT * FROM {table} ORDER BY {columns[0]['name']}")
        rows.row_factory = None
        while batch := rows.fetchmany(_ROWS_AT_ONCE):
            # Column by column, since a night has hundreds of thousands of rows.
            written = [
                _written(c["name"], c["type"], c["dflt_value"], v)
                for c, v in zip(columns, zip(*batch, strict=True), strict=True)
            ]
            yield "".join(f"{table}{''.join(values)}\n" for values in zip(*written, strict=True))


_DEFAULTS: dict[str | None, Value] = {"''": "", "0": 0}
"""Default values as the schema writes them."""

_real = struct.Struct(">d").pack
_text = lru_cache(maxsize=1000)(json.dumps)
"""Most texts are one of a few words."""


def _written(name: str, kind: str, default: str | None, values: Sequence[Any]) -> list[str]:
    """The values of a column as they stand in the lines; empty where one is left out."""
    head = f"\t{name}="
    write = _WRITES[kind]
    if default is None and None not in values:
        return [f"{head}{write(value)}" for value in values]
    left_out = (None, _DEFAULTS.get(default))
    return ["" if value in left_out else f"{head}{write(value)}" for value in values]


_WRITES: dict[str, Callable[[Any], str]] = {
    "INTEGER": str,
    "REAL": lambda value: _real(value).hex(),
    "TEXT": _text,
    "BLOB": bytes.hex,
}
"""By the type of a column; the tables are strict, so that every value is of its column's type."""
