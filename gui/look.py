"""The look that every part of the window shares: theme and sizes, and the base class that is told of them."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetricsF
from PySide6.QtWidgets import QFrame, QLabel, QWidget

from gui.session import Session
from gui.theme import DARK, LIGHT, Sizes, Theme, font, style_sheet

__all__ = ["DARK", "LIGHT", "Look", "Part", "fitting_font_pixels", "label", "separator", "style_sheet"]


class Look:
    """Theme and sizes of one window."""

    def __init__(self, theme: Theme, sizes: Sizes) -> None:
        self.theme = theme
        self.sizes = sizes


class Part(QWidget):
    """A part of the window: draws what a session holds."""

    def __init__(self, session: Session, look: Look) -> None:
        super().__init__()
        self.session = session
        self.look = look
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)

    def refresh(self) -> None:
        """Draw what the session holds now."""
        self.update()

    def set_look(self, look: Look) -> None:
        """Take over new colours and sizes."""
        self.look = look
        self.refresh()
        self.update()


def label(text: str = "", role: str = "", wrap: bool = True) -> QLabel:
    """A label in one of the style sheet's roles."""
    result = QLabel(text)
    result.setTextFormat(Qt.TextFormat.PlainText)
    result.setWordWrap(wrap)
    if role:
        result.setProperty("role", role)
    return result


def separator(vertical: bool = False) -> QFrame:
    """A thin line between two parts."""
    result = QFrame()
    result.setProperty("role", "line")
    if vertical:
        result.setFixedWidth(1)
    else:
        result.setFixedHeight(1)
    return result


def fitting_font_pixels(text: str, width: float, most: int, least: int, bold: bool = False) -> int:
    """The largest size from most down to least at which the text fits the width (least if none does)."""
    natural = QFontMetricsF(font(most, bold)).horizontalAdvance(text)
    if natural <= width:
        return most
    return max(int(most * width / natural), least)
