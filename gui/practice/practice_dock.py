"""The practice house as a dock: below the trace, or moved out into a window of its own; closed, it is in the menu."""

from __future__ import annotations

from PySide6.QtCore import QByteArray, QEvent, QPoint, QRect, QSize, Qt, QTimer
from PySide6.QtGui import QGuiApplication, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QDockWidget, QHBoxLayout, QMainWindow, QStyle, QToolButton, QWidget

from gui.actions.action_buttons import ActionButtons
from gui.actions.registry import ActionRegistry
from gui.actions.spoken_text import set_spoken_description, set_spoken_name
from gui.practice.practice_panel import PracticePanel
from gui.widgets.appearance import StyledWidget
from logger.translation import tr

MAX_SHARE = 0.57
"""Of the height that it shares with the trace, which keeps a third with the handle between them."""

MIN_TRACE_LETTERS, SCARCE_TRACE_LETTERS = 12, 9
"""Height of the trace in letters that the practice house leaves it; the second one where few switches are in sight."""

FEW_ROWS = 4
"""So many rows of switches are few."""

LEAST_TRACE_LETTERS = 8
"""Height of the trace in letters that stays where the user makes the practice house larger: its scales and a curve."""

LEAST_ROWS = 2
"""So many rows of switches stay in sight where the user makes it smaller; the rest is reached by scrolling."""

GAP = 4
"""Round the title and its buttons, in pixels."""

FRAME = QSize(8, 48)
"""Room for the frame and title bar that the system puts round a window, in pixels."""

NO_LIMIT = 16_777_215
"""Of a height, as Qt has it."""

OWN_WINDOW_SHARE = 0.6
"""Of the screen's height, that it takes at first at most where it is a window of its own."""

OWN_WINDOW_ROWS = 16
"""So many rows of switches are in sight at first where it is a window of its own."""


