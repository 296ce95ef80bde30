"""The stage Report by keys alone: what will be in it, written, exported, compared, searched in the archive."""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from gui.dev.demo import DemoRecorder
from gui.model.languages import AS_WINDOW
from gui.model.report_contents import ReportContents
from gui.model.report_controller import ReportController
from gui.model.report_jobs import export_files, parse_search, write_files
from gui.model.stages import REPORT
from gui.model.visit_controller import VisitController
from gui.model.worker_process import Work
from gui.settings.preferences import REPORT_LANGUAGE, REPORT_PAPER
from gui.settings.settings_dialog import SettingsDialog
from gui.stages.report.report_stage import _row
from gui.widgets.badge import UNCLEAR
from gui.widgets.open_file import _Opening
from gui.window import Window
from gui.window.other_visit_actions import VisitRequest
from gui.window.unfinished_dialog import UnfinishedDialog
from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.metrology.setup import Setup
from logger.report.output_paths import report_path
from logger.sweep.switch_off_plan import PlanState
from logger.translation import shown_language
from logger.visit import VisitLog
from logger.visit.records.fact_names import CONDITION
from tests.gui.conftest import METER_PORT
from tests.support.window_driver import Charger, Driver, FakeStart, Heard

YEAR_NS = 365 * 86400 * NS_PER_S


class DoneJob:
    """Long work that is done in a moment, in this process; what it tells is taken in by the first look."""

    def __init__(self, work: Work) -> None:
        self.progress, self.done, self.result, self.refusal = "", False, None, ""
        self._work = work

    def poll(self) -> bool:
        if not self.done:
            try:
                self.result = self._work(self._report_progress, lambda: False)
            except StillvoltError as error:
                self.refusal = str(error)
            self.done = True
        return True

    def cancel(self) -> None: ...

    def kill(self) -> None:
        self.done = True

    def _report_progress(self, text: str) -> None:
        self.progress = text


@pytest.fixture
def opened_files() -> list[Path]:
    return []


@pytest.fixture
def open_report(
    log: VisitLog,
    clock: ManualClock,
    start: FakeStart,
    heard: Heard,
    charger: Charger,
    opened_files: list[Path],
    show_window: Callable[[Window], Driver],
) -> Callable[[], Driver]:

    def opens(path: Path, _: Callable[[], None]) -> None:
        opened_files.append(path)

    def make() -> Driver:
        controller = VisitController(log, clock, start, charger)  # type: ignore[arg-type]
        window = Window(
            controller,
            sounds=heard,
            polls=False,
            report_controller=ReportController(controller, DoneJob, opens),
        )
        driver = show_window(window)
        driver.do("stage.report")
        return driver

    return make


def read_spots(log: VisitLog, demo: Any, volts: dict[str, float], condition: str = "everything on") -> None:
    """Read spots one after the other; they are added where they are missing."""
    known = {spot.name: spot for spot in log.spots.all()}
    for name, level in volts.items():
        spot = known.get(name) or log.spots.add(name, "Bedroom")
        demo.move(level, level + 1, 3)
        demo.still(level, 15)
        log.readings.take(spot.id, condition)


def stated(log: VisitLog, household: str) -> None:
    log.setup.set(Setup(household=household, reference="earth rod", on_battery=True, link_isolated=True))


def other_visit(
    folder: Path, name: str, volts: dict[str, float], utc_ns: int, household: str = "Garden flat"
) -> Path:
    """A finished visit of another day."""
    clock = ManualClock(utc_ns)
    log = VisitLog.create(folder / f"{name}.visit", clock)
    stated(log, household)
    demo = DemoRecorder(log, clock, url=METER_PORT)
    read_spots(log, demo, volts)
    demo.end()
    log.close()
    return folder / f"{name}.visit"


def rows(driver: Driver) -> dict[str, str]:
    page: Any = driver.window.pages.report.page
    return {row.head: row.small_right or row.value for row in page.rows.rows}


