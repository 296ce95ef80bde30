"""Bars with names: values with their whiskers on one scale, with the background and the target as lines through them.

A painted list; the chosen row stays in sight. Nothing is cut: names and notes are wrapped.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QMouseEvent, QPainter, QPaintEvent, QPen, QWheelEvent

from gui.model.visit_controller import VisitController
from gui.widgets.appearance import Appearance, VisitWidget, fitting_font_pixels, wrapped
from gui.widgets.badge import Badge, draw_badge
from gui.widgets.theme import ORANGE, SKY_BLUE, VERMILLION, font

LEAST_SCALE_VOLTS = 0.2
"""Small values must not look large: the scale goes at least this far."""


@dataclass(frozen=True, slots=True)
class Bar:
    """One row."""

    head: str
    value: str = ""
    """At the right of the first line, in words."""
    volts: float | None = None
    """Length of the bar; None: there is none yet, and its place stays open."""
    u_volts: float = 0.0
    """Half-width of the whisker: expanded uncertainty."""
    note: str = ""
    badge: Badge | None = None
    quiet: bool = False
    has_bar: bool = True
    """False: nothing is read here, so there is no place for a bar either."""


class BarChart(VisitWidget):
    """The list.

    Args:
        controller: the visit.
        appearance: theme and sizes.
        whole: takes the height that all rows need; else it keeps the chosen row in sight.
    """

    clicked = Signal(int)
    """A row was clicked."""

    def __init__(self, controller: VisitController, appearance: Appearance, whole: bool = False) -> None:
        super().__init__(controller, appearance)
        self.bars: tuple[Bar, ...] = ()
        self.chosen: int | None = None
        self.background_volts: float | None = None
        self.target_volts = 0.0
        self._whole = whole
        self._top = 0.0
        self.dense = False
        """Rows are set closer, since not all of them find room."""
        self._shown: tuple[object, ...] = ()

    def show_bars(
        self,
        bars: Sequence[Bar],
        chosen: int | None,
        target_volts: float,
        background_volts: float | None = None,
    ) -> None:
        """Show rows with the lines that they are held against, in volts."""
        shown = (tuple(bars), chosen, target_volts, background_volts)
        if shown == self._shown:
            return
        self._shown = shown
        self.bars, self.chosen = tuple(bars), chosen
        self.target_volts, self.background_volts = target_volts, background_volts
        self.setAccessibleName("; ".join(f"{bar.head} {bar.value} {bar.note}".strip() for bar in bars))
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
        """See `VisitWidget`."""
        super().set_appearance(appearance)
        self._keep_in_sight()
        self._take_height()

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(300, round(self._heights_sum() if self._whole else self.appearance.sizes.small * 12))

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        top = -self._top
        for index, height in enumerate(self._heights()):
            if top <= event.position().y() < min(top + height, self._room()):
                self.clicked.emit(index)
                return
            top += height

    def wheelEvent(self, event: QWheelEvent) -> None:
        """See Qt."""
        most = max(sum(self._heights()) - self._room(), 0.0)
        self._top = min(max(self._top - event.angleDelta().y() / 2, 0.0), most)
        self.update()

    def resizeEvent(self, event: object) -> None:
        """See Qt."""
        del event
        self._keep_in_sight()
        self._take_height()

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if self.bars:
            painter.save()
            painter.setClipRect(QRectF(0, 0, self.width(), self._room()))
            top = -self._top
            for index, (bar, height) in enumerate(zip(self.bars, self._heights(), strict=True)):
                # A row that is not whole in sight is not drawn: half a name is none.
                if top >= -1 and top + height <= self._room() + 1:
                    self._draw_row(painter, bar, QRectF(0, top, self.width(), height), index == self.chosen)
                top += height
            painter.restore()
            self._draw_thumb(painter)
            self._draw_foot(painter)
        painter.end()

    # --- places ------------------------------------------------------------------------------------------

    def _inner_left(self) -> float:
        has_badge = any(bar.badge is not None for bar in self.bars)
        return self.appearance.sizes.small * (0.5 + (2.0 if has_badge else 0.0))

    def _inner_width(self) -> float:
        return self.width() - self._inner_left() - self.appearance.sizes.small * 0.5

    def _lines(self, bar: Bar) -> tuple[int, list[str], str, list[str]]:
        """How a row's texts are set: pixels and lines of the name, note beside it, lines of the note below."""
        sizes, width = self.appearance.sizes, self._inner_width()
        beside = (
            QFontMetricsF(font(sizes.small, True)).horizontalAdvance(f"  {bar.value}") if bar.value else 0.0
        )
        most = sizes.small if self.dense else sizes.normal
        pixels = fitting_font_pixels(bar.head, width - beside, most, sizes.small, True)
        head = wrapped(bar.head, font(pixels, True), width - beside)
        if not bar.note:
            return pixels, head, "", []
        small = font(sizes.small)
        head_width = QFontMetricsF(font(pixels, True)).horizontalAdvance(head[0])
        note_width = QFontMetricsF(small).horizontalAdvance(f"   {bar.note}")
        if len(head) == 1 and head_width + note_width <= width - beside:
            return pixels, head, bar.note, []
        return pixels, head, "", wrapped(bar.note, small, width)

    def _height(self, bar: Bar) -> float:
        sizes = self.appearance.sizes
        pixels, head, _, note = self._lines(bar)
        texts = QFontMetricsF(font(pixels, True)).lineSpacing() * len(head)
        texts += QFontMetricsF(font(sizes.small)).lineSpacing() * len(note)
        return texts + sizes.small * ((self._strip_share() + 0.2 if bar.has_bar else 0.0) + self._pad_share())

    def _strip_share(self) -> float:
        """Height of a bar, in small text sizes."""
        return 0.4 if self.dense else 0.55

    def _pad_share(self) -> float:
        return 0.15 if self.dense else 0.5

    def _heights(self) -> list[float]:
        return [self._height(bar) for bar in self.bars]

    def _heights_sum(self) -> float:
        return sum(self._heights()) + self._foot()

    def _foot(self) -> float:
        return QFontMetricsF(font(self.appearance.sizes.small)).lineSpacing() * 1.25 if self.bars else 0.0

    def _room(self) -> float:
        """Height that the rows have."""
        return self.height() - self._foot()

    def _keep_in_sight(self) -> None:
        """The chosen row with the one after it; no room stays empty below the last row."""
        room = self._room()
        if not self._whole:
            self.dense = False
            self.dense = sum(self._heights()) > room
        heights = self._heights()
        total = sum(heights)
        if self.chosen is None or total <= room:
            self._top = 0.0
            return
        ends = [sum(heights[: i + 1]) for i in range(len(heights))]
        starts = [0.0, *ends[:-1]]
        wanted = ends[min(self.chosen + 1, len(ends) - 1)] - room
        wanted = min(max(wanted, 0.0), starts[self.chosen])
        # At a whole row.
        self._top = next((start for start in starts if start >= wanted - 0.5), 0.0)

    def _take_height(self) -> None:
        if self._whole and self.width() > 0:
            self.setFixedHeight(round(self._heights_sum()) + 2)
        elif not self._whole:
            self.setMinimumHeight(round(self.appearance.sizes.small * 10))

    def _scale_volts(self) -> float:
        """What the whole width stands for: a round number."""
        most = max(
            [self.target_volts * 1.3, self.background_volts or 0.0, LEAST_SCALE_VOLTS]
            + [bar.volts + bar.u_volts for bar in self.bars if bar.volts is not None]
        )
        step = 10.0 ** -(1 if most < 1 else 0) * (1 if most < 10 else 10)
        return next(n * step for n in range(1, 1000) if n * step >= most)

    # --- drawing -----------------------------------------------------------------------------------------

    def _draw_row(self, painter: QPainter, bar: Bar, box: QRectF, chosen: bool) -> None:
        theme, sizes = self.appearance.theme, self.appearance.sizes
        if chosen:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(theme.chosen))
            painter.drawRoundedRect(box.adjusted(0, 1, 0, -1), 5, 5)
        ink = QColor(theme.on_chosen if chosen else theme.quiet if bar.quiet else theme.text)
        faint = QColor(theme.on_chosen if chosen else theme.quiet)
        left, width = self._inner_left(), self._inner_width()
        if bar.badge is not None:
            side = sizes.small * (1.3 if self.dense else 1.5)
            place = QRectF(box.left() + sizes.small * 0.5, box.center().y() - side / 2, side, side)
            draw_badge(painter, bar.badge, place, ink)
        pixels, head, beside, below = self._lines(bar)
        face = font(pixels, True)
        metrics = QFontMetricsF(face)
        line = QRectF(left, box.top() + sizes.small * self._pad_share() / 3, width, metrics.lineSpacing())
        middle = Qt.AlignmentFlag.AlignVCenter
        painter.setFont(font(sizes.small, True))
        painter.setPen(ink)
        painter.drawText(line, middle | Qt.AlignmentFlag.AlignRight, bar.value)
        if beside:
            shift = metrics.horizontalAdvance(head[0]) + QFontMetricsF(font(sizes.small)).horizontalAdvance(
                "   "
            )
            painter.setFont(font(sizes.small))
            painter.setPen(faint)
            painter.drawText(line.adjusted(shift, 0, 0, 0), middle, beside)
        painter.setFont(face)
        painter.setPen(ink)
        for text in head:
            painter.drawText(line, middle, text)
            line.translate(0, line.height())
        painter.setFont(font(sizes.small))
        painter.setPen(faint)
        line.setHeight(QFontMetricsF(font(sizes.small)).lineSpacing())
        for text in below:
            painter.drawText(line, middle, text)
            line.translate(0, line.height())
        if bar.has_bar:
            strip = QRectF(left, line.top() + sizes.small * 0.05, width, sizes.small * self._strip_share())
            self._draw_strip(painter, bar, strip, ink)

    def _draw_strip(self, painter: QPainter, bar: Bar, strip: QRectF, ink: QColor) -> None:
        per_volt = strip.width() / self._scale_volts()

        def x(volts: float) -> float:
            return strip.left() + min(max(volts, 0.0) * per_volt, strip.width())

        painter.setBrush(Qt.BrushStyle.NoBrush)
        if bar.volts is None:
            painter.setPen(QPen(ink, 1, Qt.PenStyle.DotLine))
            painter.drawRect(strip)
        else:
            above = bar.volts > self.target_volts
            painter.setPen(QPen(ink, 1))
            painter.setBrush(QColor(ORANGE if above else SKY_BLUE))
            painter.drawRect(QRectF(strip.left(), strip.top(), x(bar.volts) - strip.left(), strip.height()))
            painter.setPen(QPen(ink, 2))
            low, high, middle = x(bar.volts - bar.u_volts), x(bar.volts + bar.u_volts), strip.center().y()
            painter.drawLine(QPointF(low, middle), QPointF(high, middle))
            for end in (low, high):
                painter.drawLine(QPointF(end, strip.top() + 2), QPointF(end, strip.bottom() - 2))
        self._draw_lines(painter, strip, x, ink)

    def _draw_lines(self, painter: QPainter, strip: QRectF, x: object, ink: QColor) -> None:
        assert callable(x)
        for volts, pen in self._line_pens(ink):
            painter.setPen(pen)
            painter.drawLine(QPointF(x(volts), strip.top() - 1), QPointF(x(volts), strip.bottom() + 2))

    def _line_pens(self, ink: QColor) -> list[tuple[float, QPen]]:
        """Target dashed, background dotted: told apart without colour."""
        pens = [(self.target_volts, QPen(QColor(VERMILLION), 3))]
        if self.background_volts is not None:
            pens.append((self.background_volts, QPen(ink, 2, Qt.PenStyle.DotLine)))
        return pens

    def _draw_thumb(self, painter: QPainter) -> None:
        """Where in the list the rows in sight are, if there are more."""
        total, room = sum(self._heights()), self._room()
        if total > room:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(self.appearance.theme.quiet))
            thumb = QRectF(self.width() - 4, room * self._top / total, 3, room * room / total)
            painter.drawRoundedRect(thumb, 1.5, 1.5)

    def _draw_foot(self, painter: QPainter) -> None:
        """What the lines mean, and how far the scale goes."""
        theme, sizes = self.appearance.theme, self.appearance.sizes
        face = font(sizes.small)
        metrics = QFontMetricsF(face)
        y = self._room() + self._foot() * 0.1
        left = self._inner_left()
        texts = [f"target {self.target_volts:g} V"]
        if self.background_volts is not None:
            texts.append(f"background {self.background_volts:.2f} V")
        painter.setFont(face)
        for text, (_, pen) in zip(texts, self._line_pens(QColor(theme.text)), strict=True):
            painter.setPen(pen)
            painter.drawLine(QPointF(left + 3, y + 3), QPointF(left + 3, y + metrics.height() - 3))
            painter.setPen(QColor(theme.quiet))
            painter.drawText(
                QRectF(left + 10, y, self.width(), metrics.height()), Qt.AlignmentFlag.AlignVCenter, text
            )
            left += 10 + metrics.horizontalAdvance(f"{text}   ")
        scale = f"scale {self._scale_volts():g} V"
        if left + metrics.horizontalAdvance(scale) <= self.width() - sizes.small * 0.5:
            place = QRectF(0, y, self.width() - sizes.small * 0.5, metrics.height())
            painter.drawText(place, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight, scale)
