"""The thread that reads a port: bytes as they come, each piece stamped on arrival.

In: a port. Out, in a queue: `Arrival` (bytes and their time), `PortLost` and `PortBack`. A cable that is pulled
out and put back is a loss and a return; the thread goes on by itself and never dies by an exception.
"""

from __future__ import annotations

import contextlib
import queue
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import serial

from logger.clock import NS_PER_S, Clock
from logger.diagnostics import log_exception, logged
from logger.errors import StillvoltError
from logger.meter.adapter_finder import AdapterFinder
from logger.meter.port import READ_TIMEOUT_S, PortInfo, PortSettings, list_ports, open_port
from logger.translation import kept_text

RETRY_S = 0.5
"""How often a lost port is tried again. Recording has to go on within 2 s of the cable's return."""

STOP_S = 2.0
"""Longest wait for the thread at the end: it may hang in the system's own attempt to reach a far host."""

MID_LINE_NS = 60_000_000
"""Bytes that come sooner than this after the opening may be the rest of a line that was being sent just then.
Within a line the characters follow each other every 33 ms at 300 baud, the slowest rate in use, and USB adapters
hold them back by 16 ms at most; a line that begins later than this begins with its first character."""

QUERY_FINENESS = 5
"""A query is late by at most this part of its interval."""

ANSWER_WAIT_NS = 3_000_000_000
"""A meter that was asked gets this long for its answer before it is asked again: slow AC filters need up to 2 s, and
by IEEE 488.2 a query that comes before the answer to the last one is out throws that answer away (INTERRUPTED)."""

MAX_PIECE_BYTES = 65_536
"""A stream that never pauses is handed on in pieces of this size."""


class Arrival(NamedTuple):  # one a line of the meter: made three times as fast as a frozen dataclass
    """Bytes from the port, with the time at which the first of them came."""

    utc_ns: int
    steady_ns: int
    data: bytes
    starts_mid_line: bool = False
    """The first bytes since the opening, come so soon or over a network: the beginning of their line may be missing."""


@dataclass(frozen=True, slots=True)
class PortLost:
    """The port failed. `reason` is a sentence for the user."""

    utc_ns: int
    steady_ns: int
    reason: str


@dataclass(frozen=True, slots=True)
class PortBack:
    """The port is open again. `url` may differ from the first: a USB adapter can come back under another name."""

    utc_ns: int
    steady_ns: int
    url: str
    before: str = ""
    """Its name before the loss, where it is another now."""


PortItem = Arrival | PortLost | PortBack


