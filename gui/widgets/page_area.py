"""The room of a page, which scrolls where the page needs more height than there is."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QScrollArea

from gui.widgets.page import Page

MAX_FITS = 4
"""So often a page is fitted at most: where its parts and the scroll bar never agree, the page keeps its last size."""


class PageArea(QScrollArea):
    """Gives its page the width that there is, and the height that it needs at least.

    Args:
        page: what is shown.
    """

    def __init__(self, page: Page) -> None:
        super().__init__()
        self.page = page
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setWidget(page)
        page.installEventFilter(self)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._fit()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Fit anew when a part of the page was shown, hidden or changed; see Qt."""
        if watched is self.page and event.type() == QEvent.Type.LayoutRequest:
            self._fit()
        return super().eventFilter(watched, event)

    def _fit(self) -> None:
        page, column, bar = self.page, self.page.column, self.verticalScrollBar()
        scrolled = bar.value()
        for _ in range(MAX_FITS):
            room = self.viewport().size()
            page.resize(room.width(), max(room.height(), column.minimumHeightForWidth(room.width())))
            column.activate()  # what gives way to the new size does so before anything is painted
            # A scroll bar that came or went, and what gave way, may leave a text less than it needs, or the page
            # higher than it needs: once more.
            if page.width() == self.viewport().width() and page.height() == page.wanted_height():
                break
        bar.setValue(scrolled)  # a size on the way may have had nothing to scroll
