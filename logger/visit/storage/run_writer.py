"""The recorder's side of a visit log: lines, events and the heartbeat, a batch a transaction.

`RunWriter` writes while the run goes on; `insert_finished_run` writes one that is over already.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.plain_text import without_folders
from logger.settling.events import Event, Now, Settled, Step, as_fields, span_s
from logger.translation import kept_text, tr
from logger.visit.records.fact_names import CONTINUED_FROM, CONTINUED_IN
from logger.visit.records.stop_source import StopSource
from logger.visit.storage import connection as _connection
from logger.visit.storage.contents_watch import MALFORMED_CODES, ContentsWatch, lacks_run
from logger.visit.storage.entry_checksum import Entry, insert_fact, keep_entry_checksums
from logger.visit.storage.held_file import HeldFile, copy_beside
from logger.visit.storage.run_backup import RunBackup
from logger.visit.storage.run_checksum import FACT_PREFIX, LineDigest, LineRow, RunChecksum, computed_checksum
from logger.visit.storage.unfinished_run import left_open_events
from logger.visit.storage.wal_index import VisitConnection

SYNC_EVERY_NS = NS_PER_S
"""A commit is safe from a killed process at once; once a second it is also made safe from a power cut. Each
such commit waits for the disk, so doing it for all of them would wear a flash disk ten times as fast."""

CHECKPOINT_EVERY_NS = 60 * NS_PER_S
"""How often the journal is brought into the file at the least, so that a copy of the file alone lacks no more."""

CACHE_KB = 256
"""Pages kept in memory: the recorder only appends, and SQLite's usual 2 MB would fill in the course of the night."""

_STOP_SOURCES = ", ".join(f"'{source.value}'" for source in StopSource)
_ASK_FOR_STOP = f"SELECT what FROM request WHERE run_id = ? AND what IN ({_STOP_SOURCES}) ORDER BY id LIMIT 1"
_ASK_WHETHER_CLOSED = "SELECT 1 FROM run_end WHERE run_id = ?"

UNREADABLE_LINES = (TypeError, ValueError, AttributeError, OverflowError)
"""What computing the checksum raises where another program has put other content into the file."""


@dataclass(slots=True)
class Counts:
    """Lines so far, by how they were read."""

    volts: int = 0
    overload: int = 0
    not_ac_volts: int = 0
    unreadable: int = 0


@dataclass(slots=True)
class Batch:
    """What is to be written together."""

    lines: list[LineRow] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    notices: list[tuple[int, int, str, str]] = field(default_factory=list)
    """utc_ns, t_ns, kind, message."""


@dataclass(frozen=True, slots=True)
class Heartbeat:
    """What is true at the end of a batch."""

    utc_ns: int
    t_ns: int
    port_state: str
    port_message: str
    now: Now
    open_events: list[Event]
    counts: Counts
    last_refused: str
    warning: str = ""
    """What is wrong with the meter now, in one sentence."""
    frozen: bool = False


@dataclass(frozen=True, slots=True)
class RunStart:
    """What is known of a run when it begins.

    Args:
        utc_ns: when the run begins.
        zone, utc_offset_s: the local time zone, for people.
        port, settings: the port's URL and, as JSON, its settings.
        software: name and version.
        pid: of the recorder; 0 without a process of its own.
    """

    utc_ns: int
    zone: str
    utc_offset_s: int
    port: str
    settings: str
    software: str
    pid: int


@dataclass(frozen=True, slots=True)
class RunEnd:
    """The end of a run.

    Args:
        utc_ns: the end by the wall clock.
        t_ns: the end in nanoseconds since the start of the run.
        reason: why it ended, as the log keeps it.
    """

    utc_ns: int
    t_ns: int
    reason: str


@dataclass(frozen=True, slots=True)
class FinishedRun:
    """A run that is over, whole.

    Args:
        start: what was known when it began.
        batch: all its lines, events and notices.
        beat: what was true at its end.
        end: when and why it ended.
    """

    start: RunStart
    batch: Batch
    beat: Heartbeat
    end: RunEnd


@dataclass(frozen=True, slots=True)
class FileMove:
    """What has happened to the file of a run.

    Args:
        kind: of the notice: "visit renamed" or "visit gone".
        path: where recording goes on.
        message: a sentence for the user.
    """

    kind: str
    path: Path
    message: str


