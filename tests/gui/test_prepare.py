"""The set-up by keys: one key a choice, what is open is asked in turn, what is left open is named."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from driving import Driver

from logger.visit import VisitLog


@pytest.fixture
def driver(open_window: Callable[[], Driver], monkeypatch: pytest.MonkeyPatch) -> Driver:
    monkeypatch.setattr("gui.prepare_sheet.list_descriptions", list)
    driver = open_window()
    driver.press("2")
    return driver


def enter(driver: Driver, text: str) -> None:
    driver.type(text)
    driver.press("Return")


def test_space_asks_one_thing_after_the_other(driver: Driver, log: VisitLog) -> None:
    driver.press("Space")
    assert driver.asked == "Which household?"
    enter(driver, "house by the mill")
    driver.press("1", "1", "2")  # earth rod, loam or clay, damp
    enter(driver, "12")
    enter(driver, "7,5 m")
    driver.press("3", "1", "1", "1", "0")  # three-phase, 50 Hz, battery, isolated, not described
    assert driver.asked == ""
    setup = log.setup()
    assert (setup.household, setup.reference, setup.soil, setup.moisture) == (
        "house by the mill", "earth rod", "loam or clay", "damp",
    )  # fmt: skip
    assert (setup.panel_distance_m, setup.wire_length_m) == (12.0, 7.5)
    assert (setup.supply, setup.mains_hz, setup.on_battery, setup.link_isolated) == (
        "three-phase", 50.0, True, True,
    )  # fmt: skip
    assert setup.meter.assumed, "what nobody has stated stays named"
    assert setup.missing() == [] and setup.reference_state().remarks() == []
    assert "go on" in driver.window.bottom.text() or "goes on" in driver.window.bottom.text()


def test_building_earth_asks_nothing_of_a_rod_and_is_named(driver: Driver, log: VisitLog) -> None:
    driver.press("Down", "Return", "2")
    assert log.setup().reference == "building earth"
    assert driver.asked == "What supply has the home?"
    driver.press("Esc")
    assert "on every reading: building earth" in driver.window.prepare_sheet.missing.text()
    row = next(r for r in driver.window.prepare_sheet.list.rows if r.head == "Reference")
    assert (row.value, row.small) == ("building earth", "widens the uncertainty")


def test_what_is_missing_is_named_with_its_consequence(driver: Driver) -> None:
    text = driver.window.prepare_sheet.missing.text()
    assert "what the reference is" in text and "battery" in text and "isolated" in text
    assert "which widens the uncertainty" in text


def test_down_leaves_it_open_and_asks_the_next(driver: Driver, log: VisitLog) -> None:
    driver.press("Space", "Down")
    assert driver.asked == "What is the reference?"
    driver.press("Down")
    assert driver.asked == "What supply has the home?"
    assert log.fact("setup") == ""


@pytest.mark.parametrize("text", ["far", "-3", "nan", "inf"])
def test_no_length(driver: Driver, log: VisitLog, text: str) -> None:
    driver.press("Down", "Return", "1", "Down", "Down")
    assert driver.asked == "Rod to main panel"
    enter(driver, text)
    assert log.setup().panel_distance_m is None and driver.window.session.said.refused


def test_another_target_needs_its_source(driver: Driver, log: VisitLog) -> None:
    driver.press(*["Down"] * 20, "Return", "2")
    enter(driver, "0.05")
    assert log.setup().target_volts == 0.1
    enter(driver, "the household itself")
    setup = log.setup()
    assert (setup.target_volts, setup.target_source) == (0.05, "the household itself")


def test_cautions_stand_where_they_matter(driver: Driver) -> None:
    driver.press("Down", "Return")
    question = driver.window.question.question
    assert question is not None and "thunderstorm" in question.text and "Ask before digging" in question.text
    driver.press("Esc")
    assert "live conductor" in driver.window.prepare_sheet._caution.text()
