"""A stage with several pages, one after the other by Tab; each page is a `TabPage`."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtWidgets import QHBoxLayout, QStackedWidget

from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.widgets.appearance import Appearance, label
from gui.widgets.page import Page, TabPage


class PagedStage(Page):
    """All keys but Tab go to the page in sight; the heading shows which of how many it is.

    Args:
        controller: what the window does with the visit.
        appearance: theme and sizes.
        pages: in their order.
    """

    def __init__(self, controller: VisitController, appearance: Appearance, pages: Sequence[TabPage]) -> None:
        super().__init__(controller, appearance)
        self.pages = pages
        self.stack = QStackedWidget()
        for page in pages:
            self.stack.addWidget(page)
            page.key_clicked.connect(self.key_clicked)
            page.prompt_requested.connect(self.prompt_requested)
        self.restyles(*pages)
        self.heading = label("", "heading", wrap=False)
        head = QHBoxLayout()
        head.setContentsMargins(18, 12, 18, 0)
        head.addWidget(self.heading, 1)
        head.addWidget(self.make_shortcuts(("Tab", "next page")), 1)
        self.column.setContentsMargins(0, 0, 0, 0)
        self.column.setSpacing(0)
        self.column.addLayout(head)
        self.column.addWidget(self.stack, 1)
        self._show_heading()

    @property
    def page(self) -> TabPage:
        """The page in sight."""
        return self.pages[self.stack.currentIndex()]

    def show_page(self, index: int) -> None:
        """Show a page, counted from 0; after the last comes the first."""
        self.stack.setCurrentIndex(index % len(self.pages))
        self._show_heading()
        self.page.refresh()

    def handle(self, name: str) -> bool:
        """See `Page`."""
        steps = {"Tab": 1, "Shift+Tab": -1}
        if name in steps:
            self.show_page(self.stack.currentIndex() + steps[name])
            return True
        return self.page.handle(name)

    def primary_action(self) -> Message | None:
        """See `Page`."""
        return self.page.primary_action()

    def refresh(self) -> None:
        """See `StyledWidget`."""
        self.page.refresh()

    def _show_heading(self) -> None:
        at = self.stack.currentIndex()
        self.heading.setText(f"{at + 1} of {len(self.pages)}   {self.page.page_name}")
