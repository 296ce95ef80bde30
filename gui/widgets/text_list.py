"""A list of plain texts of which one is chosen. Its chosen row claims the keyboard only while the list has it.

In: texts. Out: the chosen row, whether the keyboard is in the list or not.
"""

from __future__ import annotations

from PySide6.QtGui import QFocusEvent
from PySide6.QtWidgets import QListWidget, QWidget

from gui.widgets.spoken_list import chosen_index, let_claim_keyboard, tell_row_changes


class TextList(QListWidget):
    """The texts as rows; a long one goes on in the next line.

    Args:
        name: what is listed, for who cannot see it.
        parent: see Qt.
    """

    def __init__(self, name: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.setWordWrap(True)
        tell_row_changes(self)

    def chosen_row(self) -> int:
        """The row that is chosen, from 0; -1 while none is."""
        return chosen_index(self).row()

    def choose(self, row: int) -> None:
        """Choose a row, from 0; the keyboard stays where it is."""
        self.setCurrentRow(row)
        let_claim_keyboard(self, self.hasFocus())

    def focusInEvent(self, event: QFocusEvent) -> None:
        """The keyboard alone chooses no row; see Qt, which goes to the first one where none is chosen."""
        let_claim_keyboard(self, True)
        super().focusInEvent(event)
        let_claim_keyboard(self, True)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """The chosen row stays chosen without the keyboard; see Qt."""
        super().focusOutEvent(event)
        let_claim_keyboard(self, False)