class PortReader:
    """Reads one port in a thread of its own until stopped.

    Args:
        settings: the port.
        clock: stamps what arrives.
        sink: gets everything, in order.
        ports: lists the ports that are there; looked at when a lost port does not come back under its old name.
    """

    def __init__(
        self,
        settings: PortSettings,
        clock: Clock,
        sink: queue.SimpleQueue[PortItem],
        ports: Callable[[], list[PortInfo]] = list_ports,
    ) -> None:
        self._settings = settings
        self._clock = clock
        self._sink = sink
        self._finder = AdapterFinder(ports)
        self._port: serial.Serial | None = None
        self._opened_ns = 0
        self._fresh = True
        self._query = settings.query_bytes()
        self._query_every_ns = round(settings.query_every_s * NS_PER_S)
        self._asked_ns: int | None = None
        """When the meter was asked last since the port was opened."""
        self._answered = False
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"port {settings.url}", daemon=True)

    def open(self) -> None:
        """Open the port for the first time.

        Raises:
            StillvoltError: with the reason, for the user; nothing was started.
        """
        self._open(self._settings)
        with logged("listing the ports"):  # it is a help for later and must not cost the recording
            self._finder.remember(self._settings)

    def start(self) -> None:
        """Begin to read; `open` comes first."""
        self._thread.start()

    def stop(self) -> None:
        """End the thread and close the port. Returns within `STOP_S`, usually at once. May be called twice."""
        self._stop.set()
        port = self._port
        if port is not None and hasattr(port, "cancel_read"):
            with logged("cancelling a read"):  # the port may be closing in the thread just now
                port.cancel_read()
        if self._thread.is_alive():
            self._thread.join(STOP_S)
        else:
            self._close()

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                self._read()
            except Exception as error:  # a port fails in every way that its driver can think of
                if not self._stop.is_set():
                    log_exception(f"reading {self._settings.url}")
                    self._lost(error)
                    self._reopen()
        self._close()

    def _read(self) -> None:
        """Wait for bytes, stamp them, take along what else is there, hand it on."""
        port = self._port
        assert port is not None
        if self._query:
            self._ask(port)
        data = port.read(1)
        if not data:
            return
        utc_ns, steady_ns = self._clock.utc_ns(), self._clock.steady_ns()
        self._answered = True
        is_soon = steady_ns - self._opened_ns < MID_LINE_NS
        mid_line = self._fresh and (is_soon or self._settings.is_network)
        self._fresh = False
        try:
            # Some transports report only that there is something, not how much.
            while (waiting := port.in_waiting) and len(data) < MAX_PIECE_BYTES:
                more = port.read(waiting)
                if not more:
                    break
                data += more
        finally:
            # Also when the port fails half-way: what came before is kept.
            self._sink.put(Arrival(utc_ns, steady_ns, data, mid_line))

    def _ask(self, port: serial.Serial) -> None:
        """Send the query when it is due."""
        now_ns = self._clock.steady_ns()
        if self._asked_ns is not None:
            since_ns = now_ns - self._asked_ns
            due_ns = self._query_every_ns if self._answered else max(ANSWER_WAIT_NS, self._query_every_ns)
            if since_ns < due_ns:
                return
        self._asked_ns, self._answered = now_ns, False
        with contextlib.suppress(
            serial.SerialTimeoutException
        ):  # it is asked again; a lost port fails on reading
            port.write(self._query)

    def _lost(self, error: Exception) -> None:
        self._close()
        with logged("listing the ports"):  # it is a help only
            self._finder.note_loss(self._settings)
        reason = kept_text("The port {port} was lost ({cause}); recording goes on when it is back.").format(
            port=self._settings.url, cause=_cause(error)
        )
        self._sink.put(PortLost(self._clock.utc_ns(), self._clock.steady_ns(), reason))

    def _reopen(self) -> None:
        while not self._stop.wait(RETRY_S):
            for settings in self._finder.candidates(self._settings):
                try:
                    self._open(settings)
                except Exception:  # the user has one message that it was lost; it is tried again
                    log_exception(f"opening {settings.url} again")
                    continue
                before = "" if settings.url == self._settings.url else self._settings.url
                self._settings = settings
                self._sink.put(PortBack(self._clock.utc_ns(), self._clock.steady_ns(), settings.url, before))
                return

    def _open(self, settings: PortSettings) -> None:
        self._port = open_port(settings)
        if self._query:
            # A read that waits for the first byte holds the next query back.
            self._port.timeout = min(READ_TIMEOUT_S, settings.query_every_s / QUERY_FINENESS)
        self._opened_ns = self._clock.steady_ns()
        self._fresh = True
        self._asked_ns = None

    def _close(self) -> None:
        port, self._port = self._port, None
        if port is not None:
            with logged("closing a port"):  # one that is gone cannot be closed either
                port.close()


def _cause(error: Exception) -> str:
    """What happened, in words rather than in the driver's."""
    if isinstance(error, StillvoltError):
        return error.what.rstrip(".")
    text = str(error)
    if isinstance(error, OSError) and (
        "Errno 5" in text or "returned no data" in text or "Errno 6" in text or "Errno 19" in text
    ):
        return kept_text("the cable was pulled or the device was switched off")
    if "disconnected" in text:
        return kept_text("the other end closed the connection")
    return text or type(error).__name__
