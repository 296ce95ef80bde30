"""Marks: free text at a moment of the visit. A mistaken mark is voided with a reason; it stays in the log."""

from __future__ import annotations

from dataclasses import replace

from logger.translation import kept_text
from logger.visit.records.fact_names import MARK_ABOUT
from logger.visit.records.mark_about import MarkAbout
from logger.visit.records.reading_records import Mark
from logger.visit.records.recording_records import Live
from logger.visit.storage.fact_store import FactStore
from logger.visit.storage.log_connection import LogConnection
from logger.visit.storage.recorder_status import RecorderStatus


class MarkStore:
    """The marks.

    Args:
        connection: the open log.
        recorder: gives the newest heartbeat.
        facts: keep which readings a mark is about.
    """

    def __init__(self, connection: LogConnection, recorder: RecorderStatus, facts: FactStore) -> None:
        self._connection = connection
        self._recorder = recorder
        self._facts = facts

    def add(self, text: str, moment: Live | None = None) -> Mark:
        """Put free text at a moment of the log: that of the heartbeat `moment`, or now."""
        with self._connection.writing():
            live = moment or self._recorder.live()
            utc_ns = moment.beat_utc_ns if moment else self._connection.clock.utc_ns()
            # An old heartbeat is no moment of the run: a recorder that cannot write goes on without it.
            running = live is not None and not live.ended and (moment or not self._recorder.is_stale(live))
            run_id = live.run_id if live and running else None
            t_ns = live.beat_steady_utc_ns - live.run_started_utc_ns if live and running else None
            mark_id = self._connection.insert(
                "INSERT INTO mark (utc_ns, run_id, t_ns, text) VALUES (?, ?, ?, ?)",
                (utc_ns, run_id, t_ns, text.strip()),
            )
            steady = live.beat_steady_utc_ns if live and running else None
            return Mark(mark_id, utc_ns, run_id, steady, text.strip(), None)

    def add_again(self, mark: Mark) -> Mark:
        """Put a mark once more at its own moment, after it was voided; the void one stays in the log."""
        with self._connection.writing():
            mark_id = self._connection.insert(
                "INSERT INTO mark (utc_ns, run_id, t_ns, text) "
                "SELECT utc_ns, run_id, t_ns, text FROM mark WHERE id = ?",
                (mark.id,),
            )
            if (about := self.about().get(mark.id)) is not None:
                self._facts.insert(MARK_ABOUT, about.to_json(mark_id))
        return replace(mark, id=mark_id, void_reason=None)

    def state_about(self, mark_id: int, about: MarkAbout) -> None:
        """State which readings a mark is about."""
        self._facts.set(MARK_ABOUT, about.to_json(mark_id))

    def about(self) -> dict[int, MarkAbout]:
        """Which readings each mark is about, by its id; marks of which nobody stated it are missing."""
        stated = (MarkAbout.from_json(value) for _, value in self._facts.values_of(MARK_ABOUT))
        return dict(filter(None, stated))

    def all(self) -> list[Mark]:
        """All marks, oldest first, voided ones too."""
        rows = self._connection.all(
            "SELECT mark.*, run.started_utc_ns, mark_void.reason FROM mark LEFT JOIN run ON run.id = mark.run_id "
            "LEFT JOIN mark_void ON mark_void.mark_id = mark.id ORDER BY mark.id"
        )
        return [
            Mark(
                r["id"], r["utc_ns"], r["run_id"],
                # Where its run is missing, so is its place in the trace.
                None if None in (r["t_ns"], r["started_utc_ns"]) else r["started_utc_ns"] + r["t_ns"],
                r["text"], r["reason"],
            )
            for r in rows
        ]  # fmt: skip

    def void(self, mark_id: int, reason: str) -> None:
        """Declare a mark mistaken; it stays in the log, with the reason."""
        with self._connection.writing():
            self._connection.execute(
                "INSERT OR IGNORE INTO mark_void (mark_id, utc_ns, reason) VALUES (?, ?, ?)",
                (mark_id, self._connection.clock.utc_ns(), reason.strip() or kept_text("undone")),
            )
