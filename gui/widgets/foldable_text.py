"""A text of which one sentence is shown where there is no room for all of it, with a button that opens it in place."""

from __future__ import annotations

import re

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QHBoxLayout, QPushButton

from gui.actions.spoken_text import set_spoken_description, set_spoken_name
from gui.actions.tips import in_lines
from gui.widgets.appearance import label
from logger.translation import tr


def _shorter(text: str) -> tuple[str, str]:
    """A text without what is in parentheses, and without every ± as well: what it says is in the rest."""
    bare = re.sub(r" \([^()]*\)", "", text)
    return bare, re.sub(r" ± [\d.,]+ V", "", bare)


class FoldableText(QHBoxLayout):
    """The text, and the button beside it while it is cut. A warning is never cut.

    Args:
        role: of the text, in the style sheet.
    """

    def __init__(self, role: str) -> None:
        super().__init__()
        self.part = label("", role)
        self.button = QPushButton()
        self.button.setProperty("role", "more")
        self.button.setFocusPolicy(Qt.FocusPolicy.TabFocus)  # a click leaves the keyboard in the list
        self.button.setAutoDefault(True)  # Enter presses it, as Space does
        self.button.clicked.connect(self._open_or_cut)
        self.button.hide()
        self.whole = ""
        """The whole text, whether or not all of it is in sight."""
        self._short = ""
        self._opened = ""
        """The text that the user has opened; another one is cut again."""
        self.addWidget(self.part, 1)
        self.addWidget(self.button, 0, Qt.AlignmentFlag.AlignBottom)

    def show_whole(self, text: str) -> None:
        """Show a whole text."""
        self.whole = text
        self._short = ""
        set_spoken_name(self.part, text)
        self.part.setToolTip(in_lines(text))
        self.part.setText(text)
        if (
            self.button.hasFocus()
        ):  # it may be cut again at once, and the keyboard shall not go astray meanwhile
            QTimer.singleShot(0, self.button, self._hide_needless_button)
        else:
            self.button.hide()

    def cut(self, short: str) -> None:
        """Show a short text in its place, unless the user has opened it.

        Args:
            short: what stands for it, a whole sentence.
        """
        self._short = short
        self._show()

    def cut_to_line(self, width: int) -> None:
        """Show no more than one line of what is in sight, unless the user has opened it.

        Args:
            width: of the line with its button, in pixels.
        """
        metrics = self.part.fontMetrics()
        shown = self._short or self.whole
        self.button.setText(tr("More"))
        room = width - self.button.sizeHint().width() - self.spacing() - 2 * metrics.averageCharWidth()
        if metrics.horizontalAdvance(shown) > (room if self._short else width):
            fitting = (text for text in _shorter(shown) if metrics.horizontalAdvance(text) <= room)
            self.cut(next(fitting, "") or metrics.elidedText(shown, Qt.TextElideMode.ElideRight, room))

    def setVisible(self, is_visible: bool) -> None:
        """Show or hide the text with its button."""
        self.part.setVisible(is_visible)
        self.button.setVisible(is_visible and bool(self._short))

    def hide(self) -> None:
        """Hide the text with its button."""
        self.setVisible(False)

    def show(self) -> None:
        """Show what `hide` has hidden."""
        self.setVisible(True)

    def _hide_needless_button(self) -> None:
        if not self._short:
            self.button.hide()

    def _open_or_cut(self) -> None:
        self._opened = "" if self._opened == self.whole else self.whole
        self._show()

    def _show(self) -> None:
        is_opened = self._opened == self.whole
        self.part.setText(self.whole if is_opened else self._short)
        self.button.setText(tr("Less") if is_opened else tr("More"))
        self.button.setToolTip(in_lines(self.whole))
        set_spoken_name(self.button, self.button.text())
        set_spoken_description(self.button, self.whole)
        self.button.setVisible(not self.part.isHidden())