class RunClosedError(StillvoltError):
    """Another recorder has closed the run, as it took this one for cut off."""


class RunWriter:
    """Writes one run of a visit log. Not to be shared between threads.

    Args:
        path: an existing visit log.
        utc_ns: when the run begins.
        zone, utc_offset_s: the local time zone, for people.
        port, settings: the port's URL and, as JSON, its settings.
        software: name and version.
        pid: of the recorder.
    """

    def __init__(
        self,
        path: Path,
        *,
        utc_ns: int,
        zone: str,
        utc_offset_s: int,
        port: str,
        settings: str,
        software: str,
        pid: int,
    ) -> None:
        self.start = RunStart(utc_ns, zone, utc_offset_s, port, settings, software, pid)
        """What was known of the run when it began."""
        self._db = _opened(path)
        self._synced_t_ns = 0
        self._synchronous = "FULL"
        self._pid = pid
        # Before the transaction, as it takes a second for a long night.
        left_open = left_open_events(self._db)
        with _connection.transaction(self._db):
            close_unfinished_runs(self._db, utc_ns, left_open)
            self.run_id = _insert_run(self._db, self.start)
        self._file = HeldFile(path)
        self._data_version = self._data_version_now()
        self._checkpoint_is_due = False
        # The first lines come into the file at once: a copy without its journal shows that there is a run.
        self._checkpoint_t_ns = -CHECKPOINT_EVERY_NS
        self._failed_move = self._renamed = False
        self._last_line_id: int | None = None
        self._first_line_id: int | None = None
        self._last_beat: Heartbeat | None = None
        self._digest = LineDigest()
        self._backup = RunBackup[Batch](self._db)
        self._contents = ContentsWatch(path)
        self.stop_requested_by: StopSource | None = None
        """Who has asked this run to stop; looked at with each batch, in its transaction. None while nobody has."""

    def write(self, batch: Batch, beat: Heartbeat) -> None:
        """Write a batch and the heartbeat, all or nothing; after it any other process can read them.

        Raises:
            sqlite3.OperationalError: the disk is full, or the file was locked for longer than
                `connection.BUSY_TIMEOUT_S`. Nothing of the batch was written; it can be tried again.
            RunClosedError: another recorder has closed the run. Nothing of the batch was written, nor will be.
        """
        if self.is_overwritten():
            raise sqlite3.OperationalError("another program has overwritten it")
        must_sync = beat.t_ns - self._synced_t_ns >= SYNC_EVERY_NS
        self._set_synchronous("FULL" if must_sync else "NORMAL")
        # In its place once the batch is written.
        digest = LineDigest(self._digest)
        digest.add(batch.lines)
        try:
            last_line_id, asked = self._write_rows(batch, beat, digest)
        except sqlite3.OperationalError as error:
            if getattr(error, "sqlite_errorcode", 0) != sqlite3.SQLITE_FULL or not self._empty_journal():
                raise
            last_line_id, asked = self._write_rows(batch, beat, digest)
        if batch.lines and self._first_line_id is None and last_line_id is not None:
            self._first_line_id = last_line_id - len(batch.lines) + 1
        self._last_line_id, self._last_beat = last_line_id, beat
        self._digest = digest
        if batch.lines or batch.events or batch.notices:
            self._backup.add(batch)
        self._take_what_others_wrote()
        self.stop_requested_by = None if asked is None else StopSource(asked[0])
        if must_sync:
            self._synced_t_ns = beat.t_ns
            self._checkpoint_if_due(beat.t_ns)

    def _write_rows(
        self, batch: Batch, beat: Heartbeat, digest: LineDigest
    ) -> tuple[int | None, tuple[str] | None]:
        """Write a batch in one transaction; returns the id of the last line, and who has asked for the end."""
        with self._malformed_is_overwritten(), _connection.transaction(self._db):
            if self._db.execute(_ASK_WHETHER_CLOSED, (self.run_id,)).fetchone() is not None:
                raise _taken_over(self.path)
            last_line_id = insert_batch(self._db, self.run_id, batch) or self._last_line_id
            _insert_beat(self._db, self.run_id, self._pid, beat, last_line_id, digest.result())
            return last_line_id, self._db.execute(_ASK_FOR_STOP, (self.run_id,)).fetchone()

    def _empty_journal(self) -> bool:
        """Write all of the journal into the file and give its room back to the disk; whether that could be done."""
        if self.is_overwritten():
            return False
        is_empty = _journal_emptied(self._db)
        self._contents.note_own_checkpoint()
        return is_empty

    def is_kept(self) -> bool:
        """Look in the file, as any other program would, whether it has this run and each line that was written."""
        try:
            with closing(sqlite3.connect(f"{self.path.resolve().as_uri()}?mode=ro", uri=True)) as db:
                run = db.execute("SELECT started_utc_ns FROM run WHERE id = ?", (self.run_id,)).fetchone()
                began_then = run is not None and run[0] == self.start.utc_ns
                return began_then and computed_checksum(db, self.run_id) == self._digest.result()
        except (sqlite3.Error, *UNREADABLE_LINES):
            return False

    def written(self) -> Batch:
        """Everything that the run has written so far, whatever became of the file."""
        whole = Batch()
        for batch in self._backup.all():
            whole.lines += batch.lines
            whole.events += batch.events
            whole.notices += batch.notices
        return whole

    @property
    def path(self) -> Path:
        """Where the visit log is now."""
        return self._file.path

    def follow_file(self) -> FileMove | None:
        """Go on in the file where it was renamed or moved to, or in a new one beside it where it is gone or replaced.

        Returns:
            What has happened; None where the file is in its place, or a new one could not be made and that was returned
            before. It is tried again with each call; lines go on into the held file meanwhile.
        """
        if self._file.is_in_place():
            return self._leave_overwritten() if self.is_overwritten() else None
        place, before = self._file.place(), self.path
        if place.path is not None and self._file.follow(place.path):
            self._contents.follow(place.path)
            self._db.follow(place.path)
            self._checkpoint()
            self._failed_move, self._renamed = False, True
            return FileMove(
                "visit renamed",
                self.path,
                _moved_text(before, self.path),
            )
        told, not_moved = (_REPLACED, _REPLACED_NOT_MOVED) if place.replaced else (_GONE, _GONE_NOT_MOVED)
        if place.path is not None:
            told, not_moved = _OPENED_ELSEWHERE, _OPENED_NOT_MOVED
        try:
            path = self._go_on_beside(is_gone=place.path is None)
        except (OSError, sqlite3.Error, StillvoltError) as error:
            return self._not_moved(not_moved, error)
        self._failed_move = self._renamed = False
        return FileMove("visit gone", path, told.format(name=before.name, new=path.name))

    def is_overwritten(self) -> bool:
        """Whether another program has written into the file past SQLite; a look at its folder as a rule."""
        first, last = self._first_line_id, self._last_line_id
        lines = None if first is None or last is None else (first, last)
        run = (self.run_id, self.start.utc_ns)
        return self._contents.is_overwritten(lambda path: lacks_run(path, run, lines))

    def _leave_overwritten(self) -> FileMove | None:
        before = self.path
        try:
            path, told = self._backup.write_beside(before, self._insert_start, self._insert_batch_anew)
            db = _opened_or_removed(path)
        except (OSError, sqlite3.Error, StillvoltError) as error:
            return self._not_moved(_OVERWRITTEN_NOT_MOVED, error)
        self._contents.empty_journal()
        self._db.close()
        self._file.remove_journal()
        self._go_on_in(path, db)
        self._failed_move = self._renamed = False
        return FileMove("visit gone", path, told)

    def _insert_start(self, db: sqlite3.Connection) -> None:
        _insert_run(db, self.start, self.run_id)

    def _insert_batch_anew(self, db: sqlite3.Connection, batch: Batch) -> None:
        insert_batch(db, self.run_id, batch)
        if self._last_beat is not None:
            _insert_beat(
                db, self.run_id, self._pid, self._last_beat, self._last_line_id, self._digest.result()
            )

    def _not_moved(self, told: str, error: Exception) -> FileMove | None:
        """Describe, once, that no new file could be made.

        Args:
            told: what is kept of it, with places for the name and the reason.
            error: why not.
        """
        if self._failed_move:
            return None
        self._failed_move = True
        return FileMove(
            "visit gone", self.path, told.format(name=self.path.name, reason=without_folders(str(error)))
        )

    def _go_on_beside(self, *, is_gone: bool) -> Path:
        path = copy_beside(self._db, self.path)
        db = _opened_or_removed(path)
        with suppress(sqlite3.Error), _connection.transaction(self._db):
            # For the windows that have the held file open.
            if self._last_beat is not None:
                insert_fact(self._db, self._last_beat.utc_ns, CONTINUED_IN, str(path))
        self._db.close()
        if is_gone:
            self._file.remove_journal()
        self._go_on_in(path, db)
        return path

    def _go_on_in(self, path: Path, db: VisitConnection) -> None:
        self._db, self._synchronous, self._synced_t_ns = db, "FULL", 0
        self._data_version = self._data_version_now()
        # A first write makes the journal, which belongs to what is held.
        with _connection.transaction(self._db):
            insert_fact(self._db, 0, CONTINUED_FROM, self.path.name)
        self._file = HeldFile(path)
        self._contents.close()
        self._contents = ContentsWatch(path)

    def _take_what_others_wrote(self) -> None:
        """Keep soon what a window has entered, so that it is not lost with the file."""
        # The batch is written: what fails here must not have it written again.
        with suppress(sqlite3.Error):
            if (data_version := self._data_version_now()) != self._data_version:
                self._data_version, self._checkpoint_is_due = data_version, True
                self._backup.refresh(self._db, self.is_overwritten)

    def _data_version_now(self) -> int:
        return int(self._db.execute("PRAGMA data_version").fetchone()[0])

    @contextmanager
    def _malformed_is_overwritten(self) -> Iterator[None]:
        """Other pages than were written are the work of another program; the batch waits for the new file."""
        try:
            yield
        except sqlite3.DatabaseError as error:
            if getattr(error, "sqlite_errorcode", 0) & 0xFF not in MALFORMED_CODES:
                raise
            self._contents.note_malformed()
            raise sqlite3.OperationalError(str(error)) from error

    def _checkpoint_if_due(self, t_ns: int) -> None:
        """Bring the journal into the file each minute, and soon after somebody else has written (a reading).

        Where it would take the last room on the disk, before that: the file itself could not grow any more then.
        """
        if self._contents.is_disk_short():
            self._empty_journal()
        if self._checkpoint_is_due or t_ns - self._checkpoint_t_ns >= CHECKPOINT_EVERY_NS:
            self._checkpoint()
            self._checkpoint_is_due, self._checkpoint_t_ns = False, t_ns

    def _checkpoint(self) -> None:
        if self.is_overwritten():
            return
        with suppress(sqlite3.OperationalError):  # a full disk: everything is in the journal
            self._db.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()
        self._contents.note_own_checkpoint()

    def end(self, utc_ns: int, t_ns: int, reason: str) -> None:
        """Close the run in order and make everything safe from a power cut.

        Args:
            utc_ns: the end by the wall clock.
            t_ns: the end in nanoseconds since the start of the run.
            reason: why it ended, as the log keeps it.
        """
        self._set_synchronous("FULL")
        with _connection.transaction(self._db):
            _insert_end(self._db, self.run_id, RunEnd(utc_ns, t_ns, reason))
            _insert_checksum(self._db, self.run_id, utc_ns, self._digest.result())
        self._checkpoint()

    def close(self) -> None:
        """Close the file."""
        self._backup.close()
        self._contents.close()
        self._db.close()
        if self._renamed:
            # SQLite does not clear the journal away of a file that it no longer finds under its old name.
            with suppress(sqlite3.Error, StillvoltError):
                _connection.open_existing(self.path).close()

    def _set_synchronous(self, level: str) -> None:
        if level != self._synchronous:
            self._db.execute(f"PRAGMA synchronous = {level}")
            self._synchronous = level


