"""What `stillvolt plan` enters: a decision on one remedy of the plan, by the same store as the window."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

from logger.errors import StillvoltError
from logger.plan.planned_remedy import PlannedRemedy, RemedyPlan
from logger.plan.remedy_plan import remedy_plan_of
from logger.translation import tr
from logger.visit.records.remedy_records import RemedyDecision, RemedyEntry
from logger.visit.storage.read_only import open_checked


def decide(visit: Path, code: str, entry: RemedyEntry) -> PlannedRemedy:
    """Enter a decision on a remedy of the plan of a visit.

    Args:
        visit: path of the visit log.
        code: of the remedy, as the plan is printed with it.
        entry: the decision; its moment is that of now.

    Returns:
        The remedy as it was before.

    Raises:
        StillvoltError: the log cannot be read or written, it has no such remedy, or the decision does not fit it;
            nothing was entered.
    """
    with closing(open_checked(visit)) as log:
        remedy = _of_code(remedy_plan_of(log), code)
        _refuse_what_does_not_fit(remedy, entry.decision)
        if remedy.kept is not None:
            log.remedies.decide(remedy.kept.id, entry)
        else:
            ids = [source.id for source in remedy.sources]
            log.remedies.add(remedy.kind, entry, ids, remedy.spot_id, remedy.text)
        return remedy


def _of_code(plan: RemedyPlan, code: str) -> PlannedRemedy:
    found = [remedy for remedy in plan.remedies if remedy.code == code.strip()]
    if not found:
        raise StillvoltError(
            tr("The plan of this visit has no remedy “{id}”.").format(id=code),
            tr("Nothing was entered."),
            tr("“stillvolt plan VISIT” lists the remedies; the id of each stands in brackets at its end."),
        )
    # One that was undone may have been entered anew.
    return next((remedy for remedy in found if remedy.is_chosen), found[-1])


def _refuse_what_does_not_fit(remedy: PlannedRemedy, decision: RemedyDecision) -> None:
    """Refuse a decision that changes nothing; the window does not offer it either."""
    is_done = remedy.kept is not None and remedy.kept.done is not None
    why = {
        RemedyDecision.PLANNED: tr("It is planned or done already.") if remedy.is_chosen else "",
        RemedyDecision.DONE: tr("It is done already.") if is_done else "",
        RemedyDecision.UNDONE: "" if remedy.is_chosen else tr("It is neither planned nor done."),
        RemedyDecision.NOT_WANTED: tr("That is stated already.")
        if remedy.not_wanted
        else tr("It is done: enter first that it is undone.")
        if is_done
        else "",
    }[decision]
    if why:
        raise StillvoltError(f"{remedy.shown}: {why}", tr("Nothing was entered."))
