"""The line above the trace: what stretch is in sight, whether it is live or paused, and the button that goes live.

Where the window's times are not those of this computer's clock, it names their zone, which is never cut.

It stands beside the picture and not on it, so that it never covers the curve.
"""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QSizePolicy, QWidget

from gui.actions.spoken_text import set_spoken_name
from gui.actions.tips import in_lines
from gui.widgets.appearance import Appearance
from gui.widgets.theme import BLUE, font
from logger.translation import tr

HEIGHT_SHARE = 2.0
"""Height of the line, in heights of the small text."""


class TraceHeader(QWidget):
    """A line of text, the zone of the times where it is another, and a button while the trace is paused."""

    go_live_clicked = Signal()

    def __init__(self, appearance: Appearance) -> None:
        super().__init__()
        self._text = ""
        self._paused = self._counts = False
        self._label = QLabel()
        self._label.setTextFormat(Qt.TextFormat.PlainText)
        self._label.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.zone_label = QLabel()
        self.zone_label.setTextFormat(Qt.TextFormat.PlainText)
        self.zone_label.hide()
        self.button = QPushButton(tr("Go live"))
        self.button.setObjectName("go_live")
        self.button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.button.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)
        self.button.setCursor(Qt.CursorShape.PointingHandCursor)
        tip = tr("The trace is paused; recording goes on. This goes to the newest value and follows it.")
        self.button.setToolTip(in_lines(tip))
        self.button.setAccessibleDescription(tip)
        self.button.clicked.connect(self.go_live_clicked)
        self.button.hide()
        self._row = QHBoxLayout(self)
        self._row.addWidget(self._label, 1)
        self._row.addWidget(self.zone_label)
        self._row.addWidget(self.button)
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setObjectName("trace_header")
        self.set_appearance(appearance)

    @property
    def text(self) -> str:
        """The whole text, also where it is cut for lack of room."""
        return self._text

    @property
    def shows_whole_text(self) -> bool:
        """Whether there is room for all of it."""
        return self._label.text() == self._text

    def show_state(self, text: str, zone: str, paused: bool, counts: bool = False) -> None:
        """Show what is in sight.

        Args:
            text: the line.
            zone: of the times of the window; empty where it is this computer's.
            paused: whether the trace does not follow the newest value.
            counts: whether the line has a length that grows with each second.
        """
        self._counts = counts
        if (text, zone, paused) == (self._text, self.zone_label.text(), self._paused):
            return
        changes = (zone, paused) != (self.zone_label.text(), self._paused)
        self._text, self._paused = text, paused
        if changes:
            self.zone_label.setText(zone)
            self.zone_label.setVisible(bool(zone))
            self.button.setVisible(paused)
            self._style()
            self._row.activate()
        self._fit_text()

    def set_appearance(self, appearance: Appearance) -> None:
        """Take over colours and sizes."""
        self._appearance = appearance
        small = appearance.sizes.small
        self.setFixedHeight(round(small * HEIGHT_SHARE))
        self._row.setContentsMargins(round(small * 0.5), 1, round(small * 0.3), 1)
        self._style()
        self._fit_text()

    def minimumSizeHint(self) -> QSize:
        """See Qt: the text is cut where there is no room for it; the zone and the button never are."""
        zone = self.zone_label.sizeHint().width() if self.zone_label.text() else 0
        return QSize(zone + self.button.sizeHint().width() + self._appearance.sizes.small, self.height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._fit_text()

    def _style(self) -> None:
        theme, small = self._appearance.theme, self._appearance.sizes.small
        ground, ink = (theme.ask, theme.on_ask) if self._paused else (theme.panel, theme.quiet)
        self.setStyleSheet(
            f"QWidget#trace_header {{ background: {ground}; }}"
            f"QLabel {{ color: {ink}; font-size: {small}px; font-weight: bold; background: transparent; }}"
            f"QPushButton {{ background: {BLUE}; color: #FFFFFF; border: 1px solid {theme.quiet};"
            f" border-radius: 4px; padding: 0 {small * 0.6:.0f}px; font-size: {small}px; font-weight: bold; }}"
            f"QPushButton:hover {{ border: 2px solid {theme.text}; }}"
            f"QPushButton:focus {{ border: 2px solid {theme.text}; }}"
            "QPushButton:pressed { background: #004F7D; }"
        )

    def _fit_text(self) -> None:
        metrics = QFontMetricsF(font(self._appearance.sizes.small, True))
        # A little more than the text: the label's own metrics are whole pixels.
        shown = metrics.elidedText(self._text, Qt.TextElideMode.ElideRight, max(self._label.width() - 2, 0))
        self._label.setText(shown)
        self._label.setToolTip("" if shown == self._text else self._text)
        # The seconds of a live trace are no news: a reader would say a name that changes with each of them.
        set_spoken_name(self._label, tr("Live trace") if self._counts else self._text)
