"""The section for a licensed electrician on the professional's pages."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

from logger.metrology.setup import Setup
from logger.plan.planned_remedy import PlannedRemedy, RemedyPlan, RemedyStatus
from logger.report.document.blocks import Items, Pairs, TableBlock
from logger.report.document.report_data import ReportData
from logger.report.document.sections.electrician import electrician
from logger.sweep.advice import Advice, AdviceKind
from logger.visit.records.circumstances import Circumstances
from logger.visit.records.home_details import SourceDetails
from logger.visit.records.home_records import Source
from logger.visit.records.remedy_records import Remedy, RemedyDecision, RemedyEntry, RemedyKind


def test_a_cord_stands_with_its_circuit_as_marked_and_what_must_stay_on_with_its_number() -> None:
    sources = (
        Source(1, "cord", "Lamp", circuit_id=3),
        Source(2, "circuit", "Fridge", stays="keeps food cold"),
        Source(3, "circuit", "Bedroom"),
    )
    details = {3: SourceDetails("A", "7", "B16", "L1", "none", "bedroom"), 2: SourceDetails(number="9")}
    plan = SimpleNamespace(essential=sources[1:2], spots=())
    data = SimpleNamespace(
        sources=sources,
        every_source={s.id: s for s in sources},
        source_details=details,
        tonight=plan,
        advice=[Advice(AdviceKind.CORD, "Lamp", 1.2, 0.1)],
        effects={},
        circumstances=Circumstances(panel_places="in the hall"),
        plan=RemedyPlan(0.1, (), ()),
        setup=Setup(supply="split phase"),
    )
    section = electrician(cast(ReportData, data))
    assert section is not None
    assert "9 (Fridge) (keeps food cold)" in repr(section) and "in the hall" in repr(section)
    (table,) = (block for block in section.blocks if isinstance(block, TableBlock))
    assert table.rows == (
        ("Bedroom", "A", "7", "B16", "L1", "none", "bedroom", "not recorded", "not read by itself"),
        ("cord Lamp on Bedroom", *["–"] * 5, "not recorded", "not recorded", "not read by itself"),
    )
    (tasks,) = (block for block in section.blocks if isinstance(block, Items))
    assert tasks.items[0].startswith("Lamp: An electrician can fit")
    pairs = next(block for block in section.blocks if isinstance(block, Pairs))
    assert any("split" in value.lower() for _, value in pairs.pairs)
    undone = Remedy(
        1, 0, RemedyKind.SHIELDED_CORD, (1,), entries=(RemedyEntry(0, RemedyDecision.UNDONE, id=1),)
    )
    data.plan = RemedyPlan(
        0.1,
        (),
        (PlannedRemedy(undone.kind, sources[:1], None, "", "", undone, RemedyStatus.PROPOSED),),
    )
    assert electrician(cast(ReportData, data)) is None, "nothing is asked for what was undone again"
    data.plan = RemedyPlan(0.1, (), ())
    data.advice = []
    assert electrician(cast(ReportData, data)) is None
