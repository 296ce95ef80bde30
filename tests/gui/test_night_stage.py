"""The stage Night by the keys of a real window, on a night of the simulated house that was recorded in fast-forward."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from gui.dev.demo import DemoRecorder
from gui.model.computer_resources import ComputerResources
from gui.model.night_controller import NightController
from gui.model.stages import NIGHT
from gui.model.visit_controller import VisitController
from gui.stages.night.morning_page import MorningPage
from gui.stages.night.night_compare_page import NightComparePage
from gui.widgets.badge import GOOD, UNCLEAR
from gui.widgets.row_model import ListHeading, ListRow
from gui.window import Window
from logger.clock import NS_PER_S, ManualClock
from logger.metrology.setup import Setup
from logger.night.night_conditions import WHAT_WAS_ON
from logger.night.night_spots import WHERE_SOMEBODY_LAY
from logger.night.recorded_nights import longest_night
from logger.recording.watch.power import Power
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_ON
from logger.visit.records.fact_names import NIGHT_EDGES
from tests.support.window_driver import Driver, FakeStart, Heard
from tests.support.without_triggers import without_triggers

HOUR_NS = 3600 * NS_PER_S


class Computer:
    """Stands for disk and battery."""

    def __init__(self) -> None:
        self.power: Power | None = Power(False, 81.0, 10 * 3600.0)
        self.free = 10**10

    def read_power(self) -> Power | None:
        return self.power

    def read_free_bytes(self, _: Path) -> int:
        return self.free


class Bedside:
    """A window on a night that has been recorded."""

    def __init__(self, path: Path, start: FakeStart) -> None:
        self.clock = ManualClock(VisitLog.open(path).runs.all()[0].started_utc_ns + 12 * HOUR_NS)
        self.log = VisitLog.open(path, self.clock)
        self.log.setup.set(Setup(reference="earth rod"))
        self.computer = Computer()
        controller = VisitController(self.log, self.clock, start, lambda: None)  # type: ignore[arg-type]
        self.night_controller = NightController(
            controller,
            ComputerResources(
                path.parent, self.clock, self.computer.read_power, self.computer.read_free_bytes
            ),
            partial(ThreadPoolExecutor, 1),
        )
        self.window = Window(controller, sounds=Heard(), polls=False, night_controller=self.night_controller)
        self.driver = Driver(self.window)
        self.window.show()
        self.window.activateWindow()
        QApplication.processEvents()  # the keyboard goes to this window from here on

    def settle(self) -> None:
        """Wait for what is worked out beside the window, and show it."""
        for _ in range(2):  # the comparison is asked for once the summary is there
            self.night_controller.wait()
            self.window.refresh()
            self.window.redraw()

    def close(self) -> None:
        self.window.may_close = True
        self.window.close()
        self.window.deleteLater()
        self.log.close()

    @property
    def morning(self) -> MorningPage:
        return self.window.pages.night.morning

    def chosen_text(self) -> str:
        """The chosen row of the summary."""
        fact = self.morning.facts[self.morning.chosen]
        return f"{fact.what} {fact.text} {fact.note}".strip()

    def go_to(self, begins: str) -> None:
        """Down to the fact that begins so."""
        for _ in self.morning.facts:
            if self.chosen_text().startswith(begins):
                return
            self.driver.press("Down")
        raise AssertionError(begins)


@pytest.fixture
def bedside(
    tmp_path: Path, start: FakeStart, night_visit: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Bedside]:
    # The night of these tests is a short one, so that it is recorded quickly.
    monkeypatch.setattr("logger.night.recorded_nights.MIN_NIGHT_S", 3600.0)
    path = tmp_path / "house.visit"
    shutil.copy(night_visit, path)
    opened = Bedside(path, start)
    opened.driver.do("stage.night")
    opened.settle()
    yield opened
    opened.close()


def test_the_rail_counts_the_nights_not_the_time_since_the_visit_began(
    log: VisitLog, clock: ManualClock
) -> None:
    evening = VisitController(log, clock)
    assert NIGHT.progress(evening) == "none yet"
    recorder = DemoRecorder(log, clock, rate_hz=0.5)
    recorder.still(0.3, 60)
    evening.refresh()
    assert evening.snapshot.recording and NIGHT.progress(evening) == "none yet", (
        "an evening's work is no night"
    )
    recorder.still(0.3, 5 * 3600 - 60)
    clock.advance_ns(10 * 3600 * NS_PER_S)
    DemoRecorder(log, clock, rate_hz=0.5).still(0.2, 60)
    clock.advance_ns(60 * NS_PER_S)
    controller = VisitController(log, clock)
    assert not controller.snapshot.recording and controller.snapshot.trace.end_s > 10 * 3600
    assert NIGHT.progress(controller) == "1 night"


def test_the_morning_comes_into_sight_when_the_recording_of_a_night_ends(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("logger.night.recorded_nights.MIN_NIGHT_S", 120.0)
    recorder = record()
    recorder.still(0.3, 20)
    driver = open_window()
    pages = driver.window.pages.night
    recorder.still(0.3, 120)
    driver.window.refresh()
    assert driver.window.controller.snapshot.night_count and pages.page is pages.start, "it goes on"
    recorder.end()
    driver.window.refresh()
    assert pages.page is pages.morning, "whatever stage is in sight"
    pages.show_page(0)
    driver.window.refresh()
    assert pages.page is pages.start, "the user goes where he likes"


def test_the_stage_shows_the_morning_of_a_night_that_is_over(bedside: Bedside) -> None:
    assert bedside.window.pages.night.page is bedside.morning
    told = {fact.what: fact for fact in bedside.morning.facts}
    assert told["Recorded"].text == "1 h 20 min" and told["Missed"].text == "no time"
    night = longest_night(bedside.log)
    assert told["Motion"].note.startswith(f"{len(night.record.motions)} episode")
    loads = [what for what in told if what.startswith("About")]
    assert len(loads) == 1 and "higher for 3 min every 8 min" in loads[0]
    assert " V ± " in told["Mean of the longest steady span"].text, "a level that sways slowly is still too"
    assert {
        "Middle value (median)",
        "5th to 95th percentile",
        "Clearly above 0.1 V",
        "Lowest hour",
        "Mean of the longest steady span",
    } <= set(told)
    headings = [row.text for row in bedside.morning.rows.row_model.items if isinstance(row, ListHeading)]
    assert f"Steps: {len(night.record.steps)}" in headings
    bedside.window.resize(1366, 740)
    QApplication.processEvents()
    rows = bedside.morning.rows
    assert all(rows._is_whole(place) for place in range(6)), "the first heading and five facts"
    assert "when the recording began" in rows.row_model.index(1).data(Qt.ItemDataRole.ToolTipRole)


def test_trace_and_page_tell_the_zone_of_their_times_once_where_this_computer_has_another(
    bedside: Bedside, zone: Callable[[str], None]
) -> None:
    trace, headline = bedside.window.trace, bedside.morning.headline

    def zones() -> tuple[str, str]:
        bedside.clock.advance_ns(NS_PER_S)
        bedside.window.refresh()
        bedside.window.redraw()
        return trace.header.zone_label.text(), headline.text().partition("times in ")[2]

    bedside.window.resize(1024, 600)
    zone("Asia/Kathmandu")
    assert zones() == ("Times in UTC+00:00", "UTC+00:00")
    QApplication.processEvents()
    label, axis = trace.header.zone_label, trace.plot.getAxis("bottom")
    assert label.isVisible() and trace.header.rect().contains(label.geometry())
    assert label.width() >= label.sizeHint().width() and "Times in UTC+00:00" in trace.accessibleDescription()
    ((spacing, values),) = axis.tickValues(0.0, 80 * 60.0, 400)
    assert axis.tickStrings(values, 1.0, spacing)[0] == "00:00"
    assert bedside.morning.facts[0].text == "00:00:00"
    zone("UTC")
    assert zones() == ("", "") and not label.isVisible()


def test_the_whole_night_is_in_the_trace_and_enter_goes_to_a_step(bedside: Bedside) -> None:
    start_s, end_s = bedside.window.trace.window_s()
    assert start_s == pytest.approx(0, abs=1) and end_s == pytest.approx(4800, abs=200)
    step = next(s for s in longest_night(bedside.log).record.steps if s.after_volts - s.before_volts < -0.3)
    bedside.go_to(longest_night(bedside.log).local(step.time_s).strftime("%H:%M:%S"))
    bedside.driver.do("night.show")
    start_s, end_s = bedside.window.trace.window_s()
    assert (start_s + end_s) / 2 == pytest.approx(step.time_s, abs=1) and end_s - start_s == pytest.approx(
        120
    )
    bedside.driver.do("night.whole")
    assert bedside.window.trace.window_s()[1] > 4700


def test_the_trace_is_as_it_was_when_the_stage_is_left(bedside: Bedside) -> None:
    bedside.driver.do("trace.zoom_in", "stage.spots")
    assert bedside.window.trace.span_s == 120.0 and bedside.window.trace.following


def test_from_the_whole_night_to_one_second_and_back(bedside: Bedside) -> None:
    bedside.driver.do(*["trace.zoom_in"] * 16)
    start_s, end_s = bedside.window.trace.window_s()
    assert end_s - start_s == pytest.approx(1.0)
    bedside.driver.do("trace.pan_back")
    assert bedside.window.trace.window_s()[0] == pytest.approx(start_s - 0.25)
    bedside.driver.do(*["trace.zoom_out"] * 16)
    assert bedside.window.trace.span_s is None


def fact_text(bedside: Bedside, what: str) -> str:
    """Value and note of a fact."""
    fact = next(fact for fact in bedside.morning.facts if fact.what == what)
    return f"{fact.text} {fact.note}"


def drag(bedside: Bedside, edge: int, pixels: float) -> None:
    """Drag an edge of the night in the chart of the hours."""
    chart = bedside.morning.hours
    held = QPoint(round(chart.edge_x(edge)), chart.height() // 2)
    there = QPoint(round(held.x() + pixels), held.y())
    QTest.mousePress(chart, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, held)
    QTest.mouseMove(chart, there)
    chart.repaint()
    QTest.mouseRelease(chart, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, there)


def test_the_night_has_its_edges_beside_it_and_they_are_moved_by_typing(bedside: Bedside) -> None:
    chart = bedside.morning.hours
    QTest.mouseMove(chart, QPoint(chart.width() // 2, chart.height() // 2))
    assert "motion episode" in chart.toolTip(), "what the number under a bar counts"
    assert fact_text(bedside, "The night begins") == "00:00:00 when the recording began"
    bedside.driver.do("night.edges")
    assert bedside.driver.asked == "When does the night begin and end?"
    line = bedside.window.question.line
    assert line is not None and line.text() == "00:00 to 01:20"
    line.setText("00:10 to 01:05")
    bedside.driver.press("Return")
    assert bedside.driver.message == "The night is from 00:10 to 01:05"
    bedside.settle()
    assert fact_text(bedside, "The night begins") == "00:10:00 moved by hand"
    assert fact_text(bedside, "The night ends") == "01:05:00 moved by hand"
    assert longest_night(bedside.log).record.end_s == pytest.approx(55 * 60)
    bedside.driver.do("night.edges")
    line = bedside.window.question.line
    assert line is not None and line.text() == "00:10 to 01:05"
    line.setText("-")
    bedside.driver.press("Return")
    bedside.settle()
    assert fact_text(bedside, "The night ends").endswith("when the recording ended")
    bedside.driver.do("edit.undo")
    bedside.settle()
    assert fact_text(bedside, "The night begins") == "00:10:00 moved by hand"
    bedside.driver.do("edit.undo")
    bedside.settle()
    assert fact_text(bedside, "The night begins") == "00:00:00 when the recording began"
    assert len(bedside.log.facts.values_of(NIGHT_EDGES)) == 4  # nothing is overwritten


def test_times_that_make_no_night_are_refused_and_stay_in_the_line(bedside: Bedside) -> None:
    for typed, why in (
        ("01:05 to 00:10", "leaves less than a minute"),
        ("00:10 to 03:00", "outside the recording"),
        ("midnight", "is not two times"),
        ("00:10 to late", "“late” is no time"),
    ):
        bedside.driver.do("night.edges")
        line = bedside.window.question.line
        assert line is not None
        line.setText(typed)
        bedside.driver.press("Return")
        assert why in bedside.driver.message and "Nothing was changed" in bedside.driver.message
        line = bedside.window.question.line
        assert line is not None and line.text() == typed
        bedside.driver.press("Esc")
    assert bedside.log.facts.get(NIGHT_EDGES) == ""


def test_an_edge_is_dragged_in_and_out_again(bedside: Bedside) -> None:
    before_x = bedside.morning.hours.edge_x(0)
    drag(bedside, 0, 60)
    assert bedside.morning.hours.edge_x(0) > before_x + 50  # it stays there while the night is summed up anew
    bedside.driver.do("night.edges")
    line = bedside.window.question.line
    assert line is not None and not line.text().startswith("00:00")
    bedside.driver.press("Esc")
    bedside.settle()
    text = fact_text(bedside, "The night begins")
    assert text.endswith(":00 moved by hand") and not text.startswith("00:00")
    shorter = longest_night(bedside.log)
    assert 60 < shorter.record.end_s < 79 * 60 and shorter.edges is not None
    assert shorter.edges.recording_s[0] < 0.0
    # The chart shows the whole recording still, so the edge can be moved back out.
    drag(bedside, 0, -200)
    bedside.settle()
    assert fact_text(bedside, "The night begins") == "00:00:00 moved by hand"
    drag(bedside, 1, -40)
    bedside.settle()
    assert fact_text(bedside, "The night ends").endswith("moved by hand")
    drag(bedside, 1, -2000)
    assert "leaves less than a minute" in bedside.driver.message


def test_planned_switchings_are_kept_and_laid_beside_the_steps(bedside: Bedside) -> None:
    bedside.driver.do("night.plan")
    assert bedside.driver.asked == "Planned switchings"
    bedside.driver.type("00:50 breakers off; 01:05 breakers on")
    bedside.driver.press("Return")
    bedside.settle()
    assert bedside.log.facts.get("schedule") == "00:50 breakers off; 01:05 breakers on"
    told = {fact.what: fact for fact in bedside.morning.facts}
    assert "found at 00:" in told["00:50 breakers off"].note
    assert told["01:05 breakers on"].text == "no step"
    assert any("planned: breakers off" in fact.note for fact in bedside.morning.facts)
    bedside.driver.do("edit.undo")
    bedside.settle()
    assert bedside.log.facts.get("schedule") == ""


def test_what_was_on_in_the_night_is_asked_and_shown_and_taken_back(
    bedside: Bedside, monkeypatch: pytest.MonkeyPatch
) -> None:
    def shown() -> str:
        bedside.settle()
        return next(fact.text for fact in bedside.morning.facts if fact.what == WHAT_WAS_ON)

    assert shown() == "not entered"
    bedside.driver.do("night.condition")
    assert bedside.driver.asked.startswith("What was on in the night of ")
    bedside.driver.answer("Everything off")
    assert shown() == "everything off"
    bedside.driver.do("edit.undo")
    assert shown() == "not entered"
    bedside.driver.do("page.previous")
    bedside.driver.do("night.condition")
    assert bedside.driver.asked == "What is on in the night?"
    bedside.driver.answer("Everything on")
    bedside.window.redraw()
    row = bedside.window.pages.night.start.rows.rows[0]
    assert (row.value, row.badge) == ("everything on", GOOD)
    bedside.window.controller.condition.state(EVERYTHING_ON)
    monkeypatch.setattr(bedside.window.controller.readings, "condition_doubt", lambda: "Something came on.")
    bedside.window.redraw()
    row = bedside.window.pages.night.start.rows.rows[0]
    assert (row.note, row.badge) == ("Something came on.", UNCLEAR), "as the readout says"
    monkeypatch.setattr(
        bedside.window.controller.snapshot, "earlier_recording_doubt", lambda: "Something came on."
    )
    bedside.window.redraw()
    row = bedside.window.pages.night.start.rows.rows[0]
    assert (row.note, row.badge) == ("", GOOD), (
        "what was entered for the night is of the recording that follows"
    )
    assert shown() == "not entered"  # it is of the night to come


def test_where_the_person_lay_is_asked_beds_first_and_shown_and_taken_back(bedside: Bedside) -> None:
    def shown() -> str:
        bedside.settle()
        return next(fact.text for fact in bedside.morning.facts if fact.what == WHERE_SOMEBODY_LAY)

    desk, bed = bedside.log.spots.add("Desk"), bedside.log.spots.add("Bed, left")
    bedside.window.controller.refresh(force=True)
    assert shown() == "not recorded"
    bedside.go_to(WHERE_SOMEBODY_LAY)
    bedside.driver.do("night.show")
    assert bedside.driver.asked.startswith("Where did the person lie in the night of ")
    asked = bedside.window.question.question
    assert asked is not None and [choice.text for choice in asked.answers][:2] == [bed.name, desk.name]
    bedside.driver.answer("Bed, left")
    assert shown() == "Bed, left" and "lying at “Bed, left”" in bedside.morning.headline.text()
    bedside.driver.do("edit.undo")
    assert shown() == "not recorded"
    bedside.driver.do("page.previous")
    bedside.window.controller.route.chosen_id = bed.id
    bedside.window.redraw()
    row = bedside.window.pages.night.start.rows.rows[1]
    assert (row.value, row.note) == (
        "not recorded",
        "Perhaps “Bed, left”, which is chosen on the stage Spots?",
    )
    bedside.driver.do("night.spot")
    bedside.driver.answer("Bed, left")
    bedside.window.redraw()
    assert bedside.window.pages.night.start.rows.rows[1].value == "Bed, left"
    assert shown() == "not recorded", "it is of the night to come"


def test_what_is_no_planned_switching_is_refused_and_stays_in_the_line(bedside: Bedside) -> None:
    bedside.driver.do("night.plan")
    bedside.driver.type("breakers off at eleven")
    bedside.driver.press("Return")
    assert "is no planned switching" in bedside.driver.message
    assert bedside.window.question.line is not None
    assert bedside.window.question.line.text() == "breakers off at eleven"


def test_names_given_on_the_stage_sources_stand_beside_the_steps(bedside: Bedside) -> None:
    known = bedside.window.controller.snapshot.known_steps()[0]
    source = bedside.log.circuits.add("cord", "Aquarium heater")
    bedside.log.step_labels.add(known.found.run_id, known.found.step, None, "on", source.id)
    bedside.window.controller.refresh(force=True)
    bedside.settle()
    assert any("Aquarium heater on" in fact.note for fact in bedside.morning.facts)


def date_a_day_back(visit: Path) -> None:
    """Have the copy of a visit recorded a day earlier, since a night and its copy are not compared."""
    with without_triggers(visit) as db:
        db.execute("UPDATE run SET started_utc_ns = started_utc_ns - 86400000000000")


def compare_with_another(bedside: Bedside, night_visit: Path, setup: Setup | None) -> NightComparePage:
    """Compare the night with one like it of another visit, whose set-up is given."""
    bedside.driver.do("page.next", "night.compare")
    assert "neither in this visit" in bedside.driver.message
    assert bedside.window.pages.night.compare.headline.text() == "A second night is needed"
    assert bedside.window.action_bar.text() == "Record a second night"
    other = bedside.log.path.with_name("before.visit")
    shutil.copy(night_visit, other)
    date_a_day_back(other)
    if setup is not None:
        log = VisitLog.open(other, bedside.clock)
        log.setup.set(setup)
        log.close()
    bedside.driver.do("night.compare")
    assert bedside.driver.asked == "Compare with which night?"
    assert bedside.window.pages.night.compare.primary_action().text == "Choose the night to compare with"
    bedside.driver.answer("the longest night of “before”")
    bedside.settle()
    page = bedside.window.pages.night.page
    assert isinstance(page, NightComparePage)
    return page


def test_before_and_after_with_a_night_of_another_visit(
    tmp_path: Path, start: FakeStart, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("logger.night.recorded_nights.MIN_NIGHT_S", 3600.0)
    clock = ManualClock()
    quiet = tmp_path / "quiet" / "quiet.visit"
    quiet.parent.mkdir()
    log = VisitLog.create(quiet, clock)
    recorder = DemoRecorder(log, clock, rate_hz=0.5)
    recorder.still(0.3, 2 * 3600)
    recorder.end()
    recorder.close()
    log.close()
    path = tmp_path / "house.visit"
    shutil.copy(quiet, path)
    opened = Bedside(path, start)
    opened.driver.do("stage.night")
    opened.settle()
    # Any name will do, as in `stillvolt archive`: the content tells.
    shutil.copy(quiet, tmp_path / "late.stillvolt")
    (tmp_path / "notes.txt").write_text("no visit")
    labels = [other.label for other in opened.night_controller.other_nights()]
    assert labels == ["the longest night of “late.stillvolt”"]
    (tmp_path / "late.stillvolt").unlink()
    page = compare_with_another(opened, quiet, Setup(reference="earth rod"))
    assert page.headline.text() == "After: no clear change, these two nights only"
    assert [bar.head for bar in page.levels.bars] == ["Before", "After"]
    assert "differs by +0.00 V ±" in page.sentence.text() and page.picture.isVisible()
    opened.close()


def test_a_night_in_which_a_breaker_was_switched_off_for_good_gives_no_verdict(
    bedside: Bedside, night_visit: Path
) -> None:
    page = compare_with_another(bedside, night_visit, Setup(reference="earth rod"))
    assert page.headline.text() == "Not comparable"
    assert "Not enough independent pieces in these nights" in page.sentence.text()
    assert page.picture.isVisible() and not page.levels.isVisible()


@pytest.mark.parametrize("setup", [None, Setup(reference="building earth")])
def test_a_night_against_another_reference_is_not_compared(
    bedside: Bedside, night_visit: Path, setup: Setup | None
) -> None:
    page = compare_with_another(bedside, night_visit, setup)
    assert page.headline.text() == "Not comparable"
    stated = setup.reference if setup is not None else "an unstated reference"
    assert str(stated) in page.sentence.text() and "earth rod" in page.sentence.text()
    assert not page.levels.isVisible()


def test_a_file_that_is_no_visit_is_told_and_nothing_breaks(bedside: Bedside) -> None:
    bedside.log.path.with_name("broken.visit").write_bytes(b"no visit log")
    bedside.driver.do("page.next", "night.compare")
    bedside.driver.answer("the longest night of “broken”")
    bedside.settle()
    page = bedside.window.pages.night.compare
    assert page.headline.text() == "Not comparable" and page.sentence.text()


def test_nothing_is_worked_out_in_the_windows_own_thread(
    bedside: Bedside, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The night is summed up anew beside the window, and the old summary stays in sight meanwhile."""
    assert bedside.window.action_bar.name() == "Go on to the plan", (
        "a night that is over is summed up already"
    )
    before = bedside.night_controller.morning
    bedside.night_controller.summarise_again()
    bedside.window.refresh()
    assert bedside.night_controller.morning is before and bedside.morning.rows.isVisible()
    bedside.settle()
    assert bedside.night_controller.morning is not before


