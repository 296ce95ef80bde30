"""How the parts of the window are laid out: readout, stages, trace, page, action bar; and the sizes of each."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from gui.practice.practice_dock import PracticeDock, TraceArea
from gui.shell.action_bar import ActionBar
from gui.shell.question import QuestionPanel
from gui.shell.readout import HEIGHT_SHARE, Readout
from gui.shell.stage_list import StageList, list_width
from gui.trace.trace_plot import TracePlot
from gui.widgets.appearance import VisitWidget, separator
from gui.widgets.theme import Sizes
from gui.window.stage_pages import StagePages

SIDE_LETTERS = 24
"""Width of the page in heights of a letter, where there is room for it."""

SIDE_SHARE, LARGE_SIDE_SHARE = 0.36, 0.42
"""Of the window's width, that the page takes at most; the second one where text is large for the window."""

LARGE_TEXT_SHARE = 0.45
"""Text is large for a window of whose width the page would need so much."""


class Frame(QWidget):
    """The content of the window.

    Args:
        readout: the value and its state, at the top.
        stage_list: the stages, at the left.
        trace: the live trace, in the middle.
        dock: the practice house, below the trace or moved out.
        question: the open question, in the page's place.
        pages: the pages, at the right.
        action_bar: the primary action and the message, at the bottom.
    """

    def __init__(
        self,
        readout: Readout,
        stage_list: StageList,
        trace: TracePlot,
        dock: PracticeDock,
        question: QuestionPanel,
        pages: StagePages,
        action_bar: ActionBar,
    ) -> None:
        super().__init__()
        self.setObjectName("window")
        self._readout = readout
        self._stage_list = stage_list
        self._trace = trace
        self._dock, self._panel = dock, dock.panel
        self._pages = pages
        self._action_bar = action_bar
        readout.offer = lambda: action_bar.offer
        self.side = _side(question, pages)
        """The column with question or page."""
        middle = QHBoxLayout()
        middle.setSpacing(0)
        middle.addWidget(stage_list)
        middle.addWidget(separator(vertical=True))
        middle.addWidget(TraceArea(trace, dock), 1)
        middle.addWidget(separator(vertical=True))
        middle.addWidget(self.side)
        rows = QVBoxLayout(self)
        rows.setContentsMargins(0, 0, 0, 0)
        rows.setSpacing(0)
        rows.addWidget(readout)
        rows.addWidget(separator())
        rows.addLayout(middle, 1)
        rows.addWidget(separator())
        rows.addWidget(action_bar)

    def styled_parts(self) -> tuple[VisitWidget, ...]:
        """Every part that takes over theme and sizes, shown or not."""
        return (
            self._readout, self._stage_list, self._trace, self._action_bar, self._panel,
            *self._pages.all(),
        )  # fmt: skip

    def refresh(self) -> None:
        """Show what is known now in every part that is in sight."""
        # The readout comes after the action bar, which asks the page once what it offers.
        for part in (
            self._stage_list, self._trace, self._pages.current, self._action_bar, self._readout, self._panel,
        ):  # fmt: skip
            part.refresh()

    def fix_sizes(self, sizes: Sizes, width: int, height: int) -> None:
        """Give the parts the sizes that belong to the window's size.

        Args:
            sizes: of the fonts.
            width: of the window, in pixels.
            height: of the window, in pixels.
        """
        normal = sizes.normal
        self._readout.setFixedHeight(round(height * HEIGHT_SHARE))
        self._action_bar.setFixedHeight(self._action_bar.line_height(sizes))
        self._stage_list.setFixedWidth(min(list_width(sizes), width // 5))
        share = LARGE_SIDE_SHARE if normal * SIDE_LETTERS > width * LARGE_TEXT_SHARE else SIDE_SHARE
        self.side.setFixedWidth(min(round(normal * SIDE_LETTERS), round(width * share)))

    def fit_panel(self, height: int) -> None:
        """Let the practice house share the height of a window with the trace, in pixels."""
        self._dock.fit(height - self._readout.height() - self._action_bar.height())


def _side(question: QuestionPanel, pages: StagePages) -> QWidget:
    side = QWidget()
    side.setProperty("role", "panel")
    side.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
    column = QVBoxLayout(side)
    column.setContentsMargins(0, 0, 0, 0)
    column.setSpacing(0)
    column.addWidget(question, 1)
    column.addWidget(pages.stack, 1)
    return side
