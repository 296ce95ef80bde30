"""Switchings that were planned for the night ("breakers off at 23:00", a timer), matched with the steps found.

In: planned moments and the steps of a night, both in seconds since its start. Out: the step of each planned switching,
and the planned switchings without a step.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from logger.settling.events import Step

MAX_APART_S = 120.0
"""A timer's clock and the computer's clock may differ by this much. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class PlannedSwitching:
    """A planned switching: its time in seconds since the night's start, and its description."""

    time_s: float
    what: str


@dataclass(frozen=True, slots=True)
class ScheduleMatch:
    """Planned switchings and steps, matched.

    Args:
        pairs: planned switchings with their steps.
        planned_only: planned switchings without a step: no effect, not done, or hidden by motion.
    """

    pairs: tuple[tuple[PlannedSwitching, Step], ...]
    planned_only: tuple[PlannedSwitching, ...]


def match_schedule(
    planned: Sequence[PlannedSwitching], steps: Sequence[Step], within_s: float = MAX_APART_S
) -> ScheduleMatch:
    """Give each planned switching the nearest step that is free, the nearest pairs first.

    Args:
        planned: planned switchings of the night.
        steps: steps of the night.
        within_s: largest time between a planned switching and its step, s.
    """
    apart = sorted(
        (abs(step.time_s - plan.time_s), p, s)
        for p, plan in enumerate(planned)
        for s, step in enumerate(steps)
        if abs(step.time_s - plan.time_s) <= within_s
    )
    step_of: dict[int, int] = {}
    taken: set[int] = set()
    for _, p, s in apart:
        if p not in step_of and s not in taken:
            step_of[p] = s
            taken.add(s)
    return ScheduleMatch(
        tuple((planned[p], steps[s]) for p, s in sorted(step_of.items())),
        tuple(plan for p, plan in enumerate(planned) if p not in step_of),
    )
