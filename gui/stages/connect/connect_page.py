"""The page of the stage Connect: choose the meter's port, start and stop recording."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent

from gui.actions.registry import ActionRegistry
from gui.model.recorder_presence import waiting_head, waiting_text
from gui.model.visit_controller import VisitController
from gui.model.visit_snapshot import VisitSnapshot
from gui.model.wording import clock_text, counted, duration_text
from gui.stages.connect.port_fields import PortFields
from gui.widgets.appearance import Appearance, label, separator
from gui.widgets.page import Page, PrimaryAction
from gui.widgets.row_list import RowList
from gui.widgets.row_model import ListRow
from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.meter.description import MeterDescription
from logger.meter.port import PortInfo, PortSettings, is_simulated_port, list_ports
from logger.metrology.rounding import grouped
from logger.recording.own_runs import is_own_run
from logger.simulation.practice_switches import control_path_of, display_name, practice_url
from logger.translation import marked, tr, tr_kept
from logger.visit.records.imported_trace import imported_trace
from logger.visit.records.recording_records import Run
from logger.visit.records.simulated_run import SIMULATED_NOTE
from logger.visit.storage.run_meter import not_kept_here

NO_PORT = marked("Plug the meter's cable in, then look again; or choose the practice house.")

NO_PORT_CHOSEN = marked(
    "No port is chosen. Plug the meter's cable in and look again, or choose the practice house."
)

STOP_FIRST = marked("The visit is being recorded. Stop recording first.")

PRACTICE_CHOSEN = marked("Recording starts a simulation: every value is marked as simulated.")

TWO_ROWS = 4
"""Height of the list in heights of large letters: a meter's port and the practice house are both in sight."""


