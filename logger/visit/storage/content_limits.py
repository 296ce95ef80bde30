"""Limits on what is read of a visit log, which may come from somebody else, and the check against them.

A visit is small but for its lines and events: tens of spots, hundreds of readings. A file that holds millions of them,
texts of megabytes, or numbers where a visit has names was made to exhaust memory, time or the program that reads it.
`harden` sets SQLite's own limits, `refuse_excess` counts rows and looks at every value of the tables that are read
whole (some milliseconds), and `line_problem` looks at every line. All are far above what a visit reaches.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from functools import cache

from logger.clock import NS_PER_S, Clock, SystemClock
from logger.errors import StillvoltError
from logger.metrology.rounding import grouped
from logger.translation import tr
from logger.visit.storage.damage import SALVAGE
from logger.visit.storage.schema import UPGRADES, USER_VERSION

MAX_TEXT_BYTES = 200_000
"""Longest text or blob of a row: a field of the window takes 32,767 letters of at most 4 bytes each."""

MAX_ROW_BYTES = 1_000_000
"""Longest value and longest row that SQLite hands out at all (its SQLITE_LIMIT_LENGTH): five of the longest texts."""

MAX_TABLE_BYTES = 30_000_000
"""All texts of a table that is read whole; the demo visit's largest has 60,000 bytes."""

MAX_SQL_BYTES = 1_000_000
"""Longest statement, those in the file's own schema included."""

MAX_HEAP_BYTES = 200_000_000
"""Memory that SQLite may take in this process, for all its files; with a large visit it takes about 10 MB."""

MAX_CACHE_KB = 2000
"""Pages that SQLite keeps in memory: its own default, which a file's header may otherwise raise."""

MAX_CHECK_S = 60.0
"""Longest time of a check at opening; 3,240,000 lines take about 2 s."""

MAX_LINES = 20_000_000
"""Lines of a visit: 23 days at ten lines a second."""

MAX_LINE_BYTES = 4096
"""Longest line that is kept: four times the longest that the splitter hands out."""

MAX_PHOTOS = 240
"""Photos of a visit: ten for each of two dozen spots. As large as they may be, they stay below `MAX_TABLE_BYTES`."""

MAX_ROWS = {
    "fact": 20_000,
    "run": 5_000,
    "run_end": 5_000,
    "live": 5_000,
    "event": 500_000,
    "notice": 200_000,
    "spot": 2_000,
    "source": 600,
    "reading": 20_000,
    "reading_void": 20_000,
    "reading_correction": 20_000,
    "mark": 20_000,
    "mark_void": 20_000,
    "request": 20_000,
    "check_result": 5_000,
    "step_name": 20_000,
    "spot_detail": 20_000,
    "source_detail": 20_000,
    "photo": MAX_PHOTOS,
    "photo_place": 20_000,
    "reference_correction": 20_000,
    "remedy": 2_000,
    "remedy_entry": 20_000,
    "remedy_baseline": 20_000,
    "entry_checksum": 1_000_000,
    "entry_chain": 1,
}
"""Rows of each table that is read whole: a hundred times what a long visit has (50 runs, 20 spots, 200 readings).
The work of a sweep grows with the third power of the circuits: 600, ten large panels, are solved in a few seconds.
Events and notices come by themselves: one a second for six days, and one each three seconds for a week. Each entry has
a checksum, and each change of a list one more."""

MAX_MOMENT_NS = 7_258_118_400 * NS_PER_S
"""Moments lie between 1970 and 2200 (UTC): where ten years are drawn or counted by the second, nothing ends."""

MAX_RUN_NS = 400 * 86_400 * NS_PER_S
"""Longest run, before or after its second 0: more than a year, while a night has hours."""

MAX_OFFSET_S = 86_400
"""Local time minus UTC; the widest in use is 14 h."""

MAX_NUMBER = 10**12
"""Largest count or id: above the lines of a thousand visits, and exact as a double."""

MAX_VOLTS = 1e9
"""Largest value of a real column, volts or a place in a list; the highest voltages of power lines are 1.2e6."""

_PROGRESS_EVERY = 10_000
"""Steps of SQLite's machine between two looks at the clock: some tenths of a millisecond."""


