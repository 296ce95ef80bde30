"""Several spots at once, cords, and sweeps in which circuits that must stay on were never off."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest

from logger.errors import StillvoltError
from logger.sweep.solver.answer import SweepAnswer, solve_spots, solve_sweep
from logger.sweep.solver.answer_text import answer_text
from logger.sweep.solver.readings import Sweep, sweep_of_sets

U = 0.003


def volts(contributions: Mapping[str, complex], live: frozenset[str], cords: Mapping[str, str]) -> float:
    """A circuit's contribution includes that of the cords on it."""
    total = 0j
    for name, value in contributions.items():
        if name not in cords and name in live:
            total += value - sum(contributions[c] for c, k in cords.items() if k == name and c not in live)
    return float(abs(total))


def plain(contributions: Mapping[str, complex], cords: Mapping[str, str] = {}, base=frozenset()) -> list[Any]:
    """Off, each circuit alone, everything; cords plugged in."""
    circuits = [n for n in contributions if n not in cords and n not in base]
    always = base | set(cords)
    sets = [always, *(always | {c} for c in circuits), frozenset(contributions)]
    return [(frozenset(s), round(volts(contributions, frozenset(s), cords), 3), U) for s in sets]


def settle(
    contributions, rows, supply="split", keep=frozenset(), cords: Mapping[str, str] = {}
) -> SweepAnswer:
    """Take the readings that are asked for until the answer is no longer open."""
    rows = list(rows)
    for _ in range(8):
        found = solve_sweep(sweep_of_sets(rows, list(contributions)), supply, keep, cords=cords)
        if not found.ambiguous:
            return found
        live = frozenset(found.next_readings[0])
        assert keep <= live or any(not keep <= row[0] for row in rows), (
            "what must stay on and was never off is kept on"
        )
        rows.append((live, round(volts(contributions, live, cords), 3), U))
    raise AssertionError("still ambiguous after 8 readings")


def sweep(contributions: Mapping[str, complex]) -> Sweep:
    return sweep_of_sets(plain(contributions), list(contributions))


def test_one_set_for_two_sides_of_a_bed() -> None:
    """On the left A matters, on the right B; only both off keeps both at the target. C cancels A on the left."""
    left = {"A": 0.9, "B": 0.02, "C": 0.0, "D": 0.0}
    right = {"A": 0.03, "B": 0.7, "C": 0.0, "D": 0.0}
    found = solve_spots([("left", sweep(left)), ("right", sweep(right))])
    assert set(found.off_tonight) == {"A", "B"} == set(found.off_robust)
    assert found.meets_target and [s.spot for s in found.spots] == ["left", "right"]
    assert all(s.predicted_volts < 0.06 for s in found.spots)
    assert solve_sweep(sweep(left)).off_tonight == ("A",) and solve_sweep(sweep(right)).off_tonight == ("B",)


def test_what_cancels_at_one_spot_only_is_switched_off_for_the_other() -> None:
    left = {"A": 0.60, "B": -0.58}
    right = {"A": 0.40, "B": -0.10}
    rows = {"left": plain(left), "right": plain(right)}
    for _ in range(8):
        found = solve_spots([(n, sweep_of_sets(r, ["A", "B"])) for n, r in rows.items()])
        if not found.ambiguous:
            break
        spot, live = found.next_readings[0]
        house = left if spot == "left" else right
        rows[spot].append((frozenset(live), round(volts(house, frozenset(live), {}), 3), U))
    assert set(found.off_tonight) == {"A", "B"}
    assert solve_sweep(sweep(left)).off_tonight == ()


def test_the_answer_for_one_spot_is_the_case_of_one() -> None:
    one = sweep({"A": 1.2, "B": -0.5, "C": 0.3})
    alone, together = solve_sweep(one), solve_spots([("bed", one)])
    assert alone.off_tonight == together.off_tonight
    assert alone.circuits == together.spots[0].circuits
    assert alone.next_readings == tuple(live for _, live in together.next_readings)


def test_spots_may_name_different_circuits() -> None:
    found = solve_spots([("bed", sweep({"A": 0.5, "B": 0.0})), ("desk", sweep({"A": 0.02, "C": 0.4}))])
    assert {c.name for c in found.spots[0].circuits} == {"A", "B", "C"}
    assert found.ambiguous and any(spot == "bed" and "C" in live for spot, live in found.next_readings)
    with pytest.raises(StillvoltError, match="No spot"):
        solve_spots([])


CORDS = {"Lamp": "Bedroom"}


def with_lamp(lamp: float, bedroom: float, **others: float) -> tuple[dict[str, float], list[Any]]:
    """A bedroom whose contribution includes a lamp's, also read with the lamp unplugged."""
    house = {"Bedroom": bedroom, "Lamp": lamp, **others}
    rows = plain(house, CORDS)
    unplugged = frozenset(house) - {"Lamp"}
    rows.append((unplugged, round(volts(house, unplugged, CORDS), 3), U))
    return house, rows


