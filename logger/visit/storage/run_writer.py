"""The recorder's side of a visit log: lines, events and the heartbeat, a batch a transaction.

`RunWriter` writes while the run goes on; `insert_finished_run` writes one that is over already.
"""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing, suppress
from dataclasses import dataclass, field
from pathlib import Path

from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.settling.events import Event, Now, Settled, Step, as_fields, from_fields, span_s
from logger.visit.records.fact_names import CONTINUED_FROM, CONTINUED_IN
from logger.visit.storage import connection as _connection
from logger.visit.storage.held_file import HeldFile, copy_beside
from logger.visit.storage.run_checksum import FACT_PREFIX, LineDigest, RunChecksum, computed_checksum
from logger.visit.storage.run_spool import RunSpool

SYNC_EVERY_NS = NS_PER_S
"""A commit is safe from a killed process at once; once a second it is also made safe from a power cut. Each
such commit waits for the disk, so doing it for all of them would wear a flash disk ten times as fast."""

CHECKPOINT_EVERY_NS = 60 * NS_PER_S
"""How often the journal is brought into the file at the least, so that a copy of the file alone lacks no more."""

CACHE_KB = 256
"""Pages kept in memory: the recorder only appends, and SQLite's usual 2 MB would fill in the course of the night."""

UNREADABLE_LINES = (TypeError, ValueError, AttributeError, OverflowError)
"""What computing the checksum raises where another program has put other content into the file."""

