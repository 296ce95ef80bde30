"""Notices that another program has written into a visit log past SQLite: overwritten, cut, single pages zeroed.

While recorder and windows have a log open, SQLite writes into the file itself only at a checkpoint. Size and times of
the file are compared each time (`ContentsWatch.is_overwritten`), which costs a look at its folder; only where they
differ from those known, the file is read: by the recorder for its run (`lacks_run`), by a window for what it has a copy
of (`log_copy`).
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import sys
import time
from collections.abc import Callable
from contextlib import closing, suppress
from pathlib import Path

from logger.errors import StillvoltError
from logger.visit.storage.content_limits import harden, limited_in_time

_BUSY_CODES = frozenset((sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_CANTOPEN))
"""Errors that tell nothing of the file's content."""

MALFORMED_CODES = frozenset((sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB))
"""Errors of SQLite that mean that pages are not those which were written."""

PRIMARY_CODE = 0xFF
"""The part of an extended error code of SQLite that names its kind (SQLite, "Result and Error Codes")."""

LOOKS, LOOK_AGAIN_S = 4, 0.02
"""How often a file is read before it is taken for overwritten: another program's checkpoint takes milliseconds, and
shows a file that is half the old and half the new one."""

_State = tuple[int, ...]


class UndecidedError(Exception):
    """A checkpoint is under way, or met a reader: the file alone is half the old and half the new one."""


class ContentsWatch:
    """Compares a visit log with what the program that has it open knows of it.

    Args:
        path: the log.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
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

    def is_disk_short(self) -> bool:
        """Whether the disk has less room left than the journal takes."""
        try:
            return shutil.disk_usage(self._path.parent).free < _size(_journal(self._path))
        except OSError:
            return False

    def note_own_checkpoint(self) -> None:
        """Take what the file is now as its known state."""
        self._known = _state(self._path)

    def note_malformed(self) -> None:
        """Take the file for overwritten: SQLite has found other pages in it than were written."""
        self._overwritten = True

    def is_overwritten(self, differs: Callable[[Path], bool]) -> bool:
        """Whether the log has no longer what was written into it; once it has not, it never has again.

        Args:
            differs: reads the file where it has changed, and tells whether it is another one.
        """
        if self._overwritten:
            return True
        state, journal_bytes = _state(self._path), _size(_journal(self._path))
        if state[:2] != self._file:  # renamed, deleted or replaced: the held file is as it was
            return False
        # A checkpoint of another program may cut the journal, which is found to be in order then.
        if state != self._known or journal_bytes < self._journal_bytes:
            found = self._differs(differs)
            if found is None:
                return False  # it is looked at again the next time
            self._overwritten, self._known = found, state
        self._journal_bytes = journal_bytes
        return self._overwritten

    def _differs(self, differs: Callable[[Path], bool]) -> bool | None:
        """Read the log; nothing is known of one that is held by another, and None of one that cannot be judged now."""
        for look in range(LOOKS):
            if look:
                time.sleep(LOOK_AGAIN_S)
            try:
                if not differs(self._path):
                    return False
            except sqlite3.DatabaseError as error:
                if getattr(error, "sqlite_errorcode", 0) & PRIMARY_CODE in _BUSY_CODES:
                    return False
            except UndecidedError:
                return None
            except (OSError, StillvoltError):
                return False
        return True


def lacks_run(path: Path, run: tuple[int, int], lines: tuple[int, int] | None) -> bool:
    """Whether a log, read as any other program would, lacks something of a run, or is damaged.

    Args:
        path: the log.
        run: its id, and when it began, UTC ns.
        lines: ids of the first and the last line of the run that were written; None before the first one.

    Raises:
        sqlite3.DatabaseError: it cannot be read.
        StillvoltError: looking took too long.
    """
    with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as db:
        harden(db)
        with limited_in_time(db, path.name):
            if db.execute("SELECT id, started_utc_ns FROM run WHERE id = ?", run[:1]).fetchone() != run:
                return True
            if lines is not None:
                count = "SELECT count(*) FROM line WHERE run_id = ? AND id BETWEEN ? AND ?"
                (found,) = db.execute(count, (run[0], *lines)).fetchone()
                if found != lines[1] - lines[0] + 1:
                    return True
            return bool(db.execute("PRAGMA quick_check(1)").fetchone()[0] != "ok")


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
