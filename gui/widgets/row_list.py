"""A list of rows: heading and value first, small print below, then what has to be said beside it. Headings part them.

Nothing is cut: a long name is set smaller, then wrapped; small print and notes are wrapped.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QListWidget,
    QListWidgetItem,
    QStyledItemDelegate,
    QStyleOptionViewItem,
)

from gui.widgets.appearance import Appearance, fitting_font_pixels, wrapped
from gui.widgets.badge import Badge, draw_badge
from gui.widgets.theme import Sizes, font

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
    badge: Badge | None = None
    note: str = ""
    """What has to be said beside it: below the small print, over as many lines as it needs."""


@dataclass(frozen=True, slots=True)
class Heading:
    """What the rows below have in common; cannot be chosen. Empty: a line that ends the group above."""

    text: str


class RowList(QListWidget):
    """The rows; never takes the keyboard, so that every key reaches the window."""

    def __init__(self, appearance: Appearance) -> None:
        super().__init__()
        self.appearance = appearance
        self.rows: list[Row] = []
        """Those that can be chosen, in order; a row's place in the list counts the headings too."""
        self._items: list[Row | Heading] = []
        self._fits_height = False
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        # Whole rows at the top: half of one would be read as belonging to the heading above.
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerItem)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setItemDelegate(_RowPainter(self))

    def show_rows(self, rows: Sequence[Row | Heading], chosen: int | None) -> None:
        """Show rows; the chosen one, counted without headings, is kept in sight."""
        if list(rows) != self._items:
            self._items = list(rows)
            self.rows = [row for row in rows if isinstance(row, Row)]
            while self.count() > len(rows):
                self.takeItem(self.count() - 1)
            while self.count() < len(rows):
                self.addItem(QListWidgetItem())
            for index, row in enumerate(rows):
                item = self.item(index)
                item.setData(_ROW, row)
                item.setData(Qt.ItemDataRole.AccessibleTextRole, _spoken(row))
                item.setFlags(
                    Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
                    if isinstance(row, Row)
                    else Qt.ItemFlag.NoItemFlags
                )
            self.scheduleDelayedItemsLayout()  # heights follow from the texts
        wanted = -1 if chosen is None else self._place_of(chosen)
        if self.currentRow() != wanted:
            self.setCurrentRow(wanted)
            self._keep_in_sight()

    def row_at(self, item: QListWidgetItem) -> int | None:
        """Which row an item is, counted without headings; None for a heading."""
        place = self.row(item)
        if isinstance(self._items[place], Heading):
            return None
        return sum(isinstance(row, Row) for row in self._items[:place])

    def _place_of(self, index: int) -> int:
        return [place for place, row in enumerate(self._items) if isinstance(row, Row)][index]

    def _keep_in_sight(self) -> None:
        """The chosen row with what is above it, and the next one if there is room."""
        place = self.currentRow()
        if place < 0:
            return
        self.scrollToTop()  # as little as needed from here: no room stays empty below the last row
        if place + 1 < self.count():
            self.scrollToItem(self.item(place + 1))
        if place and isinstance(self._items[place - 1], Heading):
            self.scrollToItem(self.item(place - 1))
        self.scrollToItem(self.item(place))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the chosen row in sight; see Qt."""
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self.doItemsLayout()
            if self._fits_height:
                self.fit_height()
        self._keep_in_sight()

    def fit_height(self) -> None:
        """Take just the height that the rows need."""
        self._fits_height = True
        heights = sum(self.sizeHintForRow(index) for index in range(self.count()))
        self.setFixedHeight(heights + 2 * self.frameWidth() + 2)

    def set_appearance(self, appearance: Appearance) -> None:
        """Take over new colours and sizes."""
        self.appearance = appearance
        self.doItemsLayout()


def _spoken(row: Row | Heading) -> str:
    if isinstance(row, Heading):
        return row.text
    return " ".join((row.head, row.value, row.small, row.small_right, row.note))


@dataclass(slots=True)
class Block:
    """Some text of a row: wrapped on the left, whole on the right of its first line."""

    face: QFont
    left: list[str]
    right: str
    faint: bool

    @property
    def height(self) -> float:
        """In pixels."""
        return QFontMetricsF(self.face).lineSpacing() * max(len(self.left), 1)


def text_blocks(row: Row, width: float, sizes: Sizes) -> list[Block]:
    """The texts of a row as they are set in that width in pixels."""
    # A long name is set smaller before it is wrapped.
    size = fitting_font_pixels(f"{row.head}  {row.value}", width, sizes.normal, sizes.small, not row.quiet)
    bold, small = font(size, not row.quiet), font(sizes.small)
    bold.setStrikeOut(row.struck)
    out = [_block(bold, row.head, row.value, width, False)]
    if row.small or row.small_right:
        out.append(_block(small, row.small, row.small_right, width, True))
    if row.note:
        out.append(_block(small, row.note, "", width, True))
    return out


def _block(face: QFont, left: str, right: str, width: float, faint: bool) -> Block:
    metrics = QFontMetricsF(face)
    beside = metrics.horizontalAdvance(f"  {right}") if right else 0.0
    if beside > width / 2 and metrics.horizontalAdvance(left) > width - beside:
        # Too little is left beside it: the right text becomes a line of its own.
        return Block(face, [*wrapped(left, face, width), *wrapped(right, face, width)], "", faint)
    return Block(face, wrapped(left, face, width - beside), right, faint)


class _RowPainter(QStyledItemDelegate):
    def __init__(self, rows: RowList) -> None:
        super().__init__(rows)
        self._rows = rows

    def sizeHint(self, _: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        sizes = self._rows.appearance.sizes
        row: Row | Heading | None = index.data(_ROW)
        if row is None:
            return QSize(100, 0)
        if isinstance(row, Heading):
            line = QFontMetricsF(font(sizes.small, True)).lineSpacing() if row.text else 0.0
            return QSize(100, round(line + sizes.small * 0.7))
        inner = self._inner(QRectF(0, 0, self._rows.viewport().width(), 100), row)
        height = sum(block.height for block in text_blocks(row, inner.width(), sizes))
        return QSize(100, round(height + sizes.small * 0.6))

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        row: Row | Heading = index.data(_ROW)
        box = QRectF(option.rect)
        if isinstance(row, Heading):
            self._draw_heading(painter, row, box)
            return
        appearance = self._rows.appearance
        theme, sizes = appearance.theme, appearance.sizes
        chosen = index.row() == self._rows.currentRow()
        if chosen:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(theme.chosen))
            painter.drawRoundedRect(box.adjusted(0, 1, 0, -1), 5, 5)
        ink = QColor(theme.on_chosen if chosen else (theme.quiet if row.quiet else theme.text))
        faint = QColor(theme.on_chosen if chosen else theme.quiet)
        inner = self._inner(box, row)
        if row.badge is not None:
            side = sizes.normal * 1.5
            place = QRectF(box.left() + sizes.small * 0.6, inner.center().y() - side / 2, side, side)
            draw_badge(painter, row.badge, place, ink)
        for block in text_blocks(row, inner.width(), sizes):
            painter.setFont(block.face)
            painter.setPen(faint if block.faint else ink)
            line = QRectF(inner.left(), inner.top(), inner.width(), QFontMetricsF(block.face).lineSpacing())
            painter.drawText(line, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight, block.right)
            for text in block.left:
                painter.drawText(line, Qt.AlignmentFlag.AlignVCenter, text)
                line.translate(0, line.height())
            inner.setTop(inner.top() + block.height)

    def _inner(self, box: QRectF, row: Row) -> QRectF:
        """Where the texts of a row stand in its box."""
        sizes = self._rows.appearance.sizes
        inner = box.adjusted(sizes.small * 0.6, sizes.small * 0.25, -sizes.small * 0.6, -sizes.small * 0.25)
        if row.badge is not None:
            inner.setLeft(inner.left() + sizes.normal * 1.5 + sizes.small * 0.7)
        return inner

    def _draw_heading(self, painter: QPainter, heading: Heading, box: QRectF) -> None:
        theme, sizes = self._rows.appearance.theme, self._rows.appearance.sizes
        face = font(sizes.small, True)
        metrics = QFontMetricsF(face)
        inner = box.adjusted(sizes.small * 0.6, sizes.small * 0.5, -sizes.small * 0.6, 0)
        text = metrics.elidedText(heading.text, Qt.TextElideMode.ElideRight, inner.width())
        painter.setFont(face)
        painter.setPen(QColor(theme.quiet))
        painter.drawText(inner, Qt.AlignmentFlag.AlignVCenter, text)
        left = inner.left() + (metrics.horizontalAdvance(f"{text} ") if text else 0.0)
        rule = QRectF(left, inner.center().y(), inner.right() - left, 1)
        painter.fillRect(rule, QColor(theme.line))
