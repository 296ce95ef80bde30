"""A lock of the operating system on a small file: held by one process, and gone with it, however it ends.

The first byte is what is locked; the rest of the file is a text that the holder may write, and that others read
while it is locked. The file is written in its full size when the lock is taken, so that later texts need no room on the
disk.
"""

from __future__ import annotations

import contextlib
import os
import stat
import sys
from pathlib import Path
from typing import BinaryIO

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

TEXT_AT = 16
"""Where the text begins. Windows lets nobody read a byte that is locked."""

FILE_BYTES = 16_384
"""Size of the file: room for the longest path there is (4096 bytes, each up to three when written as an escape)."""

OWNER_ONLY = 0o600


class FileLock:
    """A lock that this process holds.

    Args:
        path: the file of the lock; made if there is none.
        rights_of: the lock gets the owner and the rights of this file, as its journal does; owner only where there is
            none.

    Raises:
        BlockingIOError: another process holds it.
        OSError: the file cannot be made or opened.
    """

    def __init__(self, path: Path, rights_of: Path | None = None) -> None:
        self.path = path
        while True:
            file = _opened(path)
            try:
                _lock(file)
            except BaseException:
                file.close()
                raise
            if _is_at(file, path):
                break
            file.close()  # its former holder has just removed it
        self._file = file
        self.left_text = _text(file)
        """What a holder left that did not end in order; empty where there was none."""
        if rights_of is not None:
            _copy_rights(file, rights_of)
        self.write("")

    def write(self, text: str) -> bool:
        """Put a text into the file; False where the disk does not take it, or it is too long."""
        data = text.encode().ljust(FILE_BYTES - TEXT_AT, b"\0")
        if len(data) > FILE_BYTES - TEXT_AT:
            return False
        try:
            self._file.seek(TEXT_AT)
            self._file.write(data)
        except OSError:
            return False
        return True

    @property
    def is_in_place(self) -> bool:
        """Whether the file is still at its path; a lock on a removed file keeps nobody out."""
        return _is_at(self._file, self.path)

    def is_moved_to(self, path: Path) -> bool:
        """Whether somebody else has moved the file to another path, as with its folder; from then on it is there."""
        if self.path == path or not _is_at(self._file, path):
            return False
        self.path = path
        return True

    def move(self, path: Path) -> bool:
        """Take the file along to another path, without letting go of the lock.

        Returns:
            False where another process holds a lock there, or the file cannot be moved.
        """
        if is_held(path):
            return False
        try:
            self.path.replace(path)
        except OSError:
            return False
        self.path = path
        return True

    def release(self) -> None:
        """Let go of the lock, and remove its file."""
        if self._file.closed:
            return
        if sys.platform == "win32":  # an open file cannot be removed there
            self._file.close()
            with contextlib.suppress(OSError):
                self.path.unlink()
            return
        with contextlib.suppress(OSError):
            if self.is_in_place:
                self.path.unlink()
        self._file.close()


def is_held(path: Path) -> bool:
    """Whether a process holds the lock now; also True where that cannot be found out for want of rights."""
    return _look(path)[0]


def held_text(path: Path) -> str | None:
    """The text of a lock that is held; None where it is not held, empty where its text cannot be read."""
    held, text = _look(path)
    return text if held else None


def _look(path: Path) -> tuple[bool, str]:
    try:
        file = _file_at(path, os.O_RDONLY if sys.platform != "win32" else os.O_RDWR)
    except FileNotFoundError:
        return False, ""
    except PermissionError:
        return True, ""
    except OSError:
        return False, ""
    with file:
        try:
            _lock(file, shared=True)
        except OSError:
            return True, _text(file)
    return False, ""


def _opened(path: Path) -> BinaryIO:
    return _file_at(path, os.O_RDWR | os.O_CREAT)


def _file_at(path: Path, flags: int) -> BinaryIO:
    for flag in ("O_NOFOLLOW", "O_NONBLOCK", "O_CLOEXEC", "O_BINARY", "O_NOINHERIT"):
        flags |= getattr(os, flag, 0)
    descriptor = os.open(path, flags, OWNER_ONLY)
    if not stat.S_ISREG(os.fstat(descriptor).st_mode):
        os.close(descriptor)
        raise PermissionError(f"{path} is no plain file")
    return os.fdopen(descriptor, "r+b" if flags & os.O_RDWR else "rb", buffering=0)


def _lock(file: BinaryIO, *, shared: bool = False) -> None:
    """Lock without waiting; raises BlockingIOError where another process holds it."""
    if sys.platform == "win32":
        file.seek(0)
        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError as error:
            raise BlockingIOError(str(error)) from error
    else:
        fcntl.flock(file, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)


def _is_at(file: BinaryIO, path: Path) -> bool:
    held = os.fstat(file.fileno())
    try:
        there = path.stat(follow_symlinks=False)
    except OSError:
        return False
    return (held.st_dev, held.st_ino) == (there.st_dev, there.st_ino)


def _text(file: BinaryIO) -> str:
    try:
        file.seek(TEXT_AT)
        return file.read(FILE_BYTES).rstrip(b"\0").decode(errors="replace")
    except OSError:
        return ""


def _copy_rights(file: BinaryIO, of: Path) -> None:
    """Whoever may write the visit may see who records into it, and record when nobody else does."""
    with contextlib.suppress(OSError):
        rights = of.stat()
        if sys.platform != "win32":
            os.fchmod(file.fileno(), rights.st_mode & 0o666)
            os.fchown(file.fileno(), rights.st_uid, rights.st_gid)
