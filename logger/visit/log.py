"""The visit log as the window and the command line use it: what was recorded, spots, readings, marks.

Every function is one short transaction. Other processes (the recorder, a second window) may write between any
two calls.
"""

from __future__ import annotations

import json
import sqlite3
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from math import isfinite
from pathlib import Path

import numpy as np

from logger.clock import Clock, SystemClock
from logger.errors import StillvoltError
from logger.still.events import Event, Settled, State, Step, from_fields
from logger.visit import connection as _connection
from logger.visit.checks import STEPS, CheckKind, Outcome, Verdict, judge, skipped
from logger.visit.context import Context
from logger.visit.model import (
    CheckResult,
    CheckStep,
    Line,
    Live,
    LoggedEvent,
    Mark,
    Notice,
    Reading,
    Run,
    Samples,
    Span,
    Spot,
    Taken,
)
from logger.visit.setup import FACT as SETUP_FACT
from logger.visit.setup import Setup

SETTLED_ENOUGH_SAMPLES = 2
"""Fewer samples than this are no mean."""

OVERRIDE_SPAN_S = 3.0
"""A reading that is taken by override is the mean of the samples of this last stretch."""

LIVE_STALE_S = 3.0
"""A heartbeat older than this is no longer news; the recorder beats ten times a second."""

_SAMPLE_ROW = np.dtype([("id", "i8"), ("run_id", "i8"), ("utc_ns", "i8"), ("t_ns", "i8"), ("volts", "f8")])


