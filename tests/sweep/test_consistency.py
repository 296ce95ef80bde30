"""Readings of a sweep that contradict each other: noticed, named, read again, and never answered as if they agreed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from logger.cli.main import main
from logger.repeats import combine
from logger.sweep.solver.answer import SweepAnswer, solve_sweep
from logger.sweep.solver.readings import sweep_of, sweep_of_sets
from scripts.bench.contradictions import KINDS, outcome, sound, wrong_about
from scripts.bench.houses import numbers

U = 0.004
COSTLY_KINDS = ("exchanged", "forgotten on")
"""Mistakes whose houses take ten seconds each to work out."""

HOUSE = {"A": 1.2, "B": -0.5, "C": 0.3, "D": 0.0, "E": 0.0, "F": 0.0}
BACKGROUND = 0.02


def volts(*live: str) -> float:
    """The true value with these circuits on."""
    return round(abs(BACKGROUND + sum(HOUSE[name] for name in live)), 3)


def rows() -> list[tuple[str, float, float]]:
    """The plain sweep: row 1 everything off, rows 2 to 7 each alone, row 8 everything on."""
    return [("", volts(), U), *((name, volts(name), U) for name in HOUSE), ("*", volts(*HOUSE), U)]


def solve(read: list[tuple[str, float, float]]) -> SweepAnswer:
    """The answer to these rows."""
    return solve_sweep(sweep_of(read, list(HOUSE)))


def changed(number: int, new_volts: float) -> list[tuple[str, float, float]]:
    """The plain sweep with another value in one row."""
    read = rows()
    read[number - 1] = (read[number - 1][0], new_volts, U)
    return read


def test_sound_readings_are_consistent() -> None:
    found = solve(rows())
    assert found.consistent and found.suspects == ()


@pytest.mark.parametrize("number", [1, 2, 3, 4, 8])
def test_a_reading_ten_times_too_high_is_suspect_and_read_again(number: int) -> None:
    live, right, _ = rows()[number - 1]
    found = solve(changed(number, 10 * right))
    assert not found.consistent and found.ambiguous
    assert number in found.suspects and len(found.suspects) <= 3
    names = list(HOUSE) if live == "*" else [live] if live else []
    assert tuple(names) in found.next_readings


def test_the_row_is_named_alone_once_two_new_readings_agree() -> None:
    read = [*changed(2, 12.2), ("A", volts("A"), U), ("A", volts("A"), U)]
    found = solve(read)
    assert not found.consistent and found.suspects == (2,) and found.next_readings[0] == ("A",)
    del read[1]
    assert solve(read).consistent


def test_a_repeat_that_disagrees_is_suspect() -> None:
    found = solve([*rows(), ("A", 0.8, U)])
    assert not found.consistent and found.suspects[0] == 9


def test_repeats_that_scatter_a_little_widen_u_and_are_no_contradiction() -> None:
    found = solve([*rows(), ("A", volts("A") + 0.012, U)])
    assert found.consistent
    pair = combine([(1.220, U), (1.232, U)])
    assert pair.u_volts == pytest.approx(U / 2**0.5 * pair.birge_ratio) and pair.birge_ratio > 2.0


def test_an_answer_is_open_until_its_set_was_read_and_rests_on_that_reading() -> None:
    read = rows()
    for _ in range(6):
        found = solve(read)
        if not found.ambiguous:
            break
        left = [name for name in HOUSE if name not in found.off_tonight]
        assert found.next_readings[-1] == tuple(left)
        live = found.next_readings[0]
        read.append(("+".join(live), volts(*live) + 0.006, U))
    assert not found.ambiguous
    still_on = set(HOUSE) - set(found.off_tonight)
    (own,) = [row for row in read if set(row[0].split("+")) - {""} == still_on]
    assert found.predicted_volts == pytest.approx(own[1])


def test_nothing_to_switch_off_does_not_stand_beside_a_value_above_the_target() -> None:
    """All on was read at 0.12 V, above the target: the set is chosen by that reading."""
    names = ["A", "B", "C"]
    read = [("", 0.02, U), ("A", 0.06, U), ("B", 0.05, U), ("C", 0.05, U), ("*", 0.12, U)]
    found = solve_sweep(sweep_of(read, names), "single")
    assert found.off_tonight


def test_a_background_that_nobody_read_is_asked_for_first() -> None:
    found = solve(rows()[1:])
    assert found.ambiguous and found.next_readings[0] == ()
    keep = frozenset({"D"})
    read = [(frozenset(row[0].split("+")) - {"", "*"} | keep, *row[1:]) for row in rows()[1:4]]
    found = solve_sweep(sweep_of_sets(read, list(HOUSE)), keep=keep)
    assert found.next_readings[0] == ("D",)


def test_the_command_names_the_rows_instead_of_an_answer(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "sweep.csv"
    lines = [f"{on},{value},{u}" for on, value, u in changed(2, 12.2)]
    path.write_text("\n".join(["on,volts,u_volts", *lines]))
    assert main(["sources", str(path), "--circuits", ",".join(HOUSE)]) == 0
    text = capsys.readouterr().out
    assert "contradict each other" in text and "row 2 (A)" in text
    assert "Tonight switch off" not in text and "meets" not in text


@pytest.mark.parametrize(
    "kind", [pytest.param(kind, marks=pytest.mark.long) if kind in COSTLY_KINDS else kind for kind in KINDS]
)
def test_simulated_mistakes_are_noticed_and_never_closed_wrong(kind: str) -> None:
    """A short version of scripts/bench/contradictions.py, on panels of eleven circuits."""
    named, count = 0, 0
    for seed in (3_100_003,):
        house = numbers(seed)
        mistaken = KINDS[kind](house, np.random.default_rng(seed))
        if mistaken is None:
            continue
        found = outcome(house, mistaken)
        assert found.answer.ambiguous or not wrong_about(house, found.answer)
        named, count = named + found.named, count + 1
    assert count >= 1 and named >= 0.5 * count


def test_simulated_sound_sweeps_are_consistent() -> None:
    for seed in (3_100_000, 3_100_002):
        house = numbers(seed)
        mistaken = sound(house, np.random.default_rng(seed))
        assert mistaken is not None
        assert not outcome(house, mistaken).noticed
