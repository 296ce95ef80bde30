"""The list of stages: the stages in the order of the work, how far each is, and below them the recorder."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QMouseEvent, QPainter, QPaintEvent

from gui.model.recorder_presence import waiting_word
from gui.model.stages import CONNECT, STAGES, Stage
from gui.model.visit_controller import VisitController
from gui.model.wording import clock_text, counted, duration_text
from gui.widgets.appearance import Appearance, VisitWidget
from gui.widgets.theme import BLUISH_GREEN, GREY, VERMILLION, font
from logger.clock import NS_PER_S


class StageList(VisitWidget):
    """Shows the stages; a click or the stage's number goes there."""

    stage_requested = Signal(object)
    """The `gui.model.stages.Stage` that was clicked."""

    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__(controller, appearance)
        self.current = CONNECT
        """The stage that the work is at."""
        self._rows: list[QRectF] = []

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(round(self.appearance.sizes.normal * 10.6), 200)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        for stage, row in zip(STAGES, self._rows, strict=False):
            if row.contains(event.position()):
                self.stage_requested.emit(stage)

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        theme, sizes = self.appearance.theme, self.appearance.sizes
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(theme.panel))
        normal = QFontMetricsF(font(sizes.normal, True)).lineSpacing()
        small = QFontMetricsF(font(sizes.small)).lineSpacing()
        row_height = normal + small + sizes.small * 0.75
        pad = sizes.small * 0.8
        self._rows = []
        for index, stage in enumerate(STAGES):
            row = QRectF(0, pad * 0.6 + index * (row_height + 4), self.width(), row_height)
            self._rows.append(row)
            self._draw_stage(painter, row, stage, normal, small)
        self._draw_recorder(painter, pad, normal, small)
        painter.end()

    def _draw_stage(self, painter: QPainter, row: QRectF, stage: Stage, normal: float, small: float) -> None:
        theme, sizes = self.appearance.theme, self.appearance.sizes
        chosen = stage is self.current
        if chosen:
            painter.fillRect(row, QColor(theme.chosen))
        ink = QColor(theme.on_chosen if chosen else theme.text)
        pad = sizes.small * 0.8
        mark = QRectF(pad, row.center().y() - sizes.small * 0.75, sizes.small * 1.5, sizes.small * 1.5)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.key))
        painter.drawRoundedRect(mark, 4, 4)
        painter.setPen(QColor(theme.on_key))
        painter.setFont(font(sizes.small, True))
        painter.drawText(mark, Qt.AlignmentFlag.AlignCenter, str(stage.number))
        left = mark.right() + pad
        top = row.top() + (row.height() - normal - small) / 2
        painter.setFont(font(sizes.normal, True))
        painter.setPen(ink)
        painter.drawText(
            QRectF(left, top, row.width() - left, normal), Qt.AlignmentFlag.AlignVCenter, stage.name
        )
        painter.setFont(font(sizes.small))
        painter.setPen(ink if chosen else QColor(theme.quiet))
        painter.drawText(
            QRectF(left, top + normal, row.width() - left, small),
            Qt.AlignmentFlag.AlignVCenter,
            stage.progress(self.controller),
        )

    def _draw_recorder(self, painter: QPainter, pad: float, normal: float, small: float) -> None:
        """Whether it records, since when, and what the meter sent that is no value."""
        theme, sizes = self.appearance.theme, self.appearance.sizes
        snapshot = self.controller.snapshot
        live = snapshot.live
        lines: list[str] = []
        dot, head = GREY, "Not recording"
        if live is not None:
            length_s = (live.beat_steady_utc_ns - live.run_started_utc_ns) / NS_PER_S
            if snapshot.recording:
                dot, head = (
                    (BLUISH_GREEN, "Recording") if live.port_state == "open" else (VERMILLION, "Port lost")
                )
                if snapshot.presence.waiting is not None:
                    dot, head = VERMILLION, waiting_word(snapshot.presence.waiting).capitalize()
                lines = [
                    f"since {clock_text(live.run_started_utc_ns, False)}",
                    f"log {duration_text(length_s)}",
                ]
            elif snapshot.stale and snapshot.presence.at_work:
                dot, head = VERMILLION, "No answer"
                lines = ["recorder still at work"]
            elif snapshot.stale:
                dot, head = VERMILLION, "Recorder cut off"
                lines = [f"kept to {clock_text(live.beat_utc_ns)}"]
            else:
                lines = [f"log {duration_text(length_s)}"]
            lines.append(counted(live.count_volts, "value"))
            refused = live.count_not_ac_volts + live.count_unreadable
            if refused:
                lines.append(f"{counted(refused, 'line')} refused")
            if live.count_overload:
                lines.append(f"{live.count_overload:,} overload")
        # Where the window is low, the first lines give way: what the meter sent that is no value stays.
        room = self.height() - self._rows[-1].bottom() - 2 * pad - normal * 1.2
        lines = lines[max(len(lines) - max(int(room / small), 0), 0) :]
        y = self.height() - pad - small * len(lines) - normal * 1.2
        painter.fillRect(QRectF(pad, y - pad * 0.8, self.width() - 2 * pad, 1), QColor(theme.line))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(dot))
        size = sizes.small * 0.75
        painter.drawEllipse(QRectF(pad, y + (normal - size) / 2, size, size))
        painter.setFont(font(sizes.small, True))
        painter.setPen(QColor(theme.text))
        width = self.width() - pad * 2 - size
        painter.drawText(
            QRectF(pad + size + pad * 0.6, y, width, normal), Qt.AlignmentFlag.AlignVCenter, head
        )
        painter.setFont(font(sizes.small))
        painter.setPen(QColor(theme.quiet))
        metrics = QFontMetricsF(painter.font())
        for index, line in enumerate(lines):
            box = QRectF(pad, y + normal * 1.15 + index * small, self.width() - 2 * pad, small)
            shown = metrics.elidedText(line, Qt.TextElideMode.ElideRight, box.width())
            painter.drawText(box, Qt.AlignmentFlag.AlignVCenter, shown)
