"""Which files this program has written and nobody has changed since: a list of their digests, outside them.

In: files that were just written. Out: whether one that is there is as it was written. Each digest is of a content and
not of a place: a file may be renamed or copied. What was written on another computer is not on the list.
"""

from __future__ import annotations

import hashlib
from contextlib import suppress
from pathlib import Path

MAX_FILES = 2000
"""So many of the newest files are listed; 65 bytes each."""


def note_written(path: Path) -> None:
    """Put a file on the list. Where that cannot be written, the file is not replaced next time without being asked."""
    with suppress(OSError, ValueError):
        digest, at = _digest(path), _path()
        at.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        kept = [line for line in _lines(at) if line != digest]
        half = at.with_suffix(".new")
        half.write_text("\n".join([*kept, digest][-MAX_FILES:]) + "\n", encoding="ascii")
        half.chmod(0o600)
        half.replace(at)


def is_as_written(path: Path) -> bool:
    """Whether a file is one that this program has written here; raises OSError where it cannot be read."""
    return _digest(path) in _lines(_path())


def _path() -> Path:
    import platformdirs  # noqa: PLC0415  start-up time: most commands write no file

    return platformdirs.user_state_path("stillvolt", appauthor=False) / "written_files.txt"


def _lines(path: Path) -> list[str]:
    try:
        return path.read_text(encoding="ascii").split()
    except (OSError, ValueError):
        return []


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
