"""One row of a bar chart: name, value and note, and below them the bar with its whisker on a scale of volts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen

from gui.widgets.appearance import Appearance, fitting_font_pixels, wrapped
from gui.widgets.badge import Badge, draw_badge
from gui.widgets.theme import IN_LINE, ORANGE, SKY_BLUE, VERMILLION, font, line_height

MIN_SCALE_VOLTS = 0.2
"""Small values must not look large: the scale goes at least this far."""

TARGET_ROOM = 1.3
"""The scale goes at least this many times as far as the target."""


@dataclass(frozen=True, slots=True)
class Bar:
    """What one row shows."""

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


@dataclass(frozen=True, slots=True)
class BarScale:
    """What all bars of a chart are drawn against, in volts."""

    full_volts: float
    """What the whole width stands for."""
    target_volts: float
    background_volts: float | None

    @classmethod
    def of(cls, bars: Sequence[Bar], target_volts: float, background_volts: float | None) -> BarScale:
        """Choose the round number of volts to which all bars, whiskers and lines fit.

        Args:
            bars: every row of the chart.
            target_volts: where the line of the target is.
            background_volts: where the line of the background is; None for no such line.
        """
        highest = max(
            [target_volts * TARGET_ROOM, background_volts or 0.0, MIN_SCALE_VOLTS]
            + [bar.volts + bar.u_volts for bar in bars if bar.volts is not None]
        )
        step = 10.0 ** -(1 if highest < 1 else 0) * (1 if highest < 10 else 10)
        full_volts = next(n * step for n in range(1, 1000) if n * step >= highest)
        return cls(full_volts, target_volts, background_volts)

    def lines(self, ink: QColor) -> list[tuple[float, QPen]]:
        """Where the lines are, in volts: target solid and wide, background dotted, distinct without colour too."""
        pens = [(self.target_volts, QPen(QColor(VERMILLION), 3))]
        if self.background_volts is not None:
            pens.append((self.background_volts, QPen(ink, 2, Qt.PenStyle.DotLine)))
        return pens


@dataclass(frozen=True, slots=True)
class RowTexts:
    """How the texts of a row are set."""

    pixels: int
    """Size of the name."""
    head: list[str]
    """Lines of the name."""
    note_beside: str
    """The note, where it has room on the line of the name."""
    note_below: list[str]
    """Lines of the note, where it has not."""
    value_below: bool = False
    """The value has a line of its own below the name, which would have too little room beside it."""


@dataclass(frozen=True, slots=True)
class BarPainter:
    """Sets and draws the rows of a chart."""

    appearance: Appearance
    width: float
    """Of the chart, in pixels."""
    has_badges: bool
    """Whether any row has one: all names are then set in by its width."""
    dense: bool
    """Rows are set closer, since not all of them find room."""

    @property
    def left(self) -> float:
        """Where names and bars begin, in pixels."""
        return self.appearance.sizes.small * (0.5 + (2.0 if self.has_badges else 0.0))

    @property
    def inner_width(self) -> float:
        """Of names and bars, in pixels."""
        return self.width - self.left - self.appearance.sizes.small * 0.5

    @property
    def _strip_height(self) -> float:
        return self.appearance.sizes.small * (0.4 if self.dense else 0.55)

    @property
    def _padding(self) -> float:
        return self.appearance.sizes.small * (0.15 if self.dense else 0.5)

    def texts(self, bar: Bar) -> RowTexts:
        """Set the texts of a row: a long name smaller, then wrapped; the note beside it or below it."""
        sizes, width = self.appearance.sizes, self.inner_width
        value_width = (
            QFontMetricsF(font(sizes.small, True)).horizontalAdvance(f"  {bar.value}") if bar.value else 0.0
        )
        largest = sizes.small if self.dense else sizes.normal
        least_width = QFontMetricsF(font(sizes.small, True)).horizontalAdvance(bar.head)
        value_below = value_width > width / 2 and least_width > width - value_width
        if value_below:
            value_width = 0.0
        pixels = fitting_font_pixels(bar.head, width - value_width, largest, sizes.small, True)
        head = wrapped(bar.head, font(pixels, True), width - value_width)
        if not bar.note:
            return RowTexts(pixels, head, "", [], value_below)
        small = font(sizes.small)
        head_width = QFontMetricsF(font(pixels, True)).horizontalAdvance(head[0])
        note_width = QFontMetricsF(small).horizontalAdvance(f"   {bar.note}")
        if len(head) == 1 and head_width + note_width <= width - value_width:
            return RowTexts(pixels, head, bar.note, [], value_below)
        return RowTexts(pixels, head, "", wrapped(bar.note, small, width), value_below)

    def height(self, bar: Bar) -> float:
        """Height of a row in pixels."""
        small, texts = self.appearance.sizes.small, self.texts(bar)
        height = line_height(font(texts.pixels, True)) * len(texts.head)
        height += line_height(font(small)) * len(texts.note_below)
        if texts.value_below:
            height += line_height(font(small, True))
        return height + (self._strip_height + small * 0.2 if bar.has_bar else 0.0) + self._padding

    def draw(self, painter: QPainter, bar: Bar, box: QRectF, scale: BarScale, chosen: bool) -> None:
        """Draw a row.

        Args:
            painter: where to draw.
            bar: what the row shows.
            box: the place of the whole row, in pixels.
            scale: volts of the whole width, and the lines through the bar.
            chosen: whether it is the chosen row.
        """
        theme, sizes = self.appearance.theme, self.appearance.sizes
        if chosen:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(theme.chosen))
            painter.drawRoundedRect(box.adjusted(0, 1, 0, -1), 5, 5)
        ink = QColor(theme.on_chosen if chosen else theme.quiet if bar.quiet else theme.text)
        faint = QColor(theme.on_chosen if chosen else theme.quiet)
        if bar.badge is not None:
            side = sizes.small * (1.3 if self.dense else 1.5)
            place = QRectF(box.left() + sizes.small * 0.5, box.center().y() - side / 2, side, side)
            draw_badge(painter, bar.badge, place, ink)
        bottom = self._draw_texts(painter, bar, box, ink, faint)
        if bar.has_bar:
            strip = QRectF(self.left, bottom + sizes.small * 0.05, self.inner_width, self._strip_height)
            _draw_bar(painter, bar, strip, scale, ink)

    def _draw_texts(self, painter: QPainter, bar: Bar, box: QRectF, ink: QColor, faint: QColor) -> float:
        """Draw name, value and note; returns the lower end of the last line."""
        small = font(self.appearance.sizes.small)
        small_metrics = QFontMetricsF(small)
        texts = self.texts(bar)
        face = font(texts.pixels, True)
        metrics = QFontMetricsF(face)
        line = QRectF(self.left, box.top() + self._padding / 3, self.inner_width, line_height(face))
        middle = IN_LINE
        bold = font(self.appearance.sizes.small, True)
        painter.setPen(ink)
        if not texts.value_below:
            painter.setFont(bold)
            painter.drawText(line, middle | Qt.AlignmentFlag.AlignRight, bar.value)
        if texts.note_beside:
            shift = metrics.horizontalAdvance(texts.head[0]) + small_metrics.horizontalAdvance("   ")
            painter.setFont(small)
            painter.setPen(faint)
            painter.drawText(line.adjusted(shift, 0, 0, 0), middle, texts.note_beside)
        painter.setFont(face)
        painter.setPen(ink)
        for text in texts.head:
            painter.drawText(line, middle, text)
            line.translate(0, line.height())
        if texts.value_below:
            painter.setFont(bold)
            line.setHeight(line_height(bold))
            painter.drawText(line, middle, bar.value)
            line.translate(0, line.height())
        painter.setFont(small)
        painter.setPen(faint)
        line.setHeight(line_height(small))
        for text in texts.note_below:
            painter.drawText(line, middle, text)
            line.translate(0, line.height())
        return line.top()


def _draw_bar(painter: QPainter, bar: Bar, strip: QRectF, scale: BarScale, ink: QColor) -> None:
    """The bar with its whisker, or an open place for it; and the lines of target and background."""

    def x(volts: float) -> float:
        return strip.left() + min(max(volts / scale.full_volts, 0.0), 1.0) * strip.width()

    painter.setBrush(Qt.BrushStyle.NoBrush)
    if bar.volts is None:
        painter.setPen(QPen(ink, 1, Qt.PenStyle.DotLine))
        painter.drawRect(strip)
    else:
        painter.setPen(QPen(ink, 1))
        painter.setBrush(QColor(ORANGE if bar.volts > scale.target_volts else SKY_BLUE))
        painter.drawRect(QRectF(strip.left(), strip.top(), x(bar.volts) - strip.left(), strip.height()))
        painter.setPen(QPen(ink, 2))
        low, high, middle = x(bar.volts - bar.u_volts), x(bar.volts + bar.u_volts), strip.center().y()
        painter.drawLine(QPointF(low, middle), QPointF(high, middle))
        for end in (low, high):
            painter.drawLine(QPointF(end, strip.top() + 2), QPointF(end, strip.bottom() - 2))
    for volts, pen in scale.lines(ink):
        painter.setPen(pen)
        painter.drawLine(QPointF(x(volts), strip.top() - 1), QPointF(x(volts), strip.bottom() + 2))
