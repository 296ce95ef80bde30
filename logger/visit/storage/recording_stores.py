"""What the recorder wrote, as others read it: runs, samples, refused lines, events and notices."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Any

import numpy as np

from logger.settling.events import Event, Settled, Step, from_fields
from logger.visit.records.recording_records import Line, LoggedEvent, Notice, Run, Samples
from logger.visit.records.simulated_run import is_simulated
from logger.visit.storage.log_connection import LogConnection
from logger.visit.storage.unfinished_run import left_open_events

_LAST_ID = 2**63 - 1
"""The largest id that SQLite gives."""

_SAMPLE_ROW = np.dtype([("id", "i8"), ("run_id", "i8"), ("utc_ns", "i8"), ("t_ns", "i8"), ("volts", "f8")])


class RunStore:
    """The runs."""

    def __init__(self, connection: LogConnection) -> None:
        self._connection = connection
        self._started_utc_ns: dict[int, int] = {}

    def all(self) -> list[Run]:
        """All runs, oldest first."""
        rows = self._connection.all(
            "SELECT run.*, started_utc_ns + run_end.t_ns AS ended_utc_ns, run_end.reason, "
            "coalesce(live.beat_utc_ns - started_utc_ns - live.beat_t_ns, 0) AS clock_set_ns FROM run "
            "LEFT JOIN run_end ON run_end.run_id = run.id LEFT JOIN live ON live.run_id = run.id ORDER BY run.id"
        )
        return [
            Run(
                r["id"], r["started_utc_ns"], r["zone"], r["utc_offset_s"], r["port"], r["settings"],
                r["software"], r["ended_utc_ns"], r["reason"] or "", r["clock_set_ns"],
            )
            for r in rows
        ]  # fmt: skip

    def simulated_ids(self) -> frozenset[int]:
        """Ids of the runs that were simulated."""
        rows = self._connection.all("SELECT id, port, settings FROM run")
        return frozenset(r["id"] for r in rows if is_simulated(r["port"], r["settings"]))

    def spans_utc_ns(self) -> list[tuple[int, int, int]]:
        """Id, start and end of each run on its steady time line, oldest first; of a killed one its last heartbeat."""
        rows = self._connection.all(
            "SELECT run.id, started_utc_ns, coalesce(run_end.t_ns, live.beat_t_ns, 0) AS t_ns FROM run "
            "LEFT JOIN run_end ON run_end.run_id = run.id LEFT JOIN live ON live.run_id = run.id ORDER BY run.id"
        )
        return [(r["id"], r["started_utc_ns"], r["started_utc_ns"] + r["t_ns"]) for r in rows]

    def started_utc_ns(self, run_id: int) -> int:
        """When a run began, by the computer's clock; raises KeyError for one that is not there."""
        if run_id not in self._started_utc_ns:
            rows = self._connection.all("SELECT started_utc_ns FROM run WHERE id = ?", (run_id,))
            if not rows:
                raise KeyError(run_id)
            self._started_utc_ns[run_id] = rows[0]["started_utc_ns"]
        return self._started_utc_ns[run_id]


class SampleStore:
    """The samples, and the lines that were none."""

    def __init__(self, connection: LogConnection, runs: RunStore) -> None:
        self._connection = connection
        self._runs = runs

    def after(self, line_id: int = 0) -> Samples:
        """The samples that came after line `line_id` (0: all of them)."""
        return self.between(line_id + 1, _LAST_ID)

    def between(self, first_line_id: int, last_line_id: int) -> Samples:
        """The samples of a stretch of the log, both ends included; `line_at` finds the lines of a moment."""
        with self._connection.reading():
            cursor = self._connection.db.cursor()
            cursor.row_factory = None
            rows = np.fromiter(
                cursor.execute(
                    "SELECT id, run_id, utc_ns, t_ns, volts FROM line "
                    "WHERE id BETWEEN ? AND ? AND status = 'volts' ORDER BY id",
                    (first_line_id, last_line_id),
                ),
                dtype=_SAMPLE_ROW,
            )
        runs, which = np.unique(rows["run_id"], return_inverse=True)
        started = np.array([self._runs.started_utc_ns(int(run_id)) for run_id in runs], np.int64)
        steady_utc_ns = rows["t_ns"] + started[which] if len(rows) else rows["t_ns"]
        return Samples(rows["id"], rows["run_id"], rows["utc_ns"], steady_utc_ns, rows["volts"])

    def line_at(self, run_id: int, t_ns: int) -> int:
        """The id of the first line of a run at or after `t_ns` (one past the last id if there is none).

        Lines are written in order of (run, time) and never deleted, so a binary search over the ids needs no
        index, which would cost every write of the night.
        """
        low, high = 1, self._connection.one("SELECT coalesce(max(id), 0) + 1 FROM line")[0]
        while low < high:
            middle = (low + high) // 2
            # The next line that there is: a visit that was salvaged lacks some.
            r = self._connection.one(
                "SELECT id, run_id, t_ns FROM line WHERE id >= ? ORDER BY id LIMIT 1", (middle,)
            )
            if (r["run_id"], r["t_ns"]) < (run_id, t_ns):
                low = r["id"] + 1
            else:
                high = middle
        return low

    def refused_lines(self, limit: int = -1) -> list[Line]:
        """The newest lines that were no sample, newest first (-1: all of them)."""
        rows = self._connection.all(
            "SELECT id, run_id, utc_ns, status, raw FROM line WHERE status <> 'volts' ORDER BY id DESC LIMIT ?",
            (limit,),
        )
        return [Line(r["id"], r["run_id"], r["utc_ns"], r["status"], r["raw"]) for r in rows]


