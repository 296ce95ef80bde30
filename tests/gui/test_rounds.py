"""Hands-free, on and off, values by hand, the budget, the walk outside; two windows at once."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from gui.dev.demo import DemoRecorder
from gui.sound.sounds import Tone
from logger.metrology.setup import Setup
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, OUTSIDE_WALK
from tests.support.window_driver import Driver, Heard


@pytest.fixture
def demo(log: VisitLog, record: Callable[[], DemoRecorder]) -> DemoRecorder:
    """Two spots, everything on, a good reference; settled at the first."""
    log.setup.set(Setup(reference="earth rod", on_battery=True, link_isolated=True))
    for name in ("Bed", "Desk"):
        log.spots.add(name)
    log.facts.set("condition", EVERYTHING_ON)
    demo = record()
    demo.still(0.9, 20)
    return demo


@pytest.fixture
def driver(demo: DemoRecorder, open_window: Callable[[], Driver]) -> Driver:
    return open_window()


def settle(driver: Driver, demo: DemoRecorder, volts: float, seconds: int = 20) -> None:
    demo.move(volts, volts + 2.0, 6)
    driver.window.refresh()
    for _ in range(seconds):
        demo.still(volts, 1)
        driver.window.refresh()


def taken(log: VisitLog) -> list[tuple[str, str]]:
    return [(reading.spot_name, reading.condition) for reading in log.readings.all()]


def test_armed_takes_by_itself_and_moves_on(
    driver: Driver, demo: DemoRecorder, log: VisitLog, heard: Heard
) -> None:
    driver.do("measure.hands_free")
    driver.window.refresh()
    assert taken(log) == [], "the value that was there before is not used"
    settle(driver, demo, 0.9)
    assert taken(log) == [("Bed", EVERYTHING_ON)]
    assert Tone.TAKEN in heard.tones and heard.spoken == ["0.90 volts taken at “Bed”. Next: Desk"]
    for _ in range(30):  # still in bed: nothing is taken for the desk
        demo.still(0.9, 1)
        driver.window.refresh()
    assert taken(log) == [("Bed", EVERYTHING_ON)]
    settle(driver, demo, 0.4)
    assert taken(log)[1:] == [("Desk", EVERYTHING_ON)]
    assert driver.asked == "Is everything off now?"


def test_what_has_to_be_on_is_not_said_in_the_round_with_everything_off(
    driver: Driver, log: VisitLog
) -> None:
    log.spots.describe(log.spots.all()[0].id, "", "screen on")
    driver.window.controller.snapshot.refresh(force=True)
    driver.window.redraw()
    assert driver.window.readout._spot == ("Bed", EVERYTHING_ON, "screen on")
    assert (
        driver.window.readout.condition_text()
        == "What is on: everything on. Reminder for this spot: screen on"
    )
    driver.do("measure.round_off")
    driver.answer("Everything is off now: begin the round")
    assert driver.window.readout._spot == ("Bed", EVERYTHING_OFF, "")


def test_a_lamp_that_is_switched_is_no_move_to_the_next_spot(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    driver.do("measure.hands_free")
    settle(driver, demo, 0.9)
    for _ in range(30):
        demo.still(1.4, 1)
        driver.window.refresh()
    assert taken(log) == [("Bed", EVERYTHING_ON)]


def test_the_band_counts_down(driver: Driver, demo: DemoRecorder) -> None:
    driver.do("measure.hands_free")
    assert driver.window.readout._countdown is not None
    assert driver.window.readout._countdown.text == "Hands-free: move there, hold still"
    demo.move(0.9, 3.0, 6)
    demo.still(0.9, 7)
    driver.window.refresh()
    assert driver.window.readout._countdown.text.startswith("Hands-free: taken in ")
    assert 0 < driver.window.readout._countdown.share < 1
    driver.do("measure.hands_free")
    assert driver.window.readout._countdown is None


def test_the_time_can_be_chosen(driver: Driver, demo: DemoRecorder, log: VisitLog) -> None:
    driver.do("measure.hands_free_time")
    driver.answer("15 s")
    driver.do("measure.hands_free")
    settle(driver, demo, 0.9, 12)
    assert taken(log) == []
    for _ in range(10):
        demo.still(0.9, 1)
        driver.window.refresh()
    assert taken(log) == [("Bed", EVERYTHING_ON)]


def test_leaving_the_spots_ends_it(driver: Driver, demo: DemoRecorder, log: VisitLog) -> None:
    driver.do("measure.hands_free", "stage.check")
    assert "ended" in driver.message
    settle(driver, demo, 0.9)
    assert taken(log) == []


def test_an_open_question_holds_it_back(driver: Driver, demo: DemoRecorder, log: VisitLog) -> None:
    driver.do("measure.hands_free", "measure.mark")
    settle(driver, demo, 0.9)
    assert taken(log) == []
    driver.press("Esc")
    driver.window.refresh()
    assert taken(log) == [("Bed", EVERYTHING_ON)]


def test_a_voided_reading_is_not_taken_again_from_what_was_there_before(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    """The meter wobbles and settles while it is asked why: that is no value of who lies at the spot again."""
    log.spots.remove(log.spots.all()[1].id)
    log.spots.add("Sofa")
    driver.window.controller.refresh(force=True)
    driver.do("measure.hands_free")
    settle(driver, demo, 0.9)
    assert taken(log) == [("Bed", EVERYTHING_ON)]
    driver.window.controller.route.chosen_id = log.spots.all()[0].id
    driver.window.refresh()
    driver.do("measure.void_last")
    settle(driver, demo, 0.9)
    countdown = driver.window.controller.hands_free.countdown()
    assert countdown is not None and countdown.text == "Hands-free: waits for your answer"
    driver.answer("moved")
    for _ in range(12):
        driver.window.refresh()
        demo.still(0.9, 1)
    assert [reading.void_reason for reading in log.readings.all()] == ["moved or touched something"]
    countdown = driver.window.controller.hands_free.countdown()
    assert countdown is not None and countdown.text == "Hands-free: move there, hold still"
    settle(driver, demo, 0.9)
    assert taken(log)[1:] == [("Bed", EVERYTHING_ON)], "who moves and lies still is read"


@pytest.mark.parametrize("change", ["spot", "condition", "move", "undo"])
def test_what_changes_what_a_value_is_taken_by_arms_anew(
    driver: Driver, demo: DemoRecorder, log: VisitLog, change: str
) -> None:
    controller = driver.window.controller
    bed, desk = log.spots.all()
    kept = log.readings.enter(desk.id, EVERYTHING_OFF, 0.4, 0.01)
    if change == "undo":
        log.readings.void(kept.id, "moved")
    controller.refresh(force=True)
    driver.do("measure.hands_free")
    demo.move(0.9, 3.0, 6)
    demo.still(0.9, 7)
    driver.window.refresh()
    assert controller.hands_free.countdown().text.startswith("Hands-free: taken in ")
    if change == "spot":
        controller.route.chosen_id = desk.id
    elif change == "condition":
        controller.condition.state(EVERYTHING_OFF)
    elif change == "move":
        log.readings.corrections.move(log.readings.all()[0], bed.id, "wrong spot")
    else:
        log.readings.corrections.make_valid(log.readings.all()[0], "it was right")
    controller.refresh(force=True)
    for _ in range(12):
        driver.window.refresh()
        demo.still(0.9, 1)
    assert [reading.id for reading in log.readings.all()] == [kept.id]
    settle(driver, demo, 0.9)
    assert len(log.readings.all()) == 2


def test_a_new_recording_shows_neither_a_move_nor_a_switching(
    driver: Driver, demo: DemoRecorder, record: Callable[[], DemoRecorder], log: VisitLog
) -> None:
    controller = driver.window.controller
    driver.press("Space")
    bed, desk = log.spots.all()
    demo.close()  # killed
    controller.route.chosen_id = desk.id
    controller.refresh(force=True)
    driver.do("measure.hands_free")
    again = record()
    for _ in range(25):
        again.still(0.9, 1)
        driver.window.refresh()
    assert taken(log) == [("Bed", EVERYTHING_ON)], "nobody has moved"
    driver.press("Space")
    assert driver.asked.startswith("Part of the trace since “Bed” was read with everything on is missing.")
    driver.press("Esc")
    controller.route.chosen_id = bed.id
    driver.press("Space")
    assert len(log.readings.all()) == 1 and "already taken at “Bed”" in driver.message
    controller.condition.state(EVERYTHING_OFF)
    again.still(0.9, 15)
    driver.window.refresh()
    driver.press("Space")
    assert driver.asked.endswith("Was it switched to everything off?")
    driver.answer("Yes, take it")
    assert log.readings.all()[-1].by_word


def test_on_then_off_and_what_it_means(
    driver: Driver, demo: DemoRecorder, log: VisitLog, announced: list[str]
) -> None:
    driver.press("Space", "Down")
    settle(driver, demo, 0.4)
    driver.press("Space")
    assert driver.asked == "Is everything off now?"
    driver.press("Esc")
    assert driver.window.controller.snapshot.condition == EVERYTHING_ON, "never assumed"
    assert driver.window.pages.spots.primary_action().text == "Begin the round with everything off"
    settle(driver, demo, 0.5)
    driver.press("Space")
    assert [spot for spot, _ in taken(log)] == ["Bed", "Desk", "Desk"], "a spot is read again"
    driver.do("measure.void_last")
    driver.answer("moved")
    assert driver.window.pages.spots.primary_action().text == "Begin the round with everything off"
    driver.press("Space")
    driver.answer("Everything is off now: begin the round")
    assert driver.window.controller.snapshot.condition == EVERYTHING_OFF
    assert (
        driver.window.controller.route.chosen is not None
        and driver.window.controller.route.chosen.name == "Bed"
    )
    settle(driver, demo, 0.05)
    driver.press("Space", "Down")
    settle(driver, demo, 0.402)
    driver.press("Space")
    assert driver.asked == "", "both rounds are done"
    spots = driver.window.pages.spots
    assert spots.primary_action().text == "Go on to the sources"
    demo.still(0.9, 6)  # somebody switches everything on again
    driver.window.refresh()
    assert spots.primary_action().text == "Enter what is on now: “everything off” is in doubt"
    driver.press("Space")
    assert driver.asked == "" and driver.message.startswith(
        "The button has just changed to “Enter what is on"
    )
    demo.still(0.9, 2)
    driver.window.refresh()
    assert driver.window.action_bar.why_too_early() == ""
    driver.press("Space")
    driver.answer("Everything on, as in the evening")
    assert spots.primary_action().text == "Go on to the sources"
    rows = driver.window.pages.spots.spots.rows
    assert [row.value for row in rows] == ["on 0.90, off 0.05 V", "on 0.40, off 0.40 V"]
    assert [row.small for row in rows] == ["on: above 0.1 V", "on and off alike: was everything off?"]
    assert "comes from outside, or from a circuit that was on" in driver.window.pages.spots.meaning.whole
    assert "cannot be told apart" in driver.window.pages.spots.meaning.whole
    assert "Was everything really off?" in driver.window.pages.spots.meaning.whole
    assert rows[1].tip.startswith("On and off cannot be told apart") and "under the household" in rows[0].tip
    heard = [
        text.split(" ")[0] for text in announced if "told apart" in text or "under the household" in text
    ]
    assert len(heard) == 2 and heard[1] == "On", "with the reading that completes the two, and only then"
    driver.press("Up")
    assert "under the household's control" in driver.window.pages.spots.meaning.whole


def test_readings_with_another_reference_are_not_compared(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    driver.press("Space")
    log.setup.set(Setup(reference="building earth"))
    driver.do("measure.round_off")
    driver.answer("Everything is off now: begin the round")
    settle(driver, demo, 0.9)
    driver.press("Space", "Up")  # the round goes on to the next spot
    assert "Not comparable" in driver.window.pages.spots.meaning.whole
    assert driver.window.pages.spots.spots.rows[0].small == "not comparable"


def test_budget_a_key_away(driver: Driver, demo: DemoRecorder) -> None:
    driver.press("Space")
    driver.do("measure.round_off")
    driver.answer("Everything is off now: begin the round")
    settle(driver, demo, 0.9)
    driver.press("Space", "Up")  # the round goes on to the next spot
    driver.do("spots.budget")
    page = driver.window.pages.budget
    assert driver.window.page is page
    names = [name for name, _ in page.tables]
    assert names == [EVERYTHING_ON, EVERYTHING_OFF, None]
    components = [c.name for c in page.tables[0][1].components]
    assert components[:2] == ["scatter", "meter's resolution"]
    assert "meter accuracy" in components
    driver.do("spots.budget")
    assert driver.window.page is driver.window.pages.spots


@pytest.mark.parametrize(
    ("text", "volts", "u_volts"),
    [
        ("0.27", 0.27, 0.005 / 3**0.5),
        ("270 mV +- 20 mV", 0.27, 0.02 / 3**0.5),
        ("0,3 ± 0,1 V", 0.3, 0.1 / 3**0.5),
    ],
)
def test_a_value_by_hand(driver: Driver, log: VisitLog, text: str, volts: float, u_volts: float) -> None:
    driver.do("measure.by_hand")
    driver.type(text)
    driver.press("Return")
    (reading,) = log.readings.all()
    assert (reading.taken, reading.volts) == ("by hand", pytest.approx(volts))
    assert reading.u_volts == pytest.approx(u_volts)
    assert "by hand" in driver.window.pages.spots.spots.rows[0].small_right


def test_no_value_by_hand(driver: Driver, log: VisitLog) -> None:
    driver.do("measure.by_hand")
    driver.type("about three")
    driver.press("Return")
    assert log.readings.all() == [] and driver.window.controller.message.refused


def test_a_walk_outside(driver: Driver, demo: DemoRecorder, log: VisitLog) -> None:
    driver.do("measure.outside_walk")
    assert "thunderstorm" in driver.window.question.question.text
    driver.answer("The first point")
    settle(driver, demo, 2.0)
    driver.press("Space")
    driver.do("measure.outside_walk")
    settle(driver, demo, 2.5)
    driver.press("Space")
    assert "can be told from 3 points on" in driver.window.pages.spots.meaning.whole
    driver.do("measure.outside_walk")
    settle(driver, demo, 4.0)
    driver.press("Space")
    assert taken(log) == [(f"walk {number}", OUTSIDE_WALK) for number in (1, 2, 3)]
    assert "rising" in driver.window.pages.spots.meaning.whole
    last = log.readings.all()[-1]
    log.readings.enter(last.spot_id, OUTSIDE_WALK, 9.0, 0.002)
    driver.window.controller.snapshot.refresh(force=True)
    driver.window.redraw()
    small = [row.small for row in driver.window.pages.spots.spots.rows]
    assert small[-2:] == ["outside walk", "not known: its readings contradict each other"]
    driver.do("measure.by_hand")
    asked = driver.window.question.question
    assert asked is not None and "off" not in asked.text.casefold(), "outdoors there is no off"
    driver.press("Esc")
    assert driver.window.controller.snapshot.condition == EVERYTHING_ON


def test_two_windows_tag_at_once(
    driver: Driver, open_window: Callable[[], Driver], demo: DemoRecorder, log: VisitLog
) -> None:
    other = open_window()
    other.window.controller.route.choose_along(1)
    driver.window.press_primary()
    other.window.press_primary()
    assert taken(log) == [("Bed", EVERYTHING_ON)]
    assert not other.asked and other.message.startswith(
        "Nothing has moved since “Bed” was read with everything on."
    )


def test_home_goes_to_the_first_spot_not_read(driver: Driver, log: VisitLog) -> None:
    driver.press("Space")
    log.spots.add("Sofa")
    driver.window.controller.snapshot.refresh(force=True)
    driver.press("Down", "Down")
    driver.do("spots.unread")
    assert (
        driver.window.controller.route.chosen is not None
        and driver.window.controller.route.chosen.name == "Desk"
    )


@pytest.mark.parametrize("asked_by", ["the menu", "what is on"])
def test_a_spot_is_read_again_though_every_spot_is_read(
    driver: Driver, demo: DemoRecorder, log: VisitLog, asked_by: str
) -> None:
    driver.press("Space", "Down")
    settle(driver, demo, 0.4)
    driver.press("Space", "Esc")  # not the round with everything off
    spots = driver.window.pages.spots
    assert spots.primary_action().does == "round_off"
    if asked_by == "the menu":
        driver.do("spots.again")
    else:
        driver.do("measure.condition")
        driver.answer("Everything on, as in the evening")
    assert "“Desk” is read again" in driver.window.controller.message.text
    offer = spots.primary_action()
    assert offer.does == "take" and "already taken" in offer.why_not
    settle(driver, demo, 0.5)
    driver.press("Space")
    assert [spot for spot, _ in taken(log)] == ["Bed", "Desk", "Desk"]
    assert spots.primary_action().does == "round_off", "once is enough"
    driver.do("spots.again")
    driver.press("Up")
    assert spots.primary_action().does == "round_off", "it was of the other spot"
