"""What speaks against readings and checks by now: the one source for report and export.

In: an open visit log, what was seen later in its trace, and the plan for tonight. Out: sentences by the ids of readings
and checks.
"""

from __future__ import annotations

from dataclasses import dataclass

from logger.sweep.plan_text import SUSPECT
from logger.sweep.switch_off_plan import SwitchOffPlan, switch_off_plan
from logger.translation import in_language, tr
from logger.visit.results.check_review import check_doubts, doubt_by_checks, failed_later
from logger.visit.results.contradicting_repeats import contradicting_repeats, repeats_doubt
from logger.visit.results.correction_history import doubt_by_correction
from logger.visit.results.salvaged_readings import doubt_by_salvage
from logger.visit.results.span_review import SpanReview
from logger.visit.storage.integrity import Integrity
from logger.visit.storage.visit_log import VisitLog


@dataclass(frozen=True, slots=True)
class Doubts:
    """What speaks against readings and checks, in sentences by their ids; those without a doubt are missing.

    Args:
        readings: sentences on readings.
        checks: sentences on checks.
        contradicting: ids of the readings whose repeats contradict each other: no ± holds for them.
    """

    readings: dict[int, str]
    checks: dict[int, str]
    contradicting: frozenset[int] = frozenset()


def doubts_of(
    log: VisitLog, review: SpanReview, integrity: Integrity, tonight: SwitchOffPlan | None
) -> Doubts:
    """Work out what speaks against the readings and checks of a visit.

    Args:
        log: an open visit log.
        review: what was seen later in the trace.
        integrity: what of the log does not agree with itself.
        tonight: the plan, which names the readings that contradict others of their sweep; None for none.
    """
    checks, salvage = log.checks.all(), log.facts.salvage()
    of_checks = check_doubts(checks, review) | dict(integrity.checks)
    failed = failed_later(checks)
    suspects = {r.id for spot in tonight.spots for r in spot.suspects} if tonight else set()
    readings = log.present_readings()
    repeats = {r.id: repeats_doubt(group) for group in contradicting_repeats(readings) for r in group}
    of_readings = {
        r.id: (
            integrity.readings.get(r.id, ""),
            review.of_reading(r),
            tr(SUSPECT) if r.id in suspects else "",
            repeats.get(r.id, ""),
            doubt_by_checks(r, failed, of_checks),
            doubt_by_correction(r),
            doubt_by_salvage(r, salvage),
        )
        for r in readings
    }
    return Doubts(
        {id_: " ".join(filter(None, found)) for id_, found in of_readings.items() if any(found)},
        of_checks,
        frozenset(repeats),
    )


@in_language("en")
def doubts_in(log: VisitLog) -> Doubts:
    """Work out what speaks against the readings and checks of a visit, from the log alone, as the export has it."""
    spots = [(spot.id, spot.name) for spot in log.spots.all()]
    tonight = switch_off_plan(log.present_readings(), spots, log.circuits.all(), log.setup.current())
    review = SpanReview.of_log(log.events.after(), log.notices.after(), log.recorder.live())
    return doubts_of(log, review, log.integrity(), tonight)
