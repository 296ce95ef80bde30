"""The circuits and cords of a home, and what the user says each step of the trace was.

The list may be edited, like the spots; steps and readings keep what was said when they were taken.
"""

from __future__ import annotations

import sqlite3

from logger.clock import NS_PER_S
from logger.settling.events import Step
from logger.visit.records.essential_circuits import why_it_stays
from logger.visit.records.records import Meaning, Source, SourceKind, StepName
from logger.visit.storage import ordered_list
from logger.visit.storage.store import Store, row_id

_THING = "a circuit or cord"


class CircuitStore(Store):
    """Sources, and the names of steps."""

    def sources(self) -> list[Source]:
        """Circuits and cords in the order of the list, without removed ones."""
        rows = self._all("SELECT * FROM source WHERE removed_utc_ns IS NULL ORDER BY position, id")
        return [_source(r) for r in rows]

    def every_source(self) -> dict[int, Source]:
        """All that ever stood on the list, by id: what older steps and readings name."""
        return {r["id"]: _source(r) for r in self._all("SELECT * FROM source")}

    def add_source(
        self, kind: SourceKind, name: str, circuit_id: int | None = None, two_pole: bool = False
    ) -> Source:
        """Add a circuit or a cord at the end of the list. A name that suggests a refrigerator, an alarm, a medical
        device and the like is marked as one that must stay on; the user may decide otherwise.

        Args:
            kind: circuit or cord.
            name: as on the panel, or as the household calls it.
            circuit_id: the circuit that a cord is plugged into, where it is known.
            two_pole: a breaker that switches two legs together.

        Raises:
            StillvoltError: an empty or duplicate name.
        """
        with self._writing():
            name = ordered_list.new_name(self._db, "source", _THING, name)
            position = ordered_list.next_position(self._db, "source")
            stays = why_it_stays(name)
            cursor = self._db.execute(
                "INSERT INTO source (kind, name, position, circuit_id, two_pole, stays) VALUES (?,?,?,?,?,?)",
                (kind, name, position, circuit_id, two_pole, stays),
            )
            return Source(row_id(cursor), kind, name, circuit_id, two_pole, stays)

    def rename_source(self, source_id: int, name: str) -> None:
        """Rename a circuit or a cord; raises StillvoltError for an empty or duplicate name."""
        with self._writing():
            name = ordered_list.new_name(self._db, "source", _THING, name, source_id)
            self._db.execute("UPDATE source SET name = ? WHERE id = ?", (name, source_id))

    def state_stays(self, source_id: int, why: str) -> None:
        """State why one must stay on; empty: it may be switched off."""
        with self._writing():
            self._db.execute("UPDATE source SET stays = ? WHERE id = ?", (why.strip(), source_id))

    def state_two_pole(self, source_id: int, two_pole: bool) -> None:
        """State whether a breaker switches two legs together."""
        with self._writing():
            self._db.execute("UPDATE source SET two_pole = ? WHERE id = ?", (two_pole, source_id))

    def state_circuit(self, cord_id: int, circuit_id: int | None) -> None:
        """State which circuit a cord is plugged into."""
        with self._writing():
            self._db.execute("UPDATE source SET circuit_id = ? WHERE id = ?", (circuit_id, cord_id))

    def move_source(self, source_id: int, places: int) -> None:
        """Move one by so many places along the list (negative: earlier); stops at the ends."""
        with self._writing():
            ordered_list.move(self._db, "source", source_id, places)

    def remove_source(self, source_id: int) -> None:
        """Take one off the list; its steps and readings stay, and `restore_source` brings it back."""
        with self._writing():
            ordered_list.remove(self._db, "source", source_id, self._clock.utc_ns())

    def restore_source(self, source_id: int) -> None:
        """Bring a removed one back to where it was; raises StillvoltError if its name is taken by now."""
        with self._writing():
            ordered_list.restore(self._db, "source", _THING, source_id)

    def name_step(
        self, run_id: int, step: Step, spot_id: int | None, meaning: Meaning, source_id: int | None = None
    ) -> StepName:
        """Say what a step was: a source that was switched on or off, or something to be ignored; "unnamed" takes an
        earlier word back. What was said before stays in the log; the newest word holds.

        Args:
            run_id, step: the step, as the detector has it now.
            spot_id: where the body is.
            meaning: on, off, ignored, unnamed.
            source_id: what was switched.
        """
        utc_ns = self._clock.utc_ns()
        with self._writing():
            cursor = self._db.execute(
                "INSERT INTO step_name (utc_ns, run_id, t_ns, before_volts, after_volts, u_volts, spot_id, meaning, "
                "source_id) VALUES (?,?,?,?,?,?,?,?,?)",
                (
                    utc_ns, run_id, round(step.time_s * NS_PER_S), step.before_volts, step.after_volts,
                    step.u_volts, spot_id, meaning, source_id,
                ),
            )  # fmt: skip
        return StepName(row_id(cursor), utc_ns, run_id, step, spot_id, meaning, source_id)

    def step_names(self) -> list[StepName]:
        """Everything that was ever said of a step, oldest first."""
        rows = self._all("SELECT * FROM step_name ORDER BY id")
        return [
            StepName(r["id"], r["utc_ns"], r["run_id"], _step(r), r["spot_id"], r["meaning"], r["source_id"])
            for r in rows
        ]


def _step(r: sqlite3.Row) -> Step:
    time_s = r["t_ns"] / NS_PER_S
    return Step(time_s, r["before_volts"], r["after_volts"], r["u_volts"], time_s)


def _source(r: sqlite3.Row) -> Source:
    return Source(r["id"], r["kind"], r["name"], r["circuit_id"], bool(r["two_pole"]), r["stays"])
