"""The output of `stillvolt plan`: the remedies of a visit, in words or as JSON. The visit stays as it is."""

from __future__ import annotations

import json
from pathlib import Path

from logger.plain_text import one_line
from logger.plan.plan_json import plan_json
from logger.plan.planned_remedy import RemedyPlan
from logger.plan.remedy_plan import remedy_plan_of
from logger.plan.remedy_text import plan_lines
from logger.translation import in_language
from logger.visit.storage.read_only import checked_log


def plan_output(visit: Path, *, as_json: bool) -> str:
    """Format the plan of remedies of a visit.

    Args:
        visit: path of the visit log.
        as_json: whether to give JSON instead of words.

    Raises:
        StillvoltError: the log cannot be read.
    """
    if as_json:
        return _json(visit)
    return "\n".join(map(one_line, plan_lines(_plan(visit))))


@in_language("en")
def _json(visit: Path) -> str:
    return json.dumps(plan_json(_plan(visit)))


def _plan(visit: Path) -> RemedyPlan:
    with checked_log(visit) as log:
        return remedy_plan_of(log)
