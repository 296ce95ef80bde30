"""A damaged or foreign visit log, as far as its rows can be read: by its tables, and page by page where these fail.

It is read from a copy. Where the header or the list of tables is damaged, that of a new visit log takes its place in
the copy (`schema_pages`). Where a page above others is lost, these are looked for by themselves (`table_pages`).
"""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, suppress
from pathlib import Path

from logger.errors import StillvoltError
from logger.translation import kept_text, tr
from logger.visit.storage.content_limits import expected_columns, harden
from logger.visit.storage.entry_checksum import CHECKSUM_VERSION
from logger.visit.storage.file_name import is_file
from logger.visit.storage.foreign_journal import FOREIGN_JOURNAL, has_foreign_journal
from logger.visit.storage.journal_file import why_not_whole
from logger.visit.storage.schema import USER_VERSION
from logger.visit.storage.schema_pages import (
    PAGE_BYTES,
    first_pages,
    readable_tables,
    replace_header,
    replace_schema_pages,
)
from logger.visit.storage.table_pages import Row, pages_by_table, rows_of_pages

_LAST_ID = 2**63 - 1

_HEADER_REPLACED = kept_text("The file's header was damaged, or its end is missing.")

_LIST_REPLACED = kept_text(
    "The list of tables was damaged; that of a new visit log took its place, so that what was read may lack "
    "tables and must be looked at with care."
)


_DATABASE_SAYS = kept_text("The database says: {reason}.")


class DamagedVisit:
    """Rows of a file that may be damaged anywhere.

    Args:
        path: the file; it and its folder stay as they are.
        folder: a private one for copies.

    Raises:
        StillvoltError: there is no such file, or it may not be read.
    """

    def __init__(self, path: Path, folder: Path) -> None:
        if not is_file(path):
            raise StillvoltError(
                tr("There is no visit log {path}.").format(path=path),
                next_step=tr("See whether the name is right."),
            )
        self._folder = folder
        self._copy = folder / "damaged"
        try:
            _copy_with_journal(path, self._copy)
        except OSError as error:
            raise StillvoltError(
                tr("{path} cannot be read ({reason}).").format(path=path, reason=error.strerror),
                tr("Nothing was made."),
            ) from error
        self.remarks: tuple[str, ...] = ()
        """Sentences on the file as a whole, kept in English; empty where there is nothing to note."""
        foreign_journal: tuple[str, ...] = ()
        if has_foreign_journal(self._copy):
            foreign_journal = FOREIGN_JOURNAL.format(name=path.name), kept_text("It was left out.")
            self._copy.with_name(f"{self._copy.name}-wal").unlink()
        self.list_replaced = False
        """Whether the list of tables is that of a new log, so that what an upgrade added may begin elsewhere."""
        self._db = self._opened_somehow()
        if self._copy.stat().st_size % PAGE_BYTES and not self.remarks:
            self.remarks = (kept_text("The end of the file is missing."),)
        short = why_not_whole(path)
        self.remarks = foreign_journal + ((short,) if short else ()) + self.remarks
        self._pages: dict[str, list[int]] | None = None
        if self._db is not None:
            with suppress(sqlite3.DatabaseError):  # a damaged journal
                self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()

    def close(self) -> None:
        """Close the copy."""
        if self._db is not None:
            self._db.close()

    def keeps_checksums(self) -> bool:
        """Whether the file is of a version that has checksums of its entries, as far as that can be known."""
        if self._db is None:
            return True
        try:
            version = int(self._db.execute("PRAGMA user_version").fetchone()[0])
            return version >= CHECKSUM_VERSION or not self.missing("entry_checksum")
        except sqlite3.DatabaseError:
            return True

    def missing(self, table: str) -> str:
        """Why the table cannot be read as one, in a sentence that is kept in English; empty where it can be."""
        if self._db is None:
            return kept_text("The list of tables is damaged.")
        try:
            if self._columns(self._db, table) or self._came_later(self._db, table):
                return ""
            return kept_text("The table is missing, or is not a plain table.")
        except sqlite3.DatabaseError as error:
            return _DATABASE_SAYS.format(reason=error)

    def rows(self, table: str) -> Iterator[Row | None]:
        """The rows in order of id, in full columns of this version; None for each stretch that cannot be read."""
        if self._db is None:
            return
        there = self._columns(self._db, table)
        if not there:
            return
        columns = expected_columns(USER_VERSION)[table]
        for row in _rows(self._db, table, there):
            if row is None:
                yield None
                continue
            values = dict(zip(there, row, strict=True))
            # What an upgrade added to a table is a text, and empty where the log is older.
            yield tuple(values.get(name, "" if kind == "TEXT" else None) for name, kind, _ in columns)

    def rows_of_pages(self, table: str) -> Iterator[Row]:
        """The rows that pages hold which look like those of a table, in no order; some may be in `rows` too."""
        if self._pages is None:
            self._pages = pages_by_table(self._copy, first_pages(self._folder))
        yield from rows_of_pages(self._copy, table, self._pages.get(table, ()))

    def _opened_somehow(self) -> sqlite3.Connection | None:
        """Open the copy as it is, or with a new header, or with a new list of tables; None where nothing helps."""
        try:
            db = _opened(self._copy)
        except sqlite3.DatabaseError as error:
            reason = _DATABASE_SAYS.format(reason=error)
        else:
            tables = _own_tables(db)
            if readable_tables(db, tables) * 2 > len(tables):
                return db
            db.close()
            reason = kept_text("Most tables could not be read.")
        # An older log begins otherwise: what leads to most tables is taken.
        best, most = 0, 0
        for version in (USER_VERSION + 1, *range(USER_VERSION, 0, -1)):
            trial = self._folder / "trial"
            _copy_with_journal(self._copy, trial)
            self._repair(trial, version)
            with suppress(sqlite3.DatabaseError), closing(_opened(trial)) as db:
                readable = readable_tables(db, _own_tables(db))
                best, most = (version, readable) if readable > most else (best, most)
        self._repair(self._copy, best or USER_VERSION)
        self.list_replaced = best <= USER_VERSION
        text = _LIST_REPLACED if self.list_replaced else _HEADER_REPLACED
        self.remarks = text, reason
        with suppress(sqlite3.DatabaseError):
            return _opened(self._copy)
        return None

    def _repair(self, copy: Path, version: int) -> None:
        """Replace the list of tables by that of a version; only the header for the version after the last."""
        replace_header(copy, self._folder)
        if version <= USER_VERSION:
            replace_schema_pages(copy, version, self._folder)

    @staticmethod
    def _came_later(db: sqlite3.Connection, table: str) -> bool:
        """Whether a later version brought the table, so that the file never had it."""
        version = int(db.execute("PRAGMA user_version").fetchone()[0])
        listed = db.execute("SELECT 1 FROM sqlite_schema WHERE name = ?", (table,)).fetchone() is not None
        return 1 <= version < USER_VERSION and table not in expected_columns(version) and not listed

    @staticmethod
    def _columns(db: sqlite3.Connection, table: str) -> list[str]:
        """Known columns of a plain table; none where there is a view or a virtual table of that name."""
        row = db.execute("SELECT type, rootpage FROM sqlite_schema WHERE name = ?", (table,)).fetchone()
        if row is None or row[0] != "table" or not row[1]:
            return []
        there = {info[1] for info in db.execute(f"PRAGMA table_xinfo({table})") if info[6] == 0}
        return [name for name, _, _ in expected_columns(USER_VERSION)[table] if name in there]


