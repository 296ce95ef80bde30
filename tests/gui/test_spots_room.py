"""How much of the spots and of the readings is in sight, beside the practice house and after the border was dragged."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from gui.settings.preferences import TEXT_PERCENT
from gui.stages.spots.spots_page import name_in_room
from gui.widgets.row_list import RowList
from gui.widgets.row_model import ListHeading, ListRow
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.home_records import Spot
from tests.support.window_driver import Driver

ONE_SWITCHED = ("only Bedroom outlets, Bedroom light on", "only Bedroom outlets, Bedroom light off")


@pytest.fixture
def visit(log: VisitLog, open_window: Callable[[], Driver]) -> Driver:
    """Three spots of a bedroom with fourteen readings, the stage Spots in sight beside the practice house."""
    names = ("bed, left", "centre", "bed, right")
    spots = [log.spots.add(f"Bedroom, upper floor: {name}", "Bedroom, upper floor") for name in names]
    for _ in range(2):
        for spot, on in zip(spots, (1.85, 0.21, 0.11), strict=True):
            for condition, volts in ((EVERYTHING_ON, on), (EVERYTHING_OFF, 0.07)):
                log.readings.enter(spot.id, condition, volts, 0.07)
    for condition in ONE_SWITCHED:
        log.readings.enter(spots[0].id, condition, 1.5, 0.07)
    driver = open_window()
    driver.do("stage.spots")
    driver.window.dock.open()
    return driver


def settle(driver: Driver, width: int, height: int) -> None:
    driver.window.resize(width, height)
    driver.window.redraw()
    QApplication.processEvents()


def rows_in_sight(driver: Driver, rows: RowList) -> int:
    """How many rows of a list, without headings, are in sight from their first to their last line."""
    area = driver.window.pages.spots.parentWidget()
    assert area is not None
    count = 0
    for place, item in enumerate(rows.row_model.items):
        box = rows.visualRect(rows.row_model.index(place))
        if isinstance(item, ListRow) and rows._is_whole(place):
            corners = (box.topLeft(), box.bottomLeft())
            count += all(area.rect().contains(rows.viewport().mapTo(area, corner)) for corner in corners)
    return count


@pytest.mark.parametrize("size", [(1366, 740), (1024, 572)])
def test_spots_come_first_and_nothing_is_blank(visit: Driver, size: tuple[int, int]) -> None:
    """Also where the window was small before: what is in sight does not depend on the sizes on the way."""
    page = visit.window.pages.spots
    settle(visit, 1024, 572)
    settle(visit, *size)
    assert rows_in_sight(visit, page.spots) >= 3
    assert page.height() == page.wanted_height(), "it scrolls no further than its parts reach"
    assert page.meaning.part.height() == page.meaning.part.heightForWidth(page.meaning.part.width()), (
        "no blank room around it"
    )
    assert page.spots.height() >= page.spots.minimumSizeHint().height()


@pytest.mark.parametrize(("percent", "spots", "readings"), [(100, 4, 3), (125, 4, 3), (150, 3, 1)])
def test_on_a_small_laptop_the_lists_alone_scroll_and_show_a_room_and_the_readings_of_its_chosen_spot(
    visit: Driver, log: VisitLog, percent: int, spots: int, readings: int
) -> None:
    page, window = visit.window.pages.spots, visit.window
    for name in ("desk", "chair"):
        log.spots.add(f"Bedroom, upper floor: {name}", "Bedroom, upper floor")
    centre = log.spots.all()[1]
    window.controller.refresh(force=True)
    window.controller.route.chosen_id = centre.id
    window.preferences.set(TEXT_PERCENT, percent)
    window.resize(1024, 560)
    window.apply_preferences()
    settle(visit, 1024, 560)
    assert page.height() == page.room_height(), "no scroll around the lists"
    assert rows_in_sight(visit, page.spots) >= spots
    assert rows_in_sight(visit, page.entries) >= readings
    first = page.entries.rows[:4]
    assert {row.head for row in first} == {centre.name}, "its readings come before those elsewhere"
    assert page.meaning.part.height() >= page.meaning.part.heightForWidth(page.meaning.part.width())
    headings = [row.text for row in page.entries.row_model.items if isinstance(row, ListHeading)]
    assert headings == [centre.name, "Elsewhere"]


def test_a_short_row_of_a_spot_keeps_what_speaks_against_its_value(visit: Driver, log: VisitLog) -> None:
    desk = log.spots.add("Bedroom, upper floor: desk", "Bedroom, upper floor")
    log.readings.enter(desk.id, ONE_SWITCHED[0], 0.9, 0.01)
    visit.window.controller.refresh(force=True)
    settle(visit, 1024, 572)
    short = {row.head: (row.short, row.short_more) for row in visit.window.pages.spots.spots.rows}
    assert short["1  bed, left"] == (("1  bed, left", "on 1.85, off 0.07 V"), "")
    assert short["4  desk"] == (("4  desk", "0.90 V"), ONE_SWITCHED[0]), "a value names what was on"


def test_a_border_that_was_pulled_down_leaves_the_readings_within_reach(visit: Driver) -> None:
    page = visit.window.pages.spots
    settle(visit, 1366, 740)
    page.place_border(990)
    settle(visit, 1366, 740)
    assert rows_in_sight(visit, page.entries) >= 2 and rows_in_sight(visit, page.spots) >= 2
    settle(visit, 1024, 572)
    assert page.height() == page.room_height()
    assert rows_in_sight(visit, page.entries) >= 1


def test_a_click_on_the_border_is_no_wish_for_another_share(visit: Driver) -> None:
    page, dragged = visit.window.pages.spots, list[int]()
    settle(visit, 1366, 740)
    page.border_dragged.connect(dragged.append)
    QTest.mouseClick(page.split.handle(1), Qt.MouseButton.LeftButton)
    assert dragged == []


def test_what_is_cut_for_lack_of_room_opens_by_keyboard_and_by_mouse_and_a_warning_is_never_cut(
    visit: Driver, log: VisitLog
) -> None:
    page = visit.window.pages.spots
    settle(visit, 1024, 572)
    visit.window.dock.open()
    settle(visit, 1024, 572)
    text, more = page.meaning.part, page.meaning.button
    assert text.text() != page.meaning.whole and more.isVisible() and more.text() == "More"
    assert "goes with everything off" in text.text(), "the figures in parentheses go before the words"
    page.meaning.cut_to_line(330)
    assert "goes with everything off" in text.text() and "(" not in text.text()
    assert more.accessibleDescription() == page.meaning.whole
    more.setFocus()
    QTest.keyClick(more, Qt.Key.Key_Return)
    assert text.text() == page.meaning.whole and more.hasFocus() and more.text() == "Less"
    QTest.keyClick(more, Qt.Key.Key_Space)
    assert text.text() != page.meaning.whole
    QTest.mouseClick(more, Qt.MouseButton.LeftButton)
    assert text.text() == page.meaning.whole
    spot = visit.window.controller.route.chosen
    assert spot is not None
    log.readings.enter(spot.id, EVERYTHING_OFF, 2.9, 0.01)
    visit.window.controller.refresh(force=True)
    settle(visit, 1024, 572)
    assert "contradict" in text.text() and text.text() == page.meaning.whole and more.isHidden()


@pytest.mark.parametrize(
    ("name", "room", "shown"),
    [
        ("Bedroom: bed", "bedroom", "bed"),
        ("Flat 2: bedroom: bed", "Flat 2: bedroom", "bed"),
        ("Bedroom: bed", "Study", "Bedroom: bed"),
        ("Bedroom: ", "Bedroom", "Bedroom: "),
        (": bed", "", ": bed"),
    ],
)
def test_below_the_heading_of_its_room_a_spot_leaves_the_room_out(name: str, room: str, shown: str) -> None:
    assert name_in_room(Spot(1, name, room)) == shown
