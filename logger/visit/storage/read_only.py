"""Opens a visit log of any version to read it: the file and its folder stay as they are, or are those of a copy.

`checked_log` gives a whole `VisitLog` whose pages and values were checked first; `open_checked` opens one to write to
it, after the same check. A bare connection is that of `bare_connection`.
"""

from __future__ import annotations

import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path

from logger.clock import Clock
from logger.diagnostics import log_exception
from logger.errors import StillvoltError
from logger.translation import tr
from logger.visit.storage.bare_connection import opened_read_only
from logger.visit.storage.connection import look_into
from logger.visit.storage.content_limits import limited_in_time, refuse_excess
from logger.visit.storage.damage import SALVAGE, UNREADABLE_ENTRY, damage_of, damaged
from logger.visit.storage.file_name import is_file
from logger.visit.storage.schema import APPLICATION_ID, USER_VERSION
from logger.visit.storage.schema_check import refuse_foreign_schema
from logger.visit.storage.visit_folder import LOOKED_INTO, identity
from logger.visit.storage.visit_log import VisitLog

UNREADABLE_CONTENT = (
    ValueError, KeyError, IndexError, TypeError, AttributeError, ArithmeticError, RecursionError, MemoryError,
)  # fmt: skip
"""What reading raises where a damaged row holds what no visit log holds; RecursionError for JSON that is nested a
thousand deep, MemoryError for what SQLite's own limit of memory ended."""


@contextmanager
def checked_log(path: Path) -> Iterator[VisitLog]:
    """Open a visit log to read all of it, after its pages and the lines of each run were checked.

    A file that may not be written, or that an older version wrote, is read from a copy in a private folder, under its
    own name, and stays as it is. Whatever turns out to be
    damaged while it is read, in here or by the caller, is one error in words.

    Raises:
        StillvoltError: it is no visit log, is damaged, or cannot be read.
    """
    try:
        with damage_in_words(path), _log(path) as log:
            log.refuse_damage()
            log.refuse_changed_lines()
            # Where two logs are open at once, each is blamed for what is in it.
            log.read_once()
            yield log
    except PermissionError as error:
        if error.filename != str(path):
            raise
        raise StillvoltError(
            tr("{path} cannot be read ({reason}).").format(path=path, reason=error.strerror),
            tr("It was not changed."),
            tr("Ask its owner for access."),
        ) from error


def open_checked(path: Path, clock: Clock | None = None) -> VisitLog:
    """Open a visit log to read and write it, after its pages and values were checked; then an older one is upgraded.

    Args:
        path: the file.
        clock: injected time.

    Raises:
        StillvoltError: it is no visit log, is damaged, or cannot be read or written.
    """
    if _is_older(path):
        with checked_log(path):
            pass  # an upgrade changes the file, which must not happen to a damaged one
    log = VisitLog.open(path, clock)
    try:
        with damage_in_words(path):
            log.refuse_damage()
            log.read_once()
    except BaseException:
        log.close()
        raise
    return log


@contextmanager
def damage_in_words(path: Path) -> Iterator[None]:
    """Let whatever turns out to be damaged within, while a visit log is read or written, be one error in words.

    Raises:
        StillvoltError: the file is damaged.
    """
    try:
        yield
    except sqlite3.DatabaseError as error:
        raise damaged(path, damage_of(error) or str(error)) from error
    except UNREADABLE_CONTENT as error:
        log_exception(f"reading {path}")
        raise damaged(path, tr(UNREADABLE_ENTRY)) from error


@contextmanager
def _log(path: Path) -> Iterator[VisitLog]:
    may_be_written = os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)
    if not is_file(path) or (may_be_written and not _is_older(path)):
        with closing(VisitLog.open(path)) as log:
            yield log
        return
    with tempfile.TemporaryDirectory(prefix="stillvolt-") as folder:
        copy = Path(folder) / "copy.visit"
        with opened_read_only(path) as source, closing(sqlite3.connect(copy)) as target:
            refuse_other_files(source)
            version = schema_version(source)
            with limited_in_time(source, path.name):
                refuse_excess(source, version, path.name)
            source.backup(target)
        with closing(VisitLog.open(copy, shown_as=path)) as log:
            yield log


def _is_older(path: Path) -> bool:
    """Whether an older version wrote a visit log; False for what is none, or cannot be read."""
    if not is_file(path) or identity(path) in LOOKED_INTO or not os.access(path, os.R_OK):
        return False  # what this process has opened has been upgraded
    look_into(path)
    with suppress(sqlite3.DatabaseError), opened_read_only(path) as db:
        return 0 < int(db.execute("PRAGMA user_version").fetchone()[0]) < USER_VERSION
    return False


def refuse_other_files(db: sqlite3.Connection) -> None:
    """Refuse what is no visit log; a file that was cut off is refused by SQLite itself.

    The file is read through SQLite only: another handle on a log that this process has open would, once closed, drop
    the locks on it (see `logger.visit.storage.connection`).

    Raises:
        StillvoltError: it is no visit log.
    """
    not_one = StillvoltError(
        tr("It is not a visit log, or its beginning is damaged."),
        tr("It was not changed."),
        tr("If it was one: {salvage}").format(salvage=tr(SALVAGE)),
    )
    try:
        application_id = db.execute("PRAGMA application_id").fetchone()[0]
    except sqlite3.DatabaseError as error:
        if getattr(error, "sqlite_errorcode", None) == sqlite3.SQLITE_NOTADB:
            raise not_one from error
        raise
    if application_id != APPLICATION_ID:
        raise not_one


def schema_version(db: sqlite3.Connection) -> int:
    """Return the version of the schema, which may be in the journal only.

    Raises:
        StillvoltError: it is newer than this program, has no tables, or some that no visit log has.
    """
    version = int(db.execute("PRAGMA user_version").fetchone()[0])
    if version > USER_VERSION:
        raise StillvoltError(
            tr(
                "It was written by a newer Stillvolt (version {version} of the log; this one reads up to "
                "{newest})."
            ).format(version=version, newest=USER_VERSION),
            tr("It was not changed."),
        )
    if version == 0:
        raise StillvoltError(tr("Its tables are missing."))
    refuse_foreign_schema(db, version, tr("The file"))
    return version
