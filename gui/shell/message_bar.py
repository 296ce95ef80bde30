"""At the foot of the page: what is wrong with the meter or the value now, and the outcome of the last action."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QVBoxLayout

from gui.model.recorder_presence import waiting_text
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.model.wording import hold_longer_text
from gui.widgets.appearance import Appearance, VisitWidget, label


class MessageBar(VisitWidget):
    """Stays until the next action; nothing disappears before it was read."""

    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__(controller, appearance)
        self._shown = (Message(""), "")
        self.label = label("")
        self.label.setTextInteractionFlags(Qt.TextInteractionFlag.NoTextInteraction)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(18, 10, 18, 10)
        layout.addWidget(self.label)
        self.hide()

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
        self.setVisible(bool(message.text))
        self.update()

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        theme = self.appearance.theme
        QPainter(self).fillRect(self.rect(), QColor(theme.ask if self._shown[0].refused else theme.note))
