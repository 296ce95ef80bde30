"""What a single circuit gives carries the doubt of the readings that it rests on."""

from __future__ import annotations

from logger.sweep.solver.answer import solve_sweep
from logger.sweep.solver.answer_text import answer_text
from logger.sweep.solver.contribution_doubts import EXCHANGED_DOUBT, exchange_doubts, read_once
from logger.sweep.solver.readings import sweep_of

ROWS = [frozenset(on) for on in ("", "A", "B", "AB", "ABC")]


def test_an_exchange_doubts_the_circuits_that_it_changes() -> None:
    assert exchange_doubts("ABC", ROWS, []) == {}
    assert set(exchange_doubts("ABC", ROWS, [(2, 3)])) == {"A", "B"}
    assert set(exchange_doubts("ABC", ROWS, [(1, 2)])) == {"A", "B", "C"}, (
        "all are counted from the background"
    )


def test_a_circuit_that_one_reading_separates_is_named() -> None:
    assert read_once("ABC", ROWS) == []
    assert read_once("ABC", [ROWS[0], ROWS[1], ROWS[2], ROWS[4]]) == ["A", "B"]


def test_each_figure_of_a_sweep_that_two_exchanged_readings_agree_with_says_so() -> None:
    rows = [
        ("", 0.055, 0.005),
        ("A", 0.318, 0.005),
        ("B", 0.179, 0.005),
        ("A+B", 0.088, 0.005),
        ("A+B", 0.084, 0.005),
    ]
    sweep = sweep_of(rows)
    lines = answer_text(solve_sweep(sweep, "split"), sweep, frozenset(), 0.1).split("\n")
    for name in "AB":
        (line,) = [line for line in lines if line.startswith(f"  {name}: ")]
        assert line.endswith(EXCHANGED_DOUBT)
    assert any("A, B give rests on one reading each" in line for line in lines)


def test_a_set_that_was_read_once_asks_to_be_read_once_more() -> None:
    """A slip in the only reading of everything off agrees with all others; a second one contradicts it."""
    rows = [("", 0.02, 0.005), *[("A", 0.1732, 0.005), ("B", 0.5210, 0.005), ("A+B", 0.4799, 0.005)] * 2]
    for more, text in (
        ([], "read, once: "),
        ([("", 0.021, 0.005)], "is that of its readings."),
        ([("", 0.2, 0.005)], "contradict"),
    ):
        sweep = sweep_of(rows + more)
        assert text in answer_text(solve_sweep(sweep, "three"), sweep, frozenset(), 0.1)