def harden(db: sqlite3.Connection) -> None:
    """Limit what the content of a file can make SQLite do; the first thing after opening it."""
    for limit, value in (
        (sqlite3.SQLITE_LIMIT_LENGTH, MAX_ROW_BYTES),
        (sqlite3.SQLITE_LIMIT_SQL_LENGTH, MAX_SQL_BYTES),
        (sqlite3.SQLITE_LIMIT_ATTACHED, 0),
        (sqlite3.SQLITE_LIMIT_COLUMN, 100),  # the widest table has 20
        (sqlite3.SQLITE_LIMIT_EXPR_DEPTH, 200),  # the check of a table's values has about 40
        (sqlite3.SQLITE_LIMIT_COMPOUND_SELECT, 5),  # the widest query has 2
        (sqlite3.SQLITE_LIMIT_TRIGGER_DEPTH, 5),  # triggers here refuse and start nothing
        (sqlite3.SQLITE_LIMIT_WORKER_THREADS, 0),
    ):
        db.setlimit(limit, value)
    db.execute("PRAGMA trusted_schema = OFF")
    db.execute("PRAGMA cell_size_check = ON")
    db.execute(f"PRAGMA hard_heap_limit = {MAX_HEAP_BYTES:d}")


@contextmanager
def limited_in_time(
    db: sqlite3.Connection, name: str, limit_s: float = MAX_CHECK_S, clock: Clock | None = None
) -> Iterator[None]:
    """End the queries inside when they take too long.

    Args:
        db: the connection.
        name: of the file, for the sentence.
        limit_s: how long all of them together may take, seconds.
        clock: injected time.

    Raises:
        StillvoltError: they took longer.
    """
    clock = clock or SystemClock()
    end_ns = clock.steady_ns() + int(limit_s * NS_PER_S)
    db.set_progress_handler(lambda: clock.steady_ns() > end_ns, _PROGRESS_EVERY)
    try:
        yield
    except sqlite3.OperationalError as error:
        if getattr(error, "sqlite_errorcode", None) != sqlite3.SQLITE_INTERRUPT:
            raise
        raise StillvoltError(
            tr("{name} took longer than {seconds} s to be checked.").format(
                name=name, seconds=f"{limit_s:.0f}"
            ),
            tr("It was not changed."),
            tr("If it is not from you, do not use it; else copy it to a faster disk."),
        ) from error
    finally:
        db.set_progress_handler(None, 0)


def refuse_excess(db: sqlite3.Connection, version: int, name: str) -> None:
    """Refuse a file with more or other content than a visit log has, before it is read; lines are only counted.

    Args:
        db: connection to the file, its schema checked.
        version: of its schema.
        name: of the file, for the sentence.

    Raises:
        StillvoltError: a table has too many rows, too much text, or a value that no visit log has there.
        sqlite3.DatabaseError: a page that is read is damaged.
    """
    problem = excess(db, version)
    if problem:
        raise StillvoltError(
            tr("{name} is no visit log that can be used. {problem}").format(name=name, problem=problem),
            tr("It was not changed."),
            tr(SALVAGE),
        )


def excess(db: sqlite3.Connection, version: int) -> str:
    """What `refuse_excess` would refuse, as a sentence; empty where there is nothing."""
    db.execute(f"PRAGMA cache_size = -{MAX_CACHE_KB:d}")
    low, high = db.execute("SELECT coalesce(min(id), 1), coalesce(max(id), 1) FROM line").fetchone()
    if low < 1 or high > MAX_LINES:
        return tr("Its lines are numbered from {low} to {high}, and a visit has at most {most}.").format(
            low=low, high=high, most=grouped(MAX_LINES)
        )
    for table, columns in expected_columns(version).items():
        if table in MAX_ROWS and (problem := _table_excess(db, table, columns)):
            return problem
    return ""


def _table_excess(db: sqlite3.Connection, table: str, columns: tuple[tuple[str, str, bool], ...]) -> str:
    texts = [name for name, kind, _ in columns if kind in ("TEXT", "BLOB")]
    size = " + ".join(f"coalesce(length(CAST({name} AS BLOB)), 0)" for name in texts) or "0"
    usual = " AND ".join(usual_value(*column) for column in columns)
    try:
        rows, octets, unusual = db.execute(
            f"SELECT count(*), coalesce(sum(octets), 0), coalesce(sum(NOT usual), 0) FROM "
            f"(SELECT {size} AS octets, {usual} AS usual FROM {table} LIMIT {MAX_ROWS[table] + 1:d})"
        ).fetchone()
    except sqlite3.DataError:  # "string or blob too big"
        return tr("Table {table} has a row of more than {most} bytes.").format(
            table=table, most=grouped(MAX_ROW_BYTES)
        )
    if rows > MAX_ROWS[table]:
        return tr("Table {table} has more than {most} rows.").format(
            table=table, most=grouped(MAX_ROWS[table])
        )
    if octets > MAX_TABLE_BYTES:
        return tr("The texts of table {table} have {number} bytes.").format(
            table=table, number=grouped(octets)
        )
    if unusual:
        named = [
            name
            for name, kind, required in columns
            if db.execute(
                f"SELECT 1 FROM {table} WHERE NOT {usual_value(name, kind, required)} LIMIT 1"
            ).fetchone()
        ]
        # On damaged pages two queries need not find the same.
        if not named:
            return tr(
                "Table {table} holds something that this program does not write: the file seems to "
                "be damaged or changed."
            ).format(table=table)
        text = tr(
            "Column {column} of table {table} holds something that this program does not write: "
            "the file seems to be damaged or changed."
        )
        return text.format(column=named[0], table=table)
    return ""


