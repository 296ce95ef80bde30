"""Taking the settled value: one key, refused with the reason, deliberate override, void with reason, marks."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel

from gui.dev.demo import DemoRecorder
from gui.model.reading_corrections import WRONG_CONDITION
from gui.model.status import Offer, status
from gui.model.wording import u_of
from gui.sound.sounds import Tone
from gui.widgets.theme import STATE_COLOURS
from logger.clock import NS_PER_S, ManualClock
from logger.metrology.context import STATED_LATER_REMARK, UNCHANGED_REMARK
from logger.settling.events import State
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.home_details import SpotDetails
from logger.visit.records.home_records import Spot
from logger.visit.records.promised_value import PROMISE_HOLDS_S
from tests.support.window_driver import Driver, Heard, raise_arm


@pytest.fixture
def demo(record: Callable[[], DemoRecorder]) -> DemoRecorder:
    return record()


@pytest.fixture
def settled(log: VisitLog, demo: DemoRecorder, open_window: Callable[[], Driver]) -> Driver:
    """Three spots, everything on, lying still at 0.27 V."""
    for name in ("Bed", "Desk", "Sofa"):
        log.spots.add(name)
    log.facts.set("condition", "everything on")
    demo.still(0.27, 20)
    return open_window()


def lie_down(driver: Driver, demo: DemoRecorder, volts: float = 0.27) -> None:
    """Go to the chosen spot, and lie still there."""
    demo.move(volts, 3.0, 3)
    demo.still(volts, 20)
    driver.window.refresh()


def test_space_takes_the_settled_value_to_the_chosen_spot(
    settled: Driver, demo: DemoRecorder, log: VisitLog, heard: Heard
) -> None:
    assert settled.window.action_bar.text().startswith("Take 0.27")
    assert "“Bed”" in settled.window.action_bar.text()
    state, value, spot = settled.window.readout._areas()
    assert settled.window.readout.tip_at(state.center()).startswith("SETTLED: The value has been steady")
    tip, budget = settled.window.readout.tip_at(value.center()), settled.window.controller.snapshot.budget
    assert (
        budget is not None
        and tip.startswith(f"± {budget.expanded_volts:.2f} V")
        and "Uncertainty budget" in tip
    )
    assert max(budget.components, key=lambda each: each.u_volts).name in tip.partition(";")[0]
    below = QPointF(spot.center().x(), spot.bottom() - 10)
    assert settled.window.readout.tip_at(spot.center()).startswith("The chosen spot.")
    assert settled.window.readout.tip_at(below).startswith("What is on.")
    QTest.mouseClick(settled.window.readout, Qt.MouseButton.LeftButton, pos=below.toPoint())
    assert settled.asked == "What is on now?"
    settled.press("Esc")
    settled.press("Down")
    lie_down(settled, demo)
    settled.press("Space")
    (reading,) = log.readings.all()
    assert (reading.spot_name, reading.condition, reading.taken) == ("Desk", "everything on", "settled")
    assert reading.volts == pytest.approx(0.27, abs=0.003)
    assert settled.message.startswith("Taken: 0.27")
    assert settled.window.pages.spots.chosen_entry() == reading, "the newest is in sight"
    assert heard.tones == [Tone.TAKEN]


def test_the_readout_shows_what_a_reading_keeps_also_where_only_the_last_seconds_count(
    settled: Driver, log: VisitLog, demo: DemoRecorder
) -> None:
    """What came before another condition was stated is no part of a reading, so that its ± is the wider."""
    snapshot = settled.window.controller.snapshot
    whole = snapshot.budget
    settled.window.controller.condition.state(EVERYTHING_OFF)
    demo.still(0.27, 6)
    settled.window.refresh()
    shown = status(snapshot)
    settled.press("Space")
    (reading,) = log.readings.all()
    assert whole is not None and reading.samples < 40
    assert (shown.volts, shown.u_volts) == pytest.approx((reading.volts, u_of(reading)), rel=1e-9)
    assert shown.u_volts is not None and shown.u_volts > whole.u_volts


def test_another_posture_than_at_the_reading_before_is_asked_about(
    settled: Driver, log: VisitLog, demo: DemoRecorder
) -> None:
    bed = log.spots.all()[0]
    log.spot_details.set(bed.id, SpotDetails("sitting upright"))
    log.readings.enter(bed.id, EVERYTHING_OFF, 0.1, 0.01)
    demo.still(0.27, 5)
    log.spot_details.set(bed.id, SpotDetails("lying flat"))
    settled.window.refresh()
    settled.press("Space")
    assert settled.asked == "The reading before at “Bed” was taken so: sitting upright. Now: lying flat."
    settled.press("Esc")
    assert len(log.readings.all()) == 1
    settled.press("Space")
    settled.answer("It was lying flat then too: correct the earlier entry")
    first, second = log.readings.all()
    assert first.details.posture == second.details.posture == "lying flat"


@pytest.mark.parametrize(
    ("keys", "spot"),
    [
        (["End", "Space"], "Sofa"),
        (["Alt+PgDown", "Alt+PgDown", "Alt+PgUp", "Space"], "Desk"),
        ([*"sof", "Space"], "Sofa"),  # the first letters of its name
        (["Down", "Down", "Down", "Down", "Up", "Space"], "Desk"),  # stops at the end of the list
    ],
)
def test_every_way_to_choose_a_spot(
    settled: Driver, demo: DemoRecorder, log: VisitLog, keys: list[str], spot: str
) -> None:
    settled.press(*keys[:-1])
    lie_down(settled, demo)  # and the time after letters in which Space may be one of a word is over
    settled.press(keys[-1])
    assert [(r.spot_name, r.by_word) for r in log.readings.all()] == [(spot, False)]


def test_settled_looks_like_go_only_while_it_may_be_taken(settled: Driver) -> None:
    readout = settled.window.readout
    theme = readout.appearance.theme

    def middle_and_edge(offer: Offer) -> tuple[str, str]:
        readout.offer = lambda: offer
        readout.refresh()
        image = readout.grab().toImage()
        middle, edge = (image.pixelColor(at, image.height() // 2).name().upper() for at in (12, 2))
        return middle, edge

    green, panel = STATE_COLOURS[State.SETTLED], theme.panel.upper()
    assert middle_and_edge(Offer.MAY_TAKE) == (green, green)
    assert middle_and_edge(Offer.NOT_YET) == (panel, green)
    assert middle_and_edge(Offer.ANSWER_FIRST) == (panel, green)


def test_the_first_value_is_asked_about_where_it_had_settled_before_its_spot_was_made(
    log: VisitLog, demo: DemoRecorder, open_window: Callable[..., Driver]
) -> None:
    """The first reading of a visit: the person lies at another place than the spot that is added then."""
    driver = open_window()
    driver.do("stage.spots")
    demo.still(1.85, 20)
    driver.window.refresh()
    controller = driver.window.controller
    assert controller.route.add_spots("Bed, left", "Bed, right")
    controller.condition.state(EVERYTHING_ON)
    demo.still(1.85, 8)
    driver.window.refresh()
    driver.press("Down")
    demo.still(1.85, 2)
    driver.window.refresh()
    driver.press("Space")
    assert driver.asked == "Nothing has moved since “Bed, right” was chosen. Is this “Bed, right”?"
    question = driver.window.question.question
    assert question is not None and "only after this value had settled" in question.text
    driver.press("Esc")
    lie_down(driver, demo, 0.85)
    driver.press("Space")
    assert [(r.spot_name, r.by_word) for r in log.readings.all()] == [("Bed, right", False)]


def test_a_silence_is_no_move_to_the_first_spot(settled: Driver, log: VisitLog, demo: DemoRecorder) -> None:
    settled.press("Down")
    demo.silence(8)
    demo.still(0.27, 20)
    settled.window.refresh()
    settled.press("Space")
    missing = "Part of the trace since “Desk” was chosen is missing; the rest shows no motion."
    assert settled.asked == f"{missing} Is this “Desk”?" and log.readings.all() == []


def test_a_spot_that_was_looked_at_changes_nothing_for_the_one_where_the_value_settled(
    settled: Driver, log: VisitLog, demo: DemoRecorder
) -> None:
    settled.press("Down")
    lie_down(settled, demo)
    settled.press("End", "Home", "Down")
    route = settled.window.controller.route
    assert route.chosen is not None
    route.remove(route.chosen)
    settled.press("Ctrl+Z", "Space")
    assert [(r.spot_name, r.by_word) for r in log.readings.all()] == [("Desk", False)]


def test_a_window_opened_while_somebody_lies_still_asks_where(
    log: VisitLog, demo: DemoRecorder, open_window: Callable[..., Driver]
) -> None:
    log.spots.add("Bed")
    log.facts.set("condition", EVERYTHING_ON)
    demo.still(0.27, 20)
    driver = open_window(is_late=True)
    driver.press("Space")
    assert driver.asked == "Nothing has moved since “Bed” was chosen. Is this “Bed”?"


def test_hands_free_takes_nothing_for_a_spot_chosen_after_the_value_settled(
    settled: Driver, log: VisitLog, demo: DemoRecorder
) -> None:
    settled.press("Down", "F7")
    demo.silence(8)
    demo.still(0.27, 30)
    settled.window.refresh()
    assert log.readings.all() == []
    demo.move(0.27, 3.0, 3)
    for _ in range(12):
        demo.still(0.27, 1)
        settled.window.refresh()
    assert [r.spot_name for r in log.readings.all()] == ["Desk"]


def test_a_held_down_key_takes_one_reading(settled: Driver, log: VisitLog) -> None:
    settled.press("Space")
    for _ in range(5):
        settled.hold(Qt.Key.Key_Space)
    assert len(log.readings.all()) == 1


def test_while_moving_it_refuses_with_the_reason_and_takes_nothing(
    settled: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    demo.move(0.27, 1.5, 3)
    settled.window.refresh()
    refusal = log.current_value.why_not_settled()
    assert refusal
    state, value, _ = settled.window.readout._areas()
    assert settled.window.readout.tip_at(state.center()).startswith("CHANGING: The value changes")
    assert settled.window.readout.tip_at(value.center()) == "", "no ± is shown"
    assert settled.window.action_bar.text() == f"Can't take the reading: {refusal}"
    settled.press("Space")
    assert log.readings.all() == []
    assert settled.message == f"Can't take the reading: {refusal}"


def test_override_takes_it_all_the_same_and_says_so(
    settled: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    demo.move(0.27, 1.5, 4)
    settled.window.refresh()
    settled.do("measure.take_unsettled")
    assert (
        settled.asked == "Take the value for “Bed” although it is not settled?" and log.readings.all() == []
    )
    settled.answer("Take it, marked as not settled")
    (reading,) = log.readings.all()
    assert reading.taken == "override"
    assert settled.message.startswith("Taken although not settled")
    assert "not settled" in settled.window.pages.spots.entries.rows[0].small_right


def test_what_is_on_is_asked_once_and_never_assumed(
    log: VisitLog, demo: DemoRecorder, open_window: Callable[[], Driver]
) -> None:
    log.spots.add("Bed")
    demo.still(0.27, 20)
    driver = open_window()
    driver.press("Space")
    assert driver.asked == "What is on now?"
    assert log.readings.all() == []
    driver.answer("Everything off")
    assert [r.condition for r in log.readings.all()] == ["everything off"]
    demo.move(0.27, 1.5, 4)
    demo.still(0.27, 20)
    driver.window.refresh()
    driver.press("Space")
    assert [r.condition for r in log.readings.all()] == ["everything off"] * 2


def test_leaving_the_question_takes_nothing(
    log: VisitLog, demo: DemoRecorder, open_window: Callable[[], Driver]
) -> None:
    log.spots.add("Bed")
    demo.still(0.27, 20)
    driver = open_window()
    driver.press("Space", "Esc")
    assert driver.asked == ""
    assert log.readings.all() == [] and log.facts.get("condition") == ""


def test_a_condition_by_name(settled: Driver, log: VisitLog, demo: DemoRecorder) -> None:
    settled.do("measure.condition")
    settled.answer("Something else: type it")
    question = settled.window.question
    question.line.clear()
    settled.type("only bre")
    for beside, letters in ((question.findChildren(QLabel)[0], "aker"), (question, " 3")):
        QTest.mouseClick(
            beside, Qt.MouseButton.LeftButton, pos=QPoint(beside.width() // 2, beside.height() - 3)
        )
        settled.type(letters)
    settled.press("Return")
    assert settled.message.endswith("Its readings count for neither “everything on” nor “everything off”.")
    settled.press("Space")
    assert log.readings.all() == [] and "before that it was “everything on”" in settled.message
    demo.still(0.27, 7)
    settled.window.refresh()
    settled.press("Space")
    assert log.readings.all()[-1].condition == "only breaker 3"
    assert log.readings.all()[-1].samples < 50, "those from before the statement do not count"
    settled.window.controller.condition.state(" Everything  OFF")
    assert log.facts.get("condition") == EVERYTHING_OFF


def test_what_was_on_in_an_earlier_recording_is_asked_once_in_the_next(
    settled: Driver, log: VisitLog, demo: DemoRecorder, clock: ManualClock, record: Callable[[], DemoRecorder]
) -> None:
    demo.end()
    clock.advance_ns(1800 * NS_PER_S)
    again = record()
    again.still(0.27, 20)
    settled.window.refresh()
    settled.press("Space")
    question = settled.window.question.question
    assert question is not None and log.readings.all() == []
    assert question.text == "“everything on” was entered for an earlier recording. Is it still everything on?"
    settled.answer("Everything on, as in the evening")
    again.still(0.27, 7)
    settled.window.refresh()
    settled.press("Space")
    assert [reading.condition for reading in log.readings.all()] == [EVERYTHING_ON] and settled.asked == ""


def test_without_a_spot_the_button_adds_a_room_whatever_the_value_does(
    log: VisitLog, demo: DemoRecorder, open_window: Callable[[], Driver]
) -> None:
    driver = open_window()
    driver.do("stage.spots")
    for seconds in (1, 20):
        demo.still(0.5, seconds)
        driver.window.refresh()
        assert driver.window.action_bar.text() == "Add a room..."
    driver.press("Space")
    assert driver.asked == "Which room?" and log.readings.all() == []


def test_what_is_on_is_asked_before_the_first_reading(
    log: VisitLog, demo: DemoRecorder, open_window: Callable[[], Driver]
) -> None:
    demo.still(0.5, 20)
    log.spots.add("Cot by the wall")
    driver = open_window()
    driver.do("stage.spots")
    driver.press("Space")
    assert driver.asked == "What is on now?"
    driver.answer("Everything on, as in the evening")
    (reading,) = log.readings.all()
    assert (reading.spot_name, reading.condition) == ("Cot by the wall", "everything on")


def test_undo_voids_the_last_with_a_reason_and_it_stays_visible(settled: Driver, log: VisitLog) -> None:
    settled.press("Space")
    settled.do("measure.void_last")
    assert settled.asked == "Why is the last reading invalid?"
    settled.answer("wrong spot")
    assert [r.void_reason for r in log.readings.all()] == ["wrong spot"]
    (row,) = settled.window.pages.spots.entries.rows
    assert row.struck and "wrong spot" in row.small
    assert settled.window.controller.readings.last_at(log.spots.all()[0].id) is None


def test_undo_with_a_reason_of_ones_own(settled: Driver, log: VisitLog) -> None:
    settled.press("Space")
    settled.do("measure.void_last")
    settled.answer("Another reason: type it")
    settled.type("cat on the bed")
    settled.press("Return")
    assert [r.void_reason for r in log.readings.all()] == ["cat on the bed"]


def test_undo_can_be_left_and_says_when_there_is_nothing(settled: Driver, log: VisitLog) -> None:
    settled.press("Space")
    settled.do("measure.void_last")
    settled.press("Esc")
    assert [r.void_reason for r in log.readings.all()] == [None]
    settled.do("measure.void_last")
    settled.answer("moved")
    assert settled.refused("measure.void_last") == "There is no reading and no mark to void."


def test_a_mark_stands_at_the_moment_of_its_key(
    settled: Driver, demo: DemoRecorder, log: VisitLog, clock: ManualClock
) -> None:
    pressed_ns = clock.utc_ns()
    settled.do("measure.mark")
    settled.type("lamp s on u m b ?")  # letters and Space are text here, no keys
    demo.still(0.27, 10)
    settled.window.refresh()
    settled.press("Return")
    (mark,) = log.marks.all()
    assert mark.text == "lamp s on u m b ?"
    assert mark.steady_utc_ns == mark.utc_ns == pressed_ns
    assert clock.utc_ns() - pressed_ns >= 9 * NS_PER_S
    assert log.readings.all() == []


def test_undo_takes_the_newer_of_mark_and_reading(settled: Driver, log: VisitLog, clock: ManualClock) -> None:
    settled.press("Space")
    clock.advance_ns(NS_PER_S)
    settled.do("measure.mark")
    settled.type("x")
    settled.press("Return", "Esc")
    settled.do("measure.void_last")
    settled.answer("mistyped")
    assert [m.void_reason for m in log.marks.all()] == ["mistyped"]
    assert [r.void_reason for r in log.readings.all()] == [None]


def test_a_spot_removed_by_another_window_is_refused(settled: Driver, log: VisitLog) -> None:
    settled.press("Down")
    with_other = VisitLog.open(log.path)
    with_other.spots.remove(log.spots.all()[1].id)
    with_other.close()
    settled.press("Space")
    assert log.readings.all() == []
    assert (
        settled.asked == "“Desk” is no longer on the list" and "removed in another window" in settled.message
    )


def test_keys_do_nothing_while_a_question_is_open(settled: Driver, log: VisitLog) -> None:
    settled.do("measure.condition")
    settled.press_at_once("Space")
    settled.press("M", "Down")
    assert settled.asked == "What is on now?"
    assert log.readings.all() == []
    assert "question" in settled.window.action_bar.text()


def test_one_still_stretch_is_not_two_spots_without_a_question(
    log: VisitLog, record: Callable[[], DemoRecorder], open_window: Callable[[], Driver]
) -> None:
    """On the user's word it is taken, from samples of its own, and marked wherever it is shown."""
    desk, bed = log.spots.add("Desk"), log.spots.add("Bed")
    log.facts.set("condition", EVERYTHING_ON)
    demo = record()
    demo.still(0.3, 20)
    driver = open_window()
    driver.press("Space")
    driver.window.controller.route.chosen_id = bed.id
    demo.still(0.3, 4)
    driver.window.refresh()
    driver.press("Space")
    assert driver.asked == "Nothing has moved since “Desk” was read with everything on. Is this “Bed”?"
    driver.press("Return")
    assert [r.spot_id for r in log.readings.all()] == [desk.id]
    driver.press("Space")
    driver.answer("Yes, take it")
    first, second = log.readings.all()
    assert second.spot_id == bed.id and second.stated_unchanged and not first.stated_unchanged
    assert first.last_line_id is not None and second.first_line_id is not None
    assert second.first_line_id > first.last_line_id
    assert second.context is not None and UNCHANGED_REMARK in second.context.remarks()


