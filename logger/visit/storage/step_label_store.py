"""The labels that the user gave to steps of the trace. Labels are never changed; the newest one of a step holds."""

from __future__ import annotations

import sqlite3

from logger.clock import NS_PER_S
from logger.settling.events import Step
from logger.visit.records.home_records import Meaning, StepLabel
from logger.visit.storage.log_connection import LogConnection


class StepLabelStore:
    """The step labels."""

    def __init__(self, connection: LogConnection) -> None:
        self._connection = connection

    def add(
        self, run_id: int, step: Step, spot_id: int | None, meaning: Meaning, source_id: int | None = None
    ) -> StepLabel:
        """Label a step. Earlier labels stay in the log; "unnamed" takes the label of a step away.

        Args:
            run_id: the run that the step is in.
            step: as the detector has it now.
            spot_id: where the body is.
            meaning: switched on, switched off, to be ignored, or "unnamed".
            source_id: the circuit or cord that was switched; None where none was.
        """
        utc_ns = self._connection.clock.utc_ns()
        with self._connection.writing():
            label_id = self._connection.insert(
                "INSERT INTO step_name (utc_ns, run_id, t_ns, before_volts, after_volts, u_volts, spot_id, meaning, "
                "source_id) VALUES (?,?,?,?,?,?,?,?,?)",
                (
                    utc_ns, run_id, round(step.time_s * NS_PER_S), step.before_volts, step.after_volts,
                    step.u_volts, spot_id, meaning, source_id,
                ),
            )  # fmt: skip
        return StepLabel(label_id, utc_ns, run_id, step, spot_id, meaning, source_id)

    def all(self) -> list[StepLabel]:
        """All labels ever given, oldest first."""
        rows = self._connection.all("SELECT * FROM step_name ORDER BY id")
        return [
            StepLabel(r["id"], r["utc_ns"], r["run_id"], _step(r), r["spot_id"], r["meaning"], r["source_id"])
            for r in rows
        ]


def _step(r: sqlite3.Row) -> Step:
    time_s = r["t_ns"] / NS_PER_S
    return Step(time_s, r["before_volts"], r["after_volts"], r["u_volts"], time_s)