def _taken_over(path: Path) -> RunClosedError:
    return RunClosedError(
        tr("Another recorder has taken {path} over while this one got no time.").format(path=path),
        tr("What this recorder had recorded until then is kept."),
    )


def _journal_emptied(db: sqlite3.Connection) -> bool:
    """Empty the journal, which holds mostly older states of the same pages.

    Returns:
        False where the file itself finds no room, or a window is reading.
    """
    db.execute("PRAGMA busy_timeout = 0")
    try:
        return not db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
    except sqlite3.OperationalError:
        return False
    finally:
        db.execute(f"PRAGMA busy_timeout = {_connection.BUSY_TIMEOUT_S * 1000:.0f}")


_REPLACED = kept_text(
    "The visit log {name} was replaced by another file. Everything recorded so far was kept in {new}, and recording "
    "goes on there."
)
_REPLACED_NOT_MOVED = kept_text(
    "The visit log {name} was replaced by another file, and no new one could be made beside it ({reason}). Recording "
    "goes on in what is left of it. Do not end the recording: make room, or make the folder writable."
)
_GONE = kept_text(
    "The visit log {name} was deleted or moved away. Everything recorded so far was kept in {new}, and recording goes "
    "on there."
)
_GONE_NOT_MOVED = kept_text(
    "The visit log {name} was deleted or moved away, and no new one could be made beside it ({reason}). Recording goes "
    "on in what is left of it. Do not end the recording: make room, or make the folder writable."
)
_OPENED_ELSEWHERE = kept_text(
    "The visit log {name} was renamed and opened by another program at once. Everything recorded so far was kept in "
    "{new}, and recording goes on there."
)
_OPENED_NOT_MOVED = kept_text(
    "The visit log {name} was renamed and opened by another program at once, and no new one could be made beside it "
    "({reason}). Recording goes on in what is left of it. Do not end the recording: make room, or make the folder "
    "writable."
)
_OVERWRITTEN_NOT_MOVED = kept_text(
    "The visit log {name} was overwritten, cut or damaged by another program, and no new one could be made beside it "
    "({reason}). Recording goes on in memory. Do not end the recording: make room, or make the folder writable."
)