def test_a_space_within_a_word_that_is_typed_takes_nothing(settled: Driver, log: VisitLog) -> None:
    settled.type("bed, right")
    assert log.readings.all() == [] and settled.asked == ""
    assert settled.message == "You were typing, so Space took no reading. Press it again."
    settled.press("Home", "Space")
    assert len(log.readings.all()) == 1, "another key has ended the word"


def bed_read(
    log: VisitLog, demo: DemoRecorder, open_window: Callable[[], Driver], volts: float
) -> tuple[Driver, Spot]:
    """A window in which that value was taken for the bed, with everything on; and the sofa, which is not chosen."""
    log.spots.add("bed")
    sofa = log.spots.add("sofa")
    log.facts.set("condition", EVERYTHING_ON)
    demo.still(volts, 20)
    driver = open_window()
    driver.press("Space")
    assert driver.window.controller.route.chosen_id == sofa.id and "Next: “sofa”" in driver.message
    driver.press("Up")
    return driver, sofa


def test_another_spot_in_a_new_recording_that_nobody_has_moved_in_is_asked_about(
    log: VisitLog, record: Callable[[], DemoRecorder], open_window: Callable[[], Driver]
) -> None:
    demo = record()
    driver, sofa = bed_read(log, demo, open_window, 0.9)
    route = driver.window.controller.route
    for proposed in (sofa, log.spots.all()[0]):
        route.propose(proposed.id)
    demo.end()
    demo = record()
    demo.still(0.9, 12)
    driver.window.refresh()
    route.chosen_id = sofa.id
    demo.still(0.9, 4)
    driver.window.refresh()
    driver.press("Space")
    assert driver.asked == "What is on now?"
    driver.answer("Everything on, as in the evening")
    demo.still(0.9, 8)
    driver.window.refresh()
    driver.press("Space")
    assert len(log.readings.all()) == 1
    assert driver.asked.startswith("Part of the trace since “bed” was read") and driver.asked.endswith(
        "Is this “sofa”?"
    )


