"""How large a dialog opens: some letters wide and high, and never larger than the screen."""

from __future__ import annotations

from PySide6.QtCore import QSize
from PySide6.QtWidgets import QDialog

USUAL_LETTERS = QSize(40, 26)
"""Width and height in heights of a letter."""

MIN_LETTERS = QSize(18, 12)
"""Smallest size that it can be drawn to; what has no room in it is scrolled."""


def fit_dialog(dialog: QDialog, letters: QSize = USUAL_LETTERS) -> None:
    """Give a dialog its size before it is shown.

    Args:
        dialog: it has a parent, whose letters it has too.
        letters: width and height in heights of a letter.
    """
    dialog.ensurePolished()
    letter = dialog.fontMetrics().height()
    room = dialog.screen().availableSize() - QSize(letter, 2 * letter)
    dialog.setMinimumSize((MIN_LETTERS * letter).boundedTo(room))
    dialog.resize((letters * letter).boundedTo(room))
