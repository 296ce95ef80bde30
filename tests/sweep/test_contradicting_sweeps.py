"""Sweeps as they should not be: mistakes where they matter most, two at once, and readings that decide nothing."""

from __future__ import annotations

import json
from itertools import combinations

import numpy as np
import pytest

from logger.metrology.supply import SupplyKey
from logger.sweep.solver.answer import SweepAnswer, solve_sweep
from logger.sweep.solver.answer_text import answer_text
from logger.sweep.solver.mistakes import MAX_TRIED, changes, counts_of
from logger.sweep.solver.readings import Sweep, sweep_of
from logger.sweep.solver.sweep_fit import MAX_FIT_WORK, MIN_STARTS, fit_sweep

U = 0.004
HOUSE = {"A": 1.2, "B": -0.5, "C": 0.3, "D": 0.0, "E": 0.0, "F": 0.0, "G": 0.15, "H": 0.0}
NAMES = list(HOUSE)
ALL_ON = len(HOUSE) + 2
Row = tuple[str, float, float]


def volts(*live: str) -> float:
    """The true value with these circuits on."""
    return round(abs(0.02 + sum(HOUSE[name] for name in live)), 3)


def row(*live: str) -> Row:
    """A right reading."""
    return "+".join(live), volts(*live), U


def plain() -> list[Row]:
    """Row 1 everything off, rows 2 to 9 each alone, row 10 everything on."""
    return [row(), *(row(name) for name in NAMES), ("*", volts(*NAMES), U)]


def ten_times(*numbers: int) -> list[Row]:
    """The plain sweep with these rows ten times too high."""
    return [
        (live, 10 * value if number in numbers else value, u)
        for number, (live, value, u) in enumerate(plain(), 1)
    ]


def solve(rows: list[Row], supply: SupplyKey = "split", names: list[str] = NAMES) -> SweepAnswer:
    """The answer to these rows."""
    return solve_sweep(sweep_of(rows, names), supply)


@pytest.mark.parametrize("number", [1, 2, ALL_ON])
def test_a_mistake_in_a_row_that_everything_rests_on_is_named(number: int) -> None:
    """Everything off, the strongest circuit, everything on."""
    found = solve(ten_times(number))
    assert not found.consistent and found.ambiguous and number in found.suspects
    assert len(found.suspects) <= 3


def test_a_mistake_in_the_confirming_reading_is_named() -> None:
    rows = plain()
    while (found := solve(rows)).ambiguous and len(found.next_readings) > 1:
        rows.append(row(*found.next_readings[0]))
    assert found.ambiguous
    right = row(*found.next_readings[0])
    wrong = (right[0], right[1] + 0.9, U)
    found = solve([*rows, wrong])
    assert not found.consistent and found.suspects[0] == len(rows) + 1
    assert solve([*rows, right]).consistent


@pytest.mark.parametrize("numbers", [(2, 4), (4, ALL_ON), (1, 3)])
def test_two_mistakes_at_once_close_nothing_and_one_of_them_is_named(numbers: tuple[int, int]) -> None:
    found = solve(ten_times(*numbers))
    assert not found.consistent and found.ambiguous
    assert set(numbers) & set(found.suspects)


@pytest.mark.long
def test_exchanges_that_agree_with_every_reading_are_checked_by_one_more() -> None:
    """With one phase the sum stays the same, and all four are switched off: no reading of the sweep can notice it.

    One reading of two of the four notices no exchange between these two, nor one between the others.
    """
    house = {"A": 1.2, "B": 0.5, "C": 0.3, "D": 0.8}
    names = list(house)

    def read(*live: str) -> Row:
        return "+".join(live), round(0.02 + sum(house[name] for name in live), 3), U

    rows = [read(), *(read(name) for name in names), ("*", read(*names)[1], U)]
    noticed = 0
    for one, other in combinations(range(1, 5), 2):
        exchanged = list(rows)
        exchanged[one] = (rows[one][0], *rows[other][1:])
        exchanged[other] = (rows[other][0], *rows[one][1:])
        found = solve(exchanged, "single", names)
        assert found.consistent and found.ambiguous
        check = found.next_readings[0]
        assert 1 < len(check) < 4
        found = solve([*exchanged, read(*check)], "single", names)
        assert found.consistent or {one + 1, other + 1} & set(found.suspects)
        noticed += not found.consistent
        assert solve([*rows, read(*check)], "single", names).consistent
    assert noticed >= 2