@pytest.mark.parametrize("way", ["Ctrl+Z", "Del or the right click"])
def test_a_voided_reading_shows_still_that_nobody_has_moved(
    log: VisitLog, record: Callable[[], DemoRecorder], open_window: Callable[[], Driver], way: str
) -> None:
    """Also after the window was opened again; and a statement that is called wrong does not go on, whatever the way."""
    demo = record()
    driver, sofa = bed_read(log, demo, open_window, 0.62)
    window = driver.window
    if way == "Ctrl+Z":
        driver.do("edit.undo")
        driver.answer(WRONG_CONDITION)
    else:
        window.controller.corrections.void(log.readings.all()[0], WRONG_CONDITION)
    assert driver.asked == "What is on now?" and window.controller.snapshot.condition == ""
    demo.still(0.62, 8)
    window.refresh()
    driver.answer("Everything off")
    demo.still(0.62, 8)
    window.refresh()
    for _ in range(2):
        window.controller.route.chosen_id = sofa.id
        window.redraw()
        assert "(nothing has moved since the voided reading of “bed” was taken)" in window.action_bar.text()
        driver.press("Space")
        assert (
            driver.asked == "Nothing has moved since the voided reading of “bed” was taken. Is this “sofa”?"
        )
        driver.press("Esc")
        driver = open_window()
        window = driver.window
    assert len(log.readings.all()) == 1