# long: one small method for each thing that is shown of port, meter and recording.
class ConnectPage(Page):
    """Ports by name and description; the free URL and the serial settings behind 'More'.

    Args:
        controller: the visit.
        appearance: theme and sizes.
        actions: the actions of the window.
        port: URL to choose first.
    """

    title = marked("Connect the meter")
    place = "connect"
    recording_requested = Signal()
    """Start or stop recording, whichever it is now."""
    identify_requested = Signal()
    """Find out what the meter at the chosen port sends."""
    meter_choice_requested = Signal()
    """Choose one of the kept meter descriptions."""

    def __init__(
        self,
        controller: VisitController,
        appearance: Appearance,
        actions: ActionRegistry,
        port: str | None = None,
    ) -> None:
        super().__init__(controller, appearance, actions)
        self._ports: list[PortInfo] = []
        runs = controller.log.runs.all()
        first = _first_settings(runs, port)
        self._settings = first.chosen
        self._offered = first.offered
        """Port and settings of the last run of a visit that was recorded elsewhere: chosen only when asked for."""
        self._was_simulated = bool(runs) and runs[-1].simulated
        """A meter's port is not chosen by itself in a visit that was simulated last."""
        self._unknown_meter = not_kept_here(runs[-1]) if runs else None
        """The meter of the last run, where the visit was moved to a computer that does not know it."""
        self._shown = False
        """Whether the parts of the page are there."""
        self.at: int | None = None
        """The chosen port; None while none is."""
        self.list = RowList(appearance, tr("Ports"))
        self.list.setMinimumHeight(TWO_ROWS * appearance.sizes.large)
        self.list.row_chosen.connect(self._choose_row)
        self.list.row_activated.connect(lambda _: actions.trigger("measure.record"))
        self.fields = PortFields(self._settings)
        self.fields.url.returnPressed.connect(lambda: actions.trigger("measure.record"))
        self._fields_note = label(tr("Optical cables need DTR or RTS."), "quiet", wrap=False)
        self._fields_shown = False
        self._state = label("", "quiet")
        self.lines_label = label("", "quiet")
        self._headline = label("")
        self._visit = label("", "quiet")
        self._start_buttons = self.make_buttons(
            "file.go_on", "file.visits", "connect.look", "connect.take_over", "connect.keep_meter",
            more=("connect.identify", "connect.meters", "connect.fields", "", "practice.examples"),
            short_texts={"file.visits": tr("Open a visit...")},
        )  # fmt: skip
        self._stop_buttons = self.make_buttons("measure.stop", "file.visits")
        self._bind()
        self.column.addWidget(self._headline)
        self.column.addWidget(self._state)
        self.column.addWidget(self.list, 1)
        self.column.addWidget(self.fields)
        self.column.addWidget(self._fields_note)
        self.column.addWidget(self._start_buttons)
        self.column.addWidget(self._stop_buttons)
        self.column.addStretch(0)
        self.column.addWidget(separator())
        self.column.addWidget(self.lines_label)
        self.column.addWidget(self._visit)
        self.look_for_ports()
        self.restyles(self.list)
        self._shown = True
        self.refresh()

    def settings(self) -> PortSettings:
        """The port as chosen."""
        return self.fields.read(self._settings)

    @property
    def ports(self) -> list[PortInfo]:
        """The ports that can be chosen, those of meters first."""
        return self._ports

    def use(self, settings: PortSettings) -> None:
        """Take over settings that were found or kept; without a URL the chosen port stays."""
        settings = replace(settings, url=settings.url or self.settings().url)
        self._settings = settings
        self.fields.show_settings(settings)
        self.look_for_ports()
        if settings.url and all(port.url != settings.url for port in self._ports):
            self._ports.insert(0, _port_by_name(settings.url))
        self._choose(_index_of(self._ports, settings.url))
        self.refresh()

    def look_for_ports(self) -> None:
        """List the ports again; the chosen one stays chosen, and where none is, a meter's port is chosen."""
        chosen = self._settings.url if self.at is None else self._ports[self.at].url
        meters = [port for port in list_ports() if not is_simulated_port(port.url)]
        own_house = practice_url(self.controller.log.path)
        self._ports = [*meters, PortInfo(own_house, marked("Practice house"))]
        if not chosen and meters and not self._was_simulated:
            chosen = meters[0].url
        if chosen and all(port.url != chosen for port in self._ports):
            self._ports.insert(0, _port_by_name(chosen))
        self._choose(_index_of(self._ports, chosen))

    def _use_offered(self) -> None:
        """Take over the port and settings of the last run of a visit that was recorded elsewhere."""
        if self._offered is not None:
            settings, self._offered = self._offered, None
            self.use(settings)

    def primary_action(self) -> PrimaryAction:
        """See `Page`."""
        if self.controller.recording.starting:
            return PrimaryAction(
                tr("Start recording"),
                self.recording_requested.emit,
                tr("The port is being opened."),
                does="record",
            )
        if self.controller.snapshot.recording:
            return PrimaryAction(
                tr("Go on to Prepare"), lambda: self.registry.trigger("stage.prepare"), does="prepare"
            )
        url = self.settings().url
        if control_path_of(url) is not None:
            return PrimaryAction(
                tr("Open the practice house"), self.recording_requested.emit, does="practise"
            )
        why_not = "" if url else tr(NO_PORT_CHOSEN)
        return PrimaryAction(tr("Start recording"), self.recording_requested.emit, why_not, does="record")

    def _bind(self) -> None:
        bind, free = self.registry.bind, self.why_not_free
        bind("connect.look", self.look_for_ports, free)
        bind("connect.identify", self.identify_requested.emit, free)
        bind("connect.meters", self.meter_choice_requested.emit, free)
        bind("connect.fields", self._toggle_fields, free)
        bind(
            "connect.take_over",
            self._use_offered,
            lambda: (
                free() or ("" if self._offered is not None else tr("This visit was not recorded elsewhere."))
            ),
        )
        bind(
            "connect.keep_meter",
            self._keep_unknown_meter,
            lambda: (
                free() or ("" if self._unknown_meter is not None else tr("This meter is known here already."))
            ),
        )

    def why_not_free(self) -> str:
        """Why the port cannot be changed now; empty where it can."""
        busy = self.controller.snapshot.recording or self.controller.recording.starting
        return tr(STOP_FIRST) if busy else ""

    def _toggle_fields(self) -> None:
        self._fields_shown = not self._fields_shown
        self.refresh()

    def _keep_unknown_meter(self) -> None:
        if self._unknown_meter is not None:
            self._keep_meter(self._unknown_meter)

    def refresh(self) -> None:
        """See `StyledWidget`."""
        snapshot = self.controller.snapshot
        busy = snapshot.recording or self.controller.recording.starting
        self.list.setVisible(not busy and not self._fields_shown)
        self.fields.setVisible(not busy and self._fields_shown)
        self._fields_note.setVisible(self.fields.isVisibleTo(self))
        self._state.setVisible(not self.fields.isVisibleTo(self))
        self._start_buttons.setVisible(not busy)
        self._start_buttons.buttons["connect.take_over"].setVisible(self._offered is not None)
        self._start_buttons.buttons["connect.keep_meter"].setVisible(self._unknown_meter is not None)
        self._stop_buttons.setVisible(snapshot.recording)
        headline, state = self._recording_text()
        if not busy:
            state += self._meter_text() + self._offered_text()
        if snapshot.salvage is not None:
            state += f"\n{snapshot.salvage.sentence}"
        counts = line_counts_text(snapshot)
        self._headline.setText(headline)
        self._state.setText(state)
        self.lines_label.setText(counts)
        visit = tr("Visit log: {path}").format(path=self.controller.log.path)
        self._visit.setText(f"{visit}\n{snapshot.zone_note}".rstrip("\n"))
        self._make_room()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._make_room()

    def _make_room(self) -> None:
        """Hide what is least needed where the window is too low for everything."""
        self._visit.show()
        self.lines_label.setVisible(bool(self.lines_label.text()))
        self.give_way((self._visit.hide, self.lines_label.hide))

    def _offered_text(self) -> str:
        """What this visit was last recorded with elsewhere, and how to take it over."""
        return "" if self._offered is None else "\n" + _used_last_text(self._offered, self._unknown_meter)

    def _recording_text(self) -> tuple[str, str]:
        """Whether it is recorded, in a few words, and in full."""
        snapshot, live = self.controller.snapshot, self.controller.snapshot.live
        if live is not None and snapshot.recording:
            if (waiting := snapshot.presence.waiting) is not None:
                return waiting_head(waiting), waiting_text(waiting)
            if live.port_state == "lost":
                note = tr("Put the cable back: recording goes on by itself, nothing is lost.")
                return tr("The port is lost"), f"{tr_kept(live.port_message)}\n{note}"
            length = duration_text((live.beat_steady_utc_ns - live.run_started_utc_ns) / NS_PER_S)
            since = tr("since {time}, {duration}").format(
                time=clock_text(live.run_started_utc_ns, snapshot.zone), duration=length
            )
            if snapshot.simulated:
                return tr(
                    "Recording a simulation"
                ), f"{display_name(live.port)}\n{since}\n{tr(SIMULATED_NOTE)}"
            return tr("Recording"), f"{display_name(live.port)}\n{since}"
        if self.controller.recording.starting:
            return tr("Opening the port …"), display_name(self.settings().url)
        if snapshot.stale and snapshot.presence.at_work:
            return (
                tr("The recorder does not answer"),
                tr("Its process is still at work: the computer may be very busy. What it recorded is kept."),
            )
        if snapshot.stale and live is not None:
            kept = tr("Everything up to {time} is kept.").format(
                time=clock_text(live.beat_utc_ns, snapshot.zone)
            )
            again = tr("It can be started again.") if self.settings().url else tr(NO_PORT)
            return tr("The recorder was cut off"), f"{kept} {again}"
        if self.at is None and any(not is_simulated_port(port.url) for port in self._ports):
            return tr("No port is chosen"), tr(
                "The last recording of this visit was simulated. Choose the practice house to go on practising, or "
                "the port of a meter."
            )
        if self.at is None:
            return tr("No port of a meter is there"), tr(NO_PORT)
        if is_simulated_port(self.settings().url):
            if control_path_of(self.settings().url) is not None:
                return tr("Practice house"), tr(PRACTICE_CHOSEN)
            return tr("Simulation that runs by itself"), tr(PRACTICE_CHOSEN)
        if live is not None:
            return tr("Not recording"), tr("Recording goes on in this visit log.")
        return (
            tr("Your own meter, or the practice house"),
            tr("Choose one; the big button then starts it."),
        )

    def _keep_meter(self, meter: MeterDescription) -> None:
        """Keep the meter of the last run here, as the visit describes it."""
        if self.controller.setup.keep_meter(meter):
            self._unknown_meter = None

    def _meter_text(self) -> str:
        """Which kept meter is chosen, and what it is asked with."""
        return "\n".join(["", *_meter_lines(self._settings, self._unknown_meter)])

    def _choose_row(self, at: int) -> None:
        self._choose(at)
        self.choice_made.emit()

    def _choose(self, at: int | None) -> None:
        if self._ports:
            self.at = None if at is None else min(max(at, 0), len(self._ports) - 1)
            self.fields.url.setText("" if self.at is None else self._ports[self.at].url)
        self._show_ports()
        if self._shown:
            self.refresh()

    def _show_ports(self) -> None:
        self.list.show_rows([_port_row(port) for port in self._ports], self.at)


