"""The rows of a painted list as a list of Qt, for a screen reader: not drawn, the keyboard stays with the picture.

In: texts of rows, and which is chosen. Out: a part with the role of a list, whose rows have names and say whether they
are chosen.
"""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QStringListModel, Qt
from PySide6.QtGui import QAccessible, QAccessibleEvent, QPaintEvent
from PySide6.QtWidgets import QAbstractItemView, QFrame, QListView, QWidget


class SpokenRows(QListView):
    """Rows that only a screen reader finds.

    Args:
        picture: the list as it is drawn, which this part covers.
    """

    def __init__(self, picture: QWidget) -> None:
        super().__init__(picture)
        self._texts = QStringListModel(self)
        self.setModel(self._texts)
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
        if list(texts) != self._texts.stringList():
            self._texts.setStringList(list(texts))
        before = self.currentIndex().row()
        if chosen is None:
            self.clearSelection()
        elif chosen != before or not self.selectedIndexes():
            self.setCurrentIndex(self._texts.index(chosen))
            picture = self.parentWidget()
            if picture is not None and picture.hasFocus():
                event = QAccessibleEvent(self, QAccessible.Event.Focus)
                event.setChild(chosen)
                QAccessible.updateAccessibility(event)