def _copy_with_journal(path: Path, copy: Path) -> None:
    """Copy the file with its journal: reading a damaged file may write to it."""
    for suffix in ("", "-wal"):
        of_copy = copy.with_name(copy.name + suffix)
        of_copy.unlink(missing_ok=True)
        if path.with_name(path.name + suffix).is_file():
            shutil.copyfile(path.with_name(path.name + suffix), of_copy)


def _opened(copy: Path) -> sqlite3.Connection:
    db = sqlite3.connect(copy, isolation_level=None)
    try:
        harden(db)
        db.text_factory = lambda text: text.decode("utf-8", errors="replace")
        db.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except UnicodeDecodeError as error:  # the message of SQLite's own error names the entry
        db.close()
        raise sqlite3.DatabaseError("a name in the list of tables is no text any more") from error
    except BaseException:
        db.close()
        raise
    return db


def _own_tables(db: sqlite3.Connection) -> tuple[str, ...]:
    """The plain tables of a visit log that are in a file's list: a view or a virtual one may have no end."""
    plain = "SELECT name FROM sqlite_schema WHERE type = 'table' AND rootpage > 0"
    try:
        listed = {row[0] for row in db.execute(plain)}
    except sqlite3.DatabaseError:
        return ()
    return tuple(table for table in expected_columns(USER_VERSION) if table in listed)


def _rows(source: sqlite3.Connection, table: str, columns: Sequence[str]) -> Iterator[Row | None]:
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
