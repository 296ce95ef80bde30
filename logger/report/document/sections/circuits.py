"""The circuits of the panel and the cords on them, as an electrician finds them."""

from __future__ import annotations

from logger.name_list import in_turn, joined
from logger.report.document.blocks import Block, Section, TableBlock, Text
from logger.report.document.report_data import ReportData
from logger.translation import marked, tr, tr_kept
from logger.visit.records.home_details import SourceDetails
from logger.visit.records.home_records import Source

NOT_APPLICABLE = "–"
"""In a cell for which there is nothing to record."""

NOT_RECORDED = marked("not recorded")


def circuits(data: ReportData) -> Section | None:
    """Build the section; None where nothing is entered of any circuit or cord but its name."""
    listed = [source for source in data.sources if source.kind == "circuit"]
    is_entered = any(source.id in data.source_details for source in data.sources)
    if not is_entered:
        return None
    ids = {circuit.id for circuit in listed}
    cords = [source for source in data.sources if source.kind == "cord"]
    rows: list[Source] = []
    for circuit in listed:
        rows += [circuit, *(cord for cord in cords if cord.circuit_id == circuit.id)]
    rows += [cord for cord in cords if cord.circuit_id not in ids]
    by_readings = tr("The leg by the readings stands in the breaker sweep.") if has_legs(data) else ""
    table = TableBlock(
        " ".join(filter(None, (tr("As marked at the panel."), by_readings))),
        circuit_heads(),
        tuple(circuit_row(source, data) for source in rows),
        small=True,
    )
    blocks: tuple[Block, ...] = (table, Text(_shown_off(listed, data)))
    if not any(tr(NOT_RECORDED) in row for row in table.rows):
        return Section("circuits", tr("Circuits"), blocks)
    note = tr("“Not recorded” means that nobody entered it, and not that there is none.")
    return Section("circuits", tr("Circuits"), (*blocks, Text(note)))


def _shown_off(listed: list[Source], data: ReportData) -> str:
    """Write how it was shown of which breaker that it takes the voltage off; what was entered alike stands once."""
    by_way: dict[str, list[str]] = {}
    for source in listed:
        way = data.source_details.get(source.id, SourceDetails()).shown_off
        by_way.setdefault(way, []).append(source.name)
    unknown = by_way.pop("", [])
    if not by_way:
        return tr("How it was shown that a breaker takes the voltage off what it feeds is not recorded.")
    ways = [tr("{way} ({names})").format(way=way, names=joined(names)) for way, names in by_way.items()]
    text = tr("How it was shown that a breaker takes the voltage off what it feeds: {ways}.")
    said = text.format(ways=in_turn(ways))
    if not unknown:
        return said
    return " ".join((said, tr("Not recorded of {names}.").format(names=joined(unknown))))


def has_legs(data: ReportData) -> bool:
    """Whether the sweep tells which circuits share a leg: something was swept, and there is more than one leg.

    Args:
        data: of the report.
    """
    return data.tonight is not None and bool(data.swept) and data.setup.supply != "single phase"


def circuit_heads() -> tuple[str, ...]:
    """The heads of the columns of `circuit_row`."""
    return (
        tr("Circuit or cord"),
        tr("Panel"),
        tr("Number"),
        tr("Rating"),
        tr("Leg as marked"),
        tr("Residual-current device"),
        tr("Feeds, or outlet of a cord"),
        tr("Poles, or plug and switch of a cord"),
        tr("Why it stays on"),
    )


def circuit_row(source: Source, data: ReportData) -> tuple[str, ...]:
    """Where a circuit or cord is, as it was entered, and why it stays on.

    Args:
        source: the circuit or cord.
        data: of the report.
    """
    details = data.source_details.get(source.id, SourceDetails())
    stays, unknown = tr_kept(source.stays) or NOT_APPLICABLE, tr(NOT_RECORDED)
    if source.kind == "cord":
        circuit = data.every_source.get(source.circuit_id or 0)
        text = tr("cord {cord} on {circuit}") if circuit is not None else tr("cord {cord}")
        name = text.format(cord=source.name, circuit=circuit.name if circuit is not None else "")
        outlet = details.outlet or details.feeds or unknown
        none = NOT_APPLICABLE
        return (name, none, none, details.rating or none, none, none, outlet, details.plug or unknown, stays)
    name = tr("{name}, two-pole").format(name=source.name) if source.two_pole else source.name
    return (
        name,
        details.panel or unknown,
        details.number or unknown,
        details.rating or unknown,
        details.leg or unknown,
        details.residual_current_device or unknown,
        details.feeds or unknown,
        details.poles or unknown,
        stays,
    )