@pytest.mark.parametrize("value", [0.0, 0.05, 0.5])
def test_readings_that_are_all_equal_blame_no_circuit(value: float) -> None:
    found = solve([("", value, U), *((name, value, U) for name in NAMES), ("*", value, U)])
    assert found.consistent and found.off_tonight == ()
    assert found.predicted_volts == pytest.approx(value) and found.background_volts == pytest.approx(value)


@pytest.mark.parametrize("rows", [[("", 0.5, U)] * 5, [("", 0.5, U)], [("*", 0.5, U)], [("A", 0.5, U)]])
def test_too_few_combinations_stay_open(rows: list[Row]) -> None:
    found = solve(rows)
    assert found.consistent and found.ambiguous and found.next_readings


def test_repeats_alone_that_scatter_are_a_contradiction() -> None:
    found = solve([("", 0.5, U), ("", 0.1, U), ("", 0.9, U)])
    assert not found.consistent and found.next_readings == ((),)


def test_a_background_that_nobody_read_is_null() -> None:
    rows = plain()[1:]
    found = solve(rows)
    assert json.loads(json.dumps(found.as_json()))["background_volts"] is None
    assert found.ambiguous and found.next_readings[0] == ()
    assert "Everything off was not read." in answer_text(found, sweep_of(rows, NAMES), frozenset(), 0.1)
    # Nothing that is read without it closes the answer.
    for _ in range(4):
        left = tuple(name for name in NAMES if name not in found.off_tonight)
        rows.append(row(*left))
        found = solve(rows)
        assert found.ambiguous and found.background_volts is None


def test_the_background_is_the_value_that_was_read() -> None:
    assert solve(plain()).background_volts == pytest.approx(volts())


@pytest.mark.parametrize(
    ("left", "word"),
    [(0.04, "would be below"), (0.098, "cannot be told apart from"), (0.2, "would still be above")],
)
def test_a_prediction_has_the_guard_band_of_a_reading(left: float, word: str) -> None:
    names = ["A", "B"]
    rows = [("", left, U), ("A", 1.0 + left, U), ("B", left, U), ("*", 1.0 + left, U)]
    sweep = sweep_of(rows, names)
    text = answer_text(solve_sweep(sweep, "single"), sweep, frozenset(), 0.1)
    assert f"{word} the target of 0.1 V" in text


def large_panel(supply: SupplyKey) -> Sweep:
    """Sixty circuits, of which twelve give something."""
    random = np.random.default_rng(60)
    sizes = np.abs(random.normal(0.0, 0.004, 60))
    sizes[random.permutation(60)[:12]] = 10 ** random.uniform(-1, 0.4, 12)
    legs = {"split": np.array([1, -1]), "three": np.exp(2j * np.pi * np.arange(3) / 3)}[supply]
    values = sizes * legs[random.integers(0, len(legs), 60)]
    names = [f"C{number}" for number in range(60)]
    rows = [("", 0.03, U), *((name, abs(0.03 + value), U) for name, value in zip(names, values, strict=True))]
    return sweep_of([*rows, ("*", abs(0.03 + values.sum()), U)], names)


@pytest.mark.parametrize("supply", ["split", "three"])
def test_sixty_circuits_are_worked_out_with_bounded_work(supply: SupplyKey) -> None:
    sweep = large_panel(supply)
    found = fit_sweep(sweep, supply)
    starts, parameters = found.fits.parameters.shape
    assert starts <= MIN_STARTS or starts * parameters**3 <= MAX_FIT_WORK
    tried = changes(sweep, found.design, range(len(sweep.rows)))
    assert len(tried) <= 3 * MAX_TRIED < sum(counts_of(tried).values())
