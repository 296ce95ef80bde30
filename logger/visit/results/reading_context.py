"""What held when a reading was taken: the set-up, and what the checks of the visit proved for it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from logger.clock import NS_PER_S
from logger.metrology.check_validity import Lapse, lapse_of
from logger.metrology.checks import ROD_CHECKS, seen_of_rod
from logger.metrology.context import Context
from logger.metrology.reference_error import rod_error
from logger.metrology.setup import Setup
from logger.visit.records.reading_records import CheckResult


def lapse_of_check(check: CheckResult, setup: Setup, *, simulated: bool) -> Lapse | None:
    """Why a check proves nothing for a reading; None where it does.

    Args:
        check: the check.
        setup: in which the reading is taken.
        simulated: whether the reading is simulated. A check that was skipped holds for both kinds.
    """
    if check.steps and check.simulated != simulated:
        return Lapse.SIMULATED if check.simulated else Lapse.MEASURED
    return lapse_of(check.setup, setup)


def reading_context(
    setup: Setup, checks: Sequence[CheckResult], utc_ns: int, *, simulated: bool = False
) -> Context:
    """The context of a reading in a set-up after some checks.

    Checks that were done with another meter or reference prove nothing for it, nor do simulated ones for a measurement.

    Args:
        setup: in which the reading is taken.
        checks: of the visit so far, oldest first.
        utc_ns: when it is taken.
        simulated: no meter is there, but a simulation.
    """
    read_on = datetime.fromtimestamp(utc_ns / NS_PER_S, UTC).date().isoformat()
    found_lapses = [(check, lapse_of_check(check, setup, simulated=simulated)) for check in checks]
    lapses = {check.kind: lapse for check, lapse in found_lapses}
    newest = {check.kind: check for check, lapse in found_lapses if lapse is None}
    verdicts = {kind: check.outcome.verdict for kind, check in newest.items()}
    lapsed = {kind: lapse for kind, lapse in lapses.items() if lapse is not None and kind not in newest}
    values = {
        kind: [(step.span.volts, step.span.u_volts) for step in check.steps]
        for kind, check in newest.items()
        if kind in ROD_CHECKS and check.steps
    }
    if not values:
        return Context(setup, verdicts, lapses=lapsed, read_on=read_on, simulated=simulated)
    found = rod_error(seen_of_rod(values, setup.meter))
    return Context(setup, verdicts, found.volts, found.by_second_rod, lapsed, read_on, simulated=simulated)
