"""What is stated of a visit (facts, set-up) and proved (checks), and what therefore holds for a reading."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict

from logger.metrology.checks import (
    STEPS,
    CheckKind,
    CheckOutcome,
    CheckVerdict,
    judge,
    rod_half_width_volts,
    skipped,
)
from logger.metrology.context import Context
from logger.metrology.setup import FACT as SETUP_FACT
from logger.metrology.setup import Setup
from logger.visit.records.condition import FACT as CONDITION_FACT
from logger.visit.records.condition import Statement
from logger.visit.records.records import CheckResult, CheckStep, Span
from logger.visit.storage.store import Store, row_id


class SetupStore(Store):
    """Facts, set-up and checks."""

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

    def condition(self) -> Statement:
        """What was last stated to be on; see there for how long it holds."""
        rows = self._all(
            "SELECT value, utc_ns FROM fact WHERE name = ? ORDER BY id DESC LIMIT 1", (CONDITION_FACT,)
        )
        return Statement(rows[0]["value"], rows[0]["utc_ns"]) if rows else Statement()

    def setup(self) -> Setup:
        """The set-up as last stated."""
        return Setup.from_json(self.fact(SETUP_FACT))

    def state_setup(self, setup: Setup) -> None:
        """State the set-up; readings taken before keep the one that held then."""
        self.set_fact(SETUP_FACT, setup.to_json())

    def checks(self) -> list[CheckResult]:
        """All checks done, oldest first."""
        return [
            CheckResult(
                r["id"],
                r["utc_ns"],
                CheckKind(r["kind"]),
                CheckOutcome(CheckVerdict(r["verdict"]), r["sentence"]),
                tuple(CheckStep(step["name"], Span(**step["span"])) for step in json.loads(r["steps"])),
                Setup.from_json(r["setup"]) if r["setup"] else None,
            )
            for r in self._all("SELECT * FROM check_result ORDER BY id")
        ]

    def add_check(self, kind: CheckKind, spans: Sequence[Span]) -> CheckResult:
        """Judge a check by the values of its steps (`take_span`), and keep it with its verdict."""
        outcome = judge(kind, [(span.volts, span.u_volts) for span in spans], self.setup().meter)
        names = [step.name for step in STEPS[kind]]
        return self._keep_check(kind, outcome, tuple(map(CheckStep, names, spans)))

    def skip_check(self, kind: CheckKind, reason: str) -> CheckResult:
        """Keep that a check was not done, and why."""
        return self._keep_check(kind, skipped(reason), ())

    def _keep_check(
        self, kind: CheckKind, outcome: CheckOutcome, steps: tuple[CheckStep, ...]
    ) -> CheckResult:
        utc_ns = self._clock.utc_ns()
        with self._writing():
            setup = self.setup()
            cursor = self._db.execute(
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
        return CheckResult(row_id(cursor), utc_ns, kind, outcome, steps, setup)

    def context(self) -> Context:
        """What holds for a reading taken now."""
        return context_of(self.setup(), self.checks())


def context_of(setup: Setup, checks: Sequence[CheckResult]) -> Context:
    """What holds for a reading in that set-up after those checks, oldest first. Checks that were done with another
    meter or reference prove nothing for it."""
    newest = {c.kind: c for c in checks if c.setup is None or c.setup.proves_for(setup)}
    verdicts = {kind: check.outcome.verdict for kind, check in newest.items()}
    reference = newest.get(CheckKind.REFERENCE)
    if reference is None or not reference.steps:
        return Context(setup, verdicts)
    before, after = ((step.span.volts, step.span.u_volts) for step in reference.steps)
    return Context(setup, verdicts, rod_half_width_volts(before, after, setup.meter))
