"""What the window offers next: after the checks, in the round with everything off, and where what is on is in doubt."""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from gui.actions.registry import ANSWER_FIRST
from gui.dev.demo import DemoRecorder
from gui.model.stages import CHECK, SPOTS, STAGES
from gui.model.visit_controller import VisitController
from gui.shell.action_bar import ActionBar
from gui.widgets.paged_stage import PagedStage
from gui.window import Window
from gui.window.window import CALL_OFF_NIGHT
from logger.clock import NS_PER_S, ManualClock
from logger.metrology.checks import REQUIRED_CHECKS, RISE_VOLTS, STEPS, CheckKind
from logger.metrology.setup import Setup
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.home_records import Meaning
from tests.support.window_driver import Driver

DEMO_VISIT = Path(__file__).parents[2] / "fixtures" / "demo" / "garden_flat.visit"


@pytest.fixture
def demo(log: VisitLog, record: Callable[[], DemoRecorder]) -> DemoRecorder:
    """Two spots, everything off, still at the first."""
    log.setup.set(Setup(reference="earth rod", on_battery=True, link_isolated=True))
    for name in ("Bed", "Desk"):
        log.spots.add(name)
    log.facts.set("condition", EVERYTHING_OFF)
    demo = record()
    demo.still(0.06, 20)
    return demo


@pytest.fixture
def driver(demo: DemoRecorder, open_window: Callable[[], Driver]) -> Driver:
    driver = open_window()
    driver.do("stage.spots")
    return driver


def settle(driver: Driver, demo: DemoRecorder, volts: float) -> None:
    demo.move(volts, volts + 2.0, 6)
    demo.still(volts, 30)
    driver.window.refresh()


def chosen(driver: Driver) -> str:
    spot = driver.window.controller.route.chosen
    return spot.name if spot is not None else ""


def test_the_round_with_everything_off_goes_from_spot_to_spot(driver: Driver, demo: DemoRecorder) -> None:
    driver.press("Space")
    assert chosen(driver) == "Desk" and driver.message.endswith("Next: “Desk”")
    settle(driver, demo, 0.09)
    assert "for “Desk”" in driver.window.action_bar.text()
    driver.press("Space")
    assert [r.spot_name for r in driver.window.controller.snapshot.readings] == ["Bed", "Desk"]
    assert driver.message.endswith("Every spot is read with everything off.")


