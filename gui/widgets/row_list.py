"""A list of rows: heading and value first, small print below, then notes. Headings part them."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QListWidget, QListWidgetItem

from gui.widgets.appearance import Appearance
from gui.widgets.row_painter import ROW_ROLE, ListHeading, ListRow, RowPainter


class RowList(QListWidget):
    """The rows. Arrows, type-ahead and clicks choose one; Enter or a double click activates it.

    Args:
        appearance: theme and sizes.
        name: what is listed, for who cannot see it.
    """

    row_chosen = Signal(int)
    """The user chose a row, counted without headings."""
    row_activated = Signal(int)
    """A row was double-clicked, or Enter was pressed on it."""

    def __init__(self, appearance: Appearance, name: str = "") -> None:
        super().__init__()
        self.setAccessibleName(name)
        self.appearance = appearance
        self.rows: list[ListRow] = []
        """Those that can be chosen, in order; a row's place in the list counts the headings too."""
        self._items: list[ListRow | ListHeading] = []
        self._fits_height = False
        self._max_rows: int | None = None
        self._is_in_layout = False
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        # Whole rows at the top: half of one would be read as belonging to the heading above.
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerItem)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._painter = RowPainter(self, appearance)
        self.setItemDelegate(self._painter)
        self._is_filling = False
        self.currentItemChanged.connect(self._current_changed)
        self.itemDoubleClicked.connect(self._activate)

    def show_rows(self, rows: Sequence[ListRow | ListHeading], chosen: int | None) -> None:
        """Show rows; the chosen one, counted without headings, is kept in sight."""
        self._is_filling = True
        try:
            self._fill(rows, chosen)
        finally:
            self._is_filling = False

    def _fill(self, rows: Sequence[ListRow | ListHeading], chosen: int | None) -> None:
        if list(rows) != self._items:
            self._items = list(rows)
            self.rows = [row for row in rows if isinstance(row, ListRow)]
            while self.count() > len(rows):
                self.takeItem(self.count() - 1)
            while self.count() < len(rows):
                self.addItem(QListWidgetItem())
            for index, row in enumerate(rows):
                item = self.item(index)
                item.setData(ROW_ROLE, row)
                item.setText(_type_ahead_text(row))
                item.setData(Qt.ItemDataRole.AccessibleTextRole, _accessible_text(row))
                item.setFlags(
                    Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
                    if isinstance(row, ListRow)
                    else Qt.ItemFlag.NoItemFlags
                )
            self.scheduleDelayedItemsLayout()  # heights follow from the texts
        wanted = -1 if chosen is None else self._place_of(chosen)
        if self.currentRow() != wanted:
            self.setCurrentRow(wanted)
            self._keep_in_sight()

    def row_at(self, item: QListWidgetItem) -> int | None:
        """Which row an item is, counted without headings; None for a heading."""
        place = self.row(item)
        if isinstance(self._items[place], ListHeading):
            return None
        return sum(isinstance(row, ListRow) for row in self._items[:place])

    def focusInEvent(self, event: QFocusEvent) -> None:
        """The keyboard alone chooses no row; see Qt."""
        chosen, was_filling, self._is_filling = self.currentRow(), self._is_filling, True
        super().focusInEvent(event)
        if self.currentRow() != chosen:
            self.setCurrentRow(chosen)
        self._is_filling = was_filling

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter activates the chosen row; see Qt."""
        item = self.currentItem()
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and item is not None:
            if not event.isAutoRepeat():
                self._activate(item)
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Escape):
            event.ignore()
        else:
            super().keyPressEvent(event)

    def _current_changed(self, item: QListWidgetItem | None) -> None:
        if not self._is_filling and item is not None and (row := self.row_at(item)) is not None:
            self.row_chosen.emit(row)

    def _activate(self, item: QListWidgetItem) -> None:
        if (row := self.row_at(item)) is not None:
            self.row_activated.emit(row)

    def _place_of(self, index: int) -> int:
        return [place for place, row in enumerate(self._items) if isinstance(row, ListRow)][index]

    def _keep_in_sight(self) -> None:
        """The chosen row with what is above it, and the next one if there is room."""
        place = self.currentRow()
        if place < 0:
            return
        self.scrollToTop()  # as little as needed from here: no room stays empty below the last row
        if place + 1 < self.count():
            self.scrollToItem(self.item(place + 1))
        if place and isinstance(self._items[place - 1], ListHeading):
            self.scrollToItem(self.item(place - 1))
        self.scrollToItem(self.item(place))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the chosen row in sight; see Qt."""
        super().resizeEvent(event)
        if self._is_in_layout:
            return  # a scroll bar that comes and goes with the layout would call for another one without end
        self._is_in_layout = True
        try:
            if event.size().width() != event.oldSize().width():
                self.doItemsLayout()
                if self._fits_height:
                    self.fit_height(self._max_rows)  # also where only a scroll bar has come
            self._keep_in_sight()
        finally:
            self._is_in_layout = False

    def fit_height(self, max_rows: int | None = None) -> None:
        """Take just the height that the rows need; of more than `max_rows` the others are reached by scrolling."""
        self._fits_height, self._max_rows = True, max_rows
        count = self.count() if max_rows is None else min(max_rows, self.count())
        heights = sum(self.sizeHintForRow(index) for index in range(count))
        self.setFixedHeight(heights + 2 * self.frameWidth() + 2)
        if count < self.count() and (chosen := self.currentItem()) is not None:
            self.scrollToItem(chosen)

    def set_appearance(self, appearance: Appearance) -> None:
        """Take over new colours and sizes."""
        self.appearance = self._painter.appearance = appearance
        self.doItemsLayout()


def _accessible_text(row: ListRow | ListHeading) -> str:
    if isinstance(row, ListHeading):
        return row.text
    return " ".join((row.head, row.value, row.small, row.small_right, row.note))


def _type_ahead_text(row: ListRow | ListHeading) -> str:
    """What the first letters of a row are looked for in: without the number before a name."""
    if isinstance(row, ListHeading):
        return ""
    number, _, name = row.head.partition("  ")
    return name if name and number.isdigit() else row.head
