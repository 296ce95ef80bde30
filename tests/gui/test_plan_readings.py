"""The stage Plan leads to what tells before and after apart: what is not stated, and several readings in turn."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from PySide6.QtWidgets import QApplication

from gui.stages.plan.plan_page import PlanPage
from logger.clock import ManualClock
from logger.plan.planned_remedy import RemedyStatus, RouteStop
from logger.visit import VisitLog
from logger.visit.records.remedy_records import RemedyKind
from tests.gui.test_plan_stage import choose, page_of, shown_plan
from tests.plan.planned_home import PlannedHome
from tests.support.window_driver import Driver

LAMP = "Lamp: Unplug at night"


@pytest.fixture
def home(log: VisitLog, clock: ManualClock) -> PlannedHome:
    """Swept and read again without the lamp while nothing was stated of reference, laptop and link."""
    home = PlannedHome(log, clock)
    log.setup.set(replace(log.setup.current(), reference=None, on_battery=None, link_isolated=None))
    home.sweep()
    home.done(RemedyKind.UNPLUG_AT_NIGHT, "Lamp")
    for spot in ("left", "right"):
        home.read_without(spot, "Lamp")
    return home


def at_the_lamp(driver: Driver) -> PlanPage:
    """The page Plan with the row of the lamp chosen."""
    driver.do("stage.plan")
    shown_plan(driver)
    choose(driver, LAMP)
    return page_of(driver)


def state(home: PlannedHome, driver: Driver) -> None:
    home.clock.advance_ns(1)
    driver.window.controller.setup.state(
        "what the readings were read against", reference="earth rod", on_battery=True, link_isolated=True
    )
    driver.window.refresh()


def read(home: PlannedHome, driver: Driver, stop: RouteStop) -> None:
    """Take a reading of the route."""
    home.read(stop.combination, stop.spot_name)
    driver.window.controller.refresh(force=True)
    shown_plan(driver)
    driver.window.refresh()


def lamps_status(driver: Driver) -> RemedyStatus:
    return next(remedy.status for remedy in shown_plan(driver).remedies if remedy.shown == LAMP)


def test_state_what_is_missing_leads_to_prepare_and_goes_once_it_is_stated(
    home: PlannedHome, open_window: Callable[[], Driver]
) -> None:
    driver = open_window()
    page = at_the_lamp(driver)
    assert (
        page._buttons.buttons["plan.state"].isVisible() and not page._buttons.buttons["plan.same"].isVisible()
    )
    assert "No reading" in driver.refused("plan.same")
    driver.do("plan.state")
    assert driver.window.page is driver.window.pages.prepare
    state(home, driver)
    page = at_the_lamp(driver)
    assert not page._buttons.buttons["plan.state"].isVisible()
    assert "Nothing that is missing" in driver.refused("plan.state")


def test_readings_of_before_count_as_stated_now_only_on_a_yes(
    home: PlannedHome, open_window: Callable[[], Driver]
) -> None:
    driver = open_window()
    state(home, driver)
    page = at_the_lamp(driver)
    assert page._buttons.buttons["plan.same"].isVisible() and lamps_status(driver) is RemedyStatus.DONE
    driver.do("plan.same")
    driver.answer("I do not know")
    assert driver.window.page is driver.window.pages.spots, "they are read again then"
    at_the_lamp(driver)
    assert lamps_status(driver) is RemedyStatus.DONE
    driver.do("plan.same")
    driver.answer("Yes, it was all the same")
    assert lamps_status(driver) is RemedyStatus.PROVEN
    driver.do("edit.undo")
    assert lamps_status(driver) is RemedyStatus.DONE


def test_the_readings_of_a_route_follow_each_other_and_the_plan_comes_back_with_the_last(
    home: PlannedHome, open_window: Callable[[], Driver]
) -> None:
    driver = open_window()
    state(home, driver)
    at_the_lamp(driver)
    stops = driver.window.plan_controller.stops()
    assert [stop.combination.shown for stop in stops] == ["everything on, without Lamp", "everything on"]
    driver.do("plan.read")
    assert driver.window.page is driver.window.pages.spots
    assert "“everything on, without Lamp”" in driver.message and "The next one follows it." in driver.message
    read(home, driver, stops[0])
    assert driver.window.page is driver.window.pages.spots
    assert "Set “everything on”" in driver.message and "The plan comes back with it." in driver.message
    read(home, driver, stops[1])
    assert driver.window.page is driver.window.pages.plan
    assert lamps_status(driver) is RemedyStatus.PROVEN
    assert f"{LAMP}: proven." in driver.message


@pytest.mark.parametrize("size", [(1366, 740), (1024, 572)])
def test_in_a_low_window_what_the_ticked_remedies_bring_begins_in_sight(
    home: PlannedHome, open_window: Callable[[], Driver], size: tuple[int, int]
) -> None:
    driver = open_window()
    driver.window.resize(*size)
    page = at_the_lamp(driver)
    further = "Bedroom: Switch the breaker off at night"
    choose(driver, further)
    driver.do("plan.tick")
    QApplication.processEvents()
    driver.window.redraw()
    QApplication.processEvents()
    assert page.brings.isVisible() and page.spots.y() < page.room_height()
    row = next(one for one in page.rows.rows if one.head == further)
    assert row.short is not None and row.short_more == row.small
