"""The breaker sweep: effects, legs, what to switch off, what to read next."""

from __future__ import annotations

import json

import numpy as np
import pytest

from logger.cli.main import main
from logger.errors import StillvoltError
from logger.sweep.solver.answer import solve_sweep
from logger.sweep.solver.readings import sweep_of, sweep_of_sets

U = 0.003


def house(contributions: dict[str, complex], background: complex = 0.0):
    """Readings of a house without noise: off, each alone, everything, and more as asked for."""

    def volts(live) -> float:
        return round(abs(background + sum(contributions[name] for name in live)), 3)

    rows = [("", volts(()), U), *((n, volts((n,)), U) for n in contributions), ("*", volts(contributions), U)]
    return rows, volts


def settle(contributions, supply="split", keep=frozenset(), background=0.0):
    """Take the readings asked for until the answer is closed; returns it with the number of extra readings."""
    rows, volts = house(contributions, background)
    for extra in range(10):
        found = solve_sweep(sweep_of(rows, list(contributions)), supply, keep)
        if not found.ambiguous:
            return found, extra
        rows.append(("+".join(found.next_readings[0]), volts(found.next_readings[0]), U))
    raise AssertionError("still ambiguous after 10 readings")


def test_circuits_on_opposite_legs_are_told_from_those_on_one():
    found, _ = settle({"A": 1.2, "B": -0.5, "C": 0.3, "D": 0.0})
    legs = {c.name: c.leg for c in found.circuits}
    assert legs == {"A": "A", "B": "B", "C": "A", "D": None}
    assert {c.name: round(c.volts, 1) for c in found.circuits} == {"A": 1.2, "B": 0.5, "C": 0.3, "D": 0.0}


def test_switching_one_off_can_raise_the_value_and_is_not_advised():
    """Two that cancel: nothing has to be switched off, but that holds for this posture only."""
    found, _ = settle({"A": 0.60, "B": -0.58, "C": 0.0})
    assert found.off_tonight == ()
    assert found.relies_on_cancellation
    assert set(found.off_robust) == {"A", "B"}


def test_one_that_must_stay_on_and_was_cancelled_is_not_left_bare():
    found, _ = settle({"Fridge": 0.40, "B": -0.38, "C": 0.9}, keep=frozenset({"Fridge"}))
    assert found.off_tonight == ("C",)
    assert found.predicted_volts == pytest.approx(0.02, abs=0.02)


@pytest.mark.parametrize("supply", ["split", "single", "three"])
def test_what_must_stay_on_is_never_switched_off(supply):
    found, _ = settle({"A": 0.5, "B": 0.4, "C": 0.3}, supply, keep=frozenset({"A", "B", "C"}))
    assert found.off_tonight == () and found.off_robust == ()
    assert found.predicted_volts == pytest.approx(1.2, abs=0.02)


def test_three_phases_in_balance():
    """Line to neutral 120 degrees apart: three equal ones cancel; two of them give the third's magnitude."""
    third = np.exp(2j * np.pi / 3)
    found, _ = settle({"A": 0.8, "B": 0.8 * third, "C": 0.8 * third**2}, "three")
    assert {c.name: c.leg for c in found.circuits} == {"A": "A", "B": "B", "C": "C"}
    assert found.off_tonight == () and found.relies_on_cancellation


def test_magnitudes_alone_that_do_not_decide_are_called_ambiguous_with_the_reading_that_would():
    rows = [("", 0.0, U), ("A", 0.5, U), ("B", 0.5, U), ("C", 1.5, U)]
    found = solve_sweep(sweep_of(rows, ["A", "B", "C"]), keep=frozenset({"A"}))
    assert found.ambiguous
    # Everything on gives 2.5, 1.5 or 0.5 V, by how many of A and B are on the leg of C.
    assert found.next_readings[0] == ("A", "B", "C")
    assert {c.name: c.leg for c in found.circuits} == {"A": None, "B": None, "C": "A"}


def test_repeats_are_averaged_and_everything_is_a_star():
    sweep = sweep_of([("A", 0.195, 0.01), ("A", 0.205, 0.01), ("*", 0.5, 0.0)], ["A", "B"])
    assert sweep.readings[0].volts == pytest.approx(0.2)
    assert sweep.readings[0].u_volts == pytest.approx(0.01 / 2**0.5)
    assert sweep.readings[1].on == {"A", "B"} and sweep.readings[1].u_volts > 0


def test_names_given_as_sets_may_hold_any_character():
    sweep = sweep_of_sets(
        [(frozenset(), 0.0, U), (frozenset({"A+B"}), 0.5, U), (frozenset({"A+B", "*"}), 0.5, U)], ["A+B", "*"]
    )
    assert sweep.readings[1].on == {"A+B"} and sweep.readings[2].on == {"A+B", "*"}
    assert solve_sweep(sweep).off_tonight == ("A+B",)
    with pytest.raises(StillvoltError, match="'7'"):
        sweep_of_sets([(frozenset({"7"}), 0.1, U)], ["1"])


@pytest.mark.long
def test_a_panel_of_forty_two():
    """Sixty circuits in test_contradicting_sweeps.py bound the work in the test command."""
    found, extra = settle({f"C{n}": 0.0 for n in range(3, 43)} | {"C1": 1.5, "C2": -0.6})
    assert set(found.off_tonight) == {"C1", "C2"} and extra <= 4
    assert found.predicted_volts < 0.03


