"""Which runs this user has recorded on this computer: a list outside the visits, which no visit can state of itself.

A visit may come from somebody else; its last port is chosen by itself only where the run is on this list.
"""

from __future__ import annotations

import contextlib
import hashlib
from pathlib import Path

import platformdirs

from logger.visit.records.recording_records import Run

MAX_RUNS = 1000
"""So many of the newest runs are listed; 70 bytes each."""


def note_own_run(started_utc_ns: int, settings: str) -> None:
    """Put a run that begins on the list. Where that cannot be written, its port has to be chosen again next time.

    Args:
        started_utc_ns: when it begins, UTC ns.
        settings: its settings, as the log keeps them.
    """
    path = _path()
    with contextlib.suppress(OSError, ValueError):
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        lines = [*_lines(path), _digest(started_utc_ns, settings)][-MAX_RUNS:]
        half = path.with_suffix(".new")
        half.write_text("\n".join(lines) + "\n", encoding="ascii")
        half.chmod(0o600)
        half.replace(path)


def is_own_run(run: Run) -> bool:
    """Whether this user has recorded a run on this computer, with the settings that the log keeps of it."""
    return _digest(run.started_utc_ns, run.settings) in _lines(_path())


def _path() -> Path:
    return platformdirs.user_state_path("stillvolt", appauthor=False) / "own_runs.txt"


def _lines(path: Path) -> list[str]:
    try:
        return path.read_text(encoding="ascii").split()
    except (OSError, ValueError):
        return []


def _digest(started_utc_ns: int, settings: str) -> str:
    return hashlib.sha256(f"{started_utc_ns} {settings}".encode("utf-8", "backslashreplace")).hexdigest()
