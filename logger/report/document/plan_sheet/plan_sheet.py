"""The household's plan on one sheet: each evening, this week, the electrician, and what is done by now.

In: the remedies that were planned or done. Out: lines with a box to tick, in the groups of the sheet. A plan of nothing
has no sheet: what was only proposed is nobody's plan yet.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from logger.metrology.rounding import plain
from logger.name_list import joined
from logger.plan.planned_remedy import PlannedRemedy, RemedyPlan, RemedyStatus, RoutePurpose
from logger.plan.remedy_kinds import KnownEffect, Who, words_of
from logger.plan.remedy_text import may_do_text
from logger.report.document.first_page.tonight import tonight
from logger.report.document.plan_sheet.effect_text import effect_text, prediction_text
from logger.report.document.report_data import ReportData
from logger.report.document.wording import day
from logger.translation import tr
from logger.visit.records.home_details import circuit_label
from logger.visit.records.remedy_records import RemedyKind


@dataclass(frozen=True, slots=True)
class PlanLine:
    """One thing to do.

    Args:
        what: what is done to what.
        brings: what it brings, or brought, in sentences; empty where only all of its group together can tell.
        until: by when, by whom, and the note that was entered with it; empty where none was.
        ticked: it is done already.
    """

    what: str
    brings: str
    until: str = ""
    ticked: bool = False


@dataclass(frozen=True, slots=True)
class PlanGroup:
    """Lines for one time or one person.

    Args:
        head: of the group.
        lines: in the order of the plan, breakers in the order of the panel.
        notes: what has to be thought of with it, sentences.
    """

    head: str
    lines: tuple[PlanLine, ...]
    notes: str = ""


@dataclass(frozen=True, slots=True)
class PlanSheet:
    """The sheet.

    Args:
        lead: what all of it together leaves, and what that rests on, a sentence each.
        groups: of things to do; none is empty.
        reads: what has to be read, and for what.
        cautions: of what is on it, each once.
    """

    lead: tuple[str, ...]
    groups: tuple[PlanGroup, ...]
    reads: tuple[str, ...]
    cautions: tuple[str, ...]


def plan_sheet(data: ReportData, written: datetime) -> PlanSheet | None:
    """Put the sheet together; None where nothing is planned and nothing was done.

    Args:
        data: of the report.
        written: when it is made: what is due by then is called so.
    """
    chosen = chosen_remedies(data.plan)
    if not chosen:
        return None
    order = {source.id: place for place, source in enumerate(data.sources)}
    groups: dict[str, list[PlanLine]] = {head: [] for head in _heads()}
    for remedy in sorted(chosen, key=lambda one: min((order.get(s.id, -1) for s in one.sources), default=-1)):
        groups[_head(remedy)].append(_line(remedy, data, written.date()))
    evening = _heads()[1]
    notes = {evening: _switching_notes(data, chosen)}
    if len(groups[evening]) > 1 and data.plan.chosen:
        # Each by itself may even raise the value: what they bring together stands at the head.
        groups[evening] = [replace(line, brings="") for line in groups[evening]]
    return PlanSheet(
        lead=tuple(_lead(data, chosen)),
        groups=tuple(
            PlanGroup(head, tuple(lines), notes.get(head, "")) for head, lines in groups.items() if lines
        ),
        reads=tuple(_reads(data.plan)),
        cautions=tuple(map(tr, dict.fromkeys(c for remedy in chosen for c in remedy.facts.cautions))),
    )


def chosen_remedies(plan: RemedyPlan) -> list[PlannedRemedy]:
    """What was planned or done, and not taken back.

    Args:
        plan: of the visit.
    """
    return [remedy for remedy in plan.remedies if remedy.is_chosen]


def requests(data: ReportData) -> list[PlannedRemedy]:
    """What is asked of a licensed electrician and is not done yet.

    Args:
        data: of the report.
    """
    return [
        remedy
        for remedy in data.plan.remedies
        if remedy.facts.who is Who.ELECTRICIAN and remedy.status is RemedyStatus.PLANNED
    ]


def _heads() -> tuple[str, ...]:
    return (
        tr("Undo this: the value has risen"),
        tr("Each evening"),
        tr("This week"),
        tr("Ask an electrician"),
        tr("With whoever measures"),
        tr("Done"),
    )


def _head(remedy: PlannedRemedy) -> str:
    undo, evening, week, electrician, practitioner, done = _heads()
    if remedy.status is RemedyStatus.WORSE:
        return undo
    is_done = remedy.status is not RemedyStatus.PLANNED
    if _is_every_evening(remedy):
        # Somebody has to do it every evening, however often it was done before.
        return done if remedy.status is RemedyStatus.NO_EFFECT else evening
    if is_done:
        return done
    return {Who.ELECTRICIAN: electrician, Who.PRACTITIONER: practitioner}.get(remedy.facts.who, week)


def _is_every_evening(remedy: PlannedRemedy) -> bool:
    return remedy.facts.who is Who.HOUSEHOLD and remedy.acts_at_night


def _line(remedy: PlannedRemedy, data: ReportData, today: date) -> PlanLine:
    return PlanLine(
        what=named(remedy, data),
        brings=effect_text(remedy),
        until=" ".join(_entered(remedy, today)),
        ticked=remedy.status is not RemedyStatus.PLANNED and not _is_every_evening(remedy),
    )


def named(remedy: PlannedRemedy, data: ReportData) -> str:
    """What is done to what, a circuit as it is found at the panel.

    Args:
        remedy: of the plan.
        data: of the report.
    """
    what = remedy.text if remedy.kind is RemedyKind.OWN else tr(words_of(remedy.kind, remedy.sources))
    about = joined([circuit_label(source, data.source_details.get(source.id)) for source in remedy.sources])
    return tr("{about}: {what}").format(about=about or remedy.spot_name, what=what) if remedy.about else what


def _entered(remedy: PlannedRemedy, today: date) -> Iterator[str]:
    """Who does it until when, or has done it, and the note."""
    kept = remedy.kept
    if kept is None:
        return
    entry = kept.done
    if entry is not None and _is_every_evening(remedy):
        # To be done again tonight, whoever did it last.
        pass
    elif entry is not None and entry.done_on:
        text = tr("Done on {day} by {name}.") if kept.by_whom else tr("Done on {day}.")
        yield text.format(day=day_of(entry.done_on), name=kept.by_whom)
    elif entry is not None and kept.by_whom:
        yield tr("Done by {name}.").format(name=kept.by_whom)
    elif entry is None:
        if kept.due:
            is_past = date.fromisoformat(kept.due) < today
            text = tr("It was due on {day}: is it done?") if is_past else tr("Until {day}.")
            yield text.format(day=day_of(kept.due))
        if kept.by_whom:
            yield tr("By {name}.").format(name=kept.by_whom)
    if kept.distance_m is not None:
        yield tr("Moved by {distance} m.").format(distance=plain(kept.distance_m))
    if kept.note:
        yield kept.note


def day_of(iso: str) -> str:
    """Write an ISO date as the report writes days."""
    when = date.fromisoformat(iso)
    return day(datetime(when.year, when.month, when.day))


def _switching_notes(data: ReportData, chosen: Sequence[PlannedRemedy]) -> str:
    """What the household has to think of at the panel, as it stands with tonight's list."""
    if not any(remedy.kind is RemedyKind.BREAKER_AT_NIGHT for remedy in chosen):
        return ""
    return tonight(data).back


