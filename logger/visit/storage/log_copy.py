"""What a visit log holds, in a file without a name: so that it can be written again whatever becomes of the log.

Another program may overwrite or cut a log in place (a restored backup, a folder that is synchronised, a copy onto it).
Recorder and window each keep such a copy, and compare the file with it. Nothing is ever taken from an overwritten file:
what is in it may be another home's.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from logger.errors import StillvoltError
from logger.visit.storage import connection as _connection
from logger.visit.storage.content_limits import harden, limited_in_time
from logger.visit.storage.entry_checksum import keeping_checksums
from logger.visit.storage.file_name import free_kept_name

_GROWING_TABLES = (
    "fact", "run", "reading", "reading_correction", "mark", "check_result", "step_name", "spot_detail",
    "source_detail", "photo", "photo_place", "reference_correction", "remedy", "remedy_entry", "remedy_baseline",
    "entry_checksum",
)  # fmt: skip
"""Tables to which rows are only ever appended, few of them: a file of the visit has each of them as it was."""

_EDITED_TABLES = (
    "run_end", "spot", "source", "reading_void", "mark_void", "request", "entry_chain",
)  # fmt: skip
"""Tables whose rows are edited, or not in the order of their ids; all are short."""

RECORDED_TABLES = ("line", "event", "notice", "live")
"""What comes from a recorder only."""

_IN_KEPT_FILE = (
    "fact", "spot", "source", "reading", "reading_void", "reading_correction", "mark", "mark_void", "check_result",
    "step_name", "spot_detail", "source_detail", "photo", "photo_place", "reference_correction", "remedy",
    "remedy_entry", "remedy_baseline",
)  # fmt: skip
"""What windows enter, without what depends on the order of writing."""

_BY_CONTENT = ("fact",)
"""Of these, nothing names the id: who goes on in another file enters there, too, from where it took over."""

_CACHE_KB = 256
"""Pages of the copy that are kept in memory; the others are in the temporary folder."""

_State = dict[str, int]
"""The highest id of each table to which rows are appended."""


class LogCopy:
    """A copy of an open visit log that is kept up to date. One thread at a time may use it.

    Args:
        db: connection to the log.
    """

    def __init__(self, db: sqlite3.Connection) -> None:
        self._copy: sqlite3.Connection | None = None
        self._in_file: _State = {}
        """What the file itself, without its journal, is known to have."""
        try:
            # SQLite removes the name of such a file at once, and the file when it is closed.
            self._copy = sqlite3.connect("", isolation_level=None, check_same_thread=False)
            self._copy.execute(f"PRAGMA cache_size = -{_CACHE_KB:d}")
            db.backup(self._copy)
        except sqlite3.Error:
            self.close()

    @property
    def is_complete(self) -> bool:
        """Whether there was room for all of it in the temporary folder."""
        return self._copy is not None

    def close(self) -> None:
        """Let the copy go."""
        if self._copy is not None:
            self._copy.close()
            self._copy = None

    def refresh(
        self, db: sqlite3.Connection, is_overwritten: Callable[[], bool], and_tables: tuple[str, ...] = ()
    ) -> None:
        """Take over what was written into the log; after an error the copy stays as it was.

        Args:
            db: connection to the log.
            is_overwritten: whether another program has overwritten the log. Asked once all was read: where it has,
                nothing of it is taken.
            and_tables: what comes from the recorder, unless it is kept otherwise.
        """
        if self._copy is None:
            return
        try:
            # Entries and their checksums of one moment.
            with _read_transaction(db), _connection.transaction(self._copy):
                for table in (*_GROWING_TABLES, *_EDITED_TABLES, *and_tables):
                    self._take(db, table, all_rows=table in _EDITED_TABLES or table == "live")
                if is_overwritten():
                    raise _OverwrittenError
        except _OverwrittenError:
            return
        except sqlite3.Error as error:
            if getattr(error, "sqlite_errorcode", None) == sqlite3.SQLITE_FULL:
                self.close()

    def _take(self, db: sqlite3.Connection, table: str, *, all_rows: bool) -> None:
        assert self._copy is not None
        after = 0 if all_rows else _highest(self._copy, table)
        rows = db.execute(f"SELECT * FROM {table} WHERE rowid > {after:d}")
        places = ",".join("?" * len(rows.description))
        self._copy.executemany(
            f"INSERT OR REPLACE INTO {table} VALUES ({places})", (tuple(row) for row in rows)
        )

    def note_all_in_file(self) -> None:
        """Take for known that the file itself has everything that the copy has: its journal is written into it."""
        if self._copy is not None:
            self._in_file = {table: _highest(self._copy, table) for table in _GROWING_TABLES}

    def differs_from_file(
        self, path: Path, log: sqlite3.Connection, *, may_have_more: bool, look_at_pages: bool
    ) -> bool:
        """Whether a file is not the one that this is a copy of, by what it has without its journal.

        A journal would be read with whatever content is beside it, and hide what was overwritten.

        Args:
            path: the file.
            log: connection to the log, which reads the journal too.
            may_have_more: whether another program may have entered something, by way of SQLite, that the copy lacks:
                the log has it then.
            look_at_pages: whether SQLite looks at every page, which takes a tenth of a second for a long night.

        Raises:
            sqlite3.DatabaseError: it cannot be read, or is damaged.
            StillvoltError: looking took too long.
        """
        if self._copy is None:
            return False
        with closing(_opened(path, "immutable=1")) as db, limited_in_time(db, path.name):
            found: _State = {}
            for table in _GROWING_TABLES:
                highest, known = _highest(db, table), self._in_file.get(table, 0)
                own = _highest(self._copy, table)
                if highest < known or (highest > own and not may_have_more):
                    return True
                if _rows(db, table, min(highest, own)) != _rows(self._copy, table, min(highest, own)):
                    return True
                if highest > own and _rows(db, table, highest) != _rows(log, table, highest):
                    return True
                found[table] = highest
            if look_at_pages and db.execute("PRAGMA quick_check(1)").fetchone()[0] != "ok":
                return True
        self._in_file = found
        return False

    def is_in_file_with_journal(self, path: Path) -> bool:
        """Whether a file, read with its journal as any other program does, has all that the copy has, and is whole."""
        if self._copy is None:
            return False
        try:
            with closing(_opened(path, "")) as db, limited_in_time(db, path.name):
                for table in _GROWING_TABLES:
                    highest = _highest(self._copy, table)
                    if _rows(db, table, highest) != _rows(self._copy, table, highest):
                        return False
                runs = "SELECT run_id, count(*) FROM line WHERE id <= ? GROUP BY run_id ORDER BY run_id"
                last = (_highest(self._copy, "line"),)
                if db.execute(runs, last).fetchall() != self._copy.execute(runs, last).fetchall():
                    return False
                return bool(db.execute("PRAGMA quick_check(1)").fetchone()[0] == "ok")
        except (OSError, sqlite3.Error, StillvoltError):
            return False

    def is_all_in(self, path: Path) -> bool:
        """Whether a file has everything that windows had entered into this one."""
        if self._copy is None:
            return False
        try:
            with closing(_opened(path, "mode=ro")) as db:
                return not any(self._lacking_in(db, table) for table in _IN_KEPT_FILE)
        except (OSError, sqlite3.Error):
            return False

    def bring_over(self, path: Path) -> bool:
        """Enter into another log of the same visit what windows had entered into this one, and that one lacks.

        Returns:
            False where that log has another entry in the place of one, or cannot be written: it stays as it is then.
        """
        if self._copy is None:
            return False
        try:
            with (
                closing(_connection.open_existing(path)) as db,
                _connection.transaction(db),
                keeping_checksums(db),
            ):
                for table in _IN_KEPT_FILE:
                    for row in self._lacking_in(db, table):
                        values = (None, *row[1:]) if table in _BY_CONTENT else row
                        places = ",".join("?" * len(values))
                        db.execute(f"INSERT INTO {table} VALUES ({places})", values)
        except (OSError, sqlite3.Error, StillvoltError):
            return False
        return True

    def _lacking_in(self, db: sqlite3.Connection, table: str) -> list[tuple[object, ...]]:
        """The rows of a table that another log lacks, in the order of their ids."""
        assert self._copy is not None
        first = 1 if table in _BY_CONTENT else 0
        there = {row[first:] for row in _rows(db, table)}
        return [row for row in _rows(self._copy, table) if row[first:] not in there]

    def write_beside(self, path: Path, complete: Callable[[sqlite3.Connection], None]) -> Path:
        """Write everything into a new visit log.

        Args:
            path: of the overwritten log; the new one gets a name like it in the same folder.
            complete: inserts what the copy lacks, in a transaction.

        Returns:
            The new log, readable for its owner only.

        Raises:
            OSError: the folder cannot be written.
            sqlite3.Error: the disk is full.
        """
        new = free_kept_name(path)
        os.close(os.open(new, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
        try:
            if self._copy is None:
                _connection.write_schema(new)
            with closing(sqlite3.connect(new, isolation_level=None)) as db:
                if self._copy is not None:
                    self._copy.backup(db)
                with _connection.transaction(db):
                    complete(db)
        except BaseException:
            new.unlink(missing_ok=True)
            raise
        return new


class _OverwrittenError(Exception):
    """The log was overwritten while it was read."""


def _opened(path: Path, how: str) -> sqlite3.Connection:
    db = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro&{how}", uri=True)
    harden(db)
    return db


def _highest(db: sqlite3.Connection, table: str) -> int:
    return int(db.execute(f"SELECT coalesce(max(rowid), 0) FROM {table}").fetchone()[0])


def _rows(db: sqlite3.Connection, table: str, up_to: int = 2**62) -> list[tuple[object, ...]]:
    rows = db.execute(f"SELECT * FROM {table} WHERE rowid <= {up_to:d} ORDER BY rowid")
    return [tuple(row) for row in rows.fetchall()]


@contextmanager
def _read_transaction(db: sqlite3.Connection) -> Iterator[None]:
    db.execute("BEGIN")
    try:
        yield
    finally:
        db.execute("ROLLBACK")