def _moved_text(before: Path, now: Path) -> str:
    """What happened to a file that was renamed or moved, with names alone: a notice is read by others too."""
    if before.name == now.name:
        moved = kept_text("The visit log {name} was moved to another folder. Recording goes on in it.")
        return moved.format(name=now.name)
    renamed = kept_text("The visit log {before} is now {name}. Recording goes on in it.")
    elsewhere = kept_text("The visit log {before} is now {name} in another folder. Recording goes on in it.")
    # The name that was given may be relative, and the one that was found is not.
    is_here = before.parent.resolve() == now.parent.resolve()
    return (renamed if is_here else elsewhere).format(before=before.name, name=now.name)


def _opened(path: Path) -> VisitConnection:
    db = _connection.open_existing(path)
    db.execute(f"PRAGMA cache_size = -{CACHE_KB:d}")
    # The file itself is written at the recorder's own checkpoints only: any other change of it is another program's.
    db.execute("PRAGMA wal_autocheckpoint = 0")
    return db


def _opened_or_removed(path: Path) -> VisitConnection:
    try:
        return _opened(path)
    except BaseException:
        path.unlink(missing_ok=True)
        raise


_BEAT = (
    "INSERT OR REPLACE INTO live (run_id, pid, beat_utc_ns, beat_t_ns, port_state, port_message, state, "
    "since_t_ns, volts, u_volts, samples, last_line_id, count_volts, count_overload, "
    "count_not_ac_volts, count_unreadable, last_refused, warning, frozen, open_events, line_checksum) "
    "VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)"
)


