"""A checksum for each entry of a visit log, kept when it is written, and a chain over all of them.

Entries are the rows of `ENTRY_TABLES`: everything that is recorded, stated, planned and taken. The lines of the
meter have a checksum for each run instead (`run_checksum`). A checksum is the first half of the SHA-256 over the JSON
of an entry's columns. `entry_checksum` has one row for each entry and one more for each change of a list that may be
edited; `entry_chain` counts them, and its head is made anew of the head before and each new checksum. So a changed
entry differs from its checksum, one that another program wrote has none, and an entry that is removed together with its
checksum, be it the last one, is missed by the chain. Each transaction that writes entries writes their checksums and
the chain too, so that they agree after a kill, and whichever process wrote last.

It shows what a damaged disk or a careless edit has changed. It is no signature: who has the file and this program can
make every checksum anew. Entries of versions before 4 have an empty checksum and are not checked, but for their
readings, voids and checks, where version 3 kept a fact of its own.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from typing import Any

from logger.translation import kept_text
from logger.visit.storage.content_limits import expected_columns
from logger.visit.storage.schema import CHECKSUM_TABLES, LATER_CHECKSUM_TABLES

Entry = tuple[str, int]
"""Table and id of an entry."""

ENTRY_TABLES = CHECKSUM_TABLES | {table: key for table, (key, _) in LATER_CHECKSUM_TABLES.items()}
"""All tables whose entries have a checksum each, with the column of the id."""

DIGEST_BYTES = 16
"""Length of a checksum, bytes: two entries agree by chance in one of 3e38 cases, and a million of them stay small."""

NO_DIGEST = b""
"""In place of the checksum of an entry that was written before there were any."""

LISTS = ("spot", "source")
"""Tables whose rows may be edited: the newest checksum of a row holds. Of any other entry it is the first."""

WINDOW_TABLES = (
    "fact", "spot", "source", "reading", "reading_void", "reading_correction", "mark", "mark_void", "check_result",
    "step_name", "spot_detail", "source_detail", "photo", "photo_place", "reference_correction", "remedy",
    "remedy_entry", "remedy_baseline",
)  # fmt: skip
"""Tables into which a window writes."""

CHECKSUM_VERSION = 4
"""The first version of the log with checksums of entries. Its columns count: what a later one adds leaves them as they
are."""

_OLD_COLUMNS = {
    "reading": (
        "id", "utc_ns", "run_id", "spot_id", "spot_name", "condition", "volts", "u_volts", "samples", "start_t_ns",
        "end_t_ns", "first_line_id", "last_line_id", "taken", "context", "live",
    ),
    "reading_void": ("reading_id", "utc_ns", "reason"),
    "check_result": ("id", "utc_ns", "kind", "verdict", "sentence", "steps", "setup"),
}  # fmt: skip
"""The tables of which version 3 kept checksums as facts, with the columns that count; the first one is the row's id."""

_OLD_FACT_PREFIX = "checksum of entry "
"""Name of such a fact, followed by table and id; its value is the SHA-256 in hexadecimal."""


@dataclass(frozen=True, slots=True)
class EntryDifferences:
    """How the entries of a log differ from their checksums.

    Args:
        changed: that are not as they were written.
        missing: that were written and are gone.
        unknown: that have no checksum, although this version wrote the log.
        unchecked: how many are of an older version, or of before a salvage, and have no checksum.
        chain: a sentence on checksums that are missing or were changed; empty where the chain holds.
    """

    changed: tuple[Entry, ...] = ()
    missing: tuple[Entry, ...] = ()
    unknown: tuple[Entry, ...] = ()
    unchecked: int = 0
    chain: str = ""


def keep_entry_checksums(db: sqlite3.Connection, entries: Iterable[Entry]) -> None:
    """Keep the checksums of entries, within the transaction that wrote them.

    Args:
        db: connection to the log.
        entries: in the order in which they were written.
    """
    count, head = _chain(db) or (0, b"")
    for table, entry_id in entries:
        rows = _digests(db, table, entry_id)
        if not rows:
            continue
        checksum_id = db.execute(
            "INSERT INTO entry_checksum (entry_table, entry_id, digest) VALUES (?,?,?)",
            (table, entry_id, rows[entry_id]),
        ).lastrowid
        assert checksum_id is not None
        count, head = count + 1, _next_head(head, checksum_id, (table, entry_id), rows[entry_id])
    db.execute("INSERT OR REPLACE INTO entry_chain (id, entries, head) VALUES (1, ?, ?)", (count, head))


def insert_fact(db: sqlite3.Connection, utc_ns: int, name: str, value: str) -> None:
    """Write a fact with its checksum, within a transaction.

    Args:
        db: connection to the log.
        utc_ns: when it was stated.
        name: of the fact.
        value: of the fact.
    """
    fact_id = db.execute(
        "INSERT INTO fact (utc_ns, name, value) VALUES (?, ?, ?)", (utc_ns, name, value)
    ).lastrowid
    assert fact_id is not None
    keep_entry_checksums(db, [("fact", fact_id)])


