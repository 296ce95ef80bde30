"""A fit that nothing checks, or that is strained, claims no more of a circuit than the circuit's own reading does."""

from __future__ import annotations

from dataclasses import replace

import pytest

from logger.metrology.supply import SupplyKey
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.sweep.solver.answer import solve_sweep
from logger.sweep.solver.own_readings import own_u_volts
from logger.sweep.solver.readings import sweep_of, times_alike
from logger.sweep.solver.sweep_design import sweep_design

# Split phase, entered as one phase; three phases, entered as split. Both were stated too narrow by the common fit.
STRAINED = [
    ("", 0.005, 0.005), ("c1", 2.068, 0.036), ("c2", 0.315, 0.010), ("c0", 0.121, 0.007), ("*", 2.191, 0.039),
    ("c0", 0.124, 0.007), ("c2", 0.308, 0.010), ("*", 2.259, 0.039), ("c1", 1.976, 0.036), ("", 0.002, 0.005),
    ("c0+c1", 1.878, 0.034),
]  # fmt: skip
UNCHECKED = [
    ("", 0.029, 0.005), ("c2", 0.160, 0.006), ("c0", 0.921, 0.010), ("c2", 0.162, 0.006), ("c0", 0.961, 0.010),
    ("", 0.028, 0.005), ("*", 1.360, 0.012), ("c1", 0.519, 0.008), ("c1", 0.519, 0.008), ("*", 1.355, 0.012),
]  # fmt: skip


@pytest.mark.parametrize(
    ("rows", "entered", "circuit", "true_volts"),
    [(STRAINED, "single", "c1", 2.056), (UNCHECKED, "split", "c0", 0.912)],
)
def test_a_wrong_supply_that_the_readings_do_not_show_leaves_no_value_outside_what_is_stated(
    rows: list[tuple[str, float, float]], entered: SupplyKey, circuit: str, true_volts: float
) -> None:
    found = solve_sweep(sweep_of(rows, ["c0", "c1", "c2"]), entered)
    assert found.consistent and not found.supply_doubt
    stated = next(effect for effect in found.circuits if effect.name == circuit)
    assert stated.volts is not None and stated.u_volts is not None
    assert abs(stated.volts - true_volts) <= COVERAGE_FACTOR * stated.u_volts


def test_the_background_adds_to_a_circuits_own_reading_at_any_phase() -> None:
    design = sweep_design(sweep_of([("", 0.2, 0.006), ("A", 1.0, 0.008), ("A+B", 1.5, 0.01)]), 2, {})
    # 0.006 and 0.008 V make 0.01 V; 0.2 V of any phase has a part along of 0.1414 V, standard deviation (arcsine).
    assert own_u_volts(design) == pytest.approx([0.14177, 0.0], abs=1e-5)


def test_the_reading_of_the_set_is_settled_only_by_a_second_one_that_was_taken_in_the_same_way() -> None:
    rows = [
        ("", 0.4155, 0.0102), ("c0+c1+c2", 2.7504, 0.0238), ("c1+c2", 2.3689, 0.0218), ("c0+c2", 0.7027, 0.0135),
        ("c0+c1", 2.4726, 0.0224), ("c1", 2.0656, 0.0203), ("c0", 0.4287, 0.0121), ("c2", 0.3190, 0.0116),
    ]  # fmt: skip
    sweep = sweep_of(rows, ["c0", "c1", "c2"])
    of_set = sweep.rows[7]
    for way, doubt, times in ((0, "", 2), (1, "exchanged", 1)):
        taken = sweep.with_rows([*sweep.rows, replace(of_set, way=way)])
        assert times_alike(row for row in taken.rows if row.on == of_set.on) == times
        assert solve_sweep(taken, "single").set_doubt == doubt
