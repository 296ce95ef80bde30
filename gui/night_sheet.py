"""The sheet of the stage Night: three pages, one after the other by Tab. Each page is a sheet of its own."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QStackedWidget

from gui.look import Look, label
from gui.night_compare import ComparePage
from gui.night_morning import MorningPage
from gui.night_start import StartPage
from gui.night_work import NightWork
from gui.question import Question
from gui.session import Said
from gui.sheet import KeyHints, Page, Sheet
from gui.stage_rail import LEAST_NIGHT_S


class NightSheet(Sheet):
    """Start, then the morning's summary, then before and after; all keys but Tab, N and P go to the page in sight.

    Args:
        work: the work of this stage.
        look: theme and sizes.
    """

    screen_asked = Signal()
    """The night screen is to cover the window."""
    record_asked = Signal()
    jump = Signal(float, float)
    """Show that stretch of the trace."""

    def __init__(self, work: NightWork, look: Look) -> None:
        super().__init__(work.session, look)
        self.work = work
        self.start, self.morning, self.compare = (
            StartPage(work, look),
            MorningPage(work, look),
            ComparePage(work, look),
        )
        self.pages: Sequence[Page] = (self.start, self.morning, self.compare)
        self.stack = QStackedWidget()
        for page in self.pages:
            self.stack.addWidget(page)
            page.key_clicked.connect(self.key_clicked)
            page.asks.connect(self.asks)
        self.start.record_asked.connect(self.record_asked)
        self.morning.jump.connect(self.jump)
        self.heading = label("", "heading", wrap=False)
        self._hint = KeyHints(self.session, look, ("Tab", "next page"))
        self._hint.clicked.connect(self.key_clicked)
        head = QHBoxLayout()
        head.setContentsMargins(18, 12, 18, 0)
        head.addWidget(self.heading, 2)
        head.addWidget(self._hint, 1)
        self.column.setContentsMargins(0, 0, 0, 0)
        self.column.setSpacing(0)
        self.column.addLayout(head)
        self.column.addWidget(self.stack, 1)
        feed = self.session.feed
        if not feed.recording and feed.trace.end_s >= LEAST_NIGHT_S:
            self.stack.setCurrentWidget(self.morning)
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
        elif name == "N":
            self.screen_asked.emit()
        elif name == "P":
            self.ask_plan()
        else:
            return self.page.handle(name)
        return True

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

    def ask_plan(self, typed: str = "") -> None:
        """Ask for the planned switchings; what was typed and not understood stays in the line."""

        def keep(text: str) -> None:
            if not self.work.plan(text):
                self.ask_plan(text)

        self.asks.emit(
            Question(
                "Planned switchings",
                "Such as 23:00 breakers off; 06:30 breakers on. They are laid beside the steps that are found. "
                "A single dash plans nothing.",
                on_text=keep,
                prefilled=typed or self.work.schedule,
                enter_says="keep them",
            )
        )

    def _say_page(self) -> None:
        at = self.stack.currentIndex()
        self.heading.setText(f"{at + 1} of {len(self.pages)}   {self.page.page_name}")


if __name__ == "__main__":
    from gui.alone import show_alone

    show_alone(lambda session, look: NightSheet(NightWork(session), look), 430, 560)
