"""A remedy that is done is proven, without effect or worse by the physics of a simulated house, or not yet."""

from __future__ import annotations

from dataclasses import replace

import pytest

from logger.clock import NS_PER_S, ManualClock
from logger.metrology.checks import CheckKind
from logger.plan.planned_remedy import ProofVerdict, RemedyStatus, RoutePurpose
from logger.sweep.sweep_progress import plain_sweep
from logger.sweep.switch_off_plan import PlanState
from logger.visit import VisitLog
from logger.visit.records.remedy_records import RemedyDecision, RemedyEntry, RemedyKind
from tests.plan.planned_home import COUPLINGS, PlannedHome

DAY_NS = 86_400 * NS_PER_S


@pytest.fixture
def home(tmp_path):
    clock = ManualClock()
    log = VisitLog.create(tmp_path / "home.visit", clock)
    home = PlannedHome(log, clock)
    home.sweep()
    yield home
    log.close()


def test_a_lamp_that_is_unplugged_for_good_is_proven_by_reading_again_where_it_acts(home):
    remedy = home.done(RemedyKind.UNPLUG, "Lamp")
    waiting = home.plan()
    assert [(s.spot_name, s.combination.label, s.purpose) for s in waiting.route] == [
        ("left", "everything on, without Lamp", RoutePurpose.AFTER)
    ]
    found = home.remedy(remedy)
    assert found.status is RemedyStatus.DONE and found.result.verdict is ProofVerdict.NOT_READ
    assert found.result.unread == ("left",)
    home.read_without("left", "Lamp")
    found = home.remedy(remedy)
    assert found.status is RemedyStatus.PROVEN and not home.plan().route
    (change,) = found.result.changes
    true = home.volts(frozenset(home.ids.values()) - home.gone, "left") - home.volts(
        frozenset(home.ids.values()), "left"
    )
    assert change.difference.volts == pytest.approx(true, abs=0.002)
    assert change.fall_volts > 0 and change.difference.expanded_volts > 0.05
    assert change.predicted.volts == pytest.approx(change.after.volts, abs=2 * change.predicted.u_volts)
    assert not found.result.together_with and not found.result.doubts


def test_the_same_is_proven_where_everything_on_is_stated_after_it(home):
    remedy = home.done(RemedyKind.UNPLUG, "Lamp")
    home.read_without("left")
    assert home.remedy(remedy).status is RemedyStatus.PROVEN


def test_at_night_it_is_read_without_it_and_everything_on_proves_nothing(home):
    remedy = home.done(RemedyKind.UNPLUG_AT_NIGHT, "Lamp")
    home.read_without("left")
    assert home.remedy(remedy).result.verdict is ProofVerdict.NOT_READ
    home.read_without("left", "Lamp")
    assert home.remedy(remedy).status is RemedyStatus.PROVEN


def test_a_rise_anywhere_is_worse_also_where_nobody_asked_to_read(home):
    remedy = home.done(RemedyKind.BREAKER_AT_NIGHT, "Bedroom")
    home.read_without("left", "Bedroom")
    home.read_without("right", "Bedroom", shift_volts=0.6)
    found = home.remedy(remedy)
    assert found.status is RemedyStatus.WORSE
    assert any(change.rise_volts > 0 for change in found.result.changes)


@pytest.mark.parametrize(
    ("picofarads", "status"),
    [(3.0, RemedyStatus.NO_EFFECT), (0.9, RemedyStatus.DONE)],
    ids=["large", "small"],
)
def test_no_effect_needs_a_predicted_fall_that_would_have_shown(tmp_path, picofarads, status):
    clock = ManualClock()
    log = VisitLog.create(tmp_path / "home.visit", clock)
    home = PlannedHome(log, clock, {**COUPLINGS, "right": {**COUPLINGS["right"], "Hall": picofarads}})
    home.sweep()
    hall = home.done(RemedyKind.BREAKER_AT_NIGHT, "Hall")
    everything = frozenset(home.ids.values())
    shift_volts = home.volts(everything, "right") - home.volts(everything - {home.ids["Hall"]}, "right")
    home.read_without("right", "Hall", shift_volts=shift_volts)
    assert home.remedy(hall).status is status
    log.close()


def test_an_own_remedy_that_nothing_predicts_is_never_without_effect(home):
    own = home.log.remedies.add(
        RemedyKind.OWN, RemedyEntry(0, RemedyDecision.DONE), spot_id=home.spots["left"].id, text="A mat"
    )
    home.read_without("left")
    found = home.remedy(own)
    assert found.status is RemedyStatus.DONE and found.result.verdict is ProofVerdict.NOT_TOLD_APART


