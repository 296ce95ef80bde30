"""What the pages of all stages have in common: a title, signals, keys, and moving through a list of rows."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QSize, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QVBoxLayout

from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.widgets.appearance import Appearance, StyledWidget, VisitWidget, label
from gui.widgets.row_list import RowList
from gui.widgets.shortcut_buttons import ShortcutButtons

ROW_STEPS = {"Up": -1, "Down": 1, "PgUp": -6, "PgDown": 6}
"""Keys that move through the rows of a list, with how many rows they move on."""


class Page(VisitWidget):
    """One stage's page. The window passes on the keys that no prompt takes.

    Args:
        controller: what the window does with the visit.
        appearance: theme and sizes.
    """

    title = ""
    """Empty where the first thing on the page says what it is."""
    key_clicked = Signal(str)
    """A key was clicked instead of pressed."""
    prompt_requested = Signal(object)
    """A `gui.shell.prompt.Prompt` to put in this page's place."""

    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__(controller, appearance)
        self._styled_parts: list[StyledWidget | RowList] = []
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(18, 14, 18, 10)
        self.column.setSpacing(8)
        if self.title:
            self.column.addWidget(label(self.title, "title"))

    def restyles(self, *parts: StyledWidget | RowList) -> None:
        """Pass every change of theme and sizes on to these parts of the page."""
        self._styled_parts += parts

    def make_shortcuts(self, *pairs: tuple[str, str]) -> ShortcutButtons:
        """Make buttons for keys of this page; the page still has to lay them out."""
        buttons = ShortcutButtons(self.appearance, *pairs)
        buttons.clicked.connect(self.key_clicked)
        self.restyles(buttons)
        return buttons

    def is_too_low(self) -> bool:
        """Whether the page's parts need more height than the page has."""
        return self.column.minimumHeightForWidth(self.width()) > self.height()

    def give_way(self, steps: Sequence[Callable[[], object]]) -> None:
        """Take one step after the other until the page's parts have room in it."""
        for step in steps:
            if not self.is_too_low():
                return
            step()

    def handle(self, name: str) -> bool:
        """Take a key (as `gui.widgets.keys.key_name` names it); False leaves it to the window."""
        del name
        return False

    def primary_action(self) -> Message | None:
        """Describe what Space does on this page, for the action bar; None where it takes a reading as everywhere."""
        return None

    def set_appearance(self, appearance: Appearance) -> None:
        """See `StyledWidget`; the parts of the page take it over first."""
        for part in self._styled_parts:
            part.set_appearance(appearance)
        super().set_appearance(appearance)

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(self.appearance.sizes.normal * 23, 300)

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        QPainter(self).fillRect(self.rect(), QColor(self.appearance.theme.panel))


class TabPage(Page):
    """One of several pages of a stage, which shows its name."""

    page_name = ""
    reading_taken = Signal()
    """A reading was taken, or a step was labelled: the window plays a sound."""


def row_after_key(index: int, key: str, count: int) -> int:
    """Find the row that a key leads to; stops at both ends.

    Args:
        index: the chosen row, counted from 0.
        key: one of `ROW_STEPS`.
        count: how many rows there are.
    """
    return min(max(index + ROW_STEPS[key], 0), max(count - 1, 0))


def scroll_by_key(rows: RowList, key: str) -> bool:
    """Scroll a list in which nothing is chosen; False when the key is neither Up nor Down."""
    if key not in ("Up", "Down"):
        return False
    bar = rows.verticalScrollBar()
    bar.setValue(bar.value() + ROW_STEPS[key])
    return True
