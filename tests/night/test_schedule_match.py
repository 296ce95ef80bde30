"""Planned switchings are matched with the steps that were found."""

from __future__ import annotations

from logger.night.analysis.schedule_match import PlannedSwitching, match_schedule
from logger.settling.events import Step


def step(time_s):
    return Step(time_s, 0.3, 0.1, 0.004, time_s)


def test_each_planned_switching_gets_the_nearest_free_step():
    plans = [
        PlannedSwitching(100, "breakers off"),
        PlannedSwitching(150, "timer"),
        PlannedSwitching(5000, "breakers on"),
    ]
    found = match_schedule(plans, [step(95), step(160), step(3000)])
    assert [(plan.what, s.time_s) for plan, s in found.pairs] == [("breakers off", 95), ("timer", 160)]
    assert [plan.what for plan in found.planned_only] == ["breakers on"]


def test_one_step_is_not_given_twice():
    found = match_schedule([PlannedSwitching(100, "a"), PlannedSwitching(110, "b")], [step(108)])
    assert [(plan.what, s.time_s) for plan, s in found.pairs] == [("b", 108)]
    assert [plan.what for plan in found.planned_only] == ["a"]
    assert match_schedule([], []).pairs == ()
