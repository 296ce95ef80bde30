"""Badges: a coloured shape at the head of a row.

The shape carries the meaning as well as the colour; the word for it stands in the row.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from gui.widgets.theme import BLUISH_GREEN, GREY, ON_STATE, ORANGE, VERMILLION, font


class BadgeShape(StrEnum):
    """What is drawn in a badge, so that its meaning does not depend on colour."""

    TICK = "tick"
    CROSS = "cross"
    QUESTION = "?"
    DASH = "dash"
    OPEN = "open"
    RING = "ring"
    DOT = "dot"


@dataclass(frozen=True, slots=True)
class Badge:
    """A coloured shape at the head of a row."""

    shape: BadgeShape
    colour: str = ""
    """#RRGGBB; empty draws the outline only."""


GOOD = Badge(BadgeShape.TICK, BLUISH_GREEN)
"""Done, passed, confirmed or better."""
BAD = Badge(BadgeShape.CROSS, VERMILLION)
"""Failed, worse, or not enough for the night."""
UNCLEAR = Badge(BadgeShape.QUESTION, ORANGE)
"""Not decided, in doubt, or widening the uncertainty."""
LEFT_OUT = Badge(BadgeShape.DASH, GREY)
"""Skipped, or without an effect."""
OPEN = Badge(BadgeShape.OPEN)
"""Not done yet."""


def draw_badge(painter: QPainter, badge: Badge, box: QRectF, outline: QColor) -> None:
    """Draw a badge into a square.

    Args:
        painter: where to draw.
        badge: the shape and its colour.
        box: a square, in pixels.
        outline: ink of a badge without a colour.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(outline, 2) if not badge.colour else Qt.PenStyle.NoPen)
    painter.setBrush(QColor(badge.colour) if badge.colour else Qt.BrushStyle.NoBrush)
    if badge.shape in (BadgeShape.RING, BadgeShape.DOT):
        painter.drawEllipse(box.adjusted(1, 1, -1, -1))
    else:
        painter.drawRoundedRect(box.adjusted(1, 1, -1, -1), 5, 5)
    ink = QColor(ON_STATE) if badge.colour else outline
    pen = QPen(ink, box.width() * 0.11)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    painter.setPen(pen)

    def at(x: float, y: float) -> QPointF:
        return QPointF(box.left() + box.width() * x, box.top() + box.height() * y)

    if badge.shape is BadgeShape.TICK:
        painter.drawPolyline(QPolygonF([at(0.25, 0.53), at(0.43, 0.72), at(0.76, 0.3)]))
    elif badge.shape is BadgeShape.CROSS:
        painter.drawLine(at(0.28, 0.28), at(0.72, 0.72))
        painter.drawLine(at(0.28, 0.72), at(0.72, 0.28))
    elif badge.shape is BadgeShape.DASH:
        painter.drawLine(at(0.27, 0.5), at(0.73, 0.5))
    elif badge.shape in (BadgeShape.RING, BadgeShape.DOT) and badge.colour:
        painter.setBrush(ink if badge.shape is BadgeShape.DOT else Qt.BrushStyle.NoBrush)
        painter.drawEllipse(QRectF(at(0.3, 0.3), at(0.7, 0.7)))
    elif badge.shape is BadgeShape.QUESTION:
        painter.setFont(font(round(box.height() * 0.72), True))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, "?")
    painter.restore()
