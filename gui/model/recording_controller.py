"""Starts and stops the recorder process of the visit, and waits for its first sign of life."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from gui.model.recorder_presence import stop_refusal
from gui.model.visit_access import Message, VisitAccess
from gui.model.wording import clock_text
from logger.meter.date_watch import STORED_NOTICE
from logger.meter.port import PortSettings
from logger.recording.detached import DetachedRecorder
from logger.recording.registry import journal_to_be_kept
from logger.recording.watch.set_back import AHEAD_NOTICE, SET_BACK_NOTICE
from logger.simulation.practice_switches import display_name
from logger.translation import tr, tr_kept
from logger.visit.storage.rest_file import rests_since

SHOWN_NOTICES = frozenset(
    (
        "disk short",
        "memory full",
        "disk back",
        "recorder restarted",
        AHEAD_NOTICE,
        SET_BACK_NOTICE,
        STORED_NOTICE,
    )
)
"""Kinds of notices that the window also shows as a message when they come."""

RecorderStart = Callable[[Path, PortSettings], DetachedRecorder]
"""Starts a recorder process on a visit log and a port."""


class RecordingController:
    """The recorder of the visit.

    Args:
        access: the visit.
        start_recorder: starts a recorder process (a test gives its own).
    """

    def __init__(self, access: VisitAccess, start_recorder: RecorderStart) -> None:
        self._access = access
        self._start_recorder = start_recorder
        self.before_start: list[Callable[[PortSettings], object]] = []
        """Called with port and meter before each recorder is started."""
        self._recorder: DetachedRecorder | None = None
        self._run_before: int | None = None
        self._has_stopped = False
        self._stopped_message: Message | None = None
        """What was said of the newest recorder that stopped without an end."""
        self._notice_id = access.snapshot.notices[-1].id if access.snapshot.notices else 0

    @property
    def starting(self) -> bool:
        """Whether a recorder was started that has neither begun a run nor refused."""
        return self._recorder is not None

    def start(self, settings: PortSettings) -> None:
        """Start a recorder process; whether it began or refused is noticed by `watch_start`."""
        snapshot = self._access.snapshot
        if snapshot.recording or self.starting:
            self._access.refuse(tr("This visit is being recorded already."))
            return

        for call in self.before_start:
            call(settings)

        def do() -> str:
            self._run_before = snapshot.live.run_id if snapshot.live else None
            self._recorder = self._start_recorder(self._access.log.path, settings)
            return tr("Opening {port} …").format(port=display_name(settings.url))

        self._access.do(do)

    def stop(self) -> None:
        """Ask the recorder to end its run in order; refused while lines wait in its memory for room on the disk."""
        if (waiting := self._access.snapshot.presence.waiting) is not None:
            self._access.refuse(stop_refusal(waiting))
            return

        def do() -> str:
            self._access.log.recorder.request_stop()
            return tr("The recorder was asked to stop")

        self._access.do(do)

    def watch_notices(self) -> None:
        """Show what the recorder notices of disk, clock or stored values as it comes."""
        for notice in reversed(self._access.snapshot.notices):
            if notice.id <= self._notice_id:
                break
            if notice.kind in SHOWN_NOTICES:
                self._access.message = Message(tr_kept(notice.message), refused=notice.kind != "disk back")
                break
        if self._access.snapshot.notices:
            self._notice_id = self._access.snapshot.notices[-1].id

    def watch_end(self) -> None:
        """Say once that the recorder has stopped writing without an end, until another one records."""
        snapshot = self._access.snapshot
        has_stopped = snapshot.stale and not snapshot.presence.at_work
        if has_stopped and not self._has_stopped and snapshot.live is not None:
            kept_until = clock_text(snapshot.live.beat_utc_ns, snapshot.zone)
            path = self._access.log.path
            rests = [
                tr("What came after that is kept in {file}.").format(file=rest)
                for rest in rests_since(path, snapshot.live.beat_utc_ns)
            ]
            stopped = tr("The recorder has stopped. Everything up to {time} is kept.").format(time=kept_until)
            self._access.refuse(" ".join((stopped, *rests, *([journal_to_be_kept(path)] if rests else []))))
            self._stopped_message = self._access.message
        elif (
            snapshot.live is not None and snapshot.recording and self._access.message is self._stopped_message
        ):
            # Another recorder, which may have been started elsewhere, goes on with the visit.
            port = display_name(snapshot.live.port)
            self._access.message = Message(tr("Recording {port}").format(port=port))
        self._has_stopped = has_stopped

    def watch_start(self) -> None:
        """Notice that the recorder that was started has begun its run, or has refused."""
        if self._recorder is None:
            return
        live = self._access.snapshot.live
        if live is not None and live.run_id != self._run_before:
            self._recorder = None
            self._access.message = Message(tr("Recording {port}").format(port=display_name(live.port)))
            return
        refusal = self._recorder.refusal()
        if refusal is not None:
            self._recorder = None
            reason = refusal.removeprefix("stillvolt: ")
            self._access.refuse(reason or tr("The recorder stopped unexpectedly."))
