"""Which recorders are at work on this computer: one lock a visit log, and a note of the recording beside it.

The kernel holds the lock, so it dies with the recorder, and a recorder that was killed is never listed.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import signal
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import platformdirs
from filelock import BaseFileLock, FileLock, Timeout

from logger.clock import NS_PER_S, format_duration
from logger.errors import StillvoltError
from logger.visit.storage.visit_log import VisitLog

LOCK_WAIT_S = 0.5

STOP_TIMEOUT_S = 20.0
"""An orderly end takes tenths of a second; on a disk that is slow or full it may take longer."""

POLL_EVERY_S = 0.05


@dataclass(frozen=True, slots=True)
class RunningRecorder:
    """A recorder at work."""

    visit: Path
    port: str
    since_utc_ns: int
    pid: int
    lines: int | None
    """Lines of the meter in this run; None when the log could not be read."""
    state: str | None
    """The detector's state, or "port lost"; None when the log could not be read."""

    def to_json(self) -> dict[str, Any]:
        """As `stillvolt running --json` writes it."""
        return {
            "visit": str(self.visit),
            "port": self.port,
            "since_utc_ns": self.since_utc_ns,
            "lines": self.lines,
            "state": self.state,
            "pid": self.pid,
        }


def lock_path(visit: Path) -> Path:
    """The file whose lock is held while a recorder is at work on a visit log.

    Not beside the log: a lock's file outlives its lock, and the household gets that folder.
    """
    name = hashlib.sha256(os.fsencode(os.path.realpath(visit))).hexdigest()[:32]
    return _folder() / f"{name}.lock"


def is_recording(visit: Path) -> bool:
    """Whether a recorder is at work on that visit log now, on this computer."""
    return _is_held(lock_path(visit))


def _folder() -> Path:
    return platformdirs.user_cache_path("stillvolt", appauthor=False) / "recorders"


def _is_held(lock_file: Path) -> bool:
    if not lock_file.exists():
        return False
    lock = FileLock(lock_file)
    try:
        lock.acquire(timeout=0)
    except Timeout:
        return True
    lock.release()
    return False


class RecorderLock:
    """The lock by which this process is the one recorder of a visit log, and the note that lists it."""

    def __init__(self, visit: Path) -> None:
        self._lock = _acquired(visit)
        self._path = lock_path(visit)
        self._note: dict[str, Any] = {}
        _note_path(self._path).unlink(
            missing_ok=True
        )  # of one that was killed: its number may be another's by now

    def note_running(self, visit: Path, port: str, since_utc_ns: int) -> None:
        """List this process as a running recorder. A full disk costs the list entry only.

        Args:
            visit: the visit log.
            port: URL of the port.
            since_utc_ns: when the run began.
        """
        self._note = {
            "visit": os.path.realpath(visit),
            "port": port,
            "since_utc_ns": since_utc_ns,
            "pid": os.getpid(),
        }
        self._write_note()

    def follow(self, visit: Path) -> None:
        """Go on as the recorder of the log under another name, if nobody else is one there."""
        try:
            lock = _acquired(visit)
        except StillvoltError:
            return
        self.release()
        self._lock, self._path = lock, lock_path(visit)
        if self._note:
            self._note["visit"] = os.path.realpath(visit)
            self._write_note()

    def release(self) -> None:
        """Be the recorder no longer."""
        with contextlib.suppress(OSError):
            _note_path(self._path).unlink(missing_ok=True)
        self._lock.release()

    def _write_note(self) -> None:
        path = _note_path(self._path)
        with contextlib.suppress(OSError):
            half = path.with_suffix(".new")
            half.write_text(json.dumps(self._note), encoding="utf-8")
            half.replace(path)


@contextlib.contextmanager
def sole_recorder(visit: Path) -> Iterator[RecorderLock]:
    """Make this process the one recorder of a visit log.

    Raises:
        StillvoltError: another one is at work on it, or the folder of the locks cannot be written.
    """
    lock = RecorderLock(visit)
    try:
        yield lock
    finally:
        lock.release()


