"""What remedies are worked out from: the possible houses of an answer, and where they allow no prediction.

In: a `MultiSpotAnswer`, or the `SwitchingProblem` of a `SwitchOffPlan` with its doubts. Out: a `RemedyProblem`. Nothing
is solved again.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.plan.solver.remedies import Refusal
from logger.sweep.solver.answer import MultiSpotAnswer
from logger.sweep.solver.exchanges import rows_of_set
from logger.sweep.solver.sweep_design import design_matrix
from logger.sweep.solver.switching_problem import SwitchingProblem, background_reading


@dataclass(frozen=True, slots=True)
class RemedyProblem:
    """Possible houses at several spots. S spots, n circuits and cords.

    Args:
        switching: the possible houses, what must stay on, and the target.
        spots: names of the S spots.
        refusals: why nothing can be predicted at each spot; None where something can.
        varied: what was live in some readings at a spot and not in others, shape (S, n).
        exchangeable: numbers of the rows of each spot, two by two from 1, that may have been exchanged without anything
            that shows it.
    """

    switching: SwitchingProblem
    spots: tuple[str, ...]
    refusals: tuple[Refusal | None, ...]
    varied: NDArray[np.bool_]
    exchangeable: tuple[tuple[tuple[int, int], ...], ...]

    @property
    def refusal(self) -> Refusal | None:
        """Why nothing can be said about all spots together; None where it can."""
        return next((refusal for refusal in self.refusals if refusal is not None), None)

    @property
    def stays(self) -> NDArray[np.bool_]:
        """What must stay on, and the circuits that feed a cord that must stay plugged in, shape (n,)."""
        stays = self.switching.keep.copy()
        for cord, circuit in self.switching.circuit_of.items():
            stays[circuit] |= stays[cord]
        return stays

    @property
    def never_live(self) -> NDArray[np.bool_]:
        """What was live in no reading at any spot, shape (n,): no part of the possible houses."""
        on = frozenset[str]().union(*(r.on for sweep in self.switching.sweeps for r in sweep.readings))
        return np.array([name not in on for name in self.switching.names], bool)

    def may_be_swapped(self, spot: int, off: NDArray[np.bool_]) -> bool:
        """Whether the reading of what a set leaves at a spot may be that of another combination.

        Args:
            spot: index of the spot.
            off: what is taken away, shape (n,).
        """
        rows = rows_of_set(self.switching, spot, off)
        return any(row + 1 in pair for row in rows for pair in self.exchangeable[spot])

    def mask(self, names: Collection[str]) -> NDArray[np.bool_]:
        """Which of the circuits and cords these are, shape (n,).

        Raises:
            KeyError: a name that is none of them.
        """
        index = {name: k for k, name in enumerate(self.switching.names)}
        mask = np.zeros(len(index), bool)
        mask[[index[name] for name in names]] = True
        return mask

    def named(self, which: NDArray[np.bool_]) -> tuple[str, ...]:
        """Names of those circuits and cords; `which` has shape (n,)."""
        return tuple(name for name, is_one in zip(self.switching.names, which, strict=True) if is_one)


def remedy_problem(answer: MultiSpotAnswer) -> RemedyProblem:
    """Take over the possible houses of an answer."""
    return problem_of_houses(
        answer.problem,
        [spot.spot for spot in answer.spots],
        [not found.consistent for _, found in answer.consistency],
        [spot.exchangeable for spot in answer.spots],
        supply_in_doubt=bool(answer.better_supplies),
    )


def problem_of_houses(
    switching: SwitchingProblem,
    spots: Sequence[str],
    contradictory: Sequence[bool],
    exchangeable: Sequence[Sequence[tuple[int, int]]],
    *,
    supply_in_doubt: bool,
) -> RemedyProblem:
    """Put possible houses and the doubts about their readings together.

    Args:
        switching: possible houses, what must stay on, and the target.
        spots: names of its spots.
        contradictory: whether the readings of each spot contradict each other.
        exchangeable: numbers of the rows of each spot, two by two from 1, that may have been exchanged without anything
            that shows it.
        supply_in_doubt: the readings fit another supply than the one that was entered clearly better.
    """
    return RemedyProblem(
        switching,
        tuple(spots),
        tuple(
            Refusal.CONTRADICTORY
            if contradicts
            else Refusal.NO_BACKGROUND
            if background_reading(switching, s) is None
            else Refusal.SUPPLY
            if supply_in_doubt
            else None
            for s, contradicts in enumerate(contradictory)
        ),
        np.array([_varied(switching, s) for s in range(len(spots))], bool),
        tuple(map(tuple, exchangeable)),
    )


def _varied(switching: SwitchingProblem, spot: int) -> NDArray[np.bool_]:
    """What was live in some readings at a spot and not in others, shape (n,); `spot` is its index.

    A cord on a circuit that is off is neither.
    """
    live = np.array(
        [[name in reading.on for name in switching.names] for reading in switching.sweeps[spot].readings],
        bool,
    )
    counts = design_matrix(live, switching.circuit_of)
    return np.asarray((counts != counts[0]).any(axis=0), np.bool_)
