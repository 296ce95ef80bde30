"""Space without a switching: nothing is taken from a still stretch that another reading rests on, without a word."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from gui.dev.demo import DemoRecorder
from gui.model.status import status
from gui.model.wording import volts_text
from gui.stages.sources.tonight_page import TonightPage
from gui.widgets.badge import BAD
from logger.sweep.sweep_progress import combination_of
from logger.sweep.switch_off_plan import PlanState
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from tests.support.swept_window import House, add_circuits, page_of, read_what_is_left, worked_out

QUESTION = "The value has not changed"
OLD_QUESTION = "The value is still the one from before"


def press_space_and_wait(house: House, volts: float, seconds: int = 12) -> None:
    """Switch nothing, press Space, lie still."""
    house.driver.window.refresh()
    house.driver.press("Space")
    for _ in range(seconds):
        house.demo.still(volts, 1)
        house.driver.window.refresh()


def test_a_first_reading_out_of_a_stretch_that_is_older_than_the_question_is_asked_about(
    house: House,
) -> None:
    driver, log = house.driver, house.log
    house.demo.still(1.07, 37)
    add_circuits(house)
    press_space_and_wait(house, 1.07)
    assert driver.asked.startswith(OLD_QUESTION) and log.readings.all() == []
    question = driver.window.question.question
    assert question is not None
    now = status(driver.window.controller.snapshot)
    assert f"The meter shows {volts_text(now.volts or 0.0, now.u_volts)} V." in question.text
    driver.answer("Read again: switch it now")
    assert driver.asked == "" and log.readings.all() == []
    assert driver.window.sweep_controller.what_to_switch() == "Everything off except Refrigerator."
    # Now it is really switched.
    house.read()
    assert [(r.condition, r.stated_unchanged) for r in log.readings.all()] == [(EVERYTHING_OFF, False)]


def test_the_first_reading_of_a_sweep_at_a_spot_chosen_after_the_value_settled_is_asked_about(
    house: House,
) -> None:
    """Switched it was, and the person lies elsewhere."""
    driver, log = house.driver, house.log
    add_circuits(house)
    log.spots.add("Desk")
    driver.window.refresh()
    driver.window.controller.refresh(force=True)
    driver.window.controller.route.choose_along(1)
    press_space_and_wait(house, 0.05)
    assert log.readings.all() == [] and driver.asked.endswith("Is this “Desk”?")
    assert "since “Desk” was chosen" in driver.asked


def test_a_second_condition_on_the_stretch_of_the_first_needs_the_users_word_which_is_kept(
    house: House,
) -> None:
    driver, log = house.driver, house.log
    add_circuits(house)
    house.read()
    dark = log.readings.all()[0].volts
    press_space_and_wait(house, dark)
    assert driver.asked.startswith(f"{QUESTION} since “{EVERYTHING_OFF}” was read")
    assert len(log.readings.all()) == 1
    driver.answer("Yes, it was switched and nothing changed")
    assert [(r.condition, r.stated_unchanged) for r in log.readings.all()] == [
        (EVERYTHING_OFF, False),
        ("only Bedroom on", True),
    ]


def test_what_the_meter_shows_while_the_question_is_open_is_not_taken(house: House) -> None:
    driver, log = house.driver, house.log
    add_circuits(house)
    house.read()
    dark = log.readings.all()[0].volts
    press_space_and_wait(house, dark)
    house.demo.move(dark, 2.0, 4)
    house.demo.still(0.9, 12)
    driver.window.refresh()
    driver.answer("Yes, it was switched and nothing changed")
    assert log.readings.all()[-1].stated_unchanged
    assert log.readings.all()[-1].volts == pytest.approx(dark, abs=0.01)


def test_a_repeat_on_the_same_stretch_is_asked_about(house: House) -> None:
    driver, log = house.driver, house.log
    add_circuits(house)
    house.read()
    controller = driver.window.sweep_controller
    house.demo.still(log.readings.all()[0].volts, 5)
    driver.press("Up")
    assert controller.next_combination().label == EVERYTHING_OFF
    press_space_and_wait(house, log.readings.all()[0].volts)
    assert driver.asked.startswith(QUESTION) and len(log.readings.all()) == 1


def test_a_movement_makes_a_new_stretch(house: House) -> None:
    driver, log = house.driver, house.log
    add_circuits(house)
    house.read()
    house.demo.move(log.readings.all()[0].volts, 3.0, 6)
    press_space_and_wait(house, log.readings.all()[0].volts)
    assert driver.asked == "" and len(log.readings.all()) == 2


@pytest.mark.parametrize("interruption", ["silence", "cable", "restart"])
def test_a_time_without_lines_is_no_switching(
    house: House, record: Callable[[], DemoRecorder], interruption: str
) -> None:
    driver, log = house.driver, house.log
    add_circuits(house)
    house.read()
    dark = log.readings.all()[0].volts
    for labels in (["only Bedroom on"], ["only Bedroom on", "only Study on"]):
        if interruption == "silence":
            house.demo.silence(4)
        elif interruption == "cable":
            house.demo.pull_cable(6)
            house.demo.put_cable_back()
        else:
            house.demo.close()
            house.demo = record()
        house.demo.still(dark, 15)
        press_space_and_wait(house, dark)
        assert driver.asked.startswith(f"Part of the trace is missing. {QUESTION}")
        assert len(log.readings.all()) == len(labels)
        driver.answer("Yes, it was switched and nothing changed")
        assert [(r.condition, r.by_word) for r in log.readings.all()[1:]] == [(one, True) for one in labels]


def test_a_first_reading_is_asked_about_where_only_a_time_without_lines_came_since_it_was_asked_for(
    house: House,
) -> None:
    house.demo.still(1.07, 37)
    add_circuits(house)
    house.driver.window.refresh()
    house.demo.silence(4)
    house.demo.still(1.07, 15)
    press_space_and_wait(house, 1.07)
    assert house.driver.asked.startswith("Part of the trace is missing. " + OLD_QUESTION)
    assert house.log.readings.all() == []


def test_a_value_that_is_another_one_after_a_time_without_lines_is_taken_with_that_remark(
    house: House,
) -> None:
    driver, log = house.driver, house.log
    add_circuits(house)
    house.read()
    house.demo.silence(90)
    house.demo.still(0.6, 15)
    press_space_and_wait(house, 0.6)
    first, second = log.readings.all()
    assert driver.asked == "" and not second.by_word
    remark = f"part of the trace since “{first.spot_name}” was read is missing, and the rest shows no motion"
    assert remark in driver.window.controller.readings.remarks(second)


def test_everything_off_that_gives_the_same_as_everything_on_is_asked_about_after_a_move_too(
    house: House,
) -> None:
    driver, log = house.driver, house.log
    add_circuits(house)
    spot = log.spots.all()[0]
    log.readings.enter(spot.id, EVERYTHING_ON, 0.8, 0.001)
    house.demo.move(0.8, 3.0, 6)
    press_space_and_wait(house, 0.8)
    assert driver.asked.startswith(f"{QUESTION} since “{EVERYTHING_ON}” was read")
    question = driver.window.question.question
    assert question is not None and "Look at the panel before you answer." in question.text
    driver.answer("Read again: switch it now")
    house.read(moved=True)
    assert [r.condition for r in log.readings.all()] == [EVERYTHING_ON, EVERYTHING_OFF]


def test_one_breaker_on_that_gives_what_everything_on_gave_before_it_was_asked_for_is_asked_about(
    house: House,
) -> None:
    """Everything was read on and off in another order; all is on again, and “switched” is pressed without a look."""
    driver, log = house.driver, house.log
    add_circuits(house)
    spot_id, sources = log.spots.all()[0].id, log.circuits.all()
    stays = frozenset(source.id for source in sources if source.stays)
    house.demo.still(0.05, 30)
    log.readings.take(spot_id, EVERYTHING_OFF, live=stays)
    house.demo.move(1.07, 3.0, 6)
    house.demo.still(1.07, 37)
    log.readings.take(spot_id, EVERYTHING_ON, live=frozenset(source.id for source in sources))
    house.demo.move(1.07, 3.0, 6)
    house.demo.still(1.07, 37)
    driver.window.refresh()
    wanted = driver.window.sweep_controller.next_combination()
    assert wanted is not None and wanted.label == "only Bedroom on"
    press_space_and_wait(house, 1.07)
    assert driver.asked.startswith(f"{QUESTION} since “{EVERYTHING_ON}” was read")
    assert len(log.readings.all()) == 2, "nothing is taken unasked"


def test_a_reading_without_a_change_does_not_confirm_the_list(house: House) -> None:
    driver, log = house.driver, house.log
    add_circuits(house)
    read_what_is_left(house)
    driver.do("page.next")
    assert isinstance(page_of(driver), TonightPage)
    worked_out(driver)
    sweep = driver.window.sweep_controller
    for _ in range(8):
        plan = sweep.tonight()
        assert plan is not None
        if plan.state is PlanState.UNCONFIRMED:
            break
        house.read()
        worked_out(driver)
    assert plan.state is PlanState.UNCONFIRMED
    wanted = plan.next_combination
    assert wanted is not None
    # On the page it would be asked about; the answer is the user's word.
    before = log.readings.all()[-1]
    house.demo.still(before.volts, 6)
    stated = log.readings.take(
        log.spots.all()[0].id,
        wanted.label,
        live=wanted.live,
        switched_utc_ns=(before.end_utc_ns or 0) + 1,
        stated_unchanged=True,
    )
    driver.window.controller.refresh(force=True)
    worked_out(driver)
    after = sweep.tonight()
    assert after is not None and after.state is not PlanState.CONFIRMED and after.off == ()
    assert stated.id not in [spot.confirming_reading.id for spot in after.spots if spot.confirming_reading]


def test_two_readings_that_contradict_each_other_are_no_mean_with_a_tick(house: House) -> None:
    add_circuits(house)
    spot = house.log.spots.all()[0]
    off = house.driver.window.sweep_controller.next_combination()
    for volts in (1.07, 0.02):
        house.log.readings.enter(spot.id, EVERYTHING_OFF, volts, 0.001, live=off.live)
    house.driver.window.controller.refresh(force=True)
    house.driver.window.refresh()
    (row,) = [r for r in house.driver.window.sweep_controller.rows() if len(r.readings) == 2]
    assert row.repeats_contradict
    bar = page_of(house.driver).bars.bars[0]
    assert bar.badge is BAD and "1.07 and 0.02 V" in bar.note and bar.value == "contradictory"


def test_without_a_spot_nothing_is_called_read(house: House) -> None:
    add_circuits(house)
    house.log.spots.remove(house.log.spots.all()[0].id)
    house.driver.window.controller.refresh(force=True)
    house.driver.window.refresh()
    assert page_of(house.driver).to_switch.text().startswith("Nothing is read yet.")


def test_what_was_stated_otherwise_since_the_last_reading_is_not_said_to_be_still_set(house: House) -> None:
    driver, log, sweep = house.driver, house.log, house.driver.window.sweep_controller
    add_circuits(house)
    house.read()
    (off,) = sweep.progress().taken
    again = combination_of(off, log.circuits.all())
    sweep.choose(again)
    driver.window.refresh()
    assert sweep.what_to_switch().startswith("Leave it as it is: ")
    house.demo.still(4.2, 30)
    driver.window.refresh()
    driver.window.controller.condition.state(EVERYTHING_ON)
    driver.window.refresh()
    assert sweep.what_to_switch() == "Everything off except Refrigerator."
    press_space_and_wait(house, 4.2)
    assert driver.asked.startswith(OLD_QUESTION) and len(log.readings.all()) == 1


@pytest.mark.parametrize("changes", ["spot", "condition"])
def test_what_is_chosen_or_stated_otherwise_while_a_reading_is_awaited_ends_the_waiting(
    house: House, changes: str
) -> None:
    driver, log, sweep = house.driver, house.log, house.driver.window.sweep_controller
    add_circuits(house)
    house.read()
    house.demo.still(3.0, 3)
    driver.window.refresh()
    driver.press("Space")
    assert sweep.waiting is not None
    if changes == "spot":
        sweep.controller.route.chosen_id = log.spots.add("Desk").id
    else:
        sweep.controller.condition.state(EVERYTHING_ON)
    for _ in range(15):
        house.demo.still(3.0, 1)
        driver.window.refresh()
    assert sweep.waiting is None and len(log.readings.all()) == 1
    assert "not taken" in driver.message
