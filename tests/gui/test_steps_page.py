"""Steps are named while they come: keys through a real window, on a recorder's own detection."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QPushButton

from gui.dev.demo import DemoRecorder
from gui.model.stages import SOURCES
from gui.shell.question import Choice, Question
from gui.sound.sounds import Tone
from gui.stages.sources.source_prompts import ask_where_plugged_in
from gui.stages.sources.steps_page import StepsPage
from gui.widgets.theme import REDDISH_PURPLE
from logger.settling.events import Step
from logger.sweep.confirmation import ConfirmationVerdict
from logger.sweep.step_causes import StepCause
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from tests.support.drawn_text import drawn_texts
from tests.support.window_driver import Driver, Heard


@pytest.fixture
def demo(record: Callable[[], DemoRecorder]) -> DemoRecorder:
    demo = record()
    demo.still(0.40, 20)
    return demo


@pytest.fixture
def driver(open_window: Callable[[], Driver], demo: DemoRecorder, log: VisitLog) -> Driver:
    """Lying on the bed, on the stage Sources; a lamp and a heater are on the list."""
    log.spots.add("Bed, lying down")
    log.circuits.add("cord", "Heater")
    log.circuits.add("cord", "Lamp")
    driver = open_window()
    driver.do("stage.sources")
    return driver


def page(driver: Driver) -> StepsPage:
    return driver.window.pages.sources.steps


def switch(driver: Driver, demo: DemoRecorder, volts: float) -> None:
    """Something is switched while the body lies still, and the window has shown it for longer than a key is refused."""
    demo.still(volts, 13.5)
    driver.window.refresh()
    demo.still(volts, 1.5)


def test_a_step_that_nobody_saw_shows_between_which_times_it_lies(driver: Driver, demo: DemoRecorder) -> None:
    switch(driver, demo, 0.75)
    (known,) = page(driver).step_controller.unlabelled()
    seen_s = known.found.step.time_s
    unseen = replace(known, found=replace(known.found, unseen_s=(seen_s - 10.0, seen_s + 12.0)))
    rows = page(driver)._rows
    begun, ended = rows.question_text(unseen).partition(" between ")[2].removesuffix("?").split(" and ")
    apart = datetime.strptime(ended, "%H:%M:%S") - datetime.strptime(begun, "%H:%M:%S")
    seen = rows.question_text(known).partition(" at ")[2].removesuffix("?")
    assert seen not in (begun, ended) and 21 <= apart.seconds <= 23
    assert (
        rows.clock_with_mark(unseen) == f"between {begun} and {ended}" and rows.clock_with_mark(known) == seen
    )


def test_off_on_off_with_motion_in_between_is_confirmed_with_one_key_a_step(
    driver: Driver, demo: DemoRecorder
) -> None:
    keys: list[int] = []

    def press(*names: str) -> None:
        keys.append(len(names))
        driver.press(*names)

    switch(driver, demo, 0.75)
    driver.do("steps.which")
    driver.answer("Lamp on")
    assert driver.message == "+0.35 V: Lamp on"
    demo.move(0.75, 2.0, 5)
    demo.still(0.80, 15)  # not quite as it lay before
    switch(driver, demo, 0.45)
    assert "Label −0.35 V: Lamp off" in driver.window.action_bar.text()
    press("Space")
    switch(driver, demo, 0.80)
    press("Space")
    switch(driver, demo, 0.45)
    press("Space")
    ((source, effect),) = page(driver).step_controller.effects()
    assert (source.name, effect.verdict, effect.ons, effect.offs) == (
        "Lamp",
        ConfirmationVerdict.CONFIRMED,
        2,
        2,
    )
    assert effect.volts == pytest.approx(0.35, abs=0.02)
    assert keys == [1, 1, 1]
    row = next(row for row in page(driver).list.rows if row.head == "Lamp")
    assert row.small_right == "confirmed (on 2, off 2)" and not row.note


def test_a_step_that_was_passed_over_is_not_named_by_one_key_too_many(
    driver: Driver, demo: DemoRecorder
) -> None:
    switch(driver, demo, 0.75)
    switch(driver, demo, 0.40)
    driver.do("steps.which")
    driver.answer("Lamp off")
    assert driver.window.action_bar.text() == "Label the +0.35 V change"
    driver.press("Space")
    assert driver.asked.startswith("What was +0.35") and len(page(driver).step_controller.unlabelled()) == 1
    driver.press("Esc", "Down", "Space")
    assert driver.message == "+0.35 V: Lamp on"


def test_a_key_that_was_meant_for_another_change_does_not_count(driver: Driver, demo: DemoRecorder) -> None:
    switch(driver, demo, 0.75)
    switch(driver, demo, 0.40)
    driver.do("steps.which")
    driver.answer("Lamp off")
    demo.still(0.75, 15)
    driver.window.refresh()  # the older change was asked about until now
    driver.press("Space")
    assert driver.message.startswith("The button has just changed to “Label +0.35 V: Lamp on”")
    demo.still(0.75, 1.5)
    driver.press("Space")
    assert driver.message == "+0.35 V: Lamp on"


def test_a_name_is_offered_only_where_size_and_sign_agree(driver: Driver, demo: DemoRecorder) -> None:
    switch(driver, demo, 0.75)
    assert driver.window.action_bar.text() == "Label the +0.35 V change", "nothing has a name yet"
    driver.do("steps.which")
    driver.answer("Lamp on")
    for volts, offered in (
        (0.60, "Label the −0.15 V change"),  # another size
        (1.00, "Label the +0.40 V change"),  # another sign
        (0.63, "Label −0.37 V: Lamp off"),
    ):
        switch(driver, demo, volts)
        assert driver.window.action_bar.text() == offered


def test_ignored_steps_are_not_counted_as_named(driver: Driver, demo: DemoRecorder) -> None:
    switch(driver, demo, 0.75)
    driver.do("steps.which")
    driver.answer("Lamp on")
    switch(driver, demo, 0.60)
    driver.do("steps.ignore")
    assert SOURCES.progress(driver.window.controller) == "1 step named"


def test_what_is_missing_is_said(driver: Driver, demo: DemoRecorder) -> None:
    switch(driver, demo, 0.75)
    driver.do("steps.which")
    driver.answer("Lamp on")
    row = next(row for row in page(driver).list.rows if row.head == "Lamp")
    assert (
        row.small_right == "not confirmed (on 1, off 0)" and row.note == "Switch it off again to confirm it."
    )


def test_nothing_is_offered_to_choose_from_where_nothing_is(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    for source in log.circuits.all():
        log.circuits.remove(source.id)
    switch(driver, demo, 0.75)
    driver.do("steps.which")
    question = driver.window.question.question
    assert question is not None and not question.answers and "Choose" not in question.text


def test_type_ahead_takes_the_first_match_and_a_new_name_is_added(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    switch(driver, demo, 0.75)
    driver.do("steps.which")
    question = driver.window.question
    QApplication.processEvents()
    places = [button.pos() for button in question.buttons]
    driver.type("la")
    QApplication.processEvents()
    assert [button.pos() for button in question.buttons] == places, (
        "no button moves when a line appears above it"
    )
    assert "Enter takes “Lamp”." in driver.window.question._suggested.text()
    driver.press("Return")
    assert driver.message == "+0.35 V: Lamp on"
    switch(driver, demo, 1.0)
    driver.do("steps.which")
    driver.type("Aquarium")
    assert "“Aquarium” is new" in driver.window.question._suggested.text()
    driver.press("Return")
    assert driver.asked == "What is “Aquarium”?"
    driver.answer("A circuit (a breaker)")
    assert "Aquarium on" in driver.message and "(keeps animals alive)" in driver.message
    assert log.circuits.all()[-1].kind == "circuit" and log.circuits.all()[-1].stays


def test_a_digit_is_typed_behind_a_space(driver: Driver, demo: DemoRecorder, log: VisitLog) -> None:
    switch(driver, demo, 0.75)
    driver.do("steps.which")
    driver.type(" 2nd floor")
    driver.press("Return", "Down", "Return")
    assert log.circuits.all()[-1].name == "2nd floor"


def test_the_direction_can_be_turned_round(driver: Driver, demo: DemoRecorder) -> None:
    """A circuit on the other leg: the value falls when it is switched on."""
    switch(driver, demo, 0.25)
    driver.do("steps.which")
    driver.answer("It was on, not off", "Lamp on")
    assert driver.message == "−0.15 V: Lamp on"
    switch(driver, demo, 0.40)
    assert driver.window.action_bar.text() == "Label the +0.15 V change", (
        "a rise is never proposed as off, nor a drop as on: that is asked"
    )
    driver.press("Space")
    driver.answer("Lamp off")
    assert driver.message == "+0.15 V: Lamp off"
    ((_, effect),) = page(driver).step_controller.effects()
    assert effect.volts == pytest.approx(-0.15, abs=0.02) and effect.verdict is ConfirmationVerdict.CONFIRMED
    driver.press(*["Down"] * 3)  # past the two cords to the newest named step
    driver.do("steps.reverse")
    assert driver.message == "+0.15 V: Lamp on"


def test_ignored_and_taken_back(driver: Driver, demo: DemoRecorder, log: VisitLog) -> None:
    switch(driver, demo, 0.75)
    driver.do("steps.ignore")
    assert driver.message == "+0.35 V is ignored" and not page(driver).step_controller.unlabelled()
    assert page(driver).detail.text() == "No step waits for a name. Lie still while somebody else switches."
    assert driver.window.action_bar.text() == "Go on to the breakers", (
        "its time runs, and nobody waits for an ignored change"
    )
    driver.do("edit.undo")
    assert len(page(driver).step_controller.unlabelled()) == 1
    driver.do("steps.remove", "edit.undo", "steps.which")
    driver.answer("Lamp on")
    driver.do("edit.undo")
    assert (
        len(page(driver).step_controller.unlabelled()) == 1 and page(driver).step_controller.effects() == []
    )
    switch(driver, demo, 0.40)
    assert len(page(driver).step_controller.unlabelled()) == 2
    driver.do("steps.ignore_all")
    assert driver.message == "2 steps are ignored"
    driver.do("edit.undo")
    assert len(page(driver).step_controller.unlabelled()) == 2


def test_a_word_of_an_earlier_window_can_be_taken_back(
    driver: Driver, demo: DemoRecorder, open_window: Callable[[], Driver]
) -> None:
    switch(driver, demo, 0.75)
    driver.do("steps.which")
    driver.answer("Lamp on")
    other = open_window()
    other.do("stage.sources", "steps.unlabel")
    assert other.message == "+0.35 V waits for a name again"


def test_an_older_step_can_be_chosen(driver: Driver, demo: DemoRecorder) -> None:
    for volts in (0.75, 0.40, 0.95):
        switch(driver, demo, volts)
    driver.press("Down", "Down")
    driver.do("steps.which")
    driver.answer("Heater off")
    assert driver.message == "−0.35 V: Heater off"
    assert [k.change_volts > 0 for k in page(driver).step_controller.unlabelled()] == [True, True]


def test_a_new_step_is_heard_on_this_stage_only(driver: Driver, demo: DemoRecorder, heard: Heard) -> None:
    heard.tones.clear()
    switch(driver, demo, 0.75)
    assert heard.tones.count(Tone.STEP) == 1
    assert heard.spoken[0].startswith("step, plus zero point three")
    driver.do("stage.spots")
    switch(driver, demo, 0.40)
    driver.do("stage.sources", "view.sound")
    switch(driver, demo, 0.75)
    assert heard.tones.count(Tone.STEP) == 1


def test_the_list_is_edited_with_one_key_each(driver: Driver, log: VisitLog) -> None:
    driver.do("steps.add")
    driver.answer("A circuit (a breaker)")
    for name in ("Bedroom", "Sump pump"):
        driver.type(name)
        driver.press("Return")
    driver.press("Esc")
    assert [s.name for s in log.circuits.all()] == ["Heater", "Lamp", "Bedroom", "Sump pump"]
    assert log.circuits.all()[-1].stays == "is a pump"
    driver.press("Down", "Down")
    driver.do("steps.circuit")
    driver.answer("Bedroom")
    assert log.circuits.all()[1].circuit_id == log.circuits.all()[2].id
    driver.do("steps.essential")
    assert log.circuits.all()[1].stays
    driver.press("Down")
    driver.do("steps.two_pole", "steps.rename")
    driver.type("Bedroom outlets")
    driver.press("Return")
    assert (log.circuits.all()[2].name, log.circuits.all()[2].two_pole) == ("Bedroom outlets", True)
    driver.do("steps.remove")
    assert [s.name for s in log.circuits.all()] == ["Heater", "Lamp", "Sump pump"]
    driver.do("edit.undo")
    assert len(log.circuits.all()) == 4


def test_a_step_that_the_detector_takes_back_is_told(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    live = log.recorder.live()
    assert live is not None
    lamp = log.circuits.all()[1]
    log.step_labels.add(live.run_id, Step(7.0, 0.3, 0.6, 0.01, 9.0), None, "on", lamp.id)
    driver.window.controller.refresh(force=True)
    driver.window.automatic_actions.announce_steps()
    driver.window.redraw()
    assert (
        "counts the step of Lamp" in driver.message
        and "counts the step of Lamp" in page(driver).detail.text()
    )


def test_nothing_waits(driver: Driver) -> None:
    for action_id in ("steps.which", "steps.reverse", "steps.ignore", "steps.ignore_all"):
        assert driver.refused(action_id)
    assert driver.window.action_bar.text() == "Go on to the breakers"
    driver.press("Space")
    assert driver.window.pages.sources.page.place == "sources.breakers"


def test_the_cautions_stand_on_the_page(driver: Driver) -> None:
    text = page(driver).list.rows[-1].note
    for word in (
        "licensed electrician",
        "local electrical codes",
        "medical devices",
        "Sensitive",
        "live conductor",
    ):
        assert word in text


def test_a_step_that_is_not_sure_yet_says_how_long_to_leave_it(
    driver: Driver, demo: DemoRecorder, heard: Heard
) -> None:
    """A higher level that is left again at once may have been a raised arm: the detector takes it back."""
    switch(driver, demo, 0.75)
    assert page(driver).detail.text().endswith("You can label this change now.")
    driver.do("steps.which")
    driver.answer("Lamp on")
    assert " V is still being measured: leave everything as it is, " in page(driver).detail.text()
    assert "label this change" not in page(driver).detail.text()
    assert "still being measured: leave everything as it is." in driver.window.action_bar.text()
    demo.still(0.75, 12)
    driver.window.refresh()
    assert "certain" not in page(driver).detail.text() and heard.spoken[-1] == "Lamp on is sure"


def test_the_trace_says_what_steps_were(driver: Driver, demo: DemoRecorder) -> None:
    def labels() -> set[str]:
        return {each.text for each in drawn_texts(driver.window.trace)}

    switch(driver, demo, 0.75)
    assert "+0.35 V which?" in labels()
    driver.do("stage.spots")
    assert "+0.35 V" in labels()
    driver.do("stage.sources", "steps.which")
    driver.answer("Lamp on")
    assert "+0.35 V Lamp on" in labels()
    driver.press("Down", "Down", "Down")
    driver.do("steps.ignore")
    assert not any("0.35" in label for label in labels()), "an ignored step is pale and says nothing"
    assert REDDISH_PURPLE not in colours_of(driver)


def colours_of(driver: Driver) -> set[str]:
    image = driver.window.trace.grab().toImage()
    return {
        image.pixelColor(x, y).name().upper()
        for x in range(image.width())
        for y in range(0, image.height(), 4)
    }


def test_steps_of_a_simulation_are_marked(
    open_window: Callable[[], Driver], record: Callable[[str], DemoRecorder], log: VisitLog
) -> None:
    practice = record("sim://house")
    practice.still(0.40, 20)
    log.spots.add("Bed, lying down")
    log.circuits.add("cord", "Lamp")
    driver = open_window()
    driver.do("stage.sources")
    switch(driver, practice, 0.75)
    driver.do("steps.which")
    driver.answer("Lamp on")
    switch(driver, practice, 0.40)
    driver.do("steps.which")
    driver.answer("Lamp off")
    rows = [row for row in page(driver).list.rows if row.value]
    assert len(rows) == 3 and all("simulated" in f"{row.small} {row.small_right}" for row in rows)


def test_the_list_has_the_room_and_nothing_is_cut(driver: Driver, demo: DemoRecorder) -> None:
    """One step without a name, one with a name, and fifteen steps, in three windows."""
    steps = page(driver)

    def look() -> None:
        for size, rows in (((1366, 740), 4), ((1280, 720), 4), ((1024, 572), 2)):
            driver.window.resize(*size)
            driver.window.refresh()
            QApplication.processEvents()
            assert squeezed_parts(steps) == [], size
            assert steps.height() <= steps.room_height(), f"the page scrolls in {size}"
            assert whole_rows(steps) >= min(rows, len(steps.list.rows) - 1), size
            tops = {button.y() for button in steps._buttons.findChildren(QPushButton)}
            assert len(tops) <= 2, size

    switch(driver, demo, 0.75)
    look()
    driver.do("steps.which")
    driver.answer("Lamp on")
    look()
    for at in range(14):
        demo.still((0.45, 0.80)[at % 2], 15)
    look()


def whole_rows(steps: StepsPage) -> int:
    """How many rows of the list are in sight from their first to their last line."""
    rows = [at for at in range(steps.list.count()) if steps.list.row_at(at) is not None]
    return sum(steps.list._is_whole(at) for at in rows)


def squeezed_parts(steps: StepsPage) -> list[str]:
    """The parts of the page that have less than they need, or lie over the one above."""
    out, above = [], 0
    for at in range(steps.column.count()):
        part = steps.column.itemAt(at).widget()
        if part is None or part.isHidden():
            continue
        box = part.geometry()
        needed = (
            part.heightForWidth(box.width()) if part.hasHeightForWidth() else part.minimumSizeHint().height()
        )
        if box.top() < above or box.height() < needed or box.bottom() > steps.height():
            out.append(f"{type(part).__name__} {box} needs {needed}, page {steps.height()}")
        above = box.bottom()
    return out


def test_a_step_between_two_conditions_of_a_spot_waits_for_no_name_and_can_have_one(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    (bed,) = log.spots.all()
    log.readings.take(bed.id, EVERYTHING_ON)
    switch(driver, demo, 0.75)
    assert len(page(driver).step_controller.unlabelled()) == 1, "no reading shows yet what it was"
    log.readings.take(bed.id, EVERYTHING_OFF)
    driver.window.refresh()
    driver.window.controller.refresh(force=True)
    steps = page(driver)
    steps.refresh()
    (explained,) = steps.step_controller.explained()
    assert explained.cause is StepCause.SWEEP and not steps.step_controller.unlabelled()
    steps.selection.choose(explained)
    driver.do("steps.which")
    driver.answer("Lamp on")
    assert driver.message == "+0.35 V: Lamp on" and not steps.step_controller.explained()


@pytest.mark.parametrize("chosen_by", ["the window", "the user"])
def test_a_walk_is_no_unknown_switching_while_nothing_is_read_at_the_next_spot(
    driver: Driver, demo: DemoRecorder, log: VisitLog, chosen_by: str
) -> None:
    bed, desk = log.spots.all()[0], log.spots.add("Desk")
    log.readings.take(bed.id, EVERYTHING_ON)
    driver.window.controller.refresh(force=True)
    route, steps = driver.window.controller.route, page(driver)
    if chosen_by == "the user":
        route.chosen_id = desk.id
    else:
        route.propose(desk.id)
    demo.move(0.4, 2.0, 5)
    demo.still(0.80, 15)
    driver.window.refresh()
    (known,) = [one for one in steps.step_controller.known() if one.label is None]
    if chosen_by == "the user":
        assert known.cause is StepCause.SPOT and not steps.step_controller.unlabelled()
    else:
        assert steps.banner.accessibleName().endswith("Did you go to “Desk”?"), (
            "it may be a lamp all the same"
        )
    first = log.readings.take(desk.id, EVERYTHING_OFF)
    driver.window.controller.refresh(force=True)
    (known,) = steps.step_controller.explained()
    assert known.cause is StepCause.SPOT
    driver.window.controller.corrections.move(first, bed, "wrong spot")
    driver.window.controller.refresh(force=True)
    (known,) = steps.step_controller.explained()
    assert known.cause is StepCause.MOVED_OR_SWEEP, "the trace shows that somebody moved"


def test_a_move_is_answered_as_one_and_its_spot_can_be_chosen(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    bed, desk, sofa = log.spots.all()[0], log.spots.add("Desk"), log.spots.add("Sofa")
    log.readings.take(bed.id, EVERYTHING_ON)
    driver.window.controller.refresh(force=True)
    steps, route = page(driver), driver.window.controller.route
    route.propose(desk.id)
    demo.move(0.4, 2.0, 5)
    demo.still(0.80, 15)
    driver.window.refresh()
    driver.do("steps.which")
    question = driver.window.question.question
    assert question is not None
    assert [one.text for one in question.answers][:2] == [
        "Yes, I went to “Desk”",
        "I went to another spot...",
    ]
    assert question.answers[-1].text == "It was at another spot..."
    driver.answer("Yes, I went to “Desk”")
    assert driver.message == "+0.40 V: you went to “Desk”. It needs no label."
    assert not steps.step_controller.unlabelled() and log.step_labels.all()[-1].meaning == "ignored"
    driver.do("edit.undo")
    driver.do("steps.which")
    driver.answer("I went to another spot...", "Sofa")
    assert not steps.step_controller.unlabelled() and route.chosen_id == sofa.id
    driver.do("edit.undo")
    route.propose(desk.id)
    driver.window.refresh()
    driver.do("steps.which")
    driver.answer("It was at another spot...", "Sofa")
    question = driver.window.question.question
    assert question is not None and "It is filed at “Sofa”." in question.text
    driver.answer("Lamp on")
    newest = log.step_labels.all()[-1]
    assert (newest.meaning, newest.spot_id) == ("on", sofa.id)
    driver.do("edit.undo")
    assert len(steps.step_controller.unlabelled()) == 1, "label and spot are one edit"


def test_a_label_is_of_the_spot_where_the_body_was(driver: Driver, demo: DemoRecorder, log: VisitLog) -> None:
    """The next spot is chosen by the window after a reading: who has not moved still is at the one that was read."""
    lamp = log.circuits.all()[1]
    steps, route = page(driver).step_controller, driver.window.controller.route

    def label(on: bool) -> int | None:
        driver.window.refresh()
        steps.label(steps.unlabelled()[0], lamp, on)
        return log.step_labels.all()[-1].spot_id

    demo.still(0.40, 15)
    bed, desk = log.spots.all()[0], log.spots.add("Desk")
    driver.window.refresh()
    log.readings.take(bed.id, EVERYTHING_ON)
    driver.window.controller.refresh(force=True)
    route.chosen_id = desk.id
    switch(driver, demo, 0.75)
    assert label(True) == bed.id
    assert "It is filed at “Bed, lying down”, where the body was then" in driver.message
    demo.move(0.75, 2.0, 5)
    demo.still(0.80, 15)
    switch(driver, demo, 0.45)
    assert label(False) == desk.id and "filed" not in driver.message


def test_a_lamps_other_half_is_where_the_user_said_that_the_first_was(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    lamp, bed, desk, sofa = (
        log.circuits.all()[1],
        log.spots.all()[0],
        log.spots.add("Desk"),
        log.spots.add("Sofa"),
    )
    steps, route = page(driver).step_controller, driver.window.controller.route
    demo.still(0.40, 15)
    driver.window.refresh()
    route.chosen_id = desk.id
    driver.window.refresh()
    switch(driver, demo, 0.75)
    driver.do("steps.which")
    driver.answer("It was at another spot...", bed.name)
    driver.answer("Lamp on")
    switch(driver, demo, 0.40)
    driver.window.refresh()
    steps.label(steps.unlabelled()[0], lamp, False)
    assert [label.spot_id for label in log.step_labels.all()] == [bed.id, bed.id]
    route.chosen_id = sofa.id
    driver.window.refresh()
    switch(driver, demo, 0.75)
    driver.window.refresh()
    steps.label(steps.unlabelled()[0], lamp, True)
    assert log.step_labels.all()[-1].spot_id == sofa.id, "the spot was chosen after it was said"


def test_a_label_at_a_spot_that_reads_something_else_is_asked_about_and_can_be_moved(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    """The person went to bed, and the spot read before is still the chosen one."""
    bed, centre = log.spots.all()[0], log.spots.add("Centre")
    driver.window.refresh()
    driver.window.controller.route.chosen_id = centre.id
    driver.window.controller.condition.state(EVERYTHING_ON)
    demo.still(0.21, 15)
    driver.window.refresh()
    log.readings.take(centre.id, EVERYTHING_ON)
    demo.move(0.21, 2.0, 5)
    demo.still(0.24, 15)
    driver.window.refresh()
    driver.do("steps.ignore_all")
    switch(driver, demo, 1.85)
    driver.do("steps.which")
    question = driver.window.question.question
    assert question is not None and "It is filed at “Centre”." in question.text
    driver.answer("Lamp on")
    assert driver.asked == "Where was the person when “Lamp on” came?"
    question = driver.window.question.question
    assert question is not None and "“Centre” was read as 0.21 V with everything on" in question.text
    driver.answer("Bed, lying down")
    assert log.step_labels.all()[-1].spot_id == bed.id
    driver.do("edit.undo")
    assert log.step_labels.all()[-1].spot_id == centre.id
    switch(driver, demo, 0.22)
    driver.press("Space")
    driver.press("Esc")
    labelled = page(driver).step_controller.labelled()[0]
    page(driver).selection.choose(labelled)
    driver.do("steps.spot")
    driver.answer("Bed, lying down")
    assert log.step_labels.all()[-1].spot_id == bed.id


def test_a_click_on_the_name_of_the_spot_asks_for_the_spot_and_one_below_it_what_is_on(
    driver: Driver, log: VisitLog
) -> None:
    log.spots.add("Desk")
    driver.window.controller.refresh(force=True)
    readout = driver.window.readout
    right = readout.width() - 40
    QTest.mouseClick(readout, Qt.MouseButton.LeftButton, pos=QPoint(right, readout.height() // 3))
    assert driver.asked == "At which spot is the person now?"
    driver.answer("Desk")
    chosen = driver.window.controller.route.chosen
    assert chosen is not None and chosen.name == "Desk" and "“Desk”" in driver.message
    QTest.mouseClick(readout, Qt.MouseButton.LeftButton, pos=QPoint(right, readout.height() - 12))
    assert driver.asked == "What is on now?"


def test_a_step_before_any_spot_was_listed_is_of_no_spot(
    demo: DemoRecorder, log: VisitLog, open_window: Callable[[], Driver]
) -> None:
    log.circuits.add("cord", "Lamp")
    driver = open_window()
    switch(driver, demo, 0.75)
    driver.window.controller.route.add_spots("Bed")
    driver.do("stage.sources", "steps.which")
    driver.answer("Lamp on")
    assert log.step_labels.all()[-1].spot_id is None and "without a spot" in driver.message


def test_a_cord_is_asked_once_where_it_is_plugged_in(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    """The report must not call live what nobody stated to be so."""
    asked: list[str] = []
    page = driver.window.pages.sources
    page.question_requested.connect(lambda question: asked.append(question.title))
    sweep = driver.window.sweep_controller
    ask_where_plugged_in(sweep, page.question_requested.emit)
    assert not asked, "no circuit is listed yet"
    log.circuits.add("circuit", "Bedroom outlets")
    ask_where_plugged_in(sweep, page.question_requested.emit)
    assert driver.asked == "Where is “Heater” plugged in?"
    driver.answer("Bedroom outlets")
    assert driver.asked == "Where is “Lamp” plugged in?"
    driver.answer("Not known")
    heater, lamp = (source for source in log.circuits.all() if source.kind == "cord")
    assert not heater.circuit_is_open and lamp.circuit_is_open
    ask_where_plugged_in(sweep, page.question_requested.emit)
    assert len(asked) == 2


def test_a_step_that_was_stated_is_offered_as_no_cord(driver: Driver, demo: DemoRecorder) -> None:
    """Everything off is as large as the lamp, and is entered only once somebody is back from the panel."""
    switch(driver, demo, 0.75)
    driver.do("steps.which")
    driver.answer("Lamp on")
    switch(driver, demo, 0.40)
    assert "Lamp off" in driver.window.action_bar.text()
    demo.still(0.40, 20)
    driver.window.refresh()
    driver.window.controller.condition.state(EVERYTHING_OFF)
    driver.window.controller.refresh(force=True)
    steps = page(driver)
    steps.refresh()
    (explained,) = steps.step_controller.explained()
    assert explained.cause is StepCause.STATED
    put_aside = (
        "1 change has no name because you entered what is on at that moment. If it was something else, choose it below "
        "and name it."
    )
    assert driver.window.action_bar.text() == "Go on to the breakers"
    assert steps.detail.text() == put_aside and steps._all_the_same.isVisible()
    assert "What is on was entered then: 1" in [
        getattr(row, "text", "") for row in steps.list.row_model.items
    ]
    driver.do("steps.all_the_same")
    assert driver.asked.startswith("What was −0.35 V at ")
    assert not steps.detail.text(), "what is said of other changes would be taken for the one on the card"
    assert steps.selection.guess(explained) is None, "it may still be given a name, and none is offered"
    driver.answer("Lamp off")
    assert driver.message == "−0.35 V: Lamp off" and not steps._all_the_same.isVisible()


@pytest.mark.parametrize("after_s", [5, 44])
def test_a_lamp_that_is_pulled_after_what_is_on_was_entered_is_asked_about(
    driver: Driver, demo: DemoRecorder, after_s: int
) -> None:
    switch(driver, demo, 0.75)
    driver.do("steps.which")
    driver.answer("Lamp on")
    driver.window.controller.condition.state(EVERYTHING_ON)
    demo.still(0.75, after_s)
    switch(driver, demo, 0.40)
    driver.window.controller.refresh(force=True)
    page(driver).refresh()
    assert (
        len(page(driver).step_controller.unlabelled()) == 1 and not page(driver).step_controller.explained()
    )
    assert "Lamp off" in driver.window.action_bar.text()


def test_a_step_of_another_size_than_those_of_the_cord_so_far_is_asked_about(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    switch(driver, demo, 0.75)
    driver.do("steps.which")
    driver.answer("Lamp on")
    switch(driver, demo, 0.05)
    driver.do("steps.which")
    driver.answer("Lamp off")
    assert driver.asked == "Was it “Lamp off”?" and len(log.step_labels.all()) == 1
    question = driver.window.question.question
    assert question is not None and "“Lamp” changed the value by +0.35 ± " in question.text
    assert "by this step it would be +0.70 ± " in question.text
    driver.answer("It was “Lamp off”")
    assert driver.message == "−0.70 V: Lamp off"


def test_a_question_with_a_list_and_a_line_has_one_button_that_answers(driver: Driver) -> None:
    given: list[str] = []
    names = tuple(f"Spot {number}" for number in range(1, 9))
    driver.window.question.ask(
        Question(
            "Which spot?",
            answers=tuple(Choice(name, lambda name=name: given.append(name)) for name in names),  # type: ignore[misc]
            on_text=lambda text: given.append(text),
            enter_text="That spot",
        )
    )
    panel = driver.window.question
    assert [button.text() for button in panel.buttons] == ["That spot", "Cancel"]
    assert panel.line is not None and panel.list is not None
    driver.type("Sp")
    panel.list.setCurrentRow(2)
    assert panel.line.text() == "", "one answer is meant at a time"
    driver.answer("That spot")
    assert given == ["Spot 3"]
