"""The circuits and cords of a home. The list may be edited; step labels and readings keep the ids they refer to."""

from __future__ import annotations

import json
import sqlite3

from logger.translation import marked
from logger.visit.records.essential_circuits import why_it_stays
from logger.visit.records.fact_names import RENAMED
from logger.visit.records.home_records import Source, SourceKind
from logger.visit.storage.fact_store import FactStore
from logger.visit.storage.log_connection import LogConnection
from logger.visit.storage.ordered_list import NameRefusals, OrderedList

_REFUSALS = NameRefusals(
    marked("A circuit or cord needs a name."),
    marked("There is a circuit or cord “{name}” already."),
    marked("A visit holds at most {most} circuits and cords, removed ones among them."),
)


class CircuitStore:
    """The circuits and cords.

    Args:
        connection: the open log.
        facts: keep each other name, for what was stated in words before.
    """

    def __init__(self, connection: LogConnection, facts: FactStore) -> None:
        self._connection = connection
        self._facts = facts
        self._list = OrderedList(connection, "source", _REFUSALS)

    def all(self) -> list[Source]:
        """Circuits and cords in the order of the list, without removed ones."""
        rows = self._connection.all("SELECT * FROM source WHERE removed_utc_ns IS NULL ORDER BY position, id")
        return [_source(r) for r in rows]

    def with_removed(self) -> dict[int, Source]:
        """All that were ever on the list, by id: older step labels and readings may refer to removed ones."""
        return {
            r["id"]: _source(r) for r in self._connection.all("SELECT * FROM source ORDER BY position, id")
        }

    def add(
        self, kind: SourceKind, name: str, circuit_id: int | None = None, two_pole: bool = False
    ) -> Source:
        """Add a circuit or a cord at the end of the list.

        A name that suggests a refrigerator, an alarm, a medical device and the like is marked as essential; the user
        may decide otherwise.

        Args:
            kind: circuit or cord.
            name: as on the panel, or as the household calls it.
            circuit_id: the circuit that a cord is plugged into, where it is known.
            two_pole: a breaker that switches two legs together.

        Raises:
            StillvoltError: an empty or duplicate name.
        """
        with self._connection.writing():
            name = self._list.new_name(name)
            stays = why_it_stays(name)
            source_id = self._connection.insert(
                "INSERT INTO source (kind, name, position, circuit_id, two_pole, stays) VALUES (?,?,?,?,?,?)",
                (kind, name, self._list.next_position(), circuit_id, two_pole, stays),
            )
            return Source(source_id, kind, name, circuit_id, two_pole, stays)

    def set_essential(self, source_id: int, why: str) -> None:
        """Set why a circuit or cord must stay on; empty: it may be switched off."""
        self._update("stays", why.strip(), source_id)

    def set_two_pole(self, source_id: int, two_pole: bool) -> None:
        """Set whether a breaker switches two legs together."""
        self._update("two_pole", two_pole, source_id)

    def set_circuit(self, cord_id: int, circuit_id: int | None) -> None:
        """Set which circuit a cord is plugged into; None where it is not known."""
        self._update("circuit_id", circuit_id, cord_id)

    def _update(self, column: str, value: object, source_id: int) -> None:
        with self._connection.writing():
            self._connection.execute(f"UPDATE source SET {column} = ? WHERE id = ?", (value, source_id))

    def rename(self, source_id: int, name: str) -> None:
        """Rename a circuit or a cord; raises StillvoltError for an empty or duplicate name."""
        with self._connection.writing():
            rows = self._connection.all("SELECT name FROM source WHERE id = ?", (source_id,))
            after = self._list.rename_within(source_id, name)
            if rows and rows[0]["name"] != after:
                kept = json.dumps({"source_id": source_id, "before": rows[0]["name"], "after": after})
                self._facts.insert(RENAMED, kept)

    def move(self, source_id: int, places: int) -> None:
        """Move one by so many places along the list (negative: earlier); it stops at the ends."""
        self._list.move(source_id, places)

    def remove(self, source_id: int) -> None:
        """Take one off the list; its step labels and readings stay, and `restore` brings it back."""
        self._list.remove(source_id)

    def restore(self, source_id: int) -> None:
        """Bring a removed one back to where it was; raises StillvoltError if its name is taken by now."""
        self._list.restore(source_id)


def _source(r: sqlite3.Row) -> Source:
    return Source(r["id"], r["kind"], r["name"], r["circuit_id"], bool(r["two_pole"]), r["stays"])