def test_space_starts_the_night_and_the_page_says_what_must_be_known(
    open_window: Callable[[], Driver], start: FakeStart
) -> None:
    driver = open_window()
    driver.do("stage.night")
    page = driver.window.pages.night.start
    assert driver.window.pages.night.page is page and page.headline.text() == "Start the night"
    message = " ".join(
        [page.detail.text(), page.cautions.text(), *(f"{row.head} {row.note}" for row in page.rows.rows)]
    )
    for word in ("closed", "charger", "thunderstorm", "Medical devices", "sensitive", "licensed electrician"):
        assert word in message, word
    assert page._buttons.geometry().bottom() < page.cautions.geometry().top(), (
        "what is to be entered comes first"
    )
    for row, title in enumerate(("What is on in the night?", "", "", "", "Planned switchings")):
        page.rows.setFocus()
        page.rows.setCurrentRow(row)
        driver.press("Return")
        assert driver.asked == title, row
        driver.press("Esc" if title else "Return")
    assert "nothing to enter" in driver.message
    driver.press("Space")
    assert driver.asked == "What is on in the night?" and not start.asked
    driver.answer("I do not know")
    assert len(start.asked) == 1


@pytest.mark.parametrize(
    ("power", "free", "message"),
    [
        (Power(True, 55.0), 10**10, "plugged in, 55 %"),
        (Power(False, 40.0, 3 * 3600.0), 10**10, "less than a night of 9 h"),
        (Power(False, 90.0, 12 * 3600.0), 7 * 10**6, "room for"),
    ],
)
def test_what_does_not_last_the_night_is_said(
    bedside: Bedside, power: Power, free: int, message: str
) -> None:
    bedside.computer.power, bedside.computer.free = power, free
    bedside.clock.advance_ns(10 * NS_PER_S)
    bedside.driver.do("page.previous")
    bedside.window.redraw()
    rows = bedside.window.pages.night.start.rows.rows
    assert message in " ".join(f"{row.value} {row.note}" for row in rows)


