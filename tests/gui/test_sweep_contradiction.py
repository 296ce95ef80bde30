"""Readings of a sweep that cannot all be right: what the window asks, shows and lets one do, by keys and by mouse."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from gui.dev.demo import DemoRecorder
from gui.model.stages import SOURCES
from gui.model.switching_evidence import SweptReading
from gui.stages.sources.tonight_page import TonightPage
from gui.widgets.badge import BAD
from logger.sweep.sweep_progress import combination_as_at_night, plain_sweep
from logger.sweep.switch_off_plan import PlanState
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF
from tests.support.swept_window import OWN_VOLTS, House, add_circuits, headline, page_of, worked_out
from tests.support.window_driver import Driver, Heard

BEDROOM = "only Bedroom on"


def enter_sweep(house: House, at: int = 0, **wrong: float) -> None:
    """Put a whole sweep into the log.

    Args:
        house: what it is read in.
        at: index of the spot.
        **wrong: mistaken volts, by the circuit that is on alone.
    """
    log = house.log
    spot = log.spots.all()[at]
    named = {f"only {name} on": volts for name, volts in wrong.items()}
    for combination in plain_sweep(log.circuits.all()):
        volts = named.get(combination.label, house.volts(combination.live))
        log.readings.enter(spot.id, combination.label, round(volts, 3), 0.002, live=combination.live)


def contradicting(house: House) -> TonightPage:
    """A sweep with the bedroom ten times too high, and the page Tonight with it."""
    add_circuits(house)
    enter_sweep(house, Bedroom=6.3)
    return tonight(house)


def tonight(house: House) -> TonightPage:
    """The page Tonight when it has its answer."""
    driver = house.driver
    driver.window.controller.refresh(force=True)
    driver.window.refresh()
    if not isinstance(page_of(driver), TonightPage):
        driver.do("page.next")
    worked_out(driver)
    page = page_of(driver)
    assert isinstance(page, TonightPage)
    return page


def no_answer_is_shown(page: TonightPage) -> None:
    """No list, no value that would be left, no verdict against the target."""
    shown = " ".join(
        part.text() for part in (page.headline, page.plain, page.robust, page.next) if part.isVisible()
    )
    assert headline(page).startswith("There is no list for tonight yet.")
    assert not any(
        words in shown
        for words in ("Switch off:", "Nothing has to be switched off", "target", "below", "plain rule")
    )
    assert not page.spots.isVisible() and not page.circuits.isVisible() and not page.advice.isVisible()


def test_the_readings_to_take_again_stand_in_place_of_a_list(house: House, heard: Heard) -> None:
    page = contradicting(house)
    driver = house.driver
    no_answer_is_shown(page)
    assert headline(page).endswith("These readings contradict each other:")
    assert page.robust.text() == "1. A breaker was not as stated, or a unit (V or mV) is wrong."
    assert page.suspects.isVisible() and page.suspects.rows[0].head == "Only Bedroom on"
    assert SOURCES.progress(driver.window.controller) == "to read again"
    driver.window.refresh()
    assert "contradict" not in driver.message, "the page itself has it"
    assert "The readings contradict each other." in heard.spoken
    assert driver.refused("tonight.details") == "What each circuit gives is not known yet."
    no_answer_is_shown(page)
    driver.do("page.previous")
    breakers = page_of(driver)
    assert breakers.doubt.isVisible() and "contradict" in breakers.doubt.text()
    marked = {bar.head: bar.note for bar in breakers.bars.bars if bar.badge == BAD}
    assert marked["Bedroom"].startswith("contradicts other readings") and len(marked) <= 3


def test_a_corrected_reading_is_asked_about_as_it_is_now(house: House) -> None:
    add_circuits(house)
    enter_sweep(house, Bedroom=6.3)
    driver = house.driver
    mistaken = next(r for r in house.log.readings.all() if r.condition == BEDROOM)
    before = replace(mistaken, condition="only Attic on")
    driver.window.sweep_controller.newest = SweptReading(before, 0)  # as it was taken
    tonight(house)
    driver.window.refresh()
    assert driver.asked.startswith("Is 6.3") and driver.asked.endswith(f"right, with {BEDROOM}?")


def test_it_is_announced_once_and_in_every_stage(house: House, heard: Heard) -> None:
    add_circuits(house)
    enter_sweep(house, Bedroom=6.3)
    driver = house.driver
    driver.do("stage.spots")
    driver.window.controller.refresh(force=True)
    driver.window.refresh()
    driver.window.sweep_controller.wait()
    driver.window.refresh()
    beginning = "The readings at “Bed, left” contradict each other. Read these again: "
    assert driver.message.startswith(f"{beginning}{BEDROOM} (6.30 V)")
    assert driver.window.controller.message.refused
    driver.do("view.sound", "view.sound")
    driver.window.refresh()
    assert (
        "contradict" not in driver.message and heard.spoken.count("The readings contradict each other.") == 1
    )


def test_space_reads_the_chosen_one_again_and_delete_voids_the_mistaken_one(house: House) -> None:
    page = contradicting(house)
    driver, log = house.driver, house.log
    mistaken = next(r for r in log.readings.all() if r.condition == BEDROOM)
    assert driver.window.action_bar.text() == (
        f"Switched ({BEDROOM}): take it again at “Bed, left” once settled"
    )
    live = next(c.live for c in plain_sweep(log.circuits.all()) if c.label == BEDROOM)
    driver.window.refresh()
    house.demo.still(house.volts(live), 3)
    driver.window.refresh()
    driver.press("Space")
    for _ in range(40):
        house.demo.still(house.volts(live), 1)
        driver.window.refresh()
    assert [r.condition for r in log.readings.all()][-1] == BEDROOM
    worked_out(driver)
    no_answer_is_shown(page)
    driver.press("Esc")
    rows = [r.head for r in page.suspects.rows]
    assert rows.count("Only Bedroom on") >= 1
    while driver.window.question.question is not None:
        driver.press("Esc")
    at = [reading.id for reading in page.review.suspects(page.plan)].index(mistaken.id)
    driver.press(*["Up"] * 5, *["Down"] * at, "Del")
    assert driver.asked == "Why is this reading mistaken?"
    driver.answer("Wrong unit or decimal place")
    assert log.readings.all()[mistaken.id - 1].void_reason == "wrong unit or decimal place"
    worked_out(driver)
    assert page.plan is not None and page.plan.state is not PlanState.CONTRADICTORY
    assert not page.suspects.isVisible() and driver.window.controller.sweep_state is page.plan.state
    for _ in range(6):
        if driver.window.sweep_controller.wanted_for_tonight() is None:
            break
        assert headline(page).startswith("There is no list for tonight yet.")
        house.read()
        worked_out(driver)
    assert headline(page) == "Switch off: Bedroom, Study."
    assert SOURCES.progress(driver.window.controller) == "list confirmed"


def test_a_click_chooses_a_suspect_and_buttons_do_as_the_keys(house: House) -> None:
    add_circuits(house)
    house.log.spots.add("Bed, right")
    enter_sweep(house, Bedroom=6.3)
    enter_sweep(house, 1, Study=5.0)
    page, driver = tonight(house), house.driver
    assert page.plan is not None
    assert [spot.name for spot in page.plan.contradictions] == ["Bed, left", "Bed, right"]
    last = page.suspects.row_model.index(page.suspects.count() - 1)
    assert last.isValid()
    where = page.suspects.visualRect(last).center()
    QTest.mouseClick(page.suspects.viewport(), Qt.MouseButton.LeftButton, pos=QPoint(where.x(), where.y()))
    driver.window.redraw()
    chosen = page.review.suspects(page.plan)[-1]
    assert f"{chosen.condition}): take it again at “Bed, right”" in driver.window.action_bar.text()
    QTest.mouseClick(page._buttons.buttons["tonight.void"], Qt.MouseButton.LeftButton)
    assert driver.asked == "Why is this reading mistaken?"
    driver.answer("Another reason: type it")
    driver.type("the cable was loose")
    driver.press("Return")
    assert house.log.readings.all()[chosen.id - 1].void_reason == "the cable was loose"


def test_a_set_that_nobody_read_is_asked_for_and_not_listed(house: House) -> None:
    add_circuits(house)
    enter_sweep(house)
    page = tonight(house)
    for _ in range(6):
        assert page.plan is not None
        no_answer_is_shown(page)
        if page.plan.state is PlanState.UNCONFIRMED:
            break
        house.read()
        worked_out(house.driver)
    assert headline(page) == "There is no list for tonight yet. 1 more reading is needed."
    assert page.why.whole.startswith(
        "The readings suggest Bedroom and Study off, and nobody has read that at “Bed, left” yet. One reading with "
        "everything set as it will be at night confirms it."
    )
    assert page.next.text() == (
        "Lie at “Bed, left”. Switch off Bedroom, Study. Everything else on. Circuits that are not listed stay on."
    )
    assert SOURCES.progress(house.driver.window.controller) == "list not confirmed"


def test_a_background_that_nobody_read_is_asked_for_first(house: House) -> None:
    add_circuits(house)
    enter_sweep(house)
    off = next(r for r in house.log.readings.all() if r.condition == EVERYTHING_OFF)
    house.log.readings.void(off.id, "moved")
    page = tonight(house)
    no_answer_is_shown(page)
    assert headline(page) == "There is no list for tonight yet. The sweep has 1 reading left."
    assert page.why.whole == "Everything off was not read at “Bed, left”: read that first."
    wanted = house.driver.window.sweep_controller.next_reading()
    assert wanted is not None and wanted[1].label == EVERYTHING_OFF
    assert page.plan is not None and page.plan.next_combination == wanted[1]


def test_what_it_leaves_is_compared_with_meter_and_reference(house: House) -> None:
    """0.085 V read with a meter of 1 % and 3 counts of 1 mV, a rod that was not checked: not surely below 0.1 V."""
    house.own = {**OWN_VOLTS, "Hall": 0.0, "Kitchen": 0.0, "Refrigerator": 0.082, "Study": 0.0}
    add_circuits(house)
    enter_sweep(house)
    page, driver = tonight(house), house.driver
    for _ in range(6):
        if driver.window.sweep_controller.wanted_for_tonight() is None:
            break
        house.read()
        worked_out(driver)
    assert headline(page) == (
        "Switch off: Bedroom. What it leaves is too close to the target of 0.1 V to tell whether it is above or below."
    )
    assert [bar.note for bar in page.spots.bars] == ["read: too close to the target of 0.1 V to tell"]


# --- at the moment of the reading ---------------------------------------------------------------------------------


def read_three_quiet_ones(house: House) -> None:
    """Everything off and two circuits that give little, so that one that gives much looks odd."""
    house.own = {**OWN_VOLTS, "Bedroom": 0.02, "Study": 0.03, "Hall": 0.0, "Kitchen": 0.6}
    add_circuits(house)
    for _ in range(4):
        house.read()
        assert house.driver.asked == ""


def test_a_reading_ten_times_every_other_is_kept_and_asked_about(house: House, heard: Heard) -> None:
    read_three_quiet_ones(house)
    driver, log = house.driver, house.log
    house.read()
    assert [r.condition for r in log.readings.all()][-1] == "only Kitchen on", "it is taken all the same"
    driver.window.refresh()
    assert driver.asked.startswith("Is 0.6") and driver.asked.endswith("right, with only Kitchen on?")
    prompt = driver.window.question.question
    assert prompt is not None and "about ten times every other" in prompt.text and "unit" in prompt.text
    assert "ten times every other" in heard.spoken[-1]
    values = driver.window.controller.snapshot.live
    assert values is not None
    house.demo.still(0.6, 5)
    driver.window.refresh()
    later = driver.window.controller.snapshot.live
    assert later is not None and later.count_volts > values.count_volts, "recording goes on"
    driver.answer("Keep it: the unit (V or mV) and what is on are right")
    driver.window.refresh()
    assert driver.asked == "" and log.readings.all()[-1].void_reason is None
    assert driver.window.sweep_controller.chosen is None


def test_it_can_be_voided_and_read_again_at_once(house: House) -> None:
    read_three_quiet_ones(house)
    driver, log = house.driver, house.log
    house.read()
    driver.window.refresh()
    driver.answer("Void it and read it again")
    assert driver.asked == "Why is this reading mistaken?"
    driver.answer("A breaker was not as stated")
    assert log.readings.all()[-1].void_reason == "a breaker was not as stated"
    wanted = driver.window.sweep_controller.next_reading()
    assert wanted is not None and wanted[1].label == "only Kitchen on"
    assert driver.window.sweep_controller.waiting is None, "nothing is taken by itself"


def test_an_answer_is_clicked_too_and_reading_again_keeps_the_first(house: House) -> None:
    read_three_quiet_ones(house)
    driver, log = house.driver, house.log
    house.read()
    driver.window.refresh()
    driver.answer("Keep it and read it again")
    assert log.readings.all()[-1].void_reason is None
    wanted = driver.window.sweep_controller.next_reading()
    assert wanted is not None and wanted[1].label == "only Kitchen on"
    assert "once more" in driver.message


def test_a_step_after_the_switching_is_asked_about(house: House) -> None:
    add_circuits(house)
    driver, log = house.driver, house.log
    house.demo.still(0.02, 8)
    driver.window.refresh()
    driver.press("Space")
    house.demo.still(0.02, 3)
    for _ in range(40):
        if driver.window.sweep_controller.waiting is None:
            break
        house.demo.still(0.5, 1)
        driver.window.refresh()
    assert len(log.readings.all()) == 1
    driver.window.refresh()
    prompt = driver.window.question.question
    assert prompt is not None and "after everything was reported as switched" in prompt.text


def test_an_open_question_is_answered_first(house: House) -> None:
    read_three_quiet_ones(house)
    driver = house.driver
    sweep = driver.window.sweep_controller
    found = sweep.next_reading()
    assert found is not None
    house.demo.still(house.volts(found[1].live), 3)
    driver.window.refresh()
    driver.press("Space")
    driver.do("sweep.add")
    driver.type("Attic")
    for _ in range(40):
        if sweep.waiting is None:
            break
        house.demo.still(house.volts(found[1].live), 1)
        driver.window.refresh()
    assert driver.asked == "Which circuits?" and driver.window.question.line is not None
    assert driver.window.question.line.text() == "Attic"
    driver.press("Esc")
    driver.window.refresh()
    assert driver.asked.endswith("right, with only Kitchen on?")


# --- names --------------------------------------------------------------------------------------------------------


def test_names_with_a_comma_or_a_plus_are_typed_and_swept(house: House) -> None:
    driver, log = house.driver, house.log
    driver.do("sweep.add")
    driver.type('"Kitchen, left", Range + oven; x')
    driver.press("Return")
    assert [s.name for s in log.circuits.all()] == ["Kitchen, left", "Range + oven; x"]
    house.own = {"Kitchen, left": 0.6, "Range + oven; x": 0.02}
    for _ in range(4):
        house.read()
        if driver.asked:
            driver.press("1")
    page = tonight(house)
    for _ in range(4):
        if driver.window.sweep_controller.wanted_for_tonight() is None:
            break
        house.read()
        worked_out(driver)
    assert headline(page) == "Switch off: Kitchen, left."


def test_quotes_that_do_not_match_are_asked_again_with_what_was_typed(house: House) -> None:
    driver = house.driver
    driver.do("sweep.add")
    driver.type('"Kitchen, left')
    driver.press("Return")
    assert (
        driver.asked == "Which circuits?" and "quote that is not closed" in driver.window.question.why.text()
    )
    assert driver.window.question.line is not None and driver.window.question.line.text() == '"Kitchen, left'
    assert house.log.circuits.all() == []


def test_a_visit_that_is_opened_again_shows_its_contradiction(
    house: House, open_window: Callable[[], Driver], log: VisitLog, record: Callable[[], DemoRecorder]
) -> None:
    contradicting(house)
    again = open_window()
    again.window.refresh()
    again.window.sweep_controller.wait()
    again.window.refresh()
    assert "contradict each other" in again.message
    assert SOURCES.progress(again.window.controller) == "to read again"


def test_a_supply_in_doubt_has_its_question_beside_it(house: House) -> None:
    add_circuits(house)
    enter_sweep(house)
    page = tonight(house)
    button = page._buttons.buttons["tonight.supply"]
    assert page.plan is not None and not button.isVisibleTo(page)
    plan = replace(page.plan, supply_doubt="Check the supply.")
    page.sweep_controller.tonight = lambda: plan  # type: ignore[method-assign]
    page.refresh()
    assert button.isVisibleTo(page)
    button.click()
    assert house.driver.asked == "What supply has the home?"
    assert "Entered so far: split phase." in house.driver.window.question.question.text


def test_with_a_single_phase_the_supply_is_the_first_cause_and_one_press_away(house: House) -> None:
    """Two circuits that cancel each other cannot be on one leg."""
    house.log.setup.set(house.log.setup.current().with_changes(supply="single phase"))
    page = contradicting(house)
    causes = page.robust.text().splitlines()
    assert (
        causes[0].startswith("1. ")
        and "phase" in causes[0]
        and causes[-1].startswith(f"{len(causes)}. A breaker")
    )
    house.driver.do("tonight.supply")
    assert house.driver.asked == "What supply has the home?"
    house.driver.answer("split phase")
    assert house.driver.window.controller.setup.stated.supply == "split phase"


def test_once_a_question_on_a_reading_is_answered_what_is_next_is_announced(
    house: House, announced: list[str]
) -> None:
    driver = house.driver
    add_circuits(house)
    enter_sweep(house)
    driver.window.controller.refresh(force=True)
    house.wrong = {BEDROOM: lambda true: 10.0 * true}
    page = page_of(driver)
    page._go_to(1)
    house.read()
    assert driver.asked == "Replace the first (0.63 V), or keep both?"
    announced.clear()
    driver.answer("Keep both")
    worked_out(driver)
    for _ in range(4):
        house.demo.still(0.3, 2)
        driver.window.refresh()
        if driver.asked:
            assert "Likely causes, in this order:" in driver.window.question.question.text
            driver.answer("Keep it: ")
    assert page.to_switch.text() in announced
    assert driver.window.sweep_controller.tonight().state is PlanState.CONTRADICTORY


def test_a_circuit_that_is_read_again_takes_the_place_of_its_first_reading(house: House) -> None:
    driver, log = house.driver, house.log
    add_circuits(house)
    house.read()
    house.wrong = {BEDROOM: lambda true: 0.4}
    house.read()
    house.wrong = {}
    page = page_of(driver)
    page._go_to(1)
    driver.do("sweep.again")
    assert driver.message.startswith(f"Next: {BEDROOM} at “Bed, left”, once more.")
    house.read()
    assert driver.asked == "Replace the first (0.40 V), or keep both?"
    question = driver.window.question.question
    assert question is not None
    assert [one.text for one in question.answers] == ["Replace the first (0.40 V)", "Keep both"]
    driver.answer("Replace the first")
    first, second = (r for r in log.readings.all() if r.condition == BEDROOM)
    assert first.void_reason == "read again" and second.void_reason is None
    driver.do("edit.undo")
    driver.window.controller.refresh(force=True)
    driver.window.refresh()
    page.refresh()
    bar = page.bars.bars[1]
    assert "0.40 and 0.63 V" in f"{bar.note}"


def test_the_reading_of_a_circuit_is_voided_from_its_row(house: House) -> None:
    driver, log = house.driver, house.log
    add_circuits(house)
    assert driver.refused("sweep.void") and driver.refused("sweep.again")
    live = next(c.live for c in plain_sweep(log.circuits.all()) if c.label == BEDROOM)
    for volts in (0.6, 0.7):
        log.readings.enter(log.spots.all()[0].id, BEDROOM, volts, 0.002, live=live)
    driver.window.controller.refresh(force=True)
    driver.window.refresh()
    page = page_of(driver)
    page._go_to(1)
    driver.do("sweep.void")
    assert driver.asked == "Which reading is mistaken?"
    driver.answer("0.70")
    driver.answer("a breaker was not as stated")
    driver.window.controller.refresh(force=True)
    assert [r.void_reason for r in log.readings.all()] == [None, "a breaker was not as stated"]
    page._go_to(1)
    driver.do("sweep.void")
    assert driver.asked == "Why is this reading mistaken?"


def test_the_sweep_stays_at_the_spot_where_it_was_begun_and_another_one_is_asked_about_once(
    house: House,
) -> None:
    driver, log = house.driver, house.log
    desk = log.spots.add("Desk")
    driver.window.controller.refresh(force=True)
    route, sweep = driver.window.controller.route, driver.window.sweep_controller
    bed = log.spots.all()[0]
    add_circuits(house)
    driver.window.refresh()
    driver.press("Space")
    assert driver.asked == "At which spot is the sweep made?", "the spot was only proposed"
    driver.answer("Bed, left")
    house.read()
    house.read()
    route.propose(desk.id)
    driver.window.refresh()
    assert route.chosen_id == bed.id and driver.message == "The sweep goes on at “Bed, left”."
    route.chosen_id = desk.id
    driver.window.refresh()
    assert route.chosen_id == desk.id
    driver.press("Space")
    question = driver.window.question.question
    assert question is not None and driver.asked == "At which spot is the sweep made?"
    assert [one.text for one in question.answers] == ["Go on at “Bed, left”", "Sweep “Desk” as well"]
    driver.answer("Sweep “Desk” as well")
    house.read()
    assert log.readings.all()[-1].spot_id == desk.id
    assert not sweep.spots_to_ask()


def test_an_honest_zero_counts_and_only_what_is_of_a_list_says_that_it_confirms_none(house: House) -> None:
    driver, sweep = house.driver, house.driver.window.sweep_controller
    add_circuits(house)
    house.read()
    page = page_of(driver)
    page._go_to(5)
    wanted = sweep.next_combination()
    assert wanted is not None and not sweep.is_of_a_list(wanted)
    volts = house.volts(wanted.live)
    driver.window.refresh()
    driver.press("Space")
    for _ in range(12):
        house.demo.still(volts, 1)
        driver.window.refresh()
    question = driver.window.question.question
    assert question is not None and question.text.endswith(
        "The recording does not show that anything was switched. If it was, the value counts: then that changes "
        "nothing here."
    )
    circuits = house.log.circuits.all()
    assert sweep.is_of_a_list(combination_as_at_night([circuits[0].id], circuits))