@contextmanager
def keeping_checksums(db: sqlite3.Connection) -> Iterator[None]:
    """Keep the checksum of everything that a window writes inside, which is a part of one transaction.

    What differed from its checksum before, since another program has changed or written it, stays as it is: its
    checksum is not made anew.
    """
    before, doubtful = _entries_of_window(db)
    yield
    after, without = _entries_of_window(db)
    new = [entry for entry, digest in after.items() if before.get(entry) != digest and entry not in doubtful]
    new += sorted(without - doubtful - set(new))
    if new:
        keep_entry_checksums(db, new)


def _entries_of_window(db: sqlite3.Connection) -> tuple[dict[Entry, bytes], set[Entry]]:
    """The checksums of the entries of lists as they are now, and each entry that differs from its checksum or has none.

    Of entries that are no lists' only those without a checksum are looked for: nobody may change the others.
    """
    now: dict[Entry, bytes] = {}
    doubtful: set[Entry] = set()
    for table in sorted(_tables_of(db) & set(WINDOW_TABLES)):
        key = ENTRY_TABLES[table]
        doubtful |= {
            (table, int(row[0]))
            for row in db.execute(
                f"SELECT {key} FROM {table} WHERE NOT EXISTS "
                f"(SELECT 1 FROM entry_checksum WHERE entry_table = '{table}' AND entry_id = {table}.{key})"
            ).fetchall()
        }
    for table in LISTS:
        kept = {
            int(row[0]): bytes(row[1])
            for row in db.execute(
                "SELECT entry_id, digest FROM entry_checksum WHERE entry_table = ? ORDER BY id", (table,)
            ).fetchall()
        }
        for row_id, digest in _digests(db, table).items():
            now[table, row_id] = digest
            if kept.get(row_id, NO_DIGEST) not in (NO_DIGEST, digest):
                doubtful.add((table, row_id))
    return now, doubtful


def entry_differences(db: sqlite3.Connection) -> EntryDifferences:
    """Compare the entries of a log with their checksums; nothing is found in a log of a version without any.

    Raises:
        sqlite3.DatabaseError: a page is damaged.
    """
    if not has_entry_checksums(db):
        return EntryDifferences()
    kept: dict[Entry, bytes] = {}
    head, count, chain = b"", 0, _chain(db)
    for checksum_id, table, entry_id, digest in map(
        tuple,
        db.execute("SELECT id, CAST(entry_table AS BLOB), entry_id, digest FROM entry_checksum ORDER BY id"),
    ):
        entry = (bytes(table).decode("latin-1"), int(entry_id))
        count += 1
        if digest != NO_DIGEST:
            head = _next_head(head, checksum_id, entry, digest)
        if entry[0] in LISTS:
            kept[entry] = digest
        else:
            kept.setdefault(entry, digest)
    unchecked = sum(digest == NO_DIGEST for digest in kept.values())
    changed: list[Entry] = []
    unknown: list[Entry] = []
    for table in sorted(_tables_of(db)):
        for row_id, digest in _digests(db, table).items():
            of_entry = kept.pop((table, row_id), None)
            if of_entry is None:
                unknown.append((table, row_id))
            elif of_entry not in (NO_DIGEST, digest):
                changed.append((table, row_id))
    return EntryDifferences(
        tuple(changed), tuple(sorted(kept)), tuple(unknown), unchecked, _why_chain_differs(chain, count, head)
    )


def chain_holds(db: sqlite3.Connection) -> bool:
    """Whether a log has checksums, and those that were written.

    Raises:
        sqlite3.DatabaseError: a page is damaged.
    """
    if not has_entry_checksums(db):
        return False
    return not _why_chain_differs(_chain(db), *_head(db))


def has_entry_checksums(db: sqlite3.Connection) -> bool:
    """Whether the log is of a version that keeps checksums of entries."""
    found = db.execute(
        "SELECT 1 FROM sqlite_schema WHERE type = 'table' AND name = 'entry_checksum'"
    ).fetchone()
    return found is not None


def restart_chain(db: sqlite3.Connection) -> None:
    """Make the chain of the checksums that there are, after a salvage; entries without one are unchecked from now on.

    Args:
        db: the log, inside a transaction.
    """
    for table, key in ENTRY_TABLES.items():
        db.execute(
            f"INSERT INTO entry_checksum (entry_table, entry_id, digest) SELECT '{table}', {key}, x'' FROM {table} "
            f"WHERE NOT EXISTS (SELECT 1 FROM entry_checksum WHERE entry_table = '{table}' "
            f"AND entry_id = {table}.{key})"
        )
    db.execute("INSERT OR REPLACE INTO entry_chain (id, entries, head) VALUES (1, ?, ?)", _head(db))


