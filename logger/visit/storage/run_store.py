"""What the recorder wrote: runs, lines, samples, events, notices and its heartbeat."""

from __future__ import annotations

import json
import sqlite3

import numpy as np

from logger.settling.events import Event, Settled, State, Step, from_fields
from logger.visit.records.records import Line, Live, LoggedEvent, Notice, Run, Samples
from logger.visit.storage.store import Store

_LAST_ID = 2**63 - 1
"""The largest id that SQLite gives."""

_SAMPLE_ROW = np.dtype([("id", "i8"), ("run_id", "i8"), ("utc_ns", "i8"), ("t_ns", "i8"), ("volts", "f8")])


class RunStore(Store):
    """The part of a visit log that the recorder writes, as others read it."""

    def runs(self) -> list[Run]:
        """All runs, oldest first."""
        rows = self._all(
            "SELECT run.*, run_end.utc_ns AS ended_utc_ns, run_end.reason FROM run "
            "LEFT JOIN run_end ON run_end.run_id = run.id ORDER BY run.id"
        )
        return [
            Run(
                r["id"], r["started_utc_ns"], r["zone"], r["utc_offset_s"], r["port"], r["settings"],
                r["software"], r["ended_utc_ns"], r["reason"] or "",
            )
            for r in rows
        ]  # fmt: skip

    def samples_after(self, line_id: int = 0) -> Samples:
        """The samples that came after line `line_id` (0: all of them)."""
        return self.samples_between(line_id + 1, _LAST_ID)

    def samples_between(self, first_line_id: int, last_line_id: int) -> Samples:
        """The samples of a stretch of the log, both ends included; `line_at` finds the lines of a moment."""
        with self._reading():
            cursor = self._db.cursor()
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
        started = np.array([self.run_started_utc_ns(int(run_id)) for run_id in runs], np.int64)
        steady_utc_ns = rows["t_ns"] + started[which] if len(rows) else rows["t_ns"]
        return Samples(rows["id"], rows["run_id"], rows["utc_ns"], steady_utc_ns, rows["volts"])

    def refused_lines(self, limit: int = -1) -> list[Line]:
        """The newest lines that were no sample, newest first (-1: all of them)."""
        rows = self._all(
            "SELECT id, run_id, utc_ns, status, raw FROM line WHERE status <> 'volts' ORDER BY id DESC LIMIT ?",
            (limit,),
        )
        return [Line(r["id"], r["run_id"], r["utc_ns"], r["status"], r["raw"]) for r in rows]

    def last_line(self) -> Line | None:
        """The line that came last, whatever it was."""
        rows = self._all("SELECT id, run_id, utc_ns, status, raw FROM line ORDER BY id DESC LIMIT 1")
        return Line(**dict(rows[0])) if rows else None

    def events_after(self, event_id: int = 0) -> list[LoggedEvent]:
        """The detector's events written after event `event_id` (0: all of them), in the order written."""
        rows = self._all("SELECT * FROM event WHERE id > ? ORDER BY id", (event_id,))
        return [
            LoggedEvent(r["id"], r["run_id"], self.run_started_utc_ns(r["run_id"]), event_from_row(r))
            for r in rows
        ]

    def notices_after(self, notice_id: int = 0) -> list[Notice]:
        """What happened to the recording itself, oldest first."""
        rows = self._all("SELECT * FROM notice WHERE id > ? ORDER BY id", (notice_id,))
        return [Notice(r["id"], r["run_id"], r["utc_ns"], r["kind"], r["message"]) for r in rows]

    def line_at(self, run_id: int, t_ns: int) -> int:
        """The id of the first line of a run at or after `t_ns` (one past the last id if there is none).

        Lines are written in order of (run, time) and never deleted, so a binary search over the ids needs no
        index, which would cost every write of the night.
        """
        low, high = 1, self._one("SELECT coalesce(max(id), 0) + 1 FROM line")[0]
        while low < high:
            middle = (low + high) // 2
            r = self._one("SELECT run_id, t_ns FROM line WHERE id = ?", (middle,))
            if (r["run_id"], r["t_ns"]) < (run_id, t_ns):
                low = middle + 1
            else:
                high = middle
        return low

    def live(self) -> Live | None:
        """What the newest run last said of itself; None when nothing was ever recorded."""
        rows = self._all(
            "SELECT live.*, run.started_utc_ns, run.port, run_end.run_id IS NOT NULL AS ended "
            "FROM live JOIN run ON run.id = live.run_id LEFT JOIN run_end ON run_end.run_id = live.run_id "
            "ORDER BY live.run_id DESC LIMIT 1"
        )
        if not rows:
            return None
        r = rows[0]
        started = r["started_utc_ns"]
        return Live(
            run_id=r["run_id"],
            pid=r["pid"],
            run_started_utc_ns=started,
            port=r["port"],
            beat_utc_ns=r["beat_utc_ns"],
            beat_steady_utc_ns=started + r["beat_t_ns"],
            port_state=r["port_state"],
            port_message=r["port_message"],
            state=State(r["state"]),
            since_steady_utc_ns=started + r["since_t_ns"],
            volts=r["volts"],
            u_volts=r["u_volts"],
            samples=r["samples"],
            last_line_id=r["last_line_id"],
            count_volts=r["count_volts"],
            count_overload=r["count_overload"],
            count_not_ac_volts=r["count_not_ac_volts"],
            count_unreadable=r["count_unreadable"],
            last_refused=r["last_refused"],
            warning=r["warning"],
            frozen=bool(r["frozen"]),
            ended=bool(r["ended"]),
            open_events=tuple(from_fields(**e) for e in json.loads(r["open_events"])),
        )

    def request_stop(self) -> None:
        """Ask the recorder of the newest run to stop in an orderly way."""
        with self._writing():
            self._db.execute(
                "INSERT INTO request (run_id, utc_ns, what) SELECT max(id), ?, 'stop' FROM run HAVING max(id) > 0",
                (self._clock.utc_ns(),),
            )


def event_from_row(r: sqlite3.Row) -> Event:
    """The event that a row of table `event` stands for."""
    known_at_s = r["known_at_t_ns"] / 1e9
    if r["kind"] == Step.kind:
        return Step(r["start_t_ns"] / 1e9, r["before_volts"], r["after_volts"], r["u_volts"], known_at_s)
    fields = {"start_s": r["start_t_ns"] / 1e9, "end_s": r["end_t_ns"] / 1e9, "known_at_s": known_at_s}
    if r["kind"] == Settled.kind:
        fields |= {"volts": r["volts"], "u_volts": r["u_volts"], "samples": r["samples"]}
    elif r["kind"] == "motion":
        fields["peak_volts"] = r["volts"]
    return from_fields(r["kind"], **fields)
