"""A checksum for each reading, void, correction and check: SHA-256 over its row, kept as a fact when it is written.

The row counts as the JSON of its columns in the order of `ENTRY_COLUMNS`. It shows what a damaged disk or a careless
edit has changed, also where that cannot be recomputed (a value by hand, a spot, a condition). It is no signature: who
can write the file can write the checksum too. Entries of older versions have none.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterator

ENTRY_COLUMNS = {
    "reading": (
        "id", "utc_ns", "run_id", "spot_id", "spot_name", "condition", "volts", "u_volts", "samples", "start_t_ns",
        "end_t_ns", "first_line_id", "last_line_id", "taken", "context", "live",
    ),
    "reading_void": ("reading_id", "utc_ns", "reason"),
    "reading_correction": (
        "id", "utc_ns", "reading_id", "kind", "from_spot_id", "from_spot_name", "to_spot_id", "to_spot_name",
        "from_condition", "from_live", "to_condition", "to_live", "reason", "entered_by",
    ),
    "check_result": ("id", "utc_ns", "kind", "verdict", "sentence", "steps", "setup"),
}  # fmt: skip
"""The tables that have checksums, with the columns that count; the first one is the row's id."""

ENTRY_FACT_PREFIX = "checksum of entry "
"""Name of the fact, followed by table and id; its value is the SHA-256 in hexadecimal."""


def entry_fact(table: str, row_id: int) -> str:
    """The name of the fact that holds the checksum of a row."""
    return f"{ENTRY_FACT_PREFIX}{table} {row_id}"


def entry_checksum(db: sqlite3.Connection, table: str, row_id: int) -> str | None:
    """The checksum of a row as the log holds it; None where there is no such row.

    Args:
        db: connection to the log.
        table: one of `ENTRY_COLUMNS`.
        row_id: of the row.
    """
    columns = ENTRY_COLUMNS[table]
    row = db.execute(f"SELECT {', '.join(columns)} FROM {table} WHERE {columns[0]} = ?", (row_id,)).fetchone()
    return None if row is None else hashlib.sha256(json.dumps(list(row)).encode("ascii")).hexdigest()


def keep_entry_checksum(db: sqlite3.Connection, table: str, row_id: int, utc_ns: int) -> None:
    """Keep the checksum of a row, within the transaction that wrote it.

    Args:
        db: connection to the log.
        table: one of `ENTRY_COLUMNS`.
        row_id: of the row.
        utc_ns: when it was written.
    """
    db.execute(
        "INSERT INTO fact (utc_ns, name, value) VALUES (?, ?, ?)",
        (utc_ns, entry_fact(table, row_id), entry_checksum(db, table, row_id)),
    )


def changed_entries(db: sqlite3.Connection) -> Iterator[tuple[str, int, bool]]:
    """The entries that differ from their checksums: table, id, and whether the row is there at all."""
    kept = db.execute(
        "SELECT name, value FROM fact WHERE name LIKE ? ORDER BY id", (f"{ENTRY_FACT_PREFIX}%",)
    ).fetchall()
    first: dict[str, str] = {}
    for name, value in kept:
        first.setdefault(str(name), str(value))
    for name, value in first.items():
        table, _, number = name.removeprefix(ENTRY_FACT_PREFIX).partition(" ")
        if table not in ENTRY_COLUMNS or not number.isdecimal():
            continue
        found = entry_checksum(db, table, int(number))
        if found != value:
            yield table, int(number), found is not None
