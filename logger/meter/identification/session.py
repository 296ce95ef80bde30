"""What listening and asking share: the port to try, the clock, the wish to stop, and where progress is reported."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from typing import Protocol

from logger.clock import NS_PER_S, Clock
from logger.diagnostics import logged
from logger.meter.identification.capture import Capture
from logger.meter.identification.results import IdentifyProgress
from logger.meter.port import PortSettings

MAX_SEARCH_S = 300.0
"""Every setting is tried within this time at a meter that sends every two seconds; a search always ends."""
MAX_READ_BYTES = 4096
REPORT_EVERY_NS = 250_000_000

BURST_NS = 60_000_000
"""A pause of this length ends a burst of bytes (see `reader.MID_LINE_NS`)."""


class IdentifyPort(Protocol):
    """What is needed of an open port."""

    @property
    def in_waiting(self) -> int:
        """Bytes that are there."""

    def read(self, size: int = 1, /) -> bytes:
        """Up to so many bytes; waits a moment for the first."""

    def write(self, data: bytes, /) -> int | None:
        """Send."""

    def close(self) -> None:
        """Give the port back."""


class Stopped(Exception):
    """The search was asked to stop."""


class TimeUp(Exception):
    """The search has taken as long as it may."""


class PortGone(Exception):
    """The port failed while it was open, or does not open any more; the message is the driver's."""


class IdentifySession:
    """One search for a meter at one port.

    Args:
        first: the port, with the settings to try first.
        clock: injected time.
        stop: set from outside to stop.
        on_progress: is given what is going on.
        open_: opens a port.
    """

    def __init__(
        self,
        first: PortSettings,
        clock: Clock,
        stop: threading.Event,
        on_progress: Callable[[IdentifyProgress], None],
        open_: Callable[[PortSettings], IdentifyPort],
    ) -> None:
        self.first = replace(first, query=None)
        self.clock = clock
        self.open = open_
        self.sample = b""
        """Of the first bytes of which nothing could be made; empty where there were none."""
        self._stop = stop
        self._on_progress = on_progress
        self._started_ns = clock.steady_ns()

    def check_stop(self) -> None:
        """Go on, unless the search is to stop.

        Raises:
            Stopped: it is.
            TimeUp: it has taken as long as it may.
        """
        if self._stop.is_set():
            raise Stopped
        if self.clock.steady_ns() - self._started_ns > MAX_SEARCH_S * NS_PER_S:
            raise TimeUp

    def period(self, now_ns: int) -> int:
        """Number of the period in which progress is reported once at least."""
        return (now_ns - self._started_ns) // REPORT_EVERY_NS

    def report(self, doing: str, capture: Capture) -> None:
        """Report what is going on; `doing` says it in a few words."""
        elapsed_s = (self.clock.steady_ns() - self._started_ns) / NS_PER_S
        self._on_progress(IdentifyProgress(elapsed_s, doing, capture.settings, tuple(capture.lines)))


def read_waiting(port: IdentifyPort) -> bytes:
    """What is there, up to `MAX_READ_BYTES`; waits a moment for the first byte.

    Raises:
        PortGone: the port failed: its cable was pulled, or the other end closed it.
    """
    try:
        data = port.read(1)
        while data and (waiting := port.in_waiting) and len(data) < MAX_READ_BYTES:
            more = port.read(waiting)
            if not more:
                break
            data += more
    except Exception as error:  # a port fails in every way that its driver can think of
        raise PortGone(str(error)) from error
    return data


def close(port: IdentifyPort) -> None:
    """Give a port back."""
    with logged("closing a port"):  # one that is gone cannot be closed either
        port.close()
