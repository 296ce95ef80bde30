"""Brings what can be read of a damaged or foreign visit log into a new one, and counts what was lost.

In: a file. Out: a new visit log of this version, with the same ids, and a `Salvage`. Rows are read table by table;
where a page is damaged, reading goes on behind it. A row that the new log refuses (a missing value, a wrong type, a run
that is lost, more than a visit can hold) is lost; a link that may be empty is emptied instead. Where the list of tables
is damaged, that of a new log takes its place (`schema_pages`).
"""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from logger.clock import Clock, SystemClock
from logger.errors import StillvoltError
from logger.output_file import refuse_outputs
from logger.visit.records.fact_names import SALVAGED
from logger.visit.storage import connection as _connection
from logger.visit.storage.content_limits import (
    MAX_LINE_BYTES,
    MAX_LINES,
    MAX_ROWS,
    MAX_TABLE_BYTES,
    MAX_TEXT_BYTES,
    expected_columns,
    harden,
    usual_value,
)
from logger.visit.storage.schema import USER_VERSION
from logger.visit.storage.schema_pages import readable_tables, replace_schema_pages
from logger.visit.storage.visit_log import VisitLog

TABLES = (
    "fact", "run", "run_end", "spot", "source", "line", "event", "notice", "check_result", "reading", "reading_void",
    "mark", "mark_void", "step_name", "live",
)  # fmt: skip
"""In an order in which each row comes after those that it refers to; requests to a recorder are not brought over."""

_LAST_ID = 2**63 - 1

