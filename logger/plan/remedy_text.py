"""A plan of remedies in sentences, for window, command line, report and the household's page."""

from __future__ import annotations

from collections.abc import Iterator

from logger.metrology.rounding import fixed, plain, rounded
from logger.metrology.uncertainty import COVERAGE_FACTOR, shown, shown_change
from logger.name_list import joined, quoted
from logger.plan.planned_remedy import (
    PlannedRemedy,
    ProofVerdict,
    RemedyPlan,
    RemedyResult,
    RoutePurpose,
    RouteStop,
    SpotChange,
    SpotPrediction,
)
from logger.plan.remedy_kinds import EFFORT_WORDS, WHO_WORDS
from logger.plan.solver.prediction import Rise
from logger.translation import marked, tr

DECIMALS = 2
"""Of volts in a line without ±."""

VERDICTS = {
    ProofVerdict.PROVEN: marked("Proven: the value fell by more than its uncertainty, and rose nowhere."),
    ProofVerdict.NO_EFFECT: marked("No effect: what was predicted would have shown, and did not."),
    ProofVerdict.WORSE: marked("Worse: the value rose by more than its uncertainty."),
    ProofVerdict.NOT_TOLD_APART: marked(
        "Not told apart: before and after differ by no more than the uncertainty."
    ),
    ProofVerdict.NOT_READ: marked("Not read again yet in the same condition."),
    ProofVerdict.NOT_COMPARABLE: marked("Not comparable: read it again as it was read before."),
}
"""Go through `tr` where they are shown."""


READ_SWAPPED_FIRST = marked("Two readings may have been swapped: read again first.")
"""Stands with what is predicted from them; goes through `tr` where it is shown."""


def prediction_text(prediction: SpotPrediction) -> str:
    """What is predicted at a spot: '0.57 V ± 0.06 V at “Bed, left”, now 1.84 V'.

    Args:
        prediction: for the spot.
    """
    if prediction.refusal:
        return tr("“{spot}”: {why}").format(spot=prediction.spot_name, why=prediction.refusal)
    if prediction.tells_nothing:
        why = tr("not known before it is read")
        said = tr("“{spot}”: {why}").format(spot=prediction.spot_name, why=why)
        return f"{said}. {tr(READ_SWAPPED_FIRST)}" if prediction.may_be_swapped else said
    before = fixed(prediction.before_volts, 2) if prediction.before_volts is not None else ""
    now = tr("With all that is done {before} V were read there.") if prediction.from_done else ""
    if prediction.volts is not None and prediction.u_volts is not None:
        figures = rounded(prediction.volts, COVERAGE_FACTOR * prediction.u_volts)
        text = (
            tr("“{spot}”: {volts} V ± {expanded} V instead of {before} V.")
            if before and not now
            else tr("“{spot}”: {volts} V ± {expanded} V.")
        )
        said = text.format(
            spot=prediction.spot_name, volts=figures.volts, expanded=figures.expanded, before=before
        )
    else:
        text = (
            tr("“{spot}”: between {lowest} V and {highest} V instead of {before} V.")
            if before and not now
            else tr("“{spot}”: between {lowest} V and {highest} V.")
        )
        said = text.format(
            spot=prediction.spot_name,
            lowest=fixed(prediction.lowest_volts or 0.0, 2),
            highest=fixed(prediction.highest_volts or 0.0, 2),
            before=before,
        )
    rises = {Rise.YES: tr("There it rises."), Rise.MAY: tr("There it may rise.")}.get(prediction.rises, "")
    doubt = tr(READ_SWAPPED_FIRST) if prediction.may_be_swapped else ""
    return " ".join(filter(None, (said, now.format(before=before), rises, doubt)))