def test_what_is_on_entered_anew_within_a_still_span_is_asked_about(
    log: VisitLog, record: Callable[[], DemoRecorder], open_window: Callable[[], Driver]
) -> None:
    demo = record()
    driver, _ = bed_read(log, demo, open_window, 0.62)
    driver.window.controller.corrections.void(log.readings.all()[0], WRONG_CONDITION)
    demo.still(0.62, 8)
    driver.window.refresh()
    driver.answer("Everything off")
    demo.still(0.62, 8)
    driver.window.refresh()
    driver.press("Space")
    assert "Was it “everything off” all that time?" in driver.asked
    assert driver.window.question.question is not None
    assert "You entered what is on only after this value had settled" in driver.window.question.question.text
    driver.answer("Yes, take it")
    assert log.readings.all()[-1].by_word


def test_a_step_between_two_spots_is_no_move(
    log: VisitLog, record: Callable[[], DemoRecorder], open_window: Callable[[], Driver]
) -> None:
    """Hands-free waits on, the key asks, and the reading is marked wherever it is shown."""
    demo = record()
    driver, sofa = bed_read(log, demo, open_window, 0.62)
    driver.window.controller.route.chosen_id = sofa.id
    driver.do("measure.hands_free")
    demo.still(0.52, 20)
    driver.window.refresh()
    assert (
        len(log.readings.all()) == 1
        and "the value jumped, but nobody moved" in driver.window.action_bar.text()
    )
    countdown = driver.window.controller.hands_free.countdown()
    assert countdown is not None and countdown.text == "Hands-free: move there, hold still"
    driver.press("Space")
    assert driver.asked.startswith(
        "The trace shows a step since “bed” was read with everything on, but no motion"
    )
    driver.answer("Yes, take it")
    remark = "on the practitioner's word: only a step, no motion, since “bed” was read"
    reading = log.readings.all()[-1]
    assert reading.spot_id == sofa.id and remark in driver.window.controller.readings.remarks(reading)


