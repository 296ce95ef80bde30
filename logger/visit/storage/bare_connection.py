"""Opens a bare connection to a visit log, to read it: the file and its folder stay as they are."""

from __future__ import annotations

import errno
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from logger.visit.storage.content_limits import harden
from logger.visit.storage.journal_file import journal_of


@contextmanager
def opened_read_only(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a connection that leaves file and folder as they are.

    A log without a journal is at rest: it is read as one that cannot change, since a plain read-only connection would
    leave journal files beside it. With both journal files a recorder is at work, or was cut off: they are used as they
    are. With only the one that holds data, SQLite would have to make the other: a copy is read instead.

    Raises:
        PermissionError: the file may not be read, which does not mean that it is damaged.
    """
    if not os.access(path, os.R_OK):
        # SQLite calls it 'unable to open database file', as it does a damaged one.
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
    wal, shm = journal_of(path, "wal"), journal_of(path, "shm")
    at_rest = not wal.exists() or wal.stat().st_size == 0
    if at_rest or shm.exists():
        with closing(_connect(path, "mode=ro&immutable=1" if at_rest else "mode=ro")) as db:
            yield db
        return
    with tempfile.TemporaryDirectory(prefix="stillvolt-archive-") as folder:
        for file in (path, wal):
            shutil.copy(file, Path(folder) / file.name)
        with closing(_connect(Path(folder) / path.name, "mode=rw")) as db:
            yield db


@contextmanager
def opened_without_journal(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a connection that reads the file itself, as if there were no journal beside it."""
    with closing(_connect(path, "mode=ro&immutable=1")) as db:
        yield db


def _connect(path: Path, parameters: str) -> sqlite3.Connection:
    db = sqlite3.connect(f"{path.resolve().as_uri()}?{parameters}", uri=True, timeout=1.0)
    db.row_factory = sqlite3.Row
    harden(db)
    return db