def test_what_will_be_in_it_and_what_is_missing(
    open_report: Callable[[], Driver], log: VisitLog, record: Callable[[], Any]
) -> None:
    driver = open_report()
    assert rows(driver)["Everything on"] == "no spot" and rows(driver)["Night"] == "none"
    assert "7 parts missing" in driver.window.pages.report.write.headline.text()
    stated(log, "Garden flat")
    demo = record()
    read_spots(log, demo, {"Bed": 0.4, "Desk": 0.9})
    read_spots(log, demo, {"Bed": 0.1}, "everything off")
    log.readings.void(log.readings.all()[0].id, "moved")
    demo.end()
    driver.window.controller.refresh(force=True)
    driver.window.redraw()
    shown = rows(driver)
    assert shown["Set-up"] == "stated" and shown["Checks"] == "0 of 3 passed"
    assert shown["Everything on"] == "1 of 2 spots" and shown["Everything off"] == "1 of 2 spots"
    assert shown["Voided, with reasons"] == "1 reading" and shown["Practitioner"] == "not entered"
    page = driver.window.pages.report.write
    page.rows.row_activated.emit([row.head for row in page.rows.rows].index("Practitioner"))
    (dialog,) = driver.window.findChildren(SettingsDialog)
    assert dialog.tabs.currentWidget() is dialog.report and dialog.focusWidget() is dialog.report.name
    dialog.reject()


