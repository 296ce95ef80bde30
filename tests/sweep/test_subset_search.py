"""The smallest set is exact: held against looking at every subset."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from logger.sweep.solver.choices import Choices
from logger.sweep.solver.robust_set import robust_set
from logger.sweep.solver.subset_search import every_set, smaller_set


def house(seed: int, count: int, houses: int = 1, spots: int = 1, costs: bool = False) -> Choices:
    """Choices of a house on split phase, the largest first, with a little spread between the houses; costs 1 to 11."""
    rng = np.random.default_rng(seed)
    sizes = np.sort(10 ** rng.uniform(-2, 0.3, (spots, count)))[:, ::-1] * rng.choice([1, -1], count)
    spread = 1 + 0.01 * rng.standard_normal((spots, houses, count))
    effects = (sizes[:, None, :] * spread).astype(np.complex128)
    background = 0.05 * np.exp(2j * np.pi * rng.random((spots, houses)))
    return Choices(
        background + effects.sum(axis=2),
        effects,
        np.full(houses, 1 / houses),
        groups=np.arange(houses) // 2,
        costs=rng.choice([1, 2, 11], count) if costs else None,
    )


def all_sets(count: int) -> np.ndarray:
    return ((np.arange(2**count)[:, None] >> np.arange(count)) & 1).astype(float)


def exact(choices: Choices, target: float) -> int | None:
    """Cost of the cheapest set that meets the target, by looking at every subset; its size where there are no costs."""
    off = all_sets(choices.count)
    met = (choices.means(off) <= target).all(axis=0)
    return int((off @ choices.cost_of_each)[met].min()) if met.any() else None


def found(choices: Choices, target: float) -> int | None:
    """The same by the module."""
    enumerated = every_set(choices)
    means = choices.means(enumerated)
    size = enumerated @ choices.cost_of_each
    met = (means <= target).all(axis=0)
    below = int(size[met].min()) if met.any() else int(choices.cost_of_each.sum()) + 1
    smaller = smaller_set(
        choices, target, enumerated, means, below, lambda values: np.ones(len(values), bool)
    ).off
    if smaller is not None:
        cost = int(smaller @ choices.cost_of_each)
        assert (choices.means(smaller[None, :]) <= target).all() and cost < below
        return cost
    return below if met.any() else None


@pytest.mark.parametrize("costs", [False, True])
@pytest.mark.parametrize("spots", [1, 2])
@pytest.mark.parametrize("count", [5, 11, 13, 14])
def test_it_is_the_smallest_of_all_subsets(count: int, spots: int, costs: bool) -> None:
    for seed in range(6):
        choices = house(100 * count + seed, count, houses=3, spots=spots, costs=costs)
        for target in (0.05, 0.1, 0.3):
            assert found(choices, target) == exact(choices, target), (seed, target)


@pytest.mark.parametrize("costs", [False, True])
def test_the_solver_finds_what_looking_at_every_subset_finds(
    monkeypatch: pytest.MonkeyPatch, costs: bool
) -> None:
    """With nothing looked at one by one beyond a few of the largest, so that the solver has to do it."""
    monkeypatch.setattr("logger.sweep.solver.subset_search.MAX_ENUMERATED", 4)
    monkeypatch.setattr("logger.sweep.solver.subset_search.MAX_LISTED_SETS", 0)
    monkeypatch.setattr("logger.sweep.solver.subset_search.MAX_SOLVER_ROUNDS", 100)
    monkeypatch.setattr("logger.sweep.solver.subset_search.MAX_SOLVER_S", 10.0)
    for seed in range(12):
        choices = house(900 + seed, 10, costs=costs)
        assert found(choices, 0.1) == exact(choices, 0.1), seed


def test_twenty_four_that_matter() -> None:
    """24 equal ones on one leg: 21 of them have to go, which no subset of the 11 largest tells."""
    effects = np.full((1, 1, 24), 0.03 + 0j)
    choices = Choices(effects.sum(axis=2), effects, np.ones(1))
    assert found(choices, 0.1) == 21


def test_a_cord_and_its_circuit_are_never_both_in_the_set() -> None:
    effects = np.array([[[1.0, 0.8, 0.3]]], complex)
    choices = Choices(np.array([[1.3 + 0j]]), effects, np.ones(1), excluded=((0, 1),))
    assert not ((every_set(choices)[:, 0] == 1) & (every_set(choices)[:, 1] == 1)).any()


@pytest.mark.parametrize("spots", [1, 2, 3])
def test_the_robust_set_is_the_smallest_of_all_subsets(spots: int) -> None:
    rng = np.random.default_rng(spots)
    for _ in range(40):
        sizes = 10 ** rng.uniform(-2, 0.3, (spots, 9))
        background = rng.uniform(0.0, 0.15, spots)
        rest = background + sizes.sum(axis=1)
        off = robust_set(sizes, rest.tolist(), 0.1)
        smallest = next(
            (
                k
                for k in range(10)
                for group in combinations(range(9), k)
                if (rest - sizes[:, list(group)].sum(axis=1) <= 0.1 + 1e-9).all()
            ),
            None,
        )
        if smallest is None:
            assert off.all()
        else:
            assert off.sum() == smallest
            assert (rest - sizes @ off <= 0.1 + 1e-9).all()


def test_the_solver_covers_several_spots_as_well(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(8)
    sizes = 10 ** rng.uniform(-2, 0.3, (2, 9))
    rest = sizes.sum(axis=1)
    listed = robust_set(sizes, rest.tolist(), 0.1)
    monkeypatch.setattr("logger.sweep.solver.robust_set.MAX_LISTED_SETS", 0)
    solved = robust_set(sizes, rest.tolist(), 0.1)
    assert solved.sum() == listed.sum() and (rest - sizes @ solved <= 0.1 + 1e-9).all()
