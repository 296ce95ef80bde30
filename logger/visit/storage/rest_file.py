"""Keeps the last lines of a run in a visit log of their own, where the log of the run does not take them."""

from __future__ import annotations

import os
import sqlite3
import tempfile
from collections.abc import Iterable
from contextlib import closing, suppress
from itertools import count
from pathlib import Path

from logger.errors import StillvoltError
from logger.visit.storage import connection as _connection
from logger.visit.storage.run_writer import FinishedRun, insert_finished_run


def rest_folders(visit: Path) -> list[Path]:
    """Where lines are kept that a visit log does not take: as near to it as there is room."""
    folders = [visit.absolute().parent]
    with suppress(RuntimeError):  # no home is known
        folders.append(Path.home())
    return [*folders, Path(tempfile.gettempdir())]


def rests_of(visit: Path, folders: Iterable[Path]) -> set[Path]:
    """The files that `keep_rest` has made for a visit log.

    Args:
        visit: the log of the runs.
        folders: where to look.
    """
    start = f"{visit.stem} (rest"
    return {
        path
        for folder in folders
        if folder.is_dir()
        for path in folder.iterdir()
        if path.name.startswith(start)
    }


def keep_rest(visit: Path, rest: FinishedRun, folders: Iterable[Path]) -> Path | None:
    """Write lines that a visit log did not take into a new one, named after it, in the first folder that takes it.

    Args:
        visit: the log of the run.
        rest: the run's beginning and end, and the lines that are left over; their times are those of the run.
        folders: tried in this order.

    Returns:
        The new file; None where no folder takes it.
    """
    for folder in folders:
        try:
            path = _free_name(folder, visit)
            with closing(_connection.create(path)) as db:
                try:
                    with _connection.transaction(db):
                        insert_finished_run(db, rest)
                    db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
                except BaseException:
                    path.unlink(missing_ok=True)
                    raise
        except (OSError, sqlite3.Error, StillvoltError):
            continue
        return path
    return None


def _free_name(folder: Path, visit: Path) -> Path:
    names = (f"{visit.stem} (rest{f' {number}' if number > 1 else ''}){visit.suffix}" for number in count(1))
    return next(path for name in names if not os.path.lexists(path := folder / name))
