"""Words at the axes of small pictures: volts on the left, seconds or minutes below."""

from __future__ import annotations

from math import ceil

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter

from gui.trace.trace_marks import TICKS_S, Scale
from gui.widgets.appearance import Appearance
from gui.widgets.theme import font
from logger.metrology.rounding import MINUS
from logger.translation import shown_number, tr

MAX_OVERHANG = 0.15
"""A mark may stand so many small letters over the end of its axis: the gap to the next picture parts two of them."""


def volts_marks(top_volts: float) -> list[tuple[float, str]]:
    """The marks of an axis from 0 to that height: value and text of each."""
    return [(volts, shown_number(f"{volts:.3g} V")) for volts in (0.0, top_volts / 2, top_volts)]


def paint_volts(painter: QPainter, scale: Scale, appearance: Appearance) -> None:
    """Write volts to the left of a picture.

    Args:
        painter: where to draw.
        scale: of the picture; the room for the words is to the left of its box.
        appearance: theme and sizes.
    """
    small = appearance.sizes.small
    metrics = QFontMetricsF(font(small))
    painter.setFont(font(small))
    painter.setPen(QColor(appearance.theme.quiet))
    for volts, text in volts_marks(scale.top_volts):
        y = scale.y(volts)
        place = QRectF(0.0, y - metrics.height() / 2, scale.box.left() - small * 0.4, metrics.height())
        painter.drawText(place, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, text)


def paint_seconds(
    painter: QPainter, scale: Scale, zero_s: float, appearance: Appearance, right_edge: float
) -> None:
    """Write seconds, or minutes, below a picture.

    Args:
        painter: where to draw.
        scale: of the picture.
        zero_s: the time from which is counted, on the scale of the picture.
        appearance: theme and sizes.
        right_edge: no word goes beyond this pixel.
    """
    small = appearance.sizes.small
    box, metrics = scale.box, QFontMetricsF(font(small))
    per_s = box.width() / (scale.end_s - scale.start_s)
    overhang = small * MAX_OVERHANG
    step_s = next((t for t in TICKS_S if per_s * t >= _widest_mark(scale, zero_s, t, metrics)), TICKS_S[-1])
    painter.setFont(font(small))
    painter.setPen(QColor(appearance.theme.quiet))
    first = ceil((scale.start_s - zero_s) / step_s)
    last = int((scale.end_s - zero_s) // step_s)
    for mark in range(first, last + 1):
        x = scale.x(zero_s + mark * step_s)
        text = _seconds_text(mark * step_s)
        half = metrics.horizontalAdvance(text) / 2
        painter.drawLine(QPointF(x, box.bottom()), QPointF(x, box.bottom() + small * 0.2))
        if box.left() - overhang <= x - half and x + half <= min(box.right() + overhang, right_edge):
            place = QRectF(x - half - 2, box.bottom() + small * 0.2, 2 * half + 4, metrics.height())
            painter.drawText(place, Qt.AlignmentFlag.AlignCenter, text)


def _widest_mark(scale: Scale, zero_s: float, step_s: int, metrics: QFontMetricsF) -> float:
    """The width of the widest mark of an axis with that step, with the space that parts it from the next, in pixels.

    Args:
        scale: of the picture.
        zero_s: the time from which is counted, on the scale of the picture.
        step_s: from mark to mark.
        metrics: of the font.
    """
    ends = int((scale.start_s - zero_s) // step_s) * step_s, int((scale.end_s - zero_s) // step_s) * step_s
    return max(metrics.horizontalAdvance(f"{_seconds_text(end)}  ") for end in ends)


def _seconds_text(seconds: int) -> str:
    sign = MINUS if seconds < 0 else ""
    whole = abs(seconds)
    if whole >= 60 and whole % 60 == 0:
        return tr("{minutes} min").format(minutes=f"{sign}{whole // 60}")
    return tr("{seconds} s").format(seconds=f"{sign}{whole}")
