"""Opens a visit log, or says in one sentence why not. Nothing that is not a visit log is ever written to."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from logger.errors import StillvoltError
from logger.translation import marked, tr, tr_all, tr_kept
from logger.visit.storage.content_limits import harden, limited_in_time, refuse_excess
from logger.visit.storage.damage import SALVAGE, UNREADABLE_ENTRY, damage_of, damaged
from logger.visit.storage.file_name import is_file, refuse_unusable_name
from logger.visit.storage.foreign_journal import FOREIGN_JOURNAL, has_foreign_journal
from logger.visit.storage.other_name import is_open_under_another_name
from logger.visit.storage.page_check import page_problem
from logger.visit.storage.schema import APPLICATION_ID, UPGRADES, USER_VERSION
from logger.visit.storage.schema_check import refuse_foreign_schema
from logger.visit.storage.visit_folder import HEAD_BYTES, LOOKED_INTO, identity, is_visit_head
from logger.visit.storage.wal_index import VisitConnection, WalIndex

BUSY_TIMEOUT_S = 5.0
"""How long one process waits for another's write; the recorder's take milliseconds."""

FOLLOWED_WITHIN_S = 2.0
"""How long it may take until a program that has a log open has followed it to a new name; recorder and window look each
second."""

POLL_EVERY_S = 0.05

_NETWORK_FILE_SYSTEMS = frozenset(
    ("nfs", "nfs4", "cifs", "smb", "smb2", "smb3", "smbfs", "afpfs", "webdav", "davfs", "ncpfs", "9p", "afs",
     "fuse.sshfs", "fuse.rclone", "fuse.davfs2", "fuse.gvfsd-fuse")
)  # fmt: skip


def _mount_of(folder: Path) -> tuple[str, str]:
    """File system type and mount options of the disk that holds `folder`; empty strings where unknown."""
    import psutil  # noqa: PLC0415  start-up time: 20 ms

    best = ("", "")
    best_length = -1
    for disk in psutil.disk_partitions(all=True):
        mount = Path(disk.mountpoint)
        if (folder == mount or mount in folder.parents) and len(disk.mountpoint) >= best_length:
            best = (disk.fstype.lower(), disk.opts.lower())
            best_length = len(disk.mountpoint)
    return best


def _refuse_network_drive(path: Path, mount_of: Callable[[Path], tuple[str, str]]) -> None:
    folder = path.parent.resolve()
    kind, options = mount_of(folder)
    if kind in _NETWORK_FILE_SYSTEMS or "remote" in options.split(",") or str(folder).startswith("\\\\"):
        raise StillvoltError(
            tr("{folder} is on a network drive, where two programs cannot share a visit log safely.").format(
                folder=folder
            ),
            tr("Nothing was written."),
            tr("Choose a folder on this computer's own disk and copy the file afterwards."),
        )


def create(path: Path, mount_of: Callable[[Path], tuple[str, str]] = _mount_of) -> VisitConnection:
    """Make a new, empty visit log.

    Args:
        path: the file; must not exist yet.
        mount_of: tells the file system of a folder (a test gives its own).

    Raises:
        StillvoltError: the name cannot be used, the file exists, or the folder is missing, read-only, full or on a
            network drive.
    """
    refuse_unusable_name(path)
    exists = StillvoltError(
        tr("{path} exists already.").format(path=path), tr("It was not changed."), tr("Choose another name.")
    )
    if path.exists():
        raise exists
    if not path.parent.is_dir():
        raise StillvoltError(
            tr("The folder {folder} does not exist.").format(folder=path.parent),
            tr("Nothing was written."),
            tr("Make it, or choose another."),
        )
    _refuse_network_drive(path, mount_of)
    try:
        # Claims the name, so that of two programs that start at once only one makes the file. A visit is private: only
        # its owner may read it until it is shared on purpose; SQLite gives its journal the same rights.
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
    except FileExistsError:
        raise exists from None
    except OSError as error:
        raise StillvoltError(
            tr("{path} cannot be written ({reason}).").format(path=path, reason=error.strerror),
            tr("Nothing was written."),
            tr("Choose a folder that you may write to."),
        ) from error
    try:
        write_schema(path)
        connection = _open(path)
        try:
            _share(connection, path)
        except BaseException:
            connection.close()
            raise
    except (sqlite3.Error, StillvoltError) as error:
        path.unlink(missing_ok=True)
        if isinstance(error, StillvoltError):
            raise
        raise StillvoltError(
            tr("The visit log {path} could not be made ({reason}).").format(path=path, reason=error),
            tr("Nothing was kept under that name."),
            tr("See whether the disk is full."),
        ) from error
    return connection


def write_schema(path: Path, version: int = USER_VERSION) -> None:
    """Write mark and tables into an empty file.

    Args:
        path: the file.
        version: of the schema.
    """
    # Before the switch to WAL, so that mark and tables stand in the file itself and not only in its journal.
    with closing(sqlite3.connect(path, isolation_level=None)) as unshared:
        unshared.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        _upgrade(unshared, path, version)


def open_existing(path: Path, mount_of: Callable[[Path], tuple[str, str]] = _mount_of) -> VisitConnection:
    """Open a visit log for reading and writing; an older one is brought up to date first.

    Raises:
        StillvoltError: missing, not a visit log, from a newer version, damaged, read-only, network drive, or with
            more or other content than a visit has.
    """
    if not is_file(path):
        raise StillvoltError(
            tr("There is no visit log {path}.").format(path=path),
            next_step=tr("See whether the name is right."),
        )
    if identity(path) not in LOOKED_INTO:
        look_into(path)
    _refuse_network_drive(path, mount_of)
    if not os.access(path, os.W_OK) or not os.access(path.parent, os.W_OK):
        raise StillvoltError(
            tr("{path} or its folder is read-only.").format(path=path),
            tr("It was not changed."),
            tr("Copy the visit log to a folder that you may write to and open the copy."),
        )
    try:
        connection = _open(path)
        try:
            # Before anything is written, and before any row is read.
            version = _known_version(connection, path)
            refuse_foreign_schema(connection, version, path.name)
            with limited_in_time(connection, path.name):
                refuse_excess(connection, version, path.name)
                # An upgrade writes to the file, which then is no longer as it was damaged.
                if version < USER_VERSION and (problem := page_problem(connection)):
                    raise damaged(path, problem)
            _share(connection, path)
            _upgrade(connection, path)
        except BaseException:
            connection.close()
            raise
    except sqlite3.Error as error:
        # Damage is no matter of room on the disk, and a copy would have it too.
        if found := damage_of(error):
            raise damaged(path, found) from error
        raise StillvoltError(
            tr("{path} cannot be opened ({reason}).").format(path=path, reason=error),
            tr("It was not changed."),
            tr("If the disk is full, make room; else work on a copy."),
        ) from error
    except UnicodeDecodeError as error:  # in the list of tables
        raise damaged(path, tr(UNREADABLE_ENTRY)) from error
    return connection


def look_into(path: Path) -> None:
    """Refuse what is no visit log, before SQLite sees it, which may write to a file just by opening it.

    Raises:
        StillvoltError: it is none, or has the journal of another, or is open under another name.
    """
    try:
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
            open_elsewhere = _stays_open_under_another_name(file.fileno(), path)
    except OSError as error:
        raise StillvoltError(
            tr("{path} cannot be read ({reason}).").format(path=path, reason=error.strerror),
            tr("It was not changed."),
            tr("Ask its owner for access."),
        ) from error
    if not is_visit_head(head):
        raise StillvoltError(
            tr("{path} is not a visit log, or its beginning is damaged.").format(path=path),
            tr("It was not changed."),
            tr("Choose another file. If it was one: {salvage}").format(salvage=tr(SALVAGE)),
        )
    if has_foreign_journal(path):
        raise StillvoltError(
            tr_kept(FOREIGN_JOURNAL.format(name=path.name)),
            tr("Neither was changed."),
            tr_all(
                (
                    SALVAGE,
                    marked(
                        "Keep the journal too: it has what was entered last in the visit that was there before."
                    ),
                )
            ),
        )
    if open_elsewhere:
        raise StillvoltError(
            tr("{path} is open in another program under another name of the same file.").format(path=path),
            tr("It was not changed."),
            tr("Open it by the name that the other program has, or close it there."),
        )


def _stays_open_under_another_name(descriptor: int, path: Path) -> bool:
    """Whether another program has the file open under another name, and does not follow it to this one soon."""
    waited_s = 0.0
    while is_open_under_another_name(descriptor, path):
        if waited_s >= FOLLOWED_WITHIN_S:
            return True
        time.sleep(POLL_EVERY_S)
        waited_s += POLL_EVERY_S
    return False


def _open(path: Path) -> VisitConnection:
    connection = sqlite3.connect(
        path, timeout=BUSY_TIMEOUT_S, isolation_level=None, check_same_thread=False, factory=VisitConnection
    )
    connection.row_factory = sqlite3.Row
    harden(connection)
    LOOKED_INTO.add(identity(path))
    return connection


def _share(connection: VisitConnection, path: Path) -> None:
    """Let several programs use the file at once."""
    mode = connection.execute("PRAGMA journal_mode = WAL").fetchone()[0]
    if mode != "wal":
        raise StillvoltError(
            tr("The disk that holds {path} does not allow two programs to share a file safely.").format(
                path=path
            ),
            tr("Nothing was written."),
            tr("Choose a folder on this computer's own disk."),
        )
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA foreign_keys = ON")
    # A first look makes the journal, which has to be followed with the file (`held_file`).
    connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    connection.wal_index = WalIndex(path.resolve())  # SQLite names it after what a link leads to


def _known_version(connection: sqlite3.Connection, path: Path) -> int:
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    if not 0 <= version <= USER_VERSION:
        raise StillvoltError(
            tr(
                "{path} was written by a newer Stillvolt (version {version} of the log; this one reads up "
                "to {newest})."
            ).format(path=path, version=version, newest=USER_VERSION),
            tr("It was not changed."),
            tr("Install the newer Stillvolt."),
        )
    return version


def _upgrade(connection: sqlite3.Connection, path: Path, version: int = USER_VERSION) -> None:
    if connection.execute("PRAGMA user_version").fetchone()[0] == version:
        return
    with transaction(connection):
        for script in UPGRADES[_known_version(connection, path) : version]:
            for statement in _statements(script):
                connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {version:d}")


def _statements(script: str) -> Iterator[str]:
    """Split a script; `executescript` would commit the transaction that protects an upgrade."""
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            yield statement
            statement = ""


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """All or nothing, and the write lock from the start, so that what is read inside stays true."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        if connection.in_transaction:  # a full disk makes SQLite roll back by itself
            connection.execute("ROLLBACK")
        raise
    try:
        connection.execute("COMMIT")
    except sqlite3.Error:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
