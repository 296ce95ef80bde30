"""The list of spots by keys: add, rename, reorder, remove; and the readings beside it."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from driving import Driver

from gui.demo import DemoRecorder
from gui.session import STARTING_SPOTS
from logger.visit import VisitLog


def names(log: VisitLog) -> list[str]:
    return [spot.name for spot in log.spots()]


@pytest.fixture
def driver(log: VisitLog, open_window: Callable[[], Driver]) -> Driver:
    """Three spots, the stage Spots in sight."""
    for name in ("Bed", "Desk", "Sofa"):
        log.add_spot(name)
    driver = open_window()
    driver.press("4")
    return driver


def test_add(driver: Driver, log: VisitLog) -> None:
    driver.press("A")
    driver.type("Cot by the wall")
    driver.press("Return")
    assert names(log) == ["Bed", "Desk", "Sofa", "Cot by the wall"]
    assert driver.window.session.chosen == log.spots()[-1]


def test_a_name_that_is_there_already_is_refused_and_said(driver: Driver, log: VisitLog) -> None:
    driver.press("A")
    driver.type("desk")
    driver.press("Return")
    assert names(log) == ["Bed", "Desk", "Sofa"]
    assert "already" in driver.said and driver.window.session.said.refused
    assert driver.window.said.isVisible()


def test_an_empty_name_leaves_the_question_open(driver: Driver, log: VisitLog) -> None:
    driver.press("A", "Return")
    assert driver.asked == "New spot"
    driver.press("Esc")
    assert driver.asked == "" and names(log) == ["Bed", "Desk", "Sofa"]


def test_rename_begins_with_the_old_name(driver: Driver, log: VisitLog) -> None:
    driver.press("Down", "E")
    assert driver.window.question.line is not None
    assert driver.window.question.line.text() == "Desk"
    driver.type("Writing desk")  # the old name is selected, so typing replaces it
    driver.press("Return")
    assert names(log) == ["Bed", "Writing desk", "Sofa"]


def test_reorder_keeps_the_chosen_spot_chosen(driver: Driver, log: VisitLog) -> None:
    driver.press("Shift+Down", "Shift+Down")
    assert names(log) == ["Desk", "Sofa", "Bed"]
    driver.press("Ctrl+Up")
    assert names(log) == ["Desk", "Bed", "Sofa"]
    assert driver.window.session.chosen is not None and driver.window.session.chosen.name == "Bed"
    assert driver.window.spots_sheet.spots.currentRow() == 1


@pytest.mark.parametrize(("steps", "then"), [(0, "Desk"), (1, "Sofa"), (2, "Desk")])
def test_remove_asks_and_chooses_a_neighbour(driver: Driver, log: VisitLog, steps: int, then: str) -> None:
    driver.press(*["Down"] * steps, "Del")
    assert len(log.spots()) == 3
    driver.press("Return")
    assert len(log.spots()) == 2
    assert driver.window.session.chosen is not None and driver.window.session.chosen.name == then


def test_remove_can_be_left(driver: Driver, log: VisitLog) -> None:
    driver.press("Del", "Esc")
    assert len(log.spots()) == 3


def test_the_usual_spots_of_a_room(log: VisitLog, open_window: Callable[[], Driver]) -> None:
    driver = open_window()
    driver.press("4", "T")
    driver.type("Bedroom")
    driver.press("Return")
    assert names(log) == [f"Bedroom: {place}" for place, _ in STARTING_SPOTS]
    assert [spot.reminder for spot in log.spots()] == [reminder for _, reminder in STARTING_SPOTS]
    assert {spot.room for spot in log.spots()} == {"Bedroom"}
    driver.press("T")
    driver.type("Study")
    driver.press("Return")
    assert len(log.spots()) == 2 * len(STARTING_SPOTS)
    assert driver.window.session.chosen is not None
    assert driver.window.session.chosen.name == "Study: centre"


def test_a_reminder_of_what_has_to_be_on(driver: Driver, log: VisitLog) -> None:
    driver.press("I")
    driver.type("screen on")
    driver.press("Return")
    assert log.spots()[0].reminder == "screen on"
    assert driver.window.spots_sheet.spots.rows[0].small_right == "screen on"


def test_a_click_chooses(driver: Driver) -> None:
    driver.window.spots_sheet.spot_clicked.emit(2)
    assert driver.window.session.chosen is not None and driver.window.session.chosen.name == "Sofa"


def test_a_spot_added_in_a_second_window_appears(driver: Driver, log: VisitLog) -> None:
    other = VisitLog.open(log.path)
    other.add_spot("Hall")
    other.close()
    driver.window.session.feed._slow_read_ns -= 10**9  # half a second later
    driver.window.refresh()
    assert [row.head.split("  ")[1] for row in driver.window.spots_sheet.spots.rows][-1] == "Hall"


def test_last_reading_of_each_spot_and_how_far_it_is(
    log: VisitLog, record: Callable[[], DemoRecorder], open_window: Callable[[], Driver]
) -> None:
    bed, desk = log.add_spot("Bed"), log.add_spot("Desk")
    record().still(0.27, 20)
    log.take_reading(bed.id, "everything on")
    driver = open_window()
    rows = driver.window.spots_sheet.spots.rows
    assert (rows[0].value, rows[0].small) == ("0.3 (–) V", "not distinguishable from 0.1 V")
    assert rows[1].small == "not read yet"
    log.take_reading(desk.id, "everything on")
    assert driver.window.session.chosen_id == bed.id, "reopened at the spot of the last reading"
