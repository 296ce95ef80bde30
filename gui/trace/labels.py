"""Labels of a trace: each is put where it covers neither the curve nor another label.

In: what is to be labelled, in the order of its rank. Out: boxes with text; `paint_labels` draws them. What finds no
room has no label: its line or its ground stays, and the readout under the pointer names it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter

from gui.trace.curve_envelope import CurveEnvelope
from gui.widgets.theme import font
from logger.translation import tr

LONGEST_TEXT = 16
"""A label at a vertical line is as many small letters wide at most."""

FROM_OTHER_LINE = 12.0
"""Pixels between the free edge of a label and another line of its colour, whose label it would seem."""

FROM_CURVE = 4.0
"""Pixels between a label and the curve or the line above or below which it stands."""

_LEVEL_ROWS = 4.0
"""A label is no further from its level, in heights of it."""

MAX_STACKED = 2
"""Rows of labels one below the other at vertical lines: more would be a tower that hides the curve's place."""

_ROW = 1.15
"""From label to label, in heights of one."""

_LINE_SHARE = 0.8
"""Of the width of its label, that a line has to be long."""

_CENTRED_ROWS = (0, -1, 1, 2, 3)


@dataclass(frozen=True, slots=True)
class PlacedLabel:
    """A label at its place: its box in pixels, its lines, the colours of ground and text."""

    box: QRectF
    lines: tuple[str, ...]
    ground: str
    ink: str