def test_more_minutes_of_a_night_that_is_recorded_are_summed_up_by_themselves(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder]
) -> None:
    demo = record()
    demo.still(0.3, 60)
    driver = open_window()
    driver.do("stage.night", "page.next")

    def covered_s() -> float:
        driver.window.night_controller.wait()
        driver.window.refresh()
        driver.window.redraw()
        assert driver.window.night_controller.morning is not None
        return driver.window.night_controller.morning.summary.covered_s

    assert covered_s() == pytest.approx(60, abs=1)
    demo.still(0.3, 120)
    driver.window.refresh()
    assert covered_s() == pytest.approx(60, abs=1), "two minutes more do not matter"
    demo.still(0.3, 240)
    driver.window.refresh()
    assert covered_s() == pytest.approx(420, abs=1)


def test_changes_of_a_night_are_one_line_on_sources_and_can_be_listed(bedside: Bedside) -> None:
    bedside.driver.do("steps.show")
    steps = bedside.window.pages.sources.steps
    count = sum(known.label is None for known in steps.step_controller.known())
    assert count > 5 and not steps.step_controller.unlabelled()
    assert bedside.window.action_bar.text() == "Go on to the breakers"

    def names() -> list[str]:
        return [row.head for row in steps.list.row_model.items if isinstance(row, ListRow)]

    assert names()[0] == f"{count} changes in the night from 1 Jan 00:00 on" and len(names()) == 2
    bedside.driver.press("Down", "Return")
    assert len(names()) == 2 + count
    bedside.driver.press("Down", "Return")
    assert bedside.driver.asked.startswith("What was ")
    bedside.driver.press("Esc", "Up", "Return")
    assert len(names()) == 2
