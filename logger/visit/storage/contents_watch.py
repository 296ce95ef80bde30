"""Notices that another program has written into a visit log past SQLite: overwritten, cut, single pages zeroed.

While recorder and windows have a log open, SQLite writes into the file itself only at a checkpoint. Size and times of
the file are compared each time (`ContentsWatch.is_overwritten`), which costs a look at its folder; only where they
differ from those after the recorder's own last checkpoint, the file is read.
"""

from __future__ import annotations

import os
import sqlite3
import sys
from contextlib import closing, suppress
from pathlib import Path

from logger.errors import StillvoltError
from logger.visit.storage.content_limits import harden, limited_in_time

_BUSY_CODES = frozenset((sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_CANTOPEN))
"""Errors that tell nothing of the file's content."""

_PRIMARY_CODE = 0xFF
"""The part of an extended error code of SQLite that names its kind (SQLite, "Result and Error Codes")."""

_State = tuple[int, ...]


class ContentsWatch:
    """Compares a visit log with what its recorder knows of it.

    Args:
        path: the log.
        run_id: of the run that is being written.
        started_utc_ns: when that run began.
    """

    def __init__(self, path: Path, run_id: int, started_utc_ns: int) -> None:
        self._path = path
        self._run = (run_id, started_utc_ns)
        self._known = _state(path)
        self._file = self._known[:2]
        self._journal_bytes = 0
        self._overwritten = False
        # Held open, as another program may remove it. Windows lets no open file be overwritten, and none removed.
        self._journal = None if sys.platform == "win32" else os.open(_journal(path), os.O_RDWR)

    def follow(self, path: Path) -> None:
        """Take over a new name of the file."""
        self._path = path

    def close(self) -> None:
        """Let the journal go."""
        if self._journal is not None:
            os.close(self._journal)
            self._journal = None

    def empty_journal(self) -> None:
        """Empty the journal of an overwritten log, while it is still open.

        SQLite would bring an old journal into the new content when the last program closes the file. From an empty one
        it takes nothing.
        """
        if self._journal is not None:
            with suppress(OSError):
                os.truncate(self._journal, 0)

    def note_own_checkpoint(self) -> None:
        """Take what the file is now as its known state."""
        self._known = _state(self._path)

    def note_malformed(self) -> None:
        """Take the file for overwritten: SQLite has found other pages in it than were written."""
        self._overwritten = True

    def is_overwritten(self, lines: tuple[int, int] | None) -> bool:
        """Whether the log has no longer what was written into it; once it has not, it never has again.

        Args:
            lines: ids of the first and the last line of the run that were written; None before the first one.
        """
        if self._overwritten:
            return True
        state, journal_bytes = _state(self._path), _size(_journal(self._path))
        if state[:2] != self._file:  # renamed, deleted or replaced: the held file is as it was
            return False
        # A checkpoint of another program may cut the journal, which is found to be in order then.
        if state != self._known or journal_bytes < self._journal_bytes:
            self._overwritten = self._lacks_something(lines)
            self._known = state
        self._journal_bytes = journal_bytes
        return self._overwritten

    def _lacks_something(self, lines: tuple[int, int] | None) -> bool:
        """Read the log as any other program would; nothing is known of one that is held by another."""
        try:
            with closing(sqlite3.connect(f"{self._path.resolve().as_uri()}?mode=ro", uri=True)) as db:
                harden(db)
                with limited_in_time(db, self._path.name):
                    run = db.execute(
                        "SELECT id, started_utc_ns FROM run WHERE id = ?", self._run[:1]
                    ).fetchone()
                    if run != self._run:
                        return True
                    if lines is not None:
                        count = "SELECT count(*) FROM line WHERE run_id = ? AND id BETWEEN ? AND ?"
                        (found,) = db.execute(count, (self._run[0], *lines)).fetchone()
                        if found != lines[1] - lines[0] + 1:
                            return True
                    return bool(db.execute("PRAGMA quick_check(1)").fetchone()[0] != "ok")
        except sqlite3.DatabaseError as error:
            return getattr(error, "sqlite_errorcode", 0) & _PRIMARY_CODE not in _BUSY_CODES
        except (OSError, StillvoltError):
            return False


def _state(path: Path) -> _State:
    """Size and times of a file; empty where there is none."""
    try:
        found = path.stat()
    except OSError:
        return ()
    return found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns, found.st_ctime_ns


def _journal(path: Path) -> Path:
    return path.with_name(f"{path.name}-wal")


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0
