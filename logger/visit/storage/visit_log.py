"""The visit log as the window and the command line use it: one open file, and a store for each kind of entry.

Every call of a store is one short transaction. Other processes (the recorder, a second window) may write between any
two calls; `read_transaction` keeps several reads together, and `data_version` shows whether somebody wrote.
"""

from __future__ import annotations

import sqlite3
from contextlib import AbstractContextManager
from pathlib import Path

from logger.clock import Clock, SystemClock
from logger.translation import tr_kept
from logger.visit.records.fact_names import SALVAGED_FROM
from logger.visit.records.reading_records import Reading
from logger.visit.results.present_names import with_present_names
from logger.visit.storage import checksum as _checksum
from logger.visit.storage import connection as _connection
from logger.visit.storage.check_step_store import CheckStepStore
from logger.visit.storage.check_store import CheckStore
from logger.visit.storage.circuit_store import CircuitStore
from logger.visit.storage.circumstances_store import CircumstancesStore
from logger.visit.storage.content_limits import MAX_CHECK_S, limited_in_time, line_problem
from logger.visit.storage.current_value import CurrentValue
from logger.visit.storage.damage import damaged
from logger.visit.storage.detail_stores import SourceDetailStore, SpotDetailStore
from logger.visit.storage.fact_store import FactStore
from logger.visit.storage.imported_run_store import ImportedRunStore
from logger.visit.storage.integrity import Integrity, check_integrity
from logger.visit.storage.log_connection import LogConnection
from logger.visit.storage.mark_store import MarkStore
from logger.visit.storage.meter_connection_store import MeterConnectionStore
from logger.visit.storage.newest_entry import newest_entry
from logger.visit.storage.page_check import page_problem
from logger.visit.storage.photo_store import PhotoStore
from logger.visit.storage.practitioner_store import PractitionerStore
from logger.visit.storage.reading_store import ReadingStore
from logger.visit.storage.recorder_status import RecorderStatus
from logger.visit.storage.recording_stores import EventStore, NoticeStore, RunStore, SampleStore
from logger.visit.storage.remedy_store import RemedyStore
from logger.visit.storage.run_checksum import changed_lines
from logger.visit.storage.setup_store import SetupStore
from logger.visit.storage.spot_store import SpotStore
from logger.visit.storage.step_label_store import StepLabelStore


