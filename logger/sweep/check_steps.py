"""Which steps of the trace belong to a check of meter or reference: a cord held near, a wire moved, a probe on a wire.

They are no switching in the home. In: a step, and the checks that were completed. Out: whether it lies in the time of
one of them, or is the change of level with which the probe came to its wire or left it.
"""

from __future__ import annotations

from collections.abc import Sequence

from logger.clock import NS_PER_S
from logger.metrology.checks import WITHOUT_BODY
from logger.settling.events import Step
from logger.settling.limits import TILT_VOLTS
from logger.visit.records.reading_records import CheckResult, Span

LEAVING_S = 60.0
"""The probe leaves its wire within this after the last value of a check; later a step of that level is another one."""

EDGE_S = 3.0
"""A still span begins at most this far from the step that leads into it: a meter's averaging lies between them."""


def is_in_check(run_id: int, step: Step, checks: Sequence[CheckResult]) -> bool:
    """Whether a step belongs to a check.

    Args:
        run_id: of the run that the step lies in.
        step: as the detector found it.
        checks: of the visit.
    """
    return any(_belongs(run_id, step, check) for check in checks if check.steps)


def _belongs(run_id: int, step: Step, check: CheckResult) -> bool:
    first, last = check.steps[0].span, check.steps[-1].span
    if not first.run_id == last.run_id == run_id:
        return False
    start_s, end_s = first.start_t_ns / NS_PER_S, last.end_t_ns / NS_PER_S
    if start_s + EDGE_S < step.time_s <= end_s:
        return True
    if check.kind not in WITHOUT_BODY:
        return False
    # A body's level before and after may be left by a switching as well; that of a probe on its wire is the check's.
    enters = abs(step.time_s - start_s) <= EDGE_S and _is_level(step.after_volts, step, first)
    return enters or (end_s < step.time_s <= end_s + LEAVING_S and _is_level(step.before_volts, step, last))


def _is_level(volts: float, step: Step, span: Span) -> bool:
    return abs(volts - span.volts) <= max(TILT_VOLTS, 3.0 * max(span.u_volts, step.u_volts))
