"""Tables of circuits as spreadsheets copy them: merged cells, double and missing numbers, headings, hostile text."""

from __future__ import annotations

import pytest

from gui.model.circuit_entry import Column, counted_up
from gui.model.circuit_paste import PastePlan, paste_plan
from logger.errors import StillvoltError
from logger.visit.records.home_details import SourceDetails
from logger.visit.records.home_records import Source

HOME = [
    Source(1, "circuit", "Study", stays=""),
    Source(2, "circuit", "Hall"),
    Source(3, "cord", "Lamp", circuit_id=1),
]
KEPT = {1: SourceDetails("A", "7"), 2: SourceDetails("A", "8", "B16")}


def _rows(plan: PastePlan) -> list[tuple[str, str, str]]:
    return [(w.entry.details.panel, w.entry.details.number, w.entry.name) for w in plan.wanted]


@pytest.mark.parametrize("mark", ["\t", ";"])
@pytest.mark.parametrize(
    "head", ["Panel|No.|Name|Rating|Phase|RCD|Feeds", "Verteiler|Nr.|Bezeichnung|Nennstrom|Phase|FI|Versorgt"]
)
def test_a_merged_panel_is_taken_from_above_and_nothing_else_is(mark: str, head: str) -> None:
    lines = (head, "A|1|Kitchen|B16|L1|30 mA|sockets", "|2|Bath|||30 mA|", "B|1|Loft||||", "|2|Attic||||")
    plan = paste_plan("\r\n".join(lines).replace("|", mark), [], {})
    assert _rows(plan) == [("A", "1", "Kitchen"), ("A", "2", "Bath"), ("B", "1", "Loft"), ("B", "2", "Attic")]
    bath = plan.wanted[1].entry.details
    assert (bath.rating, bath.leg, bath.residual_current_device) == ("", "", "30 mA")
    assert plan.notes == ()


def test_double_and_missing_numbers_and_names_are_told_and_kept() -> None:
    text = "No\tName\n1\tKitchen\n1\tBath\n\tLoft\n5\t\n6\tReserve\n7\tReserve\n"
    plan = paste_plan(text, [], {})
    assert [row[1:] for row in _rows(plan)] == [
        ("1", "Kitchen"), ("1", "Bath"), ("", "Loft"), ("6", "Reserve"), ("7", "Reserve (7)"),
    ]  # fmt: skip
    assert plan.notes == (
        "The number 1 is at more than one circuit: “Kitchen” and “Bath”.",
        "1 circuit has no number.",
        "1 row without a name is not taken over.",
        "Each circuit needs a name of its own, so these were given one: “Reserve (7)”.",
    )


def test_rows_change_what_has_their_name_or_else_their_number() -> None:
    text = "Panel;No;Name;Rating;Feeds\nA;7;Office;B10;\nB;3;hall;;\n;;Lamp;;by the bed\nA;9;Loft;;\n"
    plan = paste_plan(text, HOME, KEPT)
    changed = {w.source.id: w.entry for w in plan.wanted if w.source is not None}
    assert changed[1].name == "Office" and changed[1].details == SourceDetails("A", "7", "B10")
    assert changed[2].details == SourceDetails("B", "3", "B16"), "what the table leaves blank is kept"
    assert changed[3].details == SourceDetails(outlet="by the bed"), "a cord has its outlet and no panel"
    assert (plan.added, plan.changed) == (1, 3)
    assert paste_plan("No\tName\n7\tStudy\n8\tHall\n", HOME, KEPT).unchanged == 2


def test_columns_without_a_heading_are_taken_by_their_look_and_that_is_told() -> None:
    plan = paste_plan("1\tKitchen\tB16\n2\tBath\tB16\n", [], {})
    assert (
        _rows(plan) == [("", "1", "Kitchen"), ("", "2", "Bath")]
        and plan.wanted[0].entry.details.rating == "B16"
    )
    assert plan.notes == ("There is no heading row. The columns are taken as: No., Name and Rating.",)
    assert _rows(paste_plan("Kitchen\nBath", [], {})) == [("", "", "Kitchen"), ("", "", "Bath")]
    cellar = paste_plan("Cellar\t1\tKitchen\n\t2\tBath\nFlat\t1\tStudy", [], {})
    assert _rows(cellar) == [("Cellar", "1", "Kitchen"), ("Cellar", "2", "Bath"), ("Flat", "1", "Study")]


def test_sixty_rows_below_a_title_and_with_a_column_of_no_use() -> None:
    rows = "\n".join(f"A\t{n}\tCircuit {n}\tB16\tx" for n in range(1, 61))
    plan = paste_plan(f"Main panel\nPanel\tNo\tCircuit\tAmps\tRemark\n{rows}", [], {})
    assert plan.added == 60 and plan.wanted[-1].entry.details == SourceDetails("A", "60", "B16")
    assert plan.notes == (
        "Columns that are not taken over: Remark.", "1 row above the heading is not taken over.",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("cell", "name"),
    [
        ("Ki\x1b[31mtchen\x07", "Ki[31mtchen"), ("\u202enehctiK", "nehctiK"), ("  two   words ", "two words"),
        ("'=1+1", "=1+1"), ("<b>Bath</b>", "<b>Bath</b>"), ("x" * 5000, "x" * 200), ('"Bath', '"Bath'),
    ],
)  # fmt: skip
def test_hostile_text_is_cleaned(cell: str, name: str) -> None:
    plan = paste_plan(f"No\tName\n1\t{cell}\n2\tLoft", [], {})
    assert [row[2] for row in _rows(plan)] == [name, "Loft"]


@pytest.mark.parametrize("text", ["", "\t\t\n", "a\n" * 400, "\t" * 50 + "x", "x" * 300_000])
def test_what_is_no_table_is_refused_in_a_sentence(text: str) -> None:
    with pytest.raises(StillvoltError, match="Nothing was changed"):
        paste_plan(text, [], {})


def test_poles_and_reasons_are_read_and_what_is_neither_is_told() -> None:
    plan = paste_plan(
        "Name\tPoles\tStays on\nRange\t2\t\nFridge\t1\tx\nLoft\tmaybe\tno\nHall\t\tpump", [], {}
    )
    entries = [w.entry for w in plan.wanted]
    assert [e.two_pole for e in entries] == [True, False, False, False]
    assert [e.stays for e in entries] == [None, "as the household decided", "", "pump"]
    assert "“maybe” does not say whether the breaker has two poles." in plan.notes
    assert entries[0].text(Column.TWO_POLE) == "yes"


@pytest.mark.parametrize(
    ("number", "following"), [("7", "8"), ("F12", "F13"), ("09", "10"), ("12/14", ""), ("", ""), ("main", "")]
)
def test_numbers_count_up_where_they_can(number: str, following: str) -> None:
    assert counted_up(number) == following
