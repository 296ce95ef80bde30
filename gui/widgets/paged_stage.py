"""A stage with several pages behind tabs; each page is a `TabPage`."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QStackedWidget, QTabBar, QWidget

from gui.actions.registry import ActionRegistry
from gui.model.visit_controller import VisitController
from gui.widgets.appearance import Appearance
from gui.widgets.page import Page, PrimaryAction, TabPage
from gui.widgets.page_area import PageArea


class PagedStage(Page):
    """Shows one of its pages; the tabs show which.

    Args:
        controller: what the window does with the visit.
        appearance: theme and sizes.
        actions: the actions of the window.
        pages: in their order.
    """

    page_changed = Signal()
    """Another page of the stage came into sight."""

    def __init__(
        self,
        controller: VisitController,
        appearance: Appearance,
        actions: ActionRegistry,
        pages: Sequence[TabPage],
    ) -> None:
        super().__init__(controller, appearance, actions)
        self.pages = pages
        self.stack = QStackedWidget()
        self.tabs = QTabBar()
        self.tabs.setExpanding(False)
        self.tabs.setDrawBase(False)
        self.tabs.setUsesScrollButtons(True)
        for page in pages:
            self.stack.addWidget(PageArea(page))
            self.tabs.addTab(page.page_name)
            page.question_requested.connect(self.question_requested)
        self.tabs.currentChanged.connect(self.show_page)
        self.restyles(*pages)
        head = QHBoxLayout()
        head.setContentsMargins(12, 8, 12, 0)
        head.addWidget(self.tabs, 1)
        self.column.setContentsMargins(0, 0, 0, 0)
        self.column.setSpacing(0)
        self.column.addLayout(head)
        self.column.addWidget(self.stack, 1)

    @property
    def page(self) -> TabPage:
        """The page in sight."""
        return self.pages[self.stack.currentIndex()]

    def show_page(self, index: int) -> None:
        """Show a page, counted from 0; after the last comes the first."""
        index %= len(self.pages)
        changed = index != self.stack.currentIndex()
        self.stack.setCurrentIndex(index)
        self.tabs.setCurrentIndex(index)
        self.page.refresh()
        if changed:
            self.page_changed.emit()

    def places(self) -> tuple[str, ...]:
        """See `Page`."""
        return (self.place, *self.page.places())

    def primary_action(self) -> PrimaryAction | None:
        """See `Page`."""
        return self.page.primary_action()

    def focus_part(self) -> QWidget | None:
        """See `Page`."""
        return self.page.focus_part()

    def refresh(self) -> None:
        """See `StyledWidget`."""
        self.page.refresh()