def insert_finished_run(db: sqlite3.Connection, run: FinishedRun) -> int:
    """Write a run that is over; returns its id. Inside a transaction, so that it is there whole or not at all."""
    run_id = _insert_run(db, run.start)
    last_line_id = insert_batch(db, run_id, run.batch)
    digest = LineDigest()
    digest.add(run.batch.lines)
    _insert_beat(db, run_id, run.start.pid, run.beat, last_line_id, digest.result())
    _insert_end(db, run_id, run.end)
    _insert_checksum(db, run_id, run.end.utc_ns, digest.result())
    return run_id


def _insert_run(db: sqlite3.Connection, start: RunStart, run_id: int | None = None) -> int:
    run_id = db.execute(
        "INSERT INTO run (id, started_utc_ns, zone, utc_offset_s, port, settings, software) VALUES (?,?,?,?,?,?,?)",
        (run_id, start.utc_ns, start.zone, start.utc_offset_s, start.port, start.settings, start.software),
    ).lastrowid
    assert run_id is not None
    keep_entry_checksums(db, [("run", run_id)])
    return run_id


def insert_batch(db: sqlite3.Connection, run_id: int, batch: Batch) -> int | None:
    """Write lines, events and notices of a run; returns the id of the last line, None where there is none.

    Args:
        db: the connection, inside a transaction.
        run_id: the run that they belong to.
        batch: what is to be written.
    """
    last_line_id = None
    insert_line = f"INSERT INTO line (run_id, utc_ns, t_ns, status, volts, raw) VALUES ({run_id:d},?,?,?,?,?)"
    for line in batch.lines:
        last_line_id = db.execute(insert_line, line).lastrowid
    entries: list[Entry] = [("event", insert_event(db, run_id, event)) for event in batch.events]
    for notice in batch.notices:
        notice_id = db.execute(
            "INSERT INTO notice (run_id, utc_ns, t_ns, kind, message) VALUES (?,?,?,?,?)", (run_id, *notice)
        ).lastrowid
        assert notice_id is not None
        entries.append(("notice", notice_id))
    if entries:
        keep_entry_checksums(db, entries)
    return last_line_id