def line_problem(db: sqlite3.Connection) -> str:
    """What no line of a meter is, as a sentence; empty where there is nothing. Takes a second for a million.

    Raises:
        sqlite3.DatabaseError: a page is damaged.
    """
    usual = [
        (column[0], usual_value(*column, max_bytes=MAX_LINE_BYTES))
        for column in expected_columns(USER_VERSION)["line"]
    ]
    every = " AND ".join(condition for _, condition in usual)
    try:
        found = db.execute(f"SELECT id FROM line WHERE NOT ({every}) LIMIT 1").fetchone()
    except sqlite3.DataError:  # "string or blob too big"
        return tr("A line has more than {most} bytes.").format(most=grouped(MAX_ROW_BYTES))
    if not found:
        return ""
    named = [
        name
        for name, condition in usual
        if db.execute(f"SELECT 1 FROM line WHERE id = ? AND NOT {condition}", (found[0],)).fetchone()
    ]
    if not named:
        return tr("A value of line {line} is none that a visit can hold.").format(line=found[0])
    text = tr("The {column} of line {line} is none that a visit can hold.")
    return text.format(column=named[0], line=found[0])


def usual_value(name: str, kind: str, required: bool, max_bytes: int = MAX_TEXT_BYTES) -> str:
    """The SQL condition that a column's value is one that a visit can hold; never NULL.

    Args:
        name: of the column.
        kind: as declared: INTEGER, REAL, TEXT, BLOB.
        required: whether it may not be NULL.
        max_bytes: longest text or blob.
    """
    # Types are looked at too: SQLite enforces a STRICT table's types for who writes through it, and for nobody else.
    usual = f"typeof({name}) = '{kind.lower()}'"
    if kind == "REAL":
        usual += f" AND abs({name}) <= {MAX_VOLTS!r}"
    elif kind == "INTEGER":
        low, high = _range(name)
        usual += f" AND {name} BETWEEN {low:d} AND {high:d}"
    else:
        # As bytes: the length of a text ends at its first NUL.
        usual += f" AND length(CAST({name} AS BLOB)) <= {max_bytes:d}"
    return f"({usual})" if required else f"({name} IS NULL OR ({usual}))"


def is_usual_value(name: str, kind: str, required: bool, value: object) -> bool:
    """Whether a value is one that a visit can have in a column, by type, range and length: `usual_value` in Python.

    Args:
        name: of the column.
        kind: as declared: INTEGER, REAL, TEXT, BLOB.
        required: whether it may not be NULL.
        value: as SQLite gives it.
    """
    if value is None:
        return not required
    if kind == "REAL":
        return isinstance(value, float) and abs(value) <= MAX_VOLTS
    if kind == "INTEGER":
        low, high = _range(name)
        return isinstance(value, int) and low <= value <= high
    if kind == "TEXT":
        return isinstance(value, str) and len(value.encode("utf-8", errors="replace")) <= MAX_TEXT_BYTES
    return isinstance(value, bytes) and len(value) <= MAX_TEXT_BYTES


def _range(column: str) -> tuple[int, int]:
    if column.endswith("utc_ns"):
        return 0, MAX_MOMENT_NS
    if column.endswith("t_ns"):
        return -MAX_RUN_NS, MAX_RUN_NS
    if column == "utc_offset_s":
        return -MAX_OFFSET_S, MAX_OFFSET_S
    return 0, MAX_NUMBER


@cache
def expected_columns(version: int) -> dict[str, tuple[tuple[str, str, bool], ...]]:
    """Of each table of a visit log of that version: name and type of each column, and whether it must have a value."""
    with closing(sqlite3.connect(":memory:")) as db:
        for script in UPGRADES[:version]:
            db.executescript(script)
        tables = [
            row[0]
            for row in db.execute(
                "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\'"
            ).fetchall()
        ]
        return {
            table: tuple(
                (str(name), str(kind), bool(required or key))
                for _, name, kind, required, _, key in db.execute(f"PRAGMA table_info({table})")
            )
            for table in tables
        }
