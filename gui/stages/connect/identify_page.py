"""Find out what a meter sends: listen, ask if it is silent, compare with its display, keep it under a name.

`MeterSearch` does the work in a thread of its own, the live lines come from `LiveLines`; this page shows them and takes
the keys.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from enum import Enum, auto
from itertools import count

from PySide6.QtCore import QTimer, Signal
from PySide6.QtWidgets import QLineEdit

from gui.actions.registry import ActionRegistry
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.stages.connect.lines_view import LinesView
from gui.stages.connect.meter_search import MeterSearch
from gui.widgets.appearance import Appearance, label
from gui.widgets.page import Page, PrimaryAction
from logger.clock import SystemClock
from logger.errors import StillvoltError
from logger.meter.description import MeterDescription
from logger.meter.description_folder import list_descriptions, save
from logger.meter.identification import (
    KNOWN_QUERIES,
    FailureReason,
    IdentifiedMeter,
    IdentifyProgress,
    NotIdentified,
)
from logger.meter.line_format import LineFormat
from logger.meter.line_format_reader import reader_of
from logger.meter.line_format_search import Candidate, how_to_decide, matching_formats
from logger.meter.lines import LineStatus
from logger.meter.live_lines import LiveLines
from logger.meter.port import PortSettings
from logger.metrology.rounding import fixed
from logger.translation import marked, tr

REFRESH_MS = 100
"""How often new lines are shown while they are compared with the display."""

MAX_TAUGHT_LINES = 12
"""The display shows one of the newest lines; the typing takes some seconds."""


class IdentifyPhase(Enum):
    """What the page is doing, or is waiting for."""

    IDLE = auto()
    LOOKING = auto()
    SILENT = auto()
    NOT_FOUND = auto()
    FOUND = auto()
    ASKING_QUERY = auto()
    ASKING_SHOWN = auto()
    ASKING_NAME = auto()


_FIELD_CAPTIONS = {
    IdentifyPhase.ASKING_QUERY: marked("The question that the meter understands, such as READ?"),
    IdentifyPhase.ASKING_SHOWN: marked(
        "What does the meter's display show now? With its unit: 0.273 V, 273 mV"
    ),
    IdentifyPhase.ASKING_NAME: marked("A name for this meter"),
}


_BUTTONS: dict[tuple[IdentifyPhase, ...], tuple[str, ...]] = {
    (IdentifyPhase.LOOKING,): ("view.back",),
    (IdentifyPhase.SILENT,): ("identify.ask_known", "identify.ask_typed", "identify.again", "view.back"),
    (IdentifyPhase.NOT_FOUND,): ("identify.again", "view.back"),
    (IdentifyPhase.FOUND,): ("identify.use", "identify.teach", "identify.keep", "view.back"),
    (IdentifyPhase.ASKING_QUERY, IdentifyPhase.ASKING_SHOWN, IdentifyPhase.ASKING_NAME): (
        "identify.go_on",
        "view.back",
    ),
}
"""The buttons that are shown in each phase."""


# long: what is shown, typed and pressed changes with the phase of the search.
class IdentifyPage(Page):
    """Opened from the page Connect.

    Args:
        controller: what the window does with the visit.
        appearance: theme and sizes.
        actions: the actions of the window.
    """

    title = marked("Identify the meter")
    place = "identify"
    recording_requested = Signal(object)
    """Record with these `PortSettings`."""
    kept = Signal(object)
    """These `PortSettings` belong to a description that has just been kept."""

    def __init__(self, controller: VisitController, appearance: Appearance, actions: ActionRegistry) -> None:
        super().__init__(controller, appearance, actions)
        self.phase = IdentifyPhase.IDLE
        self.found: IdentifiedMeter | None = None
        self.form: LineFormat | None = None
        self._settings = PortSettings("")
        self._search: MeterSearch | None = None
        self._live_lines: LiveLines | None = None
        self._candidates: list[Candidate] = []
        self._records_next = False
        self._timer = QTimer(self, interval=REFRESH_MS)
        self._timer.timeout.connect(self.show_new_lines)
        self.message = label("")
        self.why = label("", "quiet")
        self.value = label("", wrap=False)
        self.lines = LinesView(appearance)
        self._caption = label("", "small")
        self.field = QLineEdit()
        self._buttons = {phases: self.make_buttons(*ids) for phases, ids in _BUTTONS.items()}
        self.field.returnPressed.connect(lambda: actions.trigger("identify.go_on"))
        self._bind()
        for part in (self.message, self.value, self.why):
            self.column.addWidget(part)
        self.column.addWidget(self.lines, 100)
        self.column.addStretch(1)
        self.column.addWidget(self._caption)
        self.column.addWidget(self.field)
        for buttons in self._buttons.values():
            self.column.addWidget(buttons)
        self.restyles(self.lines)
        self.refresh()

    # --- beginning and leaving ---------------------------------------------------------------------------

    def begin(self, settings: PortSettings, queries: Sequence[str] = ()) -> None:
        """Look at a port."""
        self.leave()
        self._settings = replace(settings, query=None, meter=None)
        self.found, self.form, self._candidates = None, None, []
        self.lines.show_lines(())
        self._go(IdentifyPhase.LOOKING)
        self.message.setText(tr("Listening …") if not queries else tr("Asking …"))
        self.why.setText("\n".join((settings.url, tr("Leave the meter on and sending."))))
        self._search = MeterSearch(self._settings, queries)
        self._search.progressed.connect(self._progressed)
        self._search.ended.connect(self._ended)
        self._search.start()

    def leave(self) -> None:
        """Stop everything and give the port back."""
        self._timer.stop()
        if self._search is not None:
            self._search.progressed.disconnect()
            self._search.ended.disconnect()
            self._search.stop()
            self._search = None
        if self._live_lines is not None:
            self._live_lines.stop()
            self._live_lines = None
        self._go(IdentifyPhase.IDLE)

    def escape(self) -> bool:
        """One step back; False when there is none but out of the page."""
        if self.phase is IdentifyPhase.ASKING_QUERY:
            self._go(IdentifyPhase.SILENT)
        elif self.phase in (IdentifyPhase.ASKING_SHOWN, IdentifyPhase.ASKING_NAME):
            self._records_next = False
            self._go(IdentifyPhase.FOUND)
        else:
            return False
        return True

    def _bind(self) -> None:
        def bind(action_id: str, run: Callable[[], object], *phases: IdentifyPhase) -> None:
            def why_not() -> str:
                return "" if self.phase in phases else tr("The search is not so far.")

            self.registry.bind(action_id, run, why_not)

        silent, not_found, found = IdentifyPhase.SILENT, IdentifyPhase.NOT_FOUND, IdentifyPhase.FOUND
        bind("identify.ask_known", lambda: self.begin(self._settings, KNOWN_QUERIES), silent)
        bind("identify.ask_typed", lambda: self._go(IdentifyPhase.ASKING_QUERY), silent)
        bind("identify.again", lambda: self.begin(self._settings), silent, not_found)
        bind("identify.teach", lambda: self._go(IdentifyPhase.ASKING_SHOWN), found)
        bind("identify.keep", self._ask_name, found)
        bind("identify.use", self._use, found)
        bind("identify.go_on", lambda: self._take_text(self.field.text().strip()), *_FIELD_CAPTIONS)

    def primary_action(self) -> PrimaryAction | None:
        """See `Page`."""
        if self.phase is not IdentifyPhase.FOUND:
            return None
        return PrimaryAction(
            tr("Use this meter and record"), lambda: self.registry.trigger("identify.use"), does="use"
        )

    def _ask_name(self) -> None:
        self._records_next = False
        self._go(IdentifyPhase.ASKING_NAME)

    def refresh(self) -> None:
        """See `StyledWidget`."""
        has_field = self.phase in _FIELD_CAPTIONS
        for phases, buttons in self._buttons.items():
            buttons.setVisible(self.phase in phases)
        self._caption.setText(tr(_FIELD_CAPTIONS.get(self.phase, "")))
        self._caption.setVisible(has_field)
        self.field.setVisible(has_field)
        self.lines.setVisible(bool(self.lines.lines))
        self.value.setVisible(bool(self.value.text()) and self.found is not None)
        self.value.setStyleSheet(f"font-size: {self.appearance.sizes.large}px; font-weight: bold;")

    # --- looking -----------------------------------------------------------------------------------------

    def _progressed(self, progress: IdentifyProgress) -> None:
        self.message.setText(f"{progress.doing} … {fixed(progress.elapsed_s, 0)} s")
        self.lines.show_lines(progress.lines)
        self.lines.setVisible(bool(progress.lines))

    def _ended(self, outcome: object) -> None:
        self._search = None
        if isinstance(outcome, IdentifiedMeter):
            self._show_found(outcome)
            return
        if isinstance(outcome, NotIdentified):
            silent = outcome.reason is FailureReason.SILENT
            self.message.setText(tr("The meter is silent") if silent else tr("No meter was recognised"))
            self.why.setText(outcome.why)
            self._go(IdentifyPhase.SILENT if silent else IdentifyPhase.NOT_FOUND)
        else:
            self.message.setText(tr("The port does not open"))
            self.why.setText(str(outcome))
            self._go(IdentifyPhase.NOT_FOUND)

    def _show_found(self, found: IdentifiedMeter) -> None:
        self.found = found
        self.lines.show_lines(found.lines)
        rate = tr("{rate} lines/s").format(rate=fixed(found.rate_hz, 1)) if found.rate_hz else ""
        query = found.settings.query
        parts = (found.settings.framing(), tr("asked {query}").format(query=query.strip()) if query else rate)
        self.message.setText(tr("Found: {meter}").format(meter=" · ".join(part for part in parts if part)))
        self.why.setText(f"{found.why}\n{found.describe_marks()}" if not found.needs_teaching else found.why)
        live_lines = LiveLines(found.settings, SystemClock())
        try:
            live_lines.start()
        except StillvoltError as error:
            self.why.setText(str(error))
            self._go(IdentifyPhase.NOT_FOUND)
            return
        self._live_lines = live_lines
        self._timer.start()
        self._go(IdentifyPhase.ASKING_SHOWN if found.needs_teaching else IdentifyPhase.FOUND)
        self._show_value()

    def show_new_lines(self) -> None:
        """Show what has come since."""
        if self._live_lines is None or not self._live_lines.poll():
            return
        if self._live_lines.trouble:
            self.why.setText(self._live_lines.trouble)
        if self._live_lines.lines:
            self.lines.show_lines(tuple(self._live_lines.lines))
            self._show_value()

    def _show_value(self) -> None:
        newest = self.lines.lines[-1] if self.lines.lines else None
        text = ""
        if newest is not None and newest.reading.status is not LineStatus.UNREADABLE:
            text = newest.describe_value()
        if text != self.value.text():
            self.value.setText(text)
            self.refresh()

    # --- what is typed -----------------------------------------------------------------------------------

    def _go(self, phase: IdentifyPhase) -> None:
        self.phase = phase
        self.registry.refresh()
        if phase is IdentifyPhase.IDLE:
            self.value.setText("")
        self.refresh()
        if phase in _FIELD_CAPTIONS:
            self.field.setText(_free_name() if phase is IdentifyPhase.ASKING_NAME else "")
            self.field.selectAll()
            self.field.setFocus()
        else:
            self.field.clearFocus()

    def _take_text(self, text: str) -> None:
        if not text:
            return
        if self.phase is IdentifyPhase.ASKING_QUERY:
            self.begin(self._settings, (text,))
        elif self.phase is IdentifyPhase.ASKING_SHOWN:
            self._teach(text)
        elif self.phase is IdentifyPhase.ASKING_NAME:
            self._keep(text)

    def _teach(self, shown: str) -> None:
        newest = [line.raw for line in self.lines.lines[-MAX_TAUGHT_LINES:]]
        try:
            candidates = matching_formats(newest, shown, self._candidates)
        except StillvoltError as error:
            self.why.setText(str(error))
            self._go(IdentifyPhase.ASKING_SHOWN)
            return
        if len(candidates) == 1:
            self._candidates = []
            self.form = candidates[0].line_format
            if self._live_lines is not None and self.form is not None:
                self._live_lines.set_reader(reader_of(self.form))
                self.lines.show_lines(tuple(self._live_lines.lines) or self.lines.lines)
            self.why.setText(
                tr("The display shows {value}. Does the value follow the display?").format(
                    value=candidates[0].describe()
                )
            )
            self._go(IdentifyPhase.FOUND)
            self._show_value()
            return
        self._candidates = candidates
        if candidates:
            self.why.setText(" ".join((tr("More than one number fits."), how_to_decide(candidates, newest))))
        else:
            self.why.setText(
                tr("No number of the newest lines is {shown}. Type what the display shows just now.").format(
                    shown=shown
                )
            )
        self._go(IdentifyPhase.ASKING_SHOWN)

    def _use(self) -> None:
        """Record; what was taught has to be kept first, since the recorder reads it from its file."""
        assert self.found is not None
        if self.form is not None:
            self._records_next = True
            self._go(IdentifyPhase.ASKING_NAME)
            return
        settings = self.found.settings
        self.leave()
        self.recording_requested.emit(settings)

    def _keep(self, name: str) -> None:
        assert self.found is not None
        description = MeterDescription(name, replace(self.found.settings, url=""), self.form)
        try:
            path = save(description)
        except StillvoltError as error:
            self.why.setText(str(error))
            self._go(IdentifyPhase.ASKING_NAME)
            return
        settings = description.settings(self.found.settings.url)
        self.controller.message = Message(tr("Kept as “{name}” in {path}").format(name=name, path=path))
        self.kept.emit(settings)
        if self._records_next:
            self._records_next = False
            self.leave()
            self.recording_requested.emit(settings)
        else:
            self.found = replace(self.found, settings=settings)
            self.form = None
            self._go(IdentifyPhase.FOUND)


def _free_name() -> str:
    taken = set(list_descriptions())
    names = (tr("Meter {number}").format(number=number) for number in count(1))
    return next(name for name in names if name not in taken)
