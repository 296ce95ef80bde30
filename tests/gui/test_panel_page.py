"""The table of circuits by the keys of a real window."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication

from gui.model.circuit_entry import COLUMNS, Column
from gui.stages.sources.panel_page import PanelPage
from logger.visit import VisitLog
from logger.visit.records.home_details import SourceDetails
from tests.support.window_driver import Driver

NAMES = (
    "Bedroom", "Study", "Hall", "Kitchen", "Refrigerator", "Bath", "Range", "Loft", "Cellar", "Garage", "Garden",
    "Washing",
)  # fmt: skip


@pytest.fixture
def panel(open_window: Callable[[], Driver]) -> Driver:
    driver = open_window()
    driver.do("stage.sources")
    driver.window.pages.sources.show_page(3)
    driver.window.redraw()
    _page(driver).table.setFocus()
    return driver


def _page(driver: Driver) -> PanelPage:
    page = driver.window.pages.sources.page
    assert isinstance(page, PanelPage)
    return page


def _type(driver: Driver, *parts: str) -> int:
    """Type texts and press keys one after the other; returns how many keys that were."""
    keys = 0
    for part in parts:
        if part in ("Tab", "Return", "Space", "Up", "Down", "Esc", "Del", "Backtab"):
            driver.press_at_once(part)
            keys += 1
            continue
        driver.press_at_once(*part)
        keys += len(part)
    return keys


def _cell(driver: Driver, name: str, column: Column) -> str:
    rows = _page(driver).rows
    row = next(at for at, source in enumerate(rows.sources) if source.name == name)
    return str(rows.data(rows.index(row, COLUMNS.index(column)), Qt.ItemDataRole.EditRole))


def test_twelve_circuits_are_typed_within_a_minute(panel: Driver, log: VisitLog) -> None:
    keys = _type(panel, "A", "Tab", "Tab")
    for name in NAMES:
        keys += _type(panel, name.lower(), "Tab", "b16", "Return")
    assert [s.name for s in log.circuits.all()] == [name.lower() for name in NAMES]
    details = log.source_details.all()
    assert [details[s.id] for s in log.circuits.all()] == [
        SourceDetails("a", str(n), "b16") for n in range(1, 13)
    ]
    assert keys == 136, "at three keys a second this is less than a minute"
    steps = panel.window.pages.sources.steps.step_controller
    assert steps.source_names_matching("3") == ["hall"], "a circuit is found by its number too"
    panel.do("edit.undo", "edit.undo")  # one step for a cell, one for a row
    assert len(log.circuits.all()) == 11 and "is off the list again" in panel.message
    panel.do("edit.redo")
    assert [s.name for s in log.circuits.all()][-1] == "washing"


def test_what_cannot_be_kept_stays_in_its_cell_and_says_why(panel: Driver, log: VisitLog) -> None:
    log.circuits.add("circuit", "Study")
    panel.window.controller.snapshot.refresh(force=True)
    panel.window.redraw()
    page = _page(panel)
    page.table.go_to(1, COLUMNS.index(Column.NAME))
    _type(panel, "study", "Return")
    assert len(log.circuits.all()) == 1 and "There is a circuit or cord “study” already." in page.why.text()
    assert not page.why.isHidden()
    panel.window.redraw()
    last = page.rows.index(1, COLUMNS.index(Column.NAME))
    assert last.data(Qt.ItemDataRole.DisplayRole) == "study", "what was typed is still there"
    _type(panel, "Up", "Del")
    assert log.circuits.all()[0].name == "Study" and "needs a name" in page.why.text()
    _type(panel, "Down", "hall", "Return")
    assert [s.name for s in log.circuits.all()] == ["Study", "hall"]


def test_a_table_is_shown_before_it_is_entered_and_is_one_step_to_undo(panel: Driver, log: VisitLog) -> None:
    log.circuits.add("circuit", "Study")
    log.circuits.add("cord", "Lamp", log.circuits.all()[0].id)
    panel.window.controller.snapshot.refresh(force=True)
    text = "Panel\tNo\tName\tRating\nA\t1\tStudy\tB16\n\t2\tHall\tB10\n\t2\tFridge\tB10\n"
    QGuiApplication.clipboard().setText(text)
    panel.do("panel.paste")
    question = panel.window.question.question
    assert question is not None and question.title == "Paste this table?"
    assert "2 circuits are added. 1 row is changed." in question.text
    assert "Changed: “Study”: Panel A, No. 1, Rating B16" in question.text
    assert "The number 2 is at more than one circuit: “Hall” and “Fridge”." in question.text
    assert len(log.circuits.all()) == 2, "nothing is entered before the answer"
    panel.answer("Enter it")
    assert [s.name for s in _page(panel).rows.sources] == ["Study", "Lamp", "Hall", "Fridge"]
    assert _cell(panel, "Fridge", Column.STAYS) == "keeps food cold"
    panel.do("panel.copy")
    lines = QGuiApplication.clipboard().text().splitlines()
    assert lines[0].startswith("Panel\tNo.\tName\tRating") and lines[3].startswith("A\t2\tHall\tB10\t")
    panel.do("panel.paste")
    assert panel.message.startswith("All of it is in the table already."), "the own copy changes nothing"
    panel.do("edit.undo")
    assert [s.name for s in log.circuits.all()] == ["Study", "Lamp"]
    assert _cell(panel, "Study", Column.RATING) == ""


def test_tab_leaves_the_table_from_the_empty_row_and_space_is_for_the_box(
    panel: Driver, log: VisitLog
) -> None:
    log.circuits.add("circuit", "Range <b>")
    panel.window.controller.snapshot.refresh(force=True)
    panel.window.redraw()
    table = _page(panel).table
    name = _page(panel).rows.index(0, COLUMNS.index(Column.NAME))
    assert name.data(Qt.ItemDataRole.ToolTipRole) == "Range &lt;b&gt;", "a tip reads no name as HTML"
    table.go_to(0, COLUMNS.index(Column.TWO_POLE))
    panel.press("Space")
    assert log.circuits.all()[0].two_pole
    spoken = table.currentIndex().data(Qt.ItemDataRole.AccessibleTextRole)
    assert spoken == "Range <b>, Two-pole: yes"
    table.go_to(1, COLUMNS.index(Column.NAME))
    panel.press("Tab")
    assert not table.hasFocus()
