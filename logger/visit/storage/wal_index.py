"""Keeps a program alive whose visit log loses its `-shm` file: the index of the journal, that SQLite maps into memory.

Another program (a tool that copies or cleans) may cut that file. Whoever then reads the memory beyond its new end is
ended by the system at once (SIGBUS), recorder and window alike. The index holds nothing but what SQLite makes anew from
the journal: where its file is found cut, it is made an empty one of its former size before SQLite reads it, and SQLite
makes the index anew as it does after a power cut (SQLite, "WAL-mode File Format", section 2). A cut in the middle of a
transaction, which takes about a millisecond, is not met; `logger.recording.restart` starts such a recorder again.
"""

from __future__ import annotations

import os
import sqlite3
import struct
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

if sys.platform != "win32":
    import fcntl

LOCKS_AT, LOCKS = 120, 8
"""Bytes of the file by which programs lock the index: one for writers, one for checkpoints, one for renewing it, five
for readers (SQLite, "WAL-mode File Format", section 2.3)."""

UNIT_BYTES = 32_768
"""The file grows by so much at a time."""

WAIT_S = 2.0
"""How long others may take to end what they do in the log before its index is emptied."""

POLL_EVERY_S = 0.01

_kept_open: list[int] = []
"""Handles of indexes that were emptied, never closed: closing one would drop every lock that SQLite holds on that file
for this process."""


_read_by: dict[tuple[int, int], int] = {}
"""Handles by which indexes are read, by device and number of the file; never closed, for the same reason."""

_HEADER = struct.Struct("=16x I 12x 8s 8x")
"""The header of the index: how many frames the journal has, and the salts that each beginning of it has anew."""
_PROGRESS = struct.Struct("=I 28x I")
"""How many frames are in the file itself, and how many a checkpoint has tried to write into it."""


@dataclass(frozen=True, slots=True)
class JournalProgress:
    """How much of a journal is in the file itself (SQLite, "WAL-mode File Format", section 2)."""

    salts: bytes
    frames: int
    written: int
    tried: int

    @property
    def is_all_written(self) -> bool:
        """Whether the file alone is the whole log."""
        return self.written == self.frames

    @property
    def place(self) -> tuple[bytes, int, int]:
        """Differs once a checkpoint has begun or ended: it alone changes the file."""
        return self.salts, self.written, self.tried


def journal_progress(visit: Path) -> JournalProgress | None:
    """How much of the journal is in the file itself; None where the index does not say it now."""
    try:
        data = os.pread(_reader_of(_index_of(visit)), 2 * _HEADER.size + _PROGRESS.size, 0)
    except (OSError, AttributeError):  # Windows has no such call; there no open file is overwritten
        return None
    first, second = data[: _HEADER.size], data[_HEADER.size : 2 * _HEADER.size]
    if len(data) < 2 * _HEADER.size + _PROGRESS.size or first != second:
        return None
    frames, salts = _HEADER.unpack(first)
    written, tried = _PROGRESS.unpack_from(data, 2 * _HEADER.size)
    return JournalProgress(salts, frames, written, tried)


def _reader_of(index: Path) -> int:
    found = index.stat()
    if (known := _read_by.get((found.st_dev, found.st_ino))) is None:
        known = os.open(index, os.O_RDONLY | os.O_CLOEXEC)
        _read_by[found.st_dev, found.st_ino] = known
    return known


class WalIndex:
    """The index of the journal of an open visit log.

    Args:
        visit: the visit log.
    """

    def __init__(self, visit: Path) -> None:
        self._path = _index_of(visit)
        self._file: tuple[int, int] | None = None
        self._bytes = 0
        self.renew_if_cut()

    def follow(self, visit: Path) -> None:
        """Take over a new name of the visit log."""
        self._path = _index_of(visit)

    def renew_if_cut(self) -> None:
        """Make it whole again where another program has cut it; one look at the folder as a rule.

        Raises:
            sqlite3.OperationalError: it is cut, and others are at work in it; nothing may be read now.
        """
        try:
            found = self._path.stat()
        except OSError:
            return
        if (found.st_dev, found.st_ino) != self._file:  # the first look, or another file has taken its name
            self._file, self._bytes = (found.st_dev, found.st_ino), found.st_size
        elif found.st_size >= self._bytes:
            self._bytes = found.st_size
        elif sys.platform != "win32":  # Windows lets nobody cut a file that is mapped
            _empty(self._path, self._bytes)


class VisitConnection(sqlite3.Connection):
    """A connection to a visit log that looks at the index of the journal before each use outside a transaction."""

    wal_index: WalIndex | None = None
    """Set once the visit log is open."""

    def execute(self, sql: str, parameters: Sequence[object] = (), /) -> sqlite3.Cursor:  # type: ignore[override]
        """See `sqlite3.Connection`."""
        self._look()
        return super().execute(sql, parameters)

    def cursor(self, *words: Any) -> Any:
        """See `sqlite3.Connection`; whoever takes one uses it at once."""
        self._look()
        return super().cursor(*words)

    def _look(self) -> None:
        if self.wal_index is not None and not self.in_transaction:
            self.wal_index.renew_if_cut()

    def follow(self, visit: Path) -> None:
        """Take over a new name of the visit log."""
        if self.wal_index is not None:
            self.wal_index.follow(visit)

    def close(self) -> None:
        """See `sqlite3.Connection`; the last one to close brings the journal into the file."""
        if self.wal_index is not None:
            self.wal_index.renew_if_cut()
        super().close()


def _index_of(visit: Path) -> Path:
    return visit.with_name(f"{visit.name}-shm")


if sys.platform != "win32":

    def _empty(path: Path, size: int) -> None:
        """Give the file its former size and no content, while nobody is at work in it."""
        handle = os.open(path, os.O_RDWR | os.O_CLOEXEC)
        _kept_open.append(handle)
        until_s = time.monotonic() + WAIT_S
        while not _locked(handle):
            if time.monotonic() > until_s:
                raise sqlite3.OperationalError("another program has cut the index of its journal")
            time.sleep(POLL_EVERY_S)
        try:
            if os.fstat(handle).st_size < size:
                os.ftruncate(handle, 0)
                os.ftruncate(handle, -(-size // UNIT_BYTES) * UNIT_BYTES)
        finally:
            _lock(handle, fcntl.F_UNLCK)

    def _locked(handle: int) -> bool:
        try:
            _lock(handle, fcntl.F_WRLCK)
        except OSError:
            return False
        return True

    def _lock(handle: int, kind: int) -> None:
        """Lock or unlock all of the index at once; raises OSError where somebody else has a part of it."""
        if sys.platform == "linux":
            # A lock of the handle and not of the process: it meets what other connections of this process do, too.
            flock = struct.pack("hhqqi4x", kind, os.SEEK_SET, LOCKS_AT, LOCKS, 0)
            fcntl.fcntl(handle, fcntl.F_OFD_SETLK, flock)
        else:
            command = fcntl.LOCK_UN if kind == fcntl.F_UNLCK else fcntl.LOCK_EX | fcntl.LOCK_NB
            fcntl.lockf(handle, command, LOCKS, LOCKS_AT)
