"""Colours and sizes of the window. Colour-blind safe hues by Okabe and Ito; light and dark, following the system.

State colours are grounds and shapes, never text on the window's ground: on each of them stands near-black text.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from string import Template

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QGuiApplication, QPalette
from PySide6.QtWidgets import QApplication

from logger.settling.events import State

BLUISH_GREEN = "#009E73"
SKY_BLUE = "#56B4E9"
VERMILLION = "#D55E00"
REDDISH_PURPLE = "#CC79A7"
ORANGE = "#E69F00"
YELLOW = "#F0E442"
BLUE = "#0072B2"
GREY = "#A3ABB3"
ON_STATE = "#0B0E11"
"""Text and shapes on a state colour."""

STATE_COLOURS: dict[State, str] = {
    State.WAITING: GREY,
    State.SETTLING: SKY_BLUE,
    State.SETTLED: BLUISH_GREEN,
    State.CHANGING: VERMILLION,
    State.CHANGING_LONG: VERMILLION,
    State.DRIFTING: ORANGE,
    State.ALTERNATING: VERMILLION,
    State.REFUSED: GREY,
    State.OVERLOAD: YELLOW,
    State.LOST: GREY,
}

TICK = Path(__file__).with_name("tick.png")
"""White on nothing: the tick of a box that is ticked."""

MAX_LINE_EM = 1.2
"""Height of a line in sizes of its font that Latin, Greek and Cyrillic letters with their accents need; measured."""

IN_LINE = Qt.AlignmentFlag.AlignVCenter | Qt.TextFlag.TextDontClip
"""How text is drawn into a line of `line_height`."""

MIN_TEXT_POINTS = 11.0
MIN_TEXT_CONTRAST = 4.5


@dataclass(frozen=True, slots=True)
class Theme:
    """One set of colours, as #RRGGBB."""

    ground: str
    """Of the window."""
    panel: str
    """Of the readout, the pages and the action bar."""
    plot: str
    line: str
    """Thin lines between parts."""
    text: str
    quiet: str
    """Text of second rank."""
    pale: str
    """The number while it is no value: readable, but plainly not to be read off."""
    chosen: str
    """Ground of the chosen row, with `on_chosen` on it."""
    on_chosen: str
    key: str
    """Ground of a key's name, with `on_key` on it."""
    on_key: str
    ask: str
    """Ground of a question and of a refusal, with `on_ask` on it."""
    on_ask: str
    error: str
    """Text on what is wrong with an entry, on the panel."""
    curve: str
    level: str
    """The line of a settled level in the trace."""
    note: str
    """Ground of a label in the trace."""


LIGHT = Theme(
    ground="#E9ECEF",
    panel="#FBFCFD",
    plot="#FFFFFF",
    line="#C9CFD6",
    text="#14191E",
    quiet="#505B66",
    pale="#6B7580",
    chosen="#0072B2",
    on_chosen="#FFFFFF",
    key="#DDE2E7",
    on_key="#14191E",
    ask="#FFE9B8",
    on_ask="#14191E",
    error="#A3240F",
    curve="#14191E",
    level="#00704F",
    note="#F1F3F5",
)