def _lead(data: ReportData, chosen: Sequence[PlannedRemedy]) -> Iterator[str]:
    """What all of it together leaves, and what speaks against relying on it."""
    plan = data.plan
    if plan.why_open:
        yield plan.why_open
    together = prediction_text(plan.chosen)
    if together and len(chosen) > 1:
        is_whole = all(remedy.facts.effect is not KnownEffect.NOT_PREDICTED for remedy in chosen)
        text = (
            tr("All of this together: {what}")
            if is_whole
            else tr("All of this together, but for what nobody can predict: {what}")
        )
        yield text.format(what=together)
    if plan.chosen and not plan.why_open:
        text = (
            tr("That is below {target} V at every spot that was swept.")
            if all(spot.is_below(plan.target_volts) for spot in plan.chosen)
            else tr("That is not certain to be below {target} V at every spot that was swept.")
        )
        yield text.format(target=plain(plan.target_volts))
        if any(
            night.summary.level is not None and night.summary.level.clearly_above_s for night in data.nights
        ):
            text = tr("In a recorded night the value was at times above {target} V all the same.")
            yield text.format(target=plain(plan.target_volts))
    instead = {remedy.name for remedy in plan.may_do}
    if any(one.status is RemedyStatus.PLANNED and one.name not in instead for one in chosen):
        yield from filter(None, (may_do_text(plan),))
    for spot in plan.unreachable:
        yield spot.why


def _reads(plan: RemedyPlan) -> Iterator[str]:
    for stop in plan.route:
        text = (
            tr("Before it is done, read “{spot}” with {on}: {remedies}.")
            if stop.purpose is RoutePurpose.BEFORE
            else tr("To see whether it has helped, read “{spot}” again with {on}: {remedies}.")
        )
        yield text.format(spot=stop.spot_name, on=stop.combination.shown, remedies=joined(stop.remedies))