LineRow = tuple[int, int, str, float | None, bytes]
"""utc_ns, t_ns, status, volts, raw: one line of the meter."""


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
        with _connection.transaction(self._db):
            close_unfinished_runs(self._db, utc_ns)
        self.run_id = _insert_run(self._db, self.start)
        self._ask_for_stop = f"SELECT 1 FROM request WHERE run_id = {self.run_id:d} AND what = 'stop'"
        self._ask_whether_closed = f"SELECT 1 FROM run_end WHERE run_id = {self.run_id:d}"
        self._file = HeldFile(path)
        self._data_version = self._db.execute("PRAGMA data_version").fetchone()[0]
        # The first lines come into the file at once: a copy without its journal shows that there is a run.
        self._checkpoint_t_ns = -CHECKPOINT_EVERY_NS
        self._failed_move = self._renamed = False
        self._last_line_id: int | None = None
        self._digest = LineDigest()
        self._spool = RunSpool[Batch]()
        self.stop_requested = False
        """Whether a window has asked this run to stop; looked at with each batch, in its transaction."""

    def write(self, batch: Batch, beat: Heartbeat) -> None:
        """Write a batch and the heartbeat, all or nothing; after it any other process can read them.

        Raises:
            sqlite3.OperationalError: the disk is full, or the file was locked for longer than
                `connection.BUSY_TIMEOUT_S`. Nothing of the batch was written; it can be tried again.
            RunClosedError: another recorder has closed the run. Nothing of the batch was written, nor will be.
        """
        must_sync = beat.t_ns - self._synced_t_ns >= SYNC_EVERY_NS
        self._set_synchronous("FULL" if must_sync else "NORMAL")
        with _connection.transaction(self._db):
            if self._db.execute(self._ask_whether_closed).fetchone() is not None:
                raise RunClosedError(
                    f"Another recorder has taken {self.path} over while this one got no time.",
                    "What this one had recorded until then is kept.",
                )
            last_line_id = insert_batch(self._db, self.run_id, batch) or self._last_line_id
            _insert_beat(self._db, self.run_id, self._pid, beat, last_line_id)
            stop_requested = self._db.execute(self._ask_for_stop).fetchone() is not None
        self._last_line_id = last_line_id
        self._digest.add(batch.lines)
        if batch.lines or batch.events or batch.notices:
            self._spool.add(batch)
        self.stop_requested = stop_requested
        if must_sync:
            self._synced_t_ns = beat.t_ns
            self._checkpoint_if_due(beat.t_ns)

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
        for batch in self._spool.all():
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
            return None
        place, before = self._file.place(), self.path
        if place.path is not None and self._file.follow(place.path):
            self._checkpoint()
            self._failed_move, self._renamed = False, True
            return FileMove(
                "visit renamed",
                self.path,
                f"The visit log {before} is now {self.path}. Recording goes on in it.",
            )
        happened = "was replaced by another file" if place.replaced else "was deleted or moved away"
        if place.path is not None:
            happened = "was renamed and opened by another program at once"
        try:
            path = self._go_on_beside(is_gone=place.path is None)
        except (OSError, sqlite3.Error, StillvoltError) as error:
            if self._failed_move:
                return None
            self._failed_move = True
            return FileMove(
                "visit gone", before, f"The visit log {before} {happened}, and no new one could be made beside it "
                f"({error}). Recording goes on in what is left of it. Do not end the recording: make room, or make the "
                "folder writable.",
            )  # fmt: skip
        self._failed_move = self._renamed = False
        return FileMove(
            "visit gone", path, f"The visit log {before} {happened}. Everything recorded so far was kept in {path}, "
            "and recording goes on there.",
        )  # fmt: skip

    def _go_on_beside(self, *, is_gone: bool) -> Path:
        path = copy_beside(self._db, self.path)
        try:
            db = _opened(path)
        except BaseException:
            path.unlink(missing_ok=True)
            raise
        with suppress(sqlite3.Error):
            # For the windows that have the held file open.
            self._db.execute(
                "INSERT INTO fact (utc_ns, name, value) SELECT beat_utc_ns, ?, ? FROM live WHERE run_id = ?",
                (CONTINUED_IN, str(path), self.run_id),
            )
        self._db.close()
        if is_gone:
            self._file.remove_journal()
        self._db, self._synchronous, self._synced_t_ns = db, "FULL", 0
        # A first write makes the journal, which belongs to what is held.
        self._db.execute(
            "INSERT INTO fact (utc_ns, name, value) VALUES (0, ?, ?)", (CONTINUED_FROM, self.path.name)
        )
        self._file = HeldFile(path)
        return path

    def _checkpoint_if_due(self, t_ns: int) -> None:
        """Bring the journal into the file each minute, and soon after somebody else has written (a reading)."""
        data_version = self._db.execute("PRAGMA data_version").fetchone()[0]
        if data_version != self._data_version or t_ns - self._checkpoint_t_ns >= CHECKPOINT_EVERY_NS:
            self._checkpoint()
            self._data_version, self._checkpoint_t_ns = data_version, t_ns

    def _checkpoint(self) -> None:
        with suppress(sqlite3.OperationalError):  # a full disk: everything is in the journal
            self._db.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()

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
        self._spool.close()
        self._db.close()
        if self._renamed:
            # SQLite does not clear the journal away of a file that it no longer finds under its old name.
            with suppress(sqlite3.Error, StillvoltError):
                _connection.open_existing(self.path).close()

    def _set_synchronous(self, level: str) -> None:
        if level != self._synchronous:
            self._db.execute(f"PRAGMA synchronous = {level}")
            self._synchronous = level


def _opened(path: Path) -> sqlite3.Connection:
    db = _connection.open_existing(path)
    db.execute(f"PRAGMA cache_size = -{CACHE_KB:d}")
    return db


_BEAT = (
    "INSERT OR REPLACE INTO live (run_id, pid, beat_utc_ns, beat_t_ns, port_state, port_message, state, "
    "since_t_ns, volts, u_volts, samples, last_line_id, count_volts, count_overload, "
    "count_not_ac_volts, count_unreadable, last_refused, warning, frozen, open_events) "
    "VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)"
)


def insert_finished_run(db: sqlite3.Connection, run: FinishedRun) -> int:
    """Write a run that is over; returns its id. Inside a transaction, so that it is there whole or not at all."""
    run_id = _insert_run(db, run.start)
    last_line_id = insert_batch(db, run_id, run.batch)
    _insert_beat(db, run_id, run.start.pid, run.beat, last_line_id)
    _insert_end(db, run_id, run.end)
    digest = LineDigest()
    digest.add(run.batch.lines)
    _insert_checksum(db, run_id, run.end.utc_ns, digest.result())
    return run_id


