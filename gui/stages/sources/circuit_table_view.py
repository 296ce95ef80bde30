"""The table of circuits on the screen: Tab goes to the next cell, Enter to the next row, typing begins an edit."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QItemSelectionModel, QModelIndex, QObject, QPersistentModelIndex, QRect, Qt
from PySide6.QtGui import QFocusEvent, QFontMetrics, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QAbstractItemView,
    QHeaderView,
    QLineEdit,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from gui.model.circuit_entry import COLUMNS, Column
from gui.stages.sources.circuit_table_model import NEW, CircuitTableModel
from gui.widgets.appearance import Appearance
from gui.widgets.theme import font
from logger.translation import tr

_Hint = QAbstractItemDelegate.EndEditHint
_ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)

LETTERS_OF = {
    Column.PANEL: 7, Column.NUMBER: 5, Column.NAME: 19, Column.RATING: 7, Column.LEG: 8, Column.TWO_POLE: 6,
    Column.DEVICE: 13, Column.FEEDS: 20, Column.POLES: 12, Column.STAYS: 20,
    Column.SHOWN_OFF: 16,
}  # fmt: skip
"""How wide each column is at first, in letters."""

NAME_LETTERS = 13
"""So wide are the names at the left while their column is out of sight, in letters."""

HEAD_PADDING = 14
"""Left and right of a heading together, in pixels: its longest word is in one line."""

ROWS, SCARCE_ROWS = 6, 3
"""So many rows are in sight where there is room for them; the last one on the lowest screen."""


class _CellDelegate(QStyledItemDelegate):
    """The field in which a cell is edited: its keys take effect at once, so that quick typing loses no letter."""

    def createEditor(
        self, parent: QWidget, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> QWidget:
        """See Qt."""
        field = QLineEdit(parent)
        field.setProperty("role", "cell")
        field.setAccessibleName(str(index.data(Qt.ItemDataRole.AccessibleTextRole)))
        return field

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Tab, Enter and Esc end the edit; see Qt."""
        if (
            isinstance(event, QKeyEvent)
            and event.type() == QEvent.Type.KeyPress
            and isinstance(watched, QWidget)
        ):
            ways = {Qt.Key.Key_Tab: _Hint.EditNextItem, Qt.Key.Key_Backtab: _Hint.EditPreviousItem}
            ways |= dict.fromkeys(_ENTER, _Hint.SubmitModelCache)
            hint = ways.get(Qt.Key(event.key()))
            if hint is not None:
                self.commitData.emit(watched)
                self.closeEditor.emit(watched, hint)
                return True
        return super().eventFilter(watched, event)