DARK = Theme(
    ground="#0E1114",
    panel="#181C21",
    plot="#12161A",
    line="#323A43",
    text="#EEF1F4",
    quiet="#AAB4BE",
    pale="#8A949E",
    chosen="#0C4F78",
    on_chosen="#FFFFFF",
    key="#323A43",
    on_key="#EEF1F4",
    ask="#4A3A10",
    on_ask="#FFF3D6",
    error="#FF9B8A",
    curve="#E4E8EC",
    level="#2CC79A",
    note="#242A31",
)


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21. Source: WCAG 2.1, "contrast ratio" and "relative luminance"."""

    def luminance(colour: str) -> float:
        channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def current() -> Theme:
    """The theme that the system asks for."""
    return DARK if QGuiApplication.styleHints().colorScheme() == Qt.ColorScheme.Dark else LIGHT


def palette(theme: Theme) -> QPalette:
    """The colours for what Qt draws itself: dialogs, menus, buttons, lists and file dialogs."""
    result = QPalette()
    roles = {
        QPalette.ColorRole.Window: theme.panel,
        QPalette.ColorRole.WindowText: theme.text,
        QPalette.ColorRole.Base: theme.plot,
        QPalette.ColorRole.AlternateBase: theme.note,
        QPalette.ColorRole.Text: theme.text,
        QPalette.ColorRole.PlaceholderText: theme.quiet,
        QPalette.ColorRole.Button: theme.key,
        QPalette.ColorRole.ButtonText: theme.on_key,
        QPalette.ColorRole.BrightText: theme.on_ask,
        QPalette.ColorRole.ToolTipBase: theme.panel,
        QPalette.ColorRole.ToolTipText: theme.text,
        QPalette.ColorRole.Highlight: theme.chosen,
        QPalette.ColorRole.HighlightedText: theme.on_chosen,
        QPalette.ColorRole.Link: theme.level,
        QPalette.ColorRole.Light: theme.line,
        QPalette.ColorRole.Midlight: theme.line,
        QPalette.ColorRole.Mid: theme.line,
        QPalette.ColorRole.Dark: theme.ground,
    }
    for role, name in roles.items():
        result.setColor(role, QColor(name))
    for role in (QPalette.ColorRole.WindowText, QPalette.ColorRole.Text, QPalette.ColorRole.ButtonText):
        result.setColor(QPalette.ColorGroup.Disabled, role, QColor(theme.pale))
    return result


def colour_application(theme: Theme) -> None:
    """Give what Qt draws itself the colours of the window; nothing happens where it has them."""
    application = QApplication.instance()
    wanted = palette(theme)
    if isinstance(application, QApplication) and application.palette() != wanted:
        application.setPalette(wanted)


def shown_theme() -> Theme:
    """The theme whose colours `colour_application` gave what Qt draws itself."""
    ground = QGuiApplication.palette().color(QPalette.ColorRole.Window)
    return DARK if ground == QColor(DARK.panel) else LIGHT


def colour(text: str, alpha: float = 1.0) -> QColor:
    """A colour with opacity 0 to 1."""
    result = QColor(text)
    result.setAlphaF(alpha)
    return result


@dataclass(frozen=True, slots=True)
class Sizes:
    """Text sizes in pixels: they grow with the window, so that it reads from the same distance."""

    small: int
    normal: int
    large: int
    value: int

    @classmethod
    def for_height(cls, height: int, percent: int = 100) -> Sizes:
        """The sizes for a window.

        Args:
            height: of the window in pixels.
            percent: size of text that the user chose; the value of the readout is as large as its room anyway.
        """
        least = -int(-MIN_TEXT_POINTS * _pixels_per_point() // 1)

        def chosen(pixels: int) -> int:
            return max(least, round(pixels * percent / 100))

        # Where the system's font has taller lines, as many of them have to stand in the window.
        room = height * MAX_LINE_EM / max(_line_em(QFont().toString()), MAX_LINE_EM)
        small = max(least, round(room * 0.0215))
        normal = max(small + 1, round(room * 0.0255))
        chosen_normal = max(chosen(small) + 1, chosen(normal))
        # Titles are large enough to be read as they are: they grow less than the rest, which needs the room.
        large = max(chosen_normal, chosen(round(room * 0.038 * math.sqrt(100 / percent))))
        return cls(chosen(small), chosen_normal, large, round(height * 0.15))


@lru_cache(maxsize=8)
def _line_em(description: str) -> float:
    """Height of a line in sizes of the font.

    Args:
        description: of the font, as Qt writes it.
    """
    face = QFont()
    face.fromString(description)
    face.setPixelSize(100)
    return QFontMetricsF(face).lineSpacing() / 100


def _pixels_per_point() -> float:
    screen = QGuiApplication.primaryScreen()
    return screen.logicalDotsPerInchY() / 72 if screen else 96 / 72


def line_height(face: QFont) -> float:
    """Height of a line of text that is drawn, in pixels: no more of it than letters with their accents need.

    Some fonts leave room in each line for the marks of every script; lists would lose rows by that. What stands higher
    is drawn into the line above, and not cut, where text is drawn with `IN_LINE`.

    Args:
        face: the font.
    """
    return min(QFontMetricsF(face).lineSpacing(), MAX_LINE_EM * face.pixelSize())


def font(pixels: int, bold: bool = False) -> QFont:
    """The window's font at a size."""
    result = QFont()
    result.setPixelSize(pixels)
    result.setBold(bold)
    # Digits of equal width, so that a changing number does not dance.
    result.setFeature(QFont.Tag("tnum"), 1)
    return result