class VisitLog:
    """An open visit log.

    One thread uses it at a time (a lock sees to that); each process opens its own.
    """

    def __init__(self, path: Path, connection: sqlite3.Connection, clock: Clock) -> None:
        self.path = path
        self._db = connection
        self._clock = clock
        self._lock = threading.RLock()
        self._run_started: dict[int, int] = {}

    @classmethod
    def create(cls, path: Path | str, clock: Clock | None = None) -> VisitLog:
        """Make a new visit log; raises StillvoltError as `logger.visit.connection.create` does."""
        path = Path(path)
        return cls(path, _connection.create(path), clock or SystemClock())

    @classmethod
    def open(cls, path: Path | str, clock: Clock | None = None) -> VisitLog:
        """Open one that exists; raises StillvoltError as `logger.visit.connection.open_existing` does."""
        path = Path(path)
        return cls(path, _connection.open_existing(path), clock or SystemClock())

    def close(self) -> None:
        """Close the file; the log can be opened again."""
        with self._lock:
            self._db.close()

    def data_version(self) -> int:
        """A number that changes when another process has written: the cheap question before the dear ones."""
        return int(self._one("PRAGMA data_version")[0])

    # --- what the recorder wrote -------------------------------------------------------------------------

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
        with self._reading():
            cursor = self._db.cursor()
            cursor.row_factory = None
            rows = np.fromiter(
                cursor.execute(
                    "SELECT id, run_id, utc_ns, t_ns, volts FROM line WHERE id > ? AND status = 'volts' ORDER BY id",
                    (line_id,),
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

    # --- facts -------------------------------------------------------------------------------------------

    def fact(self, name: str, default: str = "") -> str:
        """The newest value of a fact about the visit."""
        rows = self._all("SELECT value FROM fact WHERE name = ? ORDER BY id DESC LIMIT 1", (name,))
        return rows[0]["value"] if rows else default

    def set_fact(self, name: str, value: str) -> None:
        """State a fact about the visit; the older value stays in the log."""
        with self._writing():
            self._db.execute(
                "INSERT INTO fact (utc_ns, name, value) VALUES (?, ?, ?)", (self._clock.utc_ns(), name, value)
            )

    def setup(self) -> Setup:
        """The set-up as last stated."""
        return Setup.from_json(self.fact(SETUP_FACT))

    def state_setup(self, setup: Setup) -> None:
        """State the set-up; readings taken before keep the one that held then."""
        self.set_fact(SETUP_FACT, setup.to_json())

    # --- checks ------------------------------------------------------------------------------------------

    def checks(self) -> list[CheckResult]:
        """All checks done, oldest first."""
        return [
            CheckResult(
                r["id"],
                r["utc_ns"],
                CheckKind(r["kind"]),
                Outcome(Verdict(r["verdict"]), r["sentence"]),
                tuple(CheckStep(step["name"], Span(**step["span"])) for step in json.loads(r["steps"])),
            )
            for r in self._all("SELECT * FROM check_result ORDER BY id")
        ]

    def add_check(self, kind: CheckKind, spans: Sequence[Span]) -> CheckResult:
        """Judge a check by the values of its steps (`take_span`), and keep it with its verdict."""
        outcome = judge(kind, [(span.volts, span.u_volts) for span in spans])
        names = [step.name for step in STEPS[kind]]
        return self._keep_check(kind, outcome, tuple(map(CheckStep, names, spans)))

    def skip_check(self, kind: CheckKind, reason: str) -> CheckResult:
        """Keep that a check was not done, and why."""
        return self._keep_check(kind, skipped(reason), ())

    def _keep_check(self, kind: CheckKind, outcome: Outcome, steps: tuple[CheckStep, ...]) -> CheckResult:
        utc_ns = self._clock.utc_ns()
        with self._writing():
            cursor = self._db.execute(
                "INSERT INTO check_result (utc_ns, kind, verdict, sentence, steps) VALUES (?, ?, ?, ?, ?)",
                (
                    utc_ns,
                    kind,
                    outcome.verdict,
                    outcome.sentence,
                    json.dumps([asdict(step) for step in steps]),
                ),
            )
        return CheckResult(_row_id(cursor), utc_ns, kind, outcome, steps)

    def context(self) -> Context:
        """What holds for a reading taken now."""
        return Context(self.setup(), {check.kind: check.outcome.verdict for check in self.checks()})

    # --- spots -------------------------------------------------------------------------------------------

    def spots(self) -> list[Spot]:
        """The spots of the visit in the order of the route, without removed ones."""
        rows = self._all(
            "SELECT id, name, room, reminder FROM spot WHERE removed_utc_ns IS NULL ORDER BY position, id"
        )
        return [Spot(r["id"], r["name"], r["room"], r["reminder"]) for r in rows]

    def add_spot(self, name: str, room: str = "", reminder: str = "") -> Spot:
        """Add a spot at the end of the route; raises StillvoltError for an empty or duplicate name."""
        with self._writing():
            name = self._new_spot_name(name, None)
            position = self._one("SELECT coalesce(max(position), 0) + 1 FROM spot")[0]
            room, reminder = room.strip(), reminder.strip()
            cursor = self._db.execute(
                "INSERT INTO spot (name, position, room, reminder) VALUES (?, ?, ?, ?)",
                (name, position, room, reminder),
            )
            return Spot(_row_id(cursor), name, room, reminder)

    def describe_spot(self, spot_id: int, room: str, reminder: str) -> None:
        """State where a spot is and what has to be on when it is read."""
        with self._writing():
            self._db.execute(
                "UPDATE spot SET room = ?, reminder = ? WHERE id = ?",
                (room.strip(), reminder.strip(), spot_id),
            )

    def rename_spot(self, spot_id: int, name: str) -> None:
        """Rename a spot; readings keep the name that it had."""
        with self._writing():
            name = self._new_spot_name(name, spot_id)
            self._db.execute("UPDATE spot SET name = ? WHERE id = ?", (name, spot_id))

    def move_spot(self, spot_id: int, places: int) -> None:
        """Move a spot by so many places along the route (negative: earlier); stops at the ends."""
        with self._writing():
            order = [spot.id for spot in self.spots()]
            if spot_id not in order:
                return
            at = order.index(spot_id)
            order.insert(min(max(at + places, 0), len(order) - 1), order.pop(at))
            self._db.executemany(
                "UPDATE spot SET position = ? WHERE id = ?", [(i + 1, s) for i, s in enumerate(order)]
            )

    def remove_spot(self, spot_id: int) -> None:
        """Take a spot off the route; its readings stay, and `restore_spot` brings it back."""
        with self._writing():
            self._db.execute(
                "UPDATE spot SET removed_utc_ns = ? WHERE id = ?", (self._clock.utc_ns(), spot_id)
            )

    def restore_spot(self, spot_id: int) -> None:
        """Bring a removed spot back to where it was; raises StillvoltError if its name is taken by now."""
        with self._writing():
            self._new_spot_name(self._one("SELECT name FROM spot WHERE id = ?", (spot_id,))[0], spot_id)
            self._db.execute("UPDATE spot SET removed_utc_ns = NULL WHERE id = ?", (spot_id,))

    def _new_spot_name(self, name: str, but_not: int | None) -> str:
        name = " ".join(name.split())
        if not name:
            raise StillvoltError("A spot needs a name.", "Nothing was changed.", "Type one, such as 'Bed'.")
        if any(spot.name.casefold() == name.casefold() and spot.id != but_not for spot in self.spots()):
            raise StillvoltError(
                f"There is a spot '{name}' already.", "Nothing was changed.", "Give this one another name."
            )
        return name

    # --- readings ----------------------------------------------------------------------------------------

    def readings(self) -> list[Reading]:
        """All readings, oldest first, voided ones too."""
        rows = self._all(
            "SELECT reading.*, run.started_utc_ns, reading_void.reason AS void_reason, "
            "reading_void.utc_ns AS void_utc_ns FROM reading LEFT JOIN run ON run.id = reading.run_id "
            "LEFT JOIN reading_void ON reading_void.reading_id = reading.id ORDER BY reading.id"
        )
        return [_reading(r) for r in rows]

    def why_not_settled(self) -> str:
        """Why no settled value can be taken now, in one sentence; empty when one can."""
        live = self.live()
        if live is None or live.ended:
            return "Nothing is being recorded."
        if abs(self._clock.utc_ns() - live.beat_utc_ns) > LIVE_STALE_S * 1e9:
            return "The recorder has stopped writing."
        if live.port_state == "lost":
            return live.port_message
        if live.warning and (live.frozen or live.state in (State.WAITING, State.LOST)):
            return live.warning
        return _NOT_SETTLED.get(live.state, "")

    def take_reading(self, spot_id: int, condition: str = "", override: bool = False) -> Reading:
        """Take the settled value for a spot, or, by override, what the meter shows, marked as such.

        Args:
            spot_id: where.
            condition: what is live, as the user stated it.
            override: take the mean of the last OVERRIDE_SPAN_S although it is not settled. Where the value
                is settled, the settled one is taken and nothing is marked.

        Raises:
            StillvoltError: not settled (and no override), nothing recorded, or no such spot.
        """
        with self._writing():
            span, taken = self._take(override)
            spot = self._all("SELECT name FROM spot WHERE id = ? AND removed_utc_ns IS NULL", (spot_id,))
            if not spot:
                raise StillvoltError("That spot is no longer on the list.", "No reading was taken.")
            cursor = self._db.execute(
                "INSERT INTO reading (utc_ns, run_id, spot_id, spot_name, condition, volts, u_volts, samples, "
                "start_t_ns, end_t_ns, first_line_id, last_line_id, taken, context) "
                "VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?)",
                (
                    self._clock.utc_ns(), span.run_id, spot_id, spot[0]["name"], condition, span.volts,
                    span.u_volts, span.samples, span.start_t_ns, span.end_t_ns, span.first_line_id,
                    span.last_line_id, taken, self.context().to_json(),
                ),
            )  # fmt: skip
            reading_id = _row_id(cursor)
        return next(r for r in self.readings() if r.id == reading_id)

    def enter_reading(self, spot_id: int, condition: str, volts: float, u_volts: float) -> Reading:
        """Enter a value that was read from the meter's display by hand; it is marked as such.

        Args:
            spot_id: where.
            condition: what was live.
            volts: as the display showed it; 0 or more.
            u_volts: standard uncertainty of reading a wandering display, as the user judges it.

        Raises:
            StillvoltError: not a voltage, or no such spot.
        """
        if not (isfinite(volts) and isfinite(u_volts) and volts >= 0.0 and u_volts >= 0.0):
            raise StillvoltError("An AC voltage is a number of zero or more.", "No reading was taken.")
        with self._writing():
            spot = self._all("SELECT name FROM spot WHERE id = ? AND removed_utc_ns IS NULL", (spot_id,))
            if not spot:
                raise StillvoltError("That spot is no longer on the list.", "No reading was taken.")
            cursor = self._db.execute(
                "INSERT INTO reading (utc_ns, spot_id, spot_name, condition, volts, u_volts, samples, taken, "
                "context) VALUES (?,?,?,?,?,?,1,'by hand',?)",
                (
                    self._clock.utc_ns(), spot_id, spot[0]["name"], condition, volts, u_volts,
                    self.context().to_json(),
                ),
            )  # fmt: skip
            reading_id = _row_id(cursor)
        return next(r for r in self.readings() if r.id == reading_id)

    def take_span(self) -> Span:
        """The settled value now with the stretch it rests on; raises StillvoltError while none is settled."""
        with self._writing():
            return self._take(override=False)[0]

    def _take(self, override: bool) -> tuple[Span, Taken]:
        """The value that can be taken now. To be called within a transaction, so that it belongs together."""
        refusal = self.why_not_settled()
        live = self.live()
        if refusal and not (override and live and not live.ended):
            raise StillvoltError(refusal, "No reading was taken.")
        assert live is not None
        if refusal:
            end_ns = live.beat_steady_utc_ns - live.run_started_utc_ns
            start_ns = end_ns - round(OVERRIDE_SPAN_S * 1e9)
            first, last, volts, u_volts, samples = self._last_stretch(live.run_id, start_ns)
            return Span(volts, u_volts, samples, live.run_id, start_ns, end_ns, first, last), "override"
        start_ns = live.since_steady_utc_ns - live.run_started_utc_ns
        first = self.line_at(live.run_id, start_ns)
        last, end_ns = self._one(
            "SELECT id, t_ns FROM line WHERE id <= ? AND status = 'volts' ORDER BY id DESC LIMIT 1",
            (live.last_line_id,),
        )
        assert live.volts is not None and live.u_volts is not None
        span = Span(live.volts, live.u_volts, live.samples, live.run_id, start_ns, end_ns, first, last)
        return span, "settled"

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

    def _last_stretch(self, run_id: int, start_t_ns: int) -> tuple[int, int, float, float, int]:
        rows = self._all(
            "SELECT id, volts FROM line WHERE id >= ? AND run_id = ? AND status = 'volts' ORDER BY id",
            (self.line_at(run_id, start_t_ns), run_id),
        )
        if len(rows) < SETTLED_ENOUGH_SAMPLES:
            raise StillvoltError(
                f"The meter sent no value in the last {OVERRIDE_SPAN_S:.0f} s.", "No reading was taken."
            )
        volts = np.array([r["volts"] for r in rows])
        # Not divided by sqrt(n): while the body moves, more samples do not make the mean any truer.
        return rows[0]["id"], rows[-1]["id"], float(volts.mean()), float(volts.std(ddof=1)), len(rows)

    def void_reading(self, reading_id: int, reason: str) -> None:
        """Declare a reading mistaken; it stays in the log, with the reason."""
        with self._writing():
            self._db.execute(
                "INSERT OR IGNORE INTO reading_void (reading_id, utc_ns, reason) VALUES (?, ?, ?)",
                (reading_id, self._clock.utc_ns(), reason.strip() or "undone"),
            )

    # --- marks -------------------------------------------------------------------------------------------

    def add_mark(self, text: str, moment: Live | None = None) -> Mark:
        """Put free text at a moment of the log: when the recorder told `moment`, or now."""
        with self._writing():
            live = moment or self.live()
            utc_ns = moment.beat_utc_ns if moment else self._clock.utc_ns()
            running = live is not None and not live.ended
            run_id = live.run_id if live and running else None
            t_ns = live.beat_steady_utc_ns - live.run_started_utc_ns if live and running else None
            cursor = self._db.execute(
                "INSERT INTO mark (utc_ns, run_id, t_ns, text) VALUES (?, ?, ?, ?)",
                (utc_ns, run_id, t_ns, text.strip()),
            )
            steady = live.beat_steady_utc_ns if live and running else None
            return Mark(_row_id(cursor), utc_ns, run_id, steady, text.strip(), None)

    def marks(self) -> list[Mark]:
        """All marks, oldest first, voided ones too."""
        rows = self._all(
            "SELECT mark.*, run.started_utc_ns, mark_void.reason FROM mark LEFT JOIN run ON run.id = mark.run_id "
            "LEFT JOIN mark_void ON mark_void.mark_id = mark.id ORDER BY mark.id"
        )
        return [
            Mark(
                r["id"], r["utc_ns"], r["run_id"],
                None if r["t_ns"] is None else r["started_utc_ns"] + r["t_ns"], r["text"], r["reason"],
            )
            for r in rows
        ]  # fmt: skip

    def void_mark(self, mark_id: int, reason: str) -> None:
        """Declare a mark mistaken; it stays in the log, with the reason."""
        with self._writing():
            self._db.execute(
                "INSERT OR IGNORE INTO mark_void (mark_id, utc_ns, reason) VALUES (?, ?, ?)",
                (mark_id, self._clock.utc_ns(), reason.strip() or "undone"),
            )

    # --- plumbing ----------------------------------------------------------------------------------------

    def run_started_utc_ns(self, run_id: int) -> int:
        """When a run began, by the computer's clock; raises KeyError for one that is not there."""
        if run_id not in self._run_started:
            rows = self._all("SELECT started_utc_ns FROM run WHERE id = ?", (run_id,))
            if not rows:
                raise KeyError(run_id)
            self._run_started[run_id] = rows[0]["started_utc_ns"]
        return self._run_started[run_id]

    @contextmanager
    def _writing(self) -> Iterator[None]:
        """One transaction; what keeps the disk from taking it is told, and nothing of it is written."""
        try:
            with self._lock, _connection.transaction(self._db):
                yield
        except sqlite3.OperationalError as error:
            raise StillvoltError(
                f"The visit log cannot be written ({error}).",
                "Everything written before is kept.",
                "If the disk is full, make room and do it again.",
            ) from error

    @contextmanager
    def _reading(self) -> Iterator[None]:
        """What keeps the log from being read is told in words."""
        try:
            with self._lock:
                yield
        except sqlite3.OperationalError as error:
            raise StillvoltError(
                f"The visit log cannot be read now ({error}).",
                "It was not changed.",
                "Try again in a moment.",
            ) from error

    def _all(self, sql: str, values: Sequence[object] = ()) -> list[sqlite3.Row]:
        with self._reading():
            return self._db.execute(sql, values).fetchall()

    def _one(self, sql: str, values: Sequence[object] = ()) -> sqlite3.Row:
        with self._reading():
            row: sqlite3.Row = self._db.execute(sql, values).fetchone()
            return row


_NOT_SETTLED = {
    State.WAITING: "The meter has not sent a value yet.",
    State.SETTLING: "The value is still settling.",
    State.MOVING: "The body is moving.",
    State.RESTLESS: "The body has not been still for long enough.",
    State.DRIFTING: "The value is drifting.",
    State.OVERLOAD: "The meter shows overload.",
    State.LOST: "No value comes from the meter.",
}


def _row_id(cursor: sqlite3.Cursor) -> int:
    assert cursor.lastrowid is not None
    return cursor.lastrowid


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


def _reading(r: sqlite3.Row) -> Reading:
    def steady(t_ns: int | None) -> int | None:
        return None if t_ns is None else r["started_utc_ns"] + t_ns

    return Reading(
        r["id"], r["utc_ns"], r["run_id"], r["spot_id"], r["spot_name"], r["condition"], r["volts"],
        r["u_volts"], r["samples"], steady(r["start_t_ns"]), steady(r["end_t_ns"]), r["first_line_id"],
        r["last_line_id"], r["taken"], Context.from_json(r["context"]) if r["context"] else None,
        r["void_reason"], r["void_utc_ns"],
    )  # fmt: skip
