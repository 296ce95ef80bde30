"""The practice house in the window: switched by mouse and keyboard, followed whoever switches, a night in a minute."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QPoint, QRect, Qt
from PySide6.QtGui import QAccessible
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QCheckBox, QMenu, QWidget
from pytestqt.qtbot import QtBot

from gui.model.practice_controller import PracticeController, _record_night
from gui.model.report_jobs import search_folder
from gui.model.stages import SPOTS
from gui.model.status import status
from gui.model.visit_controller import VisitController
from gui.model.visit_snapshot import VisitSnapshot
from gui.model.worker_process import Work, WorkerProcess
from gui.practice.practice_dock import LEAST_TRACE_LETTERS
from gui.practice.practice_panel import KEYS_TEXT, PracticePanel
from gui.practice.switch_board import SwitchBoard, tip_of
from gui.settings.preferences import HOUSE_PLACE, TEXT_PERCENT
from gui.shell.question import Choice, Question
from gui.window import Window
from gui.window.other_visit_actions import VisitRequest
from gui.window.unfinished_dialog import UnfinishedDialog
from gui.window.unfinished_dialog import Work as Unfinished
from logger.catalogue import languages
from logger.clock import ManualClock
from logger.metrology.checks import CheckKind
from logger.night.night_analysis import NEWEST
from logger.night.night_entries import NightEntry
from logger.night.night_spots import NightSpot, keep_night_spot
from logger.settling.events import Step
from logger.simulation.house.control import send_command
from logger.simulation.practice_night import record_night
from logger.simulation.practice_switches import GroupKind, PracticeHouse, Switch, find_switch, url_of
from logger.sweep.labelled_steps import DetectedStep
from logger.translation import in_language
from logger.visit import VisitLog
from logger.visit.records.simulated_run import lies_at
from logger.visit.results.body_moves import SpotChoice
from tests.support.drawn_text import drawn_texts
from tests.support.window_driver import Charger, Driver, FakeStart, Heard

CONTROL = "rooms & cords.control"

WORKER_TIMEOUT_S = 300.0
"""A worker process that hangs fails its test after this; none comes near it."""


class SteppedJob:
    """Long work that is done piece by piece, by the test."""

    def __init__(self, work: Work) -> None:
        self.progress, self.done, self.refusal = "", False, ""
        self.result: object = None
        self.cancelled = self.killed = False

    def poll(self) -> bool:
        return True

    def cancel(self) -> None:
        self.cancelled = True

    def kill(self) -> None:
        self.killed = True


@pytest.fixture
def control(tmp_path: Path) -> Path:
    path = tmp_path / CONTROL
    path.touch()
    return path


@pytest.fixture
def nights() -> list[SteppedJob]:
    """The nights that were begun."""
    return []


@pytest.fixture
def open_practice(
    log: VisitLog,
    clock: ManualClock,
    start: FakeStart,
    heard: Heard,
    charger: Charger,
    control: Path,
    nights: list[SteppedJob],
    show_window: Callable[[Window], Driver],
) -> Callable[..., Driver]:
    """Opens windows whose chosen port is the practice house, or another."""

    def begin(work: Work) -> SteppedJob:
        nights.append(SteppedJob(work))
        return nights[-1]

    def make(port: str | None = None) -> Driver:
        controller = VisitController(log, clock, start, charger)  # type: ignore[arg-type]
        work = PracticeController(controller, start=begin)
        window = Window(controller, port or url_of(control), heard, polls=False, practice_controller=work)
        return show_window(window)

    return make


def said_to(control: Path) -> list[str]:
    return control.read_text(encoding="utf-8").splitlines()


def switch_of(driver: Driver, name: str) -> Switch:
    return next(s for s in driver.window.practice_controller.switches() if s.name == name)


def test_it_is_in_sight_with_its_port_and_the_trace_keeps_its_place(
    open_practice: Callable[..., Driver],
) -> None:
    driver = open_practice()
    window = driver.window
    assert window.panel.is_shown and not window.panel.has_keyboard
    for size in ((1280, 720), (1920, 1080)):
        window.resize(*size)
        QApplication.processEvents()
        shared = size[1] - window.readout.height() - window.action_bar.height() - window.menuBar().height()
        assert window.trace.height() >= shared / 3, size
        dock, trace = in_window(window.dock), in_window(window.trace)
        assert window.readout.isVisible() and not dock.intersects(trace)
        assert dock.right() < in_window(window.page).left()
        assert window.panel.area.viewport().height() > 6 * window.panel.board.row_height
        assert cut_names(window.panel.board) == [], size


def in_window(part: QWidget) -> QRect:
    """Where a part is in its window."""
    return QRect(part.mapTo(part.window(), QPoint()), part.size())


def is_in_sight(panel: PracticePanel, kind: GroupKind) -> bool:
    """Whether a group of switches is in sight, or fills the room from its name on."""
    reach, room = panel.board.reach_of_group(kind), panel.area.viewport().height()
    assert reach is not None
    top = panel.area.verticalScrollBar().value()
    return reach[0] >= top - 1 and (reach[1] <= top + room + 1 or reach[0] <= top + 1)


def cut_names(board: SwitchBoard) -> list[str]:
    """What the board draws shortened."""
    return [text.text for text in drawn_texts(board) if "…" in text.text]


@pytest.mark.parametrize(
    ("width", "height", "percent"), [(1024, 600, 100), (1024, 600, 150), (1366, 768, 150)]
)
def test_every_name_is_whole_and_the_chosen_switch_in_sight(
    open_practice: Callable[..., Driver], width: int, height: int, percent: int
) -> None:
    driver = open_practice()
    window = driver.window
    window.preferences.set(TEXT_PERCENT, percent)
    window.resize(width, height)
    window.apply_preferences()
    QApplication.processEvents()
    assert cut_names(window.panel.board) == []
    for stage, kind in (("stage.spots", GroupKind.PERSON), ("stage.check", GroupKind.EARTH)):
        driver.do(stage)
        QApplication.processEvents()
        assert is_in_sight(window.panel, kind), "what the page has to do with comes into sight by itself"
    window.controller.checks.choose(CheckKind.FUNCTION)
    window.redraw()
    assert is_in_sight(window.panel, GroupKind.CORDS), "the cords of the function check too"
    head = window.dock.titleBarWidget()
    assert in_window(window.panel).top() - in_window(head).bottom() <= 2, "no empty strip"
    window.registry["practice.night"].setText("A night in one short minute")  # as where it is called off
    QApplication.processEvents()
    QApplication.processEvents()
    for button in [*window.dock.buttons.values(), *window.dock.icon_buttons]:
        assert in_window(head).contains(in_window(button)), button.text()
    driver.do("practice.switches")
    last = len(window.practice_controller.switches()) - 1
    driver.press(*["Down"] * last)
    QApplication.processEvents()
    assert window.panel.board.chosen == last
    chosen = window.panel.board.box_of_chosen().toRect()
    assert window.panel.board.visibleRegion().contains(chosen.center())
    assert window.trace.height() > 6 * window.appearance.sizes.small


def test_the_line_to_the_trace_is_where_it_was_dragged_to_after_the_whole_screen(
    open_practice: Callable[..., Driver],
) -> None:
    window = open_practice().window
    window.resize(1100, 640)
    QApplication.processEvents()
    area, height = window.dock.parentWidget(), window.panel.height()
    assert isinstance(area, QWidget)
    line = QPoint(area.width() // 2, window.dock.geometry().top() - 3)
    QTest.mousePress(area, Qt.MouseButton.LeftButton, pos=line)
    for dragged in (30, 50):
        QTest.mouseMove(area, line + QPoint(0, dragged))
        QApplication.processEvents()
    QTest.mouseRelease(area, Qt.MouseButton.LeftButton, pos=line + QPoint(0, 50))
    chosen = window.panel.height()
    assert chosen < height
    for size in ((1366, 768), (1100, 640)):
        window.resize(*size)
        for _ in range(3):
            QApplication.processEvents()
    assert window.panel.height() == chosen
    line = QPoint(area.width() // 2, window.dock.geometry().top() - 3)
    QTest.mousePress(area, Qt.MouseButton.LeftButton, pos=line)
    for dragged in (60, 400):
        QTest.mouseMove(area, line - QPoint(0, dragged))
        QApplication.processEvents()
    QTest.mouseRelease(area, Qt.MouseButton.LeftButton, pos=line - QPoint(0, 400))
    QApplication.processEvents()
    assert window.panel.height() > height, "the trace gives way to it"
    assert window.trace.height() >= (LEAST_TRACE_LETTERS - 1) * window.appearance.sizes.small


def test_it_is_moved_out_closed_and_opened_from_the_menu(
    open_practice: Callable[..., Driver], control: Path, qtbot: QtBot
) -> None:
    driver = open_practice()
    window = driver.window
    driver.do("practice.float")
    assert window.dock.isFloating() and window.dock.isWindow() and window.panel.is_shown
    assert not window.dock.windowFlags() & Qt.WindowType.FramelessWindowHint, "a window like any other"
    window.refresh_actions()
    assert window.registry["practice.float"].isChecked()
    place = window.dock.own_place()
    driver.do("practice.switches")
    qtbot.waitUntil(lambda: window.panel.board is QApplication.focusWidget())
    driver.press(*"lamp", "Return")
    assert said_to(control)[-1] == "lamp unplug", "it has the keyboard also there"
    driver.press("Esc")
    qtbot.waitUntil(lambda: not window.panel.has_keyboard)
    window.dock.close()
    assert not window.panel.is_shown and not window.registry["practice.house"].isChecked()
    assert "not shown" in driver.refused("practice.float")
    house = window.registry["practice.house"]
    behind = [entry.menu() for entry in window.menus["Tools"].actions()]
    assert any(isinstance(menu, QMenu) and house in menu.actions() for menu in behind)
    house.trigger()
    assert window.panel.is_shown and window.dock.isFloating(), "it comes back where it was"
    for button, action_id in zip(window.dock.icon_buttons, ("practice.float", "practice.house"), strict=True):
        assert button.accessibleName() and button.toolTip() == window.registry[action_id].toolTip()
        QTest.mouseClick(button, Qt.MouseButton.LeftButton)
    assert not window.dock.isFloating() and not window.panel.is_shown
    assert place and not window.dock.own_place()
    house.trigger()
    QApplication.processEvents()
    assert window.panel.maximumHeight() <= window.panel.wanted_height(), (
        "below the trace it has its height there again"
    )
    window.dock.close()
    window.dock.last_place = place  # as the next start finds it among what is remembered
    house.trigger()
    assert window.dock.isFloating() and window.panel.is_shown
    window.close()
    assert window.preferences.get(HOUSE_PLACE)


def test_every_switch_by_keys(open_practice: Callable[..., Driver], control: Path) -> None:
    driver = open_practice()
    driver.do("practice.switches")
    assert driver.window.panel.has_keyboard
    for typed, command in (
        ("lamp", "lamp unplug"),
        ("floor", "floor lamp unplug"),
        ("3", "breaker 3 off"),
        ("12", "breaker 12 off"),
        ("charger", "charger on"),
        ("person", "walk"),
        ("person", "lie still"),
        ("sofa", "go to Sofa, left"),
        ("left", "go to Bed, left"),
        ("probe", "probe on reference wire"),
        ("probe", "probe in hand"),
        ("second", "probe on second rod"),
        ("probe", "probe in hand"),
        ("second", "probe on second rod"),
        ("second", "probe in hand"),
        ("wire", "move the wire"),
        ("wire", "lay the wire back"),
        ("wet", "wet the soil"),
        ("extra", "extra rod"),
        ("reference", "reference building earth"),
        ("its", "pull cable"),
        ("cable", "plug cable"),
        ("meter", "meter off"),
        ("overload", "overload"),
    ):
        driver.press(*typed, "Return")
        assert command in said_to(control)[-2:], typed
    driver.press(*"desk", "Down", "Up", "Shift+Return")
    assert said_to(control)[-1] == "desk lamp off"


def test_all_breakers_leaves_what_must_stay_on(open_practice: Callable[..., Driver], control: Path) -> None:
    driver = open_practice()
    driver.window.resize(1280, 720)
    QApplication.processEvents()

    def columns() -> dict[str, int]:
        counts = {}
        for language in languages():
            with in_language(language):
                counts[language] = len(driver.window.panel.board.columns())
        return counts

    before = columns()
    driver.press("F6", *"all", "Return")
    assert columns() == before, "no word moves the switches to another place"
    assert "breaker 1 off" in said_to(control) and "breaker 7 off" not in said_to(control)
    assert (
        switch_of(driver, "Refrigerator").main.on
        and switch_of(driver, "All breakers").main.word == "3 stay on"
    )
    driver.press("Return")
    assert all(s.main.on for s in driver.window.practice_controller.switches() if s.number)


def test_all_breakers_with_some_off_is_off_and_goes_on(
    open_practice: Callable[..., Driver], control: Path
) -> None:
    driver = open_practice()
    send_command(control, "breaker 1 off")
    driver.press("F6", *"all")
    lead = switch_of(driver, "All breakers").main
    assert (lead.word, lead.on) == ("1 off", False)
    driver.press("Return")
    lead = switch_of(driver, "All breakers").main
    assert (lead.word, lead.on) == ("all on", True)
    assert said_to(control)[-1] == "breaker 1 on"


def test_the_title_names_the_house_and_what_is_typed(open_practice: Callable[..., Driver]) -> None:
    driver = open_practice()
    title = driver.window.panel.title
    assert title.text() == "Practice house"
    driver.do("practice.switches")
    assert title.text() == "Practice house"
    driver.press(*"lam")
    assert title.text() == "Practice house: lam"


def test_a_blank_belongs_to_a_name_that_is_being_typed(
    open_practice: Callable[..., Driver], control: Path
) -> None:
    driver = open_practice()
    driver.press("F6", *"bed", ",", "Space", *"r")
    panel = driver.window.panel
    switches = driver.window.practice_controller.switches()
    assert switches[panel.board.chosen].name == "Bed, right" and driver.message == KEYS_TEXT
    driver.press("Return", "Space")
    assert driver.message, "once nothing is being typed, Space is the window's again"


def test_enter_switches_nothing_that_was_not_found(
    open_practice: Callable[..., Driver], control: Path
) -> None:
    driver = open_practice()
    driver.press("F6", *"lampq", "Return")
    assert driver.message == "No switch begins with “lampq”: nothing was switched." and not said_to(control)
    assert driver.window.panel.title.text() == "Practice house"


def test_arrows_choose_and_letters_begin_anew(open_practice: Callable[..., Driver], control: Path) -> None:
    driver = open_practice()
    driver.window.resize(1920, 1080)
    board = driver.window.panel.board
    driver.do("practice.switches")
    driver.press("Right", "Down")
    chosen = driver.window.practice_controller.switches()[board.chosen].name
    assert chosen == "Aquarium heater"
    driver.press("W", "E")
    soil = driver.window.practice_controller.switches()[board.chosen]
    assert (
        soil.name == "Wet the soil"
        and tip_of(soil) == "Wet the soil. Waters the soil of the practice house. It stays wet."
    )
    assert all(tip_of(each).endswith(".") for each in driver.window.practice_controller.switches())
    driver.press("1")  # no name goes on like that
    assert driver.window.practice_controller.switches()[board.chosen].number == "1"
    driver.press("Esc")
    assert driver.window.panel.is_shown and not driver.window.panel.has_keyboard, (
        "one Esc, whatever was typed"
    )
    assert not driver.window.panel.typed
    driver.do("stage.spots")
    assert driver.window.stage_list.current is SPOTS and said_to(control) == []
    driver.do("practice.house")
    assert not driver.window.panel.is_shown


def test_it_follows_whoever_switches(open_practice: Callable[..., Driver], control: Path) -> None:
    driver = open_practice()
    driver.press("F6")
    board, rows = driver.window.panel.board, driver.window.practice_controller.switches()
    reached = []
    for key in ("End", "PgUp", "Home", "PgDown"):
        driver.press(key)
        reached.append(board.chosen)
    assert reached[0] == len(rows) - 1 > reached[1] and reached[2] == 0 < reached[3]
    shown = driver.window.controller.message.text
    driver.press("F6")
    assert not driver.window.panel.has_keyboard, "the same key goes back"
    assert shown and driver.window.controller.message.text != shown, (
        "what it said of the arrows holds no longer"
    )
    driver.press("F6", *"lamp")
    assert driver.window.panel.board.accessibleName() == "Switches of the practice house", (
        "its row has another name"
    )
    send_command(control, "lamp on")
    send_command(control, "no such thing on")
    send_command(control, "go to Desk")
    driver.window.redraw()
    boxes = [
        QAccessible.queryAccessibleInterface(box) for box in driver.window.panel.board.findChildren(QCheckBox)
    ]
    assert {box.role() for box in boxes} == {QAccessible.Role.CheckBox}
    spoken = {box.text(QAccessible.Text.Name): bool(box.state().checked) for box in boxes}
    assert spoken["Lamp, plug in, switch on"] and spoken["1 Bedroom outlets, on"]
    lamp = switch_of(driver, "Lamp")
    assert lamp.second is not None and lamp.second.word == "on"
    assert (
        switch_of(driver, "Desk").main.word == "here"
        and switch_of(driver, "Bed, left").main.word == "sleeps here"
    )


def test_by_mouse(open_practice: Callable[..., Driver], control: Path) -> None:
    driver = open_practice()
    board = driver.window.panel.board
    board.grab()  # draws it, so that it is known where each switch is
    lamp = next(i for i, s in enumerate(driver.window.practice_controller.switches()) if s.name == "Lamp")
    for second, command in ((True, "lamp on"), (False, "lamp unplug")):
        box = next(box for box, index, second_half in board._boxes if index == lamp and second_half is second)
        at = box.center() if second else box.topLeft() + (box.bottomLeft() - box.topLeft()) / 2
        at.setX(at.x() + (0 if second else 4))
        QTest.mouseClick(board, Qt.MouseButton.LeftButton, pos=at.toPoint())
        assert said_to(control)[-1] == command


def test_a_click_moves_nothing_under_the_mouse(open_practice: Callable[..., Driver], control: Path) -> None:
    driver = open_practice()
    driver.window.resize(1024, 600)
    QApplication.processEvents()
    panel = driver.window.panel
    bar = panel.area.verticalScrollBar()
    assert bar.maximum() > 0
    bar.setValue(bar.maximum() - 3)
    panel.board.grab()
    top = panel.board.visibleRegion().boundingRect().top()
    box = min((box for box, _, _ in panel.board._boxes if box.bottom() > top), key=lambda box: box.top())
    at = QPoint(round(box.left() + 4), round(box.bottom() - 1))
    for other in (Qt.MouseButton.RightButton, Qt.MouseButton.MiddleButton):
        QTest.mouseClick(panel.board, other, pos=at)
    assert said_to(control) == [], "only the left button switches"
    QTest.mouseClick(panel.board, Qt.MouseButton.LeftButton, pos=at)
    panel.refresh()
    assert said_to(control) != [] and bar.value() == bar.maximum() - 3
    for stage in ("stage.check", "stage.spots"):
        driver.do(stage)
        QApplication.processEvents()
    assert bar.value() == bar.maximum() - 3, "nor does another stage, once somebody has switched here"
    driver.do("practice.switches")
    driver.press("Down", "Up")
    assert bar.value() != bar.maximum() - 3, "the keyboard brings what it chooses into sight"
    scroll_bar = driver.window.panel.area.verticalScrollBar()
    scroll_bar.setValue(scroll_bar.maximum())
    before = scroll_bar.value()
    driver.window.panel.board.setFocus()
    driver.press("Tab")
    assert not driver.window.panel.board.hasFocus() and scroll_bar.value() == before > 0


def test_space_still_belongs_to_the_window(open_practice: Callable[..., Driver], control: Path) -> None:
    driver = open_practice()
    driver.do("stage.spots", "practice.switches")
    driver.press("Space")
    assert driver.asked == "Which room?" and said_to(control) == []  # there is no spot yet


def test_a_question_has_the_keys_and_f6_switches_before_it_is_answered(
    open_practice: Callable[..., Driver], control: Path
) -> None:
    driver = open_practice()
    driver.do("measure.condition")
    assert driver.asked == "What is on now?"
    driver.press("F6", *"all", "Return")
    assert driver.asked == "What is on now?" and "breaker 1 off" in said_to(control)
    driver.press("Esc")
    assert driver.asked == "What is on now?", "Esc gives the keyboard back to the question"
    driver.answer("Everything off")
    assert driver.window.controller.snapshot.condition == "everything off"


def test_a_question_that_comes_by_itself_leaves_the_keyboard_at_the_switches(
    open_practice: Callable[..., Driver], control: Path
) -> None:
    driver = open_practice()
    board, question = driver.window.panel.board, driver.window.question
    said: list[str] = []
    question.said.connect(said.append)
    for key in ("Esc", "F6"):
        driver.press("F6")
        with question.opening_by_itself():
            question.ask(
                Question("Is it mistaken?", "It looks so.", (Choice("keep it", list, default=True),))
            )
        assert said[-1] == "Is it mistaken? It looks so. Esc goes to the question." and board.hasFocus()
        before = len(said_to(control))
        driver.press("Down", "Return")
        assert len(said_to(control)) == before and driver.asked, "it may be meant for the question"
        assert "Nothing was switched" in driver.message
        driver.press(*"lamp", "Return")
        assert len(said_to(control)) > before and driver.asked, "a name is for the switches"
        driver.window.refresh()
        assert board.hasFocus()
        driver.press(key)
        assert question.buttons[0].hasFocus() and driver.asked
        driver.press("Return")
        assert not driver.asked and not board.hasFocus()
    driver.press("F6")
    with question.opening_by_itself():
        question.ask(Question("Is it mistaken?"))
    question.close_question()
    assert board.hasFocus(), "it never went to the question"


def test_switches_are_boxes_a_choice_of_one_and_buttons_for_who_cannot_see_them(
    open_practice: Callable[..., Driver],
) -> None:
    driver = open_practice()
    driver.press("F6", *"all", "Return")
    board = QAccessible.queryAccessibleInterface(driver.window.panel.board)
    parts = [board.child(at) for at in range(board.childCount())]
    roles = {part.text(QAccessible.Text.Name): part.role() for part in parts}
    assert roles["Bed, left, here"] is roles["Desk"] is QAccessible.Role.RadioButton
    assert roles["Overload, for 3 s"] is roles["Wet the soil, dry"] is QAccessible.Role.Button
    assert roles["Person, is still"] is QAccessible.Role.CheckBox
    (lead,) = [name for name in roles if name.startswith("All breakers")]
    assert lead.startswith("All breakers, off, but these stay on: ") and "Refrigerator" in lead
    assert "Refrigerator" in driver.message


def test_a_meter_has_no_practice_house(open_practice: Callable[..., Driver]) -> None:
    driver = open_practice("/dev/ttyUSB7")
    assert not driver.window.panel.is_shown
    driver.do("practice.house")
    assert (
        not driver.window.panel.is_shown
        and "Choose the practice house on the stage Connect" in driver.message
    )
    driver.do("practice.night")
    assert "Choose the practice house on the stage Connect" in driver.message


def test_a_house_that_lives_by_itself_gives_way_to_one_in_hand(
    open_practice: Callable[..., Driver], log: VisitLog
) -> None:
    driver = open_practice("sim://house")
    assert not driver.window.panel.is_shown
    driver.do("practice.switches")
    assert driver.window.panel.has_keyboard
    assert driver.window.pages.connect.settings().url == url_of(log.path.with_suffix(".control"))


def test_a_night_is_begun_told_and_called_off(
    open_practice: Callable[..., Driver], nights: list[SteppedJob], monkeypatch: pytest.MonkeyPatch
) -> None:
    driver = open_practice()
    driver.window.controller.condition.state("everything off")
    driver.do("practice.night")
    assert driver.asked == "What is on in the night?" and not nights, (
        "what was stated for readings is no answer"
    )
    driver.answer("Everything on")
    (night,) = nights
    night.progress = "Night: 3 h of 8 h"
    driver.window.refresh()
    shown = status(driver.window.controller.snapshot)
    assert (shown.word, shown.detail) == ("PRACTICE NIGHT", "Night: 3 h of 8 h")
    assert driver.window.readout.accessible_text() == "PRACTICE NIGHT, recorded, not shown live"
    assert "3 h of 8 h" in driver.window.panel.title.text() and "3 h of 8 h" in driver.message
    night.progress = "Night: 4 h of 8 h"
    driver.window.refresh()
    assert status(driver.window.controller.snapshot).detail == "Night: 4 h of 8 h", "at once"
    assert driver.message == "Night: 4 h of 8 h. Its times are those of an evening before this visit.", (
        "as the axis shows"
    )
    driver.do("practice.night")
    assert night.cancelled and len(nights) == 1
    night.done, night.result = True, "The night was called off after 3 h."
    driver.window.refresh()
    assert driver.message == "The night was called off after 3 h."
    assert status(driver.window.controller.snapshot).word == "NOT RECORDING"
    driver.do("practice.night")
    nights[1].done, nights[1].refusal = True, "Another recorder is at work."
    driver.window.refresh()
    assert driver.message == "Another recorder is at work." and driver.window.controller.message.refused
    pages = driver.window.pages.night
    assert pages.page is pages.start, "nothing was recorded that counts as a night"
    driver.do("practice.night")
    monkeypatch.setattr(VisitSnapshot, "night_count", 1)
    nights[2].done, nights[2].result = True, "The night was recorded."
    driver.window.refresh()
    assert pages.page is pages.morning and pages.night_controller.number == NEWEST


def test_no_night_while_a_recorder_is_at_work(
    open_practice: Callable[..., Driver], record: Any, nights: list[SteppedJob]
) -> None:
    record().still(0.4, 2)
    driver = open_practice()
    driver.window.refresh()
    assert "Stop recording first" in driver.refused("practice.night") and not nights
    assert "Stop recording first" in driver.window.registry["practice.night"].statusTip()


def test_the_house_is_in_sight_again_where_its_recording_went_on_without_the_window(
    log: VisitLog,
    clock: ManualClock,
    start: FakeStart,
    record: Any,
    control: Path,
    show_window: Callable[[Window], Driver],
) -> None:
    record(url_of(control)).still(0.4, 2)
    controller = VisitController(log, clock, start, lambda: None)  # type: ignore[arg-type]
    driver = show_window(Window(controller, sounds=Heard(), polls=False))
    assert driver.window.panel.is_shown and not driver.window.panel.has_keyboard


def test_a_night_asks_to_end_the_recording_of_the_house_and_begins_once_it_has_ended(
    open_practice: Callable[..., Driver],
    record: Any,
    control: Path,
    nights: list[SteppedJob],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    recorder = record(url_of(control))
    recorder.still(0.4, 2)
    driver = open_practice()
    driver.window.refresh()
    driver.do("practice.night")
    assert driver.asked == "Stop recording and begin the night?"
    driver.answer("Go on recording")
    assert not nights and driver.window.controller.snapshot.recording
    driver.do("practice.night")
    driver.answer("Stop recording and begin the night", "I do not know")
    driver.window.refresh()
    assert not nights and "then the night begins" in driver.message, "the recorder is still at work"
    driver.do("practice.night")
    assert driver.message == "The night was called off before it began."
    driver.do("practice.night")
    driver.answer("Stop recording and begin the night")
    recorder.end()
    monkeypatch.setattr("gui.model.practice_controller.is_recording", lambda _: True)
    driver.window.refresh()
    assert not nights, "its lock is still held"
    monkeypatch.setattr("gui.model.practice_controller.is_recording", lambda _: False)
    driver.window.refresh()
    assert len(nights) == 1 and "A practice night is being recorded" in driver.message


def test_the_example_visits_are_offered_with_the_practice_house(
    open_practice: Callable[..., Driver], log: VisitLog
) -> None:
    driver = open_practice()
    shown: list[VisitRequest] = []
    driver.window.visit_requested.connect(shown.append)
    driver.do("practice.examples")
    assert driver.asked == "Which example visit?"
    driver.answer("Example: a garden flat")
    (request,) = shown
    assert request.path.exists() and request.path.parent == log.path.parent / "Examples"


def test_closing_the_window_waits_for_the_night_or_calls_it_off(
    open_practice: Callable[..., Driver], nights: list[SteppedJob]
) -> None:
    driver = open_practice()
    driver.do("practice.night")
    driver.answer("I do not know")
    asked: list[UnfinishedDialog] = []

    def ask(parent: QWidget, works: Sequence[Unfinished], then: str, failed: Callable[[], bool]) -> bool:
        asked.append(UnfinishedDialog(parent, works, then))
        return False

    driver.window.ask_unfinished = ask
    assert not driver.window.close() and driver.window.isVisible() and not nights[0].cancelled
    text = asked[0].text.text()
    assert "A practice night is still being recorded." in text and text.endswith("Then the window closes.")
    asked[0].give_up.click()
    assert nights[0].cancelled and asked[0].result() != asked[0].DialogCode.Accepted, "until it has ended"
    nights[0].done, nights[0].result = True, "The night was called off after 5 min."
    driver.window.refresh()
    asked[0].refresh()
    assert asked[0].result() == asked[0].DialogCode.Accepted
    driver.window.ask_unfinished = lambda *_: True
    assert driver.window.close() and not driver.window.isVisible()


def test_a_name_is_found_by_few_letters(control: Path) -> None:
    switches = [s for group in PracticeHouse(url_of(control)).groups() for s in group.switches]

    def found(typed: str) -> str:
        index = find_switch(switches, typed)
        return switches[index].name if index is not None else ""

    assert found("1") == "Bedroom outlets" and found("12") == "Water heater"
    assert found("bed") == "Bed, left" and found("lamp") == "Lamp" and found("floorl") == "Floor lamp"
    for typed in ("1 b", "1 bed", "1 bedr", "1 bedroom out"):
        assert found(typed) == "Bedroom outlets", "as the row is read: its number, then its name"
    assert found("bedroom,") == found("Bedroom, c") == "Bedroom, centre", "a comma belongs to the name"
    assert found("bedroom;") == "" and found("bed, ") == "Bed, left"
    assert found("centre") == "Bedroom, centre" and found("xyz") == "" and found("") == ""


def test_work_in_a_process_of_its_own_is_told_of_and_refused(tmp_path: Path) -> None:
    job: Any = WorkerProcess(partial(search_folder, tmp_path, ""))
    assert job.wait(WORKER_TIMEOUT_S)
    assert job.progress == "looking through the folder" and job.result.visit_count == 0 and not job.refusal
    job = WorkerProcess(partial(search_folder, tmp_path / "missing", ""))
    assert job.wait(WORKER_TIMEOUT_S)
    assert job.result is None and "There is no folder" in job.refusal


def test_a_night_in_a_process_of_its_own_is_called_off(log: VisitLog, control: Path) -> None:
    job: Any = WorkerProcess(partial(_record_night, log.path, url_of(control)))
    job.cancel()
    assert job.wait(WORKER_TIMEOUT_S)
    assert not job.refusal and job.result.startswith("The night was called off")
    assert len(log.runs.all()) == 1


def test_steps_of_a_practice_night_are_filed_where_its_sleeper_lies(
    log: VisitLog, control: Path, clock: ManualClock
) -> None:
    record_night(log.path, url_of(control), datetime(2026, 5, 16, 12, tzinfo=UTC), "UTC", length_s=60.0)
    (run,) = log.runs.all()
    desk = log.spots.add("Desk")
    controller = VisitController(log, clock, FakeStart(), lambda: None)  # type: ignore[arg-type]
    step = DetectedStep(run.id, Step(30.0, 0.1, 0.4, 0.01, 40.0), True)

    def place() -> int | None:
        controller.refresh(force=True)
        return controller.snapshot.spot_of_step(step, [SpotChoice(0, desk.id)])

    bed = log.spots.add(f"Bedroom: {lies_at(run.settings)}", "Bedroom")
    assert place() is None, "nobody entered where the sleeper lies"
    keep_night_spot(log, NightEntry(NightSpot(bed.id, bed.name), run.id, is_ahead=False))
    assert place() == bed.id
