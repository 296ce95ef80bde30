"""The rows of a painted list as a list of Qt, for a screen reader: not drawn, the keyboard stays with the picture.

In: texts of rows, and which is chosen. Out: a part with the role of a list, whose rows have names and say whether they
are chosen.
"""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QAccessible, QAccessibleEvent, QPaintEvent
from PySide6.QtWidgets import QAbstractItemView, QFrame, QListView, QWidget

from gui.widgets.row_model import ListRow, RowModel
from gui.widgets.spoken_list import chosen_index, let_claim_keyboard, tell_row_changes


class SpokenRows(QListView):
    """Rows that only a screen reader finds.

    Args:
        picture: the list as it is drawn, which this part covers.
    """

    def __init__(self, picture: QWidget) -> None:
        super().__init__(picture)
        self._texts = RowModel(self)
        self.setModel(self._texts)
        tell_row_changes(self)
        picture.installEventFilter(self)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.viewport().setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.viewport().setAutoFillBackground(False)

    def event(self, event: QEvent) -> bool:
        """Draw no frame and no ground either; see Qt."""
        return True if event.type() == QEvent.Type.Paint else super().event(event)

    def paintEvent(self, _: QPaintEvent) -> None:
        """Draw nothing; see Qt."""

    def show_rows(self, texts: Sequence[str], chosen: int | None) -> None:
        """Have these rows.

        Args:
            texts: all that each row says.
            chosen: index of the chosen row; None for none.
        """
        self._texts.show([ListRow(text) for text in texts])
        picture = self.parentWidget()
        has_keyboard = picture is not None and picture.hasFocus()
        if chosen is None:
            self.clearSelection()
        elif chosen != chosen_index(self).row():
            self.setCurrentIndex(self._texts.index(chosen))
            if has_keyboard:
                event = QAccessibleEvent(self, QAccessible.Event.Focus)
                event.setChild(chosen)
                QAccessible.updateAccessibility(event)
        let_claim_keyboard(self, has_keyboard)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Have the chosen row say whether the picture has the keyboard; see Qt."""
        if event.type() in (QEvent.Type.FocusIn, QEvent.Type.FocusOut):
            let_claim_keyboard(self, event.type() == QEvent.Type.FocusIn)
        return super().eventFilter(watched, event)
