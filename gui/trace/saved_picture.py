"""A picture of the trace as a file: whole, with axes, name and date of the visit, and what of it is simulated.

In: the stretch and the height that are in sight. Out: a PNG or SVG file. It is drawn anew for the file, on a light
ground and at a size of its own, so that it can be printed.
"""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QBuffer, QIODevice, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QImage, QPainter, QPen
from PySide6.QtSvg import QSvgGenerator

from gui.model.visit_controller import VisitController
from gui.model.wording import date_text
from gui.trace.selected_stretch import SelectedStretch
from gui.trace.trace_axes import ClockAxis, VoltsAxis
from gui.trace.trace_marks import Scale, draw_curve
from gui.trace.trace_overlay import TraceOverlay
from gui.widgets.appearance import LIGHT, Appearance
from gui.widgets.theme import Sizes, font
from logger.errors import StillvoltError
from logger.output_file import refuse_outputs, write_whole
from logger.output_kind import GENERATOR, PICTURE_AUTHOR_KEY
from logger.translation import tr
from logger.visit.storage.time_zone import local_time, offset_of

SIZE = QSize(1600, 900)
"""Pixels of a picture: a page across at 150 dots an inch."""

SUFFIXES = (".png", ".svg")

_SIZES = Sizes(small=20, normal=24, large=32, value=100)