class CircuitTableView(QTableView):
    """Shows the model, and edits it by keyboard and mouse.

    Args:
        model: the rows.
        appearance: theme and sizes.
    """

    def __init__(self, model: CircuitTableModel, appearance: Appearance) -> None:
        super().__init__()
        self.rows = model
        self.appearance = appearance
        self._start: tuple[int, int] | None = None
        """The row in which Tab went on, by its id, and the column in which that began: Enter goes back there."""
        self._kept_place = NEW, COLUMNS.index(Column.PANEL), 0, 0
        """Id of the row and column of the current cell, and how far the table is scrolled, while the rows change."""
        self.setAccessibleName(tr("Circuits of the panel"))
        self.setItemDelegate(_CellDelegate(self))
        self.setTabKeyNavigation(False)
        self.setWordWrap(False)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.DoubleClicked
            | QAbstractItemView.EditTrigger.EditKeyPressed
            | QAbstractItemView.EditTrigger.AnyKeyPressed
        )
        self.verticalHeader().hide()
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.verticalHeader().setTextElideMode(Qt.TextElideMode.ElideRight)
        self.horizontalScrollBar().valueChanged.connect(self._show_names)
        head = self.horizontalHeader()
        head.setDefaultAlignment(
            Qt.AlignmentFlag.AlignLeft
            | Qt.AlignmentFlag.AlignVCenter
            | Qt.AlignmentFlag(Qt.TextFlag.TextWordWrap)
        )
        head.setHighlightSections(False)
        model.modelAboutToBeReset.connect(self._keep_place)
        model.modelReset.connect(self._restore_place)
        model.entered.connect(self._show_outcome)
        self.setModel(model)
        self.set_appearance(appearance)

    def set_appearance(self, appearance: Appearance) -> None:
        """Take over new colours and sizes."""
        self.appearance = appearance
        self.rows.theme = appearance.theme
        letter = appearance.sizes.normal * 0.56
        heads, highest = QFontMetrics(font(appearance.sizes.small)), 0
        for place, column in enumerate(COLUMNS):
            word = max(map(heads.horizontalAdvance, column.shown.split()))
            width = max(round(LETTERS_OF[column] * letter), word + HEAD_PADDING)
            self.setColumnWidth(place, width)
            room = QRect(0, 0, width - HEAD_PADDING, 0)
            highest = max(highest, heads.boundingRect(room, Qt.TextFlag.TextWordWrap, column.shown).height())
        self.verticalHeader().setFixedWidth(round(NAME_LETTERS * letter))
        height = self._row_height()
        self.verticalHeader().setMinimumSectionSize(height)
        self.verticalHeader().setDefaultSectionSize(height)
        self.horizontalHeader().setFixedHeight(highest + HEAD_PADDING // 2)
        self.viewport().update()

    def _show_names(self, across: int) -> None:
        """Name each row at its left once most of the names are scrolled out of sight."""
        name = COLUMNS.index(Column.NAME)
        before = sum(map(self.columnWidth, range(name)))
        self.verticalHeader().setVisible(across > before + self.columnWidth(name) / 2)

    def keep_rows(self, count: int) -> None:
        """Have so many rows in sight at least, below the headings and above the bar that scrolls across."""
        self.setMinimumHeight(self._row_height() * (count + 2))

    def _row_height(self) -> int:
        return round(self.appearance.sizes.normal * 1.8)

    @property
    def is_editing(self) -> bool:
        """Whether the field of a cell is open."""
        return self.state() == QAbstractItemView.State.EditingState

    def refresh(self) -> None:
        """Show what is kept now; while a cell is edited, its rows stay as they are."""
        if not self.is_editing:
            self.rows.refresh()

    def go_to(self, row: int, column: int) -> None:
        """Make a cell the current one, in sight."""
        index = self.rows.index(row, column)
        self.setCurrentIndex(index)
        self.scrollTo(index)

    def copied_text(self) -> str:
        """The selected cells, or the current one, as a spreadsheet takes them."""
        chosen = self.selectedIndexes() or [self.currentIndex()]
        return self.rows.cells_text(index for index in chosen if index.isValid())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The current cell stays in sight; see Qt."""
        super().resizeEvent(event)
        if self.currentIndex().isValid():
            self.scrollTo(self.currentIndex())

    # --- keys --------------------------------------------------------------------------------------------

    def focusInEvent(self, event: QFocusEvent) -> None:
        """The keyboard is where the next circuit is typed, unless a cell was chosen; see Qt."""
        if not self.currentIndex().isValid():
            self._go_to_new()
        super().focusInEvent(event)

    def focusNextPrevChild(self, go_on: bool) -> bool:
        """Tab goes from cell to cell, and on to the next part from the empty row; see Qt."""
        return self._go_by_tab(1 if go_on else -1) or super().focusNextPrevChild(go_on)

    def event(self, event: QEvent) -> bool:
        """Space is for the box of the column that has one; see Qt."""
        is_override = event.type() == QEvent.Type.ShortcutOverride
        if (
            is_override
            and isinstance(event, QKeyEvent)
            and event.key() == Qt.Key.Key_Space
            and self._is_on_box()
        ):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """See Qt: Enter goes to the next row, Del empties the cell."""
        if event.key() in _ENTER:
            self._go_by_enter()
        elif event.key() == Qt.Key.Key_Delete and event.modifiers() == Qt.KeyboardModifier.NoModifier:
            self.take(self.currentIndex(), "")
        elif event.key() == Qt.Key.Key_Space and not self._is_on_box():
            event.ignore()
        else:
            super().keyPressEvent(event)

    def take(self, index: QModelIndex, text: str) -> None:
        """Enter a text into a cell as if it were typed."""
        if index.isValid() and index.flags() & Qt.ItemFlag.ItemIsEditable:
            self.rows.setData(index, text)

    def closeEditor(self, editor: QWidget, hint: QAbstractItemDelegate.EndEditHint) -> None:
        """See Qt: then the rows show what was entered, and the cell is the one that the key goes to."""
        super().closeEditor(editor, _Hint.NoHint)
        self._show_outcome()
        if hint is _Hint.EditNextItem:
            self._go_by_tab(1)
        elif hint is _Hint.EditPreviousItem:
            self._go_by_tab(-1)
        elif hint is _Hint.SubmitModelCache:
            self._go_by_enter()

    def _show_outcome(self) -> None:
        """Show what an edit has made of the list, once its field is closed; the current cell stays with its circuit."""
        if self.is_editing:
            return
        added, column = self.rows.added_id, self.currentIndex().column()
        self.rows.added_id = NEW
        self.refresh()
        if added != NEW:
            self.go_to(self.rows.row_of(added), column)
            if self._start is not None and self._start[0] == NEW:
                self._start = added, self._start[1]

    def _is_on_box(self) -> bool:
        return bool(self.currentIndex().flags() & Qt.ItemFlag.ItemIsUserCheckable)

    def _go_to_new(self) -> None:
        column = Column.NAME if self.rows.sources else Column.PANEL
        self.go_to(len(self.rows.sources), COLUMNS.index(column))

    def _go_by_tab(self, by: int) -> bool:
        """Go to the cell before or behind; False where that leaves the table."""
        index = self.currentIndex()
        if not index.isValid():
            return False
        source_id = self.rows.id_at(index.row())
        if source_id == NEW and by > 0 and not self.rows.has_draft():
            return False
        if self._start is None or self._start[0] != source_id:
            self._start = source_id, index.column()
        cells = len(COLUMNS)
        at = index.row() * cells + index.column() + by
        while 0 <= at < self.rows.rowCount() * cells:
            flags = self.rows.flags(self.rows.index(at // cells, at % cells))
            if flags & (Qt.ItemFlag.ItemIsEditable | Qt.ItemFlag.ItemIsUserCheckable):
                self.go_to(at // cells, at % cells)
                return True
            at += by
        return False

    def _go_by_enter(self) -> None:
        """Go to the row below, to the column where this one was begun; to the name of the next circuit at the end."""
        index = self.currentIndex()
        row, column = index.row(), index.column()
        if row >= len(self.rows.sources):
            self.go_to(row, COLUMNS.index(Column.NAME))
            return
        if self._start is not None and self._start[0] == self.rows.id_at(row):
            column = self._start[1]
        self._start = None
        if row + 1 >= len(self.rows.sources):
            column = COLUMNS.index(Column.NAME)
        self.go_to(row + 1, column)

    # --- rows that come and go ---------------------------------------------------------------------------

    def _keep_place(self) -> None:
        index = self.currentIndex()
        self._kept_place = (
            self.rows.id_at(index.row()) if index.isValid() else -1, index.column(),
            self.horizontalScrollBar().value(), self.verticalScrollBar().value(),
        )  # fmt: skip

    def _restore_place(self) -> None:
        source_id, column, across, down = self._kept_place
        if source_id >= NEW:
            index = self.rows.index(self.rows.row_of(source_id), column)
            self.selectionModel().setCurrentIndex(index, QItemSelectionModel.SelectionFlag.ClearAndSelect)
        self.horizontalScrollBar().setValue(across)
        self.verticalScrollBar().setValue(down)
