"""The shape of each state, so that it is told by form as well as by colour and word."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPainterPath, QPen

from logger.settling.events import State


def draw_shape(painter: QPainter, state: State, box: QRectF, ink: QColor) -> None:
    """Draw a state's shape into a box.

    Args:
        painter: paints into the widget.
        state: the state of the trace.
        box: where, in pixels.
        ink: the colour.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    weight = max(box.height() * 0.09, 1.5)
    pen = QPen(ink, weight, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin)
    painter.setPen(pen)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    inner = box.adjusted(weight, weight, -weight, -weight)
    bar = QRectF(inner.left(), inner.center().y() - inner.height() * 0.2, inner.width(), inner.height() * 0.4)
    if state is State.SETTLED:
        painter.setBrush(QBrush(ink))
        painter.drawRoundedRect(bar, weight, weight)
    elif state is State.SETTLING:
        painter.drawRoundedRect(bar, weight, weight)
    elif state is State.CHANGING:
        painter.drawPath(_zigzag(inner, 4))
    elif state in (State.CHANGING_LONG, State.ALTERNATING):
        upper = QRectF(inner.left(), inner.top(), inner.width(), inner.height() * 0.45)
        painter.drawPath(_zigzag(upper, 4))
        painter.drawPath(_zigzag(upper.translated(0, inner.height() * 0.55), 4))
    elif state is State.DRIFTING:
        painter.drawLine(inner.bottomLeft() - QPointF(0, weight), inner.topRight() + QPointF(0, weight))
        painter.drawLine(
            inner.topRight() + QPointF(0, weight), inner.topRight() + QPointF(-weight * 4, weight)
        )
        painter.drawLine(inner.topRight() + QPointF(0, weight), inner.topRight() + QPointF(0, weight * 5))
    elif state is State.OVERLOAD:
        triangle = QPainterPath(QPointF(inner.center().x(), inner.top()))
        triangle.lineTo(inner.bottomRight())
        triangle.lineTo(inner.bottomLeft())
        triangle.closeSubpath()
        painter.drawPath(triangle)
        middle = inner.center().x()
        painter.drawLine(
            QPointF(middle, inner.top() + inner.height() * 0.4),
            QPointF(middle, inner.top() + inner.height() * 0.62),
        )
        painter.drawPoint(QPointF(middle, inner.top() + inner.height() * 0.82))
    elif state in (State.LOST, State.REFUSED):
        pen.setDashPattern([1.6, 1.8])
        painter.setPen(pen)
        painter.drawRoundedRect(bar, weight, weight)
    else:
        pen.setWidthF(weight * 1.8)
        painter.setPen(pen)
        for part in (0.15, 0.5, 0.85):
            painter.drawPoint(QPointF(inner.left() + inner.width() * part, inner.center().y()))
    painter.restore()


def _zigzag(box: QRectF, teeth: int) -> QPainterPath:
    path = QPainterPath(QPointF(box.left(), box.bottom()))
    for i in range(1, 2 * teeth + 1):
        y = box.top() if i % 2 else box.bottom()
        path.lineTo(QPointF(box.left() + box.width() * i / (2 * teeth), y))
    return path