def test_a_value_that_contradicts_what_is_on_asks_before_it_is_taken(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    driver.press("Space")
    driver.press("Up")
    settle(driver, demo, 1.85)
    assert driver.window.action_bar.text() == f"Enter what is on now: “{EVERYTHING_OFF}” is in doubt"
    assert "in doubt" in driver.window.readout._spot[1]
    driver.press("Space")
    assert driver.asked == "What is on now?" and len(log.readings.all()) == 1
    question = driver.window.question.question
    assert question is not None and "was read as 0.06 V with everything off" in question.text
    assert "the value now is at least twice that." in question.text, "no number: it would soon be another"
    driver.answer("Everything on")
    assert (
        driver.message
        == "“everything on” is entered. No reading was taken: hold still for 5 s, then take it."
    )
    demo.still(1.85, 20)
    driver.window.refresh()
    driver.press("Space")
    assert [r.condition for r in log.readings.all()] == [EVERYTHING_OFF, EVERYTHING_ON]


@pytest.mark.parametrize(("meaning", "is_doubted"), [("on", True), ("off", False)])
def test_a_lamp_that_is_labelled_as_on_does_not_settle_that_everything_is_off(
    driver: Driver, demo: DemoRecorder, log: VisitLog, meaning: Meaning, is_doubted: bool
) -> None:
    lamp = log.circuits.add("cord", "Lamp")
    driver.press("Space")
    assert chosen(driver) == "Desk"
    demo.still(0.63, 30)
    driver.window.refresh()
    (step,) = [known.found for known in driver.window.controller.snapshot.known_steps()]
    assert driver.window.controller.readings.condition_doubt(), "a step that nobody has labelled"
    log.step_labels.add(step.run_id, step.step, None, meaning, lamp.id)
    driver.window.controller.snapshot.refresh(force=True)
    driver.window.refresh()
    (labelled,) = driver.window.controller.snapshot.known_steps()
    assert labelled.label is not None and labelled.label.meaning == meaning
    assert bool(driver.window.controller.readings.condition_doubt()) == is_doubted


def test_the_users_word_settles_a_doubt(driver: Driver, demo: DemoRecorder, log: VisitLog) -> None:
    driver.press("Space", "Up")
    settle(driver, demo, 1.85)
    driver.press("Space")
    driver.answer("Everything off")
    assert driver.window.action_bar.text().startswith("Take 1.85")


@pytest.mark.parametrize("set_by_s", [0, 7200, -7200], ids=["a right clock", "set forward", "set back"])
def test_a_step_since_the_statement_asks_what_is_on_and_the_users_word_settles_it(
    driver: Driver, demo: DemoRecorder, clock: ManualClock, set_by_s: int
) -> None:
    """Steps are timed by a clock that nobody sets, and so is the statement."""
    clock.set_utc_ns(clock.utc_ns() + set_by_s * NS_PER_S)
    demo.still(0.06, 5)
    driver.window.refresh()
    driver.window.controller.condition.state(EVERYTHING_OFF)
    demo.still(0.06, 10)
    demo.still(1.85, 30)
    driver.window.refresh()
    assert driver.window.action_bar.text().startswith("Enter what is on now")
    driver.press("Space")
    driver.answer("Everything off")
    demo.still(1.85, 10)
    driver.window.refresh()
    assert driver.window.action_bar.text().startswith("Take 1.85")


def test_after_the_checks_the_spots_are_offered_and_a_check_can_be_done_again(
    driver: Driver, log: VisitLog
) -> None:
    driver.do("stage.check")
    assert RISE_VOLTS == 1.0 and "1 V or more" in STEPS[CheckKind.FUNCTION][0].to_do()
    for kind in REQUIRED_CHECKS:
        assert driver.window.action_bar.name() != "Go on to the spots", kind
        log.checks.skip(kind, "cannot be done here")
        driver.window.controller.refresh(force=True)
    driver.window.redraw()
    assert driver.window.action_bar.text() == "Go on to the spots"
    driver.do("check.restart")
    assert driver.window.action_bar.name() != "Go on to the spots"
    driver.window.pages.check._choose(0)
    driver.press("Space")
    assert driver.window.navigator.stage is SPOTS


def test_a_recording_that_begins_leads_to_the_checks_that_are_open(driver: Driver, log: VisitLog) -> None:
    assert driver.window._stage_after_start() is CHECK
    for kind in REQUIRED_CHECKS:
        log.checks.skip(kind, "cannot be done here")
    driver.window.controller.refresh(force=True)
    assert driver.window._stage_after_start() is SPOTS


def test_a_double_click_on_a_spot_renames_it(driver: Driver) -> None:
    spots = driver.window.pages.spots.spots
    place = spots.visualRect(spots.row_model.index(0)).center()
    QTest.mouseClick(spots.viewport(), Qt.MouseButton.LeftButton, pos=place)
    QTest.mouseDClick(spots.viewport(), Qt.MouseButton.LeftButton, pos=place)
    assert driver.asked == "Rename the spot"
    driver.press("Esc")
    readout = driver.window.readout
    name = readout.spot_button.geometry().center()
    QTest.mouseClick(readout, Qt.MouseButton.LeftButton, pos=name)
    QTest.mouseDClick(readout, Qt.MouseButton.LeftButton, pos=name)
    assert driver.asked == "At which spot is the person now?" and driver.message == "", "asked once"


def test_what_was_refused_because_of_a_question_is_not_said_after_it(driver: Driver) -> None:
    driver.do("measure.by_hand")
    driver.window.registry.trigger("spots.up")
    assert ANSWER_FIRST in driver.message
    driver.window.navigator.go_to(CHECK)
    assert driver.asked == "" and driver.message == ""


def test_the_big_button_does_not_call_off_a_practice_night(
    driver: Driver, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(type(driver.window.practice_controller), "records_night", True)
    driver.do("stage.night")
    called_off: list[str] = []
    monkeypatch.setattr(driver.window.practice_controller, "record_or_cancel_night", called_off.append)
    driver.press("Space")
    assert not called_off and CALL_OFF_NIGHT in driver.message
    driver.window.refresh_actions()
    assert driver.window.registry["practice.night"].text() == CALL_OFF_NIGHT


def dead_buttons(driver: Driver) -> list[str]:
    """The pages of all stages whose big button can do nothing and has no reason beside it."""
    window, dead = driver.window, []
    for stage in STAGES:
        window.navigator.go_to(stage)
        pages = window.page.pages if isinstance(window.page, PagedStage) else [window.page]
        for index, page in enumerate(pages):
            if isinstance(window.page, PagedStage):
                window.page.show_page(index)
            window.redraw()
            if _is_dead(window.action_bar):
                window.redraw()  # the summing up of a night may have ended since: the window draws on by itself
            if _is_dead(bar := window.action_bar):
                dead.append(f"{stage.name}, {type(page).__name__}: {bar.text()}")
    return dead


def _is_dead(bar: ActionBar) -> bool:
    """Whether the big button says something else than it may do, or not why it may not."""
    why_not = bar.why_not()
    in_sight = (bar.why.isVisible() and bar.why.text() == why_not) or bar.message_bar.says(why_not)
    return bar.button.isEnabled() == bool(why_not) or bool(why_not and not in_sight)


def test_the_big_button_is_never_dead_without_a_reason(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder], log: VisitLog
) -> None:
    """In an empty visit, in one that is prepared and recorded, and once a spot is read."""
    driver = open_window()
    assert dead_buttons(driver) == []
    driver.do("stage.spots")
    assert driver.window.action_bar.text() == "Add a room..."
    driver.press("Space")
    assert driver.asked == "Which room?"
    driver.press("Esc")
    log.setup.set(Setup(supply="split phase", reference="earth rod", on_battery=True, link_isolated=True))
    demo = record()
    demo.still(0.3, 10)
    driver.window.controller.refresh(force=True)
    assert dead_buttons(driver) == []
    driver.do("stage.night")
    driver.window.pages.night.show_page(0)
    driver.window.redraw()
    assert driver.window.action_bar.text() == "What is on in the night?"
    driver.window.pages.night.night_controller.conditions.state("", None)
    driver.window.redraw()
    assert driver.window.action_bar.text() == "Night screen"
    driver.do("stage.spots")
    assert driver.window.action_bar.text() == "Add a room..."
    log.spots.add("Bed")
    log.facts.set("condition", EVERYTHING_ON)
    driver.window.controller.refresh(force=True)
    driver.press("Space")
    assert driver.message.startswith("The button has just changed to “Take 0.30 ± "), "it was to add a room"
    demo.move(0.3, 2.0, 4)
    demo.still(0.3, 20)
    driver.window.controller.refresh(force=True)
    driver.press("Space")
    assert dead_buttons(driver) == [] and len(log.readings.all()) == 1
    driver.do("stage.night")
    driver.window.pages.night.show_page(0)
    driver.window.redraw()
    for asked in ("Where does the person lie in the night?", "Night screen"):
        assert driver.window.action_bar.text() == asked
        driver.window.pages.night.night_controller.spots.state(None, None)
        driver.window.redraw()


def test_nor_is_it_in_a_finished_visit(show_window: Callable[[Window], Driver], tmp_path: Path) -> None:
    finished = Path(shutil.copy(DEMO_VISIT, tmp_path))
    with contextlib.closing(VisitLog.open(finished)) as log:
        driver = show_window(Window(VisitController(log), polls=False))
        assert dead_buttons(driver) == []
