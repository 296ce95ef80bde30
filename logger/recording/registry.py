"""Which recorders of this user are at work on this computer, and how one is asked to end."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from logger.clock import NS_PER_S, format_duration
from logger.errors import StillvoltError
from logger.meter.port import is_simulated_port
from logger.metrology.rounding import grouped
from logger.recording.recorder_list import listed_visits
from logger.recording.recorder_lock import POLL_EVERY_S, is_recording, recorder_note
from logger.settling.events import State
from logger.translation import marked, tr, tr_n
from logger.visit.records.simulated_run import SIMULATED
from logger.visit.records.stop_source import StopSource
from logger.visit.storage.held_file import JOURNALS
from logger.visit.storage.rest_file import rest_folders, rests_of
from logger.visit.storage.visit_log import VisitLog

STOP_TIMEOUT_S = 20.0
"""An orderly end takes tenths of a second; on a disk that is slow or full it may take longer."""


PORT_IS_LOST = "port lost"

_STATES: Mapping[str, str] = {
    "": marked("begins"),
    PORT_IS_LOST: marked("port lost"),
    State.WAITING: marked("waiting"),
    State.SETTLING: marked("settling"),
    State.SETTLED: marked("settled"),
    State.CHANGING: marked("moving"),
    State.CHANGING_LONG: marked("restless"),
    State.DRIFTING: marked("drifting"),
    State.ALTERNATING: marked("alternating"),
    State.REFUSED: marked("refused"),
    State.OVERLOAD: marked("overload"),
    State.LOST: marked("lost"),
}
"""A recorder's states, as JSON has them, and how they are shown."""


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
            SIMULATED: is_simulated_port(self.port),
        }


def running() -> list[RunningRecorder]:
    """This user's recorders at work, the one that began first comes first."""
    found = [recorder for visit in listed_visits() if (recorder := recorder_of(visit)) is not None]
    return sorted(found, key=lambda one: one.since_utc_ns)


def recorder_of(visit: Path) -> RunningRecorder | None:
    """The recorder at work on that visit log; None when there is none, or it has not begun to record yet."""
    note = recorder_note(visit)
    if note is None:
        return None
    path = Path(note.visit)
    return RunningRecorder(path, note.port, note.since_utc_ns, note.pid, *_lines_and_state(path))


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
    return lines, PORT_IS_LOST if live.port_state == "lost" else live.state.value


def format_running(recorder: RunningRecorder, now_utc_ns: int) -> str:
    """A recorder as a line of `stillvolt running`, to be read by a person."""
    if recorder.lines is None:
        lines = tr("log not readable")
    else:
        lines = tr_n("{n} line", "{n} lines", recorder.lines).format(n=grouped(recorder.lines))
    port = recorder.port
    if is_simulated_port(port):
        port = tr("{port} (simulated)").format(port=port)
    return "\t".join(
        (
            str(recorder.visit),
            port,
            tr("for {duration}").format(
                duration=format_duration(max(0, now_utc_ns - recorder.since_utc_ns) / NS_PER_S)
            ),
            lines,
            tr(_STATES.get(recorder.state or "", recorder.state or "")),
            tr("process {pid}").format(pid=recorder.pid),
        )
    )


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
            tr("No recorder is at work on {file}.").format(file=visit),
            next_step=tr("`stillvolt running` lists those that are."),
        )
    waited_s, asked, lines_wait = 0.0, False, False
    folders = rest_folders(visit)
    rests = rests_of(visit, folders)
    while is_recording(visit):
        note = recorder_note(visit)
        lines_wait = lines_wait or (note is not None and note.waiting is not None)
        asked = asked or _ask_to_stop(visit)
        if waited_s >= timeout_s:
            raise StillvoltError(
                tr(
                    "The recorder of {file} has been asked to stop, and has not ended within {seconds} s."
                ).format(file=visit, seconds=f"{timeout_s:.0f}"),
                tr("What was recorded is kept."),
                tr("`stillvolt running` shows whether it is still at work; a full disk holds it up."),
            )
        wait(POLL_EVERY_S)
        waited_s += POLL_EVERY_S
    new = sorted(rests_of(visit, folders) - rests)
    if new:
        stopped = tr(
            "Stopped: {file}. Its disk is full: the last lines are kept as a visit of their own in {rest}."
        ).format(file=visit, rest=new[0])
        return " ".join(filter(None, (stopped, journal_to_be_kept(visit))))
    if lines_wait:
        return tr(
            "Stopped: {file}. Its disk was full until shortly before: see whether the last lines are there."
        ).format(file=visit)
    return tr("Stopped: {file}.").format(file=visit)


def journal_to_be_kept(visit: Path) -> str:
    """That a visit log still has lines in its journal, as its disk has no room for them, in a sentence; else empty."""
    journal = visit.with_name(f"{visit.name}{JOURNALS[0]}")
    try:
        holds = journal.stat().st_size > 0
    except OSError:
        return ""
    return (
        tr(
            "Copy it together with {journal} beside it, which holds lines too, until there is room again."
        ).format(journal=journal.name)
        if holds
        else ""
    )


def _ask_to_stop(visit: Path) -> bool:
    """Whether the recorder could be asked; one that is just beginning has no run yet that could be stopped."""
    try:
        log = VisitLog.open(visit)
        try:
            live = log.recorder.live()
            if live is None or live.ended:
                return False
            log.recorder.request_stop(StopSource.COMMAND)
            return True
        finally:
            log.close()
    except StillvoltError:
        one = recorder_of(visit)
        if one is None or os.name == "nt":  # there a signal would not be an orderly end
            return False
        os.kill(one.pid, signal.SIGTERM)
        return True
