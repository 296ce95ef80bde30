"""The checks by keys: a Space a step, verdict in word and shape, skipped with a reason, repeatable."""

from __future__ import annotations

import itertools
from collections.abc import Callable

import pytest
from driving import Driver, Heard
from PySide6.QtWidgets import QApplication

from gui.demo import DemoRecorder
from gui.rows import Row, Shape
from gui.sounds import Tone
from logger.visit import VisitLog
from logger.visit.checks import CheckKind, Verdict


@pytest.fixture
def demo(record: Callable[[], DemoRecorder]) -> DemoRecorder:
    return record()


@pytest.fixture
def driver(demo: DemoRecorder, open_window: Callable[[], Driver]) -> Driver:
    demo.still(0.004, 20, 0.001)
    driver = open_window()
    driver.press("3")
    return driver


def row(driver: Driver, kind: CheckKind) -> Row:
    return driver.window.check_sheet.list.rows[list(CheckKind).index(kind)]


def settle(driver: Driver, demo: DemoRecorder, volts: float) -> None:
    demo.move(volts, volts + 2.0, 5)
    demo.still(volts, 40)
    driver.window.refresh()


def test_zero_check_passes_with_one_space(driver: Driver, log: VisitLog, heard: Heard) -> None:
    assert "for the zero check" in driver.window.bottom.text()
    driver.press("Space")
    (result,) = log.checks()
    assert (result.kind, result.outcome.verdict) == (CheckKind.ZERO, Verdict.PASSED)
    assert result.steps[0].span.first_line_id <= result.steps[0].span.last_line_id
    assert heard.tones[-1] is Tone.TAKEN
    shown = row(driver, CheckKind.ZERO)
    assert shown.value == "passed" and shown.badge.shape is Shape.TICK
    assert driver.window.session.check is CheckKind.REFERENCE, "goes on to the next"
    assert log.readings() == []


def test_the_same_value_is_no_second_step(driver: Driver, demo: DemoRecorder, log: VisitLog) -> None:
    driver.press("Down")
    settle(driver, demo, 0.5)
    driver.press("Space", "Space")
    assert driver.window.session.said.refused and "step before" in driver.said
    assert log.checks() == []
    settle(driver, demo, 0.505)
    driver.press("Space")
    assert log.checks()[0].outcome.verdict is Verdict.PASSED


def test_function_check_and_its_repetition(driver: Driver, demo: DemoRecorder, log: VisitLog) -> None:
    driver.press("Down", "Down")
    for volts in (0.3, 2.1, 0.3):
        settle(driver, demo, volts)
        driver.press("Space")
    assert log.checks()[0].outcome.verdict is Verdict.PASSED
    driver.press("Down", "Down")
    for volts in (0.3, 0.5, 0.3):
        settle(driver, demo, volts)
        driver.press("Space")
    assert log.checks()[1].outcome.verdict is Verdict.FAILED
    assert row(driver, CheckKind.FUNCTION).value == "failed"
    assert row(driver, CheckKind.FUNCTION).badge.shape is Shape.CROSS
    assert row(driver, CheckKind.FUNCTION).small == "done 2 times"


def test_a_sensitive_person_skips_it_or_somebody_else_does_it(driver: Driver, log: VisitLog) -> None:
    driver.press("Down", "Down")
    assert "sensitive" in driver.window.check_sheet._caution.text()
    driver.press("K", "E")
    assert log.marks()[0].text == "function check: somebody else does it" and log.checks() == []
    driver.press("K", "1")
    assert log.checks()[0].outcome.verdict is Verdict.SKIPPED
    assert "sensitive" in log.checks()[0].outcome.sentence


def test_moving_is_no_step(driver: Driver, demo: DemoRecorder, log: VisitLog) -> None:
    demo.move(0.2, 3.0, 5)
    driver.window.refresh()
    driver.press("Space")
    assert driver.window.session.said.refused and driver.said.startswith("Not taken")
    assert log.checks() == [] and driver.window.bottom.text().startswith("Space refuses")


def test_begin_again_and_another_check_give_up_the_steps(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    driver.press("Down")
    settle(driver, demo, 0.5)
    driver.press("Space")
    assert len(driver.window.session.check_spans) == 1
    driver.press("Del")
    assert driver.window.session.check_spans == []
    driver.press("Space", "Up")
    assert driver.window.session.check_spans == [] and log.checks() == []


def test_without_checks_the_readings_say_so(driver: Driver, log: VisitLog) -> None:
    log.add_spot("Bed")
    log.set_fact("condition", "everything on")
    driver.window.session.feed.refresh(force=True)
    driver.window.session._keep_choice()
    driver.press("4", "Space")
    assert len(log.readings()) == 1
    assert "zero check not done" in driver.window.spots_sheet.remarks.text()


def assert_nothing_overlaps(driver: Driver) -> None:
    sheet = driver.window.check_sheet
    QApplication.processEvents()  # lays it out
    in_order = [
        sheet.list, sheet._hints, sheet.steps, sheet.instruction, sheet.verdict, sheet.doubt, sheet.picture, sheet._caution,
    ]  # fmt: skip
    parts = [part for part in in_order if part.isVisible()]
    for above, below in itertools.pairwise(parts):
        assert above.geometry().bottom() <= below.geometry().top()
    assert parts[-1].geometry().bottom() <= sheet.height()
    for text in (sheet.instruction, sheet._caution, sheet.verdict, sheet.doubt):
        assert not text.isVisible() or text.height() >= text.heightForWidth(text.width())


def test_nothing_overlaps_in_the_longest_check(driver: Driver, demo: DemoRecorder) -> None:
    driver.press("Down", "Down")
    assert_nothing_overlaps(driver)
    for volts in (0.3, 2.1, 0.3):
        settle(driver, demo, volts)
        driver.press("Space")
    driver.press("Down", "Down")
    assert driver.window.check_sheet.picture.isVisible()
    assert_nothing_overlaps(driver)
