"""The checks of meter and reference, and what they prove for a reading that is taken now."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from logger.metrology.checks import (
    STEPS,
    CheckKind,
    CheckOutcome,
    CheckVerdict,
    judge,
    skipped,
)
from logger.metrology.context import Context
from logger.metrology.setup import Setup
from logger.metrology.uncertainty import LevelParts
from logger.visit.records.reading_records import CheckResult, CheckStep, Span
from logger.visit.records.simulated_run import SIMULATED
from logger.visit.results.reading_context import reading_context
from logger.visit.storage.entry_checksum import keep_entry_checksum
from logger.visit.storage.log_connection import LogConnection
from logger.visit.storage.recording_stores import RunStore
from logger.visit.storage.setup_store import SetupStore


class CheckStore:
    """The checks.

    Args:
        connection: the open log.
        setup: the set-up in which they are done.
        runs: the runs that they are done in.
    """

    def __init__(self, connection: LogConnection, setup: SetupStore, runs: RunStore) -> None:
        self._connection = connection
        self._setup = setup
        self._runs = runs

    def all(self) -> list[CheckResult]:
        """All checks that were done or skipped, oldest first."""
        rows = self._connection.all("SELECT * FROM check_result ORDER BY id")
        simulated_ids = self._runs.simulated_ids() if rows else frozenset()
        return [_check(r, simulated_ids) for r in rows]

    def add(self, kind: CheckKind, spans: Sequence[Span]) -> CheckResult:
        """Judge a check by the values of its steps (`CurrentValue.settled_span`), and keep it with its verdict."""
        outcome = judge(kind, [(span.volts, span.u_volts) for span in spans], self._setup.current().meter)
        names = [step.name for step in STEPS[kind]]
        return self._keep(kind, outcome, tuple(map(CheckStep, names, spans)))

    def skip(self, kind: CheckKind, reason: str) -> CheckResult:
        """Keep that a check was not done, and why."""
        return self._keep(kind, skipped(reason), ())

    def _keep(self, kind: CheckKind, outcome: CheckOutcome, steps: tuple[CheckStep, ...]) -> CheckResult:
        utc_ns = self._connection.clock.utc_ns()
        with self._connection.writing():
            setup = self._setup.current()
            simulated = _has_simulated(steps, self._runs.simulated_ids())
            check_id = self._connection.insert(
                "INSERT INTO check_result (utc_ns, kind, verdict, sentence, steps, setup) VALUES (?,?,?,?,?,?)",
                (
                    utc_ns,
                    kind,
                    outcome.verdict,
                    outcome.sentence,
                    # The mark is kept with each step too: a salvaged log may lack the run.
                    json.dumps([asdict(step) | {SIMULATED: simulated} for step in steps]),
                    setup.to_json(),
                ),
            )
            keep_entry_checksum(self._connection.db, "check_result", check_id, utc_ns)
        return CheckResult(check_id, utc_ns, kind, outcome, steps, setup, simulated)

    def context(self, *, simulated: bool) -> Context:
        """The context of a reading that is taken now: the set-up and what the checks proved for it.

        Args:
            simulated: no meter is there, but a simulation.
        """
        utc_ns = self._connection.clock.utc_ns()
        return reading_context(self._setup.current(), self.all(), utc_ns, simulated=simulated)

    def context_at(self, utc_ns: int, *, simulated: bool) -> Context:
        """The context of what was recorded up to a moment.

        Args:
            utc_ns: the moment, UTC ns.
            simulated: no meter was there, but a simulation.
        """
        done = [check for check in self.all() if check.utc_ns <= utc_ns]
        return reading_context(self._setup.at(utc_ns), done, utc_ns, simulated=simulated)


def _check(r: sqlite3.Row, simulated_ids: frozenset[int]) -> CheckResult:
    """A check from its row.

    Args:
        r: the row.
        simulated_ids: ids of the runs that were simulated.
    """
    kept = json.loads(r["steps"])
    steps = tuple(CheckStep(step["name"], _span(step["span"])) for step in kept)
    return CheckResult(
        r["id"],
        r["utc_ns"],
        CheckKind(r["kind"]),
        CheckOutcome(CheckVerdict(r["verdict"]), r["sentence"]),
        steps,
        Setup.from_json(r["setup"]) if r["setup"] else None,
        any(step.get(SIMULATED) is True for step in kept) or _has_simulated(steps, simulated_ids),
    )


def _has_simulated(steps: Sequence[CheckStep], simulated_ids: frozenset[int]) -> bool:
    return any(step.span.run_id in simulated_ids for step in steps)


def _span(fields: dict[str, Any]) -> Span:
    """A span from its JSON object."""
    parts = fields.get("parts")
    return Span(**fields | {"parts": LevelParts(**parts) if parts else None})
