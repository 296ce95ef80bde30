"""What is left to a licensed electrician: where each circuit and cord is, what it gives, what can be done about it."""

from __future__ import annotations

from logger.cautions import PANEL, WIRING
from logger.name_list import joined
from logger.report.document.blocks import Block, Items, Pairs, Section, TableBlock, Text
from logger.report.document.first_page.amounts import highest_amounts
from logger.report.document.report_data import ReportData
from logger.report.document.sections.circuits import circuit_heads, circuit_row
from logger.translation import tr, tr_all, tr_kept
from logger.visit.records.home_details import circuit_label


def electrician(data: ReportData) -> Section | None:
    """Build the section; None where nothing is left to an electrician."""
    plan = data.tonight
    pieces = [piece for piece in data.advice if piece.for_an_electrician]
    if plan is None or not pieces:
        return None
    amounts = highest_amounts(data)
    by_name = {source.name: source for source in data.sources}
    about = [(by_name[piece.about], piece) for piece in pieces if piece.about in by_name]
    by_id = {source.id: source for source in data.sources}
    # A cord is found by its circuit, which may give most by that cord and is then no task of its own.
    shown = {one.id: one for source, _ in about for one in (by_id.get(source.circuit_id or 0), source) if one}
    rows = tuple(
        (*circuit_row(source, data)[:-1], amounts[source.name].at_spot if source.name in amounts else "–")
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
        for source in plan.essential
        if source.kind == "circuit"
    ]
    unknown = tr("not recorded")
    blocks: list[Block] = [
        Text(tr_all((PANEL, WIRING))),
        Pairs(
            (
                (tr("Place of each panel"), data.circumstances.panel_places or unknown),
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
        Items(tuple(text.format(names=joined(names), what=what) for what, names in alike.items())),
    ]
    return Section("electrician", tr("For the electrician"), tuple(blocks))
