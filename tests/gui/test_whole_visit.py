"""A whole visit by the mouse alone, and by the keyboard alone: set-up, checks, readings, a lamp, the report."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Protocol

import pytest
from PySide6.QtCore import QEvent, QObject, QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QPushButton, QScrollArea, QWidget

from gui.actions.action_buttons import ActionButton
from gui.dev.demo import DemoRecorder
from gui.model.report_controller import ReportController
from gui.model.stages import CHECK, PREPARE, REPORT, SOURCES, SPOTS, Stage
from gui.model.visit_controller import VisitController
from gui.widgets.row_list import RowList
from gui.window import Window
from logger.clock import ManualClock
from logger.report.output_paths import report_path
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from tests.support.window_driver import Charger, Driver, FakeStart, Heard

MOST_STEPS = 40
"""So many presses of Tab or an arrow at most lead to what is wanted."""


class WrittenJob:
    """A report that is written as soon as it is asked for, without any work."""

    progress, done, refusal = "", False, ""

    def __init__(self, visit: Path) -> None:
        self.result = ((report_path(visit),), "")

    def poll(self) -> bool:
        self.done = True
        return True

    def cancel(self) -> None: ...
    def kill(self) -> None: ...


class Hand(Protocol):
    """Somebody who works with one thing only."""

    other: QEvent.Type
    """What must not happen: events of the other thing."""

    def stage(self, stage: Stage) -> None: ...
    def row(self, rows: RowList, at: int) -> None: ...
    def action(self, action_id: str) -> None: ...
    def answer(self, text: str) -> None: ...
    def primary(self) -> None: ...


class Mouse:
    """The mouse alone."""

    other = QEvent.Type.KeyPress

    def __init__(self, driver: Driver) -> None:
        self.window = driver.window

    def stage(self, stage: Stage) -> None:
        self._click(self.window.stage_list.buttons[stage])

    def row(self, rows: RowList, at: int) -> None:
        scroll_to(rows)
        index = next(i for i in range(rows.count()) if rows.row_at(i) == at)
        rows.scrollTo(rows.row_model.index(index))
        self._click(rows.viewport(), rows.visualRect(rows.row_model.index(index)).center())

    def action(self, action_id: str) -> None:
        self._click(button_of(self.window, action_id))

    def answer(self, text: str) -> None:
        question = self.window.question
        button = next((b for b in question.buttons if b.text().startswith(text)), None)
        if button is None:
            assert question.list is not None, [b.text() for b in question.buttons]
            (item, *_) = question.list.findItems(text, Qt.MatchFlag.MatchStartsWith)
            question.list.scrollToItem(item)
            self._click(question.list.viewport(), question.list.visualItemRect(item).center())
            button = next(b for b in question.buttons if b.isDefault())
        self._click(button)

    def primary(self) -> None:
        self._click(self.window.action_bar.button)

    def _click(self, part: QWidget, at: QPoint | None = None) -> None:
        scroll_to(part)
        assert part.isVisible() and part.isEnabled(), part
        at = at or part.rect().center()
        assert part.visibleRegion().contains(at), f"{part} is out of sight"
        QTest.mouseClick(part, Qt.MouseButton.LeftButton, pos=at)


class Keys:
    """The keyboard alone, without a shortcut but for the stages: Tab, arrows, Enter, Space."""

    other = QEvent.Type.MouseButtonPress

    def __init__(self, driver: Driver) -> None:
        self.driver = driver
        self.window = driver.window

    def stage(self, stage: Stage) -> None:
        self.driver.press(f"Ctrl+{stage.number}")

    def row(self, rows: RowList, at: int) -> None:
        self._go("Tab", lambda part: part is rows)
        self.driver.press("Home", *["Down"] * at)

    def action(self, action_id: str) -> None:
        self._go("Tab", lambda part: isinstance(part, ActionButton) and part.action_id == action_id)
        self.driver.press("Space")

    def answer(self, text: str) -> None:
        rows = self.window.question.list
        if rows is not None and any(rows.item(i).text().startswith(text) for i in range(rows.count())):
            self._go("Tab", lambda part: part is rows)
            self.driver.press("Home")
            while not rows.currentItem().text().startswith(text):
                self.driver.press("Down")
        else:
            self._go("Tab", lambda part: isinstance(part, QPushButton) and part.text().startswith(text))
        self.driver.press("Return")

    def primary(self) -> None:
        self._go("Tab", lambda part: not isinstance(part, QPushButton))  # a button keeps its Space
        self.driver.press("Space")

    def _go(self, key: str, arrived: Callable[[QWidget | None], bool]) -> None:
        for _ in range(MOST_STEPS):
            if arrived(QApplication.focusWidget()):
                return
            self.driver.press(key)
        raise AssertionError(f"{key} does not lead there")


def button_of(window: Window, action_id: str) -> ActionButton:
    """The button of an action on the page in sight."""
    return next(
        b for b in window.page.findChildren(ActionButton) if b.action_id == action_id and b.isVisible()
    )


def scroll_to(part: QWidget) -> None:
    """Scroll a page until a part of it is in sight, as the wheel does."""
    around = part.parentWidget()
    while around is not None:
        if isinstance(around, QScrollArea):
            around.ensureWidgetVisible(part)
        around = around.parentWidget()
    QApplication.processEvents()


class Watch(QObject):
    """Counts events of one kind in the whole program."""

    def __init__(self, kind: QEvent.Type) -> None:
        super().__init__()
        self.kind = kind
        self.count = 0

    def eventFilter(self, _: QObject, event: QEvent) -> bool:
        self.count += event.type() == self.kind
        return False


@pytest.fixture
def opened_files() -> list[Path]:
    return []


@pytest.fixture
def driver(
    log: VisitLog,
    clock: ManualClock,
    start: FakeStart,
    heard: Heard,
    charger: Charger,
    opened_files: list[Path],
    demo: DemoRecorder,
    show_window: Callable[[Window], Driver],
) -> Driver:
    """A window on a visit that is being recorded, with two spots and a lamp; names are typed by whatever types."""
    for name in ("Bed, lying down", "Desk, seated"):
        log.spots.add(name)
    log.circuits.add("cord", "Lamp")

    def opens(path: Path, _: Callable[[], None]) -> None:
        opened_files.append(path)

    controller = VisitController(log, clock, start, charger)  # type: ignore[arg-type]
    report = ReportController(controller, lambda _: WrittenJob(log.path), opens)
    return show_window(Window(controller, sounds=heard, polls=False, report_controller=report))


@pytest.fixture
def demo(record: Callable[[], DemoRecorder]) -> DemoRecorder:
    demo = record()
    demo.still(0.6, 12)
    return demo


@pytest.fixture(params=[Mouse, Keys], ids=["mouse", "keys"])
def hand(request: pytest.FixtureRequest, driver: Driver, qapp: QApplication) -> Iterator[Hand]:
    hand: Hand = request.param(driver)
    watch = Watch(hand.other)
    qapp.installEventFilter(watch)
    yield hand
    qapp.removeEventFilter(watch)
    assert watch.count == 0, "the other hand was needed"


def test_a_whole_visit(
    hand: Hand, driver: Driver, demo: DemoRecorder, log: VisitLog, opened_files: list[Path]
) -> None:
    window = driver.window

    def hold_still(volts: float) -> None:
        demo.move(volts, volts + 1.0, 4)
        demo.still(volts, 14)
        window.refresh()

    window.refresh()
    hand.stage(PREPARE)
    hand.row(window.pages.prepare.list, 1)
    hand.action("prepare.change")
    hand.answer("Earth rod")
    while driver.asked:
        hand.answer("Skip for now")
    assert log.setup.current().reference == "earth rod"

    hand.stage(CHECK)
    hand.action("check.skip")
    hand.answer("Skip: reference wire")

    spots = window.pages.spots.spots
    hand.stage(SPOTS)
    hand.row(spots, 0)
    hand.action("measure.condition")
    hand.answer("Everything on")
    for at, volts in ((0, 0.6), (1, 0.3)):
        hand.row(spots, at)
        hold_still(volts)
        hand.primary()
    if not driver.asked:
        hand.action("measure.condition")
    hand.answer("Everything off" if driver.asked == "What is on now?" else "Everything is off now")
    for at, volts in ((0, 0.08), (1, 0.05)):
        hand.row(spots, at)
        hold_still(volts)
        hand.primary()
    assert [(r.spot_name, r.condition) for r in log.readings.all()] == [
        (name, condition)
        for condition in (EVERYTHING_ON, EVERYTHING_OFF)
        for name in ("Bed, lying down", "Desk, seated")
    ]
    while driver.asked:
        hand.answer(window.question.buttons[-1].text())

    hand.stage(SOURCES)
    demo.still(0.40, 13.5)
    window.refresh()
    demo.still(0.40, 1.5)  # what the big button does has just changed by itself
    hand.primary()
    hand.answer("Lamp on")
    labels = [known.label for known in window.controller.snapshot.known_steps() if known.label is not None]
    assert [label.meaning for label in labels] == ["on"]

    hand.stage(REPORT)
    hand.primary()
    window.refresh()
    assert opened_files == [report_path(log.path.resolve())]
