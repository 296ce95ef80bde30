"""The breaker sweep and tonight's list by the keys of a real window: five circuits of which one must stay on."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import cast

import pytest
from PySide6.QtCore import QEvent, QObject
from PySide6.QtWidgets import QApplication, QWidget

from gui.dev.demo import DemoRecorder
from gui.model.sweep_controller import SweepController
from gui.sound.sounds import Tone
from gui.stages.sources.source_prompts import USUAL_CIRCUITS
from gui.stages.sources.sweep_bars import sweep_bar, what_to_switch_text
from gui.stages.sources.sweep_page import SweepPage
from gui.stages.sources.tonight_content import NOT_SWEPT, TOO_FEW
from gui.stages.sources.tonight_page import TonightPage
from logger.clock import NS_PER_S, ManualClock
from logger.metrology.context import Context
from logger.metrology.setup import Setup
from logger.sweep.sweep_progress import SweepProgress
from logger.sweep.sweep_rows import SweepRow, sweep_rows
from logger.sweep.switch_off_plan import PlanState
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.home_records import Source
from tests.support.swept_window import (
    NAMES,
    OWN_VOLTS,
    House,
    add_circuits,
    headline,
    page_of,
    read_what_is_left,
    sweep_all,
    worked_out,
)
from tests.support.window_driver import Driver, Heard


def test_circuits_are_listed_marked_renamed_moved_and_removed_by_keys(house: House) -> None:
    driver, log = house.driver, house.log
    add_circuits(house)
    assert [s.name for s in log.circuits.all()] == list(NAMES)
    assert log.circuits.all()[1].stays == "keeps food cold" and "Must stay on: Refrigerator" in driver.message
    driver.press("Down", "Down", "Down")  # off, bedroom, refrigerator, study
    driver.do("sweep.two_pole")
    assert log.circuits.all()[2].two_pole
    driver.do("sweep.rename")
    driver.type("Study and office")
    driver.press("Return")
    assert log.circuits.all()[2].name == "Study and office"
    driver.do("sweep.up")
    assert [s.name for s in log.circuits.all()][1:3] == ["Study and office", "Refrigerator"]
    driver.do("edit.undo")
    assert [s.name for s in log.circuits.all()][1:3] == ["Refrigerator", "Study and office"]
    driver.do("sweep.remove")
    assert (
        "Study and office" not in [s.name for s in log.circuits.all()]
        and "Undo brings it back" in driver.message
    )
    driver.do("edit.undo")
    assert log.circuits.all()[2].name == "Study and office"
    driver.do("sweep.add")
    driver.type("study and office, Attic")
    driver.press("Return")
    assert log.circuits.all()[-1].name == "Attic" and driver.asked != "Which circuits?"
    assert "Added: Attic. Not added: " in driver.message


def test_k_marks_one_that_must_stay_on_or_is_skipped_and_takes_it_back(house: House) -> None:
    driver, log = house.driver, house.log
    add_circuits(house)
    driver.press("Down")
    driver.do("sweep.essential")
    assert driver.asked == "Must “Bedroom” stay on?"
    driver.answer("as the household decided")
    assert log.circuits.all()[0].stays == "as the household decided"
    driver.do("sweep.essential")
    assert log.circuits.all()[0].stays == ""
    driver.do("sweep.essential")
    driver.answer("Skip it: no reading of its own; switched off with the others")
    assert "skipped" in driver.message
    assert "only Bedroom on" not in [c.label for c in driver.window.sweep_controller.progress().left]
    driver.do("sweep.essential")
    assert "only Bedroom on" in [c.label for c in driver.window.sweep_controller.progress().left]


def test_a_whole_sweep_by_space_alone_interrupted_and_resumed(
    house: House, open_window: Callable[[], Driver], heard: Heard
) -> None:
    driver, log = house.driver, house.log
    add_circuits(house)
    page = page_of(driver)
    assert page.to_switch.text() == "Everything off except Refrigerator."
    house.read()
    assert "1 of 6 readings taken: Everything off" in page.where.text(), "its row may be out of sight"
    for _ in range(2):
        house.read()
    assert [r.condition for r in log.readings.all()] == [EVERYTHING_OFF, "only Bedroom on", "only Study on"]
    assert heard.tones.count(Tone.TAKEN) == 3
    assert (
        heard.spoken[-1]
        == "0.28 volts taken at “Bed, left”. Switch on Refrigerator, Hall. Everything else off."
    )
    again = open_window()
    again.do("stage.sources", "page.next")
    house.driver = again
    assert page_of(again).to_switch.text() == "Switch on Refrigerator, Hall. Everything else off."
    for _ in range(3):
        house.read()
    assert [r.condition for r in log.readings.all()][3:] == ["only Hall on", "only Kitchen on", EVERYTHING_ON]
    cold = log.circuits.all()[1].id
    assert all(r.live is not None and cold in r.live for r in log.readings.all()), "it stays on"
    values = {bar.head: bar for bar in page_of(again).bars.bars}
    assert values["Bedroom"].volts == pytest.approx(0.63, abs=0.01)
    assert values["Refrigerator"].value == "stays on" and values["Refrigerator"].note == "keeps food cold"


def test_the_order_is_free_and_repeats_are_counted(house: House) -> None:
    driver, log = house.driver, house.log
    add_circuits(house)
    driver.press("Down", "Down", "Down", "Down")
    house.read()
    driver.press(*["Up"] * 9, "Down")
    house.read()
    driver.press(*["Up"] * 9, "Down")
    house.read(moved=True)
    assert [r.condition for r in log.readings.all()] == ["only Hall on", "only Bedroom on", "only Bedroom on"]
    bar = page_of(driver).bars.bars[1]
    assert bar.note == "2 readings" and bar.volts == pytest.approx(0.63, abs=0.01)
    driver.do("measure.void_last")
    assert driver.asked == "Why is the last reading invalid?"
    driver.answer("moved")
    assert page_of(driver).bars.bars[1].note == ""


def test_the_row_gone_to_is_spoken_and_after_a_void_the_row_is_the_one_that_is_read_next(
    house: House, announced: list[str]
) -> None:
    driver = house.driver
    add_circuits(house)
    for _ in range(2):
        house.read()
    page = page_of(driver)
    announced.clear()
    driver.press("Down")
    for _ in range(3):
        house.demo.still(0.3, 2)
        driver.window.refresh()
    assert page.to_switch.text() in announced and "Hall" in page.to_switch.text(), (
        "a settled value may follow it"
    )
    driver.press("Up")
    driver.window.sweep_controller.choose(None)
    driver.do("sweep.essential")
    driver.press("Esc")
    driver.do("measure.void_last")
    driver.answer("moved")
    rows = page.sweep_controller.rows()
    assert rows[page._at(rows)].combination == page.sweep_controller.next_combination()


def test_it_waits_while_the_body_moves_and_escape_gives_it_up(house: House) -> None:
    driver, log, demo = house.driver, house.log, house.demo
    add_circuits(house)
    driver.press("Space")
    demo.move(0.05, 2.0, 12)
    driver.window.refresh()
    assert driver.window.sweep_controller.waiting is not None and not log.readings.all()
    driver.press("Down")
    assert "Esc cancels" in driver.message
    assert "Esc cancels" in driver.window.registry.why_not("sweep.remove"), "it may be what is awaited"
    driver.press("Esc")
    demo.still(0.05, 30)
    driver.window.refresh()
    assert driver.window.sweep_controller.waiting is None and not log.readings.all()


def test_the_supply_is_asked_for_once_where_it_is_not_stated(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder], log: VisitLog
) -> None:
    log.spots.add("Bed")
    for name in NAMES:
        log.circuits.add("circuit", name)
    record().still(0.3, 10)
    driver = open_window()
    driver.do("stage.sources", "page.next")
    driver.press("Space")
    assert driver.asked == "What supply has the home?"
    driver.answer("three-phase: three legs, such as 230/400 V")
    assert log.setup.current().supply == "three-phase"
    assert driver.window.sweep_controller.waiting is not None, (
        "it was reported as switched before the question"
    )


def test_nothing_is_awaited_without_a_circuit_a_spot_or_a_recorder(
    open_window: Callable[[], Driver], log: VisitLog, clock: ManualClock
) -> None:
    driver = open_window()
    driver.do("stage.sources", "page.next")
    driver.press("Space")
    assert driver.asked == "Which circuits?", "what is missing first"
    driver.press("Esc")
    log.circuits.add("circuit", "Bedroom")
    log.setup.set(Setup(supply="split phase"))
    driver.window.controller.refresh(force=True)
    driver.press("Space")
    assert "has just changed" in driver.message
    clock.advance_ns(2 * NS_PER_S)
    assert driver.window.action_bar.name() == "Nothing is recorded: go to Connect"
    driver.press("Space")
    assert (
        driver.window.page is driver.window.pages.connect and driver.window.sweep_controller.waiting is None
    )


def test_without_a_spot_nothing_is_awaited_while_it_is_recorded(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder], log: VisitLog, clock: ManualClock
) -> None:
    log.circuits.add("circuit", "Bedroom")
    log.setup.set(Setup(supply="split phase"))
    record().still(0.4, 20)
    driver = open_window()
    driver.do("stage.sources", "page.next")
    clock.advance_ns(2 * NS_PER_S)
    driver.press("Space")
    assert "no spot" in driver.message and driver.window.sweep_controller.waiting is None


class Layouts(QObject):
    """Counts how often a part is laid out anew."""

    count = 0

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        self.count += event.type() == QEvent.Type.LayoutRequest
        return super().eventFilter(watched, event)


def layouts_of(part: QWidget, act: Callable[[], object]) -> int:
    """How often a part is laid out anew by what is done."""
    QApplication.processEvents()
    layouts = Layouts(part)
    part.installEventFilter(layouts)
    act()
    QApplication.processEvents()
    part.removeEventFilter(layouts)
    return layouts.count


# --- tonight ------------------------------------------------------------------------------------------------------


def test_after_the_sweep_the_list_stands_beside_the_plain_rule_and_is_confirmed_by_readings(
    house: House, announced: list[str]
) -> None:
    driver = house.driver
    sweep_all(house)
    assert "Switch on Bedroom, Refrigerator. Everything else off." in announced, "the next circuit"
    driver.do("page.next")
    worked_out(driver)
    page = page_of(driver)
    assert isinstance(page, TonightPage)
    once = "With everything off “Bed, left” was read only once. "
    assert f"{once}The background and what each circuit gives depend on that one reading." in page.why.whole
    assert not page.robust.isVisible(), "one thing to do at a time is in sight"
    breakers = driver.window.pages.sources.pages[1]
    assert isinstance(breakers, SweepPage)
    breakers.refresh()
    assert breakers.doubt.text() == (
        "Everything off was read once, and every value here is a difference to it. It can be read once more at the "
        "end, to be sure: choose it in the list."
    )
    for _ in range(6):
        if driver.window.sweep_controller.wanted_for_tonight() is None:
            break
        assert page.next.text().startswith("Lie at “Bed, left”. ") and page.why.whole
        house.read()
        worked_out(driver)
    for _ in range(4):
        house.demo.still(0.05, 2)
        driver.window.refresh()
    (told,) = [text for text in announced if text.startswith("Tonight's list is confirmed.")]
    assert "Switch off:" in told and "below 0.1 V." in told, "what it says, and what it leaves"
    assert headline(page) == "Switch off: Bedroom, Study."
    assert page.plain.text() == (
        "The usual rule, to switch off each circuit that reads above 0.1 V when it alone is on, leads to the same "
        "list."
    )
    assert "read: below 0.1 V" in [bar.note for bar in page.spots.bars]
    assert page.next.text() == "Confirmed by a reading with just that off and everything else on."
    assert breakers.primary_action().text == "Go on to tonight's list"
    assert page.primary_action().text == "Go on to the night"
    driver.window.resize(960, 540)  # not everything has room
    layouts_of(page, driver.window.redraw)
    assert layouts_of(page, driver.window.redraw) == 0, "nothing new, nothing laid out anew"
    driver.do("tonight.details")
    assert page.circuits.isVisible() and not page.spots.isVisible()
    assert f"{once}What each circuit gives depends on that one reading." in page.meaning.whole
    certain = "Read “Bed, left” with everything off once more: what each circuit gives there rests on that one reading."
    assert certain in page.meaning.part.text()
    assert page.circuits.height() >= page.circuits._legend_height() + sum(page.circuits._row_heights()[:5])
    driver.do("tonight.details")
    assert page.spots.isVisible()
    assert certain in page.robust.text(), "which reading is missing is in sight, not only in a tip"


def test_what_relies_on_cancelling_is_shown_beside_what_does_not(house: House) -> None:
    house.own = {**OWN_VOLTS, "Hall": -0.22}
    driver = house.driver
    sweep_all(house)
    driver.do("page.next")
    worked_out(driver)
    page = page_of(driver)
    for _ in range(6):
        if driver.window.sweep_controller.wanted_for_tonight() is None:
            break
        house.read(moved=True)
        worked_out(driver)
    assert headline(page) == "Switch off: Bedroom."
    assert "It would leave 0.0" in page.plain.text(), "it switches off more, and leaves as little"
    assert "cancel each other" in page.robust.text() and "Bedroom, Study, Hall" in page.robust.text()


def test_without_a_sweep_it_says_what_is_missing(house: House) -> None:
    add_circuits(house)
    driver = house.driver
    driver.do("page.next")
    worked_out(driver)
    page = page_of(driver)
    assert headline(page) == "Not enough is read yet: sweep the breakers first."
    action = page.primary_action()
    assert action is not None and action.why_not == headline(page), "the bar does not contradict the page"
    house.log.setup.set(Setup())
    driver.window.controller.refresh(force=True)
    driver.window.redraw()
    driver.press("Space")
    assert driver.asked == "What supply has the home?"


def test_two_spots_are_answered_together_and_each_is_confirmed(house: House) -> None:
    driver, log = house.driver, house.log
    sweep_all(house)
    right = log.spots.add("Bed, right")
    driver.window.controller.refresh(force=True)
    driver.do("page.next")
    worked_out(driver)
    page = page_of(driver)
    assert page.not_swept.text() == "No circuits were read at “Bed, right”."
    driver.do("page.previous", "spots.next")
    assert driver.window.controller.route.chosen_id == right.id
    house.own = {"Bedroom": 0.05, "Refrigerator": 0.0, "Study": 0.0, "Hall": 0.4, "Kitchen": 0.0}
    left = house.own, {**OWN_VOLTS}
    read_what_is_left(house)
    driver.do("page.next")
    worked_out(driver)
    for _ in range(8):
        wanted = driver.window.sweep_controller.wanted_for_tonight()
        if wanted is None:
            break
        house.own = left[0] if wanted[0].id == right.id else left[1]
        house.read(moved=True)
        worked_out(driver)
    assert driver.window.sweep_controller.wanted_for_tonight() is None
    assert headline(page) == "Switch off: Bedroom, Study, Hall."
    assert [bar.note for bar in page.spots.bars] == ["read: below 0.1 V"] * 2


def test_both_pages_and_the_big_button_name_one_next_step(house: House) -> None:
    """A cord is left to unplug, and the list needs more readings: the cord comes first on either page."""
    house.own = {"Bedroom": 0.3, "Refrigerator": 0.0, "Study": 0.29, "Hall": -0.28, "Kitchen": 0.27}
    driver = house.driver
    sweep_all(house)
    bedroom = next(source for source in house.log.circuits.all() if source.name == "Bedroom")
    house.log.circuits.add("cord", "Bedside lamp", bedroom.id)
    driver.window.controller.refresh(force=True)
    breakers = driver.window.pages.sources.pages[1]
    assert isinstance(breakers, SweepPage)
    driver.do("page.next")
    worked_out(driver)
    tonight = page_of(driver)
    for _ in range(12):
        breakers.refresh()
        action, other = breakers.primary_action(), tonight.primary_action()
        assert action is not None and other is not None
        if tonight.plan.state is PlanState.CONFIRMED:
            break
        assert action.text == other.text
        assert ("Unplug: Bedside lamp." in breakers.to_switch.text()) is ("Unplug" in tonight.next.text())
        house.read(moved=True)
        worked_out(driver)
    lamp_out = [r for r in house.log.readings.all() if r.condition.endswith("without Bedside lamp")]
    assert lamp_out, "it was read before the list was confirmed"
    assert (action.text, other.text) == ("Go on to tonight's list", "Go on to the night")


def test_where_the_readings_leave_it_open_one_more_reading_is_asked_for_that_decides(house: House) -> None:
    house.own = {"Bedroom": 0.3, "Refrigerator": 0.0, "Study": 0.29, "Hall": -0.28, "Kitchen": 0.27}
    driver = house.driver
    sweep_all(house)
    driver.do("page.next")
    worked_out(driver)
    page = page_of(driver)
    assert headline(page) == "There is no list for tonight yet. About 3 more readings."
    assert page.next.text().startswith("Lie at “Bed, left”. Switch o") and not page.spots.isVisible()
    assert page.why.part.text() == "Why is it needed?" and page.why.button.isVisible()
    page.why.button.click()
    assert page.why.part.text() == (
        "The readings do not decide it yet. More are needed. It decides what belongs on the list, and what voltage "
        "remains with all of that off. With everything off “Bed, left” was read only once. The background and what "
        "each circuit gives depend on that one reading. Read it once more before you rely on them."
    )
    page.why.button.click()
    breakers = driver.window.pages.sources.pages[1]
    assert isinstance(breakers, SweepPage)
    for taken in range(8):
        if driver.window.sweep_controller.wanted_for_tonight() is None:
            break
        breakers.refresh()
        place = f"about {max(3 - taken, 1)} more" if taken < 5 else f"reading {taken + 1}"
        assert breakers.where.text().startswith(
            f"At “Bed, left”: The circuits are read. For tonight's list: {place}"
        )
        house.read(moved=True)
        worked_out(driver)
    assert driver.window.sweep_controller.wanted_for_tonight() is None
    # Hall nearly cancels either of Study and Kitchen, so these two may stay on; the other one and the bedroom add up.
    assert headline(page) in ("Switch off: Bedroom, Kitchen.", "Switch off: Bedroom, Study.")
    (bar,) = page.spots.bars
    assert bar.note.startswith("read: ")
    stated = driver.window.controller.snapshot.condition
    driver.do("stage.night")
    driver.window.refresh()
    assert stated and driver.window.controller.snapshot.condition == stated, "it is what is on tonight"
    driver.do("stage.spots")
    driver.window.refresh()
    assert driver.window.controller.snapshot.condition == ""


def test_a_homes_usual_circuits_are_taken_over_by_one_key(house: House) -> None:
    house.driver.do("sweep.add")
    house.driver.answer("The usual ones")
    assert [s.name for s in house.log.circuits.all()] == list(USUAL_CIRCUITS)
    assert house.driver.asked == "" and "Must stay on: Refrigerator" in house.driver.message


HALL, BEDROOM = Source(1, "circuit", "Hall"), Source(2, "circuit", "Bedroom")
FREEZER = Source(3, "circuit", "Freezer", stays="keeps food cold")


@pytest.mark.parametrize(
    ("supply", "left", "sources", "text"),
    [
        (None, (), (HALL, BEDROOM), "asks what supply the home has"),
        (1, (), (HALL, BEDROOM), TOO_FEW),
        (1, (1,), (HALL, BEDROOM), NOT_SWEPT),
        (None, (), (BEDROOM, FREEZER), TOO_FEW),
        (None, (), (FREEZER,), "No circuit that may be switched off is listed."),
    ],
)
def test_breakers_says_of_tonights_list_what_the_page_tonight_says(
    supply: object, left: tuple[int, ...], sources: tuple[Source, ...], text: str
) -> None:
    setup = SimpleNamespace(stated=SimpleNamespace(supply=supply))
    controller = SimpleNamespace(route=SimpleNamespace(chosen=object()), setup=setup, sweep_state=None)
    sweep = SimpleNamespace(
        controller=controller, waiting=None, is_computing=False, next_reading=lambda: None, tonight=lambda: None,
        progress=lambda: SimpleNamespace(taken={1: ()}, left=left), sources=sources,
        not_counted=lambda: "",
    )  # fmt: skip
    assert text in what_to_switch_text(cast(SweepController, sweep))


def test_a_circuit_that_alone_is_listed_has_no_value_of_its_own() -> None:
    (_, row, _) = sweep_rows(SweepProgress({}, ()), [BEDROOM])
    bar = sweep_bar(row, frozenset())
    assert (
        bar.value == "not read alone" and "other circuits were switched too" in bar.note and not bar.has_bar
    )


@pytest.mark.parametrize(
    ("unmoved", "said"),
    [("step", "only a step, no motion, since “Desk”"), ("", "nothing in the trace shows")],
)
def test_a_confirmed_reading_says_what_was_confirmed(unmoved: str, said: str) -> None:
    context = Context(Setup(), {}, stated_unchanged=True, unmoved=unmoved, unmoved_since="Desk")
    reading = SimpleNamespace(context=context, condition_corrected=False, id=1)
    row = SimpleNamespace(
        source=None, readings=(reading,), value=SimpleNamespace(volts=0.05, u_volts=0.01), name="Everything off",
        repeats_contradict=False, combination=None,
    )  # fmt: skip
    note = sweep_bar(cast(SweepRow, row), frozenset()).note
    assert said in note and "not changed" not in note
