"""The lock by which one process is the recorder of a visit log, beside the log, and what others read in it.

It lies where the data lie: whoever can reach the visit meets it, by whatever user, home or link of the file's name.
"""

from __future__ import annotations

import contextlib
import json
import os
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from logger.clock import Clock, SystemClock
from logger.errors import StillvoltError
from logger.recording.file_lock import FileLock, held_text, is_held
from logger.recording.recorder_list import ListEntry
from logger.translation import tr
from logger.visit.records.heartbeat import STALE_AFTER_S
from logger.visit.storage.file_name import is_file
from logger.visit.storage.visit_log import VisitLog

SUFFIX = "-lock"
"""What the lock's name appends to the visit log's, as SQLite's journals do."""

LOCK_WAIT_S = 0.5
"""How long a lock may be held by somebody who only looks, or is just ending."""

POLL_EVERY_S = 0.05


@dataclass(frozen=True, slots=True)
class WaitingLines:
    """What waits in a recorder's memory because the disk does not take it.

    Args:
        lines: of the meter that wait.
        dropped: lines that could not be kept, as memory was at its bound.
        reason: what the system answers.
        is_full: the disk has no room; False where it refuses for another reason.
    """

    lines: int
    dropped: int
    reason: str
    is_full: bool


@dataclass(frozen=True, slots=True)
class RecorderNote:
    """What a recorder at work notes in its lock.

    Args:
        visit: real path of the visit log.
        port: URL of the port; empty as long as the recorder has not begun.
        since_utc_ns: when the run began.
        pid: of the recorder.
        waiting: what waits for room on the disk; None where nothing does.
    """

    visit: str
    port: str
    since_utc_ns: int
    pid: int
    waiting: WaitingLines | None = None


def lock_path(visit: Path) -> Path:
    """The file whose lock is held while a recorder is at work on a visit log: beside the log, without links."""
    real = Path(os.path.realpath(visit))
    return real.with_name(real.name + SUFFIX)


def is_recording(visit: Path) -> bool:
    """Whether a recorder is at work on that visit log now: of any user, from any home."""
    return is_held(lock_path(visit))


def recorder_note(visit: Path) -> RecorderNote | None:
    """What the recorder at work on a visit log notes; None where there is none, or it has not begun to record."""
    text = held_text(lock_path(visit))
    return _note(text) if text else None


def _note(text: str) -> RecorderNote | None:
    try:
        data = json.loads(text)
        waiting = data.pop("waiting")
        return RecorderNote(**data, waiting=WaitingLines(**waiting) if waiting else None)
    except (ValueError, TypeError, KeyError, AttributeError):
        return None


class RecorderLock:
    """The lock by which this process is the one recorder of a visit log.

    Args:
        visit: the visit log, which need not exist yet.
        wait: sleeps for so many seconds.

    Raises:
        StillvoltError: another recorder is at work on it, or its folder cannot be written.
    """

    def __init__(self, visit: Path, wait: Callable[[float], None] = time.sleep) -> None:
        self._lock = _acquired(visit, wait)
        self.left_note = _note(self._lock.left_text)
        """Of a recorder that held this lock and did not end in order."""
        self._note: RecorderNote | None = None
        self._entry = ListEntry()

    def note_running(self, visit: Path, port: str, since_utc_ns: int) -> None:
        """Note that this process records, and list it. A full disk costs note and entry only.

        Args:
            visit: the visit log.
            port: URL of the port.
            since_utc_ns: when the run began.
        """
        self._write(RecorderNote(os.path.realpath(visit), port, since_utc_ns, os.getpid()))
        self._entry.add(visit)

    def note_waiting(self, waiting: WaitingLines | None) -> None:
        """Note what waits for room on the disk; the file has its room since the lock was taken."""
        if self._note is not None and self._note.waiting != waiting:
            self._write(replace(self._note, waiting=waiting))

    def follow(self, visit: Path) -> bool:
        """Take the lock along to the visit log's present path, or make it again where its file was removed.

        Returns:
            False where somebody else holds the lock there, or it cannot be made.
        """
        path = lock_path(visit)
        if self._lock.is_moved_to(path):
            pass  # The folder was moved with log and lock in it: note and list still name the old place.
        elif self._lock.is_in_place:
            if self._lock.path == path:
                return True
            if not self._lock.move(path):
                return False
        else:
            try:
                again = FileLock(path, visit)
            except OSError:
                return False
            self._lock.release()
            self._lock = again
        if self._note is not None:
            self._write(replace(self._note, visit=os.path.realpath(visit)))
            self._entry.add(visit)
        return True

    def release(self) -> None:
        """Be the recorder no longer."""
        self._entry.remove()
        self._lock.release()

    def _write(self, note: RecorderNote) -> None:
        if self._lock.write(json.dumps(asdict(note))):
            self._note = note


