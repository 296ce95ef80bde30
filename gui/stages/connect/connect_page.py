"""The sheet of the stage Connect: choose the meter's port, start and stop recording."""

from __future__ import annotations

import contextlib
import json
from dataclasses import replace

from PySide6.QtCore import QPointF, Qt, Signal
from PySide6.QtGui import QPainter, QPaintEvent, QPolygonF
from PySide6.QtWidgets import QComboBox, QGridLayout, QLineEdit, QWidget

from gui.model.visit_controller import VisitController
from gui.model.wording import clock_text, counted, duration_text
from gui.widgets.appearance import Appearance, label, separator
from gui.widgets.page import Page
from gui.widgets.row_list import RowList
from gui.widgets.row_painter import ListRow
from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.meter.description import Description
from logger.meter.port import PortInfo, PortSettings, list_ports
from logger.simulation import SIMULATED_URL
from logger.simulation.practice_house import display_name
from logger.visit.storage.run_meter import not_kept_here
from logger.visit.storage.time_zone import zone_note

BAUDS = ("300", "600", "1200", "2400", "4800", "9600", "19200", "38400", "57600", "115200")
PARITIES = {"none": "N", "even": "E", "odd": "O", "mark": "M", "space": "S"}
LEVELS: dict[str, bool | None] = {"as the system sets it": None, "on": True, "off": False}