def test_the_question_of_an_unmoved_value_names_it_and_keeps_it(
    log: VisitLog, record: Callable[[], DemoRecorder], open_window: Callable[[], Driver], clock: ManualClock
) -> None:
    demo = record()
    driver, sofa = bed_read(log, demo, open_window, 0.9)
    demo.still(0.9, 6)
    driver.window.refresh()
    driver.window.controller.route.chosen_id = sofa.id
    demo.still(0.9, 4)
    driver.window.refresh()
    pressed_utc_ns = clock.utc_ns()
    driver.press("Space")
    panel = driver.window.question
    assert panel.question is not None
    assert "V, whatever the meter shows meanwhile." in panel.question.text
    assert "You chose “sofa” only after this value had settled" in panel.question.text
    driver.window.redraw()
    assert driver.window.readout._status.detail == "answer the question at the right"
    demo.still(0.55, 20)
    driver.window.refresh()
    driver.answer("Yes, take it")
    reading = log.readings.all()[-1]
    assert reading.spot_id == sofa.id and reading.volts == pytest.approx(0.9, abs=0.003)
    assert reading.utc_ns == pressed_utc_ns


def test_another_condition_in_the_stretch_of_the_last_reading_is_asked_about_and_a_move_answers_it(
    log: VisitLog, record: Callable[[], DemoRecorder], open_window: Callable[[], Driver]
) -> None:
    log.spots.add("Bed")
    log.facts.set("condition", EVERYTHING_ON)
    demo = record()
    demo.still(0.3, 20)
    driver = open_window()
    driver.window.controller.readings.take()
    log.facts.set("condition", EVERYTHING_OFF)
    demo.still(0.3, 4)
    driver.window.refresh()
    assert driver.window.controller.readings.take() is None, "nor without a question that somebody answered"
    driver.press("Space")
    assert driver.asked.endswith(f"Was it switched to {EVERYTHING_OFF}?")
    driver.press("Esc")
    demo.move(0.3, 2.3, 6)
    demo.still(0.3, 20)
    driver.window.refresh()
    driver.press("Space")
    assert [(r.condition, r.stated_unchanged) for r in log.readings.all()] == [
        (EVERYTHING_ON, False), (EVERYTHING_OFF, False)
    ]  # fmt: skip


