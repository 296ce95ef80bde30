"""What the page Plan shows: rows of remedies in groups, and bars of what the ticked ones would leave at each spot."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from enum import StrEnum

from gui.widgets.badge import BAD, GOOD, UNCLEAR
from gui.widgets.bar_painter import Bar
from gui.widgets.row_model import ListHeading, ListRow
from logger.metrology.rounding import fixed, plain, rounded
from logger.metrology.uncertainty import COVERAGE_FACTOR, Budget
from logger.name_list import joined, quoted
from logger.plan.planned_remedy import PlannedRemedy, RemedyPlan, SpotPrediction
from logger.plan.remedy_kinds import EFFORT_WORDS, WHO_WORDS, KnownEffect, Who
from logger.plan.remedy_text import READ_SWAPPED_FIRST, may_do_text, result_lines, short_result, way_out
from logger.plan.solver.prediction import Rise
from logger.plan.solver.remedies import Effort
from logger.translation import marked, tr
from logger.visit.results.on_off_result import against_target


class Group(StrEnum):
    """The groups of the list, in their order; go through `tr` where they are shown."""

    TONIGHT = marked("Household: least effort")
    WEEK = marked("Household: small effort")
    ELECTRICIAN = marked("Electrician")
    OUTSIDE = marked("Outside and reference")


def group_of(remedy: PlannedRemedy) -> Group:
    """The group of the list that a remedy stands in."""
    facts = remedy.facts
    if facts.who is Who.ELECTRICIAN:
        return Group.ELECTRICIAN
    if facts.who in (Who.NEIGHBOUR, Who.PRACTITIONER) or (not remedy.sources and remedy.findings):
        return Group.OUTSIDE
    return Group.TONIGHT if facts.effort is Effort.NONE else Group.WEEK


def in_groups(plan: RemedyPlan) -> list[PlannedRemedy]:
    """The remedies in the order of the list: by group, in each as the plan has them."""
    order = list(Group)
    return sorted(plan.remedies, key=lambda remedy: order.index(group_of(remedy)))


def remedy_rows(
    remedies: Sequence[PlannedRemedy], is_ticked: Callable[[PlannedRemedy], bool]
) -> list[ListRow | ListHeading]:
    """The rows of the list with a heading over each group.

    Args:
        remedies: in groups.
        is_ticked: whether a remedy is ticked.
    """
    rows: list[ListRow | ListHeading] = []
    group: Group | None = None
    for remedy in remedies:
        if group_of(remedy) is not group:
            group = group_of(remedy)
            rows.append(ListHeading(tr(group)))
        rows.append(_row(remedy, ticked=is_ticked(remedy)))
    return rows


def status_words(remedy: PlannedRemedy) -> str:
    """How far a remedy is, in words."""
    return tr("not wanted") if remedy.not_wanted else remedy.status_words


def _row(remedy: PlannedRemedy, *, ticked: bool) -> ListRow:
    facts = remedy.facts
    notes = [_elsewhere(remedy)]
    if remedy.kept is not None:
        notes += [
            tr("Due: {day}").format(day=remedy.kept.due) if remedy.kept.due else "",
            tr("Note: {note}").format(note=remedy.kept.note) if remedy.kept.note else "",
        ]
    return ListRow(
        remedy.shown,
        small=_brings(remedy),
        small_right=status_words(remedy),
        note=" ".join(filter(None, notes)),
        quiet=remedy.not_wanted,
        short=(remedy.shown, status_words(remedy)),
        short_more=_brings(remedy),
        short_small=_elsewhere(replace(remedy, doubt="")),
        ticked=ticked,
        tip="\n".join(
            filter(
                None,
                (f"{tr(WHO_WORDS[facts.who])}, {effort_words(remedy)}", why_it_rises(remedy.predictions)),
            )
        ),
    )


def _brings(remedy: PlannedRemedy) -> str:
    """What a remedy alone is predicted to bring where its finding is strongest; what it brought, once known."""
    if remedy.result is not None and (found := short_result(remedy.result)):
        return found
    if remedy.facts.effect is KnownEffect.NOT_PREDICTED:
        return tr("What it brings is not predicted: a reading tells.")
    at = _at_finding(remedy)
    if at is None:
        return ""
    return change_at(at) if len(remedy.predictions) > 1 or at.refusal else change_of(at)


def _at_finding(remedy: PlannedRemedy) -> SpotPrediction | None:
    at = {finding.spot_id for finding in remedy.findings}
    return next(
        (p for p in remedy.predictions if p.spot_id in at),
        remedy.predictions[0] if remedy.predictions else None,
    )


def _elsewhere(remedy: PlannedRemedy) -> str:
    """What may tell it apart, where it raises the value, or may, and why; and why its finding is not proved."""
    if remedy.result is not None:
        # Of what was read again the result counts, and no longer what is missing to the finding.
        return way_out(remedy.result)
    at = _at_finding(remedy)
    swapped = tr(READ_SWAPPED_FIRST) if at is not None and at.may_be_swapped else ""
    return " ".join(filter(None, (why_it_rises(remedy.predictions), remedy.doubt, swapped)))


def why_it_rises(predictions: Sequence[SpotPrediction]) -> str:
    """Where a value rises and why, in a sentence; empty where it rises nowhere."""
    raised = [p.spot_name for p in predictions if p.rises is Rise.YES]
    text = tr("At {spots} it rises: by itself it partly cancels the others.")
    return text.format(spots=joined(list(map(quoted, raised)))) if raised else ""


def effort_words(remedy: PlannedRemedy) -> str:
    """How much effort a remedy is, in words: what is done at the panel or the plug each night is not none."""
    if remedy.acts_at_night and remedy.facts.effort is Effort.NONE:
        return tr("small effort each night")
    return tr(EFFORT_WORDS[remedy.facts.effort])


def change_at(found: SpotPrediction) -> str:
    """What is predicted at a spot, in a line: '1.98 → 0.15 ± 0.05 V at “Bed, left”'."""
    if found.refusal:
        return found.refusal
    return tr("{change} at “{spot}”").format(change=change_of(found), spot=found.spot_name)


def change_of(found: SpotPrediction) -> str:
    """The same where only one spot is meant."""
    before = "" if found.before_volts is None else f"{fixed(found.before_volts, 2)} → "
    return before + _left(found)


def _left(found: SpotPrediction) -> str:
    if found.tells_nothing:
        return tr("not known before it is read")
    if found.volts is not None and found.u_volts is not None:
        figures = rounded(found.volts, COVERAGE_FACTOR * found.u_volts)
        return tr("about {volts} V ± {expanded} V").format(volts=figures.volts, expanded=figures.expanded)
    lowest, highest = fixed(found.lowest_volts or 0.0, 2), fixed(found.highest_volts or 0.0, 2)
    return tr("at best {lowest} V, at worst {highest} V").format(lowest=lowest, highest=highest)


def spot_bars(predictions: Sequence[SpotPrediction], target_volts: float) -> list[Bar]:
    """What the ticked remedies leave at each spot, against the target, and where it rises."""
    return [_bar(found, target_volts) for found in predictions]


def _bar(found: SpotPrediction, target_volts: float) -> Bar:
    if found.refusal:
        return Bar(found.spot_name, tr("not predicted"), note=found.refusal, badge=UNCLEAR, has_bar=False)
    notes = []
    if found.rises is Rise.YES:
        notes.append(tr("It rises here: what is taken away cancelled a part of what stays."))
    elif found.rises is Rise.MAY:
        notes.append(tr("It may rise here."))
    if found.from_done and not found.is_read and found.before_volts is not None:
        text = tr("With all that is done {before} V were read there.")
        notes.append(text.format(before=fixed(found.before_volts, 2)))
    if found.may_be_swapped:
        notes.append(tr(READ_SWAPPED_FIRST))
    if found.volts is None or found.u_volts is None:
        lowest, highest = found.lowest_volts or 0.0, found.highest_volts or 0.0
        badge = BAD if lowest > target_volts else UNCLEAR
        return Bar(
            found.spot_name,
            _left(found),
            (lowest + highest) / 2,
            (highest - lowest) / 2,
            " ".join((tr("How much is left is known only after a reading."), *notes)),
            badge,
        )
    budget = Budget.of_u("prediction", found.volts, found.u_volts)
    verdict = against_target(budget, target_volts)
    lies_below = found.volts + COVERAGE_FACTOR * found.u_volts <= target_volts and not found.may_be_swapped
    lies_above = found.volts - COVERAGE_FACTOR * found.u_volts > target_volts
    text = tr("read: {verdict}") if found.is_read else tr("predicted: {verdict}")
    if not found.is_known and not found.is_read and not found.may_be_swapped:
        notes.append(tr("A reading has to tell."))
    return Bar(
        found.spot_name,
        _left(found),
        found.volts,
        COVERAGE_FACTOR * found.u_volts,
        " ".join((text.format(verdict=verdict) + ".", *notes)),
        GOOD if lies_below else BAD if lies_above else UNCLEAR,
    )


def least_effort_text(plan: RemedyPlan) -> str:
    """Whether a set reaches the target, whether that is proven, and the smallest list of breakers; some sentences."""
    return " ".join(_least_effort(plan))


def _least_effort(plan: RemedyPlan) -> Iterator[str]:
    if plan.least_effort:
        names = joined([remedy.shown for remedy in plan.least_effort])
        text = (
            tr("Least effort to reach {target} V: {remedies}.")
            if plan.reaches_target
            else tr("This comes closest to {target} V, too close to tell whether it reaches it: {remedies}.")
            if plan.meets_target
            else tr("Nothing reaches {target} V everywhere. This comes nearest: {remedies}.")
        )
        yield text.format(target=plain(plan.target_volts), remedies=names)
        yield (
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


def detail_lines(remedy: PlannedRemedy) -> list[str]:
    """All that is known of the chosen remedy: findings, who does it, what it brought, history, cautions."""
    facts = remedy.facts
    lines = [finding.shown for finding in remedy.findings]
    lines.append(
        tr("Done by: {who}. Effort: {effort}.").format(
            who=tr(WHO_WORDS[facts.who]), effort=effort_words(remedy)
        )
    )
    if remedy.result is not None:
        lines += result_lines(remedy.result)
    if remedy.kept is not None and remedy.kept.from_visit:
        lines.append(tr("Taken over from the earlier visit {visit}.").format(visit=remedy.kept.from_visit))
    return lines + [tr(caution) for caution in facts.cautions]
