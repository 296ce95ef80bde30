"""A recording session in the foreground: the loop around a `Recorder`, from the first line to the orderly end."""

from __future__ import annotations

import contextlib
import json
import os
import queue
import signal
import sqlite3
import threading
from collections.abc import Callable
from contextlib import closing
from datetime import datetime
from pathlib import Path

import tzlocal

from logger import __version__
from logger.clock import NS_PER_S, Clock, SystemClock
from logger.diagnostics import log_event
from logger.errors import StillvoltError
from logger.meter.description import MeterDescription, states_unit
from logger.meter.description_toml import as_toml
from logger.meter.lines import read_line
from logger.meter.notice_draft import NoticeDraft
from logger.meter.port import PortSettings
from logger.meter.reader import PortItem, PortReader
from logger.recording.messages import never_failing, print_message
from logger.recording.own_runs import note_own_run
from logger.recording.recorder import TICK_NS, ComputerWatch, KeepRest, Recorder
from logger.recording.recorder_lock import RecorderLock, sole_recorder
from logger.recording.restart import Fault, RecordingProcess
from logger.recording.watch import disk_space
from logger.recording.watch.keep_awake import kept_awake
from logger.recording.watch.set_back import clock_notice
from logger.translation import kept_text, tr
from logger.visit.records.simulated_run import simulation_settings
from logger.visit.records.stop_source import TIME_WAS_UP, by_signal
from logger.visit.storage import rest_file
from logger.visit.storage.file_name import is_file
from logger.visit.storage.read_only import open_checked
from logger.visit.storage.run_writer import Batch, FinishedRun, Heartbeat, RunEnd, RunWriter
from logger.visit.storage.visit_log import VisitLog

LOOK_EVERY_NS = NS_PER_S
"""How often it is looked whether the visit log is still at its place."""


class StopEvent(threading.Event):
    """Asks a recording to end in order, from another thread or by a signal of the system."""

    def __init__(self) -> None:
        super().__init__()
        self.end_reason = kept_text("stopped")
        """Why the run ended, as the log keeps it."""

    def set_by(self, number: signal.Signals) -> None:
        """Ask, as a signal wishes it."""
        if not self.is_set():
            self.end_reason = by_signal(number)
        self.set()


def record(
    visit: Path,
    settings: PortSettings,
    *,
    meter: MeterDescription | None = None,
    for_s: float | None = None,
    clock: Clock | None = None,
    stop: StopEvent | None = None,
    notify: Callable[[str], None] = print_message,
    on_begun: Callable[[], None] = lambda: None,
    process: RecordingProcess | None = None,
) -> None:
    """Record from a port into a visit log until asked to stop; a new log is made if there is none.

    Args:
        visit: the visit log.
        settings: the port.
        meter: what is known about the meter; its lines are read as it says, and it is kept with the run.
        for_s: stop by itself after so many seconds.
        clock: injected time.
        stop: set it to stop from another thread.
        notify: receives one sentence for the user whenever something happens, in English as the log keeps it.
        on_begun: called once the run has begun.
        process: this one, where it is started again after a fault of its own.

    Raises:
        StillvoltError: the log or the port cannot be used, or a recorder is already at work on either.
    """
    clock = clock or SystemClock()
    stop = stop or StopEvent()
    process = process or RecordingProcess()
    notify = never_failing(notify)
    visit = _behind_link(visit)
    with sole_recorder(visit, clock) as lock:
        is_new = _make_or_check(visit, clock)
        if short := disk_space.warning_before_start(visit):
            notify(short)
        items: queue.SimpleQueue[PortItem] = queue.SimpleQueue()
        reader = PortReader(settings, clock, items)
        try:
            reader.open()
            started_utc_ns, started_steady_ns = clock.utc_ns(), clock.steady_ns()
            notices = _notices_of_start(visit, settings, process.fault, started_utc_ns)
            writer = _begin_run(visit, settings, meter, started_utc_ns)
        except BaseException:
            reader.stop()
            if is_new:
                visit.unlink()  # nothing was recorded: no empty log is left under that name
            raise
        lock.note_running(visit, settings.url, started_utc_ns)
        computer = ComputerWatch(lambda: disk_space.free_bytes(writer.path.resolve().parent))
        recorder = _recorder(writer, clock, started_steady_ns, notify, computer, settings, meter)
        files = FileWatch(writer, lock, recorder, process.note_visit)
        for notice in notices:
            recorder.note(notice)
        reason = kept_text("stopped by an error")
        try:
            reader.start()
            on_begun()
            notify(kept_text("Recording {port} into {file}.").format(port=settings.url, file=visit))
            with kept_awake(lambda message: recorder.note(NoticeDraft("sleep not prevented", message))):
                reason = _loop(recorder, files, items, clock, for_s, stop)
        finally:
            reader.stop()
            while not items.empty():
                recorder.handle(items.get())
            try:
                files.follow_now()
                recorder.end(reason)
            finally:
                writer.close()
        notify(kept_text("Recording ended: {reason}.").format(reason=reason))


