"""An open visit log file: one connection, one transaction at a time, errors told in words. What the log holds is
read and written by the parts that build on this (`logger.visit.storage.visit_log`)."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from logger.clock import Clock
from logger.errors import StillvoltError
from logger.visit.storage import connection as _connection


class Store:
    """The file behind a visit log. One thread uses it at a time (a lock sees to that); each process opens its own."""

    def __init__(self, path: Path, connection: sqlite3.Connection, clock: Clock) -> None:
        self.path = path
        self._db = connection
        self._clock = clock
        self._lock = threading.RLock()
        self._run_started: dict[int, int] = {}

    def close(self) -> None:
        """Close the file; the log can be opened again."""
        with self._lock:
            self._db.close()

    def data_version(self) -> int:
        """A number that changes when another process has written: the cheap question before the dear ones."""
        return int(self._one("PRAGMA data_version")[0])

    def run_started_utc_ns(self, run_id: int) -> int:
        """When a run began, by the computer's clock; raises KeyError for one that is not there."""
        if run_id not in self._run_started:
            rows = self._all("SELECT started_utc_ns FROM run WHERE id = ?", (run_id,))
            if not rows:
                raise KeyError(run_id)
            self._run_started[run_id] = rows[0]["started_utc_ns"]
        return self._run_started[run_id]

    @contextmanager
    def at_one_moment(self) -> Iterator[None]:
        """What is read inside belongs together, whatever other processes write meanwhile. Nothing is written inside."""
        with self._lock:
            nested = self._db.in_transaction
            if not nested:
                self._db.execute("BEGIN")
            try:
                yield
            finally:
                if not nested:
                    self._db.execute("ROLLBACK")

    @contextmanager
    def _writing(self) -> Iterator[None]:
        """One transaction; what keeps the disk from taking it is told, and nothing of it is written."""
        try:
            with self._lock, _connection.transaction(self._db):
                yield
        except sqlite3.OperationalError as error:
            raise StillvoltError(
                f"The visit log cannot be written ({error}).",
                "Everything written before is kept.",
                "If the disk is full, make room and do it again.",
            ) from error

    @contextmanager
    def _reading(self) -> Iterator[None]:
        """What keeps the log from being read is told in words."""
        try:
            with self._lock:
                yield
        except sqlite3.OperationalError as error:
            raise StillvoltError(
                f"The visit log cannot be read now ({error}).",
                "It was not changed.",
                "Try again in a moment.",
            ) from error

    def _all(self, sql: str, values: Sequence[object] = ()) -> list[sqlite3.Row]:
        with self._reading():
            return self._db.execute(sql, values).fetchall()

    def _one(self, sql: str, values: Sequence[object] = ()) -> sqlite3.Row:
        with self._reading():
            row: sqlite3.Row = self._db.execute(sql, values).fetchone()
            return row


def row_id(cursor: sqlite3.Cursor) -> int:
    """The id of the row that was just inserted."""
    assert cursor.lastrowid is not None
    return cursor.lastrowid