def test_written_beside_the_visit_and_opened(
    open_report: Callable[[], Driver],
    log: VisitLog,
    record: Callable[[], Any],
    opened_files: list[Path],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("gui.model.report_controller.find_spec", lambda name: None)  # as without WeasyPrint
    read_spots(log, record(), {"Bed": 0.4})
    driver = open_report()
    assert "not written yet" in driver.refused("report.open")
    driver.press("Space")
    assert driver.window.action_bar.text().startswith("Can't ")
    assert REPORT.progress(driver.window.controller) == "being written"
    driver.window.refresh()
    page = log.path.with_name("house report.html")
    assert opened_files == [page] and "Bed" in page.read_text(encoding="utf-8")
    assert driver.message.startswith("Written: house report.html")
    assert REPORT.progress(driver.window.controller) == "written"
    driver.do("report.open")
    assert opened_files == [page, page]
    edited = page.read_bytes() + b"<p>My remark</p>"
    page.write_bytes(edited)
    driver.press("Space")
    driver.window.refresh()
    assert driver.asked == "Replace the file?" and "somebody has changed it" in driver.message
    driver.press("Esc")
    assert page.read_bytes() == edited
    driver.press("Space")
    driver.window.refresh()
    driver.answer("Replace it")
    driver.window.refresh()
    assert b"My remark" not in page.read_bytes() and not driver.asked


def test_language_and_paper_of_the_report_are_chosen_apart_from_the_windows_and_remembered(
    open_report: Callable[[], Driver], log: VisitLog
) -> None:
    driver = open_report()
    window = driver.window
    page = window.pages.report.write
    assert page.language.currentData() == AS_WINDOW
    page.language.setCurrentIndex(page.language.findData("de"))
    page.language.activated.emit(page.language.currentIndex())
    assert window.preferences.get(REPORT_LANGUAGE) == "de"
    page.paper.setCurrentIndex(page.paper.findData("Letter"))
    page.paper.activated.emit(page.paper.currentIndex())
    assert window.preferences.get(REPORT_PAPER) == window.report_controller.paper == "Letter"
    driver.press("Space")
    window.refresh()
    assert '<html lang="de"' in report_path(log.path).read_text(encoding="utf-8")
    assert window.report_controller.language == "de" and shown_language() == "en"


def test_a_report_is_out_of_date_once_anything_that_it_prints_was_entered(
    open_report: Callable[[], Driver], log: VisitLog, record: Callable[[], Any], opened_files: list[Path]
) -> None:
    page = report_path(log.path)
    read_spots(log, record(), {"Bed": 0.4})

    def write() -> None:
        page.write_text(f'<meta name="stillvolt-state" content="{log.newest_entry()} 0">')
        os.utime(page, ns=(written_ns[0], written_ns[0]))
        written_ns[0] += NS_PER_S

    written_ns = [NS_PER_S]
    write()
    driver = open_report()
    assert REPORT.progress(driver.window.controller) == "written"
    assert driver.window.pages.report.write.headline.text() == "The report is written"
    driver.do("report.open")
    assert opened_files == [page] and "Write it again" not in driver.message
    log.facts.set(CONDITION, "")  # what is on at the moment stands in no report
    driver.window.controller.snapshot._read_lists()
    assert REPORT.progress(driver.window.controller) == "written"
    changes: list[Callable[[], Any]] = [
        lambda: log.setup.set(replace(log.setup.current(), household="Mill Lane 4")),
        lambda: log.spots.rename(log.spots.all()[0].id, "Bed, left"),
        lambda: log.circuits.add("circuit", "Bedroom"),
        lambda: log.marks.add("kettle on"),
    ]
    for change in changes:
        change()
        driver.window.controller.snapshot._read_lists()
        driver.window.redraw()
        assert REPORT.progress(driver.window.controller) == "out of date"
        assert driver.window.pages.report.write.headline.text() == "The report is out of date: write it again"
        write()
        assert REPORT.progress(driver.window.controller) == "written"
    page.write_text("a page that does not tell of which state it is")
    driver.do("report.open")
    assert opened_files == [page, page] and "Write it again" in driver.message


def test_a_report_that_no_program_opens_is_not_kept_silent(
    open_report: Callable[[], Driver], log: VisitLog, qtbot: QtBot
) -> None:
    log.path.with_name("house report.html").write_text("a report")
    driver = open_report()
    driver.window.report_controller._opens = lambda path, on_failure: _Opening(["false"], on_failure)
    driver.do("report.open")
    qtbot.waitUntil(lambda: "could not be opened from here" in driver.message, timeout=5000)
    assert driver.window.controller.message.refused and str(log.path.parent.resolve()) in driver.message
    failed: list[bool] = []
    _Opening(["true"], lambda: failed.append(True))
    qtbot.waitUntil(lambda: not _Opening.at_work, timeout=5000)
    assert not failed


def test_the_page_is_opened_where_the_pdf_cannot_be_made(
    open_report: Callable[[], Driver],
    log: VisitLog,
    record: Callable[[], Any],
    opened_files: list[Path],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def no_pango(html: str, kept: str, paper: str) -> bytes:
        raise StillvoltError("A PDF needs the library Pango.")

    monkeypatch.setattr("gui.model.report_controller.find_spec", lambda name: True)
    monkeypatch.setattr("logger.report.document.write_report.printed", no_pango)
    record().still(0.4, 5)
    driver = open_report()
    driver.press("Space")
    driver.window.refresh()
    assert opened_files == [log.path.with_name("house report.html")] and "Pango" in driver.message


def test_a_refusal_is_told(
    open_report: Callable[[], Driver], log: VisitLog, record: Callable[[], Any], opened_files: list[Path]
) -> None:
    record().still(0.4, 5)
    log.path.with_name("house report.html").mkdir()
    driver = open_report()
    driver.press("Space")
    driver.window.refresh()
    assert (
        "house report.html is a folder" in driver.message
        and driver.window.controller.message.refused
        and not opened_files
    )


def test_exported(open_report: Callable[[], Driver], log: VisitLog, record: Callable[[], Any]) -> None:
    read_spots(log, record(), {"Bed": 0.4})
    driver = open_report()
    asked: list[Path] = []
    other = log.path.parent / "on the stick"
    other.mkdir()
    driver.window.pages.report.write.choose_folder = lambda at, _: asked.append(at)
    driver.do("report.export")
    assert asked == [log.path.resolve().parent] and not driver.window.report_controller.busy, "no is no"
    driver.window.pages.report.write.choose_folder = lambda *_: other
    driver.do("report.export")
    driver.window.refresh()
    folder = other / "house data"
    assert (folder / "readings.csv").exists() and (folder / "visit.xlsx").exists()
    assert str(folder) in driver.message


def test_compared_with_an_earlier_visit_and_a_match_corrected(
    open_report: Callable[[], Driver], log: VisitLog, clock: ManualClock, record: Callable[[], Any]
) -> None:
    before = {"Bed": 1.4, "Old desk": 0.9}
    other_visit(log.path.parent, "a year ago", before, clock.utc_ns() - YEAR_NS)
    stated(log, "Garden flat")
    demo = record()
    read_spots(log, demo, {"Bed": 0.4, "Table": 0.3})
    demo.end()
    driver = open_report()
    driver.do("report.compare")
    assert driver.asked == "Compare with which visit?"
    driver.answer("Garden flat, a year ago")
    driver.window.refresh()
    assert rows(driver)["Bed"].startswith("improved, ") and rows(driver)["Table"] == "only after"
    page = driver.window.pages.report.compare
    assert page.summary.text() == "Everything on, 3 spots: 1 improved, 1 read before only, 1 read after only."
    driver.window.resize(1366, 740)
    QApplication.processEvents()
    assert all(page.rows._is_whole(place) for place in range(page.rows.count()))
    assert page.rows.rows[0].short == ("Bed · on", page.rows.rows[0].value)
    page.choose_file = lambda proposed: proposed
    driver.do("compare.save")
    saved = log.path.with_name("house comparison.txt")
    assert page.summary.text() in saved.read_text(encoding="utf-8") and saved.name in driver.message
    driver.press("Down")
    driver.do("compare.which_spot")
    assert driver.asked == "What was “Table” in the earlier visit?"
    driver.answer("Old desk")
    driver.window.refresh()
    assert rows(driver)["Table"].startswith("improved, ") and "Old desk" not in rows(driver)
    driver.do("compare.which_spot")
    driver.answer("None of them")
    driver.window.refresh()
    assert rows(driver)["Table"] == "only after"
    driver.press("Esc")
    assert driver.window.pages.report.page is driver.window.pages.report.write


def test_another_visit_is_chosen_by_its_file_and_an_empty_one_is_not_offered(
    open_report: Callable[[], Driver], log: VisitLog, clock: ManualClock, record: Callable[[], Any]
) -> None:
    elsewhere = log.path.parent / "archive"
    elsewhere.mkdir()
    other = other_visit(elsewhere, "a year ago", {"Bed": 1.4}, clock.utc_ns() - YEAR_NS)
    VisitLog.create(log.path.with_name("empty.visit")).close()
    stated(log, "Garden flat")
    demo = record()
    read_spots(log, demo, {"Bed": 0.4})
    demo.end()
    driver = open_report()
    driver.window.pages.report.compare.choose_path = lambda _: other
    driver.do("report.compare")
    assert not any("empty" in button.text() for button in driver.window.question.buttons)
    driver.answer("Choose a file...")
    driver.window.refresh()
    assert rows(driver)["Bed"].startswith("improved, ")


def test_an_example_is_offered_by_name(open_report: Callable[[], Driver], log: VisitLog) -> None:
    stated(log, "Mill house")
    driver = open_report()
    driver.do("report.compare")
    driver.answer("Example: a garden flat")
    assert (log.path.parent / "Examples" / "Garden flat.visit").exists()
    driver.window.refresh()
    assert driver.asked == "Is it the same home?"


def test_the_earlier_visit_is_before_whichever_is_open(
    open_report: Callable[[], Driver], log: VisitLog, clock: ManualClock, record: Callable[[], Any]
) -> None:
    other_visit(log.path.parent, "a year later", {"Bed": 0.4}, clock.utc_ns() + YEAR_NS)
    stated(log, "Garden flat")
    demo = record()
    read_spots(log, demo, {"Bed": 1.4})
    demo.end()
    driver = open_report()
    driver.do("report.compare")
    driver.answer("Garden flat, a year later")
    driver.window.refresh()
    assert rows(driver)["Bed"].startswith("improved, ")


def test_visits_of_two_households_are_compared_after_a_question_only(
    open_report: Callable[[], Driver], log: VisitLog, clock: ManualClock, record: Callable[[], Any]
) -> None:
    other_visit(log.path.parent, "a year ago", {"Bed": 1.4}, clock.utc_ns() - YEAR_NS)
    stated(log, "Mill house")
    demo = record()
    read_spots(log, demo, {"Bed": 0.4})
    demo.end()
    driver = open_report()
    driver.do("report.compare")
    driver.answer("Garden flat, a year ago")
    driver.window.refresh()
    assert driver.asked == "Is it the same home?"
    driver.press("Esc")
    driver.window.refresh()
    assert not driver.asked and not rows(driver), "no is no"
    driver.press("Space")
    driver.answer("Garden flat, a year ago")
    driver.window.refresh()
    driver.answer("Yes, compare them")
    driver.window.refresh()
    assert rows(driver)["Bed"].startswith("improved, ")
    assert "two households" in driver.window.pages.report.compare.notes.part.text()


def test_the_archive_is_searched_and_a_visit_opened(
    open_report: Callable[[], Driver], log: VisitLog, clock: ManualClock
) -> None:
    stated(log, "Mill house")
    other = other_visit(log.path.parent, "a", {"Bed": 1.4}, clock.utc_ns() - YEAR_NS)
    (log.path.parent / "torn.visit").write_text("nothing")
    driver = open_report()
    asked_for: list[VisitRequest] = []
    driver.window.visit_requested.connect(asked_for.append)
    driver.do("report.archive")
    driver.window.refresh()
    assert {"Garden flat", "Mill house", "torn.visit"} == set(rows(driver))
    driver.press("Space")
    driver.type("garden 2025-01")
    driver.press("Return")
    driver.window.refresh()
    assert set(rows(driver)) == {"Garden flat", "torn.visit"} and rows(driver)["Garden flat"].startswith(
        "1.4"
    )
    (garden,) = (row for row in driver.window.pages.report.archive.rows.rows if row.head == "Garden flat")
    assert garden.note.startswith("Highest with everything on: 1.40 V at “Bed”.")
    driver.do("archive.open")
    assert asked_for == [VisitRequest(other)]
    driver.press("Space")
    driver.type("no such house")
    driver.press("Return")
    driver.window.refresh()
    assert "Garden flat" not in rows(driver)
    elsewhere = log.path.parent / "elsewhere"
    elsewhere.mkdir()
    page = driver.window.pages.report.archive
    page.choose_folder = lambda at, title: elsewhere if at == log.path.parent and "Which" in title else None
    driver.do("archive.folder")
    driver.window.refresh()
    assert str(elsewhere) in page.head.text()


def test_one_thing_after_the_other(open_report: Callable[[], Driver], log: VisitLog) -> None:
    driver = open_report()
    driver.window.pages.report.write.choose_folder = lambda folder, _: folder
    driver.do("report.export")
    driver.press("Space")
    assert "Wait until this is done" in driver.message and driver.window.controller.message.refused


def test_what_a_search_line_asks_for() -> None:
    both = parse_search("bed 2026-02 room")
    assert (both.text, both.first_day, both.last_day) == ("bed room", date(2026, 2, 1), date(2026, 2, 28))
    day = parse_search("2026-05-16")
    assert (day.text, day.first_day, day.last_day) == ("", date(2026, 5, 16), date(2026, 5, 16))
    assert parse_search("2026-13 x").text == "2026-13 x" and parse_search("").first_day is None


def test_progress_says_which_step_of_how_many(log: VisitLog, tmp_path: Path) -> None:
    steps: list[str] = []
    write_files(log.path, tmp_path / "a.html", None, steps.append, lambda: False)
    numbers = [re.match(r"step (\d+) of (\d+), ", step) for step in steps]
    assert [match and match.groups() for match in numbers] == [
        (str(number), str(len(steps))) for number in range(1, len(steps) + 1)
    ]
    files: list[str] = []
    written = export_files(log.path, tmp_path / "data", files.append, lambda: False)
    assert isinstance(written, list)
    assert files[-1].startswith(f"writing file {len(written)} of {len(written)}, ")


def test_the_contents_say_how_far_tonights_list_is(open_report: Callable[[], Driver]) -> None:
    controller = open_report().window.controller
    shown = {}
    for state in (None, *PlanState):
        controller.sweep_state, controller.sweep_is_computing = state, False
        (row,) = (one for one in ReportContents(controller).all() if one.name == "Tonight's list")
        shown[state] = (row.amount, bool(row.missing))
        controller.sweep_is_computing = True
        (row,) = (one for one in ReportContents(controller).all() if one.name == "Tonight's list")
        assert row.amount == "being worked out"
        controller.sweep_is_computing = False
    assert shown == {
        None: ("none", True), PlanState.CONTRADICTORY: ("none", True), PlanState.OPEN: ("not confirmed", True),
        PlanState.UNCONFIRMED: ("not confirmed", True), PlanState.CONFIRMED: ("confirmed by a reading", False),
    }  # fmt: skip


def test_what_the_report_calls_not_certain_stands_on_the_screen_too(
    open_report: Callable[[], Driver],
) -> None:
    page = open_report().window.pages.report.write
    assert page._state(0, certain=True) == "Nothing is missing"
    assert (
        page._state(0, certain=False)
        == "Nothing is missing. The marked rows are not certain yet and say what to do"
    )
    page.controller.sweep_is_computing = False
    page.controller.not_certain_yet = "What each circuit gives is not certain yet."
    (found,) = (one for one in page.report_controller.contents.all() if one.not_certain)
    row = _row(replace(found, missing=""))
    assert (row.head, row.note, row.badge) == (
        "Which source gives how much",
        page.controller.not_certain_yet,
        UNCLEAR,
    )


def test_another_visit_is_shown_only_once_the_export_is_done_or_given_up(
    open_report: Callable[[], Driver], log: VisitLog
) -> None:
    driver = open_report()
    window = driver.window
    shown: list[VisitRequest] = []
    window.visit_requested.connect(shown.append)
    report = window.report_controller
    dialogs: list[str] = []

    def during_dialog(do: Callable[[UnfinishedDialog], object]) -> None:
        """Open another visit while the data are exported, and do something in the dialog that comes."""
        report.export()

        def in_dialog() -> None:
            dialog = QApplication.activeModalWidget()
            assert isinstance(dialog, UnfinishedDialog)
            dialogs.append(dialog.text.text())
            do(dialog)

        QTimer.singleShot(0, in_dialog)
        window.window_actions.other_visit.open(log.path.with_name("other.visit"))

    during_dialog(lambda dialog: dialog.stay.click())
    assert not shown and report.busy, "the export goes on"
    assert dialogs == ["The data are still being exported: starting. Then “other” opens."]
    window.refresh()
    during_dialog(lambda _: window.refresh())
    assert len(shown) == 1 and shown[0].message.startswith("Exported: ")
    during_dialog(lambda dialog: dialog.give_up.click())
    assert shown[1].message == "Given up: it was not done." and not report.busy
    assert shown[1].path.name == "other.visit"
