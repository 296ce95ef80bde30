"""The stage rail: the stages in the order of the work, how far each is, and below them the recorder."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QMouseEvent, QPainter, QPaintEvent

from gui.model.visit_controller import VisitController
from gui.model.wording import clock_text, counted, duration_text
from gui.widgets.appearance import Appearance, VisitWidget
from gui.widgets.theme import BLUISH_GREEN, GREY, VERMILLION, font
from logger.clock import NS_PER_S
from logger.metrology.checks import CheckKind
from logger.night.recorded_nights import counts_as_night
from logger.report.output_paths import report_path
from logger.visit.results.on_off_result import EVERYTHING_OFF, EVERYTHING_ON


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of the work."""

    name: str
    progress: Callable[[VisitController], str]
    """How far it is, in a few words."""
    done: Callable[[VisitController], bool]


def _connect_progress(controller: VisitController) -> str:
    snapshot = controller.snapshot
    if controller.recording.starting:
        return "opening"
    if snapshot.recording and snapshot.live is not None:
        return "port lost" if snapshot.live.port_state == "lost" else "recording"
    return "not recording"


def _prepare_progress(controller: VisitController) -> str:
    if controller.setup.power_contradiction():
        return "charger is in" if controller.setup.charger_plugged_in else "is on battery"
    if controller.setup.meter_difference():
        return "meter differs"
    missing = len(controller.setup.stated.missing())
    return f"{missing} not stated" if missing else "stated"


def _check_progress(controller: VisitController) -> str:
    return f"{controller.checks.passed_count()} of {len(CheckKind)} passed"


def _spots_progress(controller: VisitController) -> str:
    spots = len(controller.route.indoor_spots())
    if not spots:
        return "none yet"
    on, off = controller.readings.count_read(EVERYTHING_ON), controller.readings.count_read(EVERYTHING_OFF)
    return f"{on} on, {off} off of {spots}"


def _spots_done(controller: VisitController) -> bool:
    spots = len(controller.route.indoor_spots())
    return (
        spots > 0
        and controller.readings.count_read(EVERYTHING_ON)
        == controller.readings.count_read(EVERYTHING_OFF)
        == spots
    )


def _sources_progress(controller: VisitController) -> str:
    if not controller.snapshot.sources:
        return "none listed"
    named = sum(known.name is not None for known in controller.snapshot.known_steps())
    return f"{counted(named, 'step')} named" if named else f"{len(controller.snapshot.sources)} listed"


def _night_progress(controller: VisitController) -> str:
    if controller.snapshot.recording:
        return "recording"
    length_s = controller.snapshot.longest_recording_s
    return duration_text(length_s) if counts_as_night(length_s) else "none yet"


def _night_done(controller: VisitController) -> bool:
    return not controller.snapshot.recording and counts_as_night(controller.snapshot.longest_recording_s)


def _report_written(controller: VisitController) -> bool:
    return report_path(controller.log.path).exists()


CONNECT = Stage("Connect", _connect_progress, lambda controller: controller.snapshot.recording)
PREPARE = Stage("Prepare", _prepare_progress, lambda controller: not controller.setup.stated.missing())
CHECK = Stage("Check", _check_progress, lambda controller: controller.checks.passed_count() == len(CheckKind))
SPOTS = Stage("Spots", _spots_progress, _spots_done)
SOURCES = Stage("Sources", _sources_progress, lambda controller: bool(controller.snapshot.sources))
NIGHT = Stage("Night", _night_progress, _night_done)
REPORT = Stage(
    "Report", lambda controller: "written" if _report_written(controller) else "not written", _report_written
)
STAGES = (CONNECT, PREPARE, CHECK, SPOTS, SOURCES, NIGHT, REPORT)
"""The stages that exist, in the order of the work; each key is its place, counted from 1."""


class StageList(VisitWidget):
    """Shows the stages; a click or the stage's number goes there."""

    asked_for = Signal(int)

    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__(controller, appearance)
        self.current = 0
        self._rows: list[QRectF] = []

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(round(self.appearance.sizes.normal * 10.6), 200)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        for index, row in enumerate(self._rows):
            if row.contains(event.position()):
                self.asked_for.emit(index)

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
            self._draw_stage(painter, row, index, stage, normal, small)
        self._draw_recorder(painter, pad, normal, small)
        painter.end()

    def _draw_stage(
        self, painter: QPainter, row: QRectF, index: int, stage: Stage, normal: float, small: float
    ) -> None:
        theme, sizes = self.appearance.theme, self.appearance.sizes
        chosen = index == self.current
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
        painter.drawText(mark, Qt.AlignmentFlag.AlignCenter, str(index + 1))
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
                lines = [
                    f"since {clock_text(live.run_started_utc_ns, False)}",
                    f"log {duration_text(length_s)}",
                ]
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
        y = self.height() - pad - small * len(lines) - normal * 1.2
        painter.fillRect(QRectF(pad, y - pad * 0.8, self.width() - 2 * pad, 1), QColor(theme.line))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(dot))
        size = sizes.small * 0.75
        painter.drawEllipse(QRectF(pad, y + (normal - size) / 2, size, size))
        painter.setFont(font(sizes.small, True))
        painter.setPen(QColor(theme.text))
        room = self.width() - pad * 2 - size
        painter.drawText(QRectF(pad + size + pad * 0.6, y, room, normal), Qt.AlignmentFlag.AlignVCenter, head)
        painter.setFont(font(sizes.small))
        painter.setPen(QColor(theme.quiet))
        metrics = QFontMetricsF(painter.font())
        for index, line in enumerate(lines):
            box = QRectF(pad, y + normal * 1.15 + index * small, self.width() - 2 * pad, small)
            shown = metrics.elidedText(line, Qt.TextElideMode.ElideRight, box.width())
            painter.drawText(box, Qt.AlignmentFlag.AlignVCenter, shown)
