"""Remedies as choices for the search: each with what it takes away in every possible house, and what it costs.

In: a `RemedyProblem`, remedies, pairs that exclude each other. Out: `RemedyChoices`. The search adds up what choices
take away, so that choices which share a circuit or cord exclude each other. Where neither of two such remedies takes
all that the other does, both together are a choice of their own.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.plan.solver.remedies import EFFORT_WEIGHTS, Refusal, Remedy
from logger.plan.solver.remedy_problem import RemedyProblem
from logger.sweep.solver.choices import Choices
from logger.sweep.solver.sweep_design import MIN_DIFFERENCE_VOLTS, design_matrix
from logger.sweep.solver.switching_problem import NEGLIGIBLE_VOLTS

MAX_CHOICES = 200
"""So many choices are made at most of remedies that overlap; beyond it nothing is proven."""


@dataclass(frozen=True, slots=True)
class RemedyChoices:
    """Remedies that a set may hold, as choices. m choices, n circuits and cords.

    Args:
        choices: the largest first; the cost of each is its effort, and far less than that the number of its remedies,
            so that of equal effort the fewer cost less.
        remedies: indices of the remedies of each choice; more than one where they overlap.
        takes: what each choice takes away, shape (m, n).
        left_out: names of the remedies that no set may hold, and why.
        complete: each set of the remedies is a set of the choices; else there were too many that overlap.
    """

    choices: Choices
    remedies: tuple[frozenset[int], ...]
    takes: NDArray[np.bool_]
    left_out: tuple[tuple[str, Refusal], ...]
    complete: bool

    def off(self, sets: NDArray[np.float64]) -> NDArray[np.bool_]:
        """What sets of choices take away, shape (sets, n); `sets` is 1 where a choice is made, shape (sets, m)."""
        return sets @ self.takes > 0.0


@dataclass(frozen=True, slots=True)
class _Choice:
    """Remedies that count as one.

    Args:
        remedies: their indices.
        takes: indices of what they take away, with the cords of the circuits among it.
        cost: in `EFFORT_WEIGHTS`, of all of them.
        barred: indices of the remedies that exclude one of them.
    """

    remedies: frozenset[int]
    takes: frozenset[int]
    cost: int
    barred: frozenset[int]

    def excludes(self, other: _Choice) -> bool:
        """Whether both are never chosen together."""
        return bool(self.takes & other.takes or self.remedies & other.barred or other.remedies & self.barred)

    def is_no_better_than(self, other: _Choice) -> bool:
        """Whether the other takes the same, costs no more and excludes no more."""
        return self.takes == other.takes and self.cost >= other.cost and other.barred <= self.barred

    def with_also(self, other: _Choice) -> _Choice | None:
        """Both as one choice; None where they exclude each other, do not overlap, or one holds all of the other."""
        both = self.remedies | other.remedies
        barred = self.barred | other.barred
        if both & barred or not self.takes & other.takes or self.remedies & other.remedies:
            return None
        if self.takes <= other.takes or other.takes <= self.takes:
            return None
        return _Choice(both, self.takes | other.takes, self.cost + other.cost, barred)


def remedy_choices(
    problem: RemedyProblem, remedies: Sequence[Remedy], excluded: Collection[tuple[str, str]] = ()
) -> RemedyChoices:
    """Turn remedies into choices.

    Args:
        problem: possible houses.
        remedies: what may be done.
        excluded: names of remedies, two by two, that are never done together.
    """
    nothing = _next_to_nothing(problem)
    left_out = {
        r: refusal
        for r, remedy in enumerate(remedies)
        if (refusal := _why_left_out(problem, remedy, nothing))
    }
    index = {remedy.name: r for r, remedy in enumerate(remedies)}
    pairs = {(index[a], index[b]) for a, b in excluded} | {(index[b], index[a]) for a, b in excluded}
    single = [
        _Choice(
            frozenset({r}),
            _with_cords(problem, remedy.takes),
            EFFORT_WEIGHTS[remedy.effort],
            frozenset(b for a, b in pairs if a == r),
        )
        for r, remedy in enumerate(remedies)
        if r not in left_out
    ]
    chosen, complete = _with_overlapping(single)
    takes = np.zeros((len(chosen), len(problem.switching.names)), bool)
    for row, choice in zip(takes, chosen, strict=True):
        row[list(choice.takes)] = True
    effects = _effects(problem, takes)
    size = np.abs(effects).mean(axis=1).max(axis=0)
    order = np.argsort(-size, kind="stable")
    chosen = [chosen[at] for at in order]
    return RemedyChoices(
        Choices(
            _values(problem, np.zeros((1, takes.shape[1]), bool))[:, :, 0],
            effects[:, :, order],
            problem.switching.weights,
            tuple(
                (a, b)
                for a, one in enumerate(chosen)
                for b, other in enumerate(chosen[:a])
                if one.excludes(other)
            ),
            problem.switching.posteriors[0].hypothesis if len(problem.spots) == 1 else None,
            np.array(
                [choice.cost * (len(remedies) + 1) + len(choice.remedies) for choice in chosen], np.int64
            ),
        ),
        tuple(choice.remedies for choice in chosen),
        takes[order],
        tuple((remedies[r].name, refusal) for r, refusal in left_out.items()),
        complete,
    )


def _next_to_nothing(problem: RemedyProblem) -> NDArray[np.bool_]:
    """What gives next to nothing at every spot, all of it together too, shape (n,).

    Each gives at most `NEGLIGIBLE_VOLTS`. Many of that add up: the smallest ones count as nothing while their sum
    decides nothing at any spot (`MIN_DIFFERENCE_VOLTS`), whatever their phases are.
    """
    sizes = problem.switching.sizes
    nothing = np.zeros(sizes.shape[1], bool)
    sum_volts = np.zeros(len(sizes))
    for k in np.argsort(sizes.max(axis=0), kind="stable"):
        sum_volts = sum_volts + sizes[:, k]
        if sizes[:, k].max() > NEGLIGIBLE_VOLTS or sum_volts.max() > MIN_DIFFERENCE_VOLTS:
            break
        nothing[k] = True
    return nothing


def _why_left_out(problem: RemedyProblem, remedy: Remedy, nothing: NDArray[np.bool_]) -> Refusal | None:
    """Why no set may hold a remedy; None where one may. `nothing` is what gives next to nothing, shape (n,)."""
    if not remedy.is_known:
        return Refusal.UNKNOWN_EFFECT
    if not remedy.takes or not remedy.takes <= set(problem.switching.names):
        return Refusal.NOT_SWEPT
    takes = problem.mask(remedy.takes)
    if (takes & problem.stays).any():
        return Refusal.ESSENTIAL
    if (takes & ~problem.varied).any():
        return Refusal.NOT_READ
    if nothing[takes].all():
        return Refusal.NOTHING
    return None


def _with_cords(problem: RemedyProblem, names: Collection[str]) -> frozenset[int]:
    """Indices of circuits and cords, with the cords on the circuits among them."""
    own = {int(k) for k in np.flatnonzero(problem.mask(names))}
    on_them = {cord for cord, circuit in problem.switching.circuit_of.items() if circuit in own}
    return frozenset(own | on_them)


def _with_overlapping(single: Sequence[_Choice]) -> tuple[list[_Choice], bool]:
    """The choices that are worth having, those of overlapping remedies among them, and whether these are all."""
    chosen: list[_Choice] = []

    def add(choice: _Choice) -> None:
        if not any(choice.is_no_better_than(other) for other in chosen):
            chosen[:] = [other for other in chosen if not other.is_no_better_than(choice)]
            chosen.append(choice)

    for choice in single:
        add(choice)
    waiting = list(chosen)
    while waiting:
        one = waiting.pop()
        for other in list(chosen):
            both = one.with_also(other)
            if both is None or any(both.is_no_better_than(known) for known in chosen):
                continue
            if len(chosen) >= MAX_CHOICES:
                return chosen, False
            add(both)
            waiting.append(both)
    return chosen, True


def _values(problem: RemedyProblem, off: NDArray[np.bool_]) -> NDArray[np.complex128]:
    """Complex value in each house, V, shape (S, K, sets), with those circuits and cords off, shape (sets, n)."""
    counts = design_matrix(~off, problem.switching.circuit_of)
    return np.array(
        [p.background[:, None] + p.contributions @ counts.T for p in problem.switching.posteriors],
        np.complex128,
    )


def _effects(problem: RemedyProblem, takes: NDArray[np.bool_]) -> NDArray[np.complex128]:
    """What each choice takes away in each house, V, shape (S, K, m); `takes` has shape (m, n)."""
    return _values(problem, np.zeros((1, takes.shape[1]), bool)) - _values(problem, takes)
