"""A list of two-line rows: heading and value on the first line, small print on the second."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter
from PySide6.QtWidgets import (
    QAbstractItemView,
    QListWidget,
    QListWidgetItem,
    QStyledItemDelegate,
    QStyleOptionViewItem,
)

from gui.look import Look
from gui.theme import font

_ROW = Qt.ItemDataRole.UserRole


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
        bold.setStrikeOut(row.struck)
        line = QFontMetricsF(bold).lineSpacing()
        first = QRectF(inner.left(), inner.top(), inner.width(), line)
        _two_texts(painter, first, bold, row.head, row.value, ink)
        if row.small or row.small_right:
            second = QRectF(inner.left(), first.bottom(), inner.width(), inner.bottom() - first.bottom())
            _two_texts(painter, second, font(sizes.small), row.small, row.small_right, faint)


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