class Labels:
    """Finds places for labels in one picture.

    Args:
        small: height of the text, in pixels.
        box: the picture; no label leaves it.
        curve: where the curve runs; None where there is none.
    """

    def __init__(self, small: int, box: QRectF, curve: CurveEnvelope | None = None) -> None:
        self._small = small
        self._box = box
        self._curve = curve
        self._taken: list[QRectF] = []
        self._lines: dict[str, list[float]] = {}
        self.placed: list[PlacedLabel] = []
        self.left_out: list[float] = []
        """Pixels of the vertical lines whose labels found no room."""

    def keep_free(self, box: QRectF) -> None:
        """Put nothing there."""
        self._taken.append(box)

    def expect_lines(self, xs: Iterable[float], ground: str) -> None:
        """Let no label at a vertical line seem to belong to another one of its colour.

        Args:
            xs: where such lines are, in pixels.
            ground: their colour, which is that of their labels.
        """
        self._lines.setdefault(ground, []).extend(xs)

    def narrowest_line(self) -> float:
        """The shortest line, in pixels, that `put_above` labels with a value."""
        return _LINE_SHARE * self.size(["0.0 V"])[0]

    def put_above(self, text: str, left: float, right: float, y: float, ground: str, ink: str) -> None:
        """Above a line from left to right, else below it, if it is long enough; beyond the curve if that is there.

        Args:
            text: the label.
            left: where the line begins, in pixels.
            right: where it ends.
            y: its height in the picture.
            ground: colour of the label.
            ink: colour of its text.
        """
        width, height = self.size([text])
        if right - left < _LINE_SHARE * width:
            return
        for at in (right - width - 4, (left + right - width) / 2, left + 4):
            at = max(at, left)
            for top in self._beside_curve(at, width, height, y):
                if self._put(QRectF(at, top, width, height), [text], ground, ink):
                    return

    def put_inside(self, text: str, left: float, right: float, y: float, ground: str, ink: str) -> None:
        """In the middle of a stretch, if it is wide enough.

        Args:
            text: the label.
            left: where the stretch begins, in pixels.
            right: where it ends.
            y: the middle of the label.
            ground: colour of the label.
            ink: colour of its text.
        """
        width, height = self.size([text])
        if right - left < width:
            return
        for row in _CENTRED_ROWS:
            top = y - height / 2 + _ROW * height * row
            if self._put(QRectF((left + right - width) / 2, top, width, height), [text], ground, ink):
                return

    def over_curve(self) -> Labels:
        """The same labels, of which the next may cover the curve: for one that has to be there."""
        other = Labels(self._small, self._box)
        other._taken, other.placed = self._taken, self.placed
        return other

    def put_centred(
        self, text: str, x: float, y: float, ground: str, ink: str, shift_share: float = 1.0
    ) -> bool:
        """Above a point, else a row higher or lower; returns whether there was room.

        Args:
            text: the label.
            x: the point, in pixels.
            y: its height in the picture.
            ground: colour of the label.
            ink: colour of its text.
            shift_share: of its width, by which it may be moved sideways to stay in the picture.
        """
        width, height = self.size([text])
        left = self._within(x - width / 2, width)
        if abs(left - (x - width / 2)) > shift_share * width:
            return False
        first = max(y - height - FROM_CURVE, self._box.top() + 2.0)
        return any(
            self._put(QRectF(left, first + _ROW * height * row, width, height), [text], ground, ink)
            for row in _CENTRED_ROWS
        )

    def put_along(self, text: str, x: float, ground: str, ink: str) -> None:
        """At a vertical line, as high as there is room: it begins at the line or ends there.

        It may begin at its line and cover another one, but its other end is at none of its colour. Where `MAX_STACKED`
        rows are taken by other labels already, it is left out and counted.

        Args:
            text: the label.
            x: where the line is, in pixels.
            ground: colour of the label.
            ink: colour of its text.
        """
        lines = [elided(text, self._small)]
        width, _ = self.size(lines)
        others = [line for line in self._lines.get(ground, ()) if abs(line - x) > 0.5]
        lefts = []
        has_room = x + width <= self._box.right()
        if has_room and not _is_near(x + width, others):
            lefts.append(x)
        # Ending at its line it covers another one only where it cannot begin there, as at the newest value.
        covers = any(x - width < line < x for line in others)
        if x - width >= self._box.left() and not _is_near(x - width, others) and not (has_room and covers):
            lefts.append(x - width)
        if not lefts or not self._put_in_rows(lines, lefts, self._box.top(), ground, ink, MAX_STACKED):
            self.left_out.append(x)

    def put_on_side(self, text: str, x: float, is_left: bool, ground: str, ink: str) -> bool:
        """On one side of a vertical line, as high as there is room; returns whether there was.

        Args:
            text: the label.
            x: where the line is, in pixels.
            is_left: whether it stands left of the line, else right of it.
            ground: colour of the label.
            ink: colour of its text.
        """
        left = x - self.size([text])[0] - FROM_CURVE if is_left else x + FROM_CURVE
        return self._put_in_rows([text], [left], self._box.top(), ground, ink, None)

    def put_counts(self, ground: str, ink: str) -> None:
        """Where labels of vertical lines were left out, how many: the readout under the pointer names them.

        Args:
            ground: colour of the labels.
            ink: colour of their text.
        """
        near = self.size([LONGEST_TEXT * "0"])[0]
        groups: list[list[float]] = []
        for x in sorted(self.left_out):
            if groups and x - groups[-1][0] <= near:
                groups[-1].append(x)
            else:
                groups.append([x])
        for group in groups:
            middle = sum(group) / len(group)
            self.put_lines(
                [tr("{count} more").format(count=len(group))],
                middle,
                self._box.top(),
                ground,
                ink,
                max_taken=MAX_STACKED + 1,
            )

    def put_lines(
        self, lines: list[str], x: float, y: float, ground: str, ink: str, max_taken: int | None = None
    ) -> bool:
        """Some lines at a vertical line, as near to a height as there is room; returns whether there was.

        Args:
            lines: the label.
            x: where the line is, in pixels.
            y: the wanted top of the label.
            ground: colour of the label.
            ink: colour of its text.
            max_taken: how many rows with other labels are looked through; None for all.
        """
        width, _ = self.size(lines)
        lefts = [self._within(at, width) for at in (x - width / 2, x + FROM_CURVE, x - width - FROM_CURVE)]
        return self._put_in_rows(lines, lefts, y, ground, ink, max_taken)

    def _put_in_rows(
        self, lines: list[str], lefts: list[float], y: float, ground: str, ink: str, max_taken: int | None
    ) -> bool:
        """Some lines at one of these left edges, as near to a height as there is room; returns whether there was.

        Args:
            lines: the label.
            lefts: its left edges, the best one first.
            y: the wanted top of the label.
            ground: colour of the label.
            ink: colour of its text.
            max_taken: how many rows with other labels are looked through; None for all.
        """
        width, height = self.size(lines)
        taken = 0
        for top in self._rows_from(y, height):
            for left in lefts:
                if self._put(QRectF(left, top, width, height), lines, ground, ink):
                    return True
            row = QRectF(lefts[0], top, width, height)
            taken += any(row.intersects(other) for other in self._taken)
            if taken == max_taken:
                return False
        return False

    def place_at_pointer(self, lines: list[str], x: float, y: float) -> QRectF | None:
        """The box of some lines beside the pointer; None where the curve leaves no room for it.

        It is put where no label is; if there is no such place, the labels under it have to yield.

        Args:
            lines: what the readout says.
            x: where the pointer is, in pixels.
            y: its height in the picture.
        """
        width, height = self.size(lines)
        away = 0.8 * self._small
        beside = [at for at in (x + away, x - width - away) if at == self._within(at, width)]
        lefts = beside or [self._within(x - width / 2, width)]
        free = [
            box
            for top in self._rows_from(y - height / 2, height)
            for left in lefts
            for box in [QRectF(left, top, width, height)]
            if self._curve is None or not self._curve.crosses(box)
        ]
        return next(
            (box for box in free if not any(box.intersects(t) for t in self._taken)), next(iter(free), None)
        )

    def size(self, lines: Iterable[str]) -> tuple[float, float]:
        """Width and height of a label with these lines, in pixels."""
        widths = [text_width(line, self._small) for line in lines]
        return max(widths) + self._small * 0.8, self._small * (1.25 * len(widths) + 0.25)

    def _beside_curve(self, left: float, width: float, height: float, y: float) -> Iterator[float]:
        """Tops of a label just above and just below a line, or the curve that runs along it."""
        extent = self._curve.extent(left, left + width) if self._curve is not None else None
        high, low = (min(y, extent[0]), max(y, extent[1])) if extent else (y, y)
        for top in (high - height - FROM_CURVE - 1, low + FROM_CURVE + 2):
            if abs(top + height / 2 - y) <= _LEVEL_ROWS * height:
                yield top

    def _rows_from(self, y: float, height: float) -> Iterator[float]:
        """Tops of a label at a height and then ever further from it, within the picture."""
        first, last = self._box.top() + self._small * 0.3, self._box.bottom() - self._small - height
        start = min(max(y, first), max(first, last))
        yield start
        for row in range(1, int(self._box.height() / (_ROW * height)) + 1):
            for top in (start + _ROW * height * row, start - _ROW * height * row):
                if first <= top <= last:
                    yield top

    def _within(self, left: float, width: float) -> float:
        return min(max(left, self._box.left()), self._box.right() - width)

    def _put(self, box: QRectF, lines: list[str], ground: str, ink: str) -> bool:
        if not self._box.contains(box):
            return False
        if any(box.intersects(other) for other in self._taken):
            return False
        if self._curve is not None and self._curve.crosses(box):
            return False
        self._taken.append(box)
        self.placed.append(PlacedLabel(box, tuple(lines), ground, ink))
        return True


