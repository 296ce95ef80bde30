"""Starts a recorder again that a fault of its process has ended: a small process that waits, and imports nothing large.

`stillvolt record` is two processes on Linux and macOS: one that waits, and one that records. When the system ends the
recording one for a fault (`FAULTS`), the other starts it again at once and tells it what happened, so that the new run
has a notice of it. A signal that is an order (SIGTERM, SIGINT, SIGHUP, SIGKILL) is none: the first three are passed on,
and the waiting process ends as the recording one did. When the waiting one is ended, the recording one ends in order.
"""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from logger.translation import kept_text

FAULTS = tuple(
    getattr(signal, name)
    for name in ("SIGBUS", "SIGSEGV", "SIGILL", "SIGFPE", "SIGABRT")
    if hasattr(signal, name)
)
"""Signals by which the system ends a process that has done what it cannot do."""

ORDERS = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))
"""Signals by which somebody asks for the end."""

SHORT_LIFE_S = 10.0
"""A recorder that ends sooner than that after its start may do so again: it is started again after a pause."""

FIRST_PAUSE_S, LONGEST_PAUSE_S = 1.0, 60.0
"""The pause doubles with each short life: no night is lost for many faults, and no computer kept busy by them."""

LOOK_EVERY_S = 0.1

MAX_REFUSALS = 20
"""So often in succession a recorder that is started again may be refused (its port is still in use), which takes about
a quarter of an hour; then its refusal is final."""


@dataclass(frozen=True, slots=True)
class Fault:
    """What has ended a recorder before.

    Args:
        signal_name: as in SIGBUS.
        visit: where it recorded.
        after_s: seconds from the start of the first recorder to that of the next one.
    """

    signal_name: str
    visit: Path
    after_s: float

    def message(self, last: str, now: str) -> str:
        """A sentence for the log and the user, as the log keeps it.

        Args:
            last: the clock time of the last heartbeat before, as it is shown.
            now: the clock time at which recording goes on.
        """
        return kept_text(
            "The recorder was ended by a fault of its process ({signal}) and was started again: lines are missing "
            "between {last} and {now}. What was recorded before is kept."
        ).format(signal=self.signal_name, last=last, now=now)


@dataclass(frozen=True, slots=True)
class RecordingProcess:
    """What the recording process gets from the one that waits.

    Args:
        fault: what has ended the one before; None for the first.
        note_visit: tells the waiting process where the visit log is, once a run has begun and each time it moves.
    """

    fault: Fault | None = None
    note_visit: Callable[[Path], None] = lambda visit: None


@dataclass(frozen=True, slots=True)
class _End:
    """How a recording process has ended.

    Args:
        status: its exit status; the negative number of the signal that ended it.
        visit: where it recorded last; None where its run had not begun.
    """

    status: int
    visit: Path | None

    @property
    def fault_name(self) -> str:
        """The name of the fault; empty where it was none."""
        return signal.Signals(-self.status).name if -self.status in FAULTS else ""


def restarted_after_faults(record: Callable[[RecordingProcess], int]) -> int:
    """Run a recorder in a process of its own, again after each fault.

    Args:
        record: records until its end; returns the exit status.

    Returns:
        The exit status of the recorder: in its own process, and in the one that waited for it.
    """
    if not hasattr(os, "fork"):  # Windows; there is no SIGBUS either
        return record(RecordingProcess())
    return _Waiting(record).run()


