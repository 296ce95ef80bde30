"""A stage with several pages behind tabs; each page is a `TabPage`."""

from __future__ import annotations

from collections.abc import Sequence
from string import Template

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QStackedWidget, QTabBar, QWidget

from gui.actions.registry import ActionRegistry
from gui.model.visit_controller import VisitController
from gui.widgets.appearance import Appearance, fitting_font_pixels
from gui.widgets.keyboard_return import release_keyboard
from gui.widgets.page import Page, PrimaryAction, TabPage
from gui.widgets.page_area import PageArea
from gui.widgets.theme import Sizes
from logger.translation import tr

TAB_MARGIN = 12
"""Left and right of the tabs, in pixels."""

TAB_PADDING, MIN_TAB_PADDING = 12, 6
"""Left and right of the name on a tab, in pixels: the usual one, and the one where there is less room."""

TAB_GAP = 5
"""Between two tabs with their edges, in pixels."""


_TAB_STYLE = Template("QTabBar::tab { font-size: ${size}px; padding: 4px ${pad}px; }")


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
            self.tabs.setTabToolTip(self.tabs.addTab(tr(page.page_name)), tr(page.page_name))
            page.setAccessibleName(tr(page.page_name))
            page.question_requested.connect(self.question_requested)
            page.choice_made.connect(self.choice_made)
        self.tabs.currentChanged.connect(self.show_page)
        self.restyles(*pages)
        head = QHBoxLayout()
        head.setContentsMargins(TAB_MARGIN, 8, TAB_MARGIN, 0)
        head.addWidget(self.tabs, 1)
        self.column.setContentsMargins(0, 0, 0, 0)
        self.column.setSpacing(0)
        self.column.addLayout(head)
        self.column.addWidget(self.stack, 1)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._fit_tabs()

    def set_appearance(self, appearance: Appearance) -> None:
        """See `StyledWidget`."""
        super().set_appearance(appearance)
        self._fit_tabs()

    def _fit_tabs(self) -> None:
        """Set the names on the tabs as large as all of them have room for."""
        sizes, names = self.appearance.sizes, [tr(page.page_name) for page in self.pages]
        for pad in (TAB_PADDING, MIN_TAB_PADDING):
            room = self.width() - 2 * TAB_MARGIN - len(names) * (2 * pad + TAB_GAP)
            size = fitting_font_pixels("".join(names), room, sizes.normal, Sizes.for_height(0).small, True)
            if size == sizes.normal:
                break
        sheet = _TAB_STYLE.substitute(size=size, pad=pad)
        if sheet != self.tabs.styleSheet():
            self.tabs.setStyleSheet(sheet)

    @property
    def page(self) -> TabPage:
        """The page in sight."""
        return self.pages[self.stack.currentIndex()]

    def show_page(self, index: int) -> None:
        """Show a page, counted from 0; after the last comes the first."""
        index %= len(self.pages)
        changed = index != self.stack.currentIndex()
        if changed:
            release_keyboard(self.stack)
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
        return self.page.focus_part() or self.page

    def refresh(self) -> None:
        """See `StyledWidget`."""
        self.page.refresh()
