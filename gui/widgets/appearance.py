"""What every part of the window shares: theme and sizes, base classes that take them over, labels, fitted text."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from PySide6.QtCore import Qt
from PySide6.QtGui import QFont, QFontMetricsF, QTextLayout, QTextOption
from PySide6.QtWidgets import QFrame, QLabel, QWidget

from gui.model.visit_controller import VisitController
from gui.widgets.theme import DARK, LIGHT, Sizes, Theme, font, style_sheet

__all__ = [
    "DARK",
    "LIGHT",
    "Appearance",
    "StyledWidget",
    "VisitWidget",
    "fitting_font_pixels",
    "label",
    "separator",
    "set_role",
    "style_sheet",
    "wrapped",
]


MAX_WRAPPED = 4096
"""So many broken texts are kept: those of every list of a window at a few widths."""


@dataclass(frozen=True, slots=True)
class Appearance:
    """Theme and sizes of one window."""

    theme: Theme
    sizes: Sizes


class StyledWidget(QWidget):
    """A part of the window that takes over theme and sizes; knows no visit."""

    def __init__(self, appearance: Appearance) -> None:
        super().__init__()
        self.appearance = appearance
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)

    def refresh(self) -> None:
        """Draw what is known now."""
        self.update()

    def set_appearance(self, appearance: Appearance) -> None:
        """Take over new colours and sizes."""
        self.appearance = appearance
        self.refresh()
        self.update()


class VisitWidget(StyledWidget):
    """A part of the window that shows what the controller of the visit holds."""

    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__(appearance)
        self.controller = controller


def label(text: str = "", role: str = "", wrap: bool = True) -> QLabel:
    """Make a label in one of the style sheet's roles; its text can be selected and copied.

    Args:
        text: what it shows first.
        role: a role of the style sheet (`gui.widgets.theme`); empty for usual text.
        wrap: whether long texts are broken into lines.
    """
    result = QLabel(text)
    result.setTextFormat(Qt.TextFormat.PlainText)
    result.setWordWrap(wrap)
    result.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
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


def fitting_font_pixels(text: str, width: float, largest: int, smallest: int, bold: bool = False) -> int:
    """Find the largest font size at which a text fits a width.

    Args:
        text: what is set in one line.
        width: room in pixels.
        largest: size in pixels to begin with.
        smallest: size in pixels that is returned if the text fits at none.
        bold: whether the text is set in bold.
    """
    natural = QFontMetricsF(font(largest, bold)).horizontalAdvance(text)
    if natural <= width:
        return largest
    return max(int(largest * width / natural), smallest)


def wrapped(text: str, face: QFont, width: float) -> list[str]:
    """Break a text into lines: between words, inside a word only where it is longer than a line.

    Args:
        text: what is set; its own line ends are kept.
        face: the font.
        width: length of a line in pixels.
    """
    return list(_wrapped(text, face.toString(), width))


@lru_cache(maxsize=MAX_WRAPPED)
def _wrapped(text: str, description: str, width: float) -> tuple[str, ...]:
    """Break a text into lines, each only once: lists ask for the same rows at every redraw.

    Args:
        text: what is set.
        description: of the font, as Qt writes it.
        width: length of a line in pixels.
    """
    face = QFont()
    face.fromString(description)
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
    return tuple(lines)
