"""The stage Plan: what is ticked, planned, done and read again, by somebody at the keys of a swept home."""

from __future__ import annotations

from typing import TypeVar

import pytest
from PySide6.QtWidgets import QDialog

from gui.stages.plan.plan_page import PlanPage
from gui.stages.plan.remedy_dialogs import DoneDialog, OwnRemedyDialog
from gui.widgets.row_model import ListRow, accessible_text
from logger.plan.planned_remedy import RemedyPlan, RemedyStatus
from logger.visit.records.remedy_records import RemedyDecision
from tests.support.swept_window import House, add_circuits, read_what_is_left, sweep_all, worked_out
from tests.support.window_driver import Driver

MAX_EXTRA = 8
"""Readings after the plain sweep by which the list is confirmed."""


def shown_plan(driver: Driver) -> RemedyPlan:
    """Wait until the plan that counts everything is in sight."""
    worked_out(driver)
    for _ in range(20):
        driver.window.plan_controller.wait()
        driver.window.redraw()
        if not driver.window.plan_controller.is_computing:
            break
    plan = driver.window.plan_controller.shown
    assert plan is not None
    return plan


def page_of(driver: Driver) -> PlanPage:
    page = driver.window.page
    assert isinstance(page, PlanPage)
    return page


def choose(driver: Driver, words: str) -> None:
    """Choose the row of a remedy by its words."""
    page = page_of(driver)
    row = next(at for at, one in enumerate(page.rows.rows) if one.head == words)
    page.rows.setCurrentRow(page.rows._place_of(row))
    driver.window.redraw()


T = TypeVar("T", bound=QDialog)


def dialog_of(driver: Driver, kind: type[T]) -> T:
    """The dialog that is open."""
    return next(dialog for dialog in driver.window.findChildren(kind) if dialog.isVisible())


@pytest.fixture
def swept(house: House) -> House:
    sweep_all(house)
    for _ in range(MAX_EXTRA):
        worked_out(house.driver)
        if house.driver.window.sweep_controller.next_reading() is None:
            break
        house.read()
    house.driver.do("stage.plan")
    assert not shown_plan(house.driver).why_open
    return house


def test_before_anything_was_read_the_page_says_what_is_missing_and_leads_there(house: House) -> None:
    driver = house.driver
    driver.do("stage.plan")
    plan = shown_plan(driver)
    page = page_of(driver)
    assert plan.why_open and plan.why_open in page.missing.text()
    assert driver.window.action_bar.name() == "Read what is missing"
    driver.press("Space")
    assert driver.window.page is driver.window.pages.sources


def test_ticks_are_undone_and_change_what_is_predicted(swept: House) -> None:
    driver = swept.driver
    page = page_of(driver)
    assert page.spots.bars == [] or not page.spots.isVisible()
    choose(driver, "Bedroom: Switch the breaker off at night")
    driver.press("Return")
    assert page.spots.isVisible() and len(page.spots.bars) == 1
    with_one = page.spots.bars[0].volts
    row = next(one for one in page.rows.rows if one.head.startswith("Bedroom: Switch the breaker"))
    assert row.ticked and accessible_text(row).startswith("ticked, ")
    driver.do("plan.least")
    assert page.spots.bars[0].volts != with_one
    driver.do("edit.undo")
    assert page.spots.bars[0].volts == with_one
    driver.do("edit.undo")
    assert not page.spots.isVisible()
    assert not any(isinstance(one, ListRow) and one.ticked for one in page.rows.row_model.items)


def test_what_must_stay_on_is_never_proposed_to_be_switched_off(house: House) -> None:
    add_circuits(house)
    source = next(one for one in house.log.circuits.all() if one.name == "Refrigerator")
    house.log.circuits.set_essential(source.id, "food")
    read_what_is_left(house)
    house.driver.do("stage.plan")
    plan = shown_plan(house.driver)
    off = {s.name for remedy in plan.remedies if "off" in remedy.shown for s in remedy.sources}
    assert off and "Refrigerator" not in off