_MAX_KEPT = {**MAX_ROWS, "line": MAX_LINES, "fact": MAX_ROWS["fact"] - 1}
"""Rows of each table that are brought over: what a visit can have, with room for the fact that it was salvaged."""


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
        cut: whether there were more rows than a visit can have, which were not read.
    """

    table: str
    kept: int
    refused: int
    links_lost: int
    unreadable: int
    reason: str = ""
    cut: bool = False

    @property
    def whole(self) -> bool:
        """Whether nothing was lost, as far as can be known."""
        return not (self.refused or self.links_lost or self.unreadable or self.reason or self.cut)

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
                (self.cut, "there were more than a visit can have"),
            )
            if count
        ]
        return f"{self.table}: {self.kept:,} rows kept{'; ' if lost else ''}{', '.join(lost)}."


@dataclass(frozen=True, slots=True)
class Salvage:
    """What was brought over.

    Args:
        tables: what became of each.
        remark: a sentence on the file as a whole; empty where there is nothing to note.
    """

    tables: tuple[TableSalvage, ...]
    remark: str = ""

    @property
    def whole(self) -> bool:
        """Whether nothing was lost, as far as can be known."""
        return not self.remark and all(table.whole for table in self.tables)


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
            source, remark = _source(copy, path)
            with closing(log), closing(source):
                tables = tuple(_brought_over(source, out))
                found = Salvage(tables, " ".join(filter(None, (remark, log.changed_lines()))))
                if not any(table.kept for table in found.tables):
                    raise StillvoltError(
                        f"Nothing could be read of {path} ({found.tables[0].reason or 'it holds no rows'}).",
                        "It was not changed.",
                        "Look for a copy of it.",
                    )
                lost = [table.in_words() for table in found.tables if not table.whole]
                words = " ".join(filter(None, (found.remark, *lost))) or "Nothing was lost."
                log.facts.set(SALVAGED, f"from {path.name}. {words}")
        except BaseException:
            log.close()
            for suffix in ("", "-wal", "-shm"):
                out.with_name(out.name + suffix).unlink(missing_ok=True)
            raise
    return found


def _copied(path: Path, folder: Path) -> Path:
    """Copy the file with its journal: reading a damaged file may write to it."""
    copy = folder / "damaged"
    try:
        _copy_with_journal(path, copy)
    except OSError as error:
        raise StillvoltError(f"{path} cannot be read ({error.strerror}).", "Nothing was made.") from error
    return copy


def _copy_with_journal(path: Path, copy: Path) -> None:
    for suffix in ("", "-wal"):
        of_copy = copy.with_name(copy.name + suffix)
        of_copy.unlink(missing_ok=True)
        if path.with_name(path.name + suffix).is_file():
            shutil.copyfile(path.with_name(path.name + suffix), of_copy)


def _source(copy: Path, path: Path) -> tuple[sqlite3.Connection, str]:
    """Open the copy, and a remark where its list of tables had to be replaced."""
    try:
        return _opened(copy), ""
    except sqlite3.DatabaseError as error:
        reason = str(error)
    # An older log begins otherwise: the list of that version that leads to most tables.
    best, most = 0, 0
    for version in range(USER_VERSION, 0, -1):
        trial = copy.with_name("trial")
        _copy_with_journal(copy, trial)
        replace_schema_pages(trial, version, copy.parent)
        with suppress(sqlite3.DatabaseError), closing(_opened(trial)) as db:
            readable = readable_tables(db, TABLES)
            best, most = (version, readable) if readable > most else (best, most)
    if best:
        replace_schema_pages(copy, best, copy.parent)
        with suppress(sqlite3.DatabaseError):
            return _opened(copy), (
                f"The list of tables was damaged ({reason}); that of a new visit log took its place, so that what was "
                "read may lack tables and must be looked at with care."
            )
    raise StillvoltError(
        f"Nothing could be read of {path} ({reason}): its list of tables is damaged, or it is no visit log.",
        "It was not changed.",
        "Look for a copy of it.",
    )


def _opened(copy: Path) -> sqlite3.Connection:
    db = sqlite3.connect(copy, isolation_level=None)
    try:
        harden(db)
        db.text_factory = lambda text: text.decode("utf-8", errors="replace")
        db.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except BaseException:
        db.close()
        raise
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
    insert = _insert(table, columns)
    kept = refused = links_lost = unreadable = octets = 0
    for row in _rows(source, table, columns):
        if row is None:
            unreadable += 1
            continue
        octets += sum(len(value) for value in row if isinstance(value, str | bytes))
        if kept == _MAX_KEPT[table] or (table in MAX_ROWS and octets > MAX_TABLE_BYTES):
            return TableSalvage(table, kept, refused, links_lost, unreadable, cut=True)
        values, lost = _with_links(target, columns, row, links)
        try:
            inserted = target.execute(insert, values).rowcount
        except (sqlite3.IntegrityError, sqlite3.DataError, OverflowError, UnicodeEncodeError):
            inserted = 0
        if not inserted:
            refused += 1
            continue
        kept += 1
        links_lost += lost
    return TableSalvage(table, kept, refused, links_lost, unreadable)


def _insert(table: str, columns: Sequence[str]) -> str:
    """The statement that inserts a row if each of its values is one that a visit can hold."""
    given = ", ".join(f"? AS {column}" for column in columns)
    usual = [
        usual_value(*column, max_bytes=MAX_TEXT_BYTES if table in MAX_ROWS else MAX_LINE_BYTES)
        for column in expected_columns(USER_VERSION)[table]
        if column[0] in columns
    ]
    if table == "line":
        usual.append(f"id BETWEEN 1 AND {MAX_LINES:d}")
    names = ", ".join(columns)
    return f"INSERT INTO {table} ({names}) SELECT {names} FROM (SELECT {given}) WHERE {' AND '.join(usual)}"


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
    select = f"SELECT {', '.join(columns)}, rowid FROM {table} WHERE rowid > ? ORDER BY rowid"
    after: int | None = -(2**63)
    while after is not None:
        try:
            for *row, rowid in source.execute(select, (after,)):
                if rowid <= after:  # a damaged tree that leads in a circle
                    yield None
                    return
                after = rowid
                yield tuple(row)
            return
        except (sqlite3.DatabaseError, OverflowError):
            yield None
            after = _readable_behind(source, table, max(after, 0))


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
