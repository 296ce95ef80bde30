"""What a single circuit gives carries the doubt of the readings that it rests on."""

from __future__ import annotations

from logger.sweep.solver.answer import solve_sweep
from logger.sweep.solver.answer_text import answer_text
from logger.sweep.solver.contribution_doubts import (
    EXCHANGED_DOUBT,
    background_once_text,
    contribution_doubts,
    deciding_rows,
    exchange_text,
    read_once,
)
from logger.sweep.solver.readings import sweep_of

ROWS = [frozenset(on) for on in ("", "A", "B", "AB", "ABC")]


def test_an_exchange_doubts_the_circuits_that_it_changes() -> None:
    assert contribution_doubts("ABC", ROWS, [], supply_in_doubt=False) == {}
    assert set(contribution_doubts("ABC", ROWS, [(2, 3)], supply_in_doubt=False)) == {"A", "B"}
    assert set(contribution_doubts("ABC", ROWS, [(1, 2)], supply_in_doubt=False)) == {"A", "B", "C"}, (
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


def test_what_rests_on_one_reading_of_everything_off_says_so_and_asks_for_it_once_more() -> None:
    """A slip in the only reading of everything off (0.20 V) agrees with all others; a second one contradicts it."""
    rows = [("A", 0.1732, 0.005), ("B", 0.5210, 0.005), ("A+B", 0.4799, 0.005)] * 2
    slip = [("", 0.02, 0.005)]
    sweep = sweep_of(slip + rows)
    found = solve_sweep(sweep, "three")
    json = found.as_json()
    assert json["rests_on_one_background"] == ["background_volts", "circuits", "predicted_volts"]
    assert json["ambiguous"] and json["next_readings"] == ((),)
    lines = answer_text(found, sweep, frozenset(), 0.1).split("\n")
    assert lines[0] == "Background 0.02 V ± 0.01 V, not confirmed: everything off was read once"
    assert lines[1] == background_once_text(True)
    assert any(
        "which would be below the target of 0.1 V, not confirmed: everything off was" in line
        for line in lines
    )
    sweep = sweep_of([*slip, ("", 0.021, 0.005), *rows])
    found = solve_sweep(sweep, "three")
    assert found.as_json()["rests_on_one_background"] == [] and not found.ambiguous
    assert "the value above is theirs." in answer_text(found, sweep, frozenset(), 0.1)
    assert not solve_sweep(sweep_of([*slip, ("", 0.2, 0.005), *rows]), "three").consistent


def test_a_list_that_was_read_itself_leaves_only_the_circuits_to_one_reading_of_everything_off() -> None:
    rows = [("", 0.02, 0.003), *[("A", 0.5, 0.003), ("B", 0.03, 0.003), ("A+B", 0.505, 0.003)] * 2]
    found = solve_sweep(sweep_of(rows), "single")
    assert found.off_tonight == ("A",) and found.is_read and not found.predicts_from_one_background
    assert found.as_json()["rests_on_one_background"] == ["background_volts", "circuits"]


def test_that_no_set_reaches_the_target_is_not_left_to_one_reading_of_everything_off() -> None:
    rows = [("", 0.2, 0.005), *[("A", 0.1732, 0.005), ("B", 0.5210, 0.005), ("A+B", 0.4799, 0.005)] * 2]
    found = solve_sweep(sweep_of(rows), "three")
    assert found.ambiguous and found.next_readings == ((),)


def test_an_exchange_is_stated_with_the_reading_that_decides_and_that_reading_settles_it() -> None:
    rows = [("", 0.02, 0.003), ("A", 0.5, 0.003), ("B", 0.1, 0.003), ("C", 0.3, 0.003)]
    pairs = solve_sweep(sweep_of(rows)).exchangeable
    again = deciding_rows(pairs)
    assert pairs and solve_sweep(sweep_of(rows + [rows[number - 1] for number in again])).exchangeable == ()
    names = {number: f"“{on or 'nothing'}”" for number, (on, _, _) in enumerate(rows, 1)}
    assert exchange_text(names, [(2, 3)], "Bed") == (
        "The readings “A” and “B” at “Bed” fit as well with each other's value: the breakers may have been set the "
        "other way round. To rule that out, read “A” once more."
    )
    assert exchange_text(names, []) == ""


def test_repeats_that_contradict_each_other_by_their_own_u_are_told_and_asked_for_again() -> None:
    """Two readings of everything off six standard uncertainties apart: neither is the background for certain."""
    rows = [("", 0.0092, 0.005), ("A", 0.0313, 0.005), ("C", 0.3158, 0.005), ("A+C", 0.3323, 0.005)]
    sweep = sweep_of([*rows, ("", 0.0547, 0.005)])
    found = solve_sweep(sweep, "split")
    assert found.consistent and found.contradicting_repeats == ((),) == found.next_readings[:1]
    assert found.ambiguous and not solve_sweep(sweep_of(rows), "split").contradicting_repeats
    assert found.background_volts is not None and found.u_background_volts is not None
    low, high = (found.background_volts + k * found.u_background_volts for k in (-2, 2))
    assert low <= 0.0092 and high >= 0.0547
    lines = answer_text(found, sweep, frozenset(), 0.1).split("\n")
    assert lines[0] == "Background 0.03 V ± 0.05 V, not confirmed: its readings contradict each other"
    assert lines[1].startswith(
        "The readings of everything off (0.0092 V and 0.0547 V) contradict each other."
    )
    assert any("would be below the target of 0.1 V, not confirmed" in line for line in lines)