class ConnectPage(Page):
    """Ports by name and description; the free URL and the serial settings behind 'More'.

    Args:
        controller: the visit.
        appearance: theme and sizes.
        port: URL to choose first.
    """

    title = "Connect the meter"
    recording_requested = Signal()
    """Start or stop recording, whichever it is now."""
    identify_requested = Signal()
    """Find out what the meter at the chosen port sends."""
    meter_choice_requested = Signal()
    """Choose one of the kept meter descriptions."""

    def __init__(self, controller: VisitController, appearance: Appearance, port: str | None = None) -> None:
        super().__init__(controller, appearance)
        self._ports: list[PortInfo] = []
        self._settings = _first_settings(controller, port)
        runs = controller.log.runs.all()
        self._unknown_meter = not_kept_here(runs[-1]) if runs else None
        """The meter of the last run, where the visit was moved to a computer that does not know it."""
        self.at = 0
        self.list = RowList(appearance)
        self.list.itemClicked.connect(lambda item: self._choose(self.list.row(item)))
        self.more = self._make_more()
        self._more_note = label("Tab: next field. Optical cables need DTR or RTS.", "quiet", wrap=False)
        self._more_open = False
        self._state = label("", "quiet")
        self.lines_label = label("", "quiet")
        self._said = label("")
        zone = zone_note(runs[-1]) if runs else ""
        self._visit = label(f"Visit log: {controller.log.path}{zone and chr(10)}{zone}", "quiet")
        self._start_hints = self.make_shortcuts(
            ("Enter", "start recording"),
            ("I", "identify the meter"),
            ("K", "kept meters"),
            ("O", "ports or settings"),
            ("L", "look for ports again"),
            ("Y", "another visit, or a new one"),
        )
        self._stop_hints = self.make_shortcuts(("R", "stop recording"), ("Y", "another visit, or a new one"))
        self.column.addWidget(self._said)
        self.column.addWidget(self._state)
        self.column.addWidget(self.list, 1)
        self.column.addWidget(self.more)
        self.column.addWidget(self._more_note)
        self.column.addWidget(self._start_hints)
        self.column.addWidget(self._stop_hints)
        self.column.addStretch(0)
        self.column.addWidget(separator())
        self.column.addWidget(self.lines_label)
        self.column.addWidget(self._visit)
        self.look_for_ports()
        self._choose(next((i for i, p in enumerate(self._ports) if p.url == self._settings.url), 0))
        self.restyles(self.list)
        self.refresh()

    def settings(self) -> PortSettings:
        """The port as chosen."""
        url, baud, bits, parity, stop, dtr, rts = self.fields
        assert isinstance(url, QLineEdit)
        return replace(
            self._settings,
            url=url.text().strip(),
            baud=int(_text(baud)) if _text(baud).isdigit() else self._settings.baud,
            data_bits=int(_text(bits)),
            parity=PARITIES[_text(parity)],
            stop_bits=float(_text(stop)),
            dtr=LEVELS[_text(dtr)],
            rts=LEVELS[_text(rts)],
        )

    def use(self, settings: PortSettings) -> None:
        """Take over settings that were found or kept; without a url the chosen port stays."""
        settings = replace(settings, url=settings.url or self.settings().url)
        self._settings = settings
        url, *choices = self.fields
        assert isinstance(url, QLineEdit)
        for field, text in zip(choices, _texts(settings), strict=True):
            assert isinstance(field, QComboBox)
            if field.findText(text) < 0:
                field.addItem(text)
            field.setCurrentText(text)
        self.look_for_ports()
        if all(port.url != settings.url for port in self._ports):
            self._ports.insert(0, PortInfo(settings.url, "Port given by name"))
        self._choose(next(i for i, port in enumerate(self._ports) if port.url == settings.url))
        self.refresh()

    def look_for_ports(self) -> None:
        """List the ports again; the chosen one stays chosen if it is still there."""
        chosen = self._ports[self.at].url if self._ports else self._settings.url
        self._ports = list_ports()
        if all(port.url != chosen for port in self._ports):
            self._ports.insert(0, PortInfo(chosen, "Port given by name"))
        self.at = next(i for i, port in enumerate(self._ports) if port.url == chosen)
        self._show_ports()

    def handle(self, name: str) -> bool:
        """See `Page`."""
        if self.controller.snapshot.recording or self.controller.recording.starting:
            return False
        if name == "O":
            self._more_open = not self._more_open
        elif name in ("Up", "Down"):
            self._choose(self.at + (1 if name == "Down" else -1))
        elif name == "Return":
            self.recording_requested.emit()
        elif name == "L":
            self.look_for_ports()
        elif name == "T" and self._unknown_meter is not None:
            self._keep_meter(self._unknown_meter)
        elif name == "I":
            self.identify_requested.emit()
        elif name == "K":
            self.meter_choice_requested.emit()
        else:
            return False
        return True

    def refresh(self) -> None:
        """See `StyledWidget`."""
        snapshot, live = self.controller.snapshot, self.controller.snapshot.live
        busy = snapshot.recording or self.controller.recording.starting
        self.list.setVisible(not busy and not self._more_open)
        self.more.setVisible(not busy and self._more_open)
        self._more_note.setVisible(self.more.isVisibleTo(self))
        self._state.setVisible(not self.more.isVisibleTo(self))
        self._start_hints.setVisible(not busy)
        self._stop_hints.setVisible(snapshot.recording)
        refused = ""
        if live is not None and snapshot.recording:
            length = duration_text((live.beat_steady_utc_ns - live.run_started_utc_ns) / NS_PER_S)
            message = "The port is lost" if live.port_state == "lost" else "Recording"
            state = f"{display_name(live.port)}\nsince {clock_text(live.run_started_utc_ns)}, {length}"
            if live.port_state == "lost":
                state = (
                    f"{live.port_message}\nPut the cable back: recording goes on by itself, nothing is lost."
                )
        elif self.controller.recording.starting:
            message, state = "Opening the port …", display_name(self.settings().url)
        elif snapshot.stale and live is not None:
            message = "The recorder was cut off"
            state = f"Everything up to {clock_text(live.beat_utc_ns)} is kept. Enter starts it again."
        elif live is not None:
            message, state = "Not recording", "Enter goes on recording into this visit log."
        else:
            message = "Choose the port of the meter"
            state = "Enter starts recording. The window may be closed: the recorder goes on."
        if live is not None:
            parts = [counted(live.count_volts, "value"), f"{live.count_overload:,} overload"]
            parts.append(f"{live.count_not_ac_volts:,} not AC volts")
            parts.append(f"{live.count_unreadable:,} not readable")
            refused = "Lines from the meter: " + ", ".join(parts) + "."
            if live.last_refused:
                refused += f"\nLast line that is no value: {live.last_refused}."
        if (
            snapshot.notices
            and snapshot.recording
            and live is not None
            and snapshot.notices[-1].run_id == live.run_id
        ):
            notice = snapshot.notices[-1]
            refused += f"\n{clock_text(notice.utc_ns)}  {notice.message}"
        if not busy:
            state += self._meter_says()
        self._said.setText(message)
        self._state.setText(state)
        self.lines_label.setText(refused)
        self.lines_label.setVisible(bool(refused))

    def _keep_meter(self, meter: Description) -> None:
        """Keep the meter of the last run here, as the visit describes it."""
        if self.controller.setup.keep_meter(meter):
            self._unknown_meter = None

    def _meter_says(self) -> str:
        """Which kept meter is chosen, and what it is asked with."""
        settings = self._settings
        says = f"\nMeter: {settings.meter}" if settings.meter else ""
        if self._unknown_meter is not None and settings.meter == self._unknown_meter.name:
            says += ", not kept on this computer. T takes it over as the visit describes it."
        return says + (f"\nAsked with {settings.query.strip()}" if settings.query else "")

    def _choose(self, at: int) -> None:
        if self.controller.snapshot.recording or not self._ports:
            return
        self.at = min(max(at, 0), len(self._ports) - 1)
        url = self.fields[0]
        assert isinstance(url, QLineEdit)
        url.setText(self._ports[self.at].url)
        self._show_ports()

    def _show_ports(self) -> None:
        self.list.show_rows([_port_row(port) for port in self._ports], self.at)

    def _make_more(self) -> QWidget:
        settings = self._settings
        more = QWidget()
        grid = QGridLayout(more)
        grid.setContentsMargins(0, 0, 0, 0)
        url = QLineEdit(settings.url)
        baud = _combo(BAUDS, str(settings.baud))
        baud.setEditable(True)
        _, bits, parity, stop, dtr, rts = _texts(settings)
        self.fields: list[QWidget] = [
            url,
            baud,
            _combo(("8", "7", "6", "5"), bits),
            _combo(tuple(PARITIES), parity),
            _combo(("1", "1.5", "2"), stop),
            _combo(tuple(LEVELS), dtr),
            _combo(tuple(LEVELS), rts),
        ]
        names = ("Port or URL", "Baud rate", "Data bits", "Parity", "Stop bits", "DTR level", "RTS level")
        for row, (name, field) in enumerate(zip(names, self.fields, strict=True)):
            caption = label(name, "quiet", wrap=False)
            caption.setBuddy(field)
            grid.addWidget(caption, row, 0)
            grid.addWidget(field, row, 1)
        grid.setColumnStretch(1, 1)
        return more


