"""A list of two-line rows: heading and value on the first line, small print on the second."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen, QPolygonF, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QListWidget,
    QListWidgetItem,
    QStyledItemDelegate,
    QStyleOptionViewItem,
)

from gui.look import Look, fitting_font_pixels
from gui.theme import ON_STATE, font

_ROW = Qt.ItemDataRole.UserRole


class Shape(StrEnum):
    """What is drawn in a badge, so that its meaning does not hang on colour."""

    TICK = "tick"
    CROSS = "cross"
    QUESTION = "?"
    DASH = "dash"
    OPEN = "open"


@dataclass(frozen=True, slots=True)
class Badge:
    """A coloured shape at the head of a row."""

    shape: Shape
    colour: str = ""
    """#RRGGBB; empty draws the outline only."""


@dataclass(frozen=True, slots=True)
class Row:
    """What one row shows."""

    head: str
    value: str = ""
    small: str = ""
    small_right: str = ""
    struck: bool = False
    """Voided: struck through."""
    quiet: bool = False
    badge: Badge | None = None


class RowList(QListWidget):
    """The rows; never takes the keyboard, so that every key reaches the window."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.look = look
        self.rows: list[Row] = []
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setItemDelegate(_RowPainter(self))

    def show_rows(self, rows: list[Row], chosen: int | None) -> None:
        """Show rows; a chosen one is kept in sight."""
        if rows != self.rows:
            self.rows = rows
            while self.count() > len(rows):
                self.takeItem(self.count() - 1)
            while self.count() < len(rows):
                self.addItem(QListWidgetItem())
            for index, row in enumerate(rows):
                item = self.item(index)
                item.setData(_ROW, row)
                item.setData(
                    Qt.ItemDataRole.AccessibleTextRole,
                    " ".join((row.head, row.value, row.small, row.small_right)),
                )
        wanted = -1 if chosen is None else chosen
        if self.currentRow() != wanted:
            self.setCurrentRow(wanted)
            if chosen is not None:
                self.scrollToItem(self.item(chosen))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the chosen row in sight; see Qt."""
        super().resizeEvent(event)
        if self.currentRow() >= 0:
            self.scrollToItem(self.currentItem())

    def fit_height(self) -> None:
        """Take just the height that the rows need."""
        heights = sum(self.sizeHintForRow(index) for index in range(self.count()))
        self.setFixedHeight(heights + 2 * self.frameWidth() + 2)

    def set_look(self, look: Look) -> None:
        """Take over new colours and sizes."""
        self.look = look
        self.doItemsLayout()


class _RowPainter(QStyledItemDelegate):
    def __init__(self, rows: RowList) -> None:
        super().__init__(rows)
        self._rows = rows

    def sizeHint(self, _: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        sizes = self._rows.look.sizes
        height = QFontMetricsF(font(sizes.normal, True)).lineSpacing() + sizes.small * 0.6
        row: Row | None = index.data(_ROW)
        if row is not None and (row.small or row.small_right):
            height += QFontMetricsF(font(sizes.small)).lineSpacing()
        return QSize(100, round(height))

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        row: Row = index.data(_ROW)
        look = self._rows.look
        theme, sizes = look.theme, look.sizes
        box = QRectF(option.rect)
        chosen = index.row() == self._rows.currentRow()
        if chosen:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(theme.chosen))
            painter.drawRoundedRect(box.adjusted(0, 1, 0, -1), 5, 5)
        ink = QColor(theme.on_chosen if chosen else (theme.quiet if row.quiet else theme.text))
        faint = QColor(theme.on_chosen if chosen else theme.quiet)
        inner = box.adjusted(sizes.small * 0.6, sizes.small * 0.25, -sizes.small * 0.6, -sizes.small * 0.25)
        bold = font(sizes.normal, not row.quiet)
        line = QFontMetricsF(bold).lineSpacing()
        if row.badge is not None:
            side = sizes.normal * 1.5
            place = QRectF(inner.left(), inner.center().y() - side / 2, side, side)
            draw_badge(painter, row.badge, place, ink)
            inner.setLeft(place.right() + sizes.small * 0.7)
        first = QRectF(inner.left(), inner.top(), inner.width(), line)
        # A long name is set smaller before any of it is left out.
        both = f"{row.head}  {row.value}"
        size = fitting_font_pixels(both, first.width(), sizes.normal, sizes.small, not row.quiet)
        bold = font(size, not row.quiet)
        bold.setStrikeOut(row.struck)
        _two_texts(painter, first, bold, row.head, row.value, ink)
        if row.small or row.small_right:
            second = QRectF(inner.left(), first.bottom(), inner.width(), inner.bottom() - first.bottom())
            _two_texts(painter, second, font(sizes.small), row.small, row.small_right, faint)


def draw_badge(painter: QPainter, badge: Badge, box: QRectF, outline: QColor) -> None:
    """Draw a badge into a square."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(outline, 2) if not badge.colour else Qt.PenStyle.NoPen)
    painter.setBrush(QColor(badge.colour) if badge.colour else Qt.BrushStyle.NoBrush)
    painter.drawRoundedRect(box.adjusted(1, 1, -1, -1), 5, 5)
    ink = QColor(ON_STATE) if badge.colour else outline
    pen = QPen(ink, box.width() * 0.11)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    painter.setPen(pen)

    def at(x: float, y: float) -> QPointF:
        return QPointF(box.left() + box.width() * x, box.top() + box.height() * y)

    if badge.shape is Shape.TICK:
        painter.drawPolyline(QPolygonF([at(0.25, 0.53), at(0.43, 0.72), at(0.76, 0.3)]))
    elif badge.shape is Shape.CROSS:
        painter.drawLine(at(0.28, 0.28), at(0.72, 0.72))
        painter.drawLine(at(0.28, 0.72), at(0.72, 0.28))
    elif badge.shape is Shape.DASH:
        painter.drawLine(at(0.27, 0.5), at(0.73, 0.5))
    elif badge.shape is Shape.QUESTION:
        painter.setFont(font(round(box.height() * 0.72), True))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, "?")
    painter.restore()


def _two_texts(painter: QPainter, box: QRectF, face: QFont, left: str, right: str, ink: QColor) -> None:
    """The right text whole, the left one in what remains."""
    painter.setFont(face)
    painter.setPen(ink)
    metrics = QFontMetricsF(painter.font())
    width = metrics.horizontalAdvance(right)
    painter.drawText(box, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight, right)
    room = box.width() - width - (metrics.horizontalAdvance("  ") if right else 0)
    painter.drawText(
        QRectF(box.left(), box.top(), room, box.height()),
        Qt.AlignmentFlag.AlignVCenter,
        metrics.elidedText(left, Qt.TextElideMode.ElideRight, room),
    )
