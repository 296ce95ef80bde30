"""The page Before and after of the stage Night: two nights side by side, such as breakers on and breakers off."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent, QPen, QPolygonF

from gui.model.night_controller import NightController
from gui.model.visit_access import Message
from gui.model.wording import value_text
from gui.shell.prompt import Choice, Prompt
from gui.widgets.appearance import Appearance, StyledWidget, label
from gui.widgets.bar_chart import BarChart
from gui.widgets.bar_painter import Bar
from gui.widgets.page import TabPage
from gui.widgets.theme import ORANGE, font
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.night.analysis.distribution import LevelDistribution
from logger.night.night_job import SideBySide
from logger.night.night_text import compared_in_words, verdict

MAX_OTHERS = 9


class NightComparePage(TabPage):
    """The comparison.

    Args:
        night_controller: what the window does on the stage Night.
        appearance: theme and sizes.
    """

    page_name = "Before and after"

    def __init__(self, night_controller: NightController, appearance: Appearance) -> None:
        super().__init__(night_controller.controller, appearance)
        self.night_controller = night_controller
        self.headline = label("", "large")
        self.levels = BarChart(appearance, whole=True)
        self.picture = LevelsChart(appearance)
        self.sentence = label("", "small")
        self._hints = self.make_shortcuts(("C", "compare with another night"), ("N", "night screen"))
        for part in (self.headline, self.levels, self.picture, self.sentence):
            self.column.addWidget(part)
        self.column.addStretch(1)
        self.column.addWidget(self._hints)
        self.restyles(self.levels, self.picture)
        self.refresh()

    def refresh(self) -> None:
        """See `StyledWidget`."""
        if not self.isVisible():
            return
        found = self.night_controller.side_by_side()
        headline, sentence = self._texts(found)
        self.headline.setText(headline)
        self.sentence.setText(sentence)
        shown = found is not None and found.compared is not None
        self.levels.setVisible(shown)
        self.picture.setVisible(found is not None and found.levels is not None)
        if found is None:
            return
        if found.compared is not None:
            pairs = zip(("Before", "After"), found.names, found.compared[:2], strict=True)
            self.levels.show_bars(
                [
                    Bar(
                        when,
                        value_text(level.volts, level.u_volts),
                        level.volts,
                        COVERAGE_FACTOR * level.u_volts,
                        name,
                    )
                    for when, name, level in pairs
                ],
                None,
                self.controller.setup.stated.target_volts,
            )
        if found.levels is not None:
            self.picture.show_levels(found.levels)

    def primary_action(self) -> Message | None:
        """See `Page`."""
        return Message("Nothing is taken here; C chooses the night to compare with.", refused=True)

    def handle(self, name: str) -> bool:
        """See `Page`."""
        if name == "C":
            self._ask_other()
            return True
        return False

    def _texts(self, found: SideBySide | None) -> tuple[str, str]:
        if self.night_controller.comparison_refusal:
            return "Not comparable", self.night_controller.comparison_refusal
        if self.night_controller.other is None:
            return (
                "C chooses the night to compare with",
                "Such as a night with the breakers on and one with them off: the same bed, posture, meter and "
                "reference, and the laptop powered alike.",
            )
        if found is None:
            return "The nights are being compared …", ""
        if found.compared is None:
            return "Not comparable", compared_in_words(None)
        return f"After: {verdict(found.compared[2])}", compared_in_words(found.compared)

    def _ask_other(self) -> None:
        others = self.night_controller.other_nights()
        if not others:
            self.controller.message = Message(
                "There is no other night, neither in this visit nor in its folder.", refused=True
            )
            return
        self.prompt_requested.emit(
            Prompt(
                "Compare with which night?",
                "Whichever was recorded earlier counts as before.",
                tuple(
                    Choice(str(key), other.says, partial(self.night_controller.compare_with, other))
                    for key, other in enumerate(others[:MAX_OTHERS], 1)
                ),
            )
        )


class LevelsChart(StyledWidget):
    """For how long each level was held in both nights, on one axis: before filled, after as a line."""

    def __init__(self, appearance: Appearance) -> None:
        super().__init__(appearance)
        self._levels: tuple[LevelDistribution, LevelDistribution] | None = None

    def show_levels(self, levels: tuple[LevelDistribution, LevelDistribution]) -> None:
        """Show both."""
        self._levels = levels
        before, after = levels
        self.setAccessibleName(
            f"still level: median {before.median_volts:.3f} volts before, {after.median_volts:.3f} after"
        )
        self._take_height()
        self.update()

    def set_appearance(self, appearance: Appearance) -> None:
        """See `StyledWidget`."""
        super().set_appearance(appearance)
        self._take_height()

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(300, round(self.appearance.sizes.small * 12))

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
            painter.drawText(foot, side | Qt.AlignmentFlag.AlignVCenter, f"{volts:.3f} V")
        head = QRectF(box.left(), 0, box.width(), 1.5 * line)
        text = "Time at each level — before: filled, after: line"
        painter.drawText(head, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, text)

    def _take_height(self) -> None:
        self.setFixedHeight(self.sizeHint().height())
