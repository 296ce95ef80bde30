"""The look that every part of the window shares: theme and sizes, and the base class that is told of them."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QFont, QFontMetricsF, QTextLayout, QTextOption
from PySide6.QtWidgets import QFrame, QLabel, QWidget

from gui.model.visit_controller import VisitController
from gui.widgets.theme import DARK, LIGHT, Sizes, Theme, font, style_sheet

__all__ = [
    "DARK",
    "LIGHT",
    "Appearance",
    "VisitWidget",
    "fitting_font_pixels",
    "label",
    "separator",
    "set_role",
    "style_sheet",
    "wrapped",
]


class Appearance:
    """Theme and sizes of one window."""

    def __init__(self, theme: Theme, sizes: Sizes) -> None:
        self.theme = theme
        self.sizes = sizes


class VisitWidget(QWidget):
    """A part of the window: shows what the controller holds."""

    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__()
        self.controller = controller
        self.appearance = appearance
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)

    def refresh(self) -> None:
        """Draw what the controller holds now."""
        self.update()

    def set_appearance(self, appearance: Appearance) -> None:
        """Take over new colours and sizes."""
        self.appearance = appearance
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


def set_role(part: QLabel, role: str) -> None:
    """Give a label another of the style sheet's roles."""
    if part.property("role") != role:
        part.setProperty("role", role)
        part.style().unpolish(part)
        part.style().polish(part)


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


def wrapped(text: str, face: QFont, width: float) -> list[str]:
    """The lines of a text in that width: broken between words, inside one only where it is longer than a line."""
    # A line end of the text has to be one for Qt as well.
    layout = QTextLayout(text.replace("\n", "\N{LINE SEPARATOR}"), face)
    option = QTextOption()
    option.setWrapMode(QTextOption.WrapMode.WrapAtWordBoundaryOrAnywhere)
    layout.setTextOption(option)
    lines: list[str] = []
    layout.beginLayout()
    while (line := layout.createLine()).isValid():
        line.setLineWidth(max(width, 1.0))
        # Qt counts in UTF-16 units, in which some signs are two.
        start, length = 2 * line.textStart(), 2 * line.textLength()
        lines.append(text.encode("utf-16-le")[start : start + length].decode("utf-16-le").strip())
    layout.endLayout()
    return lines
