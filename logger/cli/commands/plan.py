"""`stillvolt plan`: what can be done about what was found, what was done and brought; enters decisions."""

from __future__ import annotations

import argparse
from datetime import date

from logger.errors import StillvoltError
from logger.plain_text import one_line
from logger.plan.plan_decision import decide
from logger.plan.plan_output import plan_output
from logger.translation import tr
from logger.visit.records.remedy_records import RemedyDecision, RemedyEntry


def run(arguments: argparse.Namespace) -> None:
    """Enter a decision where one is given; else print the plan of remedies of a visit, as text or as JSON."""
    entered = {
        RemedyDecision.PLANNED: (arguments.plan, tr("Planned: {remedies}.")),
        RemedyDecision.DONE: (arguments.done, tr("Done: {remedies}.")),
        RemedyDecision.UNDONE: (arguments.undone, tr("Undone: {remedies}.")),
        RemedyDecision.NOT_WANTED: (arguments.not_wanted, tr("Not wanted: {remedies}.")),
    }
    decision, (code, said) = next(
        ((decision, one) for decision, one in entered.items() if one[0] is not None), (None, (None, ""))
    )
    if decision is None or code is None:
        if any((arguments.on, arguments.by, arguments.note)):
            raise StillvoltError(
                tr("A day, who and a note belong to a decision."),
                tr("Nothing was entered."),
                tr("Give --plan, --done, --undone or --not-wanted with the id of a remedy."),
            )
        print(plan_output(arguments.visit, as_json=arguments.json))
        return
    entry = RemedyEntry(
        0,
        decision,
        done_on=_day(arguments.on, decision),
        by_whom=arguments.by or "",
        note=arguments.note or "",
    )
    remedy = decide(arguments.visit, code, entry)
    print(one_line(said.format(remedies=remedy.shown)))


def _day(typed: str | None, decision: RemedyDecision) -> str:
    if typed is None:
        return ""
    try:
        day = date.fromisoformat(typed.strip())
    except ValueError:
        raise StillvoltError(
            tr("“{typed}” is no day.").format(typed=typed),
            tr("Nothing was entered."),
            tr("A day is typed like 2026-03-31."),
        ) from None
    if decision not in (RemedyDecision.DONE, RemedyDecision.UNDONE):
        raise StillvoltError(
            tr("A day is that on which a remedy was done or undone."), tr("Nothing was entered.")
        )
    return day.isoformat()
