"""Which files this program has written and nobody has changed since: a list of their digests, outside them.

In: files that were just written. Out: whether one that is there is as it was written, and of which visit it is. Each
digest is of a content and not of a place: a file may be renamed or copied. What was written on another computer is not
on the list.
"""

from __future__ import annotations

import hashlib
from contextlib import suppress
from pathlib import Path

MAX_FILES = 2000
"""So many of the newest files are listed; 82 bytes each at most."""

OF_DIGITS = 16
"""So many hexadecimal digits of a digest stand for the visit that a file is of."""


def note_written(path: Path, of: str = "") -> None:
    """Put a file on the list. Where that cannot be written, the file is not replaced next time without being asked.

    Args:
        path: the file.
        of: the name of the visit that it is of; empty where it is of none or of several.
    """
    with suppress(OSError, ValueError):
        digest, at = _digest(path), _path()
        at.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        kept = [line for line in _lines(at) if not line.startswith(digest)]
        half = at.with_suffix(".new")
        new = f"{digest} {_mark(of)}".strip()
        half.write_text("\n".join([*kept, new][-MAX_FILES:]) + "\n", encoding="ascii")
        half.chmod(0o600)
        half.replace(at)


def is_as_written(path: Path) -> bool:
    """Whether a file is one that this program has written here; raises OSError where it cannot be read."""
    digest = _digest(path)
    return any(line.startswith(digest) for line in _lines(_path()))


def is_of_another(path: Path, of: str) -> bool:
    """Whether a file is listed as one of another visit than the named one; raises OSError where it cannot be read."""
    digest = _digest(path)
    marks = [line.partition(" ")[2] for line in _lines(_path()) if line.startswith(digest)]
    return any(mark not in ("", _mark(of)) for mark in marks)


def _path() -> Path:
    import platformdirs  # noqa: PLC0415  start-up time: most commands write no file

    return platformdirs.user_state_path("stillvolt", appauthor=False) / "written_files.txt"


def _lines(path: Path) -> list[str]:
    try:
        return path.read_text(encoding="ascii").splitlines()
    except (OSError, ValueError):
        return []


def _mark(of: str) -> str:
    return hashlib.sha256(of.encode()).hexdigest()[:OF_DIGITS] if of else ""


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