def change_text(change: SpotChange) -> str:
    """What a spot had before and has after, with the difference, and what was predicted.

    Args:
        change: of the spot.
    """
    if change.difference is None:
        return tr("“{spot}”: {before} before, {after} after. {why}").format(
            spot=change.spot_name, before=shown(change.before), after=shown(change.after), why=change.why_not
        )
    before, after, moved = shown_change(change.before, change.after, change.difference)
    said = tr("“{spot}”: {before} before, {after} after; difference {difference}.").format(
        spot=change.spot_name, before=before, after=after, difference=moved
    )
    predicted = change.predicted
    if predicted is None or predicted.volts is None or predicted.u_volts is None:
        return said
    figures = rounded(predicted.volts, COVERAGE_FACTOR * predicted.u_volts)
    beside = tr("Predicted: {volts} V ± {expanded} V.")
    return f"{said} {beside.format(volts=figures.volts, expanded=figures.expanded)}"


def short_result(result: RemedyResult) -> str:
    """What reading again has shown, in a line beside its state: '0.81 → 0.19 V at “bed” (predicted 0.24 V)'.

    Args:
        result: of the remedy.

    Returns:
        The line; empty while it was not read again.
    """
    change = result.deciding
    if result.verdict is ProofVerdict.NOT_COMPARABLE:
        return next((one.why_not for one in result.changes if one.why_not), "")
    if result.verdict is ProofVerdict.NOT_READ or change is None or change.difference is None:
        return ""
    text = tr("{before} → {after} V at “{spot}”").format(
        spot=change.spot_name,
        before=fixed(change.before.volts, DECIMALS),
        after=fixed(change.after.volts, DECIMALS),
    )
    if result.verdict is ProofVerdict.NOT_TOLD_APART:
        moved = rounded(change.difference.volts, change.difference.expanded_volts)
        text = tr("{change}: {difference} V ± {expanded} V").format(
            change=text, difference=moved.volts, expanded=moved.expanded
        )
    predicted = change.predicted
    if predicted is not None and predicted.volts is not None and not predicted.tells_nothing:
        text = tr("{change} (predicted {volts} V)").format(
            change=text, volts=fixed(predicted.volts, DECIMALS)
        )
    if result.together_with:
        others = joined(list(result.together_with))
        text = tr("{change}, together with {others}").format(change=text, others=others)
    return text


def way_out(result: RemedyResult) -> str:
    """What may tell before and after apart, in a sentence or two; empty where they are.

    Args:
        result: of the remedy.
    """
    if result.verdict is not ProofVerdict.NOT_TOLD_APART:
        return ""
    again = tr("Then read both again.") if result.can_read_before else tr("Then read it again.")
    if result.not_stated:
        text = tr("State in Prepare {what}: each makes ± smaller.")
        return " ".join((text.format(what=joined(list(result.not_stated))), again))
    if result.wide_readings:
        return (
            tr("Read both again: something of Prepare was not stated yet when they were taken.")
            if result.can_read_before
            else tr("Read it again: something of Prepare was not stated yet when it was read.")
        )
    return tr("Read again in the same posture: each repeat tells more.")


def result_lines(result: RemedyResult) -> list[str]:
    """What a remedy has brought, a sentence or two each: the verdict, each spot, and what speaks against it.

    Args:
        result: of the remedy.
    """
    lines = [tr(VERDICTS[result.verdict])]
    if result.together_with:
        text = tr(
            "This was done between the same readings: {names}. The verdict is of all of it together, not of one alone."
        )
        lines.append(text.format(names=joined(list(result.together_with))))
    lines += map(change_text, result.changes)
    if way := way_out(result):
        lines.append(way)
    if result.without_before:
        text = tr("It was not read before at {spots}: reading there again proves nothing.")
        lines.append(text.format(spots=joined(list(map(quoted, result.without_before)))))
    to_read = [name for name in result.unread if name not in result.without_before]
    if to_read:
        lines.append(tr("Still to be read: {spots}.").format(spots=joined(list(map(quoted, to_read)))))
    return [*lines, *result.doubts]


def stop_text(stop: RouteStop) -> str:
    """A reading of the route: where, with what on, and what it proves.

    Args:
        stop: of the route.
    """
    text = (
        tr("Read “{spot}” with “{condition}” before this is done: {remedies}.")
        if stop.purpose is RoutePurpose.BEFORE
        else tr("Read “{spot}” once more with “{condition}”: {remedies}.")
        if stop.purpose is RoutePurpose.AGAIN
        else tr("Read “{spot}” with “{condition}”. It proves: {remedies}.")
    )
    return text.format(
        spot=stop.spot_name, condition=stop.combination.shown, remedies=joined(list(stop.remedies))
    )