class EventStore:
    """The detector's final events."""

    def __init__(self, connection: LogConnection, runs: RunStore) -> None:
        self._connection = connection
        self._runs = runs

    def after(self, event_id: int = 0) -> list[LoggedEvent]:
        """The events written after event `event_id` (0: all of them), in the order written."""
        return self._logged(self._connection.all("SELECT * FROM event WHERE id > ? ORDER BY id", (event_id,)))

    def with_open(self) -> list[LoggedEvent]:
        """All events, and those that a run without an end left open, as its lines show them.

        A recorder that is killed writes no last events; the next one closes them (`close_unfinished_runs`), under the
        ids that they have here. While a recording goes on they are what it would end with now.
        """
        found = self.after()
        last_id = found[-1].id if found else 0
        with self._connection.reading():
            left_open = left_open_events(self._connection.db)
        for run_id, events in left_open.items():
            started_utc_ns = self._runs.started_utc_ns(run_id)
            for event in events:
                last_id += 1
                found.append(LoggedEvent(last_id, run_id, started_utc_ns, event))
        return found

    def of_run(self, run_id: int) -> list[LoggedEvent]:
        """The events of a run, in the order written."""
        return self._logged(
            self._connection.all("SELECT * FROM event WHERE run_id = ? ORDER BY id", (run_id,))
        )

    def _logged(self, rows: list[sqlite3.Row]) -> list[LoggedEvent]:
        return [
            LoggedEvent(r["id"], r["run_id"], self._runs.started_utc_ns(r["run_id"]), stored_event(r))
            for r in rows
        ]


class NoticeStore:
    """What happened to the recording itself: port lost, port back, clock set, disk full."""

    def __init__(self, connection: LogConnection) -> None:
        self._connection = connection

    def after(self, notice_id: int = 0) -> list[Notice]:
        """The notices written after notice `notice_id` (0: all of them), oldest first."""
        rows = self._connection.all(
            "SELECT notice.*, run.started_utc_ns + t_ns AS steady_utc_ns, run.started_utc_ns FROM notice "
            "JOIN run ON run.id = notice.run_id WHERE notice.id > ? ORDER BY notice.id",
            (notice_id,),
        )
        return [
            Notice(
                r["id"], r["run_id"], r["utc_ns"], r["kind"], r["message"], r["steady_utc_ns"],
                r["started_utc_ns"],
            )
            for r in rows
        ]  # fmt: skip


def stored_event(r: sqlite3.Row | Mapping[str, Any]) -> Event:
    """The event of a row of table `event`."""
    known_at_s = r["known_at_t_ns"] / 1e9
    if r["kind"] == Step.kind:
        return Step(r["start_t_ns"] / 1e9, r["before_volts"], r["after_volts"], r["u_volts"], known_at_s)
    fields = {"start_s": r["start_t_ns"] / 1e9, "end_s": r["end_t_ns"] / 1e9, "known_at_s": known_at_s}
    if r["kind"] == Settled.kind:
        fields |= {"volts": r["volts"], "u_volts": r["u_volts"], "samples": r["samples"]}
    elif r["kind"] == "motion":
        fields["peak_volts"] = r["volts"]
    return from_fields(r["kind"], **fields)
