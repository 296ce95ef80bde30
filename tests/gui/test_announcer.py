"""What a screen reader is told by itself, and how value and switches are found by it."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from PySide6.QtGui import QAccessible
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from gui.dev.demo import DemoRecorder
from gui.model.stages import SPOTS
from gui.model.status import status
from gui.model.visit_access import Message
from gui.shell.announcer import MIN_GAP_S, Announcer, Kind
from gui.widgets.appearance import LIGHT, Appearance, style_sheet
from gui.widgets.bar_chart import BarChart
from gui.widgets.bar_painter import Bar
from gui.widgets.spoken_rows import SpokenRows
from gui.widgets.theme import Sizes
from logger.clock import NS_PER_S, ManualClock
from logger.settling.events import State
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_ON
from tests.support.window_driver import Driver


def test_outcomes_and_states_are_announced_and_nothing_every_second(
    announced: list[str],
    record: Callable[[], DemoRecorder],
    log: VisitLog,
    open_window: Callable[[], Driver],
) -> None:
    log.spots.add("Bed")
    log.facts.set("condition", EVERYTHING_ON)
    demo = record()
    demo.move(0.4, 2.0, 4)
    driver = open_window()
    driver.window.refresh()
    announced.clear()
    names = set()
    for _ in range(20):
        demo.still(0.40, 1)
        driver.window.refresh()
        names.add(driver.window.readout.accessible_text())
    assert len(announced) == 1 and announced[0].startswith("settled: 0.40 ± ")
    assert len(names) <= 4, names
    driver.do("stage.spots")
    driver.press("Space")
    driver.window.refresh()
    assert announced[-1] == driver.message and "0.40" in driver.message
    demo.silence(1)
    demo.pull_cable(3)
    driver.window.refresh()
    assert announced[-1].startswith("Is everything off now? "), "the question after what was done"
    demo.pull_cable(3)
    driver.window.refresh()
    assert announced[-1].startswith("port lost: put the cable back")


def test_the_chosen_spot_and_what_is_on_are_buttons_and_a_change_is_announced_on_every_page(
    announced: list[str],
    record: Callable[[], DemoRecorder],
    log: VisitLog,
    open_window: Callable[[], Driver],
) -> None:
    for name in ("Bed", "Desk"):
        log.spots.add(name)
    log.facts.set("condition", EVERYTHING_ON)
    demo = record()
    demo.still(0.40, 30)
    driver = open_window()
    readout = driver.window.readout
    buttons = [
        QAccessible.queryAccessibleInterface(part) for part in (readout.spot_button, readout.condition_button)
    ]
    assert {button.role() for button in buttons} == {QAccessible.Role.Button}
    assert [button.text(QAccessible.Text.Name) for button in buttons] == [
        "Spot: Bed",
        "What is on: everything on",
    ]
    driver.do("stage.sources")
    for _ in range(5):
        demo.still(0.40, 2)
        driver.window.refresh()
    assert announced[-1] == "Space here: Go on to the breakers", "a page that was gone to is no failed action"
    announced.clear()
    driver.do("spots.next")
    driver.window.refresh()
    assert announced == ["Spot: Desk"] and buttons[0].text(QAccessible.Text.Name) == "Spot: Desk"
    driver.press("F3")
    assert driver.message.startswith("Spot: Desk. What is on: everything on. ")
    readout.spot_button.setFocus()
    driver.press("Return")
    assert driver.asked == "At which spot is the person now?"


def test_what_comes_too_soon_waits_and_progress_is_left_out(
    announced: list[str], clock: ManualClock, open_window: Callable[[], Driver]
) -> None:
    announcer = Announcer(open_window().window, clock)
    announced.clear()
    for text in ("one", "two", "two", "three"):
        announcer.announce(text)
    states = ["Settled: 0.40 V."]
    announcer.announce_state(lambda: states[-1])
    states.append("Port lost.")
    announcer.follow(Message("half way", is_progress=True))
    announcer.follow(Message("Taken.", beside="Next: the lamp."))
    assert announced == ["one"]
    for _ in range(6):
        clock.advance_ns(round(MIN_GAP_S * NS_PER_S))
        announcer.poll()
        announcer.poll()
    assert announced == ["one", "two", "three", "Taken. Next: the lamp.", "Port lost."]
    announcer.announce("four")
    announcer.announce_state(lambda: "Settled: 0.40 V.")
    announcer.announce_state(lambda: "")
    clock.advance_ns(round(MIN_GAP_S * NS_PER_S))
    announcer.poll()
    assert announced[-1] == "four", "it is not settled any more"


def test_of_a_kind_the_newest_alone_is_announced_and_no_question_that_was_answered(
    announced: list[str], clock: ManualClock, open_window: Callable[[], Driver]
) -> None:
    announcer = Announcer(open_window().window, clock)
    announced.clear()
    button, is_open = ["take 0.40 V"], [True]
    announcer.announce("Taken.")
    announcer.announce_newest(Kind.SPOT, lambda: "Spot: Bed")
    announcer.announce("Is everything off now?", lambda: is_open[-1])
    announcer.announce_newest(Kind.BUTTON, lambda: button[-1])
    announcer.announce_newest(Kind.SPOT, lambda: "Spot: Desk")
    announcer.announce("Voided.")
    button.append("take 0.24 V")
    is_open.append(False)
    for _ in range(6):
        clock.advance_ns(round(MIN_GAP_S * NS_PER_S))
        announcer.poll()
    assert announced == ["Taken.", "take 0.24 V", "Spot: Desk", "Voided."]


@pytest.mark.parametrize("moves_again", [False, True])
def test_a_state_that_waits_is_announced_with_the_value_of_then_and_not_once_it_is_over(
    moves_again: bool,
    announced: list[str],
    record: Callable[[], DemoRecorder],
    open_window: Callable[[], Driver],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    demo = record()
    demo.still(0.40, 30)
    demo.move(0.4, 2.0, 4)
    window = open_window().window
    window.refresh()
    demo.still(0.40, 60)
    announced.clear()
    monkeypatch.setattr("gui.shell.announcer.MIN_GAP_S", 100.0)
    window.controller.message = Message("Before.")
    window.refresh()
    demo.move(0.24, 2.0, 4)
    window.refresh()
    demo.still(0.24, 20)
    window.refresh()
    assert status(window.controller.snapshot).state is State.SETTLED and announced == ["Before."]
    if moves_again:
        demo.move(0.24, 2.0, 90)
    else:
        demo.still(0.21, 90)
    window.refresh()
    assert announced == (["Before."] if moves_again else ["Before.", "settled: 0.21 ± 0.50 V."])


def test_the_description_of_a_stage_is_renewed_with_its_progress(
    log: VisitLog, open_window: Callable[[], Driver]
) -> None:
    driver = open_window()
    button = QAccessible.queryAccessibleInterface(driver.window.stage_list.buttons[SPOTS])
    for name in ("Bed", "Desk"):
        log.spots.add(name)
        driver.window.controller.refresh(force=True)
        driver.window.redraw()
        progress = SPOTS.progress(driver.window.controller)
        assert progress in button.text(QAccessible.Text.Description)
        assert progress in driver.window.stage_list.buttons[SPOTS].accessibleDescription()


def test_the_value_is_a_text_with_its_uncertainty(
    record: Callable[[], DemoRecorder], open_window: Callable[[], Driver]
) -> None:
    record().still(0.40, 30)
    window = open_window().window
    found = QAccessible.queryAccessibleInterface(window.readout).child(0)
    assert found.role() is QAccessible.Role.StaticText and found.state().focusable
    name = found.text(QAccessible.Text.Name)
    assert name == "SETTLED, 0.40 volts, plus or minus 0.50 volts", "and not for how many seconds"


def test_the_rows_of_a_chart_are_a_list_which_covers_nothing(qtbot: QtBot) -> None:
    appearance = Appearance(LIGHT, Sizes.for_height(768))
    around, chart = QWidget(), BarChart(appearance, "Breakers")
    qtbot.addWidget(around)
    around.setStyleSheet(style_sheet(LIGHT, appearance.sizes))
    chart.setParent(around)
    around.resize(400, 400)
    chart.setGeometry(0, 0, 400, 400)
    chart.show_bars((Bar("Bedroom", "0.93 V", 0.93, note="suspect"), Bar("Study", "not read yet")), 1, 0.1)
    around.show()
    rows = QAccessible.queryAccessibleInterface(chart).child(0)
    assert rows.role() is QAccessible.Role.List and rows.text(QAccessible.Text.Name) == "Breakers"
    found = [rows.child(at) for at in range(rows.childCount())]
    assert [one.text(QAccessible.Text.Name) for one in found] == [
        "Bedroom, 0.93 V, suspect",
        "Study, not read yet",
    ]
    assert [bool(one.state().selected) for one in found] == [False, True]
    drawn = around.grab().toImage()
    chart.findChild(SpokenRows).hide()
    assert around.grab().toImage() == drawn


def test_what_could_be_done_on_a_page_is_said_as_it_is_then_and_no_more_once_somebody_acts(
    announced: list[str], clock: ManualClock, open_window: Callable[[], Driver]
) -> None:
    announcer = Announcer(open_window().window, clock)
    announced.clear()
    offers = ["Space here: one."]
    announcer.announce("Before.")
    announcer.announce_page(lambda: offers[-1])
    offers.append("Space here: two.")
    clock.advance_ns(round(MIN_GAP_S * NS_PER_S))
    announcer.poll()
    announcer.announce_page(lambda: offers[-1])
    announcer.drop_page()
    clock.advance_ns(round(MIN_GAP_S * NS_PER_S))
    announcer.poll()
    assert announced == ["Before.", "Space here: two."]
