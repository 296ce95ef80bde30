"""Icons drawn for this program: lines in the colour of text, on a grid of 24; and the icon of the program itself."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QIcon, QPainter, QPainterPath, QPen, QPixmap

from gui.widgets.theme import BLUISH_GREEN, Theme

GRID = 24.0
"""The side of an icon in the units of `SHAPES`."""

LINE = 2.0
"""Width of a line in those units."""

SIZES = (16, 24, 32, 48)
"""In pixels: for menus and buttons, also on a screen of twice the density."""

APPLICATION_SIZES = (16, 24, 32, 48, 64, 128, 256)

SHAPES = {
    "new": "M6 3 L14 3 L19 8 L19 21 L6 21 Z M14 3 L14 8 L19 8 M12.5 11 L12.5 18 M9 14.5 L16 14.5",
    "open": "M3 19 L3 5 L9 5 L11 8 L20 8 L20 11 M3 19 L7 11 L22 11 L18 19 Z",
    "save": "M12 3 L12 14 M7 9.5 L12 14.5 L17 9.5 M4 16 L4 20 L20 20 L20 16",
    "print": "M7 9 L7 3 L17 3 L17 9 M7 17 L3 17 L3 9 L21 9 L21 17 L17 17 M7 14 L17 14 L17 21 L7 21 Z",
    "quit": "M10 4 L4 4 L4 20 L10 20 M9 12 L20 12 M16 8 L20 12 L16 16",
    "undo": "M9 5 L4 10 L9 15 M4 10 L15 10 L19 14 L19 19",
    "redo": "M15 5 L20 10 L15 15 M20 10 L9 10 L5 14 L5 19",
    "copy": "M8 8 L20 8 L20 21 L8 21 Z M16 8 L16 3 L4 3 L4 16 L8 16",
    "find": "O10 10 6 M14.5 14.5 L21 21",
    "settings": "M3 7 L21 7 M3 17 L21 17 O9 7 2.6 O15 17 2.6",
    "next": "M5 12 L19 12 M13 6 L19 12 L13 18",
    "previous": "M19 12 L5 12 M11 6 L5 12 L11 18",
    "up": "M12 20 L12 5 M6 11 L12 5 L18 11",
    "down": "M12 4 L12 19 M6 13 L12 19 L18 13",
    "zoom-in": "O10 10 6 M14.5 14.5 L21 21 M7 10 L13 10 M10 7 L10 13",
    "zoom-out": "O10 10 6 M14.5 14.5 L21 21 M7 10 L13 10",
    "live": "M4 5 L13 12 L4 19 Z M18 5 L18 19",
    "whole": "M3 12 L21 12 M7 8 L3 12 L7 16 M17 8 L21 12 L17 16",
    "picture": "M3 4 L21 4 L21 20 L3 20 Z M3 16 L9 10 L14 15 L17 12 L21 16 O16 8 1.4",
    "sound": "M4 9 L8 9 L13 5 L13 19 L8 15 L4 15 Z M17 8 L19 12 L17 16",
    "full-screen": "M4 9 L4 4 L9 4 M15 4 L20 4 L20 9 M20 15 L20 20 L15 20 M9 20 L4 20 L4 15",
    "take": "M4 13 L10 19 L20 6",
    "record": "O12 12 7 O12 12 2",
    "stop": "M6 6 L18 6 L18 18 L6 18 Z",
    "mark": "M6 21 L6 3 L18 6 L6 11",
    "hand": "M5 20 L5 16 L16 5 L19 8 L8 19 Z M13 8 L16 11",
    "add": "M12 4 L12 20 M4 12 L20 12",
    "rename": "M4 20 L20 20 M5 16 L5 12.5 L14 3.5 L17.5 7 L8.5 16 Z",
    "remove": "M5 7 L19 7 M9 7 L9 4 L15 4 L15 7 M7 7 L8 20 L16 20 L17 7",
    "void": "O12 12 8 M6.5 6.5 L17.5 17.5",
    "again": "M19 5 L19 10 L14 10 M19 10 L15.5 6.2 L11 5 L6.5 7 L4.5 12 L6.5 17 L11 19 L15.5 17.8",
    "moon": "M15 3 L10 6 L8 12 L10 17 L15 20.5 L10 21 L5 18 L3.5 12 L6 6 L10 3 Z",
    "report": "M6 3 L14 3 L19 8 L19 21 L6 21 Z M9 12 L16 12 M9 16 L16 16",
    "compare": "M4 20 L4 10 L9 10 L9 20 Z M14 20 L14 4 L19 4 L19 20 Z",
    "meter": "M5 3 L19 3 L19 21 L5 21 Z M8 6 L16 6 L16 11 L8 11 Z O12 16 2",
    "house": "M3 12 L12 4 L21 12 M6 10 L6 20 L18 20 L18 10",
    "help": "O12 12 9 M9 10 L10 7.5 L12 7 L14.5 8 L14.5 10.5 L12 12.5 L12 14 M12 16.5 L12 17.5",
}  # fmt: skip
"""By name: M moves, L draws a line, Z closes it, O draws a circle of a centre and a radius."""


@cache
def icon(name: str, theme: Theme) -> QIcon:
    """An icon of `SHAPES` in the colours of a theme, pale where its action may not run."""
    result = QIcon()
    for pixels in SIZES:
        for mode, ink in (
            (QIcon.Mode.Normal, theme.text),
            (QIcon.Mode.Disabled, theme.pale),
            (QIcon.Mode.Active, theme.on_chosen),  # its row of a menu is chosen
        ):
            result.addPixmap(_drawn(_path(SHAPES[name]), pixels, ink), mode)
    return result


def application_icon() -> QIcon:
    """The icon of the program: a trace that settles, on the colour of a settled value."""
    result = QIcon()
    for pixels in APPLICATION_SIZES:
        pixmap = QPixmap(pixels, pixels)
        pixmap.fill(Qt.GlobalColor.transparent)
        painter = _painter(pixmap)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(BLUISH_GREEN))
        painter.drawRoundedRect(QRectF(0.5, 0.5, GRID - 1, GRID - 1), 5, 5)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(_pen("#FFFFFF", 2.4))
        painter.drawPath(_path("M3.5 8 L6 17 L8.5 6 L11 15 L13 12.5 L20.5 12.5"))
        painter.end()
        result.addPixmap(pixmap)
    return result


def _drawn(path: QPainterPath, pixels: int, ink: str) -> QPixmap:
    pixmap = QPixmap(pixels, pixels)
    pixmap.fill(Qt.GlobalColor.transparent)
    painter = _painter(pixmap)
    painter.setPen(_pen(ink, LINE))
    painter.drawPath(path)
    painter.end()
    return pixmap


def _painter(pixmap: QPixmap) -> QPainter:
    painter = QPainter(pixmap)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.scale(pixmap.width() / GRID, pixmap.height() / GRID)
    return painter


def _pen(ink: str, width: float) -> QPen:
    cap, join = Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin
    return QPen(QColor(ink), width, Qt.PenStyle.SolidLine, cap, join)


def _path(shape: str) -> QPainterPath:
    path = QPainterPath()
    for letter, numbers in _steps(shape):
        if letter == "M":
            path.moveTo(*numbers)
        elif letter == "L":
            path.lineTo(*numbers)
        elif letter == "O":
            x, y, radius = numbers
            path.addEllipse(QPointF(x, y), radius, radius)
        else:
            path.closeSubpath()
    return path


def _steps(shape: str) -> Iterator[tuple[str, list[float]]]:
    for letter, numbers in re.findall(r"([MLZO])([^MLZO]*)", shape):
        yield letter, [float(number) for number in numbers.split()]
