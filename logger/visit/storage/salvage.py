"""Brings what can be read of a damaged or foreign visit log into a new one, and counts what was lost.

In: a file. Out: a new visit log of this version, with the same ids, and a `Salvage`. Rows are read table by table;
where a page is damaged, reading goes on behind it. A row that the new log refuses (a missing value, a wrong type, a run
that is lost) is lost; a link that may be empty is emptied instead. A file whose list of tables is damaged cannot be
read.
"""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from logger.clock import Clock, SystemClock
from logger.errors import StillvoltError
from logger.output_file import refuse_outputs
from logger.visit.storage import connection as _connection
from logger.visit.storage.schema_check import harden
from logger.visit.storage.visit_log import VisitLog

TABLES = (
    "fact", "run", "run_end", "spot", "source", "line", "event", "notice", "check_result", "reading", "reading_void",
    "mark", "mark_void", "step_name", "live",
)  # fmt: skip
"""In an order in which each row comes after those that it refers to; requests to a recorder are not brought over."""

ROWS_AT_ONCE = 5000

SALVAGED_FACT = "salvaged"
"""Fact that a log was made from a damaged one; its value says from which, and what was lost."""

_LAST_ID = 2**63 - 1


@dataclass(frozen=True, slots=True)
class TableSalvage:
    """What became of a table.

    Args:
        table: its name.
        kept: rows in the new log.
        refused: rows that were read and that the new log refuses.
        links_lost: rows that were kept without a link to a row that is lost.
        unreadable: stretches of rows that could not be read.
        reason: why nothing was read; else empty.
    """

    table: str
    kept: int
    refused: int
    links_lost: int
    unreadable: int
    reason: str = ""

    @property
    def whole(self) -> bool:
        """Whether nothing was lost, as far as can be known."""
        return not (self.refused or self.links_lost or self.unreadable or self.reason)

    def in_words(self) -> str:
        """What became of it, for a person."""
        if self.reason:
            return f"{self.table}: nothing could be read ({self.reason})."
        lost = [
            words
            for count, words in (
                (self.unreadable, f"{self.unreadable} stretches could not be read"),
                (self.refused, f"{self.refused} rows were damaged"),
                (self.links_lost, f"{self.links_lost} rows lost a link"),
            )
            if count
        ]
        return f"{self.table}: {self.kept:,} rows kept{'; ' if lost else ''}{', '.join(lost)}."


@dataclass(frozen=True, slots=True)
class Salvage:
    """What was brought over."""

    tables: tuple[TableSalvage, ...]

    @property
    def whole(self) -> bool:
        """Whether nothing was lost, as far as can be known."""
        return all(table.whole for table in self.tables)


def salvage(path: Path, out: Path, clock: Clock | None = None) -> Salvage:
    """Make a new visit log of what can be read.

    Args:
        path: the damaged or foreign file; it and its folder stay as they are.
        out: the new visit log; must not exist.
        clock: injected time.

    Raises:
        StillvoltError: nothing can be read at all, or the new log cannot be made; then none is left.
    """
    refuse_outputs([out], [path])
    with tempfile.TemporaryDirectory(prefix="stillvolt-") as folder:
        copy = _copied(path, Path(folder))
        log = VisitLog.create(out, clock or SystemClock())
        try:
            with closing(log), closing(_source(copy, path)) as source:
                found = Salvage(tuple(_brought_over(source, out)))
                if not any(table.kept for table in found.tables):
                    raise StillvoltError(
                        f"Nothing could be read of {path} ({found.tables[0].reason or 'it holds no rows'}).",
                        "It was not changed.",
                        "Look for a copy of it.",
                    )
                lost = " ".join(table.in_words() for table in found.tables if not table.whole)
                log.facts.set(SALVAGED_FACT, f"from {path.name}. {lost or 'Nothing was lost.'}")
        except BaseException:
            for suffix in ("", "-wal", "-shm"):
                out.with_name(out.name + suffix).unlink(missing_ok=True)
            raise
    return found


def _copied(path: Path, folder: Path) -> Path:
    """Copy the file with its journal: reading a damaged file may write to it."""
    copy = folder / "damaged"
    try:
        shutil.copyfile(path, copy)
        journal = path.with_name(f"{path.name}-wal")
        if journal.is_file():
            shutil.copyfile(journal, copy.with_name("damaged-wal"))
    except OSError as error:
        raise StillvoltError(f"{path} cannot be read ({error.strerror}).", "Nothing was made.") from error
    return copy


def _source(copy: Path, path: Path) -> sqlite3.Connection:
    db = sqlite3.connect(copy, isolation_level=None)
    try:
        harden(db)
        db.text_factory = lambda text: text.decode("utf-8", errors="replace")
        db.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except sqlite3.DatabaseError as error:
        db.close()
        raise StillvoltError(
            f"Nothing could be read of {path} ({error}): its list of tables is damaged, or it is no visit log.",
            "It was not changed.",
            "Look for a copy of it.",
        ) from error
    return db