def _texts(settings: PortSettings) -> tuple[str, str, str, str, str, str]:
    """What the fields behind 'More' say, but for the first."""
    parity = next(name for name, letter in PARITIES.items() if letter == settings.parity)
    dtr, rts = (
        next(name for name, value in LEVELS.items() if value is level)
        for level in (settings.dtr, settings.rts)
    )
    return str(settings.baud), str(settings.data_bits), parity, f"{settings.stop_bits:g}", dtr, rts


def _port_row(port: PortInfo) -> ListRow:
    name, _, rest = port.description.partition(" (")
    return ListRow(name, "", f"{port.url} · {rest.removesuffix(')')}" if rest else port.url)


class _Choice(QComboBox):
    """A combo box with the arrow that Qt leaves out of a styled one."""

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self.palette().text())
        x, y = self.width() - 15.0, self.height() / 2
        painter.drawPolygon(QPolygonF([QPointF(x - 5, y - 3), QPointF(x + 5, y - 3), QPointF(x, y + 4)]))


def _combo(choices: tuple[str, ...], chosen: str) -> QComboBox:
    combo = _Choice()
    combo.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
    combo.addItems(choices)
    if chosen not in choices:
        combo.addItem(chosen)
    combo.setCurrentText(chosen)
    return combo


def _text(field: QWidget) -> str:
    assert isinstance(field, QComboBox)
    return field.currentText().strip()


def _first_settings(controller: VisitController, port: str | None) -> PortSettings:
    """The port that was asked for, else the one this visit was last recorded from, else the simulated house."""
    if port is not None:
        return PortSettings(url=port)
    runs = controller.log.runs.all()
    if runs:
        # A log may come from anywhere: settings that cannot be read must not keep it from being opened.
        with contextlib.suppress(StillvoltError, ValueError, TypeError):
            return PortSettings.from_json(json.loads(runs[-1].settings))
        return PortSettings(url=runs[-1].port)
    return PortSettings(url=SIMULATED_URL)