def _is_near(x: float, lines: Iterable[float]) -> bool:
    """Whether a pixel is too near to one of these vertical lines to be told from it."""
    return any(abs(line - x) < FROM_OTHER_LINE for line in lines)


def paint_labels(painter: QPainter, labels: Iterable[PlacedLabel], small: int) -> None:
    """Draw labels at their places.

    Args:
        painter: paints the picture.
        labels: with their places.
        small: height of the text, in pixels.
    """
    painter.setFont(font(small, True))
    for label in labels:
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(label.ground))
        painter.drawRoundedRect(label.box, 4, 4)
        painter.setPen(QColor(label.ink))
        height = label.box.height() / len(label.lines)
        for index, line in enumerate(label.lines):
            place = QRectF(label.box.left(), label.box.top() + index * height, label.box.width(), height)
            painter.drawText(place, Qt.AlignmentFlag.AlignCenter, line)


@lru_cache(maxsize=2048)
def text_width(text: str, small: int) -> float:
    """Width of a label's text in pixels; measuring it costs as much as drawing it."""
    return QFontMetricsF(font(small, True)).horizontalAdvance(text)


@lru_cache(maxsize=2048)
def elided(text: str, small: int) -> str:
    """A text cut to the longest that a label at a vertical line has."""
    metrics = QFontMetricsF(font(small, True))
    return metrics.elidedText(text, Qt.TextElideMode.ElideRight, LONGEST_TEXT * small)
