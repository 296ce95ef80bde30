"""Bars with names: values with their whiskers on one scale, with the background and the target as lines through them.

A painted list; the chosen row stays in sight. Nothing is cut: names and notes are wrapped.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFocusEvent,
    QFont,
    QFontMetricsF,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
    QWheelEvent,
)

from gui.actions.spoken_text import set_spoken_name
from gui.widgets.appearance import Appearance, StyledWidget
from gui.widgets.bar_painter import Bar, BarPainter, BarScale
from gui.widgets.spoken_rows import SpokenRows
from gui.widgets.theme import font
from logger.metrology.rounding import fixed, plain
from logger.translation import tr

MIN_HEIGHT = 8
"""Of a chart that scrolls, in heights of a letter: three rows and the legend."""

LEGEND_GAP = "   "
"""Between two texts below the bars."""

MIN_LEGEND = 0.8
"""Their letters are not made smaller than this share of the window's small ones."""


class BarChart(StyledWidget):
    """The list of bars.

    Args:
        appearance: theme and sizes.
        name: what is listed, for who cannot see it.
        whole: takes the height that all rows need; else it keeps the chosen row in sight.
    """

    clicked = Signal(int)
    """A row was clicked, or gone to with the arrow keys."""
    activated = Signal(int)
    """A row was double-clicked, or Enter was pressed on it."""

    def __init__(self, appearance: Appearance, name: str, whole: bool = False) -> None:
        super().__init__(appearance)
        self.name = name
        self._spoken = SpokenRows(self)
        self._spoken.setAccessibleName(name)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.bars: tuple[Bar, ...] = ()
        self.chosen: int | None = None
        self._newest: int | None = None
        self.background_volts: float | None = None
        self.target_volts = 0.0
        self._whole = whole
        self._top = 0.0
        """How far the rows are scrolled, in pixels."""
        self.dense = False
        """Rows are set closer, since not all of them find room."""
        self._min_rows = 0
        self._shown: tuple[object, ...] = ()

    def keep_rows(self, min_rows: int) -> None:
        """Say how many rows, set close, stay in sight of a chart that scrolls; 0 for its least height.

        Args:
            min_rows: counted from the top.
        """
        if min_rows != self._min_rows:
            self._min_rows = min_rows
            self._take_height()

    def show_bars(
        self,
        bars: Sequence[Bar],
        chosen: int | None,
        target_volts: float,
        background_volts: float | None = None,
        newest: int | None = None,
    ) -> None:
        """Show rows with the lines that they are compared with.

        Args:
            bars: the rows from the top.
            chosen: index of the chosen row, which is kept in sight; None for none.
            target_volts: where the line of the target is.
            background_volts: where the line of the background is; None for no such line.
            newest: index of the row that was read last: kept in sight too, as far as there is room for both; None for
                none.
        """
        shown = (tuple(bars), chosen, target_volts, background_volts, newest)
        if shown == self._shown:
            return
        self._shown = shown
        self.bars, self.chosen, self._newest = tuple(bars), chosen, newest
        self.target_volts, self.background_volts = target_volts, background_volts
        texts = [", ".join(part for part in (bar.head, bar.value, bar.note) if part) for bar in bars]
        self._spoken.show_rows(texts, chosen)
        # What has the keyboard is the picture: its name is the chosen row, that of the list is what is listed.
        set_spoken_name(self, self.name if chosen is None else f"{self.name}: {texts[chosen]}")
        self._keep_in_sight()
        self._take_height()
        self.update()

    def set_dense(self, dense: bool) -> None:
        """Set the rows of a list that takes the height it needs closer, or as usual."""
        if dense is not self.dense:
            self.dense = dense
            self._take_height()
            self.update()

    def set_appearance(self, appearance: Appearance) -> None:
        """See `StyledWidget`."""
        super().set_appearance(appearance)
        self._keep_in_sight()
        self._take_height()

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(300, round(self._total_height() if self._whole else self.appearance.sizes.small * 12))

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        if (row := self._row_at(event.position().y())) is not None:
            self.clicked.emit(row)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        if (row := self._row_at(event.position().y())) is not None:
            self.activated.emit(row)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """The arrows go from row to row; see Qt."""
        steps = {
            Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1, Qt.Key.Key_PageUp: -6, Qt.Key.Key_PageDown: 6,
            Qt.Key.Key_Home: -len(self.bars), Qt.Key.Key_End: len(self.bars),
        }  # fmt: skip
        step = steps.get(Qt.Key(event.key()))
        if step is not None and self.bars:
            at = 0 if self.chosen is None else min(max(self.chosen + step, 0), len(self.bars) - 1)
            self.clicked.emit(at)
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and not event.isAutoRepeat():
            self.activated.emit(-1 if self.chosen is None else self.chosen)
        else:
            super().keyPressEvent(event)

    def focusInEvent(self, event: QFocusEvent) -> None:
        """See Qt."""
        super().focusInEvent(event)
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """See Qt."""
        super().focusOutEvent(event)
        self.update()

    def _row_at(self, y: float) -> int | None:
        top = -self._top
        for index, height in enumerate(self._row_heights()):
            if top <= y < min(top + height, self._rows_height()):
                return index
            top += height
        return None

    def wheelEvent(self, event: QWheelEvent) -> None:
        """See Qt."""
        furthest = max(sum(self._row_heights()) - self._rows_height(), 0.0)
        self._top = min(max(self._top - event.angleDelta().y() / 2, 0.0), furthest)
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._spoken.setGeometry(self.rect())
        self._keep_in_sight()
        self._take_height()

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if self.bars:
            scale = BarScale.of(self.bars, self.target_volts, self.background_volts)
            painter.save()
            painter.setClipRect(QRectF(0, 0, self.width(), self._rows_height()))
            rows = self._row_painter()
            top = -self._top
            for index, bar in enumerate(self.bars):
                height = rows.height(bar)
                # A row that is not whole in sight is not drawn: half a name is none.
                if top >= -1 and top + height <= self._rows_height() + 1:
                    box = QRectF(0, top, self.width(), height)
                    rows.draw(painter, bar, box, scale, index == self.chosen)
                top += height
            painter.restore()
            self._draw_scroll_mark(painter)
            self._draw_legend(painter, scale)
        if self.hasFocus():
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(self.appearance.theme.chosen), 2))
            painter.drawRect(self.rect().adjusted(1, 1, -1, -1))
        painter.end()

    # --- heights -----------------------------------------------------------------------------------------

    def _row_painter(self) -> BarPainter:
        return BarPainter(self.appearance, self.width(), self._has_badges(), self.dense)

    def _has_badges(self) -> bool:
        return any(bar.badge is not None for bar in self.bars)

    def _row_heights(self) -> list[float]:
        return [self._row_painter().height(bar) for bar in self.bars]

    def _total_height(self) -> float:
        return sum(self._row_heights()) + self._legend_height()

    def _legend_height(self) -> float:
        return QFontMetricsF(font(self.appearance.sizes.small)).lineSpacing() * 1.25 if self.bars else 0.0

    def _rows_height(self) -> float:
        """Height that the rows have."""
        return self.height() - self._legend_height()

    def _keep_in_sight(self) -> None:
        """Scroll to the chosen row, with the one read last and the next ones; no room stays empty below the last."""
        room = self._rows_height()
        if not self._whole:
            self.dense = False
            self.dense = sum(self._row_heights()) > room
        heights = self._row_heights()
        in_sight = self._newest if self.chosen is None else self.chosen
        if self._whole or in_sight is None or sum(heights) <= room:
            # A list that takes the height of all rows is never scrolled, whatever room it has by now.
            self._top = 0.0
            return
        ends = [sum(heights[: i + 1]) for i in range(len(heights))]
        starts = [0.0, *ends[:-1]]
        highest, newest = starts[in_sight], in_sight if self._newest is None else self._newest
        lowest = min(in_sight + 1, len(ends) - 1)
        if ends[max(newest, in_sight)] - starts[min(newest, in_sight)] <= room:
            highest, lowest = min(highest, starts[newest]), max(newest, in_sight)
            if ends[min(lowest + 1, len(ends) - 1)] - highest <= room:
                lowest = min(lowest + 1, len(ends) - 1)
        wanted = min(max(ends[lowest] - room, 0.0), highest)
        # At a whole row.
        self._top = next((start for start in starts if start >= wanted - 0.5), 0.0)

    def _take_height(self) -> None:
        if self._whole and self.width() > 0:
            self.setFixedHeight(round(self._total_height()) + 2)
        elif not self._whole:
            rows = BarPainter(self.appearance, self.width(), self._has_badges(), dense=True)
            wanted = sum(rows.height(bar) for bar in self.bars[: self._min_rows]) + self._legend_height()
            self.setMinimumHeight(ceil(max(wanted, self.appearance.sizes.small * MIN_HEIGHT)))

    # --- drawing -----------------------------------------------------------------------------------------

    def _draw_scroll_mark(self, painter: QPainter) -> None:
        """Where in the list the rows in sight are, if there are more."""
        total, room = sum(self._row_heights()), self._rows_height()
        if total > room:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(self.appearance.theme.quiet))
            mark = QRectF(self.width() - 4, room * self._top / total, 3, room * room / total)
            painter.drawRoundedRect(mark, 1.5, 1.5)

    def _draw_legend(self, painter: QPainter, scale: BarScale) -> None:
        """What the lines mean, and how far the scale goes."""
        theme, small = self.appearance.theme, self.appearance.sizes.small
        y = self._rows_height() + self._legend_height() * 0.1
        texts = [tr("target {volts} V").format(volts=plain(scale.target_volts))]
        if scale.background_volts is not None:
            texts.append(tr("background {volts} V").format(volts=fixed(scale.background_volts, 2)))
        face = font(small)
        needed = _legend_width(texts, face)
        if needed > self.width():  # a narrow list in a language with long words: smaller rather than cut
            face = font(int(small * max(self.width() / needed, MIN_LEGEND)))
            needed = _legend_width(texts, face)
        metrics = QFontMetricsF(face)
        gap = metrics.horizontalAdvance(LEGEND_GAP)
        # Below the bars, or further to the left where the texts need the room.
        left = max(min(self._row_painter().left, self.width() - needed), 0.0)
        painter.setFont(face)
        for text, (_, pen) in zip(texts, scale.lines(QColor(theme.text)), strict=True):
            painter.setPen(pen)
            painter.drawLine(QPointF(left + 3, y + 3), QPointF(left + 3, y + metrics.height() - 3))
            painter.setPen(QColor(theme.quiet))
            place = QRectF(left + 10, y, self.width(), metrics.height())
            painter.drawText(place, Qt.AlignmentFlag.AlignVCenter, text)
            left += 10 + metrics.horizontalAdvance(text) + gap
        full_scale = tr("scale {volts} V").format(volts=plain(scale.full_volts))
        if left + metrics.horizontalAdvance(full_scale) <= self.width() - small * 0.5:
            place = QRectF(0, y, self.width() - small * 0.5, metrics.height())
            painter.drawText(place, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight, full_scale)


def _legend_width(texts: Sequence[str], face: QFont) -> float:
    """What the texts below the bars need beside each other, each with its line, in pixels."""
    metrics = QFontMetricsF(face)
    gap = metrics.horizontalAdvance(LEGEND_GAP)
    return sum(10 + metrics.horizontalAdvance(text) + gap for text in texts) - gap
