"""The list of this user's recorders: an entry each in the user's cache folder, that names the visit log.

An entry only says where to look; whether a recorder is at work there is known from the lock beside the visit log.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from pathlib import Path

import platformdirs

SUFFIX = ".path"


class ListEntry:
    """The entry of one recorder."""

    def __init__(self) -> None:
        self._path: Path | None = None

    def add(self, visit: Path) -> None:
        """List a visit log, instead of the one before. A full disk, or no writable home, costs the entry only."""
        self.remove()
        real = os.fsencode(os.path.realpath(visit))
        path = _folder() / f"{hashlib.sha256(real).hexdigest()[:32]}{SUFFIX}"
        with contextlib.suppress(OSError):
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            half = path.with_suffix(".new")
            half.write_bytes(real)
            half.replace(path)
            self._path = path

    def remove(self) -> None:
        """Take the entry off the list."""
        if self._path is not None:
            with contextlib.suppress(OSError):
                self._path.unlink(missing_ok=True)
            self._path = None


def listed_visits() -> list[Path]:
    """The visit logs on the list; a recorder that was killed leaves its entry."""
    found = []
    for entry in _folder().glob(f"*{SUFFIX}"):
        with contextlib.suppress(OSError):
            found.append(Path(os.fsdecode(entry.read_bytes())))
    return found


def _folder() -> Path:
    return platformdirs.user_cache_path("stillvolt", appauthor=False) / "recorders"
