"""Facts about a visit, each a name and a text. Older values stay in the log; the newest one of a name holds."""

from __future__ import annotations

import json
from contextlib import suppress

from logger.visit.records.condition import EarlierStatement, EndedStatement, StatedMoment, Statement
from logger.visit.records.fact_names import (
    CONDITION,
    CONDITION_BEGUN,
    CONDITION_ENDED,
    SALVAGED_FROM,
    SETUP_CHANGED,
)
from logger.visit.records.recording_records import Live
from logger.visit.records.salvage_record import SalvageRecord, combined
from logger.visit.storage.log_connection import LogConnection
from logger.visit.storage.name_history import NameHistory


class FactStore:
    """The facts. Those that name circuits and cords are read by the present names of these.

    Args:
        connection: the open log.
    """

    def __init__(self, connection: LogConnection) -> None:
        self._connection = connection
        self.names = NameHistory(connection)
        """What names circuits and cords had at each entry."""

    def get(self, name: str, default: str = "") -> str:
        """The newest value of a fact."""
        rows = self._connection.all(
            "SELECT id, value FROM fact WHERE name = ? ORDER BY id DESC LIMIT 1", (name,)
        )
        return self.names.present(name, rows[0]["id"], rows[0]["value"]) if rows else default

    def values_of(self, name: str) -> list[tuple[int, str]]:
        """Every value that a fact has had, oldest first, each with the UTC ns at which it was set."""
        return [(utc_ns, value) for _, utc_ns, value in self.entries_of(name)]

    def entries_of(self, name: str) -> list[tuple[int, int, str]]:
        """The same, each value with its id in front, which tells the order of facts whatever the clock was set to."""
        rows = self._connection.all("SELECT id, utc_ns, value FROM fact WHERE name = ? ORDER BY id", (name,))
        return [(r["id"], r["utc_ns"], self.names.present(name, r["id"], r["value"])) for r in rows]

    def set(self, name: str, value: str) -> None:
        """Set a fact; the older value stays in the log."""
        with self._connection.writing():
            self.insert(name, value)

    def insert(self, name: str, value: str) -> None:
        """Do what `set` does as a part of a transaction that others began with `writing`."""
        self._connection.execute(
            "INSERT INTO fact (utc_ns, name, value) VALUES (?, ?, ?)",
            (self._connection.clock.utc_ns(), name, value),
        )

    def state_condition(self, condition: str, live: Live | None) -> None:
        """State what is on from now on, and keep until when the statement before held.

        Args:
            condition: what is on; empty: it is not known any more.
            live: the newest heartbeat, whose moment is that of the statement; None where nothing was recorded.
        """
        with self._connection.writing():
            before = self.condition().condition
            if before and before != condition and live is not None and not live.ended:
                t_ns = live.beat_steady_utc_ns - live.run_started_utc_ns
                ended = {"condition": before, "run_id": live.run_id, "t_ns": t_ns}
                self.insert(CONDITION_ENDED, json.dumps(ended))
            self.insert(CONDITION, condition)
            if live is not None and not live.ended:
                begun = Statement.as_begun(condition, live.run_id, live.beat_steady_utc_ns)
                self.insert(CONDITION_BEGUN, begun)

    def other_condition_ended(self, condition: str, run_id: int) -> EndedStatement | None:
        """The last statement of a run that stated something else than this, and when it ended; None without one.

        Args:
            condition: what is on now.
            run_id: of the run.
        """
        statements = (EndedStatement.from_json(value) for _, value in self.values_of(CONDITION_ENDED))
        others = [s for s in statements if s is not None and s.run_id == run_id and s.condition != condition]
        return others[-1] if others else None

    def setup_changed(self, live: Live) -> None:
        """Keep that another reference or meter input holds from now on.

        Args:
            live: the newest heartbeat, whose moment is that of the change.
        """
        t_ns = live.beat_steady_utc_ns - live.run_started_utc_ns
        self.insert(SETUP_CHANGED, json.dumps({"run_id": live.run_id, "t_ns": t_ns}))

    def setup_changed_ns(self, run_id: int) -> int | None:
        """When that changed last in a run, ns since its start; None where it never did."""
        moments = []
        for _, value in self.values_of(SETUP_CHANGED):
            # What somebody else wrote there is no moment.
            with suppress(ValueError, KeyError, TypeError):
                fields = json.loads(value)
                moments += [int(fields["t_ns"])] if fields["run_id"] == run_id else []
        return moments[-1] if moments else None

    def stated_moments(self) -> list[StatedMoment]:
        """When it was stated in a run what is on, or that it is not known any more, oldest first."""
        moments = (StatedMoment.from_json(value) for _, value in self.values_of(CONDITION_BEGUN))
        return [moment for moment in moments if moment is not None]

    def condition(self) -> Statement:
        """The condition that was last stated; see there for how long it holds."""
        rows = self._connection.all(
            "SELECT id, value, utc_ns FROM fact WHERE name = ? ORDER BY id DESC LIMIT 1", (CONDITION,)
        )
        if not rows:
            return Statement()
        begun = self._connection.all(
            "SELECT id, value FROM fact WHERE name = ? AND id > ? ORDER BY id LIMIT 1",
            (CONDITION_BEGUN, rows[0]["id"]),
        )
        stated = Statement(self.names.present(CONDITION, rows[0]["id"], rows[0]["value"]), rows[0]["utc_ns"])
        if not begun:
            return stated
        return stated.with_moment(self.names.present(CONDITION_BEGUN, begun[0]["id"], begun[0]["value"]))

    def condition_before(self) -> EarlierStatement:
        """What was stated last before the present statement, and in which runs it held."""
        rows = self._connection.all(
            "SELECT id, value FROM fact WHERE name = ? AND value != '' ORDER BY id DESC LIMIT 2", (CONDITION,)
        )
        if len(rows) < 2:
            return EarlierStatement()
        ids = range(rows[1]["id"], rows[0]["id"])
        ended = [EndedStatement.from_json(v) for n, _, v in self.entries_of(CONDITION_ENDED) if n in ids]
        begun = [StatedMoment.from_json(v) for n, _, v in self.entries_of(CONDITION_BEGUN) if n in ids]
        run_ids = {one.run_id for one in ended if one is not None}
        run_ids |= {one.run_id for one in begun if one is not None and one.condition}
        condition = self.names.present(CONDITION, rows[1]["id"], rows[1]["value"])
        return EarlierStatement(condition, frozenset(run_ids))

    def salvage(self) -> SalvageRecord | None:
        """What was lost when the visit was salvaged; None where it never was."""
        return combined([SalvageRecord.from_fact(value) for _, value in self.values_of(SALVAGED_FROM)])
