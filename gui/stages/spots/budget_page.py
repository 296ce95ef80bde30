"""The uncertainty budget of the chosen spot's readings, and of on minus off, line by line."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QScrollArea, QWidget

from gui.actions.registry import ActionRegistry
from gui.model.visit_controller import VisitController
from gui.model.wording import condition_title, doubt_text
from gui.trace.reading_interval import ReadingInterval
from gui.trace.trace_picture import TracePicture
from gui.widgets.appearance import Appearance, label, separator
from gui.widgets.page import Page
from logger.metrology.rounding import fixed, plain
from logger.metrology.uncertainty import COVERAGE_FACTOR, Budget
from logger.translation import marked, tr, tr_kept
from logger.visit import Reading
from logger.visit.records.condition import EVERYTHING_OFF
from logger.visit.results.on_off_result import budget_of, off_limit_note

COLUMNS = (marked("Component"), marked("Type"), marked("u in V"))


class BudgetPage(Page):
    """The budget of the chosen spot.

    Args:
        controller: what the window does with the visit.
        appearance: theme and sizes.
        actions: the actions of the window.
    """

    place = "budget"

    title = marked("Uncertainty budget")

    def __init__(self, controller: VisitController, appearance: Appearance, actions: ActionRegistry) -> None:
        super().__init__(controller, appearance, actions)
        self.tables: list[tuple[str | None, Budget]] = []
        """What each budget is of: a condition as the log keeps it; None for on minus off."""
        self._shown: object = None
        self.area = QScrollArea()
        self.area.setWidgetResizable(True)
        self.area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._spot = label("")
        self.doubt = label("", "small")
        self.picture = TracePicture(controller, appearance)
        self.column.addWidget(self._spot)
        self.column.addWidget(self.picture)
        self.column.addWidget(self.doubt)
        self.column.addWidget(self.make_buttons("view.back"))
        self.column.addWidget(self.area, 1)
        self.restyles(self.picture)
        self.refresh()

    def refresh(self) -> None:
        """See `StyledWidget`."""
        spot = self.controller.route.chosen
        if spot is None:
            self._show(tr("No spot is chosen."), [])
            self._show_traces([])
            return
        result = self.controller.readings.result(spot)
        tables: list[tuple[str | None, Budget]] = []
        readings: list[Reading] = []
        for reading in (result.on, result.off):
            budget = budget_of(reading)
            if reading is not None and budget is not None:
                tables.append((reading.condition, budget))
                readings.append(reading)
        if not tables:
            last = self.controller.readings.last_at(spot.id)
            budget = budget_of(last)
            if last is not None and budget is not None:
                tables.append((last.condition, budget))
                readings.append(last)
        difference = result.difference()
        if difference is not None:
            tables.append((None, difference))
        head = (
            "“{spot}”"
            if tables
            else tr("At “{spot}” there is no reading yet whose uncertainty is worked out.")
        )
        self._show_traces(readings)
        self._show(head.format(spot=spot.name), tables)

    def _show_traces(self, readings: list[Reading]) -> None:
        """What the readings rest on, and what speaks against it by now."""
        controller = self.controller
        rested = (
            ReadingInterval.of_reading(controller, reading, tr_kept(reading.condition))
            for reading in readings
        )
        self.picture.show_values([r for r in rested if r is not None])
        self.picture.setVisible(bool(self.picture.intervals))
        doubts = {tr_kept(r.condition): doubt for r in readings if (doubt := controller.readings.doubt(r))}
        self.doubt.setText(doubt_text(doubts, tr("In doubt, take it again: {names}. {doubt}")))
        self.doubt.setVisible(bool(doubts))

    def _show(self, head: str, tables: list[tuple[str | None, Budget]]) -> None:
        if (head, tables) == self._shown:
            return
        self._shown, self.tables = (head, tables), tables
        self._spot.setText(head)
        body = QWidget()
        grid = QGridLayout(body)
        grid.setContentsMargins(0, 0, 8, 0)
        grid.setColumnStretch(0, 1)
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(3)
        row = 0
        for what, budget in tables:
            name = tr("On minus off") if what is None else condition_title(what)
            grid.addWidget(_bold(f"{name}: {fixed(budget.volts, 4)} V"), row, 0, 1, 3)
            row = _table(grid, row + 1, budget)
            if what == EVERYTHING_OFF and (note := off_limit_note(budget)):
                grid.addWidget(label(note, "quiet"), row, 0, 1, 3)
                row += 1
        grid.setRowStretch(row, 1)
        self.area.setWidget(body)


def _table(grid: QGridLayout, row: int, budget: Budget) -> int:
    """Put one budget into the grid; returns the next free row."""
    right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop
    for column, text in enumerate(COLUMNS):
        head = label(tr(text), "heading", wrap=False)
        grid.addWidget(head, row, column, right if column == 2 else Qt.AlignmentFlag.AlignLeft)
    row += 1
    for component in budget.components:
        grid.addWidget(label(component.shown_name()), row, 0)
        grid.addWidget(label(component.kind, wrap=False), row, 1, Qt.AlignmentFlag.AlignTop)
        grid.addWidget(label(fixed(component.u_volts, 4), wrap=False), row, 2, right)
        grid.addWidget(label(tr_kept(component.basis), "quiet"), row + 1, 0, 1, 3)
        row += 2
    grid.addWidget(separator(), row, 0, 1, 3)
    for name, value in (
        (tr("Combined standard uncertainty"), budget.u_volts),
        (tr("Expanded, k = {factor}").format(factor=plain(COVERAGE_FACTOR)), budget.expanded_volts),
    ):
        row += 1
        grid.addWidget(_bold(name), row, 0, 1, 2)
        grid.addWidget(_bold(fixed(value, 4)), row, 2, right)
    grid.setRowMinimumHeight(row + 1, 18)
    return row + 2


def _bold(text: str) -> QWidget:
    result = label(text)
    result.setStyleSheet("font-weight: bold;")
    return result
