"""What a set of remedies would bring: readings, phasors that interact, unknown effects that are no single number."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from logger.plan.solver.prediction import Rise, predict, predict_remedies
from logger.plan.solver.remedies import Effort, Refusal, Remedy
from logger.plan.solver.remedy_effects import remedy_effects
from logger.plan.solver.remedy_problem import RemedyProblem, problem_of_houses, remedy_problem
from logger.sweep.solver.answer import solve_spots, solve_sweep
from logger.sweep.solver.readings import Sweep, sweep_of_sets
from tests.support.possible_houses import possible_houses

HOUSE = {"A": 0.9, "B": -0.5, "C": 0.3, "D": 0.0}
U = 0.003


def sweep(house: dict[str, float], *more: frozenset[str]) -> Sweep:
    """The plain sweep without noise, and more combinations."""
    sets = [frozenset[str](), *(frozenset({name}) for name in house), frozenset(house), *more]
    return sweep_of_sets([(s, abs(sum(house[n] for n in s)), U) for s in sets], list(house))


@pytest.fixture(scope="module")
def problem() -> RemedyProblem:
    """One spot, two legs; A and B, C cancel."""
    return remedy_problem(solve_spots([("bed", sweep(HOUSE, frozenset("AB")))]))


def test_a_value_that_rises_is_said_to_rise(problem: RemedyProblem) -> None:
    """0.7 V with everything on; without B, which cancels, 1.2 V."""
    (found,) = predict(problem, {"B"})
    assert found.volts == pytest.approx(1.2, abs=0.01) and found.is_known and not found.is_read
    assert found.rises is Rise.YES
    assert found.change_volts == pytest.approx(0.5, abs=0.01)
    assert found.u_volts is not None and 0.0 < found.u_volts < 0.02
    (falls,) = predict(problem, {"A"})
    assert falls.volts == pytest.approx(0.2, abs=0.01) and falls.rises is Rise.NO
    assert falls.change_volts == pytest.approx(-0.5, abs=0.01)


def test_a_set_that_was_read_is_that_reading(problem: RemedyProblem) -> None:
    (found,) = predict(problem, {"C", "D"})
    assert found.is_read and found.is_known
    assert (found.volts, found.u_volts) == (pytest.approx(0.4), U)
    (nothing,) = predict(replace(problem, exchangeable=((),)), ())
    assert nothing.is_read and (nothing.change_volts, nothing.u_change_volts) == (0.0, 0.0)


def test_it_may_rise_where_the_houses_disagree() -> None:
    either = possible_houses([[[1.0, -0.3], [1.0, 0.3]]])
    (without,) = predict(either, {"B"})
    assert without.rises is Rise.MAY and without.volts == pytest.approx(1.0), (
        "what is left is the same in both"
    )
    assert without.change_volts == pytest.approx(0.0) and without.u_change_volts == pytest.approx(0.3)
    assert without.is_known and not predict(either, ())[0].is_known


def test_what_is_common_to_before_and_after_counts_once() -> None:
    """A is uncertain by 0.2 V, and stays: the change by B is certain."""
    houses = possible_houses([[[0.8, 0.5], [1.2, 0.5]]])
    (found,) = predict(houses, {"B"})
    assert found.u_volts == pytest.approx(0.2) and found.u_change_volts == pytest.approx(0.0, abs=1e-9)


def test_an_unknown_effect_is_a_range_and_never_a_number(problem: RemedyProblem) -> None:
    """Of A (0.9 of 0.7 V) any share may remain: at 2/9 of it nothing is left, all gone leaves 0.2 V."""
    moved = Remedy("A moved", frozenset({"A"}), Effort.SMALL, is_known=False)
    (found,) = predict_remedies(problem, [moved])
    assert found.volts is None and found.u_volts is None and found.change_volts is None
    assert found.at_best is not None and not found.is_known
    assert found.at_best.lowest_volts == pytest.approx(0.0, abs=0.01)
    assert found.at_best.highest_volts == pytest.approx(0.7, abs=0.02)
    (with_c_off,) = predict_remedies(problem, [moved, Remedy("C off", frozenset({"C"}), Effort.NONE)])
    assert with_c_off.at_best is not None
    assert with_c_off.at_best.highest_volts == pytest.approx(0.5, abs=0.02), "A gone: only B is left"
    assert with_c_off.rises is Rise.NO


def test_an_unknown_effect_may_make_it_rise(problem: RemedyProblem) -> None:
    (found,) = predict(problem, (), {"B"})
    assert found.at_best is not None and found.rises is Rise.MAY
    assert found.at_best.highest_volts == pytest.approx(1.2, abs=0.02)
    assert found.at_best.lowest_volts == pytest.approx(0.7, abs=0.02)


def test_each_remaining_share_is_free_by_itself() -> None:
    """Of A and B, which cancel, one may be gone and the other all there; one common share would say at most 0.1 V."""
    houses = possible_houses([[[0.6, -0.5]]])
    (found,) = predict(houses, (), {"A", "B"})
    assert found.at_best is not None
    assert found.at_best.highest_volts == pytest.approx(0.6) and found.at_best.lowest_volts == 0.0


def test_wiring_and_the_cords_on_it_count_apart() -> None:
    """The circuit gives 1.0 V, of which the cord is 1.4 V: the wiring is -0.4 V. Without it 1.4 V are left."""
    houses = possible_houses([[[1.0, 1.4]]], cords={"B": "A"})
    (found,) = predict(houses, (), {"A"})
    assert found.at_best is not None
    assert found.at_best.highest_volts == pytest.approx(1.4) and found.at_best.lowest_volts == pytest.approx(
        0.0
    )
    (unplugged,) = predict(houses, {"B"}, {"A"})
    assert unplugged.at_best is not None and unplugged.at_best.highest_volts == pytest.approx(0.4)
    (off,) = predict(houses, {"A"}, {"B"})
    assert off.at_best is not None and off.at_best.highest_volts == pytest.approx(0.0), (
        "the cord is off with it"
    )


def test_a_reading_that_may_have_been_swapped_is_neither_read_nor_known() -> None:
    plain = remedy_problem(solve_spots([("bed", sweep({"A": 0.9, "B": 0.4, "C": 0.2}))]))
    swapped = replace(plain, exchangeable=(((2, 3),),))
    for off, is_doubted in (({"B", "C"}, True), ({"A", "C"}, True), ({"A", "B"}, False), (set[str](), False)):
        (firm,), (found,) = predict(replace(plain, exchangeable=((),)), off), predict(swapped, off)
        assert firm.is_read and firm.is_known and not firm.may_be_swapped
        assert (found.may_be_swapped, found.is_read, found.is_known) == (
            is_doubted,
            not is_doubted,
            not is_doubted,
        )
        assert found.volts == firm.volts


def test_what_was_never_switched_at_a_spot_is_not_predicted_there() -> None:
    """C is not named at the desk: whether it was on in those readings nobody knows."""
    desk = sweep({"A": 0.5, "B": 0.2})
    found = predict(remedy_problem(solve_spots([("bed", sweep(HOUSE)), ("desk", desk)])), {"C"})
    assert [spot.refusal for spot in found] == [None, Refusal.NOT_READ]
    assert found[1].volts is None and found[1].at_best is None


def test_what_must_stay_on_is_not_predicted_off() -> None:
    houses = possible_houses([[[0.5, 0.2]]], keep=["A"])
    assert predict(houses, {"A"})[0].refusal is Refusal.ESSENTIAL
    assert predict(houses, (), {"A"})[0].at_best is not None, "its wiring may be shielded"


def test_a_name_that_is_no_part_of_the_sweep_is_refused(problem: RemedyProblem) -> None:
    with pytest.raises(KeyError, match="Attic"):
        predict(problem, {"Attic"})


def test_contradicting_readings_give_no_prediction_there_and_leave_the_other_spot() -> None:
    switching = possible_houses(np.full((2, 1, 2), 0.3)).switching
    houses = problem_of_houses(switching, ["bed", "desk"], [True, False], [(), ()], supply_in_doubt=False)
    bed, desk = predict(houses, {"A"})
    assert bed.refusal is Refusal.CONTRADICTORY and bed.volts is None and bed.rises is None
    assert desk.volts == pytest.approx(0.3)


def test_a_contradiction_of_a_real_sweep_is_taken_over() -> None:
    rows = [*((r.on, r.volts, U) for r in sweep(HOUSE).rows), (frozenset({"A"}), 9.0, U)]
    answer = solve_spots([("bed", sweep_of_sets(rows, list(HOUSE)))])
    assert predict(remedy_problem(answer), {"A"})[0].refusal is Refusal.CONTRADICTORY


def test_a_prediction_is_as_doubtful_as_what_is_stated_of_the_circuits() -> None:
    """B is stated with 0.2 V, though the houses agree: what differs from each reading by B as well is doubtful."""
    houses = possible_houses([[[0.8, 0.5, 0.3, 0.1]]])
    stated = houses.switching.u_sizes.copy()
    stated[0, 1] = 0.2
    doubtful = replace(houses, switching=replace(houses.switching, u_sizes=stated))
    (without,) = predict(doubtful, {"A", "B"})
    (alone,) = predict(doubtful, {"A", "C", "D"})
    assert without.u_volts == pytest.approx(0.0, abs=1e-9) and without.is_known, "readings had B off"
    assert alone.u_volts == pytest.approx(0.0, abs=1e-9), "B alone was read"
    stated[0, :2] = 0.2, 0.15
    (both,) = predict(doubtful, {"C", "D"})
    assert both.u_volts == pytest.approx(0.25) and not both.is_known, "either alone was read, not both"
    (small,) = predict(doubtful, {"B", "C"})
    assert small.u_volts == pytest.approx(0.1), "D adds 0.1 V to A at a phase that nobody knows"
    stated[0, :2] = np.inf
    assert predict(doubtful, {"C", "D"})[0].refusal is Refusal.NO_BOUND


def test_a_remedy_brings_something_else_alone_than_on_top_of_the_others(problem: RemedyProblem) -> None:
    """B alone raises 0.7 to 1.2 V; with A off as well it lowers 0.2 to 0.3 V the other way."""
    a, b, moved = (
        Remedy("A off", frozenset({"A"}), Effort.NONE),
        Remedy("B off", frozenset({"B"}), Effort.NONE),
        Remedy("C moved", frozenset({"C"}), Effort.SMALL, is_known=False),
    )
    of_a, of_b, of_moved = remedy_effects(problem, [a, b, moved])
    assert of_b.alone is not None and of_b.on_top is not None
    assert of_b.alone.volts == pytest.approx(0.5, abs=0.01)
    assert of_b.on_top.volts == pytest.approx(0.1, abs=0.01)
    assert of_a.on_top is not None and of_a.on_top.volts == pytest.approx(-0.9, abs=0.01)
    assert of_moved.alone is not None and of_moved.alone.volts is None and of_moved.on_top is not None
    between = of_moved.on_top.between
    assert between is not None and between.lowest_volts == pytest.approx(-0.3, abs=0.02)
    assert between.highest_volts == pytest.approx(0.0, abs=0.02)


def test_a_remedy_of_what_another_takes_already_brings_nothing_on_top(problem: RemedyProblem) -> None:
    breaker = Remedy("A off", frozenset({"A"}), Effort.NONE)
    disconnect = Remedy("A disconnected", frozenset({"A"}), Effort.ELECTRICIAN)
    for effect in remedy_effects(problem, [breaker, disconnect]):
        assert effect.on_top is not None and (effect.on_top.volts, effect.on_top.u_volts) == (0.0, 0.0)


def test_the_possible_houses_stay_out_of_the_json() -> None:
    """The contract of `stillvolt sources --json`."""
    fields = solve_sweep(sweep(HOUSE)).as_json()
    assert "problem" not in fields and "off_tonight" in fields
