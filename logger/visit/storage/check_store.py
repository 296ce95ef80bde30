"""The checks of meter and reference, and what they prove for a reading that is taken now."""

from __future__ import annotations

import json
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
from logger.visit.results.reading_context import reading_context
from logger.visit.storage.log_connection import LogConnection
from logger.visit.storage.setup_store import SetupStore


class CheckStore:
    """The checks."""

    def __init__(self, connection: LogConnection, setup: SetupStore) -> None:
        self._connection = connection
        self._setup = setup

    def all(self) -> list[CheckResult]:
        """All checks that were done or skipped, oldest first."""
        return [
            CheckResult(
                r["id"],
                r["utc_ns"],
                CheckKind(r["kind"]),
                CheckOutcome(CheckVerdict(r["verdict"]), r["sentence"]),
                tuple(CheckStep(step["name"], _span(step["span"])) for step in json.loads(r["steps"])),
                Setup.from_json(r["setup"]) if r["setup"] else None,
            )
            for r in self._connection.all("SELECT * FROM check_result ORDER BY id")
        ]

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
            check_id = self._connection.insert(
                "INSERT INTO check_result (utc_ns, kind, verdict, sentence, steps, setup) VALUES (?,?,?,?,?,?)",
                (
                    utc_ns,
                    kind,
                    outcome.verdict,
                    outcome.sentence,
                    json.dumps([asdict(step) for step in steps]),
                    setup.to_json(),
                ),
            )
        return CheckResult(check_id, utc_ns, kind, outcome, steps, setup)

    def context(self) -> Context:
        """The context of a reading that is taken now: the set-up and what the checks proved for it."""
        return reading_context(self._setup.current(), self.all(), self._connection.clock.utc_ns())

    def context_at(self, utc_ns: int) -> Context:
        """The context of what was recorded up to a moment.

        Args:
            utc_ns: the moment, UTC ns.
        """
        done = [check for check in self.all() if check.utc_ns <= utc_ns]
        return reading_context(self._setup.at(utc_ns), done, utc_ns)


def _span(fields: dict[str, Any]) -> Span:
    """A span from its JSON object."""
    parts = fields.get("parts")
    return Span(**fields | {"parts": LevelParts(**parts) if parts else None})
