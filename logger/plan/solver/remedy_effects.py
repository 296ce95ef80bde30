"""What each remedy of a set brings, alone and on top of the others: with cancellation these differ.

In: a `RemedyProblem` and the remedies of a set. Out: a `RemedyEffect` for each. On top of the others is against the
same set without it; others of unknown effect count as not done, since nothing can rely on them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.plan.solver.prediction import (
    AtBest,
    change,
    outer_range,
    range_at,
    refusal_at,
    taken,
    values_at,
)
from logger.plan.solver.remedies import Refusal, Remedy
from logger.plan.solver.remedy_problem import RemedyProblem


@dataclass(frozen=True, slots=True)
class Change:
    """A change of the value at a spot, below zero where it falls.

    Args:
        volts: V; None for a remedy of unknown effect.
        u_volts: standard uncertainty, V; None with `volts`.
        between: the range instead, for a remedy of unknown effect.
    """

    volts: float | None = None
    u_volts: float | None = None
    between: AtBest | None = None


@dataclass(frozen=True, slots=True)
class RemedyEffect:
    """What a remedy brings at a spot.

    Args:
        remedy: its name.
        spot: name of the spot.
        refusal: why nothing can be said; None where something can, and both changes are given.
        alone: against nothing done.
        on_top: against the others of known effect done.
    """

    remedy: str
    spot: str
    refusal: Refusal | None = None
    alone: Change | None = None
    on_top: Change | None = None


def remedy_effects(problem: RemedyProblem, remedies: Sequence[Remedy]) -> tuple[RemedyEffect, ...]:
    """Work out what each remedy of a set brings at each spot, spot by spot for one remedy after the other.

    Args:
        problem: possible houses.
        remedies: of the set, each its own name.

    Raises:
        KeyError: one takes what is no part of the sweep.
    """
    return tuple(
        _effect(problem, s, remedy, [other for other in remedies if other.name != remedy.name])
        for remedy in remedies
        for s in range(len(problem.spots))
    )


def _effect(problem: RemedyProblem, spot: int, remedy: Remedy, others: Sequence[Remedy]) -> RemedyEffect:
    """What a remedy brings at a spot.

    Args:
        problem: possible houses.
        spot: index of the spot.
        remedy: the one.
        others: of the set.
    """
    name = problem.spots[spot]
    own, done = problem.mask(remedy.takes), problem.mask(taken(others)[0])
    nothing = np.zeros_like(own)
    refusal = refusal_at(problem, spot, done | own if remedy.is_known else done, own)
    if refusal is not None:
        return RemedyEffect(remedy.name, name, refusal)
    return RemedyEffect(
        remedy.name,
        name,
        alone=_change(problem, spot, nothing, own, is_known=remedy.is_known),
        on_top=_change(problem, spot, done, own, is_known=remedy.is_known),
    )


def _change(
    problem: RemedyProblem, spot: int, done: NDArray[np.bool_], own: NDArray[np.bool_], *, is_known: bool
) -> Change:
    """What a remedy changes at a spot.

    Args:
        problem: possible houses.
        spot: index of the spot.
        done: what others take away, shape (n,).
        own: what the remedy takes away or weakens, shape (n,).
        is_known: it takes it away.
    """
    weights = problem.switching.weights
    before = values_at(problem, spot, done)
    if is_known:
        after = values_at(problem, spot, done | own) if (own & ~done).any() else before
        return Change(*change(after, before, weights))
    # The same houses on both sides: a reading of one side would put its own noise into the difference.
    lowest, highest = range_at(problem, spot, done, own & ~done)
    start = range_at(problem, spot, done, np.zeros_like(own))[0]
    return Change(between=outer_range(lowest - start, highest - start, weights))
