"""One mistaken reading among a few: what is stated covers the truth, and the readings to take again are asked for."""

from __future__ import annotations

import pytest

from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.sweep.solver.answer import solve_sweep
from logger.sweep.solver.readings import sweep_of

# A breaker that was still on in the first reading; a value that was written down too high (c0 + c1); one phase each.
FORGOTTEN = [
    ("", 0.4155, 0.0102), ("c0+c1+c2", 2.7504, 0.0238), ("c1+c2", 2.3689, 0.0218), ("c0+c2", 0.7027, 0.0135),
    ("c0+c1", 2.4726, 0.0224), ("c1", 2.0656, 0.0203), ("c0", 0.4287, 0.0121), ("c2", 0.3190, 0.0116),
]  # fmt: skip
WRONG_VALUE = [
    ("", 0.2890, 0.0101), ("c0+c1+c2", 1.0615, 0.0153), ("c1+c2", 0.9116, 0.0146), ("c0+c2", 0.8996, 0.0145),
    ("c0+c1", 0.3285, 0.0116), ("c2", 0.7381, 0.0137), ("c1", 0.1530, 0.0108), ("c0", 0.1845, 0.0109),
]  # fmt: skip


@pytest.mark.parametrize(
    ("rows", "circuit", "true_volts"), [(FORGOTTEN, "c1", 2.059), (WRONG_VALUE, "c2", 0.725)]
)
def test_a_mistake_that_understated_uncertainties_could_explain_widens_and_is_asked_about(
    rows: list[tuple[str, float, float]], circuit: str, true_volts: float
) -> None:
    found = solve_sweep(sweep_of(rows, ["c0", "c1", "c2"]), "single")
    stated = next(effect for effect in found.circuits if effect.name == circuit)
    assert stated.volts is not None and stated.u_volts is not None
    assert abs(stated.volts - true_volts) <= COVERAGE_FACTOR * stated.u_volts
    assert found.ambiguous and found.next_readings
    assert frozenset(found.next_readings[0]) in [frozenset(filter(None, on.split("+"))) for on, _, _ in rows]


def test_readings_without_a_mistake_are_not_asked_for_again() -> None:
    sound = [("", 0.012, 0.0102), *[row for row in FORGOTTEN if row[0]]]
    found = solve_sweep(sweep_of(sound, ["c0", "c1", "c2"]), "single")
    stated = next(effect for effect in found.circuits if effect.name == "c1")
    assert stated.volts is not None and stated.u_volts is not None
    assert found.consistent and COVERAGE_FACTOR * stated.u_volts < 0.05
    # But for everything off, which was read once and is tonight's list itself.
    taken = [frozenset(on.split("+")) for on, _, _ in sound if on]
    assert not found.next_readings or frozenset(found.next_readings[0]) not in taken