@contextlib.contextmanager
def sole_recorder(
    visit: Path, clock: Clock | None = None, wait: Callable[[float], None] = time.sleep
) -> Iterator[RecorderLock]:
    """Make this process the one recorder of a visit log.

    Args:
        visit: the visit log, which need not exist yet.
        clock: injected time.
        wait: sleeps for so many seconds.

    Raises:
        StillvoltError: another one is at work on it, or the folder of the visit log cannot be written.
    """
    lock = RecorderLock(visit, wait)
    try:
        if is_file(visit):
            _refuse_moving_heartbeat(visit, lock.left_note, clock or SystemClock(), wait)
        yield lock
    finally:
        lock.release()


def _refuse_moving_heartbeat(
    visit: Path, left: RecorderNote | None, clock: Clock, wait: Callable[[float], None]
) -> None:
    """Refuse a visit log whose heartbeat goes on, though nobody holds its lock.

    A lock can fail: its file may be removed by hand, or the file system may have none. The heartbeat in the log is what
    any recorder on any system leaves.

    Args:
        visit: an existing visit log.
        left: note of a recorder that held this very lock and has gone: its heartbeat need not be watched.
        clock: injected time.
        wait: sleeps for so many seconds.

    Raises:
        StillvoltError: the heartbeat goes on, or the visit log cannot be opened.
    """
    log = VisitLog.open(visit, clock)
    try:
        first = log.recorder.live()
        if first is None or first.ended:
            return
        if left is not None and (left.pid, left.since_utc_ns) == (first.pid, first.run_started_utc_ns):
            return
        waited_s = 0.0
        while not log.recorder.is_stale(first) and waited_s <= STALE_AFTER_S:
            wait(POLL_EVERY_S)
            waited_s += POLL_EVERY_S
            now = log.recorder.live()
            if now is not None and not now.ended and now.beat_steady_utc_ns != first.beat_steady_utc_ns:
                raise _at_work(visit)
    finally:
        log.close()


def _acquired(visit: Path, wait: Callable[[float], None]) -> FileLock:
    path = lock_path(visit)
    waited_s = 0.0
    while True:
        try:
            return FileLock(path, visit if is_file(visit) else None)
        except BlockingIOError:
            if waited_s >= LOCK_WAIT_S:
                raise _at_work(visit) from None
        except FileNotFoundError:
            raise StillvoltError(
                tr("The folder {folder} does not exist.").format(folder=visit.parent),
                tr("Nothing was written."),
                tr("Make it, or choose another."),
            ) from None
        except OSError as error:
            raise StillvoltError(
                tr("The folder {folder} cannot be written ({error}).").format(
                    folder=visit.parent, error=error.strerror or error
                ),
                tr("Nothing was recorded."),
                tr(
                    "Choose a folder that you may write to. If this visit must stay as it is, copy it to such a folder "
                    "and open the copy."
                ),
            ) from error
        wait(POLL_EVERY_S)
        waited_s += POLL_EVERY_S


def _at_work(visit: Path) -> StillvoltError:
    note = recorder_note(visit)
    text = (
        tr("Another recorder is at work on {file} (process {pid}).")
        if note
        else tr("Another recorder is at work on {file}.")
    )
    return StillvoltError(
        text.format(file=visit, pid=note.pid if note else 0),
        tr("It goes on undisturbed."),
        tr("Open the window on that visit to watch it, or choose another file."),
    )