class _TitleBar(QWidget):
    """Its name or what is typed, its actions, and the buttons that move it out and close it."""

    def __init__(self, panel: PracticePanel, actions: ActionRegistry) -> None:
        super().__init__()
        self.setProperty("role", "panel")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        # Beside the title they need not name the practice house again.
        self.buttons = ActionButtons(
            actions,
            "practice.switches",
            "practice.night",
            short_texts={"practice.switches": tr("Switches")},
        )
        row = QHBoxLayout(self)
        row.setContentsMargins(2 * GAP, GAP, GAP, GAP)
        row.setSpacing(GAP // 2)  # so that all stand in one row on a small screen
        row.addWidget(panel.title)
        row.addSpacing(GAP)  # a name is no part of the button beside it
        row.addWidget(self.buttons, 1)
        self.icon_buttons = [
            self._icon_button(actions, "practice.float", QStyle.StandardPixmap.SP_TitleBarNormalButton),
            self._icon_button(
                actions,
                "practice.house",
                QStyle.StandardPixmap.SP_TitleBarCloseButton,
                tr("Hide the practice house"),
            ),
        ]
        for button in self.icon_buttons:
            row.addWidget(button, 0, Qt.AlignmentFlag.AlignTop)

    def _icon_button(
        self, actions: ActionRegistry, action_id: str, picture: QStyle.StandardPixmap, name: str = ""
    ) -> QToolButton:
        button, action = QToolButton(self), actions[action_id]
        button.setIcon(self.style().standardIcon(picture))
        button.setAutoRaise(True)
        button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        button.clicked.connect(lambda: actions.trigger(action_id))

        def take_over() -> None:
            button.setEnabled(action.isEnabled())
            button.setToolTip(action.toolTip())
            set_spoken_name(button, name or action.text().replace("&", ""))
            set_spoken_description(button, action.statusTip())

        action.changed.connect(take_over)
        take_over()
        return button

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Be as high as the buttons need in this width; see Qt."""
        super().resizeEvent(event)
        self.fit()

    def event(self, event: QEvent) -> bool:
        """Be as high as the buttons need also where one of them has another text or another font; see Qt."""
        done = super().event(event)
        if event.type() == QEvent.Type.LayoutRequest:
            self.fit()
        return done

    def sizeHint(self) -> QSize:
        """See Qt: what holds it leaves it this height, and Qt would count a row for each button."""
        return QSize(super().sizeHint().width(), self.minimumHeight())

    def fit(self) -> None:
        """Take the height that the buttons need."""
        layout = self.layout()
        assert layout is not None
        self.setFixedHeight(max(layout.heightForWidth(self.width()), 1))


class PracticeDock(QDockWidget):
    """Holds the practice house.

    Args:
        panel: its switches.
        actions: the actions of the window.
    """

    def __init__(self, panel: PracticePanel, actions: ActionRegistry) -> None:
        super().__init__(tr("Practice house"))
        self.setObjectName("practice house")
        self.panel = panel
        self.setAllowedAreas(Qt.DockWidgetArea.BottomDockWidgetArea | Qt.DockWidgetArea.TopDockWidgetArea)
        self._title_bar = _TitleBar(panel, actions)
        self.setTitleBarWidget(self._title_bar)
        self.buttons = self._title_bar.buttons.buttons
        """Of its actions, by their names in the table."""
        self.icon_buttons = self._title_bar.icon_buttons
        """That moves it out or in, and that closes it."""
        self.setWidget(panel)
        self._shared_height = 0
        self._fitted = 0, 0
        """The height shared with the trace, and of its switches, at which it was given its height last; pixels."""
        self._dragged: dict[int, int] = {}
        """The height that the user dragged it to, for each height that it shared with the trace: back from the whole
        screen, the line between them has its place again."""
        self.last_place = b""
        """Where it was as a window of its own when the program was used last; empty where it was not."""
        # By its button and not by dragging: a pane that is dragged has no frame.
        self.setFeatures(
            QDockWidget.DockWidgetFeature.DockWidgetClosable
            | QDockWidget.DockWidgetFeature.DockWidgetFloatable
        )
        panel.dock = self
        self.hide()

    def fit(self, shared_height: int) -> None:
        """Take the height that all switches need, up to a share of the height that there is with the trace.

        Args:
            shared_height: what both share, in pixels.
        """
        self._shared_height = shared_height
        self._fit()

    def open(self) -> None:
        """Show it where it was: below the trace, or as a window of its own."""
        if self.last_place and not self.isFloating():
            self.move_out_or_in()
        self.show()

    def own_place(self) -> bytes:
        """Where it is as a window of its own, to be remembered; empty where it is below the trace."""
        if self.isFloating():
            return bytes(self.saveGeometry().data())
        return self.last_place  # it was not opened this time

    def move_out_or_in(self) -> None:
        """Make it a window of its own, or put it below the trace again."""
        self.setFloating(not self.isFloating())
        if self.isFloating():
            # Qt gives it no frame on every system; as a window like any other it can be moved and sized.
            self.setWindowFlags(Qt.WindowType.Window)
            self._fit()
            if not (self.last_place and self.restoreGeometry(QByteArray(self.last_place))):
                self._take_free_place()
            self.show()
        self.last_place = b""
        self._fit()

    def _take_free_place(self) -> None:
        """Be beside the window where the screen has room, else over the trace: value and page stay in sight."""
        area = self.parentWidget()
        if area is None:
            return
        around, screen = area.window().frameGeometry(), self.screen().availableGeometry()
        width, height = self.width() + FRAME.width(), self.height() + FRAME.height()
        bottom = screen.bottom()
        if around.right() + width <= screen.right():
            left = around.right()
        elif around.left() - width >= screen.left():
            left = around.left() - width
        else:
            trace = QRect(area.mapToGlobal(QPoint()), area.size()).intersected(screen)
            left, bottom = trace.left(), trace.bottom()
            width, height = min(width, trace.width()), min(height, trace.height())
            self.resize(width - FRAME.width(), height - FRAME.height())
        self.move(left, max(bottom - height, screen.top()))

    def showEvent(self, event: QShowEvent) -> None:
        """See Qt."""
        super().showEvent(event)
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Note what the user drags it to: nothing else sizes it while a button of the mouse is held down; see Qt."""
        super().resizeEvent(event)
        if QGuiApplication.mouseButtons() & Qt.MouseButton.LeftButton and not self.isFloating():
            self._dragged[self._fitted[0]] = self.panel.height()

    def _fit(self) -> None:
        panel = self.panel
        self._title_bar.fit()
        if self.isFloating():
            self._fitted = 0, 0  # below the trace again it gets its height there anew
            row = round(panel.board.row_height)
            panel.setMinimumHeight(4 * row)
            if (
                panel.maximumHeight() < NO_LIMIT
            ):  # it comes out of the window: from now on its size is the user's
                panel.setMaximumHeight(NO_LIMIT)
                height = self._title_bar.height() + OWN_WINDOW_ROWS * row
                room = self.screen().availableGeometry().height() * OWN_WINDOW_SHARE
                self.resize(max(self.width(), 30 * row), min(height, round(room)))
            return
        height = self._fitting_height()
        if self._fitted != (self._shared_height, height):  # what the user has chosen since then stays
            self._fitted = self._shared_height, height
            panel.setFixedHeight(self._chosen_height(height))
            QTimer.singleShot(0, self, self._let_it_be_smaller)

    def _fitting_height(self) -> int:
        """What the switches need, or have room for below the title as wide as it is now, in pixels."""
        panel, title = self.panel, self._title_bar
        title.fit()
        letter, few = panel.appearance.sizes.small, title.height() + round(FEW_ROWS * panel.board.row_height)
        most = min(
            round(self._shared_height * MAX_SHARE),
            self._shared_height - SCARCE_TRACE_LETTERS * letter,
            max(self._shared_height - MIN_TRACE_LETTERS * letter, few),
        )
        return max(min(panel.wanted_height(), most - title.height()), 1)

    def _largest_height(self) -> int:
        """Of the switches as the user may drag it: what they need, or leave the trace its least height; in pixels."""
        panel = self.panel
        room = (
            self._shared_height
            - LEAST_TRACE_LETTERS * panel.appearance.sizes.small
            - self._title_bar.height()
        )
        return max(min(panel.wanted_height(), room), self._fitting_height())

    def _chosen_height(self, height: int) -> int:
        """The height that the user dragged it to where it shared as much, else this one; in pixels."""
        return min(self._dragged.get(self._shared_height, height), self._largest_height())

    def _let_it_be_smaller(self) -> None:
        """Let the line between it and the trace be dragged, now that it has its height and its title its width."""
        area = self.parentWidget()
        if self.isFloating() or not isinstance(area, QMainWindow):
            return
        height = self._fitting_height()
        self._fitted = self._shared_height, height
        least = round(LEAST_ROWS * self.panel.board.row_height)
        self.panel.setMinimumHeight(min(least, height))
        self.panel.setMaximumHeight(self._largest_height())
        # Else Qt would give it no more than its own hint the next time that something around it changes its size.
        shown = self._title_bar.height() + self._chosen_height(height)
        area.resizeDocks([self], [shown], Qt.Orientation.Vertical)


class TraceArea(QMainWindow):
    """The place of the trace, with the practice house docked below or above it.

    Args:
        trace: the live trace.
        dock: the practice house.
    """

    def __init__(self, trace: StyledWidget, dock: PracticeDock) -> None:
        super().__init__()
        self.setWindowFlags(Qt.WindowType.Widget)
        self.setObjectName("window")  # for its ground in the style sheet
        self.setContextMenuPolicy(Qt.ContextMenuPolicy.NoContextMenu)
        self.setCentralWidget(trace)
        self.addDockWidget(Qt.DockWidgetArea.BottomDockWidgetArea, dock)