def _insert_run(db: sqlite3.Connection, start: RunStart) -> int:
    run_id = db.execute(
        "INSERT INTO run (started_utc_ns, zone, utc_offset_s, port, settings, software) VALUES (?,?,?,?,?,?)",
        (start.utc_ns, start.zone, start.utc_offset_s, start.port, start.settings, start.software),
    ).lastrowid
    assert run_id is not None
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
    for event in batch.events:
        insert_event(db, run_id, event)
    for notice in batch.notices:
        db.execute(
            "INSERT INTO notice (run_id, utc_ns, t_ns, kind, message) VALUES (?,?,?,?,?)", (run_id, *notice)
        )
    return last_line_id


def _insert_end(db: sqlite3.Connection, run_id: int, end: RunEnd) -> None:
    db.execute(
        "INSERT OR IGNORE INTO run_end (run_id, utc_ns, t_ns, reason) VALUES (?,?,?,?)",
        (run_id, end.utc_ns, end.t_ns, end.reason),
    )


def _insert_checksum(db: sqlite3.Connection, run_id: int, utc_ns: int, found: RunChecksum) -> None:
    db.execute(
        "INSERT INTO fact (utc_ns, name, value) VALUES (?,?,?)",
        (utc_ns, f"{FACT_PREFIX}{run_id}", found.as_fact()),
    )


def _insert_beat(
    db: sqlite3.Connection, run_id: int, pid: int, beat: Heartbeat, last_line_id: int | None
) -> None:
    now, counts = beat.now, beat.counts
    db.execute(
        _BEAT,
        (
            run_id, pid, beat.utc_ns, beat.t_ns, beat.port_state, beat.port_message,
            now.state.value, round(now.since_s * NS_PER_S), now.volts, now.u_volts, now.samples,
            last_line_id, counts.volts, counts.overload, counts.not_ac_volts, counts.unreadable,
            beat.last_refused, beat.warning, beat.frozen,
            json.dumps([as_fields(event) for event in beat.open_events]) if beat.open_events else "[]",
        ),
    )  # fmt: skip


def insert_event(db: sqlite3.Connection, run_id: int, event: Event) -> None:
    """Write one event of a run.

    Args:
        db: the connection, inside a transaction.
        run_id: the run that the event belongs to.
        event: times in seconds since the start of the run.
    """
    start_s, end_s = span_s(event)
    volts = getattr(event, "volts", getattr(event, "peak_volts", None))
    db.execute(
        "INSERT INTO event (run_id, kind, start_t_ns, end_t_ns, known_at_t_ns, volts, u_volts, before_volts, "
        "after_volts, samples) VALUES (?,?,?,?,?,?,?,?,?,?)",
        (
            run_id, event.kind, round(start_s * NS_PER_S), round(end_s * NS_PER_S),
            round(event.known_at_s * NS_PER_S), volts, getattr(event, "u_volts", None),
            event.before_volts if isinstance(event, Step) else None,
            event.after_volts if isinstance(event, Step) else None,
            event.samples if isinstance(event, Settled) else None,
        ),
    )  # fmt: skip


def close_unfinished_runs(db: sqlite3.Connection, utc_ns: int) -> None:
    """Close what a killed recorder left open: its last heartbeat holds the spans that were going on.

    Inside a transaction, and only to be called by the process that holds the log's recorder lock.

    Args:
        db: the connection, inside a transaction.
        utc_ns: now, by the wall clock.
    """
    for r in db.execute(
        "SELECT run.id, live.beat_t_ns, live.open_events FROM run LEFT JOIN live ON live.run_id = run.id "
        "WHERE run.id NOT IN (SELECT run_id FROM run_end)"
    ).fetchall():
        for e in json.loads(r["open_events"] or "[]"):
            insert_event(db, r["id"], from_fields(**e))
        reason = "the recorder was cut off; closed afterwards"
        _insert_end(db, r["id"], RunEnd(utc_ns, r["beat_t_ns"] or 0, reason))
