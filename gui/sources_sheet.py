"""The sheet of the stage Sources: three pages, one after the other by Tab. Each page is a sheet of its own."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QStackedWidget

from gui.look import Look, label
from gui.session import Said
from gui.sheet import KeyHints, Page, Sheet
from gui.sourcing import Sourcing
from gui.steps_page import StepsPage
from gui.sweep_sheet import SweepPage
from gui.tonight_sheet import TonightPage


class SourcesSheet(Sheet):
    """Steps, then the breaker sweep, then tonight's list; all keys but Tab go to the page in sight.

    Args:
        sourcing: the work of this stage.
        look: theme and sizes.
    """

    taken = Signal()
    """A value was taken, or a step was named: to be heard."""

    def __init__(self, sourcing: Sourcing, look: Look) -> None:
        super().__init__(sourcing.session, look)
        self.steps = StepsPage(sourcing, look)
        self.pages: Sequence[Page] = (self.steps, SweepPage(sourcing, look), TonightPage(sourcing, look))
        self.stack = QStackedWidget()
        for page in self.pages:
            self.stack.addWidget(page)
            page.key_clicked.connect(self.key_clicked)
            page.asks.connect(self.asks)
            page.taken.connect(self.taken)
        self.heading = label("", "heading", wrap=False)
        self._hint = KeyHints(self.session, look, ("Tab", "next page"))
        self._hint.clicked.connect(self.key_clicked)
        head = QHBoxLayout()
        head.setContentsMargins(18, 12, 18, 0)
        head.addWidget(self.heading, 1)
        head.addWidget(self._hint, 1)
        self.column.setContentsMargins(0, 0, 0, 0)
        self.column.setSpacing(0)
        self.column.addLayout(head)
        self.column.addWidget(self.stack, 1)
        self._say_page()

    @property
    def page(self) -> Page:
        """The page in sight."""
        return self.pages[self.stack.currentIndex()]

    def show_page(self, index: int) -> None:
        """Show a page, counted from 0."""
        self.stack.setCurrentIndex(index % len(self.pages))
        self._say_page()
        self.page.refresh()

    def handle(self, name: str) -> bool:
        """See `Sheet`."""
        steps = {"Tab": 1, "Shift+Tab": -1}
        if name in steps:
            self.show_page(self.stack.currentIndex() + steps[name])
            return True
        return self.page.handle(name)

    def space_says(self) -> Said | None:
        """See `Sheet`."""
        return self.page.space_says()

    def refresh(self) -> None:
        """See `Part`."""
        self.page.refresh()

    def set_look(self, look: Look) -> None:
        """See `Part`."""
        for part in (*self.pages, self._hint):
            part.set_look(look)
        super().set_look(look)

    def _say_page(self) -> None:
        at = self.stack.currentIndex()
        self.heading.setText(f"{at + 1} of {len(self.pages)}   {self.page.page_name}")


if __name__ == "__main__":
    from gui.alone import show_alone

    show_alone(lambda session, look: SourcesSheet(Sourcing(session), look), 430, 560)