def _recorder(
    writer: RunWriter,
    clock: Clock,
    started_steady_ns: int,
    notify: Callable[[str], None],
    computer: ComputerWatch,
    settings: PortSettings,
    meter: MeterDescription | None,
) -> Recorder:
    return Recorder(
        writer,
        clock,
        started_steady_ns,
        notify,
        meter.read() if meter else read_line,
        computer,
        _scale_is_taught(meter),
        _rest_keeper(writer),
        unit_is_stated=states_unit(settings, meter),
        unit_is_fixed=settings.asks_for_volts,
        taught_digit_volts=_taught_digit_volts(meter),
        baud=settings.baud,
    )


def _rest_keeper(writer: RunWriter) -> KeepRest:
    """What keeps elsewhere what the log of a run does not take at its end."""

    def keep_rest(batch: Batch, beat: Heartbeat, end: RunEnd) -> Path | None:
        rest = FinishedRun(writer.start, batch, beat, end)
        return rest_file.keep_rest(writer.path, writer.run_id, rest, rest_file.rest_folders(writer.path))

    return keep_rest


def _scale_is_taught(meter: MeterDescription | None) -> bool:
    return meter is not None and meter.line is not None and meter.line.scale != 1.0


def _taught_digit_volts(meter: MeterDescription | None) -> float:
    return 0.0 if meter is None or meter.line is None else meter.line.taught_digit_volts


def _behind_link(visit: Path) -> Path:
    """What a symbolic link leads to: SQLite names the journal after that. Any other path is left as it is."""
    return Path(os.path.realpath(visit)) if visit.is_symlink() else visit


def _make_or_check(visit: Path, clock: Clock) -> bool:
    """Make the log where there is none, else check it; returns whether it is new, raises StillvoltError."""
    if is_file(visit):
        # What is added to damaged pages may be lost with them.
        open_checked(visit, clock).close()
        return False
    VisitLog.create(visit, clock).close()
    return True


def _notices_of_start(
    visit: Path, settings: PortSettings, fault: Fault | None, now_utc_ns: int
) -> list[NoticeDraft]:
    """Notices that are due as a recording begins: of the fault before it, and of a clock that was set back.

    Args:
        visit: where it is recorded.
        settings: the port.
        fault: that has ended the recorder before this one; None where there was none.
        now_utc_ns: when it begins.
    """
    with closing(VisitLog.open(visit)) as log:
        set_back = clock_notice(log, settings.url, now_utc_ns)
    return [notice for notice in (_restart_notice(visit, fault, now_utc_ns), set_back) if notice is not None]


def _restart_notice(visit: Path, fault: Fault | None, now_utc_ns: int) -> NoticeDraft | None:
    """A notice of the fault that has ended the recorder before this one; it is in the diagnostic log, too.

    Args:
        visit: where both record.
        fault: None where there was none.
        now_utc_ns: when this one begins.
    """
    if fault is None:
        return None
    with closing(VisitLog.open(visit)) as log:
        live = log.recorder.live()
    last_utc_ns = now_utc_ns if live is None else live.beat_utc_ns
    last, now = (f"{datetime.fromtimestamp(ns / NS_PER_S):%H:%M:%S}" for ns in (last_utc_ns, now_utc_ns))
    message = fault.message(last, now)
    log_event(message)
    return NoticeDraft("recorder restarted", message)


