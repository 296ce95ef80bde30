"""The open file of a visit log, shared by its stores: one connection, one transaction at a time, errors in words."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from logger.clock import Clock
from logger.errors import StillvoltError
from logger.visit.storage import connection as _connection
from logger.visit.storage.held_file import HeldFile, copy_beside


class LogConnection:
    """The file behind a visit log. A lock lets one thread use it at a time; each process opens its own.

    Args:
        path: the visit log.
        db: the open SQLite connection to it.
        clock: injected time; entries carry its time.
    """

    def __init__(self, path: Path, db: sqlite3.Connection, clock: Clock) -> None:
        self.path = path
        self.db = db
        self.file = HeldFile(Path(str(db.execute("PRAGMA database_list").fetchone()[2])))
        self.clock = clock
        self._lock = threading.RLock()

    def close(self) -> None:
        """Close the file; the log can be opened again."""
        with self._lock:
            self.db.close()

    def follow_file(self) -> bool:
        """Take over a new name of the file; False where it is gone, or was opened elsewhere meanwhile."""
        if self.file.is_in_place():
            return True
        place = self.file.place()
        if place.path is None or not self.file.follow(place.path):
            return False
        self.path = place.path
        return True

    def copy_beside(self) -> Path:
        """Copy everything that is held of a file that is gone into a new one beside its place.

        Raises:
            StillvoltError: the folder cannot be written, or the disk is full.
        """
        try:
            with self._lock:
                return copy_beside(self.db, self.path)
        except (OSError, sqlite3.Error) as error:
            raise StillvoltError(
                f"{self.path} was deleted or replaced, and no new file could be made beside it ({error}).",
                "Everything is kept as long as this window is open.",
                "Make room on the disk, or make the folder writable.",
            ) from error

    @contextmanager
    def read_transaction(self) -> Iterator[None]:
        """Everything that is read inside is of one moment, whatever other processes write meanwhile.

        Nothing may be written inside.
        """
        with self._lock:
            nested = self.db.in_transaction
            if not nested:
                self.db.execute("BEGIN")
            try:
                yield
            finally:
                if not nested:
                    self.db.execute("ROLLBACK")

    @contextmanager
    def writing(self) -> Iterator[None]:
        """One write transaction, all or nothing.

        Raises:
            StillvoltError: the disk is full or the file is locked; nothing of the transaction was written.
        """
        try:
            with self._lock, _connection.transaction(self.db):
                yield
        except sqlite3.OperationalError as error:
            raise StillvoltError(
                f"The visit log cannot be written ({error}).",
                "Everything written before is kept.",
                "If the disk is full, make room and do it again.",
            ) from error

    @contextmanager
    def reading(self) -> Iterator[None]:
        """Hold the lock while reading.

        Raises:
            StillvoltError: the file cannot be read now.
        """
        try:
            with self._lock:
                yield
        except sqlite3.DatabaseError as error:
            raise StillvoltError(
                f"The visit log cannot be read now ({error}).",
                "It was not changed.",
                "Try again in a moment.",
            ) from error

    def all(self, sql: str, values: Sequence[object] = ()) -> list[sqlite3.Row]:
        """All rows of a query."""
        with self.reading():
            return self.db.execute(sql, values).fetchall()

    def one(self, sql: str, values: Sequence[object] = ()) -> sqlite3.Row:
        """The first row of a query that always has one."""
        with self.reading():
            row: sqlite3.Row = self.db.execute(sql, values).fetchone()
            return row

    def execute(self, sql: str, values: Sequence[object] = ()) -> None:
        """Run a statement within `writing`."""
        self.db.execute(sql, values)

    def insert(self, sql: str, values: Sequence[object]) -> int:
        """Insert a row within `writing`; returns its id."""
        row_id = self.db.execute(sql, values).lastrowid
        assert row_id is not None
        return row_id
