"""One row of a list: what it shows, how its texts are set in a width, and how it is drawn.

Nothing is cut: a long name is set smaller, then wrapped; small print and notes are wrapped. Only the short form of
a row that says what may be cut is cut, and its tip has all.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from PySide6.QtCore import (
    QAbstractItemModel,
    QEvent,
    QModelIndex,
    QPersistentModelIndex,
    QPointF,
    QRectF,
    QSize,
    Qt,
)
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QMouseEvent, QPainter, QPen
from PySide6.QtWidgets import QListView, QStyledItemDelegate, QStyleOptionViewItem

from gui.widgets.appearance import Appearance, fitting_font_pixels, wrapped
from gui.widgets.badge import draw_badge
from gui.widgets.row_model import ROW_ROLE, ListHeading, ListRow
from gui.widgets.spoken_list import chosen_index
from gui.widgets.theme import IN_LINE, Sizes, font, line_height

MAX_TEXT_BLOCKS = 2048
"""The texts of so many rows and widths are kept as they were set: those of every list of a window."""


@dataclass(frozen=True, slots=True)
class TextBlock:
    """Some text of a row: wrapped on the left, whole on the right of its first line."""

    face: QFont
    left: tuple[str, ...]
    right: str
    faint: bool

    @property
    def height(self) -> float:
        """In pixels."""
        return line_height(self.face) * max(len(self.left), 1)


@lru_cache(maxsize=MAX_TEXT_BLOCKS)
def text_blocks(row: ListRow, width: float, sizes: Sizes, is_short: bool = False) -> tuple[TextBlock, ...]:
    """The texts of a row as they are set in that width in pixels.

    Args:
        row: what the row has to show.
        width: room in pixels.
        sizes: the sizes of text.
        is_short: a row that has a short form shows that one.
    """
    if is_short and row.short is not None:
        left, right, more = *row.short, row.short_more
        if more:
            together = f"{left} · {more}"
            smallest = QFontMetricsF(font(sizes.small))
            # Else the name would be cut for what is said of the reading besides.
            left, more = (
                (together, "")
                if smallest.horizontalAdvance(f"{together}  {right}") <= width
                else (left, more)
            )
        face = font(
            sizes.small
        )  # one size for all rows: which of them fit a larger one is no matter of theirs
        face.setStrikeOut(row.struck)
        metrics = QFontMetricsF(face)
        room = width - metrics.horizontalAdvance(f"  {right}")
        if more and not row.short_cut and metrics.horizontalAdvance(left) > room:
            together = f"{right} · {more}"
            if metrics.horizontalAdvance(together) <= width:  # the right text is a line of its own anyway
                right, more = together, ""
        below = (_block(font(sizes.small), text, "", width, True) for text in (more, row.short_small) if text)
        if not row.short_cut:  # nothing of it may be cut
            return _block(face, left, right, width, False), *below
        # Where next to nothing is left of it, the row is shown in full.
        if room >= min(metrics.horizontalAdvance(left), width / 4):
            fitting = _cut(left, row.short_cut, metrics, room)
            if metrics.horizontalAdvance(fitting) <= room:
                return TextBlock(face, (fitting,), right, False), *below
            # Cut further, rows of circuits with like names could not be told apart.
            return _block(face, fitting, right, width, False), *below
    # A long name is set smaller before it is wrapped.
    size = fitting_font_pixels(f"{row.head}  {row.value}", width, sizes.normal, sizes.small, not row.quiet)
    bold, small = font(size, not row.quiet), font(sizes.small)
    bold.setStrikeOut(row.struck)
    out = [_block(bold, row.head, row.value, width, False)]
    if row.small or row.small_right:
        out.append(_block(small, row.small, row.small_right, width, True))
    if row.note:
        out.append(_block(small, row.note, "", width, True))
    return tuple(out)


def _cut(text: str, first: str, metrics: QFontMetricsF, room: float) -> str:
    """Cut of a text what may be cut, to a width in pixels as far as that goes.

    Args:
        text: what is cut.
        first: the part of it that may be cut, in its end or wholly.
        metrics: of the font.
        room: the width.
    """
    if metrics.horizontalAdvance(text) <= room:
        return text
    before, part, after = (text.rpartition if text.endswith(first) else text.partition)(first)
    beside = metrics.horizontalAdvance(before + after)
    if part and metrics.horizontalAdvance(f"{part[0]}…") <= room - beside:
        return before + metrics.elidedText(part, Qt.TextElideMode.ElideRight, room - beside) + after
    return f"{before}{after}".strip(" ·")


def _block(face: QFont, left: str, right: str, width: float, faint: bool) -> TextBlock:
    metrics = QFontMetricsF(face)
    beside = metrics.horizontalAdvance(f"  {right}") if right else 0.0
    if beside > width / 2 and metrics.horizontalAdvance(left) > width - beside:
        # Too little is left beside it: the right text becomes a line of its own.
        return TextBlock(face, (*wrapped(left, face, width), *wrapped(right, face, width)), "", faint)
    return TextBlock(face, tuple(wrapped(left, face, width - beside)), right, faint)


class RowPainter(QStyledItemDelegate):
    """Draws the rows and headings of a list, and says how high each is.

    Args:
        rows: the list that is drawn; its model holds a `ListRow` or a `ListHeading` under `ROW_ROLE`.
        appearance: theme and sizes.
    """

    def __init__(self, rows: QListView, appearance: Appearance) -> None:
        super().__init__(rows)
        self._rows = rows
        self.appearance = appearance
        self.tick_clicked: Callable[[int], object] = lambda _: None
        """Takes the place of a row whose box was clicked, counted with headings."""
        self.is_short = False
        """Rows that have a short form show that one."""
        self.is_packed = False
        """Rows in their short form stand closer together."""

    @property
    def _is_close(self) -> bool:
        return self.is_short and self.is_packed

    def sizeHint(self, _: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        """See Qt."""
        sizes = self.appearance.sizes
        row: ListRow | ListHeading | None = index.data(ROW_ROLE)
        if row is None:
            return QSize(100, 0)
        if isinstance(row, ListHeading):
            face = font(sizes.small, True)
            beside_bar = self._rows.width() - self._rows.verticalScrollBar().sizeHint().width()
            lines = len(wrapped(row.text, face, beside_bar - sizes.small * 2.0)) if row.text else 0
            return QSize(
                100, round(line_height(face) * lines + sizes.small * (0.2 if self._is_close else 0.7))
            )
        height = sum(block.height for block in self._blocks(row))
        return QSize(100, round(height + sizes.small * (0.2 if self._is_close else 0.6)))

    def _blocks(self, row: ListRow) -> tuple[TextBlock, ...]:
        """The texts of a row, broken as beside a scroll bar, whether there is one or not.

        Were a row lower without the bar, the bar would not be needed, and come and go without end.
        """
        whole = self._rows.width() - 2 * self._rows.frameWidth()
        beside_bar = whole - self._rows.verticalScrollBar().sizeHint().width()
        inner = self._inner(QRectF(0, 0, beside_bar, 100), row)
        return text_blocks(row, inner.width(), self.appearance.sizes, self.is_short)

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        """See Qt."""
        row: ListRow | ListHeading = index.data(ROW_ROLE)
        box = QRectF(option.rect)
        if isinstance(row, ListHeading):
            self._draw_heading(painter, row, box)
            return
        appearance = self.appearance
        theme, sizes = appearance.theme, appearance.sizes
        chosen = index.row() == chosen_index(self._rows).row()
        if chosen:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(theme.chosen))
            painter.drawRoundedRect(box.adjusted(0, 1, 0, -1), 5, 5)
        ink = QColor(theme.on_chosen if chosen else (theme.quiet if row.quiet else theme.text))
        faint = QColor(theme.on_chosen if chosen else theme.quiet)
        inner = self._inner(box, row)
        if row.ticked is not None:
            self._draw_tick(painter, self._tick_box(box), ink, is_on=row.ticked)
        if row.badge is not None:
            side = sizes.normal * 1.5
            place = QRectF(
                inner.left() - sizes.normal * 1.5 - sizes.small * 0.7,
                inner.center().y() - side / 2,
                side,
                side,
            )
            draw_badge(painter, row.badge, place, ink)
        for block in self._blocks(row):
            painter.setFont(block.face)
            painter.setPen(faint if block.faint else ink)
            line = QRectF(inner.left(), inner.top(), inner.width(), line_height(block.face))
            painter.drawText(line, IN_LINE | Qt.AlignmentFlag.AlignRight, block.right)
            for text in block.left:
                painter.drawText(line, IN_LINE, text)
                line.translate(0, line.height())
            inner.setTop(inner.top() + block.height)

    def _inner(self, box: QRectF, row: ListRow) -> QRectF:
        """Where the texts of a row stand in its box."""
        sizes = self.appearance.sizes
        side, edge = sizes.small * 0.6, sizes.small * (0.1 if self._is_close else 0.25)
        inner = box.adjusted(side, edge, -side, -edge)
        if row.ticked is not None:
            inner.setLeft(self._tick_box(box).right() + sizes.small * 0.6)
        if row.badge is not None:
            inner.setLeft(inner.left() + sizes.normal * 1.5 + sizes.small * 0.7)
        return inner

    def _tick_box(self, box: QRectF) -> QRectF:
        """Where the box to tick stands at the head of a row."""
        sizes = self.appearance.sizes
        side = sizes.normal * 1.2
        return QRectF(box.left() + sizes.small * 0.6, box.center().y() - side / 2, side, side)

    def _draw_tick(self, painter: QPainter, box: QRectF, ink: QColor, *, is_on: bool) -> None:
        """Draw the box to tick in the ink of its row."""
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(ink, 2))
        painter.drawRect(box)
        if is_on:
            painter.setPen(QPen(ink, box.width() * 0.16))
            corners = ((0.2, 0.52), (0.42, 0.76), (0.82, 0.24))
            painter.drawPolyline(
                [QPointF(box.left() + box.width() * x, box.top() + box.height() * y) for x, y in corners]
            )
        painter.restore()

    def editorEvent(
        self,
        event: QEvent,
        model: QAbstractItemModel,
        option: QStyleOptionViewItem,
        index: QModelIndex | QPersistentModelIndex,
    ) -> bool:
        """See Qt: a click on the box of a row is reported."""
        row = index.data(ROW_ROLE)
        if (
            isinstance(event, QMouseEvent)
            and event.type() == QEvent.Type.MouseButtonRelease
            and event.button() == Qt.MouseButton.LeftButton
            and isinstance(row, ListRow)
            and row.ticked is not None
            and event.position().x()
            <= self._tick_box(QRectF(option.rect)).right() + self.appearance.sizes.small * 0.3
        ):
            self.tick_clicked(index.row())
            return True
        return super().editorEvent(event, model, option, index)

    def _draw_heading(self, painter: QPainter, heading: ListHeading, box: QRectF) -> None:
        theme, sizes = self.appearance.theme, self.appearance.sizes
        above = sizes.small * (0.1 if self._is_close else 0.5)
        inner = box.adjusted(sizes.small * 0.6, above, -sizes.small * 0.6, 0)
        face = font(sizes.small, True)
        metrics = QFontMetricsF(face)
        lines = wrapped(heading.text, face, inner.width() - sizes.small * 0.8) if heading.text else [""]
        painter.setFont(face)
        painter.setPen(QColor(theme.quiet))
        height = inner.height() / len(lines)
        for at, text in enumerate(lines):
            line = QRectF(inner.left(), inner.top() + at * height, inner.width(), height)
            painter.drawText(line, IN_LINE, text)
        left = inner.left() + (metrics.horizontalAdvance(f"{text} ") if text else 0.0)
        painter.fillRect(QRectF(left, line.center().y(), inner.right() - left, 1), QColor(theme.line))
