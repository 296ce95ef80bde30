"""Ways in which a file comes back damaged: from a worn stick, a broken transfer, a program that crashed."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Callable
from contextlib import closing, suppress
from pathlib import Path

PAGE_BYTES = 4096
HEADER_BYTES = 100

Content = bytearray


def _flipped(source: random.Random, data: Content, count: int, start: int, end: int) -> None:
    for _ in range(count):
        data[source.randrange(start, end)] ^= 1 << source.randrange(8)


def _pages(data: Content) -> int:
    return max(1, len(data) // PAGE_BYTES)


def one_bit(source: random.Random, data: Content) -> None:
    """One flipped bit anywhere."""
    _flipped(source, data, 1, 0, len(data))


def bits(source: random.Random, data: Content) -> None:
    """Several flipped bits."""
    _flipped(source, data, source.randint(2, 64), 0, len(data))


def header(source: random.Random, data: Content) -> None:
    """Flipped bits in the header of the file."""
    _flipped(source, data, source.randint(1, 4), 0, HEADER_BYTES)


def first_page(source: random.Random, data: Content) -> None:
    """Flipped bits in the list of tables."""
    _flipped(source, data, source.randint(1, 8), HEADER_BYTES, PAGE_BYTES)


def page_headers(source: random.Random, data: Content) -> None:
    """Flipped bits where pages keep what they hold, and in their pointers."""
    for _ in range(source.randint(1, 4)):
        start = source.randrange(_pages(data)) * PAGE_BYTES
        _flipped(source, data, 1, start, start + 60)


def zeroed(source: random.Random, data: Content) -> None:
    """Zeroed pages."""
    for page in source.sample(range(_pages(data)), min(source.randint(1, 5), _pages(data))):
        data[page * PAGE_BYTES : (page + 1) * PAGE_BYTES] = bytes(PAGE_BYTES)


def sector(source: random.Random, data: Content) -> None:
    """A sector of 512 bytes of something else."""
    start = source.randrange(len(data) // 512) * 512
    data[start : start + 512] = source.randbytes(512)


def garbage_page(source: random.Random, data: Content) -> None:
    """A page of random bytes."""
    start = source.randrange(_pages(data)) * PAGE_BYTES
    data[start : start + PAGE_BYTES] = source.randbytes(PAGE_BYTES)


def truncated(source: random.Random, data: Content) -> None:
    """The end is missing, at any byte."""
    del data[source.randrange(len(data)) :]


def truncated_at_a_page(source: random.Random, data: Content) -> None:
    """The end is missing, at a page."""
    del data[source.randrange(_pages(data)) * PAGE_BYTES :]


def swapped(source: random.Random, data: Content) -> None:
    """Two pages have changed places."""
    one, other = (page * PAGE_BYTES for page in source.sample(range(_pages(data)), 2))
    kept = bytes(data[one : one + PAGE_BYTES])
    data[one : one + PAGE_BYTES] = data[other : other + PAGE_BYTES]
    data[other : other + PAGE_BYTES] = kept


def repeated(source: random.Random, data: Content) -> None:
    """A page stands a second time in the place of another."""
    one, other = (page * PAGE_BYTES for page in source.sample(range(_pages(data)), 2))
    data[one : one + PAGE_BYTES] = data[other : other + PAGE_BYTES]


def cut_out(source: random.Random, data: Content) -> None:
    """Some bytes are missing in the middle, as after a transfer that lost them."""
    start = source.randrange(len(data))
    del data[start : start + source.choice((1, 2, 512, 4096, 10_000))]


def line_ends(source: random.Random, data: Content) -> None:
    """Sent as a text: line ends have been changed."""
    data[:] = data.replace(b"\n", b"\r\n")


def garbage(source: random.Random, data: Content) -> None:
    """Something else altogether."""
    data[:] = source.randbytes(source.choice((0, 1, 50, 5_000, 100_000)))


def garbage_behind_header(source: random.Random, data: Content) -> None:
    """Nothing but the header is left."""
    data[HEADER_BYTES:] = source.randbytes(len(data) - HEADER_BYTES)


BYTES: tuple[Callable[[random.Random, Content], None], ...] = (
    one_bit, one_bit, bits, header, first_page, page_headers, page_headers, zeroed, sector, garbage_page, truncated,
    truncated_at_a_page, swapped, repeated, cut_out, line_ends, garbage, garbage_behind_header,
)  # fmt: skip

TABLES = (
    "line",
    "run",
    "run_end",
    "reading",
    "spot",
    "fact",
    "event",
    "notice",
    "source",
    "check_result",
    "mark",
)
COLUMNS = {
    "reading": ("volts", "u_volts", "condition", "spot_id", "context", "spot_name", "utc_ns", "live"),
    "line": ("volts", "status", "t_ns", "utc_ns", "raw", "run_id"),
    "spot": ("name", "position", "room"),
    "fact": ("name", "value"),
    "run": ("started_utc_ns", "zone", "port", "settings", "utc_offset_s"),
    "event": ("kind", "start_t_ns", "end_t_ns", "volts", "run_id"),
}
VALUES = (
    None, 0, -1, 2**62, 1e308, -1e308, "", "no number", "\x00", "x" * 10_000, "[" * 2000, "{}", "null",
    b"\xff\xfe", 9e9,
)  # fmt: skip
"""What a cell may hold that no program of ours wrote."""


def without_table(source: random.Random, db: sqlite3.Connection) -> str:
    """A table is missing."""
    table = source.choice(TABLES)
    db.execute(f"DROP TABLE {table}")
    return f"without {table}"


def rows_missing(source: random.Random, db: sqlite3.Connection) -> str:
    """Rows are missing; the triggers that refuse it are there again afterwards."""
    table = source.choice(("line", "line", "reading", "spot", "run", "fact"))
    count = db.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
    first = source.randrange(max(count, 1))
    db.execute(
        f"DELETE FROM {table} WHERE rowid IN (SELECT rowid FROM {table} ORDER BY rowid LIMIT ? OFFSET ?)",
        (source.randint(1, 50), first),
    )
    return f"rows of {table} missing"


def odd_value(source: random.Random, db: sqlite3.Connection) -> str:
    """A cell holds what no program of ours wrote."""
    table = source.choice(tuple(COLUMNS))
    column = source.choice(COLUMNS[table])
    value = source.choice(VALUES)
    db.execute(
        f"UPDATE {table} SET {column} = ? WHERE rowid = (SELECT rowid FROM {table} ORDER BY rowid LIMIT 1 OFFSET ?)",
        (value, source.randrange(2)),
    )
    return f"{table}.{column} = {str(value)[:20]!r}"


ROWS: tuple[Callable[[random.Random, sqlite3.Connection], str], ...] = (
    without_table,
    rows_missing,
    odd_value,
    odd_value,
)

SHARE_OF_ROWS = 0.2
"""Mutations that SQLite itself made, so that pages and schema are sound."""


def mutate(source: random.Random, visit: Path) -> tuple[str, bool]:
    """Damage a file in one way; gives what was done, and whether the file is sound and only its values are others."""
    if source.random() >= SHARE_OF_ROWS:
        way = source.choice(BYTES)
        data = bytearray(visit.read_bytes())
        way(source, data)
        visit.write_bytes(data)
        return way.__name__.replace("_", " "), False
    row_way = source.choice(ROWS)
    what = row_way.__name__.replace("_", " ")
    with closing(sqlite3.connect(visit)) as db, suppress(sqlite3.Error):  # a STRICT table refuses some values
        triggers = db.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            db.execute(f"DROP TRIGGER {name}")
        with suppress(sqlite3.Error):
            what = row_way(source, db)
        for _, sql in triggers:
            with suppress(sqlite3.Error):
                db.execute(sql)
        db.commit()
    # Missing tables show, and so do other lines: each run keeps their checksum.
    return what, not what.startswith(("without", "rows of line", "line."))
