"""Readings and marks: taken, entered by hand, voided with a reason; nothing is ever changed."""

from __future__ import annotations

import json
import sqlite3
from math import isfinite, sqrt
from pathlib import Path

import numpy as np

from logger.clock import Clock
from logger.errors import StillvoltError
from logger.metrology.context import Context
from logger.settling.events import State
from logger.visit.records.heartbeat import HeartbeatMonitor
from logger.visit.records.records import Live, Mark, Reading, Span, Taken
from logger.visit.storage.run_store import RunStore
from logger.visit.storage.setup_store import SetupStore
from logger.visit.storage.store import row_id

SETTLED_ENOUGH_SAMPLES = 2
"""Fewer samples than this are no mean."""

OVERRIDE_SPAN_S = 3.0
"""A reading that is taken by override is the mean of the samples of this last stretch."""


class ReadingStore(RunStore, SetupStore):
    """Readings and marks, and the value that can be taken now."""

    def __init__(self, path: Path, connection: sqlite3.Connection, clock: Clock) -> None:
        super().__init__(path, connection, clock)
        self._beats = HeartbeatMonitor(clock)

    def readings(self) -> list[Reading]:
        """All readings, oldest first, voided ones too."""
        rows = self._all(
            "SELECT reading.*, run.started_utc_ns, reading_void.reason AS void_reason, "
            "reading_void.utc_ns AS void_utc_ns FROM reading LEFT JOIN run ON run.id = reading.run_id "
            "LEFT JOIN reading_void ON reading_void.reading_id = reading.id ORDER BY reading.id"
        )
        return [_reading(r) for r in rows]

    def recorder_silent(self, live: Live) -> bool:
        """Whether the recorder that wrote this has stopped writing without an end."""
        return not live.ended and self._beats.silent(live)

    def _why_no_value(self, live: Live | None) -> str:
        """Why no value comes at all, settled or not; empty when values come."""
        if live is None or live.ended:
            return "Nothing is being recorded."
        if self.recorder_silent(live):
            return "The recorder has stopped writing."
        return live.port_message if live.port_state == "lost" else ""

    def why_not_settled(self) -> str:
        """Why no settled value can be taken now, in one sentence; empty when one can."""
        live = self.live()
        if no_value := self._why_no_value(live):
            return no_value
        assert live is not None
        if live.warning and (live.frozen or live.state in (State.WAITING, State.LOST)):
            return live.warning
        return _NOT_SETTLED.get(live.state, "")

    def take_reading(
        self,
        spot_id: int,
        condition: str = "",
        override: bool = False,
        live: frozenset[int] | None = None,
        switched_utc_ns: int = 0,
    ) -> Reading:
        """Take the settled value for a spot, or, by override, what the meter shows, marked as such.

        Args:
            spot_id: where.
            condition: what is live, as the user stated it.
            override: take the mean of the last OVERRIDE_SPAN_S although it is not settled. Where the value
                is settled, the settled one is taken and nothing is marked.
            live: ids of the circuits that are live, where that is stated one by one.
            switched_utc_ns: when something was last switched (steady time line): samples before it do not count,
                also where the switching was too small to begin a new still span.

        Raises:
            StillvoltError: not settled (and no override), nothing recorded, or no such spot.
        """
        with self._writing():
            span, taken = self._take(override, switched_utc_ns)
            reading_id = self._keep(spot_id, condition, live, span.volts, span.u_volts, taken, span)
        return next(r for r in self.readings() if r.id == reading_id)

    def enter_reading(
        self,
        spot_id: int,
        condition: str,
        volts: float,
        u_volts: float,
        live: frozenset[int] | None = None,
    ) -> Reading:
        """Enter a value that was read from the meter's display by hand; it is marked as such.

        Args:
            spot_id: where.
            condition: what was live.
            volts: as the display showed it; 0 or more.
            u_volts: standard uncertainty of reading a wandering display, as the user judges it.
            live: ids of the circuits that were live, where that is stated one by one.

        Raises:
            StillvoltError: not a voltage, or no such spot.
        """
        if not (isfinite(volts) and isfinite(u_volts) and volts >= 0.0 and u_volts >= 0.0):
            raise StillvoltError("An AC voltage is a number of zero or more.", "No reading was taken.")
        with self._writing():
            reading_id = self._keep(spot_id, condition, live, volts, u_volts, "by hand", None)
        return next(r for r in self.readings() if r.id == reading_id)

    def _keep(
        self,
        spot_id: int,
        condition: str,
        live: frozenset[int] | None,
        volts: float,
        u_volts: float,
        taken: Taken,
        span: Span | None,
    ) -> int:
        spot = self._all("SELECT name FROM spot WHERE id = ? AND removed_utc_ns IS NULL", (spot_id,))
        if not spot:
            raise StillvoltError("That spot is no longer on the list.", "No reading was taken.")
        cursor = self._db.execute(
            "INSERT INTO reading (utc_ns, run_id, spot_id, spot_name, condition, volts, u_volts, samples, "
            "start_t_ns, end_t_ns, first_line_id, last_line_id, taken, context, live) "
            "VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)",
            (
                self._clock.utc_ns(), span.run_id if span else None, spot_id, spot[0]["name"], condition, volts,
                u_volts, *((span.samples, span.start_t_ns, span.end_t_ns, span.first_line_id, span.last_line_id)
                if span else (1, None, None, None, None)), taken, self.context().to_json(),
                "" if live is None else json.dumps({"live": sorted(live), "listed": self._listed()}),
            ),
        )  # fmt: skip
        return row_id(cursor)

    def _listed(self) -> list[int]:
        return [r["id"] for r in self._all("SELECT id FROM source WHERE removed_utc_ns IS NULL ORDER BY id")]

    def take_span(self) -> Span:
        """The settled value now with the stretch it rests on; raises StillvoltError while none is settled."""
        with self._writing():
            return self._take(override=False, switched_utc_ns=0)[0]

    def _take(self, override: bool, switched_utc_ns: int) -> tuple[Span, Taken]:
        """The value that can be taken now. To be called within a transaction, so that it belongs together."""
        refusal = self.why_not_settled()
        live = self.live()
        # An override takes what is not settled, never what was there before the cable was pulled.
        if refusal and (not override or self._why_no_value(live)):
            raise StillvoltError(refusal, "No reading was taken.")
        assert live is not None
        if refusal:
            end_ns = live.beat_steady_utc_ns - live.run_started_utc_ns
            start_ns = end_ns - round(OVERRIDE_SPAN_S * 1e9)
            first, last, volts, u_volts, samples = self._last_stretch(live.run_id, start_ns)
            return Span(volts, u_volts, samples, live.run_id, start_ns, end_ns, first, last), "override"
        start_ns = live.since_steady_utc_ns - live.run_started_utc_ns
        last, end_ns = self._one(
            "SELECT id, t_ns FROM line WHERE id <= ? AND status = 'volts' ORDER BY id DESC LIMIT 1",
            (live.last_line_id,),
        )
        assert live.volts is not None and live.u_volts is not None
        volts, u_volts, samples = live.volts, live.u_volts, live.samples
        switched_ns = switched_utc_ns - live.run_started_utc_ns
        if switched_ns > start_ns:
            start_ns = switched_ns
            since = self.samples_between(self.line_at(live.run_id, start_ns), last).volts
            if len(since) < SETTLED_ENOUGH_SAMPLES:
                raise StillvoltError(
                    "No value has come since it was switched.", "No reading was taken.", "Wait a moment."
                )
            # The scatter is that of the whole span; fewer samples average it less.
            u_volts *= sqrt(max(samples / len(since), 1.0))
            volts, samples = float(since.mean()), len(since)
        first = self.line_at(live.run_id, start_ns)
        span = Span(volts, u_volts, samples, live.run_id, start_ns, end_ns, first, last)
        return span, "settled"

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
            return Mark(row_id(cursor), utc_ns, run_id, steady, text.strip(), None)

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


_NOT_SETTLED = {
    State.WAITING: "The meter has not sent a value yet.",
    State.SETTLING: "The value is still settling.",
    State.CHANGING: "The body is moving.",
    State.CHANGING_LONG: "The body has not been still for long enough.",
    State.DRIFTING: "The value is drifting.",
    State.OVERLOAD: "The meter shows overload.",
    State.LOST: "No value comes from the meter.",
}


def _reading(r: sqlite3.Row) -> Reading:
    def steady(t_ns: int | None) -> int | None:
        return None if t_ns is None else r["started_utc_ns"] + t_ns

    stated = json.loads(r["live"]) if r["live"] else None
    return Reading(
        r["id"], r["utc_ns"], r["run_id"], r["spot_id"], r["spot_name"], r["condition"], r["volts"],
        r["u_volts"], r["samples"], steady(r["start_t_ns"]), steady(r["end_t_ns"]), r["first_line_id"],
        r["last_line_id"], r["taken"], Context.from_json(r["context"]) if r["context"] else None,
        frozenset(stated["live"]) if stated else None,
        frozenset(stated["listed"]) if stated else frozenset(),
        r["void_reason"], r["void_utc_ns"],
    )  # fmt: skip
