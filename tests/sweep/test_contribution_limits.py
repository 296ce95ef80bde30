"""What the readings do not exclude is inside what is stated, also where everything off was not read."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from logger.metrology.supply import SupplyKey
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.sweep.solver.answer import SweepAnswer, solve_sweep
from logger.sweep.solver.answer_text import answer_text
from logger.sweep.solver.contribution_limits import contribution_limits
from logger.sweep.solver.readings import Sweep, sweep_of, sweep_of_sets
from logger.sweep.solver.sweep_design import sweep_design
from logger.sweep.solver.sweep_fit import DIRECTIONS, NO_CORDS

U_VOLTS = 0.003
ROUNDING_VOLTS = 0.001
SUPPLIES: tuple[SupplyKey, ...] = ("split", "single", "three")


def house(random: np.random.Generator, supply: SupplyKey) -> tuple[Sweep, dict[str, float]]:
    """Draw a house and a random subset of its readings; with what each circuit gives, V."""
    names = "ABCDE"[: random.integers(2, 6)]
    legs = random.choice(DIRECTIONS[supply], len(names))
    own = random.choice([0.0, 0.02, 0.1, 0.3, 0.5, 1.0], len(names)) * random.uniform(0.7, 1.3, len(names))
    background = random.choice([0.0, 0.02, 0.05, 0.2]) * np.exp(2j * np.pi * random.random())
    every = [chosen for size in range(len(names) + 1) for chosen in combinations(range(len(names)), size)]
    taken = random.choice(len(every), min(len(every), int(random.integers(1, len(names) + 4))), replace=False)
    rows = []
    for at in taken:
        total = abs(background + sum(own[k] * legs[k] for k in every[at]))
        volts = abs(total + random.normal(0.0, U_VOLTS))
        rows.append((frozenset(names[k] for k in every[at]), float(volts), U_VOLTS))
    return sweep_of_sets(rows, names), dict(zip(names, own.tolist(), strict=True))


@pytest.mark.parametrize("supply", SUPPLIES)
def test_no_house_that_agrees_with_the_readings_is_outside_the_limits(supply: SupplyKey) -> None:
    random = np.random.default_rng(71)
    bounded = 0
    for _ in range(12):
        sweep, own = house(random, supply)
        limits = contribution_limits(sweep_design(sweep, len(DIRECTIONS[supply]), NO_CORDS), supply)
        bounded += int(np.isfinite(limits).all(axis=1).sum())
        for name, (least, most) in zip(sweep.circuits, limits, strict=True):
            assert least - ROUNDING_VOLTS <= own[name] <= most + ROUNDING_VOLTS, (sweep, own)
    assert bounded > 12  # most of them are bounded


@pytest.mark.parametrize("supply", SUPPLIES)
def test_the_truth_is_inside_each_stated_interval(supply: SupplyKey) -> None:
    random = np.random.default_rng(72)
    for _ in range(3):
        sweep, own = house(random, supply)
        found = solve_sweep(sweep, supply)
        for effect in found.circuits if found.consistent else ():
            if effect.volts is not None and effect.u_volts is not None:
                reach = COVERAGE_FACTOR * effect.u_volts + 3 * U_VOLTS + ROUNDING_VOLTS
                assert abs(effect.volts - own[effect.name]) <= reach, (sweep, own, effect)


@pytest.mark.parametrize(
    ("own", "supply"),
    [((3.144, 1.741, 0.189, 2.946), "single"), ((-0.0301, 0.719, 2.578, 0.027), "split")],
)
@pytest.mark.parametrize("repeats", [1, 2])
def test_the_phase_of_the_background_that_nothing_tells_is_inside_what_is_stated_of_small_circuits(
    own: tuple[float, ...], supply: SupplyKey, repeats: int
) -> None:
    every = range(len(own))
    sets = [(), *((k,) for k in every), tuple(every), *(tuple(j for j in every if j != k) for k in every)]
    rows = []
    for chosen in sets * repeats:
        volts = abs(0.08 + sum(own[k] for k in chosen))
        rows.append((frozenset("ABCD"[k] for k in chosen), volts, float(np.hypot(0.004, 0.01 * volts))))
    found = solve_sweep(sweep_of_sets(rows, "ABCD"), supply)
    for effect, true in zip(sorted(found.circuits, key=lambda effect: effect.name), own, strict=True):
        assert effect.volts is not None and effect.u_volts is not None
        assert abs(effect.volts - abs(true)) <= COVERAGE_FACTOR * effect.u_volts + ROUNDING_VOLTS, effect


def answer(*rows: tuple[str, float], supply: SupplyKey = "split") -> tuple[SweepAnswer, str]:
    sweep = sweep_of([(on, volts, U_VOLTS) for on, volts in rows])
    found = solve_sweep(sweep, supply)
    return found, answer_text(found, sweep, frozenset(), 0.1)


@pytest.mark.parametrize("supply", SUPPLIES)
@pytest.mark.parametrize(
    "rows",
    [
        [("A", 0.495), ("A+B", 0.121)],
        [("A+B", 0.5)],
        [("A+B+C", 0.5), ("B+C", 0.3)],
        [("A", 0.6), ("B", 0.3), ("C", 0.2), ("A+B+C", 0.9)],
    ],
    ids=["one and two", "both", "all and two", "each and all"],
)
def test_without_everything_off_nothing_is_advised(rows: list[tuple[str, float]], supply: SupplyKey) -> None:
    found, text = answer(*rows, supply=supply)
    fields = found.as_json()
    assert fields["off_tonight"] == () and fields["predicted_volts"] is None and fields["ambiguous"]
    assert "Tonight switch off" not in text and "There is no list for tonight yet" in text
    assert found.next_readings[0] == ()


def test_a_circuit_that_was_on_in_every_reading_has_no_value() -> None:
    found, text = answer(("A", 0.495), ("A+B", 0.121))
    always, other = found.circuits
    assert always.volts is always.u_volts is always.leg is None
    assert "A: not known" in text
    assert other.volts is not None and other.u_volts is not None
    for possible in (0.374, 0.616):
        assert abs(other.volts - possible) <= COVERAGE_FACTOR * other.u_volts + 3 * U_VOLTS


@pytest.mark.parametrize("supply", SUPPLIES)
def test_circuits_that_no_reading_tells_apart_have_the_same_interval(supply: SupplyKey) -> None:
    found, _ = answer(("", 0.05), ("A+B+C", 0.5), supply=supply)
    first, *others = [(effect.volts, effect.u_volts) for effect in found.circuits]
    assert all(other == first for other in others)
    if first[0] is not None and first[1] is not None:
        for possible in (0.0, 0.45):
            assert abs(first[0] - possible) <= COVERAGE_FACTOR * first[1]
