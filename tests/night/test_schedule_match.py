"""Planned switchings are matched with the steps that were found."""

from __future__ import annotations

from logger.night.analysis.repeating_loads import LoadReturn, RepeatingLoad
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


def test_one_step_is_given_to_none_of_several_switchings_that_were_planned_then():
    a, b, later = PlannedSwitching(100, "a"), PlannedSwitching(110, "b"), PlannedSwitching(900, "c")
    for planned in ([a, b, later], [b, a, later]):
        found = match_schedule(planned, [step(108)])
        assert (found.pairs, found.planned_only) == ((), (later,))
        assert {(one.plan.what, one.others, one.step.time_s) for one in found.untold} == {
            ("a", ("b",), 108), ("b", ("a",), 108),
        }  # fmt: skip
    assert len(match_schedule([a, b], [step(98), step(112)]).pairs) == 2
    assert match_schedule([], []).pairs == ()


def test_a_step_that_goes_as_expected_is_taken_before_a_nearer_one_and_another_is_told():
    down, up = step(100), Step(160, 0.1, 0.3, 0.004, 160)
    assert match_schedule([PlannedSwitching(101, "Lamp ON")], [down, up]).pairs[0][1] is up
    ((plan, found),) = match_schedule([PlannedSwitching(101, "lamp on")], [down]).pairs
    assert found is down and plan.is_against(down) and not PlannedSwitching(101, "phone").is_against(down)


def test_a_step_of_a_load_that_comes_again_proves_no_switching_even_where_its_partner_is_missing():
    load = RepeatingLoad(0.2, 900.0, 2700.0, (LoadReturn(1800.0, 2700.0), LoadReturn(4500.0, 5400.0)))
    found = match_schedule([PlannedSwitching(30, "breakers off")], [step(1)], [load])
    assert found.pairs == found.planned_only == () and found.untold[0].step == step(1)
    assert match_schedule([PlannedSwitching(1400, "off")], [step(1350)], [load]).pairs, "not when it is due"


def test_a_step_that_may_hold_one_of_a_load_that_was_due_gives_a_planned_switching_no_size():
    load = RepeatingLoad(
        0.1, 600.0, 2400.0, (LoadReturn(0.0, 600.0), LoadReturn(2400.0, 3000.0), LoadReturn(None, 5400.0))
    )
    off = Step(4799, 0.8, 0.4, 0.001, 4805)
    (untold,) = match_schedule([PlannedSwitching(4800, "all off")], [off], [load]).untold
    assert untold.step == off and untold.load is load and not untold.is_of_load
    (untold,) = match_schedule([PlannedSwitching(4800, "lamp off")], [], [load]).untold
    assert untold.step is None, "both together may have made no step"
    assert match_schedule(
        [PlannedSwitching(4300, "all off")], [Step(4300, 0.8, 0.4, 0.001, 4305)], [load]
    ).pairs
