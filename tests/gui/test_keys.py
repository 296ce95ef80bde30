"""One table of keys: complete, without double meaning, and the same for `?`."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel

from gui.model.stages import STAGES
from gui.widgets.keys import GROUPS, KEYS
from tests.support.window_driver import Driver


def test_no_key_means_two_things() -> None:
    assert [name for name, count in Counter(n for key in KEYS for n in key.names).items() if count > 1] == []


def test_every_key_does_something(open_window: Callable[[], Driver]) -> None:
    assert {key.action for key in KEYS} == set(open_window().window.keys.actions)


def test_the_question_mark_shows_every_key_and_goes_back(open_window: Callable[[], Driver]) -> None:
    driver = open_window()
    before = driver.window.page
    driver.do("help.actions")
    shown = {label.text() for label in driver.window.pages.shortcuts.findChildren(QLabel)}
    assert {key.shown for key in KEYS} | {key.does for key in KEYS} | set(GROUPS) <= shown
    driver.press("Down", "PgDown", "Up")
    assert driver.window.page is driver.window.pages.shortcuts
    driver.press("Esc")
    assert driver.window.page is before
    driver.do("help.actions", "help.actions")
    assert driver.window.page is before


def test_what_has_a_key_can_be_clicked(open_window: Callable[[], Driver]) -> None:
    driver = open_window()
    window = driver.window
    window.grab()  # places are known once drawn
    places = {key: box.center().toPoint() for box, key in window.action_bar._key_boxes}
    assert set(places) == {"Space", "M", "U", "?"}
    QTest.mouseClick(window.action_bar, Qt.MouseButton.LeftButton, pos=places["M"])
    assert driver.asked == "Mark"
    answer = next(widget for widget, key in window.question._key_widgets if key == "Esc")
    QTest.mouseClick(
        window.question, Qt.MouseButton.LeftButton, pos=answer.mapTo(window.question, answer.rect().center())
    )
    assert driver.asked == ""
    QTest.mouseClick(
        window.stage_list, Qt.MouseButton.LeftButton, pos=window.stage_list._rows[3].center().toPoint()
    )
    assert window.page is window.pages.spots
    window.grab()
    hints = window.pages.spots._hints
    QTest.mouseClick(hints, Qt.MouseButton.LeftButton, pos=hints._key_boxes[0][0].center().toPoint())
    assert driver.asked == "New spot"


def test_stages_by_number(open_window: Callable[[], Driver]) -> None:
    driver = open_window()
    pages = driver.window.pages
    assert [stage.number for stage in STAGES] == list(range(1, 8))
    for stage, page in zip(STAGES, pages.of_stages(), strict=True):
        driver.press(str(stage.number))
        assert pages.shows(stage) and driver.window.page is page
    driver.press("9")
    assert driver.window.page is pages.report, "there is no such stage"


def test_a_question_lies_over_the_sheet_and_never_over_value_or_trace(
    open_window: Callable[[], Driver],
) -> None:
    driver = open_window()
    driver.do("measure.mark")
    window = driver.window
    panel = window.question.rect().translated(window.question.mapTo(window, window.question.rect().topLeft()))
    for part in (window.readout, window.trace, window.stage_list, window.action_bar):
        assert not panel.intersects(part.rect().translated(part.mapTo(window, part.rect().topLeft())))


def test_a_question_shows_its_text_whole(open_window: Callable[[], Driver]) -> None:
    driver = open_window()
    driver.do("measure.condition")
    labels = driver.window.question.findChildren(QLabel)
    assert {"What is on now?", "Everything off"} <= {label.text() for label in labels}
    for label in labels:
        assert label.height() >= label.heightForWidth(label.width())