def test_on_and_off_out_of_one_flat_stretch_are_asked_about_by_keys(
    settled: Driver, log: VisitLog, demo: DemoRecorder
) -> None:
    """Nobody moves and nothing is switched: another spot or condition, and Space, take no second value."""
    settled.press("Space", "Space")  # the next spot is chosen by itself
    assert not settled.asked, "a yes could take nothing"
    assert settled.message.startswith("Nothing has moved since “Bed” was read")
    assert "Too few values have come since then. Move at “" in settled.message
    settled.press("Esc", "Up")
    settled.do("measure.condition")
    settled.answer("Everything off")
    assert log.facts.get("condition") == EVERYTHING_OFF
    demo.still(0.27, 6)
    settled.window.refresh()
    settled.press("Space")
    assert settled.asked.endswith(f"Was it switched to {EVERYTHING_OFF}?")
    settled.press("Esc", "Space", "Esc")
    assert [(r.spot_name, r.condition) for r in log.readings.all()] == [("Bed", EVERYTHING_ON)]


def test_the_bar_names_what_the_key_refuses_after_another_statement(settled: Driver, log: VisitLog) -> None:
    """What was settled before it belongs to the statement before."""
    settled.window.controller.condition.state(EVERYTHING_OFF)
    settled.window.refresh()
    bar = settled.window.action_bar.text()
    assert "What is on was changed 0 s ago" in bar and "Hold still" in bar
    settled.press("Space")
    assert log.readings.all() == [] and "What is on was changed" in settled.message


