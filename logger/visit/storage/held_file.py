"""Where the file of an open visit log is now: at its path, renamed or moved, or gone from there.

An open connection holds a file, not a name. Somebody may rename, move, delete or replace it meanwhile; SQLite goes on
in the held file and its journal, but nobody who opens the new name would find the journal beside it.
"""

from __future__ import annotations

import os
import sqlite3
import sys
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from logger.visit.storage.file_name import free_kept_name

JOURNALS = ("-wal", "-shm")
"""What SQLite appends to a log's name for its journal and the index of it."""

_OPEN_FILES = Path("/proc/self/fd")
"""Where Linux lists the files that a process holds, each as a link to its present name."""

_Identity = tuple[int, int]


@dataclass(frozen=True, slots=True)
class FilePlace:
    """Where a held file is.

    Args:
        path: its present path; None where it has none that can be found: it was deleted, or moved out of sight.
        replaced: another file is at the path where it was.
    """

    path: Path | None
    replaced: bool


class HeldFile:
    """The file that a connection holds.

    Args:
        path: where it is now.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._identity = _identity(path)
        self._journals: dict[str, _Identity | None] = dict.fromkeys(JOURNALS)
        self._note_journals()

    def is_in_place(self) -> bool:
        """Whether the path still is the held file; one look, cheap enough for each second."""
        if _identity(self.path) != self._identity:
            return False
        if None in self._journals.values():
            self._note_journals()
        return True

    def place(self) -> FilePlace:
        """Where the held file is now."""
        there = _identity(self.path)
        if there == self._identity:
            return FilePlace(self.path, replaced=False)
        return FilePlace(self._name_by_system() or self._name_in_folder(), replaced=there is not None)

    def follow(self, path: Path) -> bool:
        """Take the journal along to a new path of the file, so that whoever opens it there finds everything.

        Args:
            path: the present path, as `place` gave it.

        Returns:
            False where another journal is there already: somebody has opened the file under its new name before, and
            two journals of one file would destroy it.
        """
        moves = [(_journal(self.path, suffix), _journal(path, suffix)) for suffix in JOURNALS]
        if any(_identity(new) not in (None, held) for (_, new), held in self._journals_of(moves)):
            return False
        for (old, new), held in self._journals_of(moves):
            # Another program that holds the log may have taken it along already.
            if held is not None and _identity(old) == held:
                old.replace(new)
        self.path = path
        return True

    def remove_journal(self) -> None:
        """Remove the journal that a file which is gone has left: a file that takes its name would be overwritten by it.

        Only after everything was copied out of the held file, and its connection was closed.
        """
        for suffix, held in self._journals.items():
            path = _journal(self.path, suffix)
            if held is not None and _identity(path) == held:
                path.unlink(missing_ok=True)

    def _note_journals(self) -> None:
        self._journals = {suffix: _identity(_journal(self.path, suffix)) for suffix in JOURNALS}

    def _journals_of(
        self, moves: list[tuple[Path, Path]]
    ) -> list[tuple[tuple[Path, Path], _Identity | None]]:
        return list(zip(moves, self._journals.values(), strict=True))

    def _name_by_system(self) -> Path | None:
        """The name as Linux knows it for an open file; None elsewhere, and for a deleted one."""
        if not sys.platform.startswith("linux"):
            return None
        try:
            links = list(_OPEN_FILES.iterdir())
        except OSError:
            return None
        for link in links:
            try:
                name = link.readlink()
                if _identity(link) == self._identity and _identity(name) == self._identity:
                    return name
            except OSError:
                continue
        return None

    def _name_in_folder(self) -> Path | None:
        """The name of the held file in its old folder, where the system does not say it."""
        try:
            entries = list(self.path.parent.iterdir())
        except OSError:
            return None
        return next((path for path in entries if _identity(path) == self._identity), None)


def copy_beside(db: sqlite3.Connection, path: Path) -> Path:
    """Copy everything that a connection holds, what only its journal has included, into a new file.

    Args:
        db: connection to a held file that is no longer at its path.
        path: where it was; the new file gets a name like it in the same folder.

    Returns:
        The new file, readable for its owner only.

    Raises:
        OSError: the folder cannot be written.
        sqlite3.Error: the disk is full, or what is held cannot be read.
    """
    new = free_kept_name(path)
    os.close(os.open(new, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
    try:
        with closing(sqlite3.connect(new)) as copy:
            db.backup(copy)
    except BaseException:
        new.unlink(missing_ok=True)
        raise
    return new


def _journal(path: Path, suffix: str) -> Path:
    return path.with_name(path.name + suffix)


def _identity(path: Path) -> _Identity | None:
    """Device and number of the file at a path; None where there is none."""
    try:
        found = path.stat()
    except (OSError, ValueError):
        return None
    return found.st_dev, found.st_ino