def test_breakers_come_before_cords() -> None:
    house, rows = with_lamp(0.8, 0.85, Hall=0.02)
    found = settle(house, rows, cords=CORDS)
    assert found.off_tonight == ("Bedroom",) and found.unplug_tonight == ()
    assert found.unplug_instead == (("Bedroom", ("Lamp",)),)
    words = answer_text(found, sweep_of_sets(rows, list(house)), frozenset(), 0.1)
    assert "Instead of switching Bedroom off you may unplug Lamp." in words


def test_a_cord_is_unplugged_where_the_breaker_must_stay_on() -> None:
    house, rows = with_lamp(0.8, 0.85, Hall=0.5)
    found = settle(house, rows, keep=frozenset({"Bedroom"}), cords=CORDS)
    assert found.off_tonight == ("Hall",) and found.unplug_tonight == ("Lamp",)
    assert found.off_robust == ("Hall",) and found.unplug_robust == ("Lamp",)
    assert found.predicted_volts == pytest.approx(0.05, abs=0.02)


def test_a_cord_is_on_its_circuits_leg_and_has_its_size() -> None:
    house, rows = with_lamp(-0.5, -0.6, Hall=1.5)
    found = settle(house, rows, keep=frozenset({"Bedroom"}), cords=CORDS)
    effects = {c.name: c for c in found.circuits}
    assert effects["Lamp"].volts == pytest.approx(0.5, abs=0.03)
    assert effects["Lamp"].leg == effects["Bedroom"].leg != effects["Hall"].leg


def test_cords_are_in_the_json_only_when_they_were_given() -> None:
    house, rows = with_lamp(0.8, 0.85)
    assert "unplug_tonight" in settle(house, rows, cords=CORDS).as_json()
    assert "unplug_tonight" not in solve_sweep(sweep({"A": 1.0})).as_json()
    with pytest.raises(StillvoltError, match="plugged into"):
        solve_sweep(sweep_of_sets(rows, list(house)), cords={"Lamp": "Attic"})
    with pytest.raises(StillvoltError, match="cord 'TV'"):
        solve_sweep(sweep_of_sets(rows, list(house)), cords={"TV": "Bedroom"})


@pytest.mark.parametrize("supply", ["split", "single"])
def test_what_must_stay_on_was_never_off(supply: str) -> None:
    """Then it is part of the background, and never asked to be switched off."""
    house = {"Fridge": 0.06, "A": 0.8, "B": 0.3 if supply == "single" else -0.3, "C": 0.0}
    keep = frozenset({"Fridge"})
    found = settle(house, plain(house, base=keep), supply, keep)
    assert set(found.off_tonight) == {"A", "B"}
    assert found.predicted_volts == pytest.approx(0.06, abs=0.02)
    assert found.background_volts == pytest.approx(0.06, abs=0.02)


def test_one_that_was_never_off_though_it_may_be_is_asked_to_be_off() -> None:
    house = {"Hall": 0.5, "A": 0.8, "B": 0.0}
    found = solve_sweep(sweep_of_sets(plain(house, base=frozenset({"Hall"})), list(house)))
    assert found.ambiguous and found.next_readings[0] == ()


def test_one_that_was_not_read_alone_is_read_alone_first() -> None:
    house = {"A": 0.8, "B": 0.9, "C": 0.0, "D": 0.0}
    rows = [row for row in plain(house) if row[0] != {"B"}]
    found = solve_sweep(sweep_of_sets(rows, list(house)))
    assert found.ambiguous and found.next_readings[0] == ("B",)


def test_a_hidden_circuit_does_not_turn_the_leg_of_another() -> None:
    """C gives twice the background in the opposite direction, so that alone it reads like nothing.

    With everything on, the sum is then what it would be with B on the other leg. B must never be put on that leg.
    """
    background, size = -0.05, 0.10
    house = {"A": 1.0, "B": 0.05, "C": size, "D": 0.0, "E": 0.0}

    def read(live: frozenset[str]) -> tuple[frozenset[str], float, float]:
        return live, round(abs(background + sum(house[n] for n in live)), 3), U

    sets = [frozenset[str](), *(frozenset({n}) for n in house), frozenset(house)]
    rows = [read(live) for live in sets]
    for _ in range(8):
        found = solve_sweep(sweep_of_sets(rows, list(house)))
        legs = {c.name: c.leg for c in found.circuits}
        assert legs["B"] != "L2" and legs["C"] != "L2"
        if not found.ambiguous:
            break
        rows.append(read(frozenset(found.next_readings[0])))
    left = abs(background + sum(v for n, v in house.items() if n not in found.off_tonight))
    assert left <= 0.13 and np.isclose(found.predicted_volts, left, atol=0.03)
