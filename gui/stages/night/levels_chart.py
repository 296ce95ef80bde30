"""For how long each level was held in two nights, on one axis."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent, QPen, QPolygonF

from gui.widgets.appearance import Appearance, StyledWidget
from gui.widgets.theme import ORANGE, font
from logger.metrology.rounding import fixed
from logger.night.analysis.distribution import LevelDistribution
from logger.translation import tr

HEIGHT = 12
LOW_HEIGHT = 7
"""Height of the whole, in letters of small text: as a rule, and where the window is low."""


class LevelsChart(StyledWidget):
    """For how long each level was held in both nights, on one axis: before filled, after as a line."""

    def __init__(self, appearance: Appearance) -> None:
        super().__init__(appearance)
        self._levels: tuple[LevelDistribution, LevelDistribution] | None = None
        self._is_low = False

    def show_levels(self, levels: tuple[LevelDistribution, LevelDistribution]) -> None:
        """Show both."""
        self._levels = levels
        before, after = levels
        self.setAccessibleName(
            tr(
                "steady level, middle value (median): {before} volts in the night before, {after} in the "
                "night after"
            ).format(before=fixed(before.median_volts, 3), after=fixed(after.median_volts, 3))
        )
        self._take_height()
        self.update()

    def set_low(self, is_low: bool) -> None:
        """Take less height, or as much as usual."""
        self._is_low = is_low
        self._take_height()

    def set_appearance(self, appearance: Appearance) -> None:
        """See `StyledWidget`."""
        super().set_appearance(appearance)
        self._take_height()

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(300, self.appearance.sizes.small * (LOW_HEIGHT if self._is_low else HEIGHT))

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        if self._levels is None:
            return
        before, after = self._levels
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        line = QFontMetricsF(font(self.appearance.sizes.small)).lineSpacing()
        box = QRectF(1, 1.6 * line, self.width() - 2, self.height() - 2.9 * line)
        painter.fillRect(box, QColor(self.appearance.theme.plot))
        highest = max(float(before.shares.max()), float(after.shares.max()), 1e-9)
        self._draw(painter, box, before, highest, filled=True)
        self._draw(painter, box, after, highest, filled=False)
        self._draw_words(painter, box, line)
        painter.end()

    def _draw(
        self, painter: QPainter, box: QRectF, levels: LevelDistribution, highest: float, *, filled: bool
    ) -> None:
        edges = levels.edges_volts
        low, high = float(edges[0]), float(edges[-1])

        def x(volts: float) -> float:
            return box.left() + (volts - low) / (high - low) * box.width()

        outline = QPolygonF([box.bottomLeft()])
        for share, left, right in zip(levels.shares, edges, edges[1:], strict=False):
            y = box.bottom() - float(share) / highest * box.height() * 0.94
            outline.append(QPointF(x(float(left)), y))
            outline.append(QPointF(x(float(right)), y))
        outline.append(box.bottomRight())
        hue = QColor(ORANGE if filled else self.appearance.theme.curve)
        painter.setPen(QPen(hue, 2))
        if filled:
            painter.setBrush(hue)
            painter.drawPolygon(outline)
        else:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawPolyline(outline)

    def _draw_words(self, painter: QPainter, box: QRectF, line: float) -> None:
        assert self._levels is not None
        edges = self._levels[0].edges_volts
        painter.setFont(font(self.appearance.sizes.small))
        painter.setPen(QColor(self.appearance.theme.quiet))
        foot = QRectF(box.left(), box.bottom(), box.width(), 1.3 * line)
        for volts, side in ((edges[0], Qt.AlignmentFlag.AlignLeft), (edges[-1], Qt.AlignmentFlag.AlignRight)):
            painter.drawText(foot, side | Qt.AlignmentFlag.AlignVCenter, f"{fixed(volts, 3)} V")
        head = QRectF(box.left(), 0, box.width(), 1.5 * line)
        text = tr("Time at each level — before: filled, after: line")
        painter.drawText(head, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, text)

    def _take_height(self) -> None:
        self.setFixedHeight(self.sizeHint().height())