def leave_for_the_laptop(demo: DemoRecorder, driver: Driver) -> None:
    """The subject gets up while the question is open, and sits still at another value."""
    demo.move(0.3, 2.0, 4)
    demo.still(0.9, 12)
    driver.window.refresh()


def assert_kept_as_promised(log: VisitLog, pressed_utc_ns: int) -> None:
    """The one reading is the value of the moment of the key, from samples up to it, and marked as stated later."""
    (reading,) = log.readings.all()
    assert reading.volts == pytest.approx(0.3, abs=0.003) and reading.taken == "settled"
    assert reading.utc_ns == pressed_utc_ns
    assert reading.end_utc_ns is not None and reading.end_utc_ns <= pressed_utc_ns
    assert reading.context is not None and STATED_LATER_REMARK in reading.context.remarks()
    assert log.integrity().summary() == ""


def test_the_value_of_the_key_is_kept_whatever_comes_during_the_questions(
    log: VisitLog, demo: DemoRecorder, open_window: Callable[[], Driver], clock: ManualClock
) -> None:
    log.spots.add("Bed")
    demo.still(0.3, 20)
    driver = open_window()
    pressed_utc_ns = clock.utc_ns()
    driver.do("stage.spots")
    driver.press("Space")
    leave_for_the_laptop(demo, driver)
    driver.answer("Everything on")
    assert_kept_as_promised(log, pressed_utc_ns)


