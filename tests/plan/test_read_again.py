"""What is done may be read again at any time; one remedy after the other each has a verdict of its own."""

from __future__ import annotations

from dataclasses import replace

import pytest

from logger.clock import ManualClock
from logger.plan.planned_remedy import ProofVerdict, RemedyStatus, RoutePurpose
from logger.plan.remedy_text import result_lines, short_result, way_out
from logger.visit import VisitLog
from logger.visit.records.remedy_records import RemedyKind
from tests.plan.planned_home import PlannedHome


@pytest.fixture
def home(tmp_path):
    clock = ManualClock()
    log = VisitLog.create(tmp_path / "home.visit", clock)
    yield PlannedHome(log, clock)
    log.close()


@pytest.fixture
def unstated(home):
    """A home swept while nothing was stated of reference, laptop and link."""
    stated = home.log.setup.current()
    home.log.setup.set(replace(stated, reference=None, on_battery=None, link_isolated=None))
    home.sweep()
    home.stated = stated
    return home


def read_wide(home):
    """A lamp is unplugged and read again, which tells nothing while so much is not stated."""
    study = home.done(RemedyKind.UNPLUG_AT_NIGHT, "Lamp")
    home.read_without("left", "Lamp")
    home.read_without("right", "Lamp")
    return study


def test_what_is_not_told_apart_says_numbers_and_the_way_out_and_can_be_read_again(unstated):
    home, remedy = unstated, read_wide(unstated)
    found = home.remedy(remedy)
    assert found.result.verdict is ProofVerdict.NOT_TOLD_APART and found.status is RemedyStatus.DONE
    assert found.status_words == "done, not told apart"
    assert " V ± " in short_result(found.result) and " → " in short_result(found.result)
    assert "what the reference is" in way_out(found.result) and "both again" in way_out(found.result)
    assert way_out(found.result) in result_lines(found.result)
    assert home.plan().route == (), "nothing that it waits for has changed"
    again = [stop for stop in home.plan().repeats if found.shown in stop.remedies]
    assert {stop.combination.shown for stop in again} == {
        "everything on, without Lamp",
        "everything on",
    }


def test_once_it_is_stated_both_are_on_the_route_and_reading_them_decides(unstated):
    home, remedy = unstated, read_wide(unstated)
    home.clock.advance_ns(1)
    home.log.setup.set(home.stated)
    found, route = home.remedy(remedy), home.plan().route
    assert found.result.wide_readings and not found.result.not_stated
    assert {stop.purpose for stop in route} == {RoutePurpose.AGAIN}
    assert route[0].combination.shown == "everything on, without Lamp"
    first = len(route)
    for stop in route:
        home.read(stop.combination, stop.spot_name)
    found = home.remedy(remedy)
    assert first == 2 and home.plan().route == ()
    assert found.status is RemedyStatus.PROVEN and not found.result.wide_readings


@pytest.mark.parametrize("kind", [RemedyKind.BREAKER_AT_NIGHT, RemedyKind.WIRING])
def test_what_is_proven_may_be_read_again_as_well(home, kind):
    home.sweep()
    remedy = home.done(kind, "Hall")
    if kind is RemedyKind.WIRING:
        home.gone |= {home.ids["Hall"]}
        home.read_without("right")
    else:
        home.read_without("right", "Hall")
    found = home.remedy(remedy)
    assert found.status is RemedyStatus.PROVEN and home.plan().route == ()
    again = [stop for stop in home.plan().repeats if found.shown in stop.remedies]
    assert found.result.can_read_before == (kind is RemedyKind.BREAKER_AT_NIGHT)
    assert len({stop.combination.live for stop in again}) == (2 if found.result.can_read_before else 1)
    assert {stop.purpose for stop in again} == {RoutePurpose.AGAIN}


def test_the_second_of_two_has_the_merit_of_what_it_added(home):
    home.sweep()
    hall = home.done(RemedyKind.BREAKER_AT_NIGHT, "Hall")
    home.read_without("right", "Hall")
    light = home.done(RemedyKind.BREAKER_AT_NIGHT, "Bedroom")
    home.read_without("right", "Hall", "Bedroom")
    home.read_without("left", "Hall", "Bedroom")
    home.read_without("left", "Hall")
    found = home.remedy(light)
    at_right = next(change for change in found.result.changes if change.spot_name == "right")
    every = frozenset(home.ids.values())
    with_hall_off = home.volts(every - {home.ids["Hall"]}, "right")
    assert not found.result.together_with
    assert at_right.before.volts == pytest.approx(with_hall_off, abs=0.002)
    assert at_right.predicted.volts == pytest.approx(at_right.after.volts, abs=0.05)
    assert home.remedy(hall).result.together_with == ()
    assert home.remedy(hall).status is RemedyStatus.PROVEN


def test_a_breaker_that_is_on_again_gives_a_value_before_it_at_any_time(home):
    home.sweep()
    hall = home.done(RemedyKind.BREAKER_AT_NIGHT, "Hall")
    home.read_without("right", "Hall")
    again = home.read_without("right", shift_volts=0.02)
    (change,) = [one for one in home.remedy(hall).result.changes if one.spot_name == "right"]
    assert change.before_utc_ns == again.utc_ns > change.after_utc_ns


def test_what_was_done_for_good_since_does_not_count_backwards(home):
    home.sweep()
    hall = home.done(RemedyKind.BREAKER_AT_NIGHT, "Hall")
    home.read_without("right", "Hall")
    home.done(RemedyKind.UNPLUG, "Lamp")
    later = home.read_without("right", "Lamp")
    for change in home.remedy(hall).result.changes:
        assert change.before_utc_ns != later.utc_ns


def test_the_line_of_a_joint_verdict_names_the_others(home):
    home.sweep()
    home.done(RemedyKind.BREAKER_AT_NIGHT, "Bedroom")
    hall = home.done(RemedyKind.BREAKER_AT_NIGHT, "Hall")
    home.read_without("right", "Hall", "Bedroom")
    home.read_without("left", "Hall", "Bedroom")
    found = home.remedy(hall)
    assert found.status_words == "proven together"
    assert "together with Bedroom: Switch the breaker off at night" in short_result(found.result)
    assert "(predicted " in short_result(found.result)