def test_two_remedies_are_planned_done_and_proven_by_reading_again(swept: House) -> None:
    driver = swept.driver
    assert driver.window.action_bar.name() == "Tick the least effort that reaches the target"
    wanted = [f"{name}: Move or shield the wiring" for name in ("Bedroom", "Study")]
    for name in wanted:
        choose(driver, name)
        driver.press("Return")
    assert driver.window.action_bar.name() == "Plan the 2 ticked remedies"
    driver.press("Space")
    shown_plan(driver)
    assert [r.decision for r in swept.log.remedies.all()] == [RemedyDecision.PLANNED] * 2
    for name in wanted:
        choose(driver, name)
        driver.do("plan.done")
        dialog_of(driver, DoneDialog).accept()
        plan = shown_plan(driver)
    assert {r.status for r in plan.remedies if r.is_chosen} == {RemedyStatus.DONE}
    assert driver.window.action_bar.name() == "Read “Bed, left” again"
    driver.press("Space")
    assert driver.window.page is driver.window.pages.spots
    stop = plan.route[0]
    swept.own = {**swept.own, "Bedroom": 0.1, "Study": 0.05}
    volts = swept.volts(stop.combination.live)
    swept.demo.move(volts, volts + 3.0, 6)
    swept.demo.still(volts, 40)
    driver.window.refresh()
    driver.press("Space")
    assert not driver.asked, "what was entered beforehand is switched afterwards"
    driver.window.refresh()
    plan = shown_plan(driver)
    page = page_of(driver)
    assert {r.shown: r.status for r in plan.remedies if r.is_chosen} == dict.fromkeys(
        wanted, RemedyStatus.PROVEN
    )
    assert "proven together" in driver.message and " → " in driver.message
    row = next(one for one in page.rows.rows if one.head == wanted[0])
    assert row.badge is None and row.small_right == "proven together" and "(predicted" not in row.small
    assert f"together with {wanted[1]}" in row.small
    assert not driver.window.registry.why_not("plan.read"), "what is proven may be read again"
    choose(driver, wanted[0])
    assert "before, " in page.detail.whole and "difference" in page.detail.whole
    further = "Bedroom: Switch the breaker off at night"
    choose(driver, further)
    driver.press("Return")
    said = f"{volts:.2f} V were read there."
    assert f"With all that is done {said}" in page.spots.bars[0].note, "the forecast starts from that"
    assert next(one for one in page.rows.rows if one.head == further).small.startswith(f"{volts:.2f} → ")


def test_undo_takes_a_decision_back_and_redo_makes_it_stand_again(swept: House) -> None:
    driver = swept.driver
    choose(driver, "Bedroom: Switch the breaker off at night")
    driver.do("plan.plan")
    shown_plan(driver)
    assert swept.log.remedies.all()[0].decision is RemedyDecision.PLANNED
    driver.do("edit.undo")
    assert swept.log.remedies.all()[0].decision is None
    driver.do("edit.redo")
    assert swept.log.remedies.all()[0].decision is RemedyDecision.PLANNED
    shown_plan(driver)
    driver.do("plan.undone")
    driver.answer("It is undone now")
    shown_plan(driver)
    assert swept.log.remedies.all()[0].decision is RemedyDecision.UNDONE
    driver.do("plan.not_wanted")
    shown_plan(driver)
    row = page_of(driver).rows.rows[page_of(driver).chosen]
    assert row.small_right == "not wanted" and not row.ticked
    assert driver.refused("plan.tick")


def test_a_day_that_is_none_or_to_come_is_refused_beside_the_field(swept: House) -> None:
    driver = swept.driver
    choose(driver, "Bedroom: Switch the breaker off at night")
    driver.do("plan.done")
    dialog = dialog_of(driver, DoneDialog)
    for typed, why in (("2999-01-01", "still to come"), ("soon", "2026-03-31")):
        dialog.day.setText(typed)
        dialog.accept()
        assert dialog.isVisible() and why in dialog.error.text()
    assert swept.log.remedies.all() == []


def test_it_is_done_asks_day_who_and_note_in_one_dialog(swept: House) -> None:
    driver = swept.driver
    choose(driver, "Bedroom: Switch the breaker off at night")
    driver.do("plan.done")
    dialog = dialog_of(driver, DoneDialog)
    assert [dialog.who.itemText(at) for at in range(4)] == [
        "the household",
        "a licensed electrician",
        "I, who measures",
        "another:",
    ]
    assert not dialog.other.isVisible()
    dialog.who.setCurrentIndex(3)
    assert dialog.other.isVisible()
    dialog.other.setText("the caretaker")
    dialog.note.setText("label was wrong")
    dialog.accept()
    (remedy,) = swept.log.remedies.all()
    assert remedy.done is not None and remedy.done.done_on == "", "today counts from this moment on"
    assert (remedy.by_whom, remedy.note) == ("the caretaker", "label was wrong")


def test_an_own_remedy_is_listed_with_its_note_and_date(swept: House) -> None:
    driver = swept.driver
    driver.do("plan.own")
    dialog = dialog_of(driver, OwnRemedyDialog)
    dialog.accept()
    assert "needs words" in dialog.error.text()
    dialog.words.setText("Turn the bed round")
    dialog.spot.setCurrentIndex(1)
    dialog.accept()
    shown_plan(driver)
    driver.window.redraw()
    chosen = page_of(driver).remedy
    assert chosen is not None and chosen.shown == "Bed, left: Turn the bed round"
    assert chosen.kept is not None and chosen.kept.by_whom == "the household"
    driver.do("plan.note")
    driver.type("2031-05-12")
    driver.press("Return")
    driver.type("with a friend")
    driver.press("Return")
    shown_plan(driver)
    row = next(one for one in page_of(driver).rows.rows if one.head == "Bed, left: Turn the bed round")
    assert "2031-05-12" in row.note and "with a friend" in row.note
