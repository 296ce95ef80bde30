"""What is left to a licensed electrician: where each circuit and cord is, what it gives, what can be done about it."""

from __future__ import annotations

from logger.cautions import ELECTRICIAN_DECIDES, PANEL, WIRING
from logger.name_list import joined
from logger.plan.planned_remedy import PlannedRemedy
from logger.report.document.blocks import Block, HeadingBlock, Items, Pairs, Section, TableBlock, Text
from logger.report.document.first_page.amounts import highest_amounts
from logger.report.document.plan_sheet.effect_text import effect_text
from logger.report.document.plan_sheet.plan_sheet import day_of, named, requests
from logger.report.document.report_data import ReportData
from logger.report.document.sections.circuits import circuit_heads, circuit_row
from logger.report.document.wording import SUPPLIES
from logger.translation import tr, tr_all, tr_kept
from logger.visit.records.home_details import circuit_label


def electrician(data: ReportData) -> Section | None:
    """Build the section; None where nothing is left to an electrician."""
    undone = _taken_off(data)
    pieces = [piece for piece in data.advice if piece.for_an_electrician and piece.about not in undone]
    asked = requests(data)
    if not pieces and not asked:
        return None
    amounts = highest_amounts(data)
    by_name = {source.name: source for source in data.sources}
    about = [(by_name[piece.about], piece) for piece in pieces if piece.about in by_name]
    by_id = {source.id: source for source in data.sources}
    # A cord is found by its circuit, which may give most by that cord and is then no task of its own.
    named_sources = [source for source, _ in about] + [
        source for remedy in asked for source in remedy.sources
    ]
    shown = {
        one.id: one for source in named_sources for one in (by_id.get(source.circuit_id or 0), source) if one
    }
    unread = tr("not read by itself")
    rows = tuple(
        (*circuit_row(source, data)[:-1], amounts[source.name].at_spot if source.name in amounts else unread)
        for source in shown.values()
    )
    alike: dict[str, list[str]] = {}
    for source, piece in about:
        alike.setdefault(piece.for_an_electrician, []).append(source.name)
    text = tr("{names}: {what}")
    stays = [
        tr("{source} ({why})").format(
            source=circuit_label(source, data.source_details.get(source.id)), why=tr_kept(source.stays)
        )
        for source in data.sources
        if source.stays and source.kind == "circuit"
    ]
    unknown = tr("not recorded")
    blocks: list[Block] = [
        Text(tr_all((PANEL, WIRING, ELECTRICIAN_DECIDES))),
        Pairs(
            (
                (tr("Place of each panel"), data.circumstances.panel_places or unknown),
                (tr("Supply"), tr(SUPPLIES[data.setup.supply]) if data.setup.supply else unknown),
                (tr("Earthing system"), data.circumstances.earthing or unknown),
                (tr("Must stay on"), joined(stays) or tr("nothing that is listed")),
            )
        ),
        TableBlock(
            tr("What gives most of the body voltage, as marked at the panel"),
            (*circuit_heads()[:-1], tr("Gives, where it gives most")),
            rows,
            small=True,
        ),
    ]
    if asked:
        blocks += [
            HeadingBlock(tr("Asked for by the household")),
            Items(tuple(_request(remedy, data) for remedy in asked)),
        ]
    if alike:
        possible = tuple(text.format(names=joined(names), what=what) for what, names in alike.items())
        blocks += [HeadingBlock(tr("What could be done")), Items(possible)] if asked else [Items(possible)]
    return Section("electrician", tr("For the electrician"), tuple(blocks))


def _taken_off(data: ReportData) -> set[str]:
    """Names of circuits and cords of which all that was decided on is undone or not wanted: nobody asks for it."""
    open_ones = {s.name for one in data.plan.remedies if one.is_chosen for s in one.sources}
    decided = {s.name for one in data.plan.remedies if one.kept is not None for s in one.sources}
    return decided - open_ones


def _request(remedy: PlannedRemedy, data: ReportData) -> str:
    """What is asked for, with what it would bring, until when, and the note."""
    assert remedy.kept is not None
    until = tr("Until {day}.").format(day=day_of(remedy.kept.due)) if remedy.kept.due else ""
    return " ".join(filter(None, (f"{named(remedy, data)}.", effect_text(remedy), until, remedy.kept.note)))
