"""The accuracy of a meter's ranges as a table: one row for each range, as a data sheet has them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from gui.model.quantity_entry import NUMBER, PERCENT, VOLTS, read_quantity
from logger.meter.description import Accuracy
from logger.meter.description_form import FieldMistake
from logger.translation import marked, tr
from logger.typed_number import as_typed

COLUMNS: tuple[tuple[str, str, Mapping[str, float], str], ...] = (
    ("up_to_volts", marked("Range\nup to"), VOLTS, "V"),
    ("percent_of_reading", marked("% of\nreading"), PERCENT, "%"),
    ("counts", marked("and\ncounts"), NUMBER, ""),
    ("resolution_volts", marked("One\ncount"), VOLTS, "V"),
    ("specified_from_volts", marked("Specified\nfrom"), VOLTS, "V"),
)
"""Field, heading, units, and the unit that holds where none is typed."""

ROWS_SHOWN = 4
NO_LIMIT = 1e18


class _Cells(QTableWidget):
    """A table in which Enter begins to type instead of pressing the dialog's button."""

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """See Qt."""
        is_enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if is_enter and self.state() is not QAbstractItemView.State.EditingState:
            if (item := self.currentItem()) is not None:
                self.editItem(item)
            event.accept()
            return
        super().keyPressEvent(event)


class RangeTable(QWidget):
    """A table of ranges with buttons to add and to remove one."""

    HINT = marked(
        "A row for each range of AC volts, the smallest first, such as 600 mV, 1 %, 3, 0.1 mV. Specified from may be "
        "empty. No row: ±(2 % + 5 counts of 1 mV) is assumed."
    )

    def __init__(self) -> None:
        super().__init__()
        self.table = _Cells(0, len(COLUMNS))
        self.table.setHorizontalHeaderLabels([tr(heading) for _, heading, _, _ in COLUMNS])
        self.table.setAccessibleName(tr("Accuracy of each range"))
        self.table.setAccessibleDescription(tr(self.HINT))
        header = self.table.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectItems)
        self.table.setTabKeyNavigation(False)
        self.add_button = QPushButton(tr("Add a &range"))
        self.remove_button = QPushButton(tr("Remove the ran&ge"))
        self.add_button.clicked.connect(self.add_range)
        self.remove_button.clicked.connect(self._remove)
        self.table.currentCellChanged.connect(lambda: self._offer())
        buttons = QHBoxLayout()
        for button in (self.add_button, self.remove_button):
            button.setAutoDefault(False)
            buttons.addWidget(button)
        buttons.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.table)
        column.addLayout(buttons)
        self.setFocusProxy(self.table)
        self._offer()

    def show_ranges(self, ranges: Sequence[Accuracy]) -> None:
        """Fill the table.

        Args:
            ranges: the smallest first.
        """
        self.table.setRowCount(0)
        for accuracy in ranges:
            self._append(
                [
                    as_typed(value, unit) if value or key != "specified_from_volts" else ""
                    for key, _, _, unit in COLUMNS
                    for value in (getattr(accuracy, key),)
                ]
            )

    def add_range(self) -> None:
        """Add an empty row and begin to type in it."""
        self._append([""] * len(COLUMNS))
        row = self.table.rowCount() - 1
        self.table.setCurrentCell(row, 0)
        self.table.setFocus()
        if (item := self.table.item(row, 0)) is not None:
            self.table.editItem(item)

    def read(self) -> tuple[list[dict[str, Any]], list[FieldMistake]]:
        """The ranges as in the meter's file, and which cells are no number; rows without any text are left out."""
        ranges: list[dict[str, Any]] = []
        mistakes: list[FieldMistake] = []
        for row in range(self.table.rowCount()):
            texts = [self._text(row, at) for at in range(len(COLUMNS))]
            if not any(texts):
                continue
            values: dict[str, Any] = {}
            for text, (key, _, units, unit) in zip(texts, COLUMNS, strict=True):
                if not text:
                    continue  # what has to be there is named by the rules of the description
                try:
                    values[key] = read_quantity(text, units, unit, 0.0, NO_LIMIT)
                except ValueError as error:
                    mistakes.append(FieldMistake(("accuracy", len(ranges), key), str(error)))
            ranges.append(values)
        return ranges, mistakes

    def describe(self, mistakes: Sequence[FieldMistake]) -> str:
        """What is wrong in the table, each with its row and column, in sentences.

        Args:
            mistakes: their paths begin with "accuracy"; one that is typed wrong is not named as missing too.
        """
        headings = {key: tr(heading).replace("\n", " ") for key, heading, _, _ in COLUMNS}
        seen: set[tuple[str | int, ...]] = set()
        out = []
        for mistake in mistakes:
            if mistake.path in seen:
                continue
            seen.add(mistake.path)
            if len(mistake.path) == 3 and isinstance(mistake.path[1], int):
                place = tr("Range {row}, {column}").format(
                    row=mistake.path[1] + 1, column=headings.get(str(mistake.path[2]), str(mistake.path[2]))
                )
                out.append(f"{place}: {mistake.why}")
            else:
                out.append(mistake.why)
        return "\n".join(out)

    def fit_height(self) -> None:
        """Be as high as some rows, in the letters that the table has now."""
        letter = self.fontMetrics().height()
        self.table.verticalHeader().setDefaultSectionSize(round(1.7 * letter))
        self.table.setMinimumHeight(round(1.8 * letter * (ROWS_SHOWN + 1)))

    def _append(self, texts: Sequence[str]) -> None:
        row = self.table.rowCount()
        self.table.insertRow(row)
        for at, text in enumerate(texts):
            self.table.setItem(row, at, QTableWidgetItem(text))
        self._offer()

    def _remove(self) -> None:
        self.table.removeRow(self.table.currentRow())
        self._offer()

    def _offer(self) -> None:
        self.remove_button.setEnabled(self.table.currentRow() >= 0)

    def _text(self, row: int, column: int) -> str:
        item = self.table.item(row, column)
        return item.text().strip() if item is not None else ""
