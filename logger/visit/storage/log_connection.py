"""The open file of a visit log, shared by its stores: one connection, one transaction at a time, errors in words."""

from __future__ import annotations

import os
import sqlite3
import threading
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from pathlib import Path

from logger.clock import Clock
from logger.errors import StillvoltError
from logger.translation import tr
from logger.visit.records.fact_names import CONTINUED_FROM, CONTINUED_IN
from logger.visit.storage import connection as _connection
from logger.visit.storage.content_limits import harden
from logger.visit.storage.contents_watch import MALFORMED_CODES
from logger.visit.storage.damage import damage_of, damaged
from logger.visit.storage.entry_checksum import keeping_checksums
from logger.visit.storage.file_name import free_kept_name
from logger.visit.storage.held_file import HeldFile, copy_beside
from logger.visit.storage.own_file import OwnFile
from logger.visit.storage.wal_index import VisitConnection


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
        self._own: OwnFile | None = None
        self._next_kept = free_kept_name(path)
        self._overwritten_goes_on: Path | None = None
        self._lock = threading.RLock()

    def keep_copy(self) -> None:
        """Keep a copy of what the log holds, and watch that the file stays this log: for a window."""
        with self._lock:
            self._own = OwnFile(self.path, self.db, self.clock)

    def close(self) -> None:
        """Close the file; the log can be opened again. What is left of an overwritten one is kept beside it."""
        with self._lock:
            overwritten = self.is_overwritten()
            if self._own is not None and overwritten:
                elsewhere = self.continued_in()
                if elsewhere is None or not self.has_all_entries(elsewhere):
                    with suppress(StillvoltError):
                        self.copy_beside()
                self._own.leave()
            self.db.close()
            if overwritten:
                self.file.remove_journal()
            self._leave_no_journal()
            if self._own is not None:
                self._own.close()

    def is_overwritten(self) -> bool:
        """Whether another program has overwritten, cut or damaged the file in its place; False without a copy."""
        with self._lock:
            return self._own is not None and self._own.is_overwritten()

    def follow_file(self) -> bool:
        """Take over a new name of the file; False where it is gone, overwritten, or was opened elsewhere meanwhile."""
        if self.is_overwritten() or self.overwritten_goes_on() is not None:
            return False
        if self.file.is_in_place():
            return True
        place = self.file.place()
        if place.path is None or not self.file.follow(place.path):
            return False
        self.path = place.path
        if isinstance(self.db, VisitConnection):
            self.db.follow(place.path)
        if self._own is not None:
            self._own.follow(place.path)
        self._next_kept = free_kept_name(place.path)
        return True

    def overwritten_goes_on(self) -> Path | None:
        """Where another program goes on, as this file was overwritten in its place; None if it was not.

        Nothing can be left in such a file for those who have it open: the new one beside it names it.
        """
        if (
            self._overwritten_goes_on is None
            and os.path.lexists(self._next_kept)
            and self.file.is_in_place()
            and _continues(self._next_kept, self.path.name)
        ):
            self._overwritten_goes_on = self._next_kept
        return self._overwritten_goes_on

    def continued_in(self) -> Path | None:
        """Where another program goes on, as this file is gone or overwritten; None where none has gone on elsewhere."""
        if (path := self.overwritten_goes_on()) is not None or self.is_overwritten():
            return path
        newest = "SELECT value FROM fact WHERE name = ? ORDER BY id DESC LIMIT 1"
        rows = self.all(newest, (CONTINUED_IN,))
        return Path(rows[0][0]) if rows and rows[0][0] else None

    def has_all_entries(self, path: Path) -> bool:
        """Whether another log has everything that was entered into this one; True without a copy to compare."""
        with self._lock:
            return self._own is None or self._own.is_all_in(path)

    def bring_over(self, path: Path) -> bool:
        """Enter into the log in which the visit goes on what it lacks of the entries of this one.

        Returns:
            False where it cannot take them: it stays as it is then.
        """
        with self._lock:
            return self._own is None or self._own.is_all_in(path) or self._own.bring_over(path)

    def have_it_looked_at(self) -> None:
        """Let every program that has the file open look whether it is overwritten: they do where its time is new."""
        with suppress(OSError):
            os.utime(self.path)

    def copy_beside(self) -> Path:
        """Write everything that is held of a file that is gone, or overwritten, into a new one beside its place.

        Raises:
            StillvoltError: the folder cannot be written, or the disk is full.
        """
        try:
            with self._lock:
                if self._own is not None and self._own.is_overwritten():
                    return self._own.write_beside()
                copy = copy_beside(self.db, self.path)
                self._leave_no_journal()
                return copy
        except (OSError, sqlite3.Error) as error:
            raise StillvoltError(
                tr(
                    "{path} was deleted, replaced or overwritten by another program, and no new file could "
                    "be made beside it ({reason})."
                ).format(path=self.path, reason=error),
                tr("Everything is kept as long as this window is open."),
                tr("Make room on the disk, or make the folder writable."),
            ) from error

    def keep_up(self, *, with_journal: bool) -> None:
        """Keep the copy up to date.

        Args:
            with_journal: write what was entered into the file itself, so that a copy of the file alone has it.
        """
        with self._lock:
            if self._own is not None and not self.db.in_transaction:
                if with_journal:
                    self._own.write_journal()
                else:
                    self._own.refresh()

    def _leave_no_journal(self) -> None:
        """Remove what a file that is gone has left of its journal: a file that took its name would be read with it."""
        if not self.file.is_in_place() and self.file.place().path is None:
            with suppress(OSError):  # a system that keeps open files from being removed
                self.file.remove_journal()

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
            StillvoltError: the disk is full, the file is locked or damaged, or it is gone from its place; nothing of
                the transaction was written, or it was while the file was taken away.
        """
        if (path := self.overwritten_goes_on()) is not None:
            raise StillvoltError(
                tr("Another program has overwritten {path}.").format(path=self.path),
                tr("Nothing was written."),
                tr("Everything goes on in {path}.").format(path=path),
            )
        self._refuse_if_gone(tr("Nothing was written."), tr("Enter it again there."))
        try:
            with self._lock, _connection.transaction(self.db), keeping_checksums(self.db):
                yield
            self.keep_up(with_journal=False)
        except sqlite3.OperationalError as error:
            raise self._not_written(error) from error
        except sqlite3.DatabaseError as error:
            if self._note_malformed(error):
                raise self._not_its_own(tr("Nothing was written."), tr("Enter it again there.")) from error
            if found := damage_of(error):
                raise damaged(self.path, found) from error
            raise
        # A copy that was made in this moment may lack it.
        self._refuse_if_gone(
            tr("What was just entered may be missing there."),
            tr("See whether it is there, else enter it again."),
        )

    def _refuse_if_gone(self, kept: str, what_now: str) -> None:
        """Refuse to write into a file that nobody can open again: the recorder may have copied it already.

        Args:
            kept: what became of the entry.
            what_now: what to do.

        Raises:
            StillvoltError: the file was deleted or replaced.
        """
        if not self.follow_file():
            raise self._not_its_own(kept, what_now)

    def _not_its_own(self, kept: str, what_now: str) -> StillvoltError:
        overwritten = tr(
            "{path} was overwritten by another program. A new file beside it takes over as soon as it is made."
        )
        gone = tr(
            "{path} was deleted or replaced by another program. A new file beside it takes over as soon as it is made."
        )
        return StillvoltError(
            (overwritten if self.is_overwritten() else gone).format(path=self.path),
            kept,
            what_now,
        )

    def _note_malformed(self, error: sqlite3.DatabaseError) -> bool:
        """Whether the pages of a watched file are not those that were written: it is another program's work then."""
        is_malformed = getattr(error, "sqlite_errorcode", 0) & 0xFF in MALFORMED_CODES
        if self._own is None or not is_malformed:
            return False
        self._own.note_malformed()
        return True

    def _not_written(self, error: sqlite3.OperationalError) -> StillvoltError:
        if getattr(error, "sqlite_errorcode", None) == sqlite3.SQLITE_FULL:
            return StillvoltError(
                tr(
                    "The disk of {name} is full: what was just entered could not be written, and is not in "
                    "the visit log."
                ).format(name=self.path.name),
                tr("Everything entered before is kept."),
                tr("Make room on the disk, then enter it again."),
            )
        return StillvoltError(
            tr("What was just entered could not be written into the visit log {name} ({reason}).").format(
                name=self.path.name, reason=error
            ),
            tr("Everything entered before is kept."),
            tr(
                "Enter it again; if that fails too, see whether the disk is full or another program holds "
                "the file."
            ),
        )

    @contextmanager
    def reading(self) -> Iterator[None]:
        """Hold the lock while reading.

        Raises:
            StillvoltError: the file cannot be read now, or is damaged.
        """
        try:
            with self._lock:
                yield
        except sqlite3.DatabaseError as error:
            if self._note_malformed(error):
                raise self._not_its_own(tr("Nothing is written into it."), "") from error
            if found := damage_of(error):
                raise damaged(self.path, found) from error
            raise StillvoltError(
                tr("The visit log cannot be read now ({reason}).").format(reason=error),
                tr("It was not changed."),
                tr("Try again in a moment."),
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


def _continues(path: Path, name: str) -> bool:
    """Whether a visit log says of itself that it took over from one of that name."""
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as db:
            harden(db)
            newest = "SELECT value FROM fact WHERE name = ? ORDER BY id DESC LIMIT 1"
            return bool(db.execute(newest, (CONTINUED_FROM,)).fetchone() == (name,))
    except (sqlite3.Error, OSError):
        return False
