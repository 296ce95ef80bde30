"""A plan of remedies as other programs read it; its texts are the same in every language."""

from __future__ import annotations

from typing import Any

from logger.metrology.uncertainty import Budget
from logger.plan.planned_remedy import PlannedRemedy, RemedyPlan, RemedyResult, SpotChange, SpotPrediction
from logger.translation import in_language, tr


@in_language("en")
def plan_json(plan: RemedyPlan) -> dict[str, Any]:
    """The plan as plain values for JSON.

    Args:
        plan: worked out in English.
    """
    return {
        "target_volts": plan.target_volts,
        "simulated": plan.simulated,
        "why_open": plan.why_open,
        "findings": [
            {
                "kind": found.kind,
                "sources": [source.name for source in found.sources],
                "spot": found.spot_name,
                "volts": found.volts,
                "u_volts": found.u_volts,
                "text": found.text,
                "doubt": found.doubt,
            }
            for found in plan.findings
        ],
        "remedies": [_remedy(remedy) for remedy in plan.remedies],
        "chosen": list(map(_prediction, plan.chosen)),
        "least_effort": [remedy.name for remedy in plan.least_effort],
        "least_effort_proven": plan.least_effort_proven,
        "least_effort_predictions": list(map(_prediction, plan.least_effort_predictions)),
        "meets_target": plan.meets_target,
        "may_do": [remedy.name for remedy in plan.may_do],
        "may_do_chance": plan.may_do_chance if plan.may_do else None,
        "may_do_predictions": list(map(_prediction, plan.may_do_predictions)),
        "smallest_breakers": [source.name for source in plan.smallest_breakers],
        "unreachable": [
            {"spot": spot.spot_name, "volts": spot.volts, "u_volts": spot.u_volts, "why": spot.why}
            for spot in plan.unreachable
        ],
        "to_read": [
            {
                "spot": stop.spot_name,
                "condition": stop.combination.label,
                "purpose": stop.purpose,
                "remedies": list(stop.remedies),
            }
            for stop in plan.route
        ],
    }


def _remedy(remedy: PlannedRemedy) -> dict[str, Any]:
    kept = remedy.kept
    worst = max(
        (p for p in remedy.predictions if p.volts is not None), key=lambda p: p.volts or 0.0, default=None
    )
    return {
        "id": remedy.code,
        "name": remedy.name,
        "kind": remedy.kind,
        "about": remedy.about,
        "who": remedy.facts.who,
        "effort": remedy.facts.effort,
        "status": remedy.status,
        "not_wanted": remedy.not_wanted,
        "spot": worst.spot_name if worst is not None else remedy.spot_name,
        "predicted_volts": worst.volts if worst is not None else None,
        "u_predicted_volts": worst.u_volts if worst is not None else None,
        "predictions": list(map(_prediction, remedy.predictions)),
        "note": kept.note if kept is not None else "",
        "due": kept.due if kept is not None else "",
        "done_on": kept.done.done_on if kept is not None and kept.done is not None else "",
        "by": kept.by_whom if kept is not None else "",
        "distance_m": kept.distance_m if kept is not None else None,
        "from_visit": kept.from_visit if kept is not None else "",
        "cautions": [tr(caution) for caution in remedy.facts.cautions],
        "doubt": remedy.doubt,
        "result": _result(remedy.result) if remedy.result is not None else None,
    }


def _prediction(found: SpotPrediction) -> dict[str, Any]:
    return {
        "spot": found.spot_name,
        "volts": found.volts,
        "u_volts": found.u_volts,
        "lowest_volts": found.lowest_volts,
        "highest_volts": found.highest_volts,
        "before_volts": found.before_volts,
        "from_done": found.from_done,
        "is_read": found.is_read,
        "is_known": found.is_known,
        "may_be_swapped": found.may_be_swapped,
        "rises": found.rises,
        "refusal": found.refusal,
    }


def _result(result: RemedyResult) -> dict[str, Any]:
    return {
        "verdict": result.verdict,
        "together_with": list(result.together_with),
        "unread": list(result.unread),
        "not_read_before": list(result.without_before),
        "not_stated": list(result.not_stated),
        "doubts": list(result.doubts),
        "simulated": result.simulated,
        "spots": list(map(_change, result.changes)),
    }


def _change(change: SpotChange) -> dict[str, Any]:
    difference: Budget | None = change.difference
    return {
        "spot": change.spot_name,
        "acts_here": change.is_affected,
        "before_volts": change.before.volts,
        "u_before_volts": change.before.u_volts,
        "after_volts": change.after.volts,
        "u_after_volts": change.after.u_volts,
        "difference_volts": difference.volts if difference is not None else None,
        "u_difference_volts": difference.u_volts if difference is not None else None,
        "why_not": change.why_not,
        "before_visit": change.before_visit,
        "condition": change.after_condition,
        "predicted_volts": change.predicted.volts if change.predicted is not None else None,
        "u_predicted_volts": change.predicted.u_volts if change.predicted is not None else None,
    }
