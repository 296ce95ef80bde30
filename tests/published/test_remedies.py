"""Remedies held against a published covering problem and against scipy's programs as the reference library."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, lsq_linear, milp

from logger.plan.solver.least_effort import least_effort
from logger.plan.solver.remaining_share import magnitude_range, totals_of_magnitude
from logger.plan.solver.remedies import EFFORT_WEIGHTS, Effort, Remedy
from tests.support.possible_houses import possible_houses

COVERS = {
    "S1": (1, 2, 3, 4, 5, 6),
    "S2": (5, 6, 8, 9),
    "S3": (1, 4, 7, 10),
    "S4": (2, 5, 7, 8, 11),
    "S5": (3, 6, 9, 12),
    "S6": (10, 11),
}
"""Set cover of 12 points, Cormen, Leiserson, Rivest, Stein: Introduction to Algorithms, section 35.3 (from memory): the
least cover is S3, S4, S5; taking the largest set each time needs four."""


def test_the_least_cover_of_a_textbook() -> None:
    """Each point is a circuit of 0.3 V on one phase, so that all twelve have to be off."""
    names = [str(point) for point in range(1, 13)]
    remedies = [
        Remedy(name, frozenset(str(p) for p in points), Effort.NONE) for name, points in COVERS.items()
    ]
    found = least_effort(possible_houses(np.full((1, 1, 12), 0.3), names=names), remedies)
    assert found.remedies == ("S3", "S4", "S5") and found.proven and found.meets_target


def _program(takes: np.ndarray, costs: np.ndarray, volts: np.ndarray, needs: np.ndarray) -> int | None:
    """Least cost by scipy's HiGHS: a circuit is off where some remedy takes it, and what is off adds up to the needs.

    Args:
        takes: 1 where a remedy takes a circuit, shape (remedies, circuits).
        costs: of the remedies.
        volts: of the circuits at each spot, shape (spots, circuits).
        needs: what has to go at each spot, V, shape (spots,).
    """
    remedies, circuits = takes.shape
    solved = milp(
        np.concatenate([costs, np.zeros(circuits)]),
        integrality=np.ones(remedies + circuits),
        bounds=Bounds(0, 1),
        constraints=[
            LinearConstraint(np.hstack([takes.T, -np.eye(circuits)]), 0.0, np.inf),
            LinearConstraint(np.hstack([np.zeros((len(needs), remedies)), volts]), needs, np.inf),
        ],
    )
    return None if solved.x is None else round(float(solved.fun))


@pytest.mark.parametrize("overlapping", [False, True])
@pytest.mark.parametrize("spots", [1, 2])
def test_on_one_phase_it_is_a_covering_problem(spots: int, overlapping: bool) -> None:
    """With one phase magnitudes add up: a minimum-weight knapsack cover; reference: scipy.optimize.milp (HiGHS)."""
    reached = 0
    for seed in range(20):
        rng = np.random.default_rng(1000 * spots + seed + 500 * overlapping)
        circuits = 9 if overlapping else 16
        volts = rng.integers(5, 400, (spots, circuits)) / 1000.0
        takes = np.eye(circuits)
        if overlapping:
            takes = (rng.random((7, circuits)) < 0.3).astype(float)
            takes[np.arange(7), rng.integers(0, circuits, 7)] = 1.0
        efforts = [list(Effort)[k] for k in rng.integers(0, 3, len(takes))]
        names = [f"C{k}" for k in range(circuits)]
        remedies = [
            Remedy(f"R{k}", frozenset(np.array(names)[row == 1.0].tolist()), effort)
            for k, (row, effort) in enumerate(zip(takes, efforts, strict=True))
        ]
        target = float(rng.uniform(0.2, 0.5) * volts.sum(axis=1).min())
        # Half of a millivolt, so that no sum of whole millivolts is on the limit.
        target = round(target, 3) + 0.0005
        found = least_effort(possible_houses(volts[:, None, :], names=names, target_volts=target), remedies)
        costs = np.array([EFFORT_WEIGHTS[effort] for effort in efforts], float)
        least = _program(takes, costs, volts, volts.sum(axis=1) - target)
        assert found.meets_target == (least is not None), seed
        if least is not None:
            assert found.effort == least and found.proven, seed
            reached += 1
    assert reached >= 10


def test_the_range_of_remaining_shares_is_that_of_bounded_least_squares() -> None:
    """Reference: scipy.optimize.lsq_linear with bounds for the lowest, every corner of the box for the highest."""
    rng = np.random.default_rng(38)
    for trial in range(400):
        count = int(rng.integers(1, 6))
        legs = (
            np.exp(2j * np.pi * rng.integers(0, 3, count) / 3)
            if trial % 2
            else rng.choice([1, -1], count) + 0j
        )
        phasors = (
            rng.uniform(0.0, 1.0, count) * legs if trial % 3 else rng.standard_normal((count, 2)) @ [1, 1j]
        )
        total = complex(*rng.standard_normal(2)) if trial % 5 else complex(rng.standard_normal())
        lowest, highest = magnitude_range(np.array([total]), np.asarray(phasors[None, :], np.complex128))
        matrix = np.array([phasors.real, phasors.imag])
        nearest = lsq_linear(matrix, [total.real, total.imag], bounds=(0, 1), tol=1e-14)
        left = np.linalg.norm(matrix @ nearest.x - [total.real, total.imag])
        corners = (np.arange(2**count)[:, None] >> np.arange(count)) & 1
        assert lowest[0] == pytest.approx(left, abs=1e-5)
        assert highest[0] == pytest.approx(np.abs(total - corners @ phasors).max(), abs=1e-9)


def test_what_a_total_of_known_magnitude_may_be_is_what_shares_can_make() -> None:
    """Reference: scipy.optimize.lsq_linear with bounds: each point is reached by shares; none reaches beyond them."""
    rng = np.random.default_rng(39)
    for trial in range(120):
        count = int(rng.integers(1, 5))
        phasors = rng.standard_normal((count, 2)) @ [1, 1j]
        total = complex(*rng.standard_normal(2))
        matrix = np.array([phasors.real, phasors.imag])
        shares = rng.random(count)
        left = total - (1.0 - shares) @ phasors
        points = totals_of_magnitude(
            np.array([total]), np.asarray(phasors[None, :], np.complex128), np.array([abs(left)])
        )[0]
        points = points[~np.isnan(points)]
        assert np.abs(points) == pytest.approx(abs(left), abs=1e-6)
        for point in points[:: max(len(points) // 8, 1)]:
            gone = total - point
            nearest = lsq_linear(matrix, [gone.real, gone.imag], bounds=(0, 1), tol=1e-14)
            assert np.linalg.norm(matrix @ nearest.x - [gone.real, gone.imag]) < 1e-5
        other = complex(*rng.standard_normal(2))
        found = np.abs(points - other)
        # Between two directions of the circle the distance is off by no more than a thousandth of its radius.
        slack = abs(left) / 900 + 1e-6
        assert found.min() - slack <= abs(left - other) <= found.max() + slack, trial