def changed_old_entries(db: sqlite3.Connection) -> Iterator[tuple[str, int, bool]]:
    """The entries that differ from the facts of version 3: table, id, and whether the row is there at all."""
    kept = db.execute(
        "SELECT name, value FROM fact WHERE name LIKE ? ORDER BY id", (f"{_OLD_FACT_PREFIX}%",)
    ).fetchall()
    first: dict[str, str] = {}
    for name, value in kept:
        first.setdefault(str(name), str(value))
    for name, value in first.items():
        table, _, number = name.removeprefix(_OLD_FACT_PREFIX).partition(" ")
        if table not in _OLD_COLUMNS or not number.isdecimal():
            continue
        columns = _OLD_COLUMNS[table]
        row = db.execute(
            f"SELECT {', '.join(columns)} FROM {table} WHERE {columns[0]} = ?", (int(number),)
        ).fetchone()
        if row is None or hashlib.sha256(json.dumps(list(row)).encode("ascii")).hexdigest() != value:
            yield table, int(number), row is not None


def _tables_of(db: sqlite3.Connection) -> set[str]:
    """The tables of a log whose entries have checksums: one of version 4 lacks what later ones brought."""
    rows = db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall()
    return {str(row[0]) for row in rows} & set(ENTRY_TABLES)


def _chain(db: sqlite3.Connection) -> tuple[int, bytes] | None:
    row = db.execute("SELECT entries, head FROM entry_chain WHERE id = 1").fetchone()
    return None if row is None else (int(row[0]), bytes(row[1]))


def _head(db: sqlite3.Connection) -> tuple[int, bytes]:
    """How many checksums a log has, and the head of them all."""
    head, count = b"", 0
    for checksum_id, table, entry_id, digest in map(
        tuple, db.execute("SELECT id, entry_table, entry_id, digest FROM entry_checksum ORDER BY id")
    ):
        count += 1
        if digest != NO_DIGEST:
            head = _next_head(head, checksum_id, (table, entry_id), digest)
    return count, head


def _why_chain_differs(chain: tuple[int, bytes] | None, count: int, head: bytes) -> str:
    """A sentence on a chain that does not hold, in English and shown by `tr_kept`; empty where it does.

    Args:
        chain: how many checksums were kept and their head; None where that is missing.
        count: checksums that there are.
        head: of the checksums that there are.
    """
    if chain is None:
        return kept_text("The number of entries that were written is gone, so that entries may be missing.")
    if count != chain[0]:
        text = kept_text(
            "The log holds the checksums of {held} entries and changes, and {written} were written."
        )
        return text.format(held=count, written=chain[0])
    if head != chain[1]:
        return kept_text("The checksums of its entries are not those that were written.")
    return ""


def _next_head(head: bytes, checksum_id: int, entry: Entry, digest: bytes) -> bytes:
    """The head of the chain with one more checksum.

    Args:
        head: before it; empty for the first.
        checksum_id: of the row of the checksum.
        entry: that it is of.
        digest: the checksum.
    """
    text = f"{checksum_id} {entry[0]} {entry[1]} "
    return hashlib.sha256(head + text.encode() + digest).digest()[:DIGEST_BYTES]


def _digests(db: sqlite3.Connection, table: str, entry_id: int | None = None) -> dict[int, bytes]:
    """The checksums of a table's entries as the log holds them, by id.

    Args:
        db: connection to the log.
        table: one of `ENTRY_TABLES`.
        entry_id: of the only one that is wanted; None for all.
    """
    select, key = _select(table)
    which = "" if entry_id is None else f" WHERE {key} = {entry_id:d}"
    rows = db.execute(select + which)
    return {int(row[0]): _digest(row) for row in rows}


@cache
def _select(table: str) -> tuple[str, str]:
    """The query for the columns that count, the id first, and the name of the id.

    Texts come as their bytes: one that is no text any more, since a bit has flipped, differs and is no error.
    """
    version = CHECKSUM_VERSION if table in CHECKSUM_TABLES else LATER_CHECKSUM_TABLES[table][1]
    columns = [
        f"CAST({name} AS BLOB)" if kind == "TEXT" else name
        for name, kind, _ in expected_columns(version)[table]
    ]
    return f"SELECT {', '.join(columns)} FROM {table}", ENTRY_TABLES[table]


def _digest(row: Sequence[Any]) -> bytes:
    values = [value.hex() if isinstance(value, bytes) else value for value in row]
    return hashlib.sha256(_encode(values).encode("ascii")).digest()[:DIGEST_BYTES]


_encode = json.JSONEncoder(separators=(",", ":")).encode
