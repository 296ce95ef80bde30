"""The list of spots by keys: add, rename, reorder, remove; and the readings beside it."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QFontMetricsF
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMenu

from gui.dev.demo import DemoRecorder
from gui.model.route_controller import USUAL_SPOTS
from gui.model.visit_access import Message
from gui.widgets.row_model import ListHeading
from gui.widgets.row_painter import text_blocks
from logger.clock import NS_PER_S, ManualClock
from logger.metrology.checks import CheckKind
from logger.metrology.setup import Setup
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.mark_about import AboutKind, MarkAbout
from tests.support.drawn_text import drawn_texts
from tests.support.window_driver import Driver


def names(log: VisitLog) -> list[str]:
    return [spot.name for spot in log.spots.all()]


@pytest.fixture
def driver(log: VisitLog, open_window: Callable[[], Driver]) -> Driver:
    """Three spots, the stage Spots in sight."""
    for name in ("Bed", "Desk", "Sofa"):
        log.spots.add(name)
    driver = open_window()
    driver.do("stage.spots")
    return driver


def test_add(driver: Driver, log: VisitLog) -> None:
    driver.do("spots.add")
    driver.type("Cot by the wall")
    driver.press("Return")
    assert names(log) == ["Bed", "Desk", "Sofa", "Cot by the wall"]
    assert driver.window.controller.route.chosen == log.spots.all()[-1]


def test_a_name_that_is_there_already_is_refused_and_said(driver: Driver, log: VisitLog) -> None:
    driver.do("spots.add")
    driver.type("desk")
    driver.press("Return")
    assert names(log) == ["Bed", "Desk", "Sofa"]
    assert "already" in driver.message and driver.window.controller.message.refused
    assert driver.window.action_bar.message_bar.isVisible()


def test_a_long_message_scrolls_and_leaves_the_page_its_room(driver: Driver) -> None:
    bar = driver.window.action_bar.message_bar
    before = bar.height()
    assert bar.area.focusPolicy() is Qt.FocusPolicy.NoFocus, "there is nothing to scroll"
    driver.window.controller.message = Message("A long line of words about the meter and its lines. " * 60)
    driver.window.redraw()
    QApplication.processEvents()
    assert bar.isVisible() and bar.height() == before
    assert bar.area.verticalScrollBar().maximum() > 0, "the rest is reached by scrolling"
    assert bar.area.focusPolicy() is Qt.FocusPolicy.TabFocus and bar.area.accessibleName().startswith(
        "A long"
    )
    bar.area.setFocus()
    driver.press("Down")
    assert bar.area.verticalScrollBar().value() > 0


def test_an_empty_name_leaves_the_question_open(driver: Driver, log: VisitLog) -> None:
    driver.do("spots.add")
    driver.press("Return")
    assert driver.asked == "New spot"
    driver.press("Esc")
    assert driver.asked == "" and names(log) == ["Bed", "Desk", "Sofa"]


def test_a_renamed_spot_keeps_its_room_in_its_name(driver: Driver, log: VisitLog) -> None:
    route = driver.window.controller.route
    assert route.add_room("Bedroom", [("bed, lying down", ""), ("desk", "")])
    bed = next(spot for spot in log.spots.all() if spot.name == "Bedroom: bed, lying down")
    route.rename(bed, "bed, right side")
    renamed = next(spot for spot in log.spots.all() if spot.id == bed.id)
    assert renamed.name == "Bedroom: bed, right side" and renamed.room == "Bedroom"
    route.rename(renamed, "Study: chair")
    assert next(spot for spot in log.spots.all() if spot.id == bed.id).name == "Study: chair"


def test_rename_begins_with_the_old_name(driver: Driver, log: VisitLog) -> None:
    driver.press("Down")
    driver.do("spots.rename")
    assert driver.window.question.line is not None
    assert driver.window.question.line.text() == "Desk"
    driver.type("Writing desk")  # the old name is selected, so typing replaces it
    driver.press("Return")
    assert names(log) == ["Bed", "Writing desk", "Sofa"]


def test_reorder_keeps_the_chosen_spot_chosen(driver: Driver, log: VisitLog) -> None:
    driver.do("spots.down", "spots.down")
    assert names(log) == ["Desk", "Sofa", "Bed"]
    driver.do("spots.up")
    assert names(log) == ["Desk", "Bed", "Sofa"]
    assert (
        driver.window.controller.route.chosen is not None
        and driver.window.controller.route.chosen.name == "Bed"
    )
    assert driver.window.pages.spots.spots.currentRow() == 1


@pytest.mark.parametrize(("steps", "then"), [(0, "Desk"), (1, "Sofa"), (2, "Desk")])
def test_remove_chooses_a_neighbour(driver: Driver, log: VisitLog, steps: int, then: str) -> None:
    driver.press(*["Down"] * steps, "Del")
    assert driver.asked == "", "nothing is lost: it has no reading, and Undo brings it back"
    assert len(log.spots.all()) == 2
    assert (
        driver.window.controller.route.chosen is not None
        and driver.window.controller.route.chosen.name == then
    )


def test_removing_a_spot_that_was_read_asks(driver: Driver, log: VisitLog) -> None:
    log.readings.enter(log.spots.all()[0].id, "everything on", 0.3, 0.01)
    driver.window.controller.snapshot.refresh(force=True)
    driver.do("spots.remove")
    assert driver.asked == "Remove “Bed” from the list?"
    driver.press("Esc")
    assert len(log.spots.all()) == 3
    driver.do("spots.remove")
    driver.press("Return")
    assert driver.asked and len(log.spots.all()) == 3, "Enter alone removes nothing"
    driver.press("Down", "Return")
    assert names(log) == ["Desk", "Sofa"] and len(log.readings.all()) == 1


def test_undo_goes_back_through_the_changes_of_the_list(driver: Driver, log: VisitLog) -> None:
    before = log.spots.all()
    driver.press("Down")
    driver.do("spots.remove")
    driver.do("spots.rename")
    driver.type("Divan")
    driver.press("Return")
    driver.do("spots.up", "spots.reminder")
    driver.type("lamp on")
    driver.press("Return")
    driver.do("spots.room")
    driver.type("Hall")
    driver.press("Return", "Return")
    assert names(log)[:2] == ["Divan", "Bed"] and len(log.spots.all()) == 6
    assert (
        driver.window.controller.route.chosen is not None
        and driver.window.controller.route.chosen.name == "Hall: centre"
    )
    undone = []
    for _ in range(5):
        driver.do("edit.undo")
        assert driver.asked == ""
        assert not driver.window.controller.message.refused
        undone.append(driver.message)
    assert log.spots.all() == before, undone
    assert driver.window.controller.route.chosen == before[1], "what came back is chosen"
    assert driver.refused("edit.undo") == "There is nothing to undo."
    driver.do("edit.redo")
    assert driver.window.controller.route.chosen == before[2], "as when it was removed"
    assert "another window" not in driver.message


def test_readings_are_voided_and_changes_undone(driver: Driver, log: VisitLog) -> None:
    driver.press("Down")
    driver.do("spots.remove", "measure.condition")
    driver.answer("Everything on, as in the evening")
    driver.do("measure.by_hand")
    driver.type("0.3")
    driver.press("Return", "Esc")
    driver.do("measure.void_last")
    assert driver.asked == "Why is the last reading invalid?"
    driver.answer("wrong spot")
    assert [r.void_reason for r in log.readings.all()] == ["wrong spot"]
    assert driver.refused("measure.void_last"), "nothing is voided twice"
    driver.do("edit.undo")
    assert [r.void_reason for r in log.readings.all()] == [None], "voiding is an edit like the others"
    driver.do("edit.redo")
    assert [r.void_reason for r in log.readings.all()] != [None]
    driver.do("edit.undo", "edit.undo")
    assert [r.void_reason for r in log.readings.all()] == [None]
    assert names(log) == ["Bed", "Desk", "Sofa"]
    assert "“Void the last reading” (Ctrl+Delete)" in driver.refused("edit.undo")


def test_undo_after_a_reading_asks_and_is_never_silent(driver: Driver, log: VisitLog) -> None:
    driver.press("Ctrl+Z")
    assert driver.message == "Can't undo: There is nothing to undo." and driver.asked == ""
    driver.do("spots.remove", "measure.condition")
    driver.answer("Everything on, as in the evening")
    for value in ("0.3", "0.4"):
        driver.do("measure.by_hand")
        driver.type(value)
        driver.press("Return", "Esc")
    assert driver.window.registry["edit.undo"].text() == "&Undo: void the last reading..."
    driver.press("Ctrl+Z")
    assert driver.asked == "Why is the last reading invalid?"
    driver.answer("Cancel")
    assert [r.void_reason for r in log.readings.all()] == [None, None], "kept by that answer"
    driver.press("Ctrl+Z")
    driver.answer("moved")
    assert [r.void_reason for r in log.readings.all()] == [None, "moved or touched something"]
    driver.press("Ctrl+Z")
    assert driver.asked == "" and [r.void_reason for r in log.readings.all()] == [None, None]
    driver.do("measure.by_hand")
    driver.type("0.5")
    driver.press("Return", "Esc")
    driver.press("Ctrl+Z")
    driver.answer("Undo instead: remove “Bed”")
    assert names(log) == ["Bed", "Desk", "Sofa"]
    assert [r.void_reason for r in log.readings.all()] == [None] * 3


def test_a_mark_is_voided_and_put_again_at_its_own_moment(
    driver: Driver, log: VisitLog, clock: ManualClock
) -> None:
    driver.do("measure.mark")
    driver.type("kettle on")
    driver.press("Return")
    assert driver.asked == "Which readings is it about?"
    driver.answer("All from here on")
    (first,) = log.marks.all()
    from_here_on = MarkAbout(AboutKind.AFTER)
    assert log.marks.about() == {first.id: from_here_on}

    def valid() -> list[tuple[str, int]]:
        return [(mark.text, mark.utc_ns) for mark in log.marks.all() if mark.void_reason is None]

    clock.advance_ns(9 * NS_PER_S)
    driver.do("measure.void_last")
    driver.answer("mistyped")
    assert valid() == []
    driver.do("edit.undo")
    assert valid() == [("kettle on", first.utc_ns)]
    assert log.marks.about()[log.marks.all()[-1].id] == from_here_on
    driver.do("edit.redo")
    assert valid() == []
    driver.do("edit.undo", "edit.undo")
    assert valid() == [], "the mark itself is undone as well"
    driver.do("edit.redo")
    assert valid() == [("kettle on", first.utc_ns)]


def test_no_move_is_offered_beyond_the_end_of_the_route(driver: Driver, log: VisitLog) -> None:
    assert (
        driver.refused("spots.up") and driver.window.registry.why_not("spots.up") == "This is the first spot."
    )
    assert driver.refused("edit.undo") and names(log) == ["Bed", "Desk", "Sofa"]


def test_a_spot_whose_name_was_given_away_stays_removed(driver: Driver, log: VisitLog) -> None:
    driver.do("spots.remove")
    log.spots.add("Bed")
    driver.do("edit.undo")
    assert driver.window.controller.message.refused and "already" in driver.message
    assert names(log) == ["Desk", "Sofa", "Bed"]


@pytest.fixture
def empty(open_window: Callable[[], Driver]) -> Driver:
    """No spot yet, the stage Spots in sight."""
    driver = open_window()
    driver.do("stage.spots")
    return driver


def ask_room(driver: Driver, room: str) -> None:
    driver.do("spots.room")
    driver.type(room)
    driver.press("Return")


def test_the_usual_spots_of_a_room(empty: Driver, log: VisitLog) -> None:
    ask_room(empty, "Bedroom")
    empty.press("Return")
    assert names(log) == [f"Bedroom: {place}" for place, _ in USUAL_SPOTS]
    assert [spot.reminder for spot in log.spots.all()] == [reminder for _, reminder in USUAL_SPOTS]
    assert {spot.room for spot in log.spots.all()} == {"Bedroom"}
    ask_room(empty, "Study")
    empty.press("Return")
    assert len(log.spots.all()) == 2 * len(USUAL_SPOTS)
    assert empty.window.controller.route.chosen is not None
    assert empty.window.controller.route.chosen.name == "Study: centre"


def test_boxes_leave_a_spot_out_and_take_it_in_again(empty: Driver, log: VisitLog) -> None:
    ask_room(empty, "Study")
    empty.tick("bed", False)
    empty.tick("seat", False)
    empty.tick("seat", True)
    assert [box.text() for box in empty.window.question.boxes] == [
        "centre", "seat (as in the evening)", "desk (screen on)", "bed, lying down (as at night)",
    ]  # fmt: skip
    empty.press("Return")
    assert names(log) == ["Study: centre", "Study: seat", "Study: desk"]


def test_a_spot_of_its_own_goes_to_its_room(empty: Driver, log: VisitLog) -> None:
    ask_room(empty, "Study")
    for place in ("centre", "seat", "bed"):
        empty.tick(place, False)
    empty.press("Return")
    empty.do("spots.add")
    empty.type("Study: window seat")
    empty.press("Return")
    assert names(log) == ["Study: desk", "Study: window seat"]
    assert {spot.room for spot in log.spots.all()} == {"Study"}


def test_spots_that_a_room_has_are_not_added_twice(empty: Driver, log: VisitLog) -> None:
    ask_room(empty, "Study")
    empty.tick("centre", False)
    empty.press("Return")
    ask_room(empty, "study")
    empty.press("Return")
    assert names(log)[3:] == ["study: centre"]


def test_no_spot_of_a_room(empty: Driver, log: VisitLog) -> None:
    ask_room(empty, "Study")
    for place in ("centre", "seat", "desk", "bed"):
        empty.tick(place, False)
    empty.press("Return")
    assert log.spots.all() == [] and empty.window.controller.message.refused


def test_twice_the_same_spot_is_refused_beside_the_field(empty: Driver, log: VisitLog) -> None:
    log.spots.add("Desk")
    empty.window.refresh()
    empty.do("spots.add")
    empty.type("Desk")
    empty.press("Return")
    question = empty.window.question
    assert question.line is not None and question.line.text() == "Desk", "what was typed is kept"
    assert question.why.isVisible() and "Nothing was changed" in question.why.text()
    assert names(log) == ["Desk"]


def test_a_name_with_a_rooms_goes_to_that_room(empty: Driver, log: VisitLog) -> None:
    ask_room(empty, "Study")
    empty.press("Return")
    empty.do("spots.add")
    empty.type("Study: window seat")
    empty.press("Return")
    empty.do("spots.add")
    empty.type("Attic: chair")
    empty.press("Return")
    assert [spot.room for spot in log.spots.all()[-2:]] == ["Study", ""]


def shown(driver: Driver) -> list[str]:
    """The list as it stands: headings in brackets."""
    spots = driver.window.pages.spots.spots
    return [f"[{row.text}]" if isinstance(row, ListHeading) else row.head for row in spots.row_model.items]


def test_spots_stand_below_their_room(driver: Driver, log: VisitLog) -> None:
    log.spots.add("Bedroom: bed, lying down", "Bedroom")
    log.spots.add("Bedside chair", "Bedroom")
    log.spots.add("Study: desk", "Study")
    log.spots.add("Porch")
    driver.window.controller.snapshot.refresh(force=True)
    driver.window.redraw()
    assert shown(driver) == [
        "1  Bed", "2  Desk", "3  Sofa", "[Bedroom]", "4  bed, lying down", "5  Bedside chair",
        "[Study]", "6  desk", "[Without a room]", "7  Porch",
    ]  # fmt: skip


def test_a_new_spot_and_a_renamed_one_go_to_their_room(driver: Driver, log: VisitLog) -> None:
    route = driver.window.controller.route
    assert route.add_room("Bedroom", [("desk", "")])
    driver.do("spots.add")
    assert driver.asked == "New spot in “Bedroom”"
    driver.type("Bed right")
    driver.press("Return")
    sofa = next(spot for spot in log.spots.all() if spot.name == "Sofa")
    route.rename(sofa, "Bedroom: seat")
    assert [(spot.name, spot.room) for spot in log.spots.all()[2:]] == [
        ("Bedroom: seat", "Bedroom"), ("Bedroom: desk", "Bedroom"), ("Bedroom: Bed right", "Bedroom"),
    ]  # fmt: skip
    assert driver.window.controller.message.text == "“Sofa” is named “Bedroom: seat” now"
    seat = next(spot for spot in log.spots.all() if spot.id == sofa.id)
    route.rename(seat, "Study: chair")
    assert [(spot.name, spot.room) for spot in log.spots.all()][2] == ("Study: chair", "Study")
    assert driver.window.controller.message.text.endswith("; it is of the room “Study” now")
    driver.do("edit.undo")
    assert [(spot.name, spot.room) for spot in log.spots.all()][2] == ("Bedroom: seat", "Bedroom")
    route.chosen_id = sofa.id
    driver.do("measure.by_hand")
    driver.answer("Everything on, as in the evening")
    driver.type("0.5")
    driver.press("Return", "Esc")
    short = driver.window.pages.spots.entries.rows[0].short
    assert short is not None and short[0] == "on · seat", "no other room has a seat"
    bed = log.spots.all()[0]
    log.readings.enter(bed.id, EVERYTHING_ON, 0.3, 0.01)
    driver.window.controller.refresh(force=True)
    route.rename(bed, "Bunk")
    driver.window.controller.refresh(force=True)
    assert driver.window.controller.message.text == "“Bed” is named “Bunk” now, and its readings with it"
    assert driver.window.controller.snapshot.readings[-1].spot_name == "Bunk"
    driver.do("edit.undo")
    driver.do("edit.undo")
    assert log.spots.all()[2] == sofa


def test_keys_and_clicks_pass_over_headings(empty: Driver, log: VisitLog) -> None:
    for room in ("Bedroom", "Study"):
        ask_room(empty, room)
        empty.tick("desk", False)
        empty.tick("bed", False)
        empty.press("Return")
    empty.press(*["Up"] * 9)
    order = []
    for _ in range(4):
        assert empty.window.controller.route.chosen is not None
        order.append(empty.window.controller.route.chosen.name)
        assert empty.window.pages.spots.spots.currentRow() >= 0
        empty.press("Down")
    assert order == names(log)
    spots = empty.window.pages.spots.spots
    spots.setCurrentRow(4)
    assert empty.window.controller.route.chosen is not None
    assert empty.window.controller.route.chosen.name == "Study: centre"
    QTest.mouseClick(
        spots.viewport(), Qt.MouseButton.LeftButton, pos=spots.visualRect(spots.model().index(0, 0)).center()
    )  # the heading of a room
    assert empty.window.controller.route.chosen.name == "Study: centre"
    assert spots.currentRow() == 4


@pytest.mark.parametrize("size", [(960, 540), (1280, 720), (1920, 1080)])
def test_nothing_is_cut_at_any_size(
    log: VisitLog,
    record: Callable[[], DemoRecorder],
    open_window: Callable[[], Driver],
    size: tuple[int, int],
) -> None:
    """The widest that usual names give: every text of every row stands whole in its width and height."""
    log.setup.set(Setup(reference="building earth", on_battery=False, link_isolated=False))
    spot = log.spots.add("Children's bedroom: bed, lying down", "Children's bedroom", "as at night")
    log.spots.add("Living room: seat by the window, reading, feet up", "Living room", "as in the evening")
    recorder = record()
    recorder.still(0.11, 20)
    log.readings.take(spot.id, EVERYTHING_ON)
    recorder.move(0.11, 2.0, 6)
    recorder.still(0.11, 3.5)
    log.readings.take(spot.id, EVERYTHING_OFF, override=True)
    driver = open_window()
    driver.window.resize(*size)
    driver.do("stage.spots")
    QApplication.processEvents()
    page, sizes = driver.window.pages.spots, driver.window.appearance.sizes
    assert page.spots.rows[0].value == "on 0.11, off 0.11 V"
    assert (len(page.spots.rows), len(page.entries.rows)) == (2, 2)
    for rows in (page.spots, page.entries):
        for place, row in enumerate(rows.row_model.items):
            if isinstance(row, ListHeading):
                continue
            box = rows.visualRect(rows.model().index(place, 0))
            is_short = rows._painter.is_short and row.short is not None
            blocks = text_blocks(row, rows.viewport().width() - 1.2 * sizes.small, sizes, is_short)
            assert sum(block.height for block in blocks) <= box.height()
            words = " ".join(" ".join([*block.left, block.right]) for block in blocks).split()
            tip_only = row.tip if is_short else ""
            whole = " ".join((row.head, row.value, row.small, row.small_right, row.note, tip_only)).split()
            if is_short:
                tip = rows.model().index(place, 0).data(Qt.ItemDataRole.ToolTipRole)
                assert sorted(tip.replace(", ", " ").split()) == sorted(
                    " ".join(whole).replace(", ", " ").split()
                )
            else:
                assert sorted(words) == sorted(whole)
            for block in blocks:
                metrics = QFontMetricsF(block.face)
                beside = metrics.horizontalAdvance(block.right)
                widths = [metrics.horizontalAdvance(line) for line in block.left]
                assert max(widths) + beside <= box.width()


@pytest.mark.parametrize("size", [(1024, 560), (1366, 700)])
def test_lines_that_a_reading_brings_are_whole_and_move_no_button(
    driver: Driver, log: VisitLog, record: Callable[[], DemoRecorder], size: tuple[int, int]
) -> None:
    log.setup.set(Setup(reference="building earth", on_battery=False, link_isolated=False))
    for number in range(6):
        log.spots.add(f"Living room: seat {number + 1} by the window, reading, feet up", "Living room")
    record().still(0.31, 20)
    driver.window.resize(*size)
    driver.window.refresh()
    QApplication.processEvents()
    page = driver.window.pages.spots
    driver.window.controller.route.chosen_id = log.spots.all()[-1].id

    def places() -> list[QPoint]:
        shown = (*page._buttons.buttons.values(), page._buttons.more)
        return [button.mapTo(driver.window, QPoint(0, 0)) for button in shown if button is not None]

    before = places()
    for condition, volts in ((EVERYTHING_ON, 1.21), (EVERYTHING_OFF, 0.31)):
        log.readings.enter(log.spots.all()[-1].id, condition, volts, 0.01)
        driver.window.controller.refresh(force=True)
        driver.window.redraw()
        QApplication.processEvents()
        assert page.meaning.part.isVisible() and page.meaning.whole
        assert places() == before
        for part in (page.meaning.part, page.remarks):
            assert part.isHidden() or part.height() >= part.heightForWidth(part.width())


def test_five_readings_are_in_sight_beside_the_practice_house_on_a_small_laptop(
    driver: Driver, log: VisitLog, record: Callable[[], DemoRecorder]
) -> None:
    record().still(0.31, 20)
    for spot in log.spots.all():
        for condition, volts in ((EVERYTHING_ON, 1.21), (EVERYTHING_OFF, 0.31)):
            log.readings.enter(spot.id, condition, volts, 0.01)
    driver.window.resize(1366, 740)
    driver.window.dock.open()
    driver.window.controller.refresh(force=True)
    driver.window.redraw()
    QApplication.processEvents()
    entries, area = driver.window.pages.spots.entries, driver.window.pages.spots.parentWidget()
    assert area is not None
    in_sight = [
        place
        for place in range(entries.count())
        if entries._is_whole(place)
        and area.rect().contains(
            entries.viewport().mapTo(area, entries.visualRect(entries.row_model.index(place)).bottomLeft())
        )
    ]
    assert len(in_sight) >= 5


@pytest.mark.parametrize("size", [(1280, 720), (1920, 1080)])
def test_band_and_bottom_line_keep_whole_names(
    log: VisitLog,
    record: Callable[[], DemoRecorder],
    open_window: Callable[[], Driver],
    size: tuple[int, int],
) -> None:
    names = [
        "Children's bedroom: bed, lying down",
        "Living room: seat by the window, reading, feet up",
        "Study: desk",
    ]
    for name in names:
        log.spots.add(name, name.partition(":")[0], "as in the evening")
    log.facts.set("condition", "circuits 3 and 5 and the bedside lamp on")
    record().still(0.11, 20)
    driver = open_window()
    driver.window.resize(*size)
    driver.do("stage.spots")
    for name in names:
        for part in (driver.window.readout, driver.window.action_bar):
            words = " ".join(text.text for text in drawn_texts(part)).split()
            assert not [word for word in words if word.endswith("…")]
            assert set(name.split()) <= {word.strip("“”") for word in words}
        driver.press("Down")


def test_a_reminder_of_what_has_to_be_on(driver: Driver, log: VisitLog) -> None:
    driver.do("spots.reminder")
    driver.type("screen on")
    driver.press("Return")
    assert log.spots.all()[0].reminder == "screen on"
    assert driver.window.pages.spots.spots.rows[0].small_right == "screen on"


def test_a_spot_added_in_a_second_window_appears(driver: Driver, log: VisitLog) -> None:
    other = VisitLog.open(log.path)
    other.spots.add("Hall")
    other.close()
    driver.window.controller.snapshot._slow_read_ns -= 10**9  # half a second later
    driver.window.refresh()
    assert [row.head.split("  ")[1] for row in driver.window.pages.spots.spots.rows][-1] == "Hall"


def test_last_reading_of_each_spot_and_how_far_it_is(
    log: VisitLog, record: Callable[[], DemoRecorder], open_window: Callable[[], Driver]
) -> None:
    bed, desk = log.spots.add("Bed"), log.spots.add("Desk")
    recorder = record()
    recorder.still(0.27, 20)
    log.readings.take(bed.id, "everything on")
    driver = open_window()
    rows = driver.window.pages.spots.spots.rows
    assert (rows[0].value, rows[0].small) == ("on 0.27 V", "too close to the target of 0.1 V to tell")
    assert rows[1].small == "not read yet"
    recorder.move(0.27, 2.0, 6)
    recorder.still(0.27, 20)
    log.readings.take(desk.id, "everything on")
    assert driver.window.controller.route.chosen_id == bed.id, "reopened at the spot of the last reading"


def test_what_has_to_be_said_stands_with_every_reading(
    log: VisitLog,
    record: Callable[[], DemoRecorder],
    open_window: Callable[[], Driver],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """In few words with each one, in full for the chosen spot."""
    bed, desk = log.spots.add("Bed"), log.spots.add("Desk")
    recorder = record()
    recorder.still(0.3, 20)
    log.setup.set(Setup(reference="building earth", on_battery=False, link_isolated=False))
    log.readings.take(bed.id, EVERYTHING_ON)
    log.setup.set(Setup(reference="earth rod", on_battery=True, link_isolated=True))
    log.checks.skip(CheckKind.ZERO, "no time")
    recorder.move(0.3, 2.0, 6)
    recorder.still(0.3, 20)
    log.readings.take(desk.id, EVERYTHING_ON)
    driver = open_window()
    driver.do("stage.spots")
    page = driver.window.pages.spots
    assert [row.note for row in page.entries.rows] == [
        "no check passed",
        "building earth as reference; laptop on its charger; link not isolated; no check passed",
    ]
    assert page.remarks.text() == "Read with: zero check skipped; reference check, function check not done."
    doubt = "The detector later found motion within it."
    monkeypatch.setattr(
        driver.window.controller.readings, "doubt", lambda reading: doubt if reading.spot_id == bed.id else ""
    )
    driver.press("Up")
    assert {row.head: doubt in row.note for row in page.entries.rows} == {"Bed": True, "Desk": False}
    assert page.remarks.text().startswith(doubt)


@pytest.mark.parametrize("size", [(1280, 720), (1920, 1080)])
def test_the_rail_has_room_for_many_spots(
    log: VisitLog, open_window: Callable[[], Driver], size: tuple[int, int]
) -> None:
    for number in range(24):
        spot = log.spots.add(f"Spot {number + 1}")
        for condition in (EVERYTHING_ON, EVERYTHING_OFF):
            log.readings.enter(spot.id, condition, 0.3, 0.01)
    driver = open_window()
    driver.window.resize(*size)
    drawn = drawn_texts(driver.window.stage_list)
    assert "24 on, 24 off of 24" in [text.text for text in drawn]
    assert max(text.beyond for text in drawn) <= 0


def test_the_chosen_spot_and_the_next_are_in_sight(empty: Driver, log: VisitLog) -> None:
    for room in ("Bedroom", "Study", "Living room"):
        ask_room(empty, room)
        empty.press("Return")
    spots = empty.window.pages.spots.spots
    QApplication.processEvents()
    for index in range(len(log.spots.all())):
        empty.window.controller.route.choose_along(-len(log.spots.all()))
        empty.window.controller.route.choose_along(index)
        empty.window.redraw()
        QApplication.processEvents()
        in_sight = spots.viewport().rect()
        assert in_sight.contains(spots.visualRect(spots.model().index(spots.currentRow(), 0)))
        following = spots.model().index(min(spots.currentRow() + 1, spots.count() - 1), 0)
        assert in_sight.contains(spots.visualRect(following))
    last = spots.visualRect(spots.model().index(spots.count() - 1, 0))
    assert spots.viewport().height() - last.bottom() < last.height() / 2, "no blank room below the last one"


def test_a_right_click_beside_the_rows_offers_what_is_about_none_of_them(driver: Driver) -> None:
    rows = driver.window.pages.spots.spots
    below = QPoint(20, rows.viewport().height() - 3)
    assert not rows.indexAt(below).isValid()
    rows.customContextMenuRequested.emit(below)
    (menu,) = rows.findChildren(QMenu)
    assert [action.text() for action in menu.actions() if action.text()][:2] == [
        "&Add spot...",
        "Add a roo&m...",
    ]
    menu.close()


def test_a_reminder_that_came_with_the_usual_name_goes_with_it(
    open_window: Callable[[], Driver], log: VisitLog
) -> None:
    controller = open_window().window.controller
    route = controller.route
    desk = log.spots.add("Bedroom: desk", "Bedroom", "screen on")
    own = log.spots.add("Bedroom: seat", "Bedroom", "radio on")
    route.rename(desk, "Bedroom: bed, right")
    route.rename(own, "Bedroom: armchair")
    assert {spot.name: spot.reminder for spot in log.spots.all()} == {
        "Bedroom: bed, right": "",
        "Bedroom: armchair": "radio on",
    }
    controller.history.undo()
    controller.history.undo()
    assert [spot.reminder for spot in log.spots.all()] == ["screen on", "radio on"]
