"""Switchings that were planned for the night ("breakers off at 23:00", a timer), matched with the steps found.

In: planned moments, the steps and the repeating loads of a night, all in seconds since its start. Out: the step of each
planned switching, and the planned switchings without one. A step of a load that comes again by itself proves no
switching, and a step up is expected of "on", down of "off".
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from logger.night.analysis.repeating_loads import RepeatingLoad, load_of
from logger.settling.events import Step

MAX_APART_S = 120.0
"""A timer's clock and the computer's clock may differ by this much. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class PlannedSwitching:
    """A planned switching: its time in seconds since the night's start, and its description."""

    time_s: float
    what: str

    @property
    def direction(self) -> int:
        """What it lets expect of the value: 1 up ("on"), -1 down ("off"), 0 where it says neither or both."""
        words = re.findall(r"[^\W\d_]+", self.what.lower())
        return ("on" in words) - ("off" in words)

    def is_against(self, step: Step) -> bool:
        """Whether a step goes the other way than it lets expect."""
        return self.direction * (step.after_volts - step.before_volts) < 0


@dataclass(frozen=True, slots=True)
class ScheduleMatch:
    """Planned switchings and steps, matched.

    Args:
        pairs: planned switchings with their steps.
        planned_only: planned switchings without a step: no effect, not done, or hidden by motion.
        untold: planned switchings of which nothing can be told, with the step near them of a load that comes again.
    """

    pairs: tuple[tuple[PlannedSwitching, Step], ...]
    planned_only: tuple[PlannedSwitching, ...]
    untold: tuple[tuple[PlannedSwitching, Step], ...] = ()


def match_schedule(
    planned: Sequence[PlannedSwitching],
    steps: Sequence[Step],
    loads: Sequence[RepeatingLoad] = (),
    within_s: float = MAX_APART_S,
) -> ScheduleMatch:
    """Give each planned switching the nearest free step: first those that go as expected, the nearest pairs first.

    Args:
        planned: planned switchings of the night.
        steps: steps of the night.
        loads: its repeating loads, whose steps are given to no planned switching.
        within_s: largest time between a planned switching and its step, s.
    """
    near = sorted(
        (plan.is_against(step), abs(step.time_s - plan.time_s), p, s)
        for p, plan in enumerate(planned)
        for s, step in enumerate(steps)
        if abs(step.time_s - plan.time_s) <= within_s
    )
    of_load = {s for s, step in enumerate(steps) if load_of(step, loads) is not None}
    step_of: dict[int, int] = {}
    taken: set[int] = set()
    for _, _, p, s in near:
        if p not in step_of and s not in taken and s not in of_load:
            step_of[p] = s
            taken.add(s)
    untold: dict[int, int] = {}
    for _, _, p, s in near:
        if p not in step_of and s in of_load:
            untold.setdefault(p, s)
    return ScheduleMatch(
        tuple((planned[p], steps[s]) for p, s in sorted(step_of.items())),
        tuple(plan for p, plan in enumerate(planned) if p not in step_of and p not in untold),
        tuple((planned[p], steps[s]) for p, s in sorted(untold.items())),
    )
