"""Finds out whether a visit log is open in another process under another name: a hard link, or a mount of the file.

SQLite finds a log's journal by the log's name. Two names of one open file have two journals, each of which overwrites
what the other has written (SQLite, "How To Corrupt An SQLite Database File", 2.5).
"""

from __future__ import annotations

import os
import struct
import sys
from pathlib import Path

_SHARED_FIRST = 0x40000002
_SHARED_SIZE = 510
"""Bytes on which SQLite holds a lock as long as a file is open (SQLite, "File Locking And Concurrency", 3.0)."""


def is_open_under_another_name(descriptor: int, path: Path) -> bool:
    """Whether another process has the file open, and its journal is not beside this name.

    Args:
        descriptor: of the file, open for reading.
        path: the name by which it is to be opened.
    """
    index = Path(f"{os.path.realpath(path)}-shm")
    # The index is looked for last: a program that is just opening the file locks it first.
    return _is_locked_by_another(descriptor) and not index.exists()


if sys.platform == "win32":

    def _is_locked_by_another(descriptor: int) -> bool:
        """Windows lets no open file be renamed, and a journal be shared by its hard links only on purpose."""
        return False

else:
    import fcntl

    def _is_locked_by_another(descriptor: int) -> bool:
        """Ask the system who would be in the way of a lock on SQLite's bytes; nothing is locked."""
        shown = (_SHARED_FIRST, _SHARED_SIZE)
        if sys.platform == "darwin":
            layout, at = "@qqihh", 3
            asked = struct.pack(layout, *shown, 0, fcntl.F_WRLCK, os.SEEK_SET)
        else:
            layout, at = "@hhqqi", 0
            asked = struct.pack(layout, fcntl.F_WRLCK, os.SEEK_SET, *shown, 0)
        try:
            answer = fcntl.fcntl(descriptor, fcntl.F_GETLK, asked)
        except OSError:
            return False
        return bool(struct.unpack(layout, answer)[at] != fcntl.F_UNLCK)
