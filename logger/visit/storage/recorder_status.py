"""The recorder as others know it from the log: its heartbeat, and the request that it stop."""

from __future__ import annotations

import json
import sqlite3

from logger.settling.events import State, from_fields
from logger.translation import tr, tr_kept
from logger.visit.records.heartbeat import HeartbeatMonitor
from logger.visit.records.recording_records import Live
from logger.visit.records.stop_source import StopSource
from logger.visit.storage.damage import UNREADABLE_ENTRY, damaged
from logger.visit.storage.log_connection import LogConnection


class RecorderStatus:
    """The heartbeat of the newest run."""

    def __init__(self, connection: LogConnection) -> None:
        self._connection = connection
        self._heartbeats = HeartbeatMonitor(connection.clock)

    def live(self) -> Live | None:
        """The newest heartbeat of the newest run; None when nothing was ever recorded.

        Raises:
            StillvoltError: it holds what no recorder has written.
        """
        rows = self._connection.all(
            "SELECT live.*, run.started_utc_ns, run.port, run_end.run_id IS NOT NULL AS ended "
            "FROM live JOIN run ON run.id = live.run_id LEFT JOIN run_end ON run_end.run_id = live.run_id "
            "ORDER BY live.run_id DESC LIMIT 1"
        )
        if not rows:
            return None
        try:
            return self._live(rows[0])
        except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
            raise damaged(self._connection.path, tr(UNREADABLE_ENTRY)) from error

    @staticmethod
    def _live(r: sqlite3.Row) -> Live:
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

    def is_stale(self, live: Live) -> bool:
        """Whether the recorder that wrote this heartbeat has stopped writing without an end."""
        return not live.ended and self._heartbeats.is_stale(live)

    def why_no_value(self, live: Live | None) -> str:
        """Why no value comes at all, settled or not; empty when values come."""
        if live is None or live.ended:
            return tr("Nothing is being recorded.")
        if self.is_stale(live):
            return tr("The recorder has stopped writing.")
        return tr_kept(live.port_message) if live.port_state == "lost" else ""

    def request_stop(self, source: StopSource = StopSource.WINDOW) -> None:
        """Ask the recorder of the newest run to stop in an orderly way, and keep who asked."""
        # A recorder of an earlier version knows the request of a window only, and ends at the first one it finds.
        with self._connection.writing():
            for what in dict.fromkeys((source, StopSource.WINDOW)):
                self._connection.execute(
                    "INSERT INTO request (run_id, utc_ns, what) SELECT max(id), ?, ? FROM run HAVING max(id) > 0",
                    (self._connection.clock.utc_ns(), what.value),
                )