def _used_last_text(offered: PortSettings, unknown: MeterDescription | None) -> str:
    text = tr("Used last in this visit, by somebody else or on another computer: {port}, {settings}.")
    if offered.meter:
        text = tr(
            "Used last in this visit, by somebody else or on another computer: {port}, {settings}, meter {meter}."
        )
    if unknown is not None and offered.meter == unknown.name:
        text = tr(
            "Used last in this visit, by somebody else or on another computer: {port}, {settings}, meter "
            "{meter}. This meter is not kept on this computer."
        )
    return text.format(port=offered.url, settings=offered.framing(), meter=offered.meter)


def _meter_lines(settings: PortSettings, unknown: MeterDescription | None) -> list[str]:
    lines = []
    if unknown is not None and settings.meter == unknown.name:
        lines.append(tr("Meter: {meter}, not kept on this computer").format(meter=settings.meter))
    elif settings.meter:
        lines.append(tr("Meter: {meter}").format(meter=settings.meter))
    if settings.query:
        lines.append(tr("Asked with {query}").format(query=settings.query.strip()))
    return lines


def line_counts_text(snapshot: VisitSnapshot) -> str:
    """How many lines came of each kind, and why the last one was not a value; empty before anything was recorded."""
    live = snapshot.live
    if live is None:
        return ""
    text = tr(
        "Lines from the meter: {values}, {overload} overload, {other} left out (on HOLD, late or not AC volts), "
        "{unreadable} not readable."
    ).format(
        values=counted(live.count_volts, "value"),
        overload=grouped(live.count_overload),
        other=grouped(live.count_not_ac_volts),
        unreadable=grouped(live.count_unreadable),
    )
    if live.last_refused:
        text += "\n" + tr("The last line that was left out: {reason}.").format(
            reason=tr_kept(live.last_refused)
        )
    newest = snapshot.notices[-1] if snapshot.notices else None
    if newest is not None and snapshot.recording and newest.run_id == live.run_id:
        text += f"\n{clock_text(newest.utc_ns, snapshot.zone)}  {tr_kept(newest.message)}"
    return text


