"""The table of circuits on the professional's pages."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

from logger.report.document.blocks import TableBlock
from logger.report.document.report_data import ReportData
from logger.report.document.sections.circuits import circuits
from logger.visit.records.home_details import SourceDetails
from logger.visit.records.home_records import Source


def test_circuits_stand_with_their_cords_as_marked_at_the_panel() -> None:
    sources = (
        Source(1, "cord", "Lamp", circuit_id=3),
        Source(2, "circuit", "Range", two_pole=True),
        Source(3, "circuit", "Fridge", stays="keeps food cold"),
    )
    details = {
        3: SourceDetails("A", "7", "B16", "L1", "30 mA", "kitchen", poles="phase"),
        1: SourceDetails(outlet="by the bed", plug="earthed"),
    }
    given = {
        "tonight": None,
        "sources": sources,
        "every_source": {s.id: s for s in sources},
        "source_details": details,
    }
    section = circuits(cast(ReportData, SimpleNamespace(**given)))
    assert section is not None
    table = section.blocks[0]
    assert isinstance(table, TableBlock)
    assert table.rows == (
        ("Range, two-pole", *["not recorded"] * 7, "–"),
        ("Fridge", "A", "7", "B16", "L1", "30 mA", "kitchen", "phase", "keeps food cold"),
        ("cord Lamp on Fridge", *["–"] * 5, "by the bed", "earthed", "–"),
    )
    assert circuits(cast(ReportData, SimpleNamespace(**given | {"source_details": {}}))) is None
