"""A list of rows: heading and value first, small print below, then notes. Headings part them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QEvent, QModelIndex, QPersistentModelIndex, QSize, Qt, QTimer, Signal
from PySide6.QtGui import (
    QDragEnterEvent,
    QDragMoveEvent,
    QDropEvent,
    QFocusEvent,
    QKeyEvent,
    QMouseEvent,
    QResizeEvent,
)
from PySide6.QtWidgets import QAbstractItemView, QListView

from gui.widgets.appearance import Appearance
from gui.widgets.row_model import ListHeading, ListRow, RowModel
from gui.widgets.row_painter import RowPainter
from gui.widgets.spoken_list import chosen_index, let_claim_keyboard, tell_row_changes

MIN_ROWS = 3
"""Of a list that says nothing else."""


# long: what keys, clicks and drags do to rows, each a small method.
class RowList(QListView):
    """The rows. Arrows, type-ahead and clicks choose one; Enter or a double click activates it.

    Args:
        appearance: theme and sizes.
        name: what is listed, for who cannot see it.
        min_rows: so many rows, headings included, are in sight where the list has to give way to what is around it.
    """

    row_chosen = Signal(int)
    """The user chose a row, counted without headings."""
    row_activated = Signal(int)
    """A row was double-clicked, or Enter was pressed on it."""
    tick_clicked = Signal(int)
    """The box at the head of a row was clicked."""
    delete_pressed = Signal()
    """Delete was pressed in a list that takes it for its own rows (`let_delete`)."""
    files_dropped = Signal(int, list)
    """Files were let go on a row of a list that takes them (`let_drop_files`): the row, and their paths."""
    row_dragged = Signal(int, int)
    """A row was dragged to another place: where it was and where it is wanted, both counted without headings."""

    row_of_other_dropped = Signal(int, int)
    """A row of the list that `let_take_rows_of` named was let go on a row: the row, and the one of that list."""

    _takes_delete = _takes_files = False  # of the class, since Qt sends events while the list is made
    _other: RowList | None = None

    def __init__(self, appearance: Appearance, name: str = "", min_rows: int = MIN_ROWS) -> None:
        super().__init__()
        self._min_rows = min_rows
        self.setAccessibleName(name)
        self.appearance = appearance
        self.row_model = RowModel(self)
        self._fits_height = False
        self._max_rows: int | None = None
        self._is_in_layout = False
        self._clicked_row = -1
        self._is_scrolled = False
        """The user has scrolled since a row was chosen: what is in sight stays."""
        self._is_filling = False
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        # By item the last rows would stand at the top of the list, with blank room below them.
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._painter = RowPainter(self, appearance)
        self._painter.tick_clicked = self._tick
        self.setItemDelegate(self._painter)
        self._width_of_hint = 0
        self.setModel(self.row_model)
        tell_row_changes(self)
        self.verticalScrollBar().actionTriggered.connect(self._keep_scrolled)
        self.doubleClicked.connect(self._activate)

    @property
    def rows(self) -> list[ListRow]:
        """Those that can be chosen, in order; a row's place in the list counts the headings too."""
        return [item for item in self.row_model.items if isinstance(item, ListRow)]

    def let_drag_rows(self) -> None:
        """Let the mouse drag a row to another place, which `row_dragged` reports; the rows themselves stay."""
        self.row_model.can_be_dragged = True
        self.setDragEnabled(True)
        self.setAcceptDrops(True)
        self.setDragDropMode(QAbstractItemView.DragDropMode.InternalMove)
        self.setDropIndicatorShown(True)

    def let_drop_files(self) -> None:
        """Take files of this computer that are let go on a row, which `files_dropped` reports."""
        self._takes_files = True
        self.setAcceptDrops(True)

    def let_take_rows_of(self, other: RowList) -> None:
        """Take a row of another list that is let go on a row here, which `row_of_other_dropped` reports.

        Args:
            other: its rows stay, and are dragged to here alone.
        """
        self._other = other
        self.setAcceptDrops(True)
        other.row_model.can_be_dragged = True
        other.setDragEnabled(True)
        other.setDragDropMode(QAbstractItemView.DragDropMode.DragOnly)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """See Qt."""
        if self._is_taken(event):
            event.setDropAction(Qt.DropAction.CopyAction)  # after a move Qt would take the row away
            event.accept()
        else:
            super().dragEnterEvent(event)

    def dragMoveEvent(self, event: QDragMoveEvent) -> None:
        """See Qt; files are only taken over a row."""
        if not self._is_taken(event):
            super().dragMoveEvent(event)
        elif self._row_below(event) is None:
            event.ignore()
        else:
            event.setDropAction(Qt.DropAction.CopyAction)
            event.accept()

    def _is_taken(self, event: QDropEvent) -> bool:
        """Whether what is dragged can be let go on a row here: files, or a row of the other list."""
        is_of_other = self._other is not None and event.source() is self._other
        return is_of_other or bool(self._files_of(event))

    def _files_of(self, event: QDropEvent) -> list[Path]:
        """The files of this computer that are dragged; none where the list takes none."""
        urls = event.mimeData().urls() if self._takes_files and event.source() is not self else []
        return [Path(url.toLocalFile()) for url in urls if url.isLocalFile()]

    def _row_below(self, event: QDropEvent) -> int | None:
        return self.row_at(self.indexAt(event.position().toPoint()).row())

    @property
    def is_short(self) -> bool:
        """Whether rows that have a short form show that one."""
        return self._painter.is_short

    def give_room(self, min_rows: int, *, is_short: bool = False) -> None:
        """Say how far the list gives way to what is around it.

        Args:
            min_rows: so many rows, headings included, stay in sight.
            is_short: rows that have a short form show that one.
        """
        if (min_rows, is_short) != (self._min_rows, self._painter.is_short):
            self._min_rows, self._painter.is_short = min_rows, is_short
            self.doItemsLayout()
            self.updateGeometry()

    def let_pack(self) -> None:
        """Let rows in their short form stand closer together."""
        self._painter.is_packed = True

    def let_delete(self) -> None:
        """Report Delete by `delete_pressed` while the keyboard is here, whatever the page does with that key."""
        self._takes_delete = True

    def show_rows(self, rows: Sequence[ListRow | ListHeading], chosen: int | None) -> None:
        """Show rows; the chosen one, counted without headings, is kept in sight."""
        self._is_filling = True
        try:
            self._fill(rows, chosen)
        finally:
            self._is_filling = False

    def _fill(self, rows: Sequence[ListRow | ListHeading], chosen: int | None) -> None:
        if list(rows) != self.row_model.items:
            self.row_model.show(rows)
            self.scheduleDelayedItemsLayout()  # heights follow from the texts
            self.updateGeometry()
        wanted = -1 if chosen is None else self._place_of(chosen)
        if self.currentRow() != wanted:
            self.setCurrentRow(wanted)
            self._keep_in_sight()

    # --- places, counted with headings -------------------------------------------------------------------

    def count(self) -> int:
        """How many rows and headings there are."""
        return self.row_model.rowCount()

    def currentRow(self) -> int:
        """The place that is chosen; -1 where none is."""
        return chosen_index(self).row()

    def setCurrentRow(self, place: int) -> None:
        """Choose a place; -1 chooses none."""
        self.setCurrentIndex(self.row_model.index(place) if place >= 0 else QModelIndex())
        if place < 0:
            self.clearSelection()
        let_claim_keyboard(self, self.hasFocus())

    def row_at(self, place: int) -> int | None:
        """Which row is at a place, counted without headings; None for a heading."""
        items = self.row_model.items
        if not 0 <= place < len(items) or isinstance(items[place], ListHeading):
            return None
        return sum(isinstance(item, ListRow) for item in items[:place])

    def _place_of(self, index: int) -> int:
        places = [place for place, item in enumerate(self.row_model.items) if isinstance(item, ListRow)]
        return places[index]

    # --- what the user does ------------------------------------------------------------------------------

    def currentChanged(
        self, current: QModelIndex | QPersistentModelIndex, previous: QModelIndex | QPersistentModelIndex
    ) -> None:
        """Report a row that the user chose; see Qt."""
        super().currentChanged(current, previous)
        self._is_scrolled = False
        if not self._is_filling and (row := self.row_at(current.row())) is not None:
            self.row_chosen.emit(row)

    def moveCursor(
        self, action: QAbstractItemView.CursorAction, modifiers: Qt.KeyboardModifier
    ) -> QModelIndex:
        """See Qt, which goes by where rows are drawn: keys that come before a new layout would be lost."""
        places = [place for place, item in enumerate(self.row_model.items) if isinstance(item, ListRow)]
        current, Action = self.currentRow(), QAbstractItemView.CursorAction
        steps = (Action.MoveUp, Action.MovePrevious, Action.MoveDown, Action.MoveNext)
        if current < 0 and action in steps:
            wanted = min(places, default=current)  # nothing was chosen yet
        elif action in (Action.MoveUp, Action.MovePrevious):
            wanted = max((place for place in places if place < current), default=current)
        elif action in (Action.MoveDown, Action.MoveNext):
            wanted = min((place for place in places if place > current), default=current)
        elif action is Action.MoveHome:
            wanted = min(places, default=current)
        elif action is Action.MoveEnd:
            wanted = max(places, default=current)
        else:
            return super().moveCursor(action, modifiers)
        return self.row_model.index(wanted)

    def focusInEvent(self, event: QFocusEvent) -> None:
        """The keyboard alone chooses no row; see Qt."""
        chosen, was_filling, self._is_filling = self.currentRow(), self._is_filling, True
        let_claim_keyboard(self, True)
        super().focusInEvent(event)
        if self.currentRow() != chosen:
            self.setCurrentRow(chosen)
        let_claim_keyboard(self, True)  # Qt goes to the first row where none is chosen
        self._is_filling = was_filling

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """The chosen row stays chosen without the keyboard; see Qt."""
        super().focusOutEvent(event)
        let_claim_keyboard(self, False)

    def event(self, event: QEvent) -> bool:
        """Take Delete before the shortcut of the page, where it is for the rows; see Qt."""
        is_delete = (
            isinstance(event, QKeyEvent) and event.key() == Qt.Key.Key_Delete and not event.modifiers()
        )
        if self._takes_delete and is_delete and event.type() == QEvent.Type.ShortcutOverride:
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter activates the chosen row; see Qt."""
        if self._takes_delete and event.key() == Qt.Key.Key_Delete and not event.modifiers():
            if not event.isAutoRepeat():
                self.delete_pressed.emit()
            return
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.currentRow() >= 0:
            if not event.isAutoRepeat():
                self._activate(chosen_index(self))
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Escape):
            event.ignore()
        else:
            super().keyPressEvent(event)

    def dropEvent(self, event: QDropEvent) -> None:
        """Report where a row was let go; see Qt. Nothing is moved here: the list is filled anew from the visit."""
        if self._is_taken(event):
            row = self._row_below(event)
            event.setDropAction(Qt.DropAction.CopyAction)
            event.setAccepted(row is not None)
            dragged = self._other.row_at(self._other.currentRow()) if self._other is not None else None
            if row is not None and (files := self._files_of(event)):
                self.files_dropped.emit(row, files)
            elif row is not None and dragged is not None:
                # Once the drag is over: the question that follows would be open within it.
                QTimer.singleShot(0, self, lambda: self.row_of_other_dropped.emit(row, dragged))
            return
        chosen = self.row_at(self.currentRow())
        if event.source() is not self or chosen is None:
            event.ignore()
            return
        to = self._wanted_row(event.position().toPoint().y(), chosen)
        event.setDropAction(Qt.DropAction.CopyAction)  # after a move Qt would take the row away
        event.accept()
        # As Qt does at the end of a drop.
        self.stopAutoScroll()
        self.setState(QAbstractItemView.State.NoState)
        self.viewport().update()
        if to != chosen:
            self.row_dragged.emit(chosen, to)

    def _wanted_row(self, y: int, dragged: int) -> int:
        """Where a row is wanted that is let go at that height of the viewport."""
        places = [place for place, item in enumerate(self.row_model.items) if isinstance(item, ListRow)]
        above = sum(self.visualRect(self.row_model.index(place)).center().y() < y for place in places)
        return above - 1 if above > dragged else above

    def _tick(self, place: int) -> None:
        if (row := self.row_at(place)) is not None:
            self.tick_clicked.emit(row)

    def _activate(self, index: QModelIndex) -> None:
        if (row := self.row_at(index.row())) is not None:
            self.row_activated.emit(row)

    def whole_height(self) -> int:
        """The height that shows every row, in pixels."""
        return sum(map(self.sizeHintForRow, range(self.count()))) + 2 * self.frameWidth() + 2

    def minimumSizeHint(self) -> QSize:
        """See Qt: some rows are always in sight; a page that is lower scrolls."""
        rows = sum(self.sizeHintForRow(place) for place in range(min(self.count(), self._min_rows)))
        hint = super().minimumSizeHint()
        return QSize(hint.width(), max(rows + 2 * self.frameWidth() + 2, hint.height() if not rows else 0))

    # --- what is in sight --------------------------------------------------------------------------------

    def _keep_scrolled(self) -> None:
        self._is_scrolled = True

    def _keep_in_sight(self) -> None:
        """The chosen row with what is above it, and the next one if there is room.

        A row that was chosen by a click stays where it is, also where only a part of it is in sight, so that nothing
        moves under the mouse: the second click of a double click would hit another row. Where the user has scrolled
        since it was chosen, as to look at other rows, those stay in sight.
        """
        place = self.currentRow()
        following = min(place + 1, self.count() - 1)
        if place < 0 or (self._is_whole(place) and self._is_whole(following)):
            return
        if self._is_scrolled or (place == self._clicked_row and self._is_partly(place)):
            return
        items = self.row_model.items
        if place + 1 < self.count():
            self.scrollTo(self.row_model.index(place + 1))
        if place and isinstance(items[place - 1], ListHeading):
            self.scrollTo(self.row_model.index(place - 1))
        self.scrollTo(self.row_model.index(place))

    def _is_whole(self, place: int) -> bool:
        """Whether a row is in sight from its first to its last line."""
        box = self.visualRect(self.row_model.index(place))
        return box.top() >= 0 and box.bottom() < self.viewport().height()

    def _is_partly(self, place: int) -> bool:
        """Whether any part of a row is in sight."""
        return self.visualRect(self.row_model.index(place)).intersects(self.viewport().rect())

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """See Qt; the row that is clicked stays under the mouse."""
        self._clicked_row = self.indexAt(event.position().toPoint()).row()
        super().mousePressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the chosen row in sight; see Qt."""
        super().resizeEvent(event)
        if self._is_in_layout:
            return  # a scroll bar that comes and goes with the layout would call for another one without end
        self._is_in_layout = True
        try:
            if event.size().width() != event.oldSize().width():
                self.doItemsLayout()
                if self.width() != self._width_of_hint:
                    # Its rows have other heights. They follow from this width, bar or not, so this comes to an end.
                    self._width_of_hint = self.width()
                    self.updateGeometry()
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
        if count < self.count() and self.currentRow() >= 0 and not self._is_scrolled:
            self.scrollTo(chosen_index(self))

    def set_appearance(self, appearance: Appearance) -> None:
        """Take over new colours and sizes."""
        self.appearance = self._painter.appearance = appearance
        self.doItemsLayout()
        self.updateGeometry()  # what is around it keeps the heights of before else