def test_of_two_done_between_the_readings_none_is_called_the_cause(home):
    lamp = home.done(RemedyKind.UNPLUG, "Lamp")
    hall = home.done(RemedyKind.BREAKER_AT_NIGHT, "Hall")
    home.read_without("left", "Lamp", "Hall")
    home.read_without("right", "Lamp", "Hall")
    assert home.remedy(lamp).result.together_with == (home.remedy(hall).shown,)
    assert home.remedy(hall).result.together_with == (home.remedy(lamp).shown,)
    # Read by itself each has a verdict of its own.
    home.read_without("right", "Hall")
    home.read_without("left", "Lamp")
    assert home.remedy(lamp).result.together_with == ()


def test_undone_and_taken_back_are_told_apart_and_the_history_stays(home):
    remedy = home.done(RemedyKind.UNPLUG, "Lamp")
    home.read_without("left", "Lamp")
    entry = home.log.remedies.decide(remedy.id, RemedyEntry(0, RemedyDecision.UNDONE, note="missed it"))
    found = home.remedy(remedy)
    assert found.status is RemedyStatus.PROPOSED and found.result is None
    home.log.remedies.take_back(remedy.id, entry.id)
    found = home.remedy(remedy)
    assert found.status is RemedyStatus.PROVEN
    assert [e.decision for e in found.kept.entries] == ["done", "undone", "done"]
    assert [e.decision for e in found.kept.standing] == ["done"]


def test_a_reading_of_the_stated_day_is_neither_before_nor_after(home):
    home.clock.advance_ns(3 * DAY_NS)
    remedy = home.done(RemedyKind.UNPLUG, "Lamp", done_on="2026-01-01")
    home.read_without("left", "Lamp")
    result = home.remedy(remedy).result
    assert result.verdict is ProofVerdict.NOT_READ and result.changes == () and home.plan().route == ()


def test_another_reference_is_not_comparable_and_is_to_be_read_again(home):
    remedy = home.done(RemedyKind.UNPLUG, "Lamp")
    setup = home.log.setup.current()
    home.log.setup.set(replace(setup, reference="building earth"))
    home.read_without("left", "Lamp")
    found = home.remedy(remedy)
    assert found.status is RemedyStatus.DONE and found.result.verdict is ProofVerdict.NOT_COMPARABLE
    assert "earth rod" in found.result.changes[0].why_not and home.plan().route


def test_repeats_that_contradict_each_other_prove_nothing(home):
    remedy = home.done(RemedyKind.UNPLUG_AT_NIGHT, "Lamp")
    home.read_without("left", "Lamp")
    home.read_without("left", "Lamp", shift_volts=1.0)
    assert home.remedy(remedy).result.verdict is ProofVerdict.NOT_COMPARABLE


def test_what_was_entered_or_voided_in_between_is_a_doubt(home):
    remedy = home.done(RemedyKind.UNPLUG_AT_NIGHT, "Lamp")
    home.log.circuits.add("cord", "Radio", home.ids["Study"])
    void = home.read_without("left", "Lamp", shift_volts=1.0)
    home.log.readings.void(void.id, "somebody came in")
    home.read_without("left", "Lamp")
    doubts = " ".join(home.remedy(remedy).result.doubts)
    assert "Radio" in doubts and "mistaken" in doubts


def test_after_a_failed_function_check_nothing_is_proven(home):
    remedy = home.done(RemedyKind.UNPLUG_AT_NIGHT, "Lamp")
    home.log.checks.skip(CheckKind.FUNCTION, "no cord at hand")
    home.read_without("left", "Lamp")
    assert home.remedy(remedy).status is RemedyStatus.PROVEN


def test_a_remedy_for_good_leaves_the_sweep_before_it_until_the_home_is_swept_again(home):
    home.settle()
    least = [remedy.name for remedy in home.plan().least_effort]
    home.done(RemedyKind.SHIELDED_CORD, "Lamp")
    home.read_without("left", shift_volts=0.4)
    home.read_without("left", "Hall", shift_volts=0.4)
    home.read_without("left", "Study", shift_volts=0.4)
    assert [remedy.name for remedy in home.plan().least_effort] == least
    assert home.answer().state is PlanState.CONFIRMED, "what was read of another home contradicts nothing"
    for combination in plain_sweep(home.log.circuits.all()):
        home.read(combination, "left", 0.4)
    assert home.answer().spots[0].background.volts > 0.35
