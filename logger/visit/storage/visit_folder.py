"""The visit logs of a folder: which there are, how a new one is named."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

from logger.visit.storage.schema import APPLICATION_ID

SUFFIX = ".visit"

HEAD_BYTES = 72
"""The head of an SQLite file up to its application id."""


LOOKED_INTO: set[tuple[int, int]] = set()
"""Device and inode of the visit logs that this process has looked into. Looking again would close another handle on the
file, and with it drop every lock that SQLite holds there for this process (POSIX; SQLite, "How To Corrupt An SQLite
Database File", 2.2): another program that closes the log would then remove the journal of an open one."""


def is_visit_name(path: Path) -> bool:
    """Whether a name ends as that of a visit log, in whatever case: other systems write `HOME.VISIT`."""
    return path.suffix.casefold() == SUFFIX


def is_visit_head(head: bytes) -> bool:
    """Whether a file that begins with these `HEAD_BYTES` bytes or more is a visit log, whatever its name."""
    return head.startswith(b"SQLite format 3\x00") and int.from_bytes(head[68:72], "big") == APPLICATION_ID


def holds_visit(path: Path) -> bool:
    """Whether a file is a visit log by its content; False where it cannot be read."""
    try:
        if not path.is_file():  # reading a pipe would wait
            return False
        if identity(path) in LOOKED_INTO:
            return True
        with path.open("rb") as file:
            return is_visit_head(file.read(HEAD_BYTES))
    except OSError:
        return False


def identity(path: Path) -> tuple[int, int]:
    """Device and inode of a file; raises OSError where there is none."""
    at = path.stat()
    return at.st_dev, at.st_ino


def is_visit(path: Path) -> bool:
    """Whether a file counts as a visit log: by its name, also where it is damaged, or under any name by its content.

    Every list of visits goes by this, so that none leaves out what another one has.
    """
    # Only a file: looking into a pipe would wait for ever, whatever its name.
    return path.is_file() and (is_visit_name(path) or holds_visit(path))


def visits_in(folder: Path) -> list[Path]:
    """The visit logs of a folder, the one that was written to last first."""
    return sorted(filter(is_visit, folder.glob("*")), key=written_s, reverse=True)


def written_s(path: Path) -> float:
    """When a visit log was last written to, Unix seconds. In WAL mode that often shows at the journal only."""
    journal = path.with_name(f"{path.name}-wal")
    return max(p.stat().st_mtime if p.exists() else 0.0 for p in (path, journal))


def new_visit(folder: Path, name: str) -> Path:
    """Where a new visit of that name goes; characters that some system does not allow in a name become blanks."""
    safe = "".join(" " if c in '<>:"/\\|?*' or not c.isprintable() else c for c in name.removesuffix(SUFFIX))
    return folder / f"{' '.join(safe.split()).strip('.')}{SUFFIX}"


def default_name(now: datetime) -> str:
    """A name by the time of day."""
    return f"{now:%Y-%m-%d %H.%M.%S}"


def visit_of_tonight(folder: Path, now: datetime) -> Path:
    """The visit log of this night.

    From noon to noon it is the same, so that a recorder that is restarted after midnight continues in it.
    """
    return folder / f"{now - timedelta(hours=12):%Y-%m-%d} night{SUFFIX}"
