"""Every text that a window really draws, with its size, its colour and the ground under it.

Each widget is drawn into an SVG, which names text, size and ink of whatever is painted, by style sheets, labels and
painters alike; the ground is read from the picture of the whole window.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from xml.etree import ElementTree

import numpy as np
import wcag_contrast_ratio
from PySide6.QtCore import QBuffer, QIODevice, QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QImage, QPainter, QRegion, QTransform
from PySide6.QtSvg import QSvgGenerator
from PySide6.QtWidgets import QAbstractItemView, QApplication, QGraphicsView, QHeaderView, QTableView, QWidget

from gui.shell.readout import Readout
from gui.widgets.theme import font

_SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True, slots=True)
class Drawn:
    """One run of text."""

    text: str
    widget: str
    pixels: float
    ink: str
    """#RRGGBB"""
    ground: str
    """#RRGGBB, as it stands in the picture: the colour that most of the text's surroundings have."""
    beyond: float
    """How far it goes over the left or right edge of its widget, in pixels; 0 where it scrolls: trace, tables."""
    box: QRectF
    """Where of it can be seen, in pixels of the part that was asked about."""
    tip: str
    """What is shown while the pointer rests on its widget."""


def drawn_texts(part: QWidget) -> list[Drawn]:
    """Every text in sight of a window or a part of it that fills its own ground."""
    QApplication.processEvents()
    picture = _pixels(part.grab().toImage())
    out = []
    for widget in [part, *part.findChildren(QWidget)]:
        if widget.isVisible():
            out += list(_texts_of(widget, part, picture))
    return out


def overlapping(texts: list[Drawn]) -> list[tuple[str, str]]:
    """Texts of which one is drawn over the other."""
    inner = [text.box.adjusted(1, text.pixels * 0.2, -1, -text.pixels * 0.2) for text in texts]
    return [
        (texts[one].text, texts[other].text)
        for one in range(len(texts))
        for other in range(one + 1, len(texts))
        if inner[one].intersects(inner[other])
    ]


def faults(texts: list[Drawn]) -> list[object]:
    """What is wrong with how texts are drawn: over each other, cut, shortened without a tip, pale."""

    def rgb(colour: str) -> tuple[float, ...]:
        ink = QColor(colour)
        return ink.redF(), ink.greenF(), ink.blueF()

    wrong: list[object] = [("over each other", pair) for pair in overlapping(texts)]
    for text in texts:
        if text.beyond > 1:
            wrong.append(("cut", text.text, text.widget, text.beyond))
        is_own = text.widget == "QPushButton"  # Qt shortens none: there the dots say that something is asked
        if "…" in text.text.removesuffix(" …") and not text.tip and not is_own:
            wrong.append(("shortened without a tip", text.text, text.widget))
        # Source: W3C, WCAG 2.1, success criterion 1.4.3; a control that may not be used is exempt.
        if wcag_contrast_ratio.rgb(rgb(text.ink), rgb(text.ground)) < 3.0:
            wrong.append(("pale", text.text, text.widget, text.ink, text.ground))
    return wrong


def _texts_of(widget: QWidget, part: QWidget, picture: np.ndarray) -> Iterator[Drawn]:
    origin = widget.mapTo(part, QPoint())
    in_sight = QRectF(widget.visibleRegion().boundingRect())
    scrolled = isinstance(widget.parentWidget(), QGraphicsView | QTableView | QHeaderView)
    # A selected text is followed by the same one unselected, which is clipped to nothing: the first is what is seen.
    runs = {(run[0], run[-1].x(), run[-1].y()): run for run in reversed(list(_runs(_svg(widget))))}
    for text, pixels, bold, ink, at in runs.values():
        metrics = QFontMetricsF(font(round(pixels), bold))
        width = metrics.horizontalAdvance(text)
        box = QRectF(at.x(), at.y() - metrics.ascent(), width, metrics.height())
        seen = box.intersected(in_sight)
        if not text.strip() or seen.height() < metrics.height() / 2 or seen.width() < 1:
            continue  # scrolled out of sight
        beyond = max(-box.left(), box.right() - widget.width(), 0.0)
        shown = seen.translated(QPointF(origin)).intersected(QRectF(0, 0, picture.shape[1], picture.shape[0]))
        if shown.height() < metrics.height() / 2 or shown.width() < 1:
            continue  # on a page that is scrolled, beyond the edge of what is in sight
        ground = _ground(picture, shown, ink)
        over = 0.0 if scrolled else beyond
        tip = _tip_of_row(widget, seen) or widget.toolTip()
        if isinstance(widget, Readout):
            tip = widget.tip_at(seen.center())
        yield Drawn(text, type(widget).__name__, pixels, ink, ground, over, shown, tip)


def _tip_of_row(widget: QWidget, box: QRectF) -> str:
    """The tip of the row of a list that stands there; empty where there is none."""
    rows = widget.parentWidget()
    if not isinstance(rows, QAbstractItemView):
        return ""
    return rows.indexAt(box.center().toPoint()).data(Qt.ItemDataRole.ToolTipRole) or ""


def _svg(widget: QWidget) -> ElementTree.Element:
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    generator = QSvgGenerator()
    generator.setOutputDevice(buffer)
    generator.setSize(widget.size())
    generator.setViewBox(widget.rect())
    painter = QPainter(generator)
    QWidget.render(widget, painter, QPoint(), QRegion(), QWidget.RenderFlag(0))
    painter.end()
    return ElementTree.fromstring(bytes(buffer.data().data()))


def _runs(root: ElementTree.Element) -> Iterator[tuple[str, float, bool, str, QPointF]]:
    """Text, pixels, bold, ink and the left end of the baseline of each run."""

    def walk(
        element: ElementTree.Element, to_widget: QTransform
    ) -> Iterator[tuple[str, float, bool, str, QPointF]]:
        own = element.get("transform", "")
        if own.startswith("matrix("):
            m11, m12, m21, m22, dx, dy = map(float, own[7:-1].split(","))
            to_widget = QTransform(m11, m12, m21, m22, dx, dy) * to_widget
        if element.tag == f"{_SVG}text":
            at = to_widget.map(QPointF(float(element.get("x", 0)), float(element.get("y", 0))))
            yield (
                "".join(element.itertext()).strip("\n"),
                float(element.get("font-size", 0)) * to_widget.m22(),
                int(element.get("font-weight", 400)) > 500,
                element.get("fill", ""),
                at,
            )
        for child in element:
            yield from walk(child, to_widget)

    return walk(root, QTransform())


def _pixels(image: QImage) -> np.ndarray:
    """Shape (height, width), each pixel as 0xRRGGBB."""
    image = image.convertToFormat(QImage.Format.Format_RGB32)
    flat = np.frombuffer(image.constBits(), np.uint32).reshape(image.height(), image.bytesPerLine() // 4)
    return flat[:, : image.width()] & 0xFFFFFF


def _ground(picture: np.ndarray, box: QRectF, ink: str) -> str:
    """The commonest colour in a box a little larger than a text, other than the text's own."""
    at = box.adjusted(-2, 0, 2, 0).toRect()
    pixels = picture[max(at.top(), 0) : at.bottom() + 1, max(at.left(), 0) : at.right() + 1]
    colours, counts = np.unique(pixels, return_counts=True)
    counts[colours == int(ink[1:], 16)] = 0
    return f"#{colours[counts.argmax()]:06X}"