def test_names_that_are_not_on_the_panel_are_refused():
    with pytest.raises(StillvoltError, match="'B'"):
        sweep_of([("A+B", 0.1, 0.01)], ["A"])
    with pytest.raises(StillvoltError, match="named twice"):
        sweep_of([("A", 0.1, 0.01)], ["A", "A"])
    with pytest.raises(StillvoltError, match="No circuit"):
        solve_sweep(sweep_of([("", 0.1, 0.01)]))
    with pytest.raises(StillvoltError, match="must stay on"):
        solve_sweep(sweep_of([("A", 0.1, 0.01)], ["A"]), keep=frozenset({"B"}))


def test_the_command_prints_the_stable_fields(tmp_path, capsys):
    path = tmp_path / "sweep.csv"
    path.write_text("on,volts,u_volts\n,0.02,0.004\nKitchen,0.1,0.004\nBedroom,4.0,0.01\n*,4.1,0.01\n")
    assert main(["sources", str(path), "--json", "--keep", "Kitchen"]) == 0
    printed = json.loads(capsys.readouterr().out)
    assert list(printed) == [
        "circuits", "background_volts", "u_background_volts", "off_tonight", "predicted_volts", "u_predicted_volts",
        "relies_on_cancellation", "off_robust", "predicted_robust_volts", "ambiguous", "next_readings",
        "consistent", "suspects", "exchangeable", "contradicting_repeats", "better_supplies",
            "rests_on_one_background",
    ]  # fmt: skip
    assert printed["rests_on_one_background"] == ["background_volts", "circuits", "predicted_volts"]
    assert printed["off_tonight"] == ["Bedroom"]
    assert list(printed["circuits"][0]) == ["name", "volts", "u_volts", "leg"]
    assert main(["sources", str(path), "--keep", "Kitchen"]) == 0
    words = capsys.readouterr().out
    assert "switch off: Bedroom" in words and "licensed electrician" in words and "medical devices" in words


def test_one_set_has_one_prediction_and_nothing_live_relies_on_no_cancelling(tmp_path, capsys):
    """A row of everything off that the other rows would put higher: the set is that row."""
    path = tmp_path / "sweep.csv"
    path.write_text("on,volts,u_volts\n,0.05,0.03\nA,0.3,0.03\nB,0.45,0.03\nC,0.35,0.03\n*,0.55,0.03\n")
    assert main(["sources", str(path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["off_tonight"] == found["off_robust"] == ["A", "B", "C"] and found["ambiguous"]
    assert found["predicted_volts"] == found["predicted_robust_volts"] == pytest.approx(0.05)
    assert not found["relies_on_cancellation"]
    assert main(["sources", str(path)]) == 0
    text = capsys.readouterr().out
    assert "One reading was taken with just this list off" in text and "The answer is still open" in text
    assert "until it was read" not in text and "cancel" not in text


def test_the_json_of_readings_that_contradict_holds_no_set_and_no_prediction(tmp_path, capsys):
    path = tmp_path / "sweep.csv"
    path.write_text("on,volts,u_volts\n,0.02,0.004\nA,0.5,0.004\nB,0.6,0.004\n*,4.0,0.004\n")
    assert main(["sources", str(path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert not found["consistent"] and found["ambiguous"] and found["suspects"]
    assert found["off_tonight"] == found["off_robust"] == []
    assert found["predicted_volts"] is found["u_predicted_volts"] is found["predicted_robust_volts"] is None


@pytest.mark.long
def test_simulated_houses_with_noise_and_rounding():
    """A short version of scripts/bench/sources.py: seeds that were not looked at when the thresholds were set."""
    rng = np.random.default_rng(77)
    for _ in range(2):
        sizes = 10 ** rng.uniform(-1, 0.4, 4)
        signs = rng.choice([1, -1], 4)
        names = [f"C{i}" for i in range(8)]
        contributions = dict(zip(names, [*(sizes * signs), 0.0, 0.01, 0.0, -0.01], strict=True))
        background = 0.05 * np.exp(2j * np.pi * rng.random())

        def read(live, contributions=contributions, background=background):
            exact = abs(background + sum(contributions[n] for n in live))
            return max(0.0, round((exact + 0.002 * rng.standard_normal()) / 0.005) * 0.005)

        rows = [("", read(()), U), *((n, read((n,)), U) for n in names), ("*", read(names), U)]
        for _ in range(12):
            found = solve_sweep(sweep_of(rows, names))
            if not found.ambiguous:
                break
            rows.append(("+".join(found.next_readings[0]), read(found.next_readings[0]), U))
        live = [n for n in names if n not in found.off_tonight]
        assert abs(background + sum(contributions[n] for n in live)) <= 0.13
        stated = {c.name: c.leg for c in found.circuits if c.leg and c.name in names[:4]}
        for a in stated:
            for b in stated:
                same = contributions[a] * contributions[b] > 0
                assert (stated[a] == stated[b]) == same


def test_without_the_background_no_value_and_no_set_is_printed(tmp_path, capsys):
    path = tmp_path / "sweep.csv"
    path.write_text("on,volts,u_volts\nA,0.5,0.003\nB,0.3,0.003\n")
    assert main(["sources", str(path)]) == 0
    text = capsys.readouterr().out
    assert "There is no list for tonight yet, since everything off was not read." in text
    assert "the target" not in text
    assert main(["sources", str(path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["off_tonight"] == [] and found["predicted_volts"] is None and found["ambiguous"]
    assert {effect["volts"] for effect in found["circuits"]} == {None}
