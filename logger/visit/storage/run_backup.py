"""What a visit log holds while it is recorded, in files without a name: so that it can be written again.

Another program may overwrite or cut a log in place (a restored backup, a folder that is synchronised). What the run
has written is in a spool, line by line; what the log held before the run, and what windows enter, in a copy. Nothing is
ever taken from the overwritten file: what is in it may be another home's.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from logger.visit.storage import connection as _connection
from logger.visit.storage.held_file import free_name_beside
from logger.visit.storage.run_spool import Item, RunSpool

_ENTERED_TABLES = (
    "fact", "run_end", "spot", "source", "reading", "reading_void", "reading_correction", "mark", "mark_void",
    "check_result", "step_name", "request", "entry_checksum", "entry_chain",
)  # fmt: skip
"""Tables into which windows write during a run; lines, events and notices of a run come from its recorder only."""

_CACHE_KB = 256
"""Pages of the copy that are kept in memory; the others are in the temporary folder."""

NOT_KEPT_BEFORE = (
    "Earlier recordings, spots and readings are not in it: the temporary folder had no room for them."
)
NOT_KEPT_LINES = "The run lacks its last lines before that: the temporary folder had no room for them."


class RunBackup(RunSpool[Item]):
    """Everything that a visit log holds, as its recorder knows it.

    Args:
        db: connection to the log, with the run and none of its lines.
    """

    def __init__(self, db: sqlite3.Connection) -> None:
        super().__init__()
        self._copy: sqlite3.Connection | None = None
        try:
            # SQLite removes the name of such a file at once, and the file when it is closed.
            self._copy = sqlite3.connect("", isolation_level=None)
            self._copy.execute(f"PRAGMA cache_size = -{_CACHE_KB:d}")
            db.backup(self._copy)
        except sqlite3.Error:
            self._give_up_copy()

    def refresh(self, db: sqlite3.Connection) -> None:
        """Take over what others have entered; after an error the copy stays as it was.

        Args:
            db: connection to the log, which nobody has overwritten.
        """
        if self._copy is None:
            return
        try:
            # Entries and their checksums of one moment.
            with _read_transaction(db), _connection.transaction(self._copy):
                for table in _ENTERED_TABLES:
                    entries = [tuple(row) for row in db.execute(f"SELECT * FROM {table}")]
                    if entries:
                        places = ",".join("?" * len(entries[0]))
                        self._copy.executemany(f"INSERT OR REPLACE INTO {table} VALUES ({places})", entries)
        except sqlite3.Error as error:
            if getattr(error, "sqlite_errorcode", None) == sqlite3.SQLITE_FULL:
                self._give_up_copy()

    def write_beside(
        self,
        path: Path,
        begin: Callable[[sqlite3.Connection], None],
        insert: Callable[[sqlite3.Connection, Item], None],
    ) -> tuple[Path, str]:
        """Write everything into a new visit log.

        Args:
            path: of the overwritten log; the new one gets a name like it in the same folder.
            begin: inserts the run into a log without it.
            insert: inserts a batch of the run.

        Returns:
            The new log, readable for its owner only, and a sentence on what could not be kept (empty if nothing).

        Raises:
            OSError: the folder cannot be written.
            sqlite3.Error: the disk is full.
        """
        new = free_name_beside(path)
        os.close(os.open(new, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
        try:
            if self._copy is None:
                _connection.write_schema(new)
            with closing(sqlite3.connect(new, isolation_level=None)) as db:
                if self._copy is not None:
                    self._copy.backup(db)
                with _connection.transaction(db):
                    if self._copy is None:
                        begin(db)
                    for batch in self.all():
                        insert(db, batch)
        except BaseException:
            new.unlink(missing_ok=True)
            raise
        lost = [NOT_KEPT_BEFORE] if self._copy is None else []
        return new, " ".join([*lost, *([] if self.complete else [NOT_KEPT_LINES])])

    def close(self) -> None:
        """Let the files go."""
        super().close()
        self._give_up_copy()

    def _give_up_copy(self) -> None:
        if self._copy is not None:
            self._copy.close()
            self._copy = None


@contextmanager
def _read_transaction(db: sqlite3.Connection) -> Iterator[None]:
    db.execute("BEGIN")
    try:
        yield
    finally:
        db.execute("ROLLBACK")
