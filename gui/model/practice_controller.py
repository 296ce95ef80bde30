"""The practice house: which port is one, what is switched in it, and a night that is recorded in a minute."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial
from pathlib import Path

from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.model.worker_process import CancelRequested, Job, ProgressCallback, Work, WorkerProcess
from logger.errors import StillvoltError
from logger.night.night_entries import entered_for
from logger.recording.recorder_lock import is_recording
from logger.simulation.practice_switches import (
    PracticeHouse,
    Switch,
    SwitchGroup,
    SwitchPosition,
    control_path_of,
    is_house,
    make_control_file,
    practice_url,
)
from logger.translation import marked, tr

NO_HOUSE = marked(
    "The chosen port is a meter's. Choose the practice house on the stage Connect, a simulated home that you switch."
)
BY_ITSELF = marked(
    "In this simulation things happen by themselves. Stop recording, then choose the practice house on the stage "
    "Connect: you switch it."
)


NIGHT_RUNS = marked("A practice night is being recorded: a whole night passes in about a minute.")
SLEEPS_AT = marked("The person sleeps at “{spot}”.")
DATED_BACK = marked(
    "It stands under the last evening before this visit: a whole night has to be over by now."
)


class PracticeController:
    """A simulated house that the user switches.

    Args:
        controller: the visit.
        start: begins long work (a test gives its own).
    """

    def __init__(self, controller: VisitController, start: Callable[[Work], Job] = WorkerProcess) -> None:
        self.controller = controller
        self._start = start
        self._house: PracticeHouse | None = None
        self._night: Job | None = None
        self._awaited_url = ""
        """The house whose night begins once the recording has ended; empty: none is awaited."""
        self._night_message = Message("")
        """The last message about the night."""

    # --- the house ---------------------------------------------------------------------------------------

    def own_url(self) -> str:
        """The practice house of this visit's own."""
        return practice_url(self.controller.log.path)

    def open(self, url: str) -> bool:
        """Open the house of a port; False when that cannot be (`controller.message` says why)."""
        if not is_house(url) or control_path_of(url) is None:
            self.controller.message = Message(tr(BY_ITSELF if is_house(url) else NO_HOUSE), refused=True)
            return False
        if self._house is None or self._house.url != url:
            try:
                make_control_file(url)
                self._house = PracticeHouse(url)
            except StillvoltError as error:
                self.controller.message = Message(str(error), refused=True)
                return False
        return True

    def refresh(self) -> None:
        """Take in what anybody has switched in the house."""
        if self._house is not None:
            self._house.refresh()

    def groups(self) -> Sequence[SwitchGroup]:
        """The switches, by where they are; none while no house is open."""
        return self._house.groups() if self._house is not None else ()

    def switches(self) -> list[Switch]:
        """The same, one after the other."""
        return [switch for group in self.groups() for switch in group.switches]

    def switch(self, position: SwitchPosition) -> None:
        """Put a switch into a position.

        Raises:
            StillvoltError: the command could not be written.
        """
        assert self._house is not None
        self._house.switch(position)

    # --- a night in a minute -----------------------------------------------------------------------------

    @property
    def records_night(self) -> bool:
        """Whether a night is being recorded, or begins as soon as the recording has ended."""
        return self._night is not None or bool(self._awaited_url)

    def night_progress(self) -> str:
        """How far the night is; empty while there is none."""
        if self._night is None:
            return tr("Night: the recording ends first …") if self._awaited_url else ""
        return self._night.progress or tr("Night: it begins …")

    @property
    def _is_recorded(self) -> bool:
        """Whether a recording is at work, which has to end before a night begins."""
        return self.controller.snapshot.recording or self.controller.recording.starting

    def why_no_night(self, url: str) -> str:
        """Why no night can be recorded or cancelled now, in a whole sentence; empty where one can.

        Args:
            url: of the port that is recorded or chosen; while it is a practice house, it is asked whether that ends.
        """
        if self.records_night or not self._is_recorded:
            return ""
        if self.controller.recording.starting:
            return tr("The recording is just beginning.")
        if control_path_of(url) is None:
            return tr("The visit is being recorded from a meter. Stop recording first.")
        return ""

    def record_or_cancel_night(self, url: str) -> None:
        """Record a night into this visit, as a run of its own; cancel the one that is being recorded."""
        if self._night is not None:
            self._night.cancel()
            self._show_night_message(tr("The night is being called off …"))
        elif self._awaited_url:
            self._awaited_url = ""
            self._show_night_message(tr("The night was called off before it began."))
        elif self.open(url):
            self._begin_night(url)

    def stop_and_record_night(self, url: str) -> None:
        """Ask the recorder to end its run; once it has ended, `has_news` begins the night."""
        if not self.open(url):
            return
        self.controller.recording.stop()
        if not self.controller.message.refused:
            self._awaited_url = url
            self._show_night_message(tr("The recording is ending; then the night begins."))

    def _begin_night(self, url: str) -> None:
        self._night = self._start(partial(_record_night, self.controller.log.path, url))
        assert self._house is not None  # it was opened when the night was asked for
        self._house.refresh()
        where = entered_for(self.controller.snapshot.night_spots, (), self.controller.clock.utc_ns())
        sleeps = tr(SLEEPS_AT).format(spot=where.name) if where is not None and where.is_known else ""
        self._show_night_message(" ".join(filter(None, (tr(NIGHT_RUNS), sleeps, tr(DATED_BACK)))))

    def _begin_awaited_night(self) -> bool:
        """Begin the night that was asked for during a recording, where that has ended; False where it has not."""
        # The recorder gives its lock back a little after its run has ended.
        if not self._awaited_url or self._is_recorded or is_recording(self.controller.log.path):
            return False
        url, self._awaited_url = self._awaited_url, ""
        self._begin_night(url)
        return True

    def has_news(self) -> bool:
        """Take in the progress of the night; True when anything is new."""
        was, self.controller.snapshot.practice_night = (
            self.controller.snapshot.practice_night,
            self.night_progress(),
        )
        night = self._night
        if night is None:
            return self._begin_awaited_night() or was != self.controller.snapshot.practice_night
        if not night.poll():
            return was != self.controller.snapshot.practice_night
        if night.done:
            self._night, self.controller.snapshot.practice_night = None, ""
            self.controller.message = Message(night.refusal or str(night.result), refused=bool(night.refusal))
            return True
        self.controller.snapshot.practice_night = self.night_progress()
        if self.controller.message is self._night_message:  # no other message in between
            text = tr("{progress}. Its times are those of an evening before this visit.").format(
                progress=night.progress
            )
            self._show_night_message(text, is_progress=True)
        return True

    def _show_night_message(self, text: str, is_progress: bool = False) -> None:
        self.controller.message = self._night_message = Message(text, is_progress=is_progress)

    def unfinished(self) -> str:
        """That a night is being recorded, with its progress; empty where none is."""
        if not self.records_night:
            return ""
        return tr("A practice night is still being recorded. {progress}.").format(
            progress=self.night_progress().removesuffix(" …")
        )

    def give_up(self) -> None:
        """Call off a night that is being recorded or awaited; what was recorded of it is kept."""
        if self.records_night:
            self.record_or_cancel_night("")

    def close(self) -> None:
        """End a night that is being recorded or awaited, since the window closes."""
        self._awaited_url = ""
        if self._night is not None:
            self._night.kill()
            self._night = None


def _record_night(
    visit: Path, url: str, report_progress: ProgressCallback, cancel_requested: CancelRequested
) -> str:
    """Record the night, in a process of its own; returns the message for the user."""
    import tzlocal  # noqa: PLC0415 needed in the worker process only; it would delay the window's start

    from logger.simulation.practice_night import record_night  # noqa: PLC0415 as above

    zone = tzlocal.get_localzone_name()
    return record_night(visit, url, datetime.now().astimezone(), zone, report_progress, cancel_requested)
