"""The set of least effort is exact: held against looking at every set of the remedies."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from logger.plan.solver.least_effort import LeastEffort, least_effort
from logger.plan.solver.prediction import taken
from logger.plan.solver.remedies import EFFORT_WEIGHTS, Effort, Refusal, Remedy
from logger.plan.solver.remedy_problem import RemedyProblem, problem_of_houses, remedy_problem
from logger.sweep.solver.answer import solve_spots
from logger.sweep.solver.readings import sweep_of_sets
from logger.sweep.solver.sweep_design import design_matrix
from tests.support.possible_houses import possible_houses

EFFORTS = list(Effort)


def off(name: str, effort: Effort = Effort.NONE) -> Remedy:
    """What takes one circuit away."""
    return Remedy(f"{name} off", frozenset({name}), effort)


def exact(
    problem: RemedyProblem, remedies: Sequence[Remedy], excluded: Sequence[tuple[str, str]]
) -> tuple[float, int, int] | None:
    """Level of certainty, effort and number of the best set, by looking at every one; None where none does."""
    switching = problem.switching
    best: tuple[float, int, int] | None = None
    for bits in range(2 ** len(remedies)):
        chosen = [remedy for k, remedy in enumerate(remedies) if bits >> k & 1]
        names = {remedy.name for remedy in chosen}
        if any(a in names and b in names for a, b in excluded):
            continue
        counts = design_matrix(~problem.mask(taken(chosen)[0])[None, :], switching.circuit_of)[0]
        values = np.array([np.abs(p.background + p.contributions @ counts) for p in switching.posteriors])
        if not (values @ switching.weights <= switching.target_volts).all():
            continue
        certain = float(switching.certainty(values.max(axis=0)))
        level = next(level for level in (0.97, 0.8, 0.0) if certain >= level)
        effort = sum(EFFORT_WEIGHTS[remedy.effort] for remedy in chosen)
        if best is None or (-level, effort, len(chosen)) < (-best[0], *best[1:]):
            best = (level, effort, len(chosen))
    return best


@pytest.mark.parametrize("spots", [1, 2, 3])
def test_no_set_of_the_remedies_does_with_less_effort(spots: int) -> None:
    """Remedies overlap, exclude each other, take cords of circuits that others take, and cancel each other."""
    reached = 0
    for seed in range(25):
        rng = np.random.default_rng(100 * spots + seed)
        sizes = 10 ** rng.uniform(-1.5, 0.0, (spots, 1, 6)) * np.exp(2j * np.pi * rng.integers(0, 3, 6) / 3)
        gives = sizes * (1 + 0.05 * rng.standard_normal((spots, 5, 6)))
        cords = {"E": "A", "F": "B"}
        gives[..., 4:] = gives[..., :2] * rng.uniform(0.3, 0.9, (spots, 1, 2))
        problem = possible_houses(gives, 0.03 * rng.random((spots, 5)), target_volts=0.25, cords=cords)
        remedies = [
            Remedy(f"{n}", frozenset(rng.permutation(list("ABCDEF"))[: rng.integers(1, 4)].tolist()),
                   EFFORTS[rng.integers(3)])
            for n in range(8)
        ]  # fmt: skip
        excluded = [("0", "1"), ("2", "5")]
        found, best = least_effort(problem, remedies, excluded), exact(problem, remedies, excluded)
        assert found.proven
        assert found.meets_target == (best is not None), seed
        if best is not None:
            assert (found.effort, len(found.remedies)) == best[1:], seed
            assert not any(a in found.remedies and b in found.remedies for a, b in excluded)
            reached += 1
    assert reached >= 8


def test_unit_efforts_of_breakers_give_the_list_of_the_answer() -> None:
    house = {"A": 0.9, "B": -0.5, "C": 0.45, "D": 0.02, "E": 0.3}
    answer = solve_spots([("bed", _sweep(house))], "split")
    found = least_effort(remedy_problem(answer), [off(name) for name in house])
    assert found.off == answer.off_tonight and found.meets_target and found.proven
    assert found.spots[0].volts == pytest.approx(answer.spots[0].predicted_volts)


def _sweep(house: dict[str, float]):
    """The plain sweep of a home on two legs, without noise."""
    sets = [frozenset[str](), *(frozenset({name}) for name in house), frozenset(house)]
    return sweep_of_sets([(s, abs(0.01 + sum(house[n] for n in s)), 0.003) for s in sets], list(house))


def test_an_electrician_is_asked_for_only_where_five_small_things_would_not_do() -> None:
    def found(count: int) -> LeastEffort:
        problem = possible_houses(np.full((1, 1, count), 0.2))
        names = problem.switching.names[:count]
        small = [off(name, Effort.SMALL) for name in names]
        return least_effort(problem, [*small, Remedy("all", frozenset(names), Effort.ELECTRICIAN)])

    assert len(found(5).remedies) == 5
    assert found(6).remedies == ("all",)


def test_of_equal_effort_the_fewer_and_of_these_the_lower_value() -> None:
    problem = possible_houses([[[0.3, 0.28, 0.5]]], 0.01, target_volts=0.6)
    fewer = [off("A"), off("B"), Remedy("both", frozenset("AB"), Effort.SMALL), off("C", Effort.ELECTRICIAN)]
    only_c = [*fewer[:2], *fewer[3:]]
    assert least_effort(problem, fewer).remedies == ("both",)
    assert least_effort(problem, only_c).effort == 2
    lower = possible_houses([[[0.3, 0.28, 0.5]]], 0.01, target_volts=0.85)
    assert least_effort(lower, [off("B"), off("A")]).remedies == ("A off",)


def test_what_no_set_may_hold_is_left_out_with_the_reason() -> None:
    problem = possible_houses(
        [[[0.8, 0.5, 0.4, 0.002, 0.3]]], cords={"C": "B"}, keep=["C"], names=["A", "B", "C", "D", "E"]
    )
    remedies = [
        off("A"),
        off("B"),
        off("C"),
        off("D"),
        off("E"),
        off("not read"),
        off("Attic"),
        Remedy("A moved", frozenset("A"), Effort.SMALL, is_known=False),
    ]
    found = least_effort(problem, remedies)
    assert dict(found.left_out) == {
        "B off": Refusal.ESSENTIAL,
        "C off": Refusal.ESSENTIAL,
        "D off": Refusal.NOTHING,
        "not read off": Refusal.NOT_READ,
        "Attic off": Refusal.NOT_SWEPT,
        "A moved": Refusal.UNKNOWN_EFFECT,
    }, "a circuit that feeds a cord which must stay plugged in must stay on as well"
    assert found.remedies == ("A off", "E off") and not found.meets_target


def test_where_none_meets_the_target_it_says_what_is_left_and_why() -> None:
    problem = possible_houses(
        [[[0.8, 0.5, 0.3, 0.005]], [[0.9, 0.01, 0.0, 0.0]]], [[0.07], [0.0]], keep=["B"]
    )
    found = least_effort(problem, [off("A"), off("B"), off("D", Effort.ELECTRICIAN)])
    assert not found.meets_target and found.proven and found.certainty == 0.0
    assert found.remedies == ("A off",), "an electrician for 5 mV of 0.9 V is not worth it"
    (why,) = found.unreachable
    assert why.spot == "spot 0" and why.left_volts == pytest.approx(0.875)
    assert why.background_volts == pytest.approx(0.07)
    assert [(part.name, part.volts) for part in why.essential] == [("B", pytest.approx(0.5))]
    assert [(part.name, part.volts) for part in why.without_remedy] == [("C", pytest.approx(0.3))]


def test_no_remedy_at_all_leaves_everything() -> None:
    found = least_effort(possible_houses([[[0.8, 0.5]]]), [])
    assert found.remedies == () and found.effort == 0 and not found.meets_target
    assert found.spots[0].volts == pytest.approx(1.3)
    assert [part.name for part in found.unreachable[0].without_remedy] == ["A", "B"]


def test_nothing_is_given_where_readings_are_no_basis() -> None:
    switching = possible_houses(np.full((2, 1, 3), 0.3)).switching
    for contradictory, in_doubt, reason in (
        ([False, True], False, Refusal.CONTRADICTORY),
        ([False, False], True, Refusal.SUPPLY),
    ):
        problem = problem_of_houses(
            switching, ["bed", "desk"], contradictory, [(), ()], supply_in_doubt=in_doubt
        )
        found = least_effort(problem, [off("A"), off("B"), off("C")])
        assert found.refusal is reason and found.remedies == () and not found.meets_target


def test_nothing_is_given_where_everything_off_was_not_read() -> None:
    rows = [(frozenset({"A"}), 0.8, 0.003), (frozenset({"B"}), 0.3, 0.003), (frozenset("AB"), 1.1, 0.003)]
    problem = remedy_problem(solve_spots([("bed", sweep_of_sets(rows, ["A", "B"]))]))
    assert least_effort(problem, [off("A"), off("B")]).refusal is Refusal.NO_BACKGROUND


def test_nothing_is_given_where_a_circuit_that_stays_live_has_no_bound() -> None:
    """Nobody read C at the desk, so that nobody knows what any set leaves there."""
    bed, desk = {"A": 0.9, "B": -0.5, "C": 0.3}, {"A": 0.5, "B": 0.2}
    problem = remedy_problem(solve_spots([("bed", _sweep(bed)), ("desk", _sweep(desk))]))
    found = least_effort(problem, [off("A"), off("B")])
    assert found.refusal is Refusal.NO_BOUND and found.remedies == () and found.spots == ()


def test_it_is_said_to_be_unproven_where_a_bound_was_reached(monkeypatch: pytest.MonkeyPatch) -> None:
    """21 of 24 equal ones have to go, which neither the 11 largest tell nor anybody lists."""
    names = [f"C{k}" for k in range(24)]
    problem = possible_houses(np.full((1, 1, 24), 0.03), names=names)
    remedies = [off(name) for name in names]
    found = least_effort(problem, remedies)
    assert found.effort == 21 and found.meets_target and found.proven
    monkeypatch.setattr("logger.sweep.solver.subset_search.MAX_SOLVER_ROUNDS", 0)
    assert not least_effort(problem, remedies).proven


def test_more_overlapping_remedies_than_can_be_combined_are_unproven(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = possible_houses(np.full((1, 1, 6), 0.2))
    remedies = [
        Remedy(f"{a}{b}", frozenset({a, b}), Effort.SMALL) for a, b in zip("ABCDE", "BCDEF", strict=True)
    ]
    assert least_effort(problem, remedies).proven
    monkeypatch.setattr("logger.plan.solver.remedy_choices.MAX_CHOICES", 6)
    assert not least_effort(problem, remedies).proven


def test_an_essential_circuit_is_in_no_set_of_any_home() -> None:
    for seed in range(30):
        rng = np.random.default_rng(seed)
        names = [f"C{k}" for k in range(8)]
        keep = rng.permutation(names)[:3].tolist()
        problem = possible_houses(rng.uniform(0.0, 0.5, (2, 3, 8)), names=names, keep=keep)
        remedies = [
            Remedy(str(k), frozenset(rng.permutation(names)[:2].tolist()), Effort.NONE) for k in range(10)
        ]
        assert not set(keep) & set(least_effort(problem, remedies).off)


def test_a_cheaper_set_that_may_do_is_named_beside_the_certain_one_and_is_gone_once_it_was_read() -> None:
    """A 0.5 V and B 0.3 V; in half of the houses C cancels B, so that without A alone the target is met."""
    remedies = [off("A"), off("B", Effort.ELECTRICIAN), off("C", Effort.ELECTRICIAN)]
    either = [[0.5, 0.3, -0.3], [0.5, 0.3, 0.3]]
    found = least_effort(possible_houses([either]), remedies)
    assert found.meets_target and found.certainty == 1.0
    assert set(found.remedies) == {"A off", "B off", "C off"} and found.effort == 23
    may_do = found.may_do
    assert may_do is not None and may_do.remedies == ("A off",) and may_do.off == ("A",)
    assert may_do.effort == 1 and may_do.chance == pytest.approx(0.5)
    assert [spot.volts for spot in may_do.spots] == [pytest.approx(0.3)]
    assert may_do.spots[0].u_volts == pytest.approx(0.3) and not may_do.spots[0].is_known
    assert least_effort(possible_houses([either[:1]]), remedies).may_do is None, "A alone is certain then"
    assert least_effort(possible_houses([either[1:]]), remedies).may_do is None, "A alone never does then"


def test_what_saves_a_single_step_is_not_worth_a_reading() -> None:
    either = [[0.5, 0.0], [0.5, 0.3]]
    found = least_effort(possible_houses([either]), [off("A"), off("B")])
    assert found.effort == 2 and found.may_do is None
    dearer = least_effort(possible_houses([either]), [off("A"), off("B", Effort.SMALL)])
    assert dearer.effort == 3 and dearer.may_do is not None and dearer.may_do.remedies == ("A off",)


def test_an_unlikely_set_is_not_named_unless_it_saves_enough() -> None:
    """One house in 25 in which A alone does, 20 steps saved: not one in ten."""
    rare = [[0.5, 0.3, -0.3], *[[0.5, 0.3, 0.3]] * 24]
    remedies = [off("A"), off("B", Effort.ELECTRICIAN), off("C", Effort.ELECTRICIAN)]
    assert least_effort(possible_houses([rare]), remedies).may_do is None


def test_many_small_ones_that_add_up_are_in_a_set() -> None:
    """Twelve of 3.5 mV are 42 mV: with A off 0.122 V are left, and seven of them off do without an electrician."""
    small = [f"S{k}" for k in range(12)]
    gives = [[[0.5, 0.08, *[0.0035] * 12]]]
    names = ["A", "B", *small]
    remedies = [off("A"), off("B", Effort.ELECTRICIAN), *map(off, small)]
    found = least_effort(possible_houses(gives, names=names), remedies)
    assert found.meets_target and "B off" not in found.remedies
    assert found.effort == 1 + 7 and len(found.left_out) == 3, "of three 10 mV together decide nothing"
    few = least_effort(possible_houses([[[0.5, 0.08, *[0.0035] * 3]]], names=names[:5]), remedies[:5])
    assert [refusal for _, refusal in few.left_out] == [Refusal.NOTHING] * 3
