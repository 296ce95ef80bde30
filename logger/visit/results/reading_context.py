"""What held when a reading was taken: the set-up, and what the checks of the visit proved for it."""

from __future__ import annotations

from collections.abc import Sequence

from logger.metrology.check_validity import check_still_holds
from logger.metrology.checks import CheckKind, rod_half_width_volts
from logger.metrology.context import Context
from logger.metrology.setup import Setup
from logger.visit.records.reading_records import CheckResult


def reading_context(setup: Setup, checks: Sequence[CheckResult]) -> Context:
    """The context of a reading in a set-up after some checks.

    Checks that were done with another meter or reference prove nothing for it.

    Args:
        setup: in which the reading is taken.
        checks: of the visit so far, oldest first.
    """
    newest = {c.kind: c for c in checks if check_still_holds(c.setup, setup)}
    verdicts = {kind: check.outcome.verdict for kind, check in newest.items()}
    reference = newest.get(CheckKind.REFERENCE)
    if reference is None or not reference.steps:
        return Context(setup, verdicts)
    before, after = ((step.span.volts, step.span.u_volts) for step in reference.steps)
    return Context(setup, verdicts, rod_half_width_volts(before, after, setup.meter))
