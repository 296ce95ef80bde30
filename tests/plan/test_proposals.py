"""The remedies that fit what was found: what must stay on is never switched off, nothing unproved is told as proved."""

from __future__ import annotations

from dataclasses import replace

import pytest

from logger.clock import ManualClock
from logger.plan.findings import CHECK_FAILED, NO_SWEEP
from logger.plan.plan_json import plan_json
from logger.plan.planned_remedy import FindingKind, RemedyPlan, RemedyStatus
from logger.plan.proposals import kinds_for, stays_on
from logger.plan.remedy_kinds import KINDS, KnownEffect
from logger.plan.remedy_text import may_do_text, nothing_found_text, plan_lines
from logger.plan.solver.prediction import Rise
from logger.plan.solver.remedies import Effort
from logger.sweep.switch_off_plan import PlanState
from logger.translation import tr
from logger.visit import VisitLog
from logger.visit.records.home_records import Source
from logger.visit.records.remedy_records import ACTING_AT_NIGHT, RemedyDecision, RemedyEntry, RemedyKind
from tests.plan.planned_home import PlannedHome


@pytest.fixture
def home(tmp_path):
    clock = ManualClock()
    log = VisitLog.create(tmp_path / "home.visit", clock)
    yield PlannedHome(log, clock)
    log.close()


def test_every_kind_has_its_facts_and_an_electrician_does_what_is_inside():
    assert set(KINDS) == set(RemedyKind)
    for kind, facts in KINDS.items():
        assert (facts.effort is Effort.ELECTRICIAN) == (facts.who == "electrician"), kind
        assert facts.effort is not Effort.ELECTRICIAN or facts.cautions, kind
    assert all(KINDS[kind].effect is KnownEffect.TAKEN_AWAY for kind in ACTING_AT_NIGHT)


def test_what_must_stay_on_is_never_switched_off_or_unplugged():
    circuit, pump = Source(1, "circuit", "Cellar"), Source(2, "cord", "Pump", 1, stays="a pump")
    for source in (circuit, pump):
        assert stays_on(source, [circuit, pump])
        assert all(KINDS[kind].effect is KnownEffect.AT_BEST for kind in kinds_for(source, [circuit, pump]))
    assert RemedyKind.BREAKER_AT_NIGHT in kinds_for(circuit, [circuit])


def test_the_set_of_least_effort_holds_in_the_house(home):
    home.sweep()
    home.settle()
    plan = home.plan()
    assert plan.meets_target and plan.least_effort_proven and not plan.why_open
    off = frozenset(source.id for remedy in plan.least_effort for source in remedy.sources)
    for found in plan.least_effort_predictions:
        true = home.volts(frozenset(home.ids.values()) - off, found.spot_name)
        assert true <= plan.target_volts + 0.03
        assert found.volts == pytest.approx(true, abs=2 * found.u_volts)
    assert {f.kind for f in plan.findings} >= {FindingKind.CORD, FindingKind.CIRCUIT}
    assert all(r.status is RemedyStatus.PROPOSED for r in plan.remedies)
    names = [remedy.name for remedy in plan.remedies]
    assert len(names) == len(set(names))


def test_a_rise_is_said(home):
    home.sweep()
    home.settle()
    everything = frozenset(home.ids.values())
    for remedy in home.plan().remedies:
        for found in remedy.predictions:
            if found.rises is Rise.YES:
                off = {source.id for source in remedy.sources}
                assert home.volts(everything - off, found.spot_name) > home.volts(everything, found.spot_name)


def test_a_remedy_that_is_not_wanted_is_in_no_set(home):
    home.sweep()
    home.settle()
    first = home.plan().least_effort[0]
    home.log.remedies.add(
        first.kind, RemedyEntry(0, RemedyDecision.NOT_WANTED), [source.id for source in first.sources]
    )
    plan = home.plan()
    assert first.name not in [remedy.name for remedy in plan.least_effort]
    assert next(r for r in plan.remedies if r.name == first.name).not_wanted


def test_contradicting_readings_propose_nothing_of_the_sweep(home):
    home.sweep(wrong={"only Bedroom on": lambda volts: volts * 10})
    assert home.answer().state is PlanState.CONTRADICTORY
    plan = home.plan()
    assert "contradict" in plan.why_open and not plan.least_effort and not plan.meets_target
    assert all(remedy.doubt for remedy in plan.remedies)
    assert all(p.refusal for remedy in plan.remedies for p in remedy.predictions)


def test_an_open_sweep_marks_its_findings_as_not_proved(home):
    home.sweep()
    assert home.answer().state is not PlanState.CONFIRMED
    plan = home.plan()
    assert plan.why_open and all(finding.doubt for finding in plan.findings)


def test_without_a_sweep_there_is_the_reason(home):
    plan = home.plan()
    assert plan.why_open == tr(NO_SWEEP) and plan.remedies == () and plan.least_effort == ()


def test_after_a_failed_function_check_no_set_is_given(home, monkeypatch):
    home.sweep()
    home.settle()
    monkeypatch.setattr("logger.plan.plan_basis.newest_function_check_failed", lambda checks: True)
    plan = home.plan()
    assert plan.why_open == tr(CHECK_FAILED) and not plan.least_effort and not plan.meets_target
    assert all(finding.doubt for finding in plan.findings)


def test_with_too_little_read_it_is_not_said_that_nothing_was_found() -> None:
    open_plan = RemedyPlan(0.1, (), (), why_open="No spot was swept.")
    assert nothing_found_text(open_plan) == "No remedy can be proposed yet: too little is read."
    assert nothing_found_text(RemedyPlan(0.1, (), ())).startswith("Nothing was found")


def test_text_and_json_name_the_cheaper_set_beside_the_certain_one(home):
    home.sweep()
    home.settle()
    plan = home.plan()
    assert (
        may_do_text(plan) == ""
        and plan_json(plan)["may_do"] == []
        and plan_json(plan)["may_do_chance"] is None
    )
    cheaper = replace(
        plan,
        may_do=plan.least_effort[:1],
        may_do_chance=0.4,
        may_do_predictions=plan.least_effort_predictions,
    )
    (line,) = [
        line for line in plan_lines(cheaper) if plan.least_effort[0].shown in line and "Less may do" in line
    ]
    assert "not certain" in line and "Try this first" in line and "±" in line
    found = plan_json(cheaper)
    assert found["may_do"] == [plan.least_effort[0].name] and found["may_do_chance"] == 0.4
    assert found["least_effort"] == [remedy.name for remedy in plan.least_effort]
    assert found["may_do_predictions"][0]["volts"] is not None