class FileWatch:
    """Looks each second whether the visit log is still where it was, and goes on where it is.

    Args:
        writer: of the run.
        lock: by which this process is the recorder.
        recorder: keeps the notice of what has happened.
        note_visit: called with the place of the log, now and each time it changes.
    """

    def __init__(
        self, writer: RunWriter, lock: RecorderLock, recorder: Recorder, note_visit: Callable[[Path], None]
    ) -> None:
        self._writer, self._lock, self._recorder = writer, lock, recorder
        self._note_visit = note_visit
        self._polled_ns = 0
        note_visit(writer.path)

    def poll(self, steady_ns: int) -> None:
        """Look, if a second has passed since the last time."""
        if steady_ns - self._polled_ns < LOOK_EVERY_NS:
            return
        self._polled_ns = steady_ns
        self.follow_now()

    def leave_overwritten(self, steady_ns: int) -> None:
        """Go on elsewhere at once where another program has overwritten the log, before anything is written."""
        if steady_ns - self._polled_ns >= TICK_NS and self._writer.is_overwritten():
            self._polled_ns = steady_ns
            self.follow_now()

    def follow_now(self) -> None:
        """Look, however soon after the last time."""
        if move := self._writer.follow_file():
            self._recorder.note(NoticeDraft(move.kind, move.message))
            self._note_visit(self._writer.path)
        self._lock.follow(self._writer.path)

    def note_waiting(self) -> None:
        """Note beside the log what waits for room on the disk, as the log cannot be written then."""
        self._lock.note_waiting(self._recorder.waiting)


def _loop(
    recorder: Recorder,
    files: FileWatch,
    items: queue.SimpleQueue[PortItem],
    clock: Clock,
    for_s: float | None,
    stop: StopEvent,
) -> str:
    """Record until the end is due; returns the reason of the end."""
    started_ns = clock.steady_ns()
    ticked_ns = started_ns
    while True:
        now_ns = clock.steady_ns()
        if for_s is not None and now_ns - started_ns >= for_s * NS_PER_S:
            return TIME_WAS_UP
        if stop.is_set():
            return stop.end_reason
        if source := recorder.stop_requested_by():
            return source.end_reason
        wait_ns = min(max(recorder.due_in_ns(), 0), TICK_NS)
        with contextlib.suppress(queue.Empty):
            recorder.handle(items.get(timeout=wait_ns / NS_PER_S) if wait_ns else items.get_nowait())
        now_ns = clock.steady_ns()
        if now_ns - ticked_ns >= TICK_NS:
            ticked_ns = now_ns
            recorder.tick()
            files.poll(now_ns)
        if recorder.due_in_ns() <= 0:
            while not items.empty():
                recorder.handle(items.get())
            files.leave_overwritten(now_ns)
            recorder.write()
            files.note_waiting()


def _begin_run(
    visit: Path, settings: PortSettings, meter: MeterDescription | None, started_utc_ns: int
) -> RunWriter:
    offset = datetime.now().astimezone().utcoffset()
    # The description as it was: its file may be another when the visit is read.
    description = {"description": as_toml(meter)} if meter else {}
    kept_settings = json.dumps(settings.to_json() | description | simulation_settings(settings.url))
    note_own_run(started_utc_ns, kept_settings)
    try:
        rest_file.keep_where_rests_are(visit, started_utc_ns)
        return RunWriter(
            visit,
            utc_ns=started_utc_ns,
            zone=tzlocal.get_localzone_name(),
            utc_offset_s=int(offset.total_seconds()) if offset else 0,
            port=settings.url,
            settings=kept_settings,
            software=f"Stillvolt {__version__}",
            pid=os.getpid(),
        )
    except sqlite3.OperationalError as error:
        raise StillvoltError(
            tr("The visit log {file} cannot be written ({error}).").format(file=visit, error=error),
            tr("Nothing was recorded, and what it holds is kept."),
            tr("If the disk is full, make room and start again."),
        ) from error


def record_in_foreground(
    visit: Path,
    settings: PortSettings,
    for_s: float | None = None,
    meter: MeterDescription | None = None,
    on_begun: Callable[[], None] | None = None,
    process: RecordingProcess | None = None,
    notify: Callable[[str], None] = print_message,
) -> None:
    """Run `record`; Ctrl-C and the system's request to end stop it in an orderly way.

    Args:
        visit: the visit log.
        settings: the port.
        for_s: stop by itself after so many seconds.
        meter: what is known about the meter.
        on_begun: called once the run has begun.
        process: this one, where it is started again after a fault of its own.
        notify: as for `record`.

    Raises:
        StillvoltError: as `record`.
    """
    if process and (fault := process.fault):
        visit = fault.visit
        if for_s is not None and (for_s := for_s - fault.after_s) <= 0.0:
            return
    stop = StopEvent()
    for name in ("SIGINT", "SIGTERM", "SIGBREAK", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), lambda number, _: stop.set_by(signal.Signals(number)))
    record(
        visit,
        settings,
        meter=meter,
        for_s=for_s,
        stop=stop,
        notify=notify,
        on_begun=on_begun or (lambda: None),
        process=process,
    )
