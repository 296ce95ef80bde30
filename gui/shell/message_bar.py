"""The message beside the big button: what is wrong with meter or value now, and the outcome of the last action."""

from __future__ import annotations

import math
from dataclasses import replace

from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QKeyEvent, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from gui.actions.tips import in_lines
from gui.model.recorder_presence import waiting_text
from gui.model.status import Offer
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.model.wording import hold_longer_text
from gui.widgets.appearance import Appearance, VisitWidget, label, wrapped
from gui.widgets.focus_ring import FocusRing
from gui.widgets.theme import Sizes, font
from logger.translation import tr, tr_kept


class MessageBar(VisitWidget):
    """Stays until the next action; its room is always there, so that nothing moves.

    Longer texts scroll, by arrows too once Tab has gone there.
    """

    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__(controller, appearance)
        self.offer = Offer.NO_VALUE
        """Whether the big button takes the value of now; it gives this."""
        self._shown = (Message(""), "")
        self._fitted: object = None
        """What the size of the text was chosen for."""
        self.label = label("")
        self.label.setTextInteractionFlags(
            Qt.TextInteractionFlag.TextSelectableByMouse | Qt.TextInteractionFlag.TextSelectableByKeyboard
        )
        self.label.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        self.label.setAlignment(Qt.AlignmentFlag.AlignVCenter)
        self.area = area = QScrollArea()
        """A long message scrolls in it, so that it leaves the page its room."""
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setWidgetResizable(True)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.why = label("", "small")
        """Why the primary action may not run now; hidden where it may."""
        self.why.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        texts = QWidget()
        self._column = column = QVBoxLayout(texts)
        column.setContentsMargins(0, 0, 4, 0)
        column.setSpacing(1)
        column.addWidget(self.why)
        column.addWidget(self.label, 1)
        area.setWidget(texts)
        FocusRing(area)
        self._row = layout = QHBoxLayout(self)
        layout.setContentsMargins(8, 0, 4, 0)
        layout.addWidget(area)
        self.more = QPushButton(tr("More"))
        """In sight while the end of the message is not."""
        self.more.setProperty("role", "more")
        self.more.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.more.clicked.connect(self.show_whole)
        layout.addWidget(self.more, 0, Qt.AlignmentFlag.AlignBottom)
        self.more.hide()
        self.whole = _WholeMessage(self)

    def refresh(self) -> None:
        """See `VisitWidget`."""
        self._show(self._message())
        self._fit_text()

    def why_not_whole(self) -> str:
        """Why there is nothing more to show of the message; empty where there is."""
        return "" if not self.more.isHidden() else tr("All of the message is in sight.")

    def show_whole(self) -> None:
        """Show all of the message above its line, until a key or a click."""
        why = "" if self.why.isHidden() else self.why.text()
        self.whole.show_text("\n".join(filter(None, (why, self._shown[0].text))))

    def says(self, sentence: str) -> bool:
        """Whether the message now holds a sentence."""
        return sentence in self._message().text

    def _message(self) -> Message:
        """The outcome of the last action; above it what is wrong with log or meter, as long as it lasts."""
        message, live = self.controller.message, self.controller.snapshot.live
        waiting = self.controller.snapshot.presence.waiting
        if waiting is not None:
            return Message(_once(waiting_text(waiting), message.text), refused=True)
        if live is not None and live.warning and self.controller.snapshot.recording:
            return Message(_once(tr_kept(live.warning), message.text), refused=True)
        may_take = self.offer is Offer.MAY_TAKE and self.controller.snapshot.recording
        if may_take and live is not None and live.growing_span is not None:
            return replace(message, text=_once(hold_longer_text(live.growing_span), message.text))
        return message

    def _show(self, message: Message) -> None:
        """Show an outcome."""
        theme = self.appearance.theme
        ink = theme.on_ask if message.refused else theme.text
        if (message, ink) == self._shown:
            return
        self._shown = (message, ink)
        self.label.setText(message.text)
        self.label.setToolTip(in_lines(message.text))
        self.label.setAccessibleName(message.text)
        self.label.setVisible(bool(message.text))
        self._column.activate()  # at once, so that the end of a long text can be reached as soon as it is shown
        self.area.verticalScrollBar().setValue(0)
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._fit_text()

    def _fit_text(self) -> None:
        """Set the message as large as it has room for: only what is too long at the smallest size scrolls."""
        message, ink = self._shown
        sizes, room = self.appearance.sizes, self.area.viewport().size()
        why = "" if self.why.isHidden() else self.why.text()
        state = (message.text, ink, why, sizes, room)
        if state == self._fitted:
            return
        self._fitted = state
        least = Sizes.for_height(0).small
        size = next(
            (
                size
                for size in range(sizes.normal, least, -1)
                if self._height(message.text, why, size) <= room.height()
            ),
            least,
        )
        self.why.setStyleSheet(f"font-size: {min(size, sizes.small)}px;")
        self.label.setStyleSheet(f"color: {ink}; font-size: {size}px;")
        self._column.activate()
        # Tab stops here only where there is something to scroll.
        scrolls = self._height(message.text, why, size) > room.height()
        self.area.setFocusPolicy(Qt.FocusPolicy.TabFocus if scrolls else Qt.FocusPolicy.NoFocus)
        self.area.setAccessibleName(message.text if scrolls else "")
        self.more.setVisible(scrolls)

    def _height(self, message: str, why: str, size: int) -> float:
        """What both texts need at a size of the message, in pixels."""
        beside = 0 if self.more.isHidden() else self.more.sizeHint().width() + self._row.spacing()
        # As wide as without the button, so that it does not come and go by the room that it takes itself.
        width = self.area.viewport().width() + beside - self._column.contentsMargins().right()
        small = min(size, self.appearance.sizes.small)
        heights = [
            len(wrapped(text, font(pixels), width)) * math.ceil(QFontMetricsF(font(pixels)).lineSpacing())
            for text, pixels in ((why, small), (message, size))
            if text
        ]
        return sum(heights) + self._column.spacing() * (len(heights) - 1)

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        theme, (message, _ink) = self.appearance.theme, self._shown
        ground = theme.panel if not message.text else (theme.ask if message.refused else theme.note)
        QPainter(self).fillRect(self.rect(), QColor(ground))


class _WholeMessage(QFrame):
    """All of a message, above its line: a key or a click anywhere takes it away.

    Args:
        bar: the line.
    """

    def __init__(self, bar: QWidget) -> None:
        super().__init__(bar, Qt.WindowType.Popup)
        self.setFrameShape(QFrame.Shape.Box)
        self.label = label("")
        QVBoxLayout(self).addWidget(self.label)

    def show_text(self, text: str) -> None:
        """Show a text, as wide as the line, with its end where the line ends."""
        bar = self.parentWidget()
        assert bar is not None
        self.label.setText(text)
        self.setAccessibleName(text)
        self.setFixedWidth(bar.width())
        self.setFixedHeight(self.heightForWidth(bar.width()))
        self.move(bar.mapToGlobal(bar.rect().bottomLeft()) - QPoint(0, self.height() - 1))
        self.show()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Any key closes it, and does nothing else; see Qt."""
        self.close()
        event.accept()


def _once(lasting: str, outcome: str) -> str:
    """What lasts above an outcome, each in lines of its own; only the longer one where it says the other already."""
    if lasting in outcome or outcome in lasting:
        return max(lasting, outcome, key=len)
    return f"{lasting}\n{outcome}"
