"""The checks by keys: a Space a step, verdict in word and shape, skipped with a reason, repeatable."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from unittest.mock import Mock

import pytest
from PySide6.QtWidgets import QApplication

from gui.dev.demo import DemoRecorder
from gui.model.report_contents import ReportContents
from gui.model.stages import CHECK
from gui.model.wording import value_text
from gui.sound.sounds import Tone
from gui.stages.check.check_page import posture_text, step_rows
from gui.widgets.badge import BadgeShape
from gui.widgets.row_model import ListRow
from logger.clock import NS_PER_S, ManualClock
from logger.metrology.checks import MIN_STEP_S, REQUIRED_CHECKS, STEPS, CheckKind, CheckVerdict
from logger.metrology.posture import DEFAULT_REPEATABILITY, pooled_repeatability
from logger.metrology.setup import UNKNOWN_METER, Setup
from logger.translation import in_language, tr_kept
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from tests.support.window_driver import Driver, Heard, raise_arm


@pytest.fixture
def demo(record: Callable[[], DemoRecorder]) -> DemoRecorder:
    return record()


@pytest.fixture
def driver(demo: DemoRecorder, open_window: Callable[[], Driver]) -> Driver:
    demo.still(0.004, 20, 0.001)
    driver = open_window()
    driver.do("stage.check")
    return driver


def row(driver: Driver, kind: CheckKind) -> ListRow:
    return driver.window.pages.check.list.rows[list(CheckKind).index(kind)]


def settle(driver: Driver, demo: DemoRecorder, volts: float) -> None:
    demo.move(volts, volts + 2.0, 5)
    demo.still(volts, 40)
    driver.window.refresh()


def test_zero_check_passes_with_one_space(driver: Driver, log: VisitLog, heard: Heard) -> None:
    assert "for the zero check" in driver.window.action_bar.text()
    driver.press("Space")
    (result,) = log.checks.all()
    assert (result.kind, result.outcome.verdict) == (CheckKind.ZERO, CheckVerdict.PASSED)
    assert result.steps[0].span.first_line_id <= result.steps[0].span.last_line_id
    assert heard.tones[-1] is Tone.TAKEN
    shown = row(driver, CheckKind.ZERO)
    assert shown.value == "passed" and shown.badge.shape is BadgeShape.TICK
    assert driver.window.controller.checks.chosen is CheckKind.REFERENCE, "goes on to the next"
    assert log.readings.all() == []


def test_one_value_has_one_uncertainty_at_the_checks_and_a_failed_one_says_why_it_grew(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    settle(driver, demo, 0.81)
    window = driver.window
    alone = window.controller.snapshot.shown_budget
    whole = window.controller.snapshot.budget
    assert alone is not None and whole is not None and alone.u_volts < whole.u_volts
    value = value_text(alone.volts, alone.u_volts)
    assert f"Take {value} for the zero check" in window.action_bar.text()
    said = window.readout.accessible_text()
    driver.press("Space")
    (result,) = log.checks.all()
    assert result.outcome.verdict is CheckVerdict.FAILED
    number, _, rest = value.partition(" ")
    assert f"{number} V {rest}" in window.pages.check.verdict.text()
    window.refresh()
    assert window.readout.accessible_text() == said and said.endswith("meter alone")
    driver.do("stage.spots")
    window.refresh()
    assert window.readout.accessible_text().endswith("zero check failed")


def test_where_the_checks_are_done_is_asked_once_and_kept_with_each_step(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    log.spots.add("Bed")
    log.spots.add("Hall")
    driver.window.controller.refresh(force=True)
    driver.press("Space")
    assert driver.asked == "At which spot are the checks done?" and not log.checks.used_steps()
    driver.answer("Hall")
    (result,) = log.checks.all()
    assert result.spot_names == ("Hall",)
    driver.press("Up")
    assert "at “Hall”" in driver.window.pages.check.verdict.text()
    driver.press("Down")
    settle(driver, demo, 0.5)
    driver.press("Space")
    assert driver.asked == "" and log.checks.used_steps()[-1].spot_name == "Hall"
    driver.do("check.spot")
    driver.answer("Not recorded")
    assert driver.window.controller.checks.spot is None


def test_the_same_value_is_no_second_step(driver: Driver, demo: DemoRecorder, log: VisitLog) -> None:
    driver.press("Down")
    settle(driver, demo, 0.5)
    driver.press("Space", "Space")
    assert driver.window.controller.message.refused and "step before" in driver.message
    assert log.checks.all() == []
    settle(driver, demo, 0.505)
    driver.press("Space")
    assert log.checks.all()[0].outcome.verdict is CheckVerdict.PASSED


def test_a_half_after_a_change_of_port_begins_the_check_again(
    driver: Driver, demo: DemoRecorder, log: VisitLog, record: Callable[..., DemoRecorder]
) -> None:
    driver.press("Down")
    settle(driver, demo, 0.5)
    driver.press("Space")
    demo.end()
    other = record("/dev/ttyUSB7")
    settle(driver, other, 0.505)
    driver.press("Space")
    assert driver.window.controller.message.refused
    assert "was begun over another port" in driver.message and "from its first step" in driver.message
    assert log.checks.all() == [] and driver.window.controller.checks.spans == []
    driver.press("Space")
    settle(driver, other, 0.5)
    driver.press("Space")
    assert [len(check.steps) for check in log.checks.all()] == [2]


def test_function_check_and_its_repetition(driver: Driver, demo: DemoRecorder, log: VisitLog) -> None:
    driver.press("Down", "Down")
    for volts in (0.3, 2.1, 0.3):
        settle(driver, demo, volts)
        driver.press("Space")
    assert log.checks.all()[0].outcome.verdict is CheckVerdict.PASSED
    driver.press("Down", "Down")
    for volts in (0.3, 2.1, 1.9):
        settle(driver, demo, volts)
        driver.press("Space")
    assert log.checks.all()[1].outcome.verdict is CheckVerdict.FAILED
    assert row(driver, CheckKind.FUNCTION).value == "failed"
    assert row(driver, CheckKind.FUNCTION).badge.shape is BadgeShape.CROSS
    assert "result 2 of 2" in driver.window.pages.check.verdict.text()


def test_a_rise_that_is_too_small_is_not_ticked_and_the_check_begins_again_where_it_ended(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    driver.press("Down", "Down")
    page = driver.window.pages.check
    for volts in (0.3, 0.87):
        settle(driver, demo, volts)
        driver.press("Space")
    near = page.steps.rows[1]
    assert near.badge is not None and near.badge.shape is BadgeShape.CROSS
    assert (
        near.small == "It rose by 0.57 V; a rise of 1 V is needed."
        and "Begin again" in page.instruction.text()
    )
    spoken = driver.window.controller.message.spoken()
    assert spoken.endswith(f"cord near. {near.small} {page.instruction.text()}")
    assert not page.steps.selectedIndexes() and driver.window.action_bar.name() == "Begin again"
    driver.do("check.skip")
    assert driver.window.question.question.answers[0].text.startswith("Skip: the value did not rise enough")
    driver.press("Esc")
    driver.press("Space")
    assert driver.window.controller.checks.spans == []
    (left,) = log.checks.all()
    assert left.outcome.verdict is CheckVerdict.FAILED and len(left.steps) == 2
    assert row(driver, CheckKind.FUNCTION).value == "failed"
    for volts in (0.3, 2.1, 1.9):
        settle(driver, demo, volts)
        driver.press("Space")
    first = log.checks.all()[1]
    assert first.outcome.verdict is CheckVerdict.FAILED
    assert driver.window.controller.message.spoken() == f"Function check failed. {first.outcome.sentence}"
    driver.window.refresh()
    again = f"To do it again: {STEPS[CheckKind.FUNCTION][0].to_do()}"
    assert page.instruction.isVisible() and page.instruction.text() == again
    assert page.list.accessibleDescription() == again
    driver.do("check.restart")
    demo.still(1.9, 15)
    driver.window.refresh()
    driver.press("Space")
    (background,) = driver.window.controller.checks.spans
    assert background.first_line_id > first.steps[-1].span.last_line_id, "no line counts twice"


def test_a_sensitive_person_skips_it_or_somebody_else_does_it(driver: Driver, log: VisitLog) -> None:
    driver.press("Down", "Down")
    assert "sensitive" in driver.window.pages.check._caution.text()
    driver.do("check.skip")
    driver.answer("Somebody else does it instead")
    assert log.marks.all()[0].text == "function check: somebody else does it" and log.checks.all() == []
    driver.do("check.skip")
    driver.answer("Skip: the person is sensitive to it")
    assert log.checks.all()[0].outcome.verdict is CheckVerdict.SKIPPED
    assert "sensitive" in log.checks.all()[0].outcome.sentence


def test_moving_is_no_step(driver: Driver, demo: DemoRecorder, log: VisitLog) -> None:
    demo.move(0.2, 3.0, 5)
    driver.window.refresh()
    driver.press("Space")
    assert driver.window.controller.message.refused and driver.message.startswith("Can't take the step")
    assert log.checks.all() == [] and driver.window.action_bar.text().startswith("Can't take the step")


def test_begin_again_and_another_check_give_up_the_steps(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    driver.press("Down")
    settle(driver, demo, 0.5)
    driver.press("Space")
    assert len(driver.window.controller.checks.spans) == 1
    driver.do("check.restart")
    assert driver.window.controller.checks.spans == []
    driver.press("Space", "Up")
    assert driver.window.controller.checks.spans == [] and log.checks.all() == []


def test_without_checks_the_readings_say_so(driver: Driver, demo: DemoRecorder, log: VisitLog) -> None:
    log.spots.add("Bed")
    log.facts.set("condition", "everything on")
    driver.window.controller.snapshot.refresh(force=True)
    driver.window.controller.route.keep_choice()
    driver.do("stage.spots")
    demo.move(0.3, 2.0, 4)
    demo.still(0.3, 20)
    driver.window.refresh()
    driver.press("Space")
    assert len(log.readings.all()) == 1
    message = driver.window.pages.spots.remarks.text()
    assert "zero" in message and "check not done" in message


def assert_nothing_overlaps(driver: Driver) -> None:
    page = driver.window.pages.check
    QApplication.processEvents()  # lays it out
    in_order = [
        page.list, page._buttons, page.repeat, page.steps, page.instruction,
        page.verdict, page.doubt, page.picture, page._caution,
    ]  # fmt: skip
    assert page.list.isVisible() and page.list.height() >= page.list.sizeHintForRow(0)
    parts = [part for part in in_order if part.isVisible()]
    for above, below in itertools.pairwise(parts):
        assert above.geometry().bottom() <= below.geometry().top()
    assert parts[-1].geometry().bottom() <= page.height()
    texts = [text for text in (page.instruction, page._caution, page.verdict, page.doubt) if text.isVisible()]
    assert texts, "the page says something"
    for text in texts:
        assert text.height() >= text.heightForWidth(text.width())


@pytest.mark.parametrize("size", [(960, 540), (1280, 720), (1920, 1080)])
def test_nothing_overlaps_in_the_longest_check(
    driver: Driver, demo: DemoRecorder, size: tuple[int, int]
) -> None:
    driver.window.resize(*size)
    driver.press("Down", "Down")
    assert_nothing_overlaps(driver)
    for volts in (0.3, 2.1, 0.3):
        settle(driver, demo, volts)
        driver.press("Space")
    driver.press("Down", "Down")
    assert driver.window.pages.check.picture.isVisible() == (size[1] > 540)
    assert_nothing_overlaps(driver)


def take_step(driver: Driver) -> Callable[[], None]:
    def take() -> None:
        driver.window.refresh()
        driver.press("Space")

    return take


def test_each_step_is_shown_with_its_trace(driver: Driver, demo: DemoRecorder, log: VisitLog) -> None:
    picture = driver.window.pages.check.picture
    driver.press("Down", "Down")
    assert not picture.isVisible()
    for volts in (0.3, 2.1, 0.3):
        settle(driver, demo, volts)
        driver.press("Space")
    driver.press("Down", "Down")
    assert picture.isVisible()
    assert [rested.name for rested in picture.intervals] == ["background", "cord near", "cord away"]
    assert [rested.volts for rested in picture.intervals] == [
        step.span.volts for step in log.checks.all()[0].steps
    ]
    driver.press("Up")
    assert not picture.isVisible(), "the reference check was not done"


def test_earlier_results_by_one_key(driver: Driver, demo: DemoRecorder, log: VisitLog) -> None:
    page = driver.window.pages.check
    driver.do("check.earlier")
    assert "no earlier result" in driver.message
    driver.press("Space", "Up")
    settle(driver, demo, 0.5)
    driver.press("Space")
    driver.press("Up")
    driver.do("check.skip")
    driver.answer("Skip: reference wire cannot be reached")
    driver.press("Up", "Up")
    first, second, third = log.checks.all()
    assert page.verdict.text().startswith("Skipped") and not page.picture.isVisible()
    driver.do("check.earlier")
    assert "result 2 of 3" in page.verdict.text() and second.outcome.sentence in page.verdict.text()
    assert page.picture.intervals[0].volts == second.steps[0].span.volts
    driver.do("check.earlier")
    assert "result 1 of 3" in page.verdict.text() and page.verdict.text().startswith("Passed")
    assert page.picture.intervals[0].volts == first.steps[0].span.volts
    driver.do("check.earlier")
    assert "result 3 of 3" in page.verdict.text() and third.outcome.sentence in page.verdict.text()
    driver.do("check.earlier")
    driver.press("Down", "Up")
    assert "result 3 of 3" in page.verdict.text(), "another check and back: the newest"


def test_earlier_results_while_a_check_is_repeated(driver: Driver, demo: DemoRecorder, log: VisitLog) -> None:
    page = driver.window.pages.check
    driver.press("Space")
    for volts in (0.5, 0.505):
        settle(driver, demo, volts)
        driver.press("Space")
    driver.press("Up")
    settle(driver, demo, 0.51)
    driver.press("Space")
    assert page.steps.isVisible() and not page.picture.isVisible()
    driver.do("check.earlier")
    assert page.picture.isVisible() and not page.steps.isVisible()
    driver.do("check.earlier")
    assert page.steps.isVisible() and len(driver.window.controller.checks.spans) == 1


def test_a_step_that_proves_to_have_been_motion(driver: Driver, demo: DemoRecorder, log: VisitLog) -> None:
    page = driver.window.pages.check
    driver.press("Down")
    settle(driver, demo, 0.4)
    driver.press("Space")
    raise_arm(demo, log, take_step(driver))
    driver.window.refresh()
    (result,) = log.checks.all()
    assert result.outcome.verdict is CheckVerdict.FAILED, "the verdict stays as recorded"
    assert row(driver, CheckKind.REFERENCE).value == "failed, in doubt"
    assert [rested.in_doubt for rested in page.picture.intervals] == [False, True]
    assert page.doubt.text().startswith("In doubt, repeat the check: after. The detector later found motion")
    assert_nothing_overlaps(driver)
    settle(driver, demo, 0.41)
    driver.press("Space")
    settle(driver, demo, 0.412)
    driver.press("Space", "Up")
    assert row(driver, CheckKind.REFERENCE).value == "passed" and not page.doubt.isVisible()


def test_nothing_overlaps_in_the_longest_check_in_doubt(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    driver.press("Down", "Down")
    for _ in range(3):
        demo.still(0.4, 20)
        # Not by the big button, which begins again after a rise that is too small: the longest text is wanted.
        raise_arm(demo, log, driver.window.controller.checks.take_step)
    driver.window.refresh()
    assert driver.window.pages.check.doubt.text().startswith(
        "In doubt, repeat the check: background and cord near and"
    )
    assert_nothing_overlaps(driver)


def pass_every_check(driver: Driver, demo: DemoRecorder) -> None:
    driver.press("Space")
    for volts in (0.5, 0.505, 0.3, 2.1, 0.3):
        settle(driver, demo, volts)
        driver.press("Space")


def test_a_lapsed_check_is_shown_as_lapsed_and_done_again(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    controller, page = driver.window.controller, driver.window.pages.check
    log.setup.set(Setup(reference="building earth"))
    driver.window.controller.refresh(force=True)
    pass_every_check(driver, demo)
    assert CHECK.progress(controller) == "3 of 3 passed"
    log.setup.set(Setup(reference="earth rod"))
    controller.refresh(force=True)
    driver.do("stage.spots", "stage.check")
    assert CHECK.progress(controller) == "0 passed, 3 lapsed"
    assert [row(driver, kind).value for kind in REQUIRED_CHECKS] == ["lapsed: other reference"] * 3
    assert all(row(driver, kind).badge.shape is BadgeShape.OPEN for kind in REQUIRED_CHECKS)
    assert controller.checks.chosen is CheckKind.ZERO, "the first to do again"
    assert page.steps.isVisible() and "lapsed: other reference" in page.verdict.text()
    contents = {content.name: content for content in ReportContents(controller).all()}
    assert contents["Checks"].amount == "0 of 3 passed"
    assert contents["Checks"].missing.startswith("lapsed: other reference (3 checks); Do the checks")
    assert_nothing_overlaps(driver)
    settle(driver, demo, 0.004)
    driver.press("Space")
    assert CHECK.progress(controller) == "1 passed, 2 lapsed"
    assert row(driver, CheckKind.ZERO).value == "passed"
    assert controller.checks.chosen is CheckKind.REFERENCE
    settle(driver, demo, 0.5)
    driver.press("Space")
    before = step_rows(controller.checks)[0].value
    log.setup.set(Setup(reference="building earth"))
    settle(driver, demo, 0.505)
    assert step_rows(controller.checks)[0].value == before, "with the ± of the rod that it was read against"
    assert controller.checks.next_step().refused
    assert controller.checks.next_step().text.startswith("The reference check was begun against another ref")
    assert not controller.checks.take_step() and controller.checks.spans == []
    meter = replace(UNKNOWN_METER, input_resistance_ohm=1e6)
    log.setup.set(Setup(reference="earth rod", meter=meter))
    controller.refresh(force=True)
    driver.do("stage.spots", "stage.check")
    assert row(driver, CheckKind.ZERO).value == "lapsed: other meter"


def test_a_check_done_with_the_reference_of_now_counts_though_a_later_one_lapsed(
    driver: Driver, log: VisitLog
) -> None:
    """As the readings' own context has it."""
    log.setup.set(Setup(reference="earth rod"))
    driver.press("Space")
    log.setup.set(Setup(reference="building earth"))
    driver.press("Up")
    driver.do("check.skip")
    driver.answer("Skip: reference wire cannot be reached")
    log.setup.set(Setup(reference="earth rod"))
    driver.window.controller.refresh(force=True)
    assert driver.window.controller.checks.passed_count() == 1
    assert log.checks.context(1).verdicts == {CheckKind.ZERO: CheckVerdict.PASSED}


