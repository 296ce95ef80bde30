"""Checks that were begun and not done to their end: their steps so far, and whether these prove already that they fail.

In: the steps that were taken, in order, and those that results hold. Out: attempts, and a failed result of each that
can no longer pass: who begins again after it, leaves it or closes the window does not undo what was seen.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass

from logger.metrology.check_words import check_name
from logger.metrology.checks import STEPS, CheckKind, outcome_so_far
from logger.metrology.meter_connection import MeterConnection
from logger.metrology.setup import UNKNOWN_METER
from logger.name_list import joined
from logger.translation import tr, tr_kept, tr_n
from logger.visit.records.reading_records import CheckResult, CheckStep, Span, UsedStep

StepPlace = tuple[CheckKind, int, int]
"""What tells the steps of checks apart: the check, the run and the last line."""


def step_place(kind: CheckKind, span: Span) -> StepPlace:
    """Where a step of a check was taken.

    Args:
        kind: which check.
        span: the value of the step.
    """
    return kind, span.run_id, span.last_line_id


@dataclass(frozen=True, slots=True)
class NotedStep:
    """A step of a check as it was noted when it was taken.

    Args:
        id: of the entry.
        utc_ns: when it was written, UTC ns.
        step: what was taken.
        connection: how the meter was connected; None where that is not known.
        simulated: whether its value was simulated.
    """

    id: int
    utc_ns: int
    step: UsedStep
    connection: MeterConnection | None
    simulated: bool


@dataclass(frozen=True, slots=True)
class CheckAttempt:
    """A check that was begun and has no result: it is going on, was begun again or was left.

    Args:
        noted: its steps so far, in order; at least one.
    """

    noted: tuple[NotedStep, ...]

    @property
    def kind(self) -> CheckKind:
        """Which check."""
        return self.noted[0].step.kind

    @property
    def utc_ns(self) -> int:
        """When its last step was taken, UTC ns."""
        return self.noted[-1].utc_ns

    @property
    def simulated(self) -> bool:
        """Whether one of its values was simulated."""
        return any(noted.simulated for noted in self.noted)

    @property
    def text(self) -> str:
        """How far it came, as a part of a sentence."""
        names = [tr("“{name}”").format(name=tr_kept(noted.step.name)) for noted in self.noted]
        text = tr_n("{check} with the step {steps}", "{check} with the steps {steps}", len(names))
        return text.format(check=check_name(self.kind), steps=joined(names))

    def failed(self) -> CheckResult | None:
        """The result that it is by the steps so far; None while it could still pass.

        Its id is negative, that of the entry of its last step: no other result has it.
        """
        setup = self.noted[-1].step.setup
        values = [(noted.step.span.volts, noted.step.span.u_volts) for noted in self.noted]
        outcome = outcome_so_far(self.kind, values, setup.meter if setup is not None else UNKNOWN_METER)
        if outcome is None:
            return None
        steps = tuple(
            CheckStep(s.name, s.span, noted.connection, s.spot_id, s.spot_name, s.setup)
            for noted in self.noted
            for s in [noted.step]
        )
        return CheckResult(-self.noted[-1].id, self.utc_ns, self.kind, outcome, steps, setup, self.simulated)


def unfinished_attempts(noted: Iterable[NotedStep], done: Set[StepPlace]) -> list[CheckAttempt]:
    """The checks that have no result, oldest first.

    Args:
        noted: every step that was taken, in order.
        done: the steps that results hold.
    """
    going_on: dict[CheckKind, list[NotedStep]] = {}
    found: list[list[NotedStep]] = []
    for one in noted:
        kind = one.step.kind
        so_far = going_on.get(kind, [])
        names = [step.name for step in STEPS[kind]]
        if one.step.name == names[0]:
            going_on[kind] = [one]
            found.append(going_on[kind])
        elif len(so_far) < len(names) and so_far and one.step.name == names[len(so_far)]:
            so_far.append(one)
    return [
        CheckAttempt(tuple(steps))
        for steps in found
        if not any(step_place(one.step.kind, one.step.span) in done for one in steps)
    ]


def with_failed_attempts(
    results: Sequence[CheckResult], attempts: Iterable[CheckAttempt]
) -> list[CheckResult]:
    """The results of checks, oldest first, with the attempts that had failed when they were left.

    Args:
        results: those that were kept, in the order in which they were.
        attempts: the checks without a result.
    """
    found = list(results)
    for attempt in attempts:
        if (failed := attempt.failed()) is not None:
            later = [index for index, check in enumerate(found, 1) if _is_before(check, failed)]
            found.insert(max(later, default=0), failed)
    return found


def still_open(attempts: Iterable[CheckAttempt], checks: Sequence[CheckResult]) -> list[CheckAttempt]:
    """The attempts that proved nothing: they are no result.

    Args:
        attempts: the checks without a kept result.
        checks: the results, with the attempts that had failed.
    """
    ids = {check.id for check in checks}
    return [attempt for attempt in attempts if -attempt.noted[-1].id not in ids]


def _is_before(check: CheckResult, failed: CheckResult) -> bool:
    """Whether a result is older; its values tell, whatever the computer's clock was set to."""
    if not check.steps:
        return check.utc_ns < failed.utc_ns
    return _last_moment(check) <= _last_moment(failed)


def _last_moment(check: CheckResult) -> tuple[int, int]:
    return max((step.span.run_id, step.span.end_t_ns) for step in check.steps)
