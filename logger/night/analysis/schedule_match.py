"""Switchings that were planned for the night ("breakers off at 23:00", a timer), matched with the steps found.

In: planned moments, the steps and the repeating loads of a night, all in seconds since its start. Out: the step of each
planned switching, and the planned switchings without one. A step of a load that comes again by itself proves no
switching, and where such a step was due and not seen by itself, the size of another step at that moment is not that of
the switching alone: magnitudes of voltages do not add, so the load's share is not subtracted. Nor is one step given to
one of several switchings that were planned within the same minutes. A step up is expected of "on", down of "off".
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from logger.night.analysis.repeating_loads import RepeatingLoad, hidden_load, load_of
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
class UntoldSwitching:
    """A planned switching of which nothing can be told: a load comes again by itself, or another one was planned then.

    Args:
        plan: the planned switching.
        load: the load; None where it is not for a load.
        step: the step near it; None where there is none, though the load was due as well.
        is_of_load: whether the step may be the load's own; else the load's step may be within it.
        others: what else was planned so near that the one step may be of either; empty where it is for a load.
    """

    plan: PlannedSwitching
    load: RepeatingLoad | None
    step: Step | None
    is_of_load: bool = False
    others: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ScheduleMatch:
    """Planned switchings and steps, matched.

    Args:
        pairs: planned switchings with their steps.
        planned_only: planned switchings without a step: no effect, not done, or hidden by motion.
        untold: planned switchings of which nothing can be told.
    """

    pairs: tuple[tuple[PlannedSwitching, Step], ...]
    planned_only: tuple[PlannedSwitching, ...]
    untold: tuple[UntoldSwitching, ...] = ()


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
        loads: repeating loads of its recording, whose steps are given to no planned switching.
        within_s: largest time between a planned switching and its step, s.
    """
    near = sorted(
        (plan.is_against(step), abs(step.time_s - plan.time_s), p, s)
        for p, plan in enumerate(planned)
        for s, step in enumerate(steps)
        if abs(step.time_s - plan.time_s) <= within_s
    )
    own = {s: load for s, step in enumerate(steps) if (load := load_of(step, loads)) is not None}
    within = {
        s: load
        for s, step in enumerate(steps)
        if s not in own and (load := hidden_load(step.time_s, loads)) is not None
    }
    step_of: dict[int, int] = {}
    taken: set[int] = set()
    for _, _, p, s in near:
        if p not in step_of and s not in taken and s not in own and s not in within:
            step_of[p] = s
            taken.add(s)
    untold: dict[int, UntoldSwitching] = {}
    for _, _, p, s in near:
        load = own.get(s) or within.get(s)
        if p not in step_of and load is not None:
            untold.setdefault(p, UntoldSwitching(planned[p], load, steps[s], s in own))
    for p, plan in enumerate(planned):
        load = hidden_load(plan.time_s, loads, within_s)
        if p not in step_of and load is not None:
            untold.setdefault(p, UntoldSwitching(plan, load, None, is_of_load=False))
    for s in sorted(taken):
        # One step for several switchings: whose it is, the order in which they were typed does not tell.
        sharing = {
            p
            for _, _, p, near_s in near
            if near_s == s and (step_of.get(p) == s or p not in {*step_of, *untold})
        }
        if len(sharing) > 1:
            for p in sharing:
                others = tuple(planned[o].what for o in sorted(sharing - {p}))
                step_of.pop(p, None)
                untold[p] = UntoldSwitching(planned[p], None, steps[s], others=others)
    return ScheduleMatch(
        tuple((planned[p], steps[s]) for p, s in sorted(step_of.items())),
        tuple(plan for p, plan in enumerate(planned) if p not in step_of and p not in untold),
        tuple(found for _, found in sorted(untold.items())),
    )