def plan_lines(plan: RemedyPlan) -> Iterator[str]:
    """The whole plan as text, a line each.

    Args:
        plan: of a visit.
    """
    if plan.simulated:
        yield tr("Simulated: nothing of it was measured.")
    if plan.why_open:
        yield plan.why_open
    if plan.findings:
        yield tr("Findings")
        yield from (f"  {found.shown}" for found in plan.findings)
    if plan.remedies:
        yield tr("Remedies")
    for remedy in plan.remedies:
        yield from _remedy_lines(remedy)
    yield from _set_lines(plan)
    if plan.route:
        yield tr("To be read")
        yield from (f"  {stop_text(stop)}" for stop in plan.route)
    if cautions := dict.fromkeys(caution for remedy in plan.remedies for caution in remedy.facts.cautions):
        yield tr("Cautions")
        yield from (f"  {tr(caution)}" for caution in cautions)
    if not plan.findings and not plan.remedies:
        yield nothing_found_text(plan)


def _remedy_lines(remedy: PlannedRemedy) -> Iterator[str]:
    facts = remedy.facts
    status = tr("not wanted") if remedy.not_wanted else remedy.status_words
    effort = tr(EFFORT_WORDS[facts.effort])
    yield f"  {remedy.shown} [{status}; {tr(WHO_WORDS[facts.who])}; {effort}] ({remedy.code})"
    if remedy.kept is not None:
        if remedy.kept.due:
            yield "    " + tr("Due: {day}").format(day=remedy.kept.due)
        if remedy.kept.note:
            yield "    " + tr("Note: {note}").format(note=remedy.kept.note)
    if remedy.result is not None:
        yield from (f"    {line}" for line in result_lines(remedy.result))
    else:
        yield from (f"    {prediction_text(prediction)}" for prediction in remedy.predictions)


def _set_lines(plan: RemedyPlan) -> Iterator[str]:
    if plan.chosen:
        yield tr("With all that is planned and done")
        yield from (f"  {prediction_text(prediction)}" for prediction in plan.chosen)
    if plan.least_effort:
        target = plain(plan.target_volts)
        yield (
            tr("Least effort to reach {target} V").format(target=target)
            if plan.reaches_target
            else tr("Comes closest to {target} V; too close to tell whether it reaches it").format(
                target=target
            )
            if plan.meets_target
            else tr("What comes nearest to {target} V").format(target=target)
        )
        yield from (f"  {remedy.shown}" for remedy in plan.least_effort)
        yield from (f"  {prediction_text(prediction)}" for prediction in plan.least_effort_predictions)
        yield "  " + (
            tr("By these readings no set of less effort does as well.")
            if plan.least_effort_proven
            else tr("Not every set was tried: one of less effort may do as well.")
        )
    if may_do := may_do_text(plan):
        yield may_do
    if plan.smallest_breakers:
        names = joined([source.name for source in plan.smallest_breakers])
        yield tr("Smallest list of breakers: {names}.").format(names=names)
    for spot in plan.unreachable:
        yield tr("Not reached at “{spot}”: {why}").format(spot=spot.spot_name, why=spot.why)


def may_do_text(plan: RemedyPlan) -> str:
    """The set of less effort that may reach the target, and how to find out; empty where there is none.

    Args:
        plan: of a visit.
    """
    if not plan.may_do:
        return ""
    said = tr("Less may do, but it is not certain: {remedies}. {predictions}").format(
        remedies=joined([remedy.shown for remedy in plan.may_do]),
        predictions=" ".join(map(prediction_text, plan.may_do_predictions)),
    )
    advice = tr(
        "Try this first, before anything is bought or built: switch off or unplug just that by hand, and read again."
    )
    return f"{said} {advice}"


def nothing_found_text(plan: RemedyPlan) -> str:
    """Why a plan has no remedy: too little is read by now, or what was read leaves nothing to be done.

    Args:
        plan: of a visit, without a remedy.
    """
    if plan.why_open:
        return tr("No remedy can be proposed yet: too little is read.")
    return tr("Nothing was found that a remedy would be for.")
