"""Removes the texts that recorders of earlier versions have left in the temporary folder.

They sent their messages into a file there, which nobody removed when they were killed.
"""

from __future__ import annotations

import os
import stat
from contextlib import suppress
from pathlib import Path

PATTERN = "stillvolt-recorder-*.txt"

RECORD_COMMAND = "record"
"""The word by which a process is known for a recorder, of whatever version."""


def remove_old_texts(folder: Path) -> None:
    """Remove those of this user that no recorder has open; nothing where the system cannot list these.

    A link is left alone, and so is what it leads to: another user may have put it there.

    Args:
        folder: the temporary folder.
    """
    with suppress(OSError):
        own = [path for path in folder.glob(PATTERN) if _is_own_file(path)]
        if not own or (open_files := _open_files()) is None:
            return
        for path in own:
            found = path.lstat()
            if _is_own_file(path) and (found.st_dev, found.st_ino) not in open_files:
                path.unlink(missing_ok=True)


def _is_own_file(path: Path) -> bool:
    found = path.lstat()
    return (
        stat.S_ISREG(found.st_mode)
        and found.st_nlink == 1
        and (not hasattr(os, "geteuid") or found.st_uid == os.geteuid())
    )


def _open_files() -> set[tuple[int, int]] | None:
    """Device and number of each file that a recorder has open; None where the system does not list those of one."""
    import psutil  # noqa: PLC0415  start-up time: 20 ms, and there is seldom such a text

    found = set()
    for process in psutil.process_iter():
        try:
            if RECORD_COMMAND not in process.cmdline():
                continue
            for file in process.open_files():
                with suppress(OSError):
                    at = Path(file.path).stat()
                    found.add((at.st_dev, at.st_ino))
        except psutil.NoSuchProcess:
            continue
        except (psutil.Error, OSError):
            return None
    return found
