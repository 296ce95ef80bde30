"""What is left where no set of remedies meets the target, and why.

In: a `RemedyProblem` and the lowest set. Out: an `Unreachable` for each spot above the target.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.plan.solver.prediction import SpotPrediction
from logger.plan.solver.remedy_problem import RemedyProblem
from logger.sweep.solver.switching_problem import NEGLIGIBLE_VOLTS, background_reading


@dataclass(frozen=True, slots=True)
class Part:
    """What one circuit or cord gives by itself.

    Args:
        name: of the circuit or cord.
        volts: magnitude, V.
        u_volts: its standard uncertainty, V; None where the readings set no bound to it.
    """

    name: str
    volts: float
    u_volts: float | None


@dataclass(frozen=True, slots=True)
class Unreachable:
    """Why a spot stays above the target. Magnitudes of parts do not add up: they may cancel each other.

    Args:
        spot: its name.
        left_volts: with the lowest set, V.
        u_left_volts: its standard uncertainty, V.
        background_volts: what was read with everything off that may be switched off, V; no remedy of a circuit or cord
            reaches it.
        u_background_volts: its standard uncertainty, V.
        in_background: names of what must stay on and was never off there: it is part of the background.
        essential: what must stay on and was off in a reading, so that its part is known.
        without_remedy: what stays live since no remedy of known effect takes it away.
    """

    spot: str
    left_volts: float
    u_left_volts: float
    background_volts: float
    u_background_volts: float
    in_background: tuple[str, ...]
    essential: tuple[Part, ...]
    without_remedy: tuple[Part, ...]


def unreachable_at(
    problem: RemedyProblem,
    spot: int,
    left: SpotPrediction,
    off: NDArray[np.bool_],
    has_remedy: NDArray[np.bool_],
) -> Unreachable:
    """Say what is left at a spot, and why.

    Args:
        problem: possible houses.
        spot: index of the spot.
        left: what the lowest set leaves there.
        off: what that takes away, shape (n,).
        has_remedy: what some remedy that a set may hold takes away, shape (n,).

    Raises:
        ValueError: nothing can be predicted at the spot.
    """
    switching = problem.switching
    background = background_reading(switching, spot)
    if background is None or left.volts is None or left.u_volts is None:
        raise ValueError(f"nothing is known at {left.spot}")
    in_background = switching.keep & switching.posteriors[spot].always_live
    sizes, u_sizes = switching.sizes[spot], switching.u_sizes[spot]
    # A circuit's part has those of the cords on it in it.
    on_circuit = np.isin(np.arange(len(sizes)), list(switching.circuit_of))
    gives = (sizes > NEGLIGIBLE_VOLTS) & ~on_circuit & ~off

    def parts(which: NDArray[np.bool_]) -> tuple[Part, ...]:
        order = [int(k) for k in np.argsort(-sizes, kind="stable") if which[k]]
        return tuple(
            Part(switching.names[k], float(sizes[k]), float(u_sizes[k]) if np.isfinite(u_sizes[k]) else None)
            for k in order
        )

    return Unreachable(
        left.spot,
        left.volts,
        left.u_volts,
        background.volts,
        background.u_volts,
        problem.named(in_background),
        parts(gives & problem.stays & ~in_background),
        parts(gives & ~problem.stays & ~has_remedy),
    )
