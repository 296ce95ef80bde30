"""The set-up by keys: one key a choice, what is open is asked in turn, what is left open is named."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace

import psutil
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QMenu, QPushButton

from gui.dev.demo import DemoRecorder
from gui.settings.preferences import LENGTHS
from gui.stages.prepare.setup_items import ITEMS, METER, setup_row
from gui.widgets.badge import GOOD, UNCLEAR, BadgeShape
from gui.widgets.row_model import ListRow
from gui.widgets.theme import ORANGE
from logger.clock import NS_PER_S, ManualClock
from logger.meter.description import MeterDescription
from logger.metrology.lengths import METRES_PER_FOOT, LengthUnit
from logger.metrology.setup import ASSUMED_METER, UNKNOWN_METER, MeterFacts, Setup
from logger.recording.watch import power
from logger.visit import VisitLog
from tests.support.window_driver import Charger, Driver, FakeStart

KEPT = MeterDescription(
    "bench meter", input_resistance_ohm=2e6, assumed=MeterDescription("").assumed - {"input_resistance_ohm"}
)


@pytest.fixture
def driver(open_window: Callable[[], Driver], monkeypatch: pytest.MonkeyPatch) -> Driver:
    monkeypatch.setattr("gui.stages.prepare.setup_prompts.list_descriptions", list)
    driver = open_window()
    driver.do("stage.prepare")
    return driver


def enter(driver: Driver, text: str) -> None:
    driver.type(text)
    driver.press("Return")


def test_space_asks_one_thing_after_the_other(driver: Driver, log: VisitLog) -> None:
    driver.press("Space")
    assert driver.asked == "Name of this home"
    enter(driver, "house by the mill")
    driver.answer("earth rod", "loam or clay", "damp")  # earth rod, loam or clay, damp
    enter(driver, "12")
    enter(driver, "7,5 m")
    driver.answer(
        "three-phase",
        "50 Hz",
        "On battery",
        "Isolated: optical or radio",
        "not described: assume a plain multimeter",
    )  # three-phase, 50 Hz, battery, isolated, not described
    assert driver.asked == ""
    setup = log.setup.current()
    driver.do("edit.undo")
    assert driver.message == "Undone: meter assumed. Now again: Meter, not stated"
    driver.do("edit.redo")
    assert (setup.household, setup.reference, setup.soil, setup.moisture) == (
        "house by the mill", "earth rod", "loam or clay", "damp",
    )  # fmt: skip
    assert (setup.panel_distance_m, setup.wire_length_m) == (12.0, 7.5)
    assert (setup.supply, setup.mains_hz, setup.on_battery, setup.link_isolated) == (
        "three-phase", 50.0, True, True,
    )  # fmt: skip
    assert setup.meter.assumed, "what nobody has stated stays named"
    assert setup.missing() == [] and setup.reference_state().remarks() == []
    assert driver.window.action_bar.text() == "Go on to the checks"


@pytest.mark.parametrize("width", [1024, 1280])
def test_no_answer_of_a_question_is_cut(driver: Driver, width: int) -> None:
    window = driver.window
    window.resize(width, 600)
    driver.press("Space")
    enter(driver, "house by the mill")
    assert driver.asked == "What is the reference?"
    QApplication.processEvents()
    panel = window.question
    long = max(panel.buttons, key=lambda button: len(button.text()))
    assert long.text().startswith("Building earth: second best"), (
        "the whole answer, for tests and screen readers"
    )
    assert long.accessibleName() == long.text()
    for button in panel.buttons:
        right = button.mapTo(panel, button.rect().topRight()).x()
        assert right < panel.width(), button.text()
        lines = QPushButton.text(button).splitlines()
        assert " ".join(lines) == button.text()
        widest = max(map(button.fontMetrics().horizontalAdvance, lines))
        assert widest < button.width(), lines
        assert button.height() > button.fontMetrics().height() * len(lines), "all lines are in sight"
    assert len(QPushButton.text(long).splitlines()) > 1


def test_building_earth_asks_nothing_of_a_rod_and_is_named(driver: Driver, log: VisitLog) -> None:
    driver.press("Down")
    driver.do("prepare.change")
    driver.answer("Building earth: second best, adds uncertainty")
    assert log.setup.current().reference == "building earth"
    assert driver.asked == "", "one row was asked for: back to the list"
    assert "on every reading: building earth" in driver.window.pages.prepare.missing.text()
    row = next(r for r in driver.window.pages.prepare.list.rows if r.head == "Reference")
    assert (row.value, row.small) == ("building earth", "adds uncertainty")


def test_what_is_missing_is_named_with_its_consequence(driver: Driver) -> None:
    text = driver.window.pages.prepare.missing.text()
    assert "what the reference is" in text and "battery" in text and "isolated" in text
    assert "which adds uncertainty" in text


def test_what_is_guessed_of_the_meter_is_not_said_to_add_nothing(driver: Driver) -> None:
    page, state = driver.window.pages.prepare, driver.window.controller.setup.state
    meter = replace(UNKNOWN_METER, name="Bench 2", assumed=("accuracy", "calibrated_on", "isolated_link"))
    state("all", reference="earth rod", on_battery=True, link_isolated=True, meter=meter)
    driver.window.refresh()
    row = next(row for row in page.list.rows if row.head == "Meter")
    assert row.badge is UNCLEAR and row.small.startswith(
        "These details of the meter are not stated, so those of a plain multimeter are assumed: accuracy. The day"
    )
    assert (
        page.missing.text()
        == "These details of the meter are not stated, so those of a plain multimeter are assumed: accuracy."
    )
    state("accuracy", meter=replace(meter, assumed=("calibrated_on",)))
    driver.window.refresh()
    row = next(row for row in page.list.rows if row.head == "Meter")
    assert row.badge is GOOD and page.missing.text() == "Nothing here adds uncertainty."


def test_a_right_click_offers_to_change_the_row(driver: Driver) -> None:
    driver.do("stage.prepare")
    rows = driver.window.pages.prepare.list
    rows.customContextMenuRequested.emit(rows.visualRect(rows.model().index(0, 0)).center())
    (menu,) = rows.findChildren(QMenu)
    assert menu.actions()[0].text() == "&Change..."
    menu.close()


def test_down_leaves_it_open_and_asks_the_next(driver: Driver, log: VisitLog) -> None:
    driver.press("Space")
    driver.answer("Skip for now")
    assert driver.asked == "What is the reference?"
    driver.answer("Skip for now")
    assert driver.asked == "What supply has the home?"
    assert log.facts.get("setup") == ""
    driver.answer(*["Skip for now"] * 5)
    assert driver.window.action_bar.name() == "Go on to the checks", (
        "what was skipped is not asked round and round"
    )


@pytest.mark.parametrize("text", ["far", "-3", "nan", "inf"])
def test_no_length(driver: Driver, log: VisitLog, text: str) -> None:
    driver.window.press_primary()
    driver.answer("Skip for now", "earth rod", "Skip for now", "Skip for now")
    assert driver.asked == "How far is it from the rod to the main panel?"
    enter(driver, text)
    assert log.setup.current().panel_distance_m is None
    question = driver.window.question
    assert question.line is not None and question.line.text() == text, "what was typed is kept"
    why = question.why.text()
    assert question.why.isVisible() and ("is not a number" in why or "between 0 m and" in why)


def test_a_length_is_typed_and_shown_in_feet_where_that_is_chosen(driver: Driver, log: VisitLog) -> None:
    driver.window.preferences.set(LENGTHS, LengthUnit.FEET)
    driver.window.apply_preferences()
    driver.window.press_primary()
    driver.answer("Skip for now", "earth rod", "Skip for now", "Skip for now")
    enter(driver, "40")
    assert log.setup.current().panel_distance_m == 40 * METRES_PER_FOOT
    enter(driver, "3,5 metres")
    assert log.setup.current().wire_length_m == 3.5
    rows = driver.window.pages.prepare.list
    role = Qt.ItemDataRole.AccessibleTextRole
    shown = " ".join(str(rows.row_model.index(at).data(role)) for at in range(rows.count()))
    assert "40 ft" in shown and "11.5 ft" in shown


def choose_row(driver: Driver, name: str) -> None:
    page = driver.window.pages.prepare
    driver.press("Home", *["Down"] * [item.name for item in page.items()].index(name))


def test_another_target_needs_its_source(driver: Driver, log: VisitLog) -> None:
    choose_row(driver, "Target")
    driver.do("prepare.change")
    driver.answer("another")
    enter(driver, "0.05")
    assert log.setup.current().target_volts == 0.1
    enter(driver, "the household itself")
    setup = log.setup.current()
    assert (setup.target_volts, setup.target_source) == (0.05, "the household itself")


def test_cautions_stand_where_they_matter(driver: Driver) -> None:
    driver.press("Down")
    driver.do("prepare.change")
    prompt = driver.window.question.question
    assert prompt is not None and "thunderstorm" in prompt.text and "Ask before digging" in prompt.text
    driver.press("Esc")
    assert "live conductor" in driver.window.pages.prepare._caution.text()


# --- what the system knows ------------------------------------------------------------------------------------


def row(driver: Driver, head: str) -> ListRow:
    return next(r for r in driver.window.pages.prepare.list.rows if r.head == head)


def is_orange(row: ListRow) -> bool:
    return row.badge is not None and (row.badge.shape, row.badge.colour) == (BadgeShape.QUESTION, ORANGE)


def test_the_meter_that_is_recorded_with_is_taken_over_and_said(
    log: VisitLog, clock: ManualClock, start: FakeStart, open_window: Callable[[], Driver]
) -> None:
    driver = open_window()
    driver.do("stage.connect", "measure.record")
    assert start.asked
    recorder = DemoRecorder(log, clock, meter=KEPT)
    recorder.still(0.3, 3)
    driver.window.refresh()
    assert log.setup.current().meter == MeterFacts.of(KEPT)
    assert "Recording" in driver.message and "“bench meter”, as it is kept" in driver.message
    driver.do("stage.prepare")
    assert row(driver, "Meter").value == "bench meter"
    assert driver.window.controller.setup.meter_difference() == ""
    recorder.end()


def test_opening_a_visit_that_is_recorded_takes_its_meter_over(
    log: VisitLog, clock: ManualClock, open_window: Callable[[], Driver]
) -> None:
    recorder = DemoRecorder(log, clock, meter=KEPT)
    recorder.still(0.3, 3)
    open_window()
    assert log.setup.current().meter == MeterFacts.of(KEPT)
    recorder.end()


def test_reading_an_old_visit_states_nothing(
    log: VisitLog, clock: ManualClock, open_window: Callable[[], Driver]
) -> None:
    recorder = DemoRecorder(log, clock, meter=KEPT)
    recorder.still(0.3, 3)
    recorder.end()
    open_window()
    assert log.facts.get("setup") == ""


@pytest.mark.parametrize(
    ("stated", "says"),
    [
        (
            MeterDescription("pocket meter"),
            "“pocket meter” is entered as the meter, but the recording is made with “bench meter”: the data of "
            "“bench meter” count.",
        ),
        (MeterDescription("bench meter"), "The kept description of “bench meter” has changed"),
    ],
)
def test_another_stated_meter_is_named_and_one_key_takes_over(
    log: VisitLog, clock: ManualClock, open_window: Callable[[], Driver], stated: MeterDescription, says: str
) -> None:
    log.setup.set(Setup(meter=MeterFacts.of(stated)))
    recorder = DemoRecorder(log, clock, meter=KEPT)
    recorder.still(0.3, 3)
    driver = open_window()
    driver.do("stage.prepare")
    assert log.setup.current().meter == MeterFacts.of(stated), "what somebody stated is not overwritten"
    assert says in driver.window.pages.prepare.contradictions.text()
    assert is_orange(row(driver, "Meter")) and "recorded with" in row(driver, "Meter").small
    driver.do("prepare.take_over")
    assert log.setup.current().meter == MeterFacts.of(KEPT)
    assert not driver.window.pages.prepare.contradictions.isVisible()
    driver.do("edit.undo")
    assert driver.message == f"Undone: meter {KEPT.name}. Now again: meter {stated.name}"
    recorder.end()


def test_a_run_without_a_kept_meter_says_nothing_of_it(
    log: VisitLog, record: Callable[[], DemoRecorder], driver: Driver
) -> None:
    record().still(0.3, 3)
    driver.window.refresh()
    assert (
        driver.window.controller.setup.recorded_meter is None
        and driver.window.controller.setup.meter_difference() == ""
    )
    assert log.facts.get("setup") == ""


@pytest.mark.parametrize(("plugged_in", "on_battery"), [(True, False), (False, True)])
def test_enter_states_the_power_as_the_system_knows_it(
    charger: Charger, open_window: Callable[[], Driver], log: VisitLog, plugged_in: bool, on_battery: bool
) -> None:
    charger.plugged_in = plugged_in
    driver = open_window()
    log.setup.set(Setup(reference="building earth", supply="split phase", mains_hz=60.0, household="mill"))
    driver.window.controller.snapshot.refresh(force=True)
    driver.do("stage.prepare")
    driver.press("Space")
    prompt = driver.window.question.question
    assert prompt is not None and "Your laptop reports" in prompt.text
    driver.press("Return")
    assert log.setup.current().on_battery is on_battery
    assert driver.window.controller.setup.power_contradiction() == ""


@pytest.mark.parametrize(
    ("stated_on_battery", "plugged_in", "says"),
    [
        (True, True, "entered as on battery, but the laptop's charger is plugged in"),
        (False, False, "entered as on its charger, but the laptop runs on battery"),
    ],
)
def test_a_charger_that_contradicts_is_said_when_it_is_plugged_in(
    driver: Driver,
    log: VisitLog,
    clock: ManualClock,
    charger: Charger,
    stated_on_battery: bool,
    plugged_in: bool,
    says: str,
) -> None:
    log.setup.set(Setup(on_battery=stated_on_battery))
    driver.window.controller.snapshot.refresh(force=True)
    charger.plugged_in = not plugged_in
    clock.advance_ns(3 * NS_PER_S)
    driver.window.refresh()
    assert row(driver, "Laptop").small != says
    charger.plugged_in = plugged_in
    clock.advance_ns(3 * NS_PER_S)
    driver.window.refresh()
    assert row(driver, "Laptop").small == says and is_orange(row(driver, "Laptop"))
    assert says in driver.window.pages.prepare.contradictions.text()


def test_a_system_that_does_not_tell(driver: Driver, log: VisitLog) -> None:
    driver.press("Space")
    driver.answer(*["Skip for now"] * 4)
    prompt = driver.window.question.question
    assert prompt is not None and prompt.title == "How is the laptop powered?"
    assert "the system" not in prompt.text
    assert not any(choice.default for choice in prompt.answers), "no answer stands out where nothing is known"
    driver.press_at_once("Return")
    assert log.facts.get("setup") == "", "an Enter too many is no answer"


@pytest.mark.parametrize(("battery", "told"), [(None, None), (True, True), (False, False)])
def test_what_the_system_tells_of_the_charger(
    monkeypatch: pytest.MonkeyPatch, battery: bool | None, told: bool | None
) -> None:
    answer = None if battery is None else SimpleNamespace(percent=50, secsleft=3600, power_plugged=battery)
    monkeypatch.setattr(psutil, "sensors_battery", lambda: answer, raising=False)
    assert power.charger_plugged_in() is told
    monkeypatch.delattr(psutil, "sensors_battery")
    assert power.charger_plugged_in() is None


def test_what_is_optional_is_entered_undone_and_taken_out_again(driver: Driver, log: VisitLog) -> None:
    log.setup.set(Setup(reference="earth rod", meter=MeterFacts.of(KEPT)))
    driver.window.controller.refresh(force=True)
    driver.window.redraw()
    choose_row(driver, "Weather")
    driver.do("prepare.change")
    assert driver.window.question.line is not None
    enter(driver, "rain" * 60)
    assert driver.asked == "Weather", "it stays open"
    driver.window.question.line.clear()
    enter(driver, "rain, two days")
    assert log.circumstances.current().weather == "rain, two days"
    assert driver.asked == "", "back to the list after the one answer"
    choose_row(driver, "Length of the rod")
    driver.do("prepare.change")
    enter(driver, "40 ft")
    assert "between 0 m and 10 m" in driver.window.question.why.text()
    driver.window.question.line.clear()
    enter(driver, "4 ft")
    driver.press("Esc")
    assert log.circumstances.current().rod_length_m == pytest.approx(1.2192)
    assert "4 ft" in [row.value for row in driver.window.pages.prepare.list.rows]
    driver.do("edit.undo")
    assert log.circumstances.current().rod_length_m is None
    choose_row(driver, "Weather")
    driver.do("prepare.change")
    driver.answer("Not recorded")
    assert log.circumstances.current().weather == ""
    driver.press("Esc")
    choose_row(driver, "Certificate")
    driver.do("prepare.change")
    enter(driver, "C-123, test house")
    assert log.setup.current().meter.certificate == "C-123, test house"
    assert log.setup.current().meter == MeterFacts.of(KEPT), "it is the same meter"


def test_an_assumed_meter_was_answered_and_has_its_tick() -> None:
    (item,) = (item for item in ITEMS if item.name == METER)
    row = setup_row(item, Setup(meter=ASSUMED_METER))
    assert row.value == "assumed" and row.badge is GOOD
    assert setup_row(item, Setup()).badge is not GOOD