class _Waiting:
    """The process that waits.

    Args:
        record: records until its end; returns the exit status.
    """

    def __init__(self, record: Callable[[RecordingProcess], int]) -> None:
        self._record = record
        self._recording_pid: int | None = None
        self._is_ordered = False
        """Whether somebody has asked for the end."""

    def run(self) -> int:
        """Start the recorder and wait, as often as it is due; returns the exit status, in both processes."""
        before = {order: signal.getsignal(order) for order in ORDERS}
        first_s = begun_s = time.monotonic()
        fault: Fault | None = None
        short_lives = refusals = 0
        while True:
            end = self._started(fault, before)
            if isinstance(end, int):
                return end  # in the recording process
            visit = end.visit or (fault.visit if fault else None)
            refusals = 0 if end.visit else refusals + 1
            name = end.fault_name
            if not name and fault and end.status == 1 and refusals in range(1, MAX_REFUSALS + 1):
                name = fault.signal_name  # refused after a fault: the port may still be in use
            if self._is_ordered or not name or visit is None:
                return _ended_as(end.status)
            short_lives = short_lives + 1 if time.monotonic() - begun_s < SHORT_LIFE_S else 0
            self._pause(short_lives)
            if self._is_ordered:
                return 1
            begun_s = time.monotonic()
            fault = Fault(name, visit, begun_s - first_s)

    def _started(self, fault: Fault | None, before: dict[signal.Signals, Any]) -> _End | int:
        """Start a recording process and wait for its end.

        Args:
            fault: what has ended the one before.
            before: how orders are handled in a process that does not wait.

        Returns:
            How it has ended; in the recording process itself, its exit status.
        """
        visits_from, visits_to = os.pipe()
        waiting_from, waiting_to = os.pipe()
        signal.pthread_sigmask(signal.SIG_BLOCK, ORDERS)
        self._recording_pid = os.fork()
        if self._recording_pid == 0:
            os.close(visits_from)
            os.close(waiting_to)
            # Orders from the terminal reach the waiting process, that passes them on, and do not come twice.
            os.setpgid(0, 0)
            signal.signal(signal.SIGTTOU, signal.SIG_IGN)
            for order, handler in before.items():
                signal.signal(order, handler)
            signal.pthread_sigmask(signal.SIG_UNBLOCK, ORDERS)
            threading.Thread(target=_end_with_the_waiting, args=(waiting_from,), daemon=True).start()
            os.set_blocking(visits_to, False)
            return self._record(RecordingProcess(fault, lambda visit: _send_visit(visits_to, visit)))
        for order in ORDERS:
            signal.signal(order, self._pass_on)
        signal.pthread_sigmask(signal.SIG_UNBLOCK, ORDERS)
        os.close(visits_to)
        os.close(waiting_from)
        _, status = os.waitpid(self._recording_pid, 0)
        self._recording_pid = None
        os.close(waiting_to)
        return _End(os.waitstatus_to_exitcode(status), _last_visit(visits_from))

    def _pass_on(self, number: int, _: object) -> None:
        self._is_ordered = True
        if self._recording_pid:
            with suppress(ProcessLookupError):
                os.kill(self._recording_pid, number)

    def _pause(self, short_lives: int) -> None:
        """Wait before the next start, and no longer than until somebody asks for the end."""
        pause_s = min(FIRST_PAUSE_S * 2 ** (short_lives - 2), LONGEST_PAUSE_S) if short_lives > 1 else 0.0
        until_s = time.monotonic() + pause_s
        while not self._is_ordered and time.monotonic() < until_s:
            time.sleep(LOOK_EVERY_S)


def _end_with_the_waiting(waiting_from: int) -> None:
    """End in order when the waiting process has gone: its end of a pipe that nothing is written to is closed then."""
    os.read(waiting_from, 1)
    os.kill(os.getpid(), signal.SIGTERM)


def _send_visit(visits_to: int, visit: Path) -> None:
    with suppress(OSError):  # the waiting process has gone
        os.write(visits_to, os.fsencode(visit) + b"\0")


def _last_visit(visits_from: int) -> Path | None:
    with os.fdopen(visits_from, "rb") as pipe:
        sent = pipe.read().split(b"\0")[:-1]
    return Path(os.fsdecode(sent[-1])) if sent else None


def _ended_as(status: int) -> int:
    """End as the recording process did: by the same signal, or with the same exit status."""
    if status < 0:
        if -status != signal.SIGKILL:
            signal.signal(-status, signal.SIG_DFL)
        os.kill(os.getpid(), -status)
    return status