def test_after_the_last_round_the_checks_are_offered_again(
    driver: Driver, demo: DemoRecorder, clock: ManualClock, log: VisitLog
) -> None:
    controller, page = driver.window.controller, driver.window.pages.check
    pass_every_check(driver, demo)
    spot = log.spots.add("Bed")
    log.readings.enter(spot.id, EVERYTHING_ON, 0.5, 0.01)
    controller.refresh(force=True)
    driver.do("stage.spots", "stage.check")
    assert not page.repeat.isVisible(), "the round with everything off is still to come"
    clock.advance_ns(NS_PER_S)
    log.readings.enter(spot.id, EVERYTHING_OFF, 0.1, 0.01)
    controller.refresh(force=True)
    driver.do("stage.spots", "stage.check")
    assert page.repeat.isVisible() and "zero check, reference check, function check" in page.repeat.text()
    assert controller.checks.chosen is CheckKind.ZERO
    for size in ((960, 540), (1280, 720)):
        driver.window.resize(*size)
        assert_nothing_overlaps(driver)
    settle(driver, demo, 0.004)
    driver.press("Space")
    assert "repeat: reference check, function check" in page.repeat.text()
    assert controller.checks.chosen is CheckKind.REFERENCE, "goes on to the next to repeat"
    for volts in (0.5, 0.505):
        settle(driver, demo, volts)
        driver.press("Space")
    driver.do("check.skip")
    driver.answer("Skip: the person is sensitive to it")
    assert not page.repeat.isVisible(), "the function check was skipped"
    assert len(log.checks.all()) == 6


