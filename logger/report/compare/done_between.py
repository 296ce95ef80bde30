"""What was done about the home between two visits, to stand beside what changed, without a claim of cause.

In: two open logs. Out: the remedies that were done after the last reading of the earlier visit and before the last one
of the later visit, each with what reading again has proven of it. A change of a value may come from any of them, or
from something else; only a reading that was taken for a remedy tells, and the plan says so.
"""

from __future__ import annotations

from dataclasses import dataclass

from logger.name_list import joined
from logger.plan.plan_basis import read_basis
from logger.plan.planned_remedy import STATUS_WORDS, PlannedRemedy, RemedyStatus
from logger.plan.remedy_plan import remedy_plan
from logger.translation import tr
from logger.visit.results.remedy_in_force import InForce
from logger.visit.storage.visit_log import VisitLog

DECIDED = (RemedyStatus.PROVEN, RemedyStatus.NO_EFFECT, RemedyStatus.WORSE)


@dataclass(frozen=True, slots=True)
class DoneRemedy:
    """A remedy that was done between two visits.

    Args:
        name: what was done, the same in every language.
        shown: the same in the language that holds.
        status: done, or what reading again has proven.
    """

    name: str
    shown: str
    status: RemedyStatus


def done_between(before: VisitLog, after: VisitLog) -> tuple[DoneRemedy, ...]:
    """Return what was done between the last reading of the earlier visit and the last one of the later visit.

    Args:
        before: the earlier visit; what it has as done after its readings counts too.
        after: the later visit.
    """
    first_ns = max((r.utc_ns for r in before.readings.all()), default=0)
    last_ns = max((r.utc_ns for r in after.readings.all()), default=0)
    found: dict[str, DoneRemedy] = {}
    for log in (before, after):
        if not log.remedies.all():
            continue
        basis = read_basis(log, with_nights=False)
        for remedy in remedy_plan(basis).remedies:
            if remedy.kept is None or remedy.kept.done is None:
                continue
            in_force = InForce(remedy.kept, basis.day)
            if in_force.at(first_ns) is not True and in_force.at(last_ns) is not False:
                found[remedy.name] = _done(remedy)
    return tuple(found.values())


def done_between_text(done: tuple[DoneRemedy, ...]) -> str:
    """What was done, and that it is not said to be the cause; empty where nothing was.

    Args:
        done: between the visits.
    """
    if not done:
        return ""
    names = joined(
        [
            tr("{remedy} ({state})").format(remedy=one.shown, state=tr(STATUS_WORDS[one.status]))
            if one.status in DECIDED
            else one.shown
            for one in done
        ]
    )
    said = tr("Done between the visits: {names}.").format(names=names)
    caveat = tr(
        "That a value has changed does not show that this was the cause: only a spot that was read again for it does."
    )
    return f"{said} {caveat}"


def _done(remedy: PlannedRemedy) -> DoneRemedy:
    return DoneRemedy(remedy.name, remedy.shown, remedy.status)