def _port_by_name(url: str) -> PortInfo:
    """A port that the computer does not list."""
    if control_path_of(url) is not None:
        return PortInfo(url, marked("Practice house"))
    if is_simulated_port(url):
        return PortInfo(url, marked("Simulation that runs by itself"))
    return PortInfo(url, marked("Port entered by you"))


def _port_row(port: PortInfo) -> ListRow:
    if control_path_of(port.url) is not None:  # its URL says nothing to people
        return ListRow(tr(port.description), "", tr("Simulated: no meter needed. You switch everything."))
    name, _, rest = tr(port.description).partition(" (")
    where = f"{port.url} · {rest.removesuffix(')')}" if rest else port.url
    if is_simulated_port(port.url):
        return ListRow(name, "", where)
    return ListRow(name, "", tr("Your own meter at {port}").format(port=where))


@dataclass(frozen=True, slots=True)
class _FirstSettings:
    """What is chosen when the page is opened.

    Args:
        chosen: port and settings; the URL is empty where a meter's port is still to be found.
        offered: those of the last run, where it was recorded by somebody else; never chosen by themselves.
    """

    chosen: PortSettings
    offered: PortSettings | None = None


def _first_settings(runs: Sequence[Run], port: str | None) -> _FirstSettings:
    """The port that was asked for, else the one this user last recorded this visit from.

    What only the visit states is not chosen by itself, nor a simulated port: but for that of a visit that this user
    recorded last from one, so that no meter comes into a simulated visit unasked.

    Args:
        runs: of the visit, oldest first.
        port: URL that was asked for; None for none.
    """
    none = PortSettings("")
    if port is not None:
        return _FirstSettings(PortSettings(port))
    recorded = [run for run in runs if imported_trace(run) is None]  # a file is no port
    if not recorded:
        return _FirstSettings(none)
    last = recorded[-1]
    if last.simulated:
        own = is_simulated_port(last.port) and is_own_run(last)
        return _FirstSettings(PortSettings(last.port) if own else none)
    settings = PortSettings(last.port)
    # A log may come from anywhere: settings that cannot be read must not keep it from being opened.
    with contextlib.suppress(StillvoltError, ValueError, TypeError):
        kept = PortSettings.from_json(json.loads(last.settings))
        if not is_simulated_port(kept.url):
            settings = kept
    return _FirstSettings(settings) if is_own_run(last) else _FirstSettings(none, settings)


def _index_of(ports: Sequence[PortInfo], url: str) -> int | None:
    return next((i for i, port in enumerate(ports) if port.url == url), None)
