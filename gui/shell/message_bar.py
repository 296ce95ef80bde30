"""At the foot of the page: what is wrong with the meter or the value now, and the outcome of the last action."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QScrollArea, QVBoxLayout

from gui.model.recorder_presence import waiting_text
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.model.wording import hold_longer_text
from gui.widgets.appearance import Appearance, VisitWidget, label

SIDE_PIXELS = 18
"""Room left and right of a message."""

MAX_LINES = 5
"""So many lines of a message are in sight; further ones are reached by scrolling. The readings above need the room."""


class MessageBar(VisitWidget):
    """Stays until the next action; nothing disappears before it was read."""

    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__(controller, appearance)
        self._shown = (Message(""), "")
        self.label = label("")
        self.label.setTextInteractionFlags(Qt.TextInteractionFlag.NoTextInteraction)
        self.area = QScrollArea()
        """A long message scrolls in it, so that it leaves the page its room."""
        self.area.setWidgetResizable(True)
        self.area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.area.setWidget(self.label)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(SIDE_PIXELS, 10, SIDE_PIXELS, 10)
        layout.addWidget(self.area)
        self.hide()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._fit()

    def set_appearance(self, appearance: Appearance) -> None:
        """See `StyledWidget`."""
        super().set_appearance(appearance)
        self._fit()

    def _fit(self) -> None:
        """Take the height that the message needs, at most that of `MAX_LINES`."""
        self.label.ensurePolished()
        width = max(self.width() - 2 * SIDE_PIXELS, 1)
        needed = max(self.label.heightForWidth(width), 0)  # -1 without a text
        self.area.setFixedHeight(min(needed, MAX_LINES * self.label.fontMetrics().lineSpacing()))

    def refresh(self) -> None:
        """See `VisitWidget`."""
        message, live = self.controller.message, self.controller.snapshot.live
        waiting = self.controller.snapshot.presence.waiting
        if waiting is not None:
            # As with the meter: it stands above the outcome of the last action as long as it lasts.
            message = Message(f"{waiting_text(waiting)}\n{message.text}".strip(), refused=True)
        elif live is not None and live.warning and self.controller.snapshot.recording:
            # What is wrong with the meter stands above the outcome of the last action as long as it lasts.
            message = Message(f"{live.warning}\n{message.text}".strip(), refused=True)
        elif live is not None and live.growing_span is not None and self.controller.snapshot.recording:
            longer = hold_longer_text(live.growing_span)
            message = replace(message, text=f"{longer}\n{message.text}".strip())
        self._show(message)

    def _show(self, message: Message) -> None:
        """Show an outcome."""
        theme = self.appearance.theme
        ink = theme.on_ask if message.refused else theme.text
        if (message, ink) == self._shown:
            return
        self._shown = (message, ink)
        self.label.setText(message.text)
        self.label.setStyleSheet(f"color: {ink};")
        self._fit()
        self.area.verticalScrollBar().setValue(0)
        self.setVisible(bool(message.text))
        self.update()

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        theme = self.appearance.theme
        QPainter(self).fillRect(self.rect(), QColor(theme.ask if self._shown[0].refused else theme.note))