def _insert_end(db: sqlite3.Connection, run_id: int, end: RunEnd) -> None:
    is_new = db.execute(
        "INSERT OR IGNORE INTO run_end (run_id, utc_ns, t_ns, reason) VALUES (?,?,?,?)",
        (run_id, end.utc_ns, end.t_ns, end.reason),
    ).rowcount
    if is_new:
        keep_entry_checksums(db, [("run_end", run_id)])


def _insert_checksum(db: sqlite3.Connection, run_id: int, utc_ns: int, found: RunChecksum) -> None:
    insert_fact(db, utc_ns, f"{FACT_PREFIX}{run_id}", found.as_fact())


def _insert_beat(
    db: sqlite3.Connection,
    run_id: int,
    pid: int,
    beat: Heartbeat,
    last_line_id: int | None,
    lines: RunChecksum,
) -> None:
    """Write the heartbeat of a run in place of the one before.

    Args:
        db: the connection, inside a transaction.
        run_id: the run.
        pid: of the recorder.
        beat: what is true now.
        last_line_id: of the last line that was written; None before the first.
        lines: the checksum of all lines of the run so far.
    """
    now, counts = beat.now, beat.counts
    db.execute(
        _BEAT,
        (
            run_id, pid, beat.utc_ns, beat.t_ns, beat.port_state, beat.port_message,
            now.state.value, round(now.since_s * NS_PER_S), now.volts, now.u_volts, now.samples,
            last_line_id, counts.volts, counts.overload, counts.not_ac_volts, counts.unreadable,
            beat.last_refused, beat.warning, beat.frozen,
            json.dumps([as_fields(event) for event in beat.open_events]) if beat.open_events else "[]",
            lines.as_fact(),
        ),
    )  # fmt: skip


def insert_event(db: sqlite3.Connection, run_id: int, event: Event) -> int:
    """Write one event of a run without its checksum; returns its id.

    Args:
        db: the connection, inside a transaction.
        run_id: the run that the event belongs to.
        event: times in seconds since the start of the run.
    """
    start_s, end_s = span_s(event)
    volts = getattr(event, "volts", getattr(event, "peak_volts", None))
    event_id = db.execute(
        "INSERT INTO event (run_id, kind, start_t_ns, end_t_ns, known_at_t_ns, volts, u_volts, before_volts, "
        "after_volts, samples) VALUES (?,?,?,?,?,?,?,?,?,?)",
        (
            run_id, event.kind, round(start_s * NS_PER_S), round(end_s * NS_PER_S),
            round(event.known_at_s * NS_PER_S), volts, getattr(event, "u_volts", None),
            event.before_volts if isinstance(event, Step) else None,
            event.after_volts if isinstance(event, Step) else None,
            event.samples if isinstance(event, Settled) else None,
        ),
    ).lastrowid  # fmt: skip
    assert event_id is not None
    return event_id


def close_unfinished_runs(
    db: sqlite3.Connection, utc_ns: int, left_open: Mapping[int, Sequence[Event]]
) -> None:
    """Close what a killed recorder left open, with the events that were going on.

    Inside a transaction, and only to be called by the process that holds the log's recorder lock.

    Args:
        db: the connection, inside a transaction.
        utc_ns: now, by the wall clock.
        left_open: of each run without an end, by its id, the events that its lines show and that were not written.
    """
    for run_id, events in left_open.items():
        keep_entry_checksums(db, [("event", insert_event(db, run_id, event)) for event in events])
        beat = db.execute("SELECT beat_t_ns FROM live WHERE run_id = ?", (run_id,)).fetchone()
        reason = kept_text("the recorder was cut off; closed afterwards")
        _insert_end(db, run_id, RunEnd(utc_ns, beat[0] if beat else 0, reason))
