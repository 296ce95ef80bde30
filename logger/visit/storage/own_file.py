"""What a window knows of its visit log: a copy of all that it holds, and whether the file still is that log.

The recorder does the same for its run (`run_writer`), with the same parts: `ContentsWatch`, `LogCopy`.
"""

from __future__ import annotations

import sqlite3
from contextlib import suppress
from pathlib import Path

from logger.clock import Clock
from logger.errors import StillvoltError
from logger.translation import tr
from logger.visit.records.fact_names import CONTINUED_FROM
from logger.visit.storage.contents_watch import (
    MALFORMED_CODES,
    PRIMARY_CODE,
    ContentsWatch,
    UndecidedError,
)
from logger.visit.storage.entry_checksum import insert_fact
from logger.visit.storage.log_copy import RECORDED_TABLES, LogCopy
from logger.visit.storage.wal_index import JournalProgress, journal_progress


class OwnFile:
    """Watches a visit log that a window has open, and keeps a copy of what is in it.

    Args:
        path: the log.
        db: the window's connection to it.
        clock: injected time.
    """

    def __init__(self, path: Path, db: sqlite3.Connection, clock: Clock) -> None:
        self._path, self._db, self._clock = path, db, clock
        # The file itself is written at checkpoints of which is known: any other change of it is another program's.
        db.execute("PRAGMA wal_autocheckpoint = 0")
        self._contents = ContentsWatch(path)
        self._copy = LogCopy(db)
        self._seen = self._changes()
        self._written: tuple[int, int] | None = None
        """As `_changes`, when all was in the file itself."""
        self._wrote_journal = False
        self._whole_at: tuple[bytes, int, int] | None = None
        """How much of the journal was in the file when all of it was."""
        self.kept: Path | None = None
        """The new visit log, once everything was written into one."""
        self.write_journal()

    def follow(self, path: Path) -> None:
        """Take over a new name of the file."""
        self._path = path
        self._contents.follow(path)

    def is_overwritten(self) -> bool:
        """Whether another program has written into the file past SQLite; a look at its folder as a rule."""
        return self._contents.is_overwritten(self._differs)

    def note_malformed(self) -> None:
        """Take the file for overwritten: SQLite has found other pages in it than were written."""
        self._contents.note_malformed()

    def refresh(self) -> None:
        """Take what was written since into the copy, unless the file is overwritten."""
        if self.is_overwritten():
            return
        with suppress(sqlite3.Error):
            if (changes := self._changes()) != self._seen:
                self._copy.refresh(self._db, self.is_overwritten, RECORDED_TABLES)
                self._seen = changes

    def write_journal(self) -> None:
        """Write what was entered into the file itself, so that a copy of the file alone has it; never waits."""
        self.refresh()
        if self.is_overwritten() or self._written == self._changes():
            return
        with suppress(sqlite3.OperationalError):  # a full disk: it stays in the journal
            busy, frames, written = self._db.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()
            if not busy and frames == written and self._changes() == self._seen:
                self._copy.note_all_in_file()
                self._written = self._seen
        self._wrote_journal = True
        self.is_overwritten()
        self._wrote_journal = False

    def is_all_in(self, path: Path) -> bool:
        """Whether a file has everything that windows had entered into this one."""
        return self._copy.is_all_in(path)

    def bring_over(self, path: Path) -> bool:
        """Enter into another log what it lacks of what windows had entered into this one; False where it cannot be."""
        return self._copy.bring_over(path)

    def write_beside(self) -> Path:
        """Write everything into a new visit log beside the overwritten one, and leave that as it is.

        Raises:
            OSError: the folder cannot be written.
            sqlite3.Error: the disk is full.
            StillvoltError: there was no room for a copy.
        """
        if self.kept is None:
            if not self._copy.is_complete:
                raise StillvoltError(
                    tr("{path} was overwritten by another program.").format(path=self._path),
                    tr("There was no room in the temporary folder to keep what it held."),
                    tr("Leave the files as they are and look for a copy of the visit."),
                )
            self.kept = self._copy.write_beside(self._path, self._name_origin)
        return self.kept

    def leave(self) -> None:
        """Empty the journal of an overwritten log, which SQLite would bring into the new content."""
        self._contents.empty_journal()

    def close(self) -> None:
        """Let copy and journal go, after the connection was closed."""
        self._contents.close()
        self._copy.close()

    def _name_origin(self, db: sqlite3.Connection) -> None:
        insert_fact(db, self._clock.utc_ns(), CONTINUED_FROM, self._path.name)

    def _differs(self, path: Path) -> bool:
        before = journal_progress(path)
        if before is not None and not self._is_whole(before):
            raise UndecidedError
        others_wrote = self._changes()[0] != self._seen[0]
        # After an own checkpoint the file is other than before by that.
        explained = others_wrote or self._wrote_journal
        try:
            try:
                differs = self._copy.differs_from_file(
                    path, self._db, may_have_more=others_wrote, look_at_pages=not explained
                )
            except sqlite3.DatabaseError as error:
                if getattr(error, "sqlite_errorcode", 0) & PRIMARY_CODE not in MALFORMED_CODES:
                    raise
                differs = True
            if differs and self._copy.is_in_file_with_journal(path):
                # The journal holds what is missing: the recorder goes on here, and its next checkpoint mends the file.
                with suppress(sqlite3.OperationalError):
                    self._db.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()
                raise UndecidedError
            return differs
        finally:
            after = journal_progress(path)
            if before is not None and (after is None or after.place != before.place):
                raise UndecidedError

    def _is_whole(self, progress: JournalProgress) -> bool:
        """Whether the file without its journal is a log: no checkpoint is under way, and none was left half done."""
        if progress.is_all_written:
            self._whole_at = progress.place
        # A journal begins anew only once all of the old one is in the file.
        begins = progress.written == progress.tried == 0
        return progress.is_all_written or begins or progress.place == self._whole_at

    def _changes(self) -> tuple[int, int]:
        """Differs once others, or this connection, have written."""
        return int(self._db.execute("PRAGMA data_version").fetchone()[0]), self._db.total_changes