def test_what_is_entered_about_the_stretch_that_goes_on_bears_no_remark(
    log: VisitLog, demo: DemoRecorder, open_window: Callable[[], Driver]
) -> None:
    log.spots.add("Bed")
    demo.still(0.3, 20)
    driver = open_window()
    driver.do("stage.spots")
    assert driver.window.readout.condition_text() == "What is on? Not entered yet"
    driver.press("Space")
    assert driver.window.action_bar.name() == "Take the reading", "no other value than that of the question"
    demo.still(0.3, 4)
    driver.answer("Everything on")
    (reading,) = log.readings.all()
    assert reading.context is not None and STATED_LATER_REMARK not in reading.context.remarks()


def test_the_answers_to_what_is_on_keep_their_places(
    settled: Driver, log: VisitLog, clock: ManualClock
) -> None:
    usual = ["Everything on, as in the evening", "Everything off", "Something else: type it"]
    for stated, further in (
        (EVERYTHING_ON, []), (EVERYTHING_OFF, []), ("only breaker 3", ["Still only breaker 3"]),
    ):  # fmt: skip
        settled.window.controller.condition.state(stated)
        clock.advance_ns(2 * 3600 * NS_PER_S)
        settled.window.refresh()
        assert settled.window.readout.condition_text().startswith("What is on? Last entered ")
        settled.do("measure.condition")
        assert [b.text() for b in settled.window.question.buttons] == [*usual, *further, "Cancel"]
        settled.press("Esc")


def test_a_value_that_was_no_level_after_all_is_refused(
    log: VisitLog, demo: DemoRecorder, open_window: Callable[[], Driver]
) -> None:
    log.spots.add("Bed")
    demo.still(0.4, 40)
    driver = open_window()
    driver.do("stage.spots")
    raise_arm(demo, log, lambda: driver.press("Space"))
    assert driver.asked == "What is on now?"
    driver.answer("Everything on")
    assert log.readings.all() == [] and "The value moved meanwhile: take it again." in driver.message


def test_a_value_that_another_window_took_meanwhile_is_refused(
    log: VisitLog, demo: DemoRecorder, open_window: Callable[[], Driver]
) -> None:
    spot = log.spots.add("Bed")
    demo.still(0.3, 20)
    driver = open_window()
    driver.press("Space")
    demo.still(0.3, 5)
    log.readings.take(spot.id, EVERYTHING_ON)
    driver.answer("Everything on")
    assert len(log.readings.all()) == 1 and driver.message.startswith("Already taken in another window")


def test_what_was_taken_later_than_the_key_is_not_in_its_way(
    log: VisitLog, demo: DemoRecorder, open_window: Callable[[], Driver]
) -> None:
    bed, desk = log.spots.add("Bed"), log.spots.add("Desk")
    demo.still(0.3, 20)
    driver = open_window()
    driver.press("Space")
    leave_for_the_laptop(demo, driver)
    log.readings.take(desk.id, EVERYTHING_ON)
    driver.answer("Everything on")
    assert [(r.spot_id, round(r.volts, 1)) for r in log.readings.all()] == [(desk.id, 0.9), (bed.id, 0.3)]


def test_a_question_that_stayed_open_for_long_keeps_no_value(
    log: VisitLog, demo: DemoRecorder, open_window: Callable[[], Driver]
) -> None:
    log.spots.add("Bed")
    demo.still(0.3, 20)
    driver = open_window()
    driver.press("Space")
    demo.clock.advance_ns(round(PROMISE_HOLDS_S + 1) * NS_PER_S)
    driver.answer("Everything on")
    assert log.readings.all() == [] and "take it again" in driver.message


def test_what_was_voided_as_of_the_wrong_spot_is_not_taken_there_again_without_a_question(
    settled: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    settled.press("Space")
    (first,) = log.readings.all()
    controller = settled.window.controller
    assert controller.corrections.void(first, "wrong spot") is not None
    settled.press("Home")
    demo.still(0.27, 20)
    settled.window.refresh()
    settled.press("Space")
    assert settled.asked == "Nothing has moved since the voided reading of “Bed” was taken. Is this “Bed”?"
    assert len(log.readings.all()) == 1, "not before it is answered"


def test_why_nothing_could_be_taken_goes_once_it_can(
    settled: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    demo.move(0.27, 1.2, 3)
    settled.window.refresh()
    settled.press("Space")
    assert settled.message.startswith("Can't take")
    demo.still(0.5, 40)
    settled.window.refresh()
    assert settled.window.action_bar.button.isEnabled() and settled.message == ""