class VisitLog:
    """An open visit log.

    Args:
        path: the file.
        db: the SQLite connection to it, as `logger.visit.storage.connection` opens it.
        clock: injected time.
    """

    def __init__(self, path: Path, db: sqlite3.Connection, clock: Clock) -> None:
        self._clock = clock
        self._connection = connection = LogConnection(path, db, clock)
        # What the recorder writes.
        self.runs = RunStore(connection)
        self.samples = SampleStore(connection, self.runs)
        self.events = EventStore(connection, self.runs)
        self.notices = NoticeStore(connection)
        self.recorder = RecorderStatus(connection)
        self.facts = FactStore(connection)
        self.current_value = CurrentValue(connection, self.recorder, self.samples, self.facts)
        # What the practitioner writes.
        self.setup = SetupStore(self.facts, self.recorder)
        self.practitioner = PractitionerStore(self.facts)
        self.circumstances = CircumstancesStore(self.facts)
        self.imported_runs = ImportedRunStore(connection, self.setup, self.facts)
        self.meters = MeterConnectionStore(connection, self.runs, self.facts)
        self.checks = CheckStore(
            connection,
            self.setup,
            self.runs,
            self.meters,
            self.events,
            self.notices,
            self.recorder,
            self.facts,
        )
        self.spots = SpotStore(connection)
        self.spot_details = SpotDetailStore(connection, self.facts)
        self.photos = PhotoStore(connection)
        self.circuits = CircuitStore(connection, self.facts)
        self.source_details = SourceDetailStore(connection, self.facts)
        self.step_labels = StepLabelStore(connection)
        self.remedies = RemedyStore(connection)
        self.readings = ReadingStore(
            connection,
            self.current_value,
            self.checks,
            self.facts,
            self.recorder,
            self.events,
            self.setup,
            self.spot_details,
            self.remedies,
            self.runs,
        )
        self.check_steps = CheckStepStore(
            connection, self.current_value, self.checks, self.readings, self.recorder, self.events
        )
        self.marks = MarkStore(connection, self.recorder, self.facts)

    @classmethod
    def create(cls, path: Path | str, clock: Clock | None = None) -> VisitLog:
        """Make a new visit log; raises StillvoltError as `logger.visit.storage.connection.create` does."""
        path = Path(path)
        return cls(path, _connection.create(path), clock or SystemClock())

    @classmethod
    def open(cls, path: Path | str, clock: Clock | None = None, *, shown_as: Path | None = None) -> VisitLog:
        """Open one that exists.

        Args:
            path: the file.
            clock: injected time.
            shown_as: the file that this is a copy of: it is the log's `path`.

        Raises:
            StillvoltError: as `logger.visit.storage.connection.open_existing`.
        """
        path = Path(path)
        return cls(shown_as or path, _connection.open_existing(path), clock or SystemClock())

    @property
    def path(self) -> Path:
        """The file."""
        return self._connection.path

    def close(self) -> None:
        """Close the file; the log can be opened again."""
        self._connection.close()

    def data_version(self) -> int:
        """A number that changes when another process has written; reading it costs next to nothing."""
        return int(self._connection.one("PRAGMA data_version")[0])

    def follow_file(self) -> bool:
        """Take over a new name of the file where it was renamed or moved: `path` is the present one then.

        Returns:
            False where the file is gone from its place, another one has taken it, or it was overwritten there.
        """
        return self._connection.follow_file()

    def present_readings(self) -> list[Reading]:
        """All readings by the present names of their spot, circuits and cords; `readings.all` has those of then."""
        sources = list(self.circuits.with_removed().values())
        by_words = self.facts.names.present_condition
        return with_present_names(self.readings.all(), self.spots.with_removed(), sources, by_words)

    def keep_copy(self) -> None:
        """Keep a copy of all that the log holds, and watch that the file stays this log: for a window."""
        self._connection.keep_copy()

    def keep_up(self, *, with_journal: bool) -> None:
        """Keep the copy up to date; see `LogConnection.keep_up`."""
        self._connection.keep_up(with_journal=with_journal)

    def is_overwritten(self) -> bool:
        """Whether another program has overwritten, cut or damaged the file in its place; False without a copy."""
        return self._connection.is_overwritten()

    def continued_in(self) -> Path | None:
        """Where another program goes on, as this file is gone or overwritten; None where none has gone on elsewhere."""
        return self._connection.continued_in()

    def bring_over(self, path: Path) -> bool:
        """Enter into the log in which the visit goes on what it lacks of this one; False where it cannot take it."""
        return self._connection.bring_over(path)

    def have_it_looked_at(self) -> None:
        """Let every program that has the file open look whether it is overwritten."""
        self._connection.have_it_looked_at()

    def copy_beside(self) -> Path:
        """Copy everything that is held of a file that is gone into a new one; raises StillvoltError where it cannot."""
        return self._connection.copy_beside()

    def refuse_damage(self, limit_s: float = MAX_CHECK_S) -> None:
        """Refuse a log whose pages are damaged, or with lines that no visit can hold.

        Args:
            limit_s: how long looking may take, seconds.

        Raises:
            StillvoltError: what was found first, or that it took too long.
            sqlite3.DatabaseError: a page cannot be read at all.
        """
        db = self._connection.db
        with self._connection.read_transaction(), limited_in_time(db, str(self.path), limit_s, self._clock):
            problem = page_problem(db) or line_problem(db)
        if problem:
            raise damaged(self.path, problem)

    def refuse_changed_lines(self, limit_s: float = MAX_CHECK_S) -> None:
        """Refuse a log with a run that has other lines than were recorded, by the checksum that was kept of them.

        One that was salvaged may lack some: it says so.

        Args:
            limit_s: how long looking may take, seconds.

        Raises:
            StillvoltError: which run, or that it took too long.
        """
        if self.facts.get(SALVAGED_FROM):
            return
        with limited_in_time(self._connection.db, str(self.path), limit_s, self._clock):
            found = self.changed_lines()
        if found:
            raise damaged(self.path, tr_kept(found))

    def changed_lines(self) -> str:
        """A sentence on the first run that has other lines than were recorded, for `tr_kept`; empty where none has."""
        with self._connection.read_transaction():
            return changed_lines(self._connection.db)

    def read_once(self) -> None:
        """Read everything but the samples, so that what cannot be read shows now and not later."""
        for read in (
            self.setup.current, self.facts.condition, self.runs.all, self.recorder.live, self.checks.all,
            self.spots.all, self.circuits.all, self.readings.all, self.marks.all, self.step_labels.all,
            self.events.after, self.notices.after, self.spot_details.all, self.source_details.all, self.photos.all,
            self.circumstances.current, self.remedies.all, self.remedies.baselines,
        ):  # fmt: skip
            read()

    def read_transaction(self) -> AbstractContextManager[None]:
        """Everything that is read inside is of one moment, whatever other processes write meanwhile."""
        return self._connection.read_transaction()

    def integrity(self) -> Integrity:
        """What of the log does not agree with itself; `check_integrity` defines it.

        Lines are compared with their checksum where the log was salvaged: others are refused for it
        (`refuse_changed_lines`).
        """
        with self._connection.read_transaction():
            return check_integrity(self._connection.db, with_lines=bool(self.facts.get(SALVAGED_FROM)))

    def newest_entry(self) -> int:
        """A number that grows with each entry that a report prints, and with each change of one; 0 before the first."""
        with self._connection.read_transaction():
            return newest_entry(self._connection.db)

    def checksum(self) -> str:
        """SHA-256 of the log's content as it is now, 64 hexadecimal digits; `checksum` defines it."""
        return _checksum.checksum(self._connection)