class SavedPicture:
    """Draws one stretch of the trace for a file.

    Args:
        controller: the visit.
        selection: the stretch that is selected, which is shown too.
        scale: times and volts in sight; the pixels of it do not matter.
        asks_labels: steps without a label ask for one.
    """

    def __init__(
        self, controller: VisitController, selection: SelectedStretch, scale: Scale, asks_labels: bool = False
    ) -> None:
        self._controller = controller
        self._in_sight = scale
        self._appearance = Appearance(LIGHT, _SIZES)
        self._time_axis, self._volts_axis = (
            ClockAxis(controller, self._appearance),
            VoltsAxis(self._appearance),
        )
        axes = self._time_axis, self._volts_axis
        self._overlay = TraceOverlay(controller.snapshot, selection, axes, self._appearance)
        self._overlay.asks_labels = asks_labels

    def write(self, path: Path, *, replace: bool = False) -> None:
        """Write the picture; its kind is that of the path's suffix.

        Args:
            path: the file.
            replace: whether the user has asked to replace what another program has written there.

        Raises:
            StillvoltError: the suffix is none of a picture, or `logger.output_file` refuses the path.
        """
        suffix = path.suffix.lower()
        if suffix not in SUFFIXES:
            raise StillvoltError(
                tr("{path} is neither a PNG nor an SVG file by its name.").format(path=path),
                tr("Nothing was written."),
                tr("Give the file a name that ends in .png or .svg."),
            )
        refuse_outputs([path], [self._controller.log.path], replace=replace)
        content = self._png() if suffix == ".png" else self._svg()
        write_whole(path, content, tr("The visit is not touched."))

    def _png(self) -> bytes:
        image = QImage(SIZE, QImage.Format.Format_RGB32)
        image.setText(PICTURE_AUTHOR_KEY, GENERATOR)
        image.setText("Title", self._title())
        painter = QPainter(image)
        self._paint(painter)
        painter.end()
        buffer = QBuffer()
        buffer.open(QIODevice.OpenModeFlag.WriteOnly)
        image.save(buffer, "PNG")  # type: ignore[call-overload]
        return bytes(buffer.data().data())

    def _svg(self) -> bytes:
        buffer = QBuffer()
        buffer.open(QIODevice.OpenModeFlag.WriteOnly)
        generator = QSvgGenerator()
        generator.setOutputDevice(buffer)
        generator.setSize(SIZE)
        generator.setViewBox(QRectF(0, 0, SIZE.width(), SIZE.height()))
        generator.setTitle(self._title())
        generator.setDescription(f"{PICTURE_AUTHOR_KEY}: {GENERATOR}")
        painter = QPainter(generator)
        self._paint(painter)
        painter.end()
        return bytes(buffer.data().data())

    def _title(self) -> str:
        return self._controller.log.path.stem

    def _when(self) -> str:
        """Date and times of the stretch, with the offset from UTC."""
        trace = self._controller.snapshot.trace
        ends_s = max(self._in_sight.start_s, 0.0), min(self._in_sight.end_s, self._controller.snapshot.now_s)
        start, end = (local_time(trace.utc_ns(at_s), self._controller.snapshot.zone) for at_s in ends_s)
        until = f"{end:%H:%M:%S}" if start.date() == end.date() else f"{date_text(end)} {end:%H:%M:%S}"
        return f"{date_text(start)} {start:%H:%M:%S} – {until} ({offset_of(start)})"

    def _paint(self, painter: QPainter) -> None:
        theme, small = self._appearance.theme, self._appearance.sizes.small
        metrics = QFontMetricsF(font(small))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(QRectF(0, 0, SIZE.width(), SIZE.height()), QColor(theme.plot))
        top = self._paint_head(painter)
        left = round(metrics.horizontalAdvance("00.00 V") + small * 1.5)
        box = QRectF(
            left, top, SIZE.width() - left - 2 * small, SIZE.height() - top - metrics.height() - 1.6 * small
        )
        scale = Scale(box, self._in_sight.start_s, self._in_sight.end_s, self._in_sight.top_volts)
        trace = self._controller.snapshot.trace
        line = trace.polyline(scale.start_s, scale.end_s, int(box.width()))
        self._overlay.show_curve(line)
        painter.save()
        painter.setClipRect(box)
        self._overlay.paint_behind(painter, scale)
        painter.setPen(QPen(QColor(theme.curve), 2))
        draw_curve(painter, line, scale)
        self._overlay.paint_before(painter, scale)
        painter.restore()
        # An SVG file of Qt has no clipping: what goes over the edge is covered.
        for beyond in (
            QRectF(0, 0, box.left(), SIZE.height()),
            QRectF(box.right(), 0, SIZE.width() - box.right(), SIZE.height()),
            QRectF(0, 0, SIZE.width(), box.top()),
            QRectF(0, box.bottom(), SIZE.width(), SIZE.height() - box.bottom()),
        ):
            painter.fillRect(beyond, QColor(theme.plot))
        self._paint_head(painter)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(theme.quiet), 1.5))
        painter.drawRect(box)
        self._paint_axes(painter, scale)

    def _paint_head(self, painter: QPainter) -> float:
        """Name, date and what is simulated; returns where the picture begins below them."""
        theme, sizes = self._appearance.theme, self._appearance.sizes
        room = QRectF(sizes.small, sizes.small * 0.6, SIZE.width() - 2 * sizes.small, sizes.large * 1.4)
        plain = QFontMetricsF(font(sizes.small))
        when = self._when()
        bold = font(sizes.normal, True)
        name_room = room.width() - plain.horizontalAdvance(when) - sizes.small * 2
        name = QFontMetricsF(bold).elidedText(self._title(), Qt.TextElideMode.ElideMiddle, name_room)
        painter.setFont(bold)
        painter.setPen(QColor(theme.text))
        painter.drawText(room, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, name)
        painter.setFont(font(sizes.small))
        painter.setPen(QColor(theme.quiet))
        painter.drawText(room, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, when)
        simulation = self._controller.snapshot.simulation
        if not simulation:
            return room.bottom() + sizes.small * 0.4
        mark = QRectF(room.left(), room.bottom(), room.width(), sizes.small * 1.8)
        painter.fillRect(mark, QColor(theme.ask))
        painter.setPen(QColor(theme.on_ask))
        painter.setFont(font(sizes.small, True))
        painter.drawText(mark, Qt.AlignmentFlag.AlignCenter, simulation)
        return mark.bottom() + sizes.small * 0.6

    def _paint_axes(self, painter: QPainter, scale: Scale) -> None:
        theme, small = self._appearance.theme, self._appearance.sizes.small
        metrics = QFontMetricsF(font(small))
        painter.setFont(font(small))
        painter.setPen(QColor(theme.quiet))
        box = scale.box
        for spacing, values in self._time_axis.tickValues(scale.start_s, scale.end_s, box.width())[:1]:
            texts = self._time_axis.tickStrings(values, 1.0, spacing)
            for value, text in zip(values, texts, strict=True):
                x, width = scale.x(value), metrics.horizontalAdvance(text)
                painter.drawLine(QPointF(x, box.bottom()), QPointF(x, box.bottom() + small * 0.3))
                if x - width / 2 >= 0 and x + width / 2 <= SIZE.width():
                    place = QRectF(x - width, box.bottom() + small * 0.4, 2 * width, metrics.height())
                    painter.drawText(place, Qt.AlignmentFlag.AlignCenter, text)
        for spacing, values in self._volts_axis.tickValues(0.0, scale.top_volts, box.height())[:1]:
            texts = self._volts_axis.tickStrings(values, 1.0, spacing)
            for value, text in zip(values, texts, strict=True):
                y = scale.y(value)
                painter.drawLine(QPointF(box.left() - small * 0.3, y), QPointF(box.left(), y))
                place = QRectF(0, y - metrics.height() / 2, box.left() - small * 0.5, metrics.height())
                painter.drawText(place, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, text)
