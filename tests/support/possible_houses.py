"""Possible houses put together by hand, without a sweep that they were solved from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import ArrayLike

from logger.plan.solver.remedy_problem import RemedyProblem, problem_of_houses
from logger.sweep.solver.posterior import Posterior
from logger.sweep.solver.readings import sweep_of_sets
from logger.sweep.solver.switching_problem import SwitchingProblem

UNREAD = "not read"


def possible_houses(
    contributions: ArrayLike,
    background: ArrayLike = 0.0,
    *,
    target_volts: float = 0.1,
    cords: Mapping[str, str] | None = None,
    keep: Sequence[str] = (),
    names: Sequence[str] = (),
) -> RemedyProblem:
    """Houses of equal weight. Besides what is given there is a circuit that gives nothing and was off in each reading.

    It is on in each set of remedies, so that no set was read, though everything was varied.

    Args:
        contributions: complex V, shape (S, K, n) of S spots, K houses, n circuits and cords.
        background: complex V, of a shape that broadcasts to (S, K).
        target_volts: V.
        cords: circuit of each cord.
        keep: what must stay on.
        names: of the n; A, B, C and so on where none is given.
    """
    given = np.asarray(contributions, np.complex128)
    spots, houses, count = given.shape
    gives = np.concatenate([given, np.zeros((spots, houses, 1))], axis=2)
    named = (*(names or tuple(chr(ord("A") + k) for k in range(count))), UNREAD)
    count += 1
    dark = np.broadcast_to(np.asarray(background, np.complex128), (spots, houses))
    circuit_of = {named.index(cord): named.index(circuit) for cord, circuit in (cords or {}).items()}
    plugged_in = frozenset(cords or {})
    posteriors = tuple(
        Posterior(
            circuits=named,
            circuit_of=circuit_of,
            background=dark[s].copy(),
            contributions=gives[s],
            weights=np.full(houses, 1.0 / houses),
            hypothesis=np.arange(houses),
            legs=np.zeros((houses, count), np.int64),
            always_live=np.zeros(count, bool),
            unread=np.zeros(count, bool),
            null_volts=np.full(count, np.nan),
            alike=(),
            has_phase=True,
        )
        for s in range(spots)
    )
    sweeps = tuple(
        sweep_of_sets(
            [
                (plugged_in, float(abs(dark[s]).mean()), 0.002),
                *((frozenset(named) - {cord, UNREAD}, 1.0, 0.002) for cord in plugged_in),
                *((frozenset({name}) | plugged_in, 1.0, 0.002) for name in named if name != UNREAD),
            ],
            named,
        )
        for s in range(spots)
    )
    sizes = np.array([posterior.sizes() for posterior in posteriors])
    switching = SwitchingProblem(
        posteriors,
        sweeps,
        np.array([name in keep for name in named], bool),
        np.array([name in (cords or {}) for name in named], bool),
        target_volts,
        sizes,
        np.array([posterior.u_sizes() for posterior in posteriors]),
    )
    return problem_of_houses(
        switching, [f"spot {s}" for s in range(spots)], [False] * spots, [()] * spots, supply_in_doubt=False
    )
