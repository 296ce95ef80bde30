"""Whether the readings of a sweep fit another supply better than the one that was entered, and what then is said."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from logger.metrology.supply import SupplyKey
from logger.sweep.solver.answer import SweepAnswer, solve_sweep
from logger.sweep.solver.answer_text import answer_text
from logger.sweep.solver.readings import Sweep, sweep_of
from logger.sweep.solver.supply_fit import RIVALS, SUPPLY_TEXTS
from logger.sweep.solver.sweep_fit import CLEARLY_BETTER, MIN_SCATTER, Misfit

STILL = [
    ("", 0.0655), ("outlets", 1.973), ("light", 0.185), ("study", 0.0647), ("hall", 0.0647),
    ("*", 1.8505), ("outlets+study+hall", 1.974), ("outlets+light", 1.850), ("study+hall", 0.0650),
]  # fmt: skip
"""Of somebody who lay still: outlets and light take away from each other, and two readings each show it."""

POSTURE_SHARE = 0.07


def sweep(rows: list[tuple[str, float]]) -> Sweep:
    found = sweep_of([(on, volts, POSTURE_SHARE * volts) for on, volts in rows], [])
    return replace(found, understated=1.0)  # the posture is in the uncertainties


def solved(rows: list[tuple[str, float]], supply: SupplyKey) -> tuple[SweepAnswer, str]:
    found = solve_sweep(sweep(rows), supply)
    return found, answer_text(found, sweep(rows), frozenset(), 0.1)


def test_readings_that_do_not_fit_the_supply_that_was_entered_ask_to_check_it() -> None:
    found, text = solved(STILL, "single")
    assert found.better_supplies == ("split", "three")
    assert text.count("better than the single phase that was entered. Check the supply.") == 1
    assert text.count("an estimate: check the supply") == 4
    assert "swapped" not in text, "a swap explains nothing that the supply does not"
    assert json.loads(json.dumps(found.as_json()))["better_supplies"] == ["split", "three"]


def test_with_the_supply_that_fits_nothing_is_asked_and_nothing_counts_as_swapped() -> None:
    found, text = solved(STILL, "split")
    assert (found.better_supplies, found.exchangeable) == ((), ()) and "swapped" not in text
    assert "supply" not in text
    (outlets,) = (circuit.volts for circuit in found.circuits if circuit.name == "outlets")
    assert outlets == pytest.approx(2.0, abs=0.05)


def test_one_reading_of_each_leaves_the_supply_alone() -> None:
    found, text = solved(STILL[:6], "single")
    assert found.better_supplies == () and "Check the supply" not in text


def test_an_answer_is_not_closed_by_it_before_its_own_set_was_read() -> None:
    found, text = solved(STILL[:8], "single")
    assert found.better_supplies and found.ambiguous and not found.is_read
    assert "not confirmed by a reading of it" in text


def test_readings_that_contradict_each_other_name_the_supply_as_well() -> None:
    rows = [("", 0.02, 0.005), ("a", 1.0, 0.005), ("b", 0.6, 0.005), ("c", 0.3, 0.005), ("a+b", 0.4, 0.005)]
    rows += [("a+c", 1.3, 0.005), ("b+c", 0.3, 0.005), ("a+b+c", 0.7, 0.005)]
    read = sweep_of(rows)
    found = solve_sweep(read, "single")
    assert not found.consistent and found.better_supplies == ("split",)
    assert "fit a split-phase supply better than the single phase" in answer_text(
        found, read, frozenset(), 0.1
    )
    assert solve_sweep(read, "split").consistent


def test_each_case_has_its_sentence() -> None:
    named = {(entered, rival) for entered, rivals in SUPPLY_TEXTS for rival in rivals}
    assert named == {(entered, rival) for entered, rivals in RIVALS.items() for rival in rivals}


@pytest.mark.parametrize(("degrees", "tells"), [(1.0, False), (4.0, True)])
def test_few_readings_that_agree_by_chance_tell_nothing(degrees: float, tells: bool) -> None:
    usual, close = Misfit(degrees, degrees, 1.0), Misfit(0.0, degrees, 1.0)
    assert close.unlikelihood == pytest.approx(Misfit(1e-9, degrees, 1.0).unlikelihood)
    assert (usual.unlikelihood - close.unlikelihood > CLEARLY_BETTER) is tells
    assert Misfit(degrees * MIN_SCATTER**2, degrees, 1.0).unlikelihood < usual.unlikelihood
    assert Misfit(40.0, degrees, 1.0).unlikelihood == 40.0