def _acquired(visit: Path) -> BaseFileLock:
    path = lock_path(visit)
    lock = FileLock(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        lock.acquire(timeout=LOCK_WAIT_S)
    except Timeout:
        raise StillvoltError(
            f"Another recorder is at work on {visit}.",
            "It goes on undisturbed.",
            "Open the window on that visit to watch it, or choose another file.",
        ) from None
    except OSError as error:
        raise StillvoltError(
            f"The folder {path.parent} cannot be written ({error.strerror}).",
            "Nothing was recorded.",
            "Stillvolt notes there which recorders are at work; make it writable.",
        ) from error
    return lock


def _note_path(lock_file: Path) -> Path:
    return lock_file.with_suffix(".json")


def running() -> list[RunningRecorder]:
    """The recorders at work, the one that began first comes first."""
    found = []
    for note in _folder().glob("*.json"):
        if not _is_held(note.with_suffix(".lock")):
            continue
        with contextlib.suppress(OSError, ValueError, KeyError):  # it ended just now
            note_data = json.loads(note.read_text(encoding="utf-8"))
            visit = Path(note_data["visit"])
            found.append(
                RunningRecorder(
                    visit,
                    note_data["port"],
                    note_data["since_utc_ns"],
                    note_data["pid"],
                    *_lines_and_state(visit),
                )
            )
    return sorted(found, key=lambda one: one.since_utc_ns)


def recorder_of(visit: Path) -> RunningRecorder | None:
    """The recorder at work on that visit log; None when there is none, or it has not begun to record yet."""
    here = Path(os.path.realpath(visit))
    return next((one for one in running() if one.visit == here), None)


def _lines_and_state(visit: Path) -> tuple[int | None, str | None]:
    try:
        log = VisitLog.open(visit)
    except StillvoltError:
        return None, None
    try:
        live = log.recorder.live()
    except StillvoltError:
        return None, None
    finally:
        log.close()
    if live is None:
        return 0, None
    lines = live.count_volts + live.count_overload + live.count_not_ac_volts + live.count_unreadable
    return lines, "port lost" if live.port_state == "lost" else live.state.value


def format_running(recorder: RunningRecorder, now_utc_ns: int) -> str:
    """A recorder as a line of `stillvolt running`."""
    since = format_duration(max(0, now_utc_ns - recorder.since_utc_ns) / NS_PER_S)
    lines = "log not readable" if recorder.lines is None else f"{recorder.lines:,} lines"
    state = recorder.state or "begins"
    return f"{recorder.visit}\t{recorder.port}\tfor {since}\t{lines}\t{state}\tprocess {recorder.pid}"


def stop(
    visit: Path,
    *,
    timeout_s: float = STOP_TIMEOUT_S,
    wait: Callable[[float], None] = time.sleep,
) -> str:
    """Request the recorder of a visit to end in order, and wait until it has.

    The request goes through the log, or is the system's signal where the log cannot be written (a full disk).

    Args:
        visit: the visit log.
        timeout_s: how long to wait for the end.
        wait: sleeps for so many seconds; a test gives its own.

    Returns:
        A sentence for the user.

    Raises:
        StillvoltError: no recorder is at work on it, or it has not ended in time.
    """
    if not is_recording(visit):
        raise StillvoltError(
            f"No recorder is at work on {visit}.", next_step="`stillvolt running` lists those that are."
        )
    waited_s, asked = 0.0, False
    while is_recording(visit):
        asked = asked or _ask_to_stop(visit)
        if waited_s >= timeout_s:
            raise StillvoltError(
                f"The recorder of {visit} has been asked to stop, and has not ended within {timeout_s:.0f} s.",
                "What was recorded is kept.",
                "`stillvolt running` shows whether it is still at work; a full disk holds it up.",
            )
        wait(POLL_EVERY_S)
        waited_s += POLL_EVERY_S
    return f"Stopped: {visit}."


def _ask_to_stop(visit: Path) -> bool:
    """Whether the recorder could be asked; one that is just beginning has no run yet that could be stopped."""
    try:
        log = VisitLog.open(visit)
        try:
            live = log.recorder.live()
            if live is None or live.ended:
                return False
            log.recorder.request_stop()
            return True
        finally:
            log.close()
    except StillvoltError:
        one = recorder_of(visit)
        if one is None or os.name == "nt":  # there a signal would not be an orderly end
            return False
        os.kill(one.pid, signal.SIGTERM)
        return True