_STYLE = Template("""
* { font-size: ${normal}px; color: $text; }
QWidget#window { background: $ground; }
QWidget[role="panel"] { background: $panel; }
QLabel { background: transparent; }
QLabel[role="title"] { font-size: ${normal}px; font-weight: bold; }
QLabel[role="large"] { font-size: ${large}px; font-weight: bold; }
QLabel[role="small"] { font-size: ${small}px; }
QLabel[role="quiet"] { color: $quiet; font-size: ${small}px; }
QLabel[role="error"] { color: $error; font-size: ${small}px; font-weight: bold; }
QLabel[role="heading"] { color: $quiet; font-size: ${small}px; font-weight: bold; }
QFrame[role="question"] { background: $ask; border-radius: 6px; }
QFrame[role="question"] QLabel { color: $on_ask; }
QLabel[role="why"] { color: $on_ask; background: $ask; border-radius: 4px; padding: 3px 6px; }
QFrame[role="line"] { background: $line; border: none; }
QSplitter::handle:vertical {
    background: $line; border: none; border-radius: 2px; margin: 2px 0; height: 4px;
}
QSplitter::handle:vertical:hover { background: $quiet; }
QLineEdit, QComboBox {
    background: $plot; color: $text; border: 1px solid $quiet; border-radius: 4px; padding: 3px 8px;
    selection-background-color: $chosen; selection-color: $on_chosen;
}
QLineEdit:focus, QComboBox:focus { border: 2px solid $blue; padding: 2px 7px; }
QLineEdit[invalid="true"] { border: 2px solid $error; padding: 2px 7px; }
QComboBox { combobox-popup: 0; }
QComboBox::drop-down { border: none; width: 26px; }
QComboBox QAbstractItemView {
    background: $plot; color: $text; selection-background-color: $chosen; selection-color: $on_chosen;
}
QListView, QTextBrowser { background: transparent; border: 1px solid transparent; outline: none; }
QListView:focus, QTextBrowser:focus { border: 1px solid $blue; }
QTableView {
    background: $plot; border: 1px solid $line; gridline-color: $line; outline: none;
    selection-background-color: $chosen; selection-color: $on_chosen;
}
QTableView:focus { border: 1px solid $blue; }
QTableView::indicator {
    width: ${small}px; height: ${small}px; border: 2px solid $quiet; border-radius: 4px; background: $plot;
}
QTableView::indicator:checked { border-color: $blue; background: $blue; image: url("$tick"); }
QHeaderView::section {
    background: $key; color: $on_key; border: none; border-right: 1px solid $line; border-bottom: 1px solid $line;
    padding: 2px 4px; font-size: ${small}px;
}
QLineEdit[role="cell"], QLineEdit[role="cell"]:focus {
    border: 2px solid $blue; border-radius: 0; padding: 0 1px;
}
QScrollBar:vertical { background: transparent; width: 10px; margin: 0; }
QScrollBar::handle:vertical { background: $line; border-radius: 5px; min-height: 30px; }
QScrollBar::add-line, QScrollBar::sub-line, QScrollBar::add-page, QScrollBar::sub-page {
    background: none; border: none; height: 0;
}
QPushButton {
    background: $key; color: $on_key; border: 1px solid $quiet; border-radius: 5px; padding: 3px 10px;
}
QPushButton:hover { border-color: $text; background: $note; }
QPushButton:pressed, QPushButton:checked { background: $chosen; color: $on_chosen; }
QPushButton:disabled { color: $pale; background: transparent; border-color: $line; }
QPushButton:default { border: 2px solid $blue; padding: 2px 9px; }
QPushButton:focus { border: 2px solid $blue; padding: 2px 9px; }
QFrame[role="question"] QPushButton:default { border: 1px solid $quiet; padding: 3px 10px; }
QFrame[role="question"] QPushButton:focus { border: 2px solid $blue; padding: 2px 9px; }
QPushButton[role="action"] { font-size: ${small}px; padding: 2px 7px; }
QPushButton[role="action"]:focus { padding: 1px 6px; }
QPushButton[role="more"] {
    background: transparent; color: $text; border: 1px solid transparent; font-size: ${small}px; padding: 0 4px;
    text-decoration: underline;
}
QPushButton[role="more"]:focus { border: 2px solid $blue; padding: 0 3px; }
QPushButton[role="primary"] { font-weight: bold; text-align: left; padding: 2px 14px; }
QPushButton[role="primary"]:disabled { background: $panel; }
QPushButton[role="primary"]:enabled { background: $chosen; color: $on_chosen; border-color: $chosen; }
QPushButton[role="primary"]:enabled:hover { border-color: $text; }
QPushButton[role="primary"]:enabled:pressed { background: $key; color: $on_key; }
QPushButton[role="primary"]:focus { border: 2px solid $text; padding: 1px 13px; }
QCheckBox { spacing: 8px; padding: 3px; }
QCheckBox:focus { outline: 2px solid $blue; }
QCheckBox::indicator {
    width: ${small}px; height: ${small}px; border: 2px solid $quiet; border-radius: 4px; background: $plot;
}
QCheckBox::indicator:checked { border-color: $blue; background: $blue; image: url("$tick"); }
QCheckBox::indicator:disabled { border-color: $line; }
QCheckBox:disabled { color: $pale; }
QRadioButton { spacing: 8px; padding: 3px; }
QRadioButton:focus { outline: 2px solid $blue; }
QRadioButton::indicator {
    width: ${small}px; height: ${small}px; border: 2px solid $quiet; border-radius: ${radio}px; background: $plot;
}
QRadioButton::indicator:checked { border-color: $blue; background: qradialgradient(
    cx: 0.5, cy: 0.5, radius: 0.5, fx: 0.5, fy: 0.5, stop: 0.55 $blue, stop: 0.65 $plot); }
QTabWidget::pane { border: 1px solid $line; background: $panel; }
QFrame[role="question"] QListWidget { background: $plot; border: 1px solid $line; }
QFrame[role="question"] QListWidget::item { padding: 4px 6px; }
QFrame[role="question"] QListWidget::item:selected { background: $chosen; color: $on_chosen; }
QFrame[role="question"] QListWidget:focus { border: 1px solid $blue; }
QTabBar::tab {
    background: $key; color: $on_key; border: 1px solid $quiet; border-bottom: none; padding: 4px 12px;
    border-top-left-radius: 5px; border-top-right-radius: 5px; margin-right: 2px;
}
QTabBar::tab:selected { background: $chosen; color: $on_chosen; font-weight: bold; }
QTabBar::tab:hover:!selected { background: $note; }
QTabBar:focus { outline: none; }
QTabBar::tab:focus { border: 2px solid $blue; }
QMenuBar { background: $panel; color: $text; }
QMenuBar::item { background: transparent; padding: 3px 10px; }
QMenuBar::item:selected { background: $chosen; color: $on_chosen; }
QMenu { background: $panel; color: $text; border: 1px solid $quiet; }
QMenu::item { padding: 3px 26px 3px 26px; }
QMenu::item:selected { background: $chosen; color: $on_chosen; }
QMenu::item:disabled { color: $pale; }
QMenu::separator { height: 1px; background: $line; margin: 3px 8px; }
QDialog, QMessageBox, QFileDialog { background: $panel; }
QScrollArea, QScrollArea > QWidget > QWidget { background: transparent; border: none; }
QToolTip { background: $panel; color: $text; border: 1px solid $line; }
""")


def style_sheet(theme: Theme, sizes: Sizes) -> str:
    """The Qt style sheet of the whole window."""
    names = {name: getattr(theme, name) for name in Theme.__slots__}
    sized = {name: getattr(sizes, name) for name in Sizes.__slots__}
    return _STYLE.substitute(names, blue=BLUE, tick=TICK.as_posix(), radio=(sizes.small + 4) // 2, **sized)