def test_a_second_rod_is_offered_and_narrows_what_the_rod_may_be_off_by(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    controller, page = driver.window.controller, driver.window.pages.check
    log.setup.set(Setup(reference="earth rod"))
    controller.refresh(force=True)
    assert [row(driver, kind).value for kind in (CheckKind.TWO_RODS, CheckKind.LEAD)] == ["optional"] * 2
    page.list.setCurrentRow(3)
    assert controller.checks.chosen is CheckKind.TWO_RODS
    for size in ((960, 540), (1024, 600), (1366, 768)):
        driver.window.resize(*size)
        assert "second rod" in page.instruction.text() and "Ask before digging" in page._caution.text()
        assert "thunderstorm" in page._caution.text() and "live conductor" in page._caution.text()
        assert_nothing_overlaps(driver)
    for volts in (0.003, 0.004):
        settle(driver, demo, volts)
        driver.press("Space")
    (result,) = log.checks.all()
    assert "between the rods" in result.outcome.sentence
    assert row(driver, CheckKind.TWO_RODS).value == result.outcome.verdict


def test_between_good_rods_nothing_changes_and_the_second_step_is_what_came_after_the_first(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    controller = driver.window.controller
    log.setup.set(Setup(reference="earth rod"))
    controller.refresh(force=True)
    driver.window.pages.check.list.setCurrentRow(3)
    settle(driver, demo, 0.003)
    driver.press("Space", "Space")
    assert controller.message.refused and "step before" in driver.message, "pressed twice by mistake"
    assert "step before" in driver.window.action_bar.text(), "the bar says what the key will do"
    demo.still(0.003, 200)
    driver.window.refresh()
    driver.press("Space")
    (result,) = log.checks.all()
    as_laid, moved = (step.span for step in result.steps)
    assert moved.start_t_ns >= as_laid.end_t_ns, "no sample counts in both"
    assert moved.end_t_ns - moved.start_t_ns >= MIN_STEP_S * NS_PER_S


def test_with_building_earth_there_is_no_second_rod(driver: Driver, log: VisitLog) -> None:
    log.setup.set(Setup(reference="building earth"))
    driver.window.controller.refresh(force=True)
    assert driver.window.controller.checks.kinds() == list(REQUIRED_CHECKS)
    driver.window.pages.check.refresh()
    assert len(driver.window.pages.check.list.rows) == len(REQUIRED_CHECKS)


def test_a_check_that_passed_and_fails_at_the_end_puts_readings_in_doubt(
    driver: Driver, demo: DemoRecorder, clock: ManualClock, log: VisitLog
) -> None:
    controller, page = driver.window.controller, driver.window.pages.check
    driver.press("Space")
    clock.advance_ns(NS_PER_S)
    log.readings.enter(log.spots.add("Bed").id, EVERYTHING_ON, 0.5, 0.01)
    driver.press("Up")
    settle(driver, demo, 0.3)
    driver.press("Space")
    controller.refresh(force=True)
    page.refresh()
    assert [check.outcome.verdict for check in log.checks.all()] == [CheckVerdict.PASSED, CheckVerdict.FAILED]
    assert "It had passed at" in page.doubt.text() and page.doubt.isVisible()
    assert "are in doubt" in page.doubt.text()
    doubt = controller.readings.doubt(log.readings.all()[0])
    assert doubt == "The zero check passed before this reading and failed after it."


def test_how_well_the_posture_repeats_is_offered_until_it_is_known() -> None:
    assert "has not been measured here; 7% of the value is assumed" in posture_text(DEFAULT_REPEATABILITY)
    assert posture_text(pooled_repeatability([[0.5, 0.5], [0.8, 0.8]])).endswith("here, from 2 repeats.")


def test_the_offer_to_measure_the_posture_is_on_the_page(driver: Driver) -> None:
    driver.do("stage.check")
    assert driver.window.pages.check.posture.text() == posture_text(DEFAULT_REPEATABILITY)


def test_soil_that_was_wetted_for_the_reference_check_is_not_left_dry(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    log.setup.set(log.setup.current().with_changes(reference="earth rod", moisture="dry"))
    driver.press("Down")
    settle(driver, demo, 0.5)
    driver.press("Space")
    assert not driver.window.question.isVisible(), "the check is not done yet"
    settle(driver, demo, 0.505)
    driver.press("Space")
    assert driver.window.question.isVisible()
    driver.answer("Yes")
    wetted = log.setup.current().moisture
    assert wetted.startswith("dry, wetted at the check, ")
    with in_language("de"):
        assert tr_kept(wetted).startswith("trocken, bei der Prüfung gewässert, ")
    assert log.checks.all()[0].outcome.verdict is CheckVerdict.PASSED
    driver.do("edit.undo")
    assert log.setup.current().moisture == "dry"


def test_the_list_of_stages_says_in_two_numbers_what_is_left_of_the_checks() -> None:
    def progress(passed: int, lapsed: int, in_doubt: int, failed: tuple[CheckKind, ...] = ()) -> str:
        checks = Mock()
        checks.passed_count.return_value, checks.lapses.return_value = passed, range(lapsed)
        checks.in_doubt.return_value, checks.failed.return_value = range(in_doubt), list(failed)
        return CHECK.progress(Mock(checks=checks))

    assert progress(1, 1, 1) == "1 passed, 2 to repeat"
    assert (progress(1, 2, 0), progress(2, 0, 1)) == ("1 passed, 2 lapsed", "2 passed, 1 in doubt")
    assert progress(3, 0, 0, (CheckKind.TWO_RODS,)) == "1 failed"


def test_a_check_grows_old_while_something_is_recorded_and_not_in_a_visit_that_is_looked_at(
    driver: Driver, demo: DemoRecorder, clock: ManualClock
) -> None:
    driver.press("Space")
    assert row(driver, CheckKind.ZERO).value == "passed"
    clock.advance_ns(2 * 24 * 3600 * NS_PER_S)
    demo.still(0.004, 5)
    driver.window.controller.marks.put("the day after the next")
    driver.window.refresh()
    assert row(driver, CheckKind.ZERO).value == "lapsed: more than 24 hours old"
    demo.end()
    driver.window.controller.marks.put("closed")
    driver.window.refresh()
    zero = row(driver, CheckKind.ZERO)
    assert zero.value == "passed" and " at " in zero.head, "with its day"
