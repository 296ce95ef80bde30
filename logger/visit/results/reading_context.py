"""What held when a reading was taken: the set-up, and what the checks of the visit proved for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from logger.clock import NS_PER_S
from logger.metrology.check_validity import (
    CHECK_HOLDS_S,
    Apart,
    Lapse,
    apart_in,
    lapse_between_steps,
    lapse_by_connection,
    lapse_of,
)
from logger.metrology.checks import ROD_CHECKS, CheckKind, CheckVerdict, seen_of_rod, step_budget
from logger.metrology.context import Context
from logger.metrology.meter_connection import FormPair, MeterConnection
from logger.metrology.reference_error import rod_error
from logger.metrology.setup import MeterFacts, Setup
from logger.visit.records.reading_records import CheckResult


@dataclass(frozen=True, slots=True)
class ReadWith:
    """What a value is read with: all on which it depends whether a check holds for it.

    Args:
        setup: as stated.
        simulated: no meter is there, but a simulation.
        connection: how the meter is connected; None where that is not known.
        same_forms: forms of lines that the user called those of one meter.
        utc_ns: when; None where that does not count.
    """

    setup: Setup
    simulated: bool = False
    connection: MeterConnection | None = None
    same_forms: tuple[FormPair, ...] = ()
    utc_ns: int | None = None


def lapse_of_check(check: CheckResult, now: ReadWith) -> Lapse | None:
    """Why a check proves nothing for a reading; None where it does. One that was skipped has no values to depend on.

    What failed does not pass with time: it fails until it is done again.

    Args:
        check: the check.
        now: what the reading is taken with.
    """
    if (lapse := _lapse_by_use(check, now)) is not None:
        return lapse
    failed = check.outcome.verdict is CheckVerdict.FAILED
    if now.utc_ns is None or not check.steps or failed:
        return None
    return Lapse.AGE if abs(now.utc_ns - check.utc_ns) > CHECK_HOLDS_S * NS_PER_S else None


def _lapse_by_use(check: CheckResult, now: ReadWith) -> Lapse | None:
    """Why a check is not of the meter and the reference of a reading; None where it is. The arguments are the same."""
    if steps_apart(check) is not None:
        return Lapse.STEPS
    if check.steps and check.simulated != now.simulated:
        return Lapse.SIMULATED if check.simulated else Lapse.MEASURED
    # Who states for the first time what the reference is has not put in another rod: what failed still fails.
    failed_rod = check.kind in ROD_CHECKS and check.outcome.verdict is CheckVerdict.FAILED
    by_setup = lapse_of(check.setup, now.setup, unstated_holds=failed_rod)
    if by_setup is not None:
        return by_setup
    between = lapse_between_steps(
        [(step.connection, check.simulated) for step in check.steps], now.same_forms
    )
    if between is not None:
        return between
    found = (lapse_by_connection(step.connection, now.connection, now.same_forms) for step in check.steps)
    return next((lapse for lapse in found if lapse is not None), None)


def steps_apart(check: CheckResult) -> Apart | None:
    """In what the steps of a check were not read alike, though it was kept; None where they prove something."""
    return apart_in(check.kind, [(step.setup, step.spot_id) for step in check.steps])


def verdict_by_now(check: CheckResult, doubts: Mapping[int, str]) -> CheckVerdict:
    """The verdict of a check as it counts: one that passed and is in doubt by now proves nothing.

    Args:
        check: the check.
        doubts: what speaks against checks by now, by their ids (`check_review.check_doubts`).
    """
    passed = check.outcome.verdict is CheckVerdict.PASSED
    return CheckVerdict.IN_DOUBT if passed and doubts.get(check.id) else check.outcome.verdict


def newest_valid(checks: Sequence[CheckResult], now: ReadWith) -> dict[CheckKind, CheckResult]:
    """The newest check of each kind that has not lapsed; a kind without one is missing.

    Args:
        checks: of the visit so far, oldest first.
        now: what the reading is taken with.
    """
    # The newest one decides even where it is too old: an older one that failed does not come back.
    newest = {check.kind: check for check in checks if _lapse_by_use(check, now) is None}
    return {kind: check for kind, check in newest.items() if lapse_of_check(check, now) is None}


def _failed_and_not_done_again(checks: Sequence[CheckResult], now: ReadWith) -> dict[CheckKind, CheckResult]:
    """The checks that failed when they were done last: who skips one after that has not done it again."""
    done = [check for check in checks if check.outcome.verdict is not CheckVerdict.SKIPPED]
    return {
        kind: check
        for kind, check in newest_valid(done, now).items()
        if check.outcome.verdict is CheckVerdict.FAILED
    }


def reading_context(
    now: ReadWith, checks: Sequence[CheckResult], utc_ns: int, doubts: Mapping[int, str]
) -> Context:
    """The context of a reading after some checks.

    Checks that were done with another meter or reference prove nothing for it, nor do simulated ones for a measurement.

    Args:
        now: what the reading is taken with.
        checks: of the visit so far, oldest first.
        utc_ns: when it is taken.
        doubts: what speaks against checks by now, by their ids (`check_review.check_doubts`).
    """
    now = replace(now, utc_ns=utc_ns)
    newest = newest_valid(checks, now) | _failed_and_not_done_again(checks, now)
    verdicts = {kind: verdict_by_now(check, doubts) for kind, check in newest.items()}
    lapses = {check.kind: lapse_of_check(check, now) for check in checks if check.kind not in newest}
    values = {
        kind: [(step.span.volts, step.span.u_volts) for step in check.steps]
        for kind, check in newest.items()
        # A second rod that proves nothing narrows nothing.
        if kind in ROD_CHECKS
        and check.steps
        and (kind, verdicts[kind]) != (CheckKind.TWO_RODS, CheckVerdict.IN_DOUBT)
    }
    found = rod_error(seen_of_rod(values, now.setup.meter)) if values else None
    return Context(
        now.setup,
        verdicts,
        found.volts if found else None,
        found.by_second_rod if found else False,
        {kind: lapse for kind, lapse in lapses.items() if lapse is not None},
        datetime.fromtimestamp(utc_ns / NS_PER_S, UTC).date().isoformat(),
        simulated=now.simulated,
        check_ids={kind: check.id for kind, check in newest.items()},
        connection=now.connection,
        failed_zero_volts=_failed_zero_volts(newest.get(CheckKind.ZERO), now.setup.meter),
    )


def _failed_zero_volts(check: CheckResult | None, meter: MeterFacts) -> float:
    """What the newest zero check showed on the reference wire, with its U (k = 2), V; 0 where it did not fail."""
    if check is None or check.outcome.verdict is not CheckVerdict.FAILED:
        return 0.0
    budgets = [step_budget((step.span.volts, step.span.u_volts), meter) for step in check.steps]
    return max((abs(budget.volts) + budget.expanded_volts for budget in budgets), default=0.0)
