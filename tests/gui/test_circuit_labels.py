"""Numbers before the names of circuits, wherever something is to be switched."""

from __future__ import annotations

from gui.model.circuit_labels import with_numbers
from logger.sweep.sweep_progress import combination_of, switching_instructions
from logger.visit.records.home_details import SourceDetails
from logger.visit.records.home_records import Source

HOME = [
    Source(1, "circuit", "Study outlets"),
    Source(2, "circuit", "Hall"),
    Source(3, "cord", "Lamp", circuit_id=1),
]


def test_the_number_stands_before_the_name_and_the_panel_where_there_are_several() -> None:
    one = with_numbers(HOME, {1: SourceDetails("A", "7"), 3: SourceDetails(outlet="left")})
    assert [source.name for source in one.values()] == ["7\N{NO-BREAK SPACE}(Study outlets)", "Hall", "Lamp"]
    two = with_numbers(HOME, {1: SourceDetails("A", "7"), 2: SourceDetails("B", "7")})
    assert [source.name for source in two.values()] == [
        "A/7\N{NO-BREAK SPACE}(Study outlets)",
        "B/7\N{NO-BREAK SPACE}(Hall)",
        "Lamp",
    ]


def test_an_instruction_has_the_number_and_the_kept_condition_has_not() -> None:
    shown = list(with_numbers(HOME, {1: SourceDetails("A", "7")}).values())
    wanted = combination_of([1], HOME)
    text = switching_instructions(None, wanted, shown).replace("\N{NO-BREAK SPACE}", " ")
    assert text == "Switch on 7 (Study outlets). Everything else off."
    assert wanted.label == "only Study outlets on"
