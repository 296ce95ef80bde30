"""One window's work on a visit, without a widget: the parts of it, and the refresh that keeps them up to date."""

from __future__ import annotations

from collections.abc import Callable

from gui.model.check_controller import CheckController
from gui.model.condition_controller import ConditionController
from gui.model.hands_free import HandsFree
from gui.model.mark_controller import MarkController
from gui.model.photo_controller import PhotoController
from gui.model.reading_controller import ReadingController
from gui.model.reading_corrections import ReadingCorrections
from gui.model.recording_controller import RecorderStart, RecordingController
from gui.model.route_controller import RouteController
from gui.model.setup_controller import SetupController
from gui.model.spot_detail_controller import SpotDetailController
from gui.model.undo_history import UndoHistory
from gui.model.visit_access import Message, VisitAccess
from gui.model.visit_file_watch import VisitFileWatch
from gui.model.visit_snapshot import VisitSnapshot
from logger.clock import Clock
from logger.diagnostics import log_exception
from logger.errors import StillvoltError
from logger.metrology.lengths import LengthUnit
from logger.recording.detached import start_detached
from logger.recording.watch.power import charger_plugged_in
from logger.sweep.switch_off_plan import PlanState
from logger.translation import tr
from logger.visit import VisitLog


class VisitController:
    """One window's work on a visit log.

    Args:
        log: open visit log.
        clock: injected time.
        start_recorder: starts a recorder process (a test gives its own).
        read_charger: tells whether the computer's charger is plugged in; None where that is not known.
    """

    def __init__(
        self,
        log: VisitLog,
        clock: Clock | None = None,
        start_recorder: RecorderStart = start_detached,
        read_charger: Callable[[], bool | None] = charger_plugged_in,
    ) -> None:
        self.access = VisitAccess(log, clock)
        self._message_shown = self.access.message
        self.snapshot.refresh(force=True)
        self.file_watch = VisitFileWatch(self.access)
        self.hands_free = HandsFree(self.snapshot)
        self.history = UndoHistory(self.access)
        self.condition = ConditionController(self.access)
        self.route = RouteController(self.access, self.condition, self.history)
        self.snapshot.condition_of_reading = self._condition_of_reading
        self.snapshot.newest_choice = lambda: self.route.choices[-1] if self.route.choices else None
        self.readings = ReadingController(
            self.access, self.route, self.condition, self.history, self.hands_free
        )
        self.marks = MarkController(self.access, self.history)
        self.corrections = ReadingCorrections(self.access, self.history)
        self.details = SpotDetailController(self.access, self.history)
        self.photos = PhotoController(self.access, self.history)
        self.setup = SetupController(self.access, self.history, self.corrections.reference, read_charger)
        self.checks = CheckController(self.access, self.setup)
        self.recording = RecordingController(self.access, start_recorder)
        self.length_unit = LengthUnit.METRES
        """In which unit lengths are shown and typed."""
        self.typed_in_feet: set[float] = set()
        """Lengths, in metres, that were typed with feet as their unit: they are shown in it whatever the setting is."""
        self.sweep_state: PlanState | None = None
        """How far the answer of the sweep is, as last worked out beside the window; None where there is none."""
        self.not_certain_yet = ""
        """What is not certain yet beside that answer, and which readings would make it certain; empty for nothing."""
        self.sweep_is_computing = False
        """The answer of the sweep is being worked out now, so that `sweep_state` is of what was read before."""
        self.report_is_being_written = False
        """A process beside the window writes the report now."""
        self.setup.poll_charger()
        self.setup.watch_meter()
        self.route.choose_last_read()

    @property
    def log(self) -> VisitLog:
        """The open visit log."""
        return self.access.log

    @property
    def snapshot(self) -> VisitSnapshot:
        """What is known of the visit log."""
        return self.access.snapshot

    @property
    def clock(self) -> Clock:
        """The time that this window goes by."""
        return self.access.clock

    def _condition_of_reading(self) -> str:
        chosen = self.route.chosen
        return self.condition.at(chosen) if chosen is not None else self.snapshot.condition

    @property
    def message(self) -> Message:
        """The outcome of the last action, for the user."""
        return self.access.message

    @message.setter
    def message(self, message: Message) -> None:
        self.access.message = message

    def do(self, action: Callable[[], str]) -> bool:
        """Change the log; see `VisitAccess.do`."""
        return self.access.do(action)

    def _on_unreadable(self, error: Exception) -> bool:
        """Take every value off the screen; whether that is news."""
        if not isinstance(error, StillvoltError):
            log_exception("reading the visit log for the window")
        reason = (
            str(error)
            if isinstance(error, StillvoltError)
            else tr("The visit log cannot be read ({error}).").format(error=error)
        )
        if reason == self.snapshot.unreadable:
            return False
        self.snapshot.set_unreadable(reason)
        self.access.refuse(reason)
        return True

    def _on_overwritten(self) -> bool:
        """Take every value off the screen, as what is in the file may be another home's; whether that is news."""
        reason = tr("{name} was overwritten by another program.").format(name=self.log.path.name)
        is_news = reason != self.snapshot.unreadable
        self.snapshot.set_unreadable(reason)
        return is_news

    def refresh(self, force: bool = False) -> bool:
        """Read what is new in the log, and let each part take it in.

        Args:
            force: read also the lists that only people change.

        Returns:
            Whether anything changed that is shown.
        """
        # Of the last refresh: an action that was done since, as in a dialog, changed what is to be shown.
        message = self._message_shown
        self.file_watch.poll()
        if self.file_watch.is_overwritten:
            return self._on_overwritten() or message is not self.message
        try:
            changed = self.snapshot.refresh(force)
        except Exception as error:
            # Whatever it is, no value may stay on the screen that nothing supports any more; it is tried again.
            return self._on_unreadable(error)
        if changed:
            self.route.keep_choice()
        self.recording.watch_end()
        self.recording.watch_start()
        self.recording.watch_notices()
        self.setup.watch_meter()
        self.photos.poll()
        changed = self.setup.poll_charger() or changed or message is not self.message
        self._message_shown = self.message
        return changed
