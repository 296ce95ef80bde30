"""Copying says what it copied; with nothing chosen it copies the value shown, and a right click on that offers it."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QMenu

from gui.dev.demo import DemoRecorder
from gui.model.status import status, status_value_text
from logger.translation import in_language
from logger.visit import VisitLog
from tests.support.drawn_text import drawn_texts
from tests.support.window_driver import Driver


@pytest.fixture
def driver(log: VisitLog, record: Callable[[], DemoRecorder], open_window: Callable[[], Driver]) -> Driver:
    """One spot, lying still at 0.27 V."""
    log.spots.add("Bed")
    record().still(0.27, 20)
    driver = open_window()
    driver.window.setFocus()
    return driver


def copied() -> str:
    return QGuiApplication.clipboard().text()


def test_with_nothing_chosen_the_value_shown_is_copied(driver: Driver) -> None:
    shown = driver.window.readout.accessible_text()
    driver.do("edit.copy")
    assert copied().startswith("0.27 ± ") and " V" in copied()
    assert copied().split()[0] in shown
    assert driver.message == f"Copied: {copied()}"
    driver.do("edit.copy")
    assert driver.message == f"Copied: {copied()}", "what a message says is not copied again"
    with in_language("de"):
        driver.window.readout.refresh()
        drawn = " ".join(text.text for text in drawn_texts(driver.window.readout))
        assert "0,27" in drawn and "0.27" not in drawn
        assert "0,27" in driver.window.readout.accessible_text()


def test_the_chosen_row_is_copied(driver: Driver) -> None:
    driver.do("stage.spots")
    driver.press("Ctrl+C")
    assert "Bed" in copied() and driver.message == f"Copied: {copied()}"


def test_what_is_no_value_yet_is_copied_with_its_state(
    log: VisitLog, driver: Driver, monkeypatch: pytest.MonkeyPatch
) -> None:
    del log
    settled = status(driver.window.controller.snapshot)
    assert "±" in status_value_text(settled)
    moving = type(settled)(settled.state, "CHANGING", "changing", "", 0.31, None)
    assert status_value_text(moving).endswith(" V (CHANGING)")
    simulated = type(settled)(settled.state, settled.word, settled.spoken, "", 0.27, 0.01, simulated=True)
    assert status_value_text(simulated).endswith("simulated")
    monkeypatch.setattr("gui.window.copy_actions.status_value_text", lambda _: "")
    assert driver.refused("edit.copy_value") == "No value is shown."


def test_a_right_click_on_the_value_offers_to_copy_it(driver: Driver) -> None:
    readout = driver.window.readout
    readout.customContextMenuRequested.emit(QPoint(300, 40))
    (menu,) = readout.findChildren(QMenu)
    menu.actions()[0].trigger()
    assert copied().startswith("0.27 ± ")
    menu.close()


def test_a_click_on_the_value_lets_it_be_copied_next(driver: Driver) -> None:
    driver.do("stage.spots")
    assert driver.window.pages.spots.spots.hasFocus(), "whose row would be copied"
    readout = driver.window.readout
    _, value, _ = readout._areas()
    QTest.mouseClick(readout, Qt.MouseButton.LeftButton, pos=value.center().toPoint())
    driver.press("Ctrl+C")
    assert copied() == status_value_text(status(driver.window.controller.snapshot)) != ""


def test_the_trace_shows_that_it_has_the_keyboard(driver: Driver) -> None:
    trace = driver.window.trace
    assert not trace.focus_ring.isVisible()
    trace.setFocus()
    assert trace.focus_ring.isVisible() and trace.focus_ring.size() == trace.size()
    driver.window.setFocus()
    assert not trace.focus_ring.isVisible()