def _brought_over(source: sqlite3.Connection, out: Path) -> Iterator[TableSalvage]:
    with closing(_connection.open_existing(out)) as target:
        for table in TABLES:
            with _connection.transaction(target):
                yield _table_brought_over(source, target, table)


def _table_brought_over(source: sqlite3.Connection, target: sqlite3.Connection, table: str) -> TableSalvage:
    try:
        columns = _shared_columns(source, target, table)
    except sqlite3.DatabaseError as error:
        return TableSalvage(table, 0, 0, 0, 0, str(error))
    if not columns:
        return TableSalvage(table, 0, 0, 0, 0, "it is missing, or is not a plain table")
    links = {
        row["from"]: row["table"]
        for row in target.execute(f"PRAGMA foreign_key_list({table})")
        if not _must_have(target, table, row["from"])
    }
    insert = f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})"
    kept = refused = links_lost = unreadable = 0
    for row in _rows(source, table, columns):
        if row is None:
            unreadable += 1
            continue
        values, lost = _with_links(target, columns, row, links)
        try:
            target.execute(insert, values)
        except (sqlite3.IntegrityError, sqlite3.DataError, OverflowError):
            refused += 1
            continue
        kept += 1
        links_lost += lost
    return TableSalvage(table, kept, refused, links_lost, unreadable)


def _shared_columns(source: sqlite3.Connection, target: sqlite3.Connection, table: str) -> list[str]:
    """Columns of a plain table that both have; none where the source has a view or a virtual table of that name."""
    row = source.execute("SELECT type, rootpage FROM sqlite_schema WHERE name = ?", (table,)).fetchone()
    if row is None or row[0] != "table" or not row[1]:
        return []
    there = {info[1] for info in source.execute(f"PRAGMA table_xinfo({table})") if info[6] == 0}
    return [info["name"] for info in target.execute(f"PRAGMA table_info({table})") if info["name"] in there]


def _must_have(target: sqlite3.Connection, table: str, column: str) -> bool:
    return any(
        (info["notnull"] or info["pk"]) and info["name"] == column
        for info in target.execute(f"PRAGMA table_info({table})")
    )


def _with_links(
    target: sqlite3.Connection, columns: Sequence[str], row: Sequence[object], links: dict[str, str]
) -> tuple[list[object], bool]:
    """Empty the links of a row to rows that are lost, where they may be empty."""
    values, lost_tables = list(row), set[str]()
    for index, column in enumerate(columns):
        value = values[index]
        if column in links and value is not None:
            if isinstance(value, int) and abs(value) <= _LAST_ID:
                found = target.execute(f"SELECT 1 FROM {links[column]} WHERE rowid = ?", (value,)).fetchone()
                if found is not None:
                    continue
            lost_tables.add(links[column])
    for index, column in enumerate(columns):
        # The first line of a stretch means nothing without the last one.
        if links.get(column) in lost_tables:
            values[index] = None
    return values, bool(lost_tables)


def _rows(
    source: sqlite3.Connection, table: str, columns: Sequence[str]
) -> Iterator[tuple[object, ...] | None]:
    """The rows in order of id; None for each stretch that cannot be read."""
    select = f"SELECT {', '.join(columns)}, rowid FROM {table} WHERE rowid > ? ORDER BY rowid LIMIT ?"
    after, at_once = -(2**63), ROWS_AT_ONCE
    while True:
        try:
            rows = source.execute(select, (after, at_once)).fetchall()
        except (sqlite3.DatabaseError, OverflowError):
            if at_once > 1:
                at_once = max(1, at_once // 8)
                continue
            yield None
            behind = _readable_behind(source, table, max(after, 0))
            if behind is None:
                return
            after, at_once = behind, ROWS_AT_ONCE
            continue
        for *row, rowid in rows:
            if rowid <= after:  # a damaged tree that leads in a circle
                yield None
                return
            after = rowid
            yield tuple(row)
        if len(rows) < at_once:
            return
        at_once = min(ROWS_AT_ONCE, at_once * 2)


def _readable_behind(source: sqlite3.Connection, table: str, after: int) -> int | None:
    """The smallest id, to a factor, after which a row can be read again; None where there is none."""

    def readable(rowid: int) -> bool:
        try:
            row = source.execute(
                f"SELECT rowid FROM {table} WHERE rowid > ? ORDER BY rowid LIMIT 1", (rowid,)
            ).fetchone()
        except sqlite3.DatabaseError:
            return False
        return row is not None and row[0] > rowid

    step = 1
    while not readable(after + step):
        step *= 2
        if after + step >= _LAST_ID // 2:
            return None
    low, high = step // 2, step
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if readable(after + middle) else (middle, high)
    return after + high
