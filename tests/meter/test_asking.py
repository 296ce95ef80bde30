"""A meter that has to be asked: the reader sends its query again and again, and waits for a slow answer."""

from __future__ import annotations

import contextlib
import os
import queue
import select
import threading
from collections.abc import Iterator

import pytest

from logger.clock import NS_PER_S, ManualClock, SystemClock
from logger.errors import StillvoltError
from logger.meter import reader as module
from logger.meter.port import PortSettings, open_port
from logger.meter.reader import Arrival, PortBack, PortItem, PortLost, PortReader

WAIT_S = 5.0


class Asked:
    """A port that notes when it is asked; time passes with every read that brings nothing."""

    def __init__(self, clock: ManualClock, answer_after_s: float | None) -> None:
        self.clock = clock
        self.at_s: list[float] = []
        self.timeout = 0.1
        self._after_s = answer_after_s
        self._due_s: float | None = None
        self.enough = threading.Event()

    def write(self, data: bytes) -> None:
        assert data == b"READ?\n"
        self.at_s.append(self.clock.steady_ns() / NS_PER_S)
        if self._after_s is not None:
            self._due_s = self.at_s[-1] + self._after_s
        if len(self.at_s) >= 5:
            self.enough.set()

    def read(self, count: int) -> bytes:
        now_s = self.clock.steady_ns() / NS_PER_S
        if self._due_s is not None and now_s >= self._due_s:
            self._due_s = None
            return b"1"
        if not self.enough.is_set():
            self.clock.advance_ns(10_000_000)
        return b""

    in_waiting = 0

    def close(self) -> None: ...


def asked(monkeypatch: pytest.MonkeyPatch, every_s: float, answer_after_s: float | None) -> list[float]:
    clock = ManualClock()
    port = Asked(clock, answer_after_s)
    monkeypatch.setattr(module, "open_port", lambda settings: port)
    settings = PortSettings("meter", query="READ?", query_every_s=every_s)
    reader = PortReader(settings, clock, queue.SimpleQueue())
    reader.open()
    reader.start()
    assert port.enough.wait(WAIT_S)
    reader.stop()
    return port.at_s[:5]


def test_asked_at_its_interval(monkeypatch: pytest.MonkeyPatch) -> None:
    assert asked(monkeypatch, 0.5, 0.02) == pytest.approx([0.0, 0.5, 1.0, 1.5, 2.0], abs=0.02)


def test_a_slow_answer_is_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    assert asked(monkeypatch, 0.5, 0.8) == pytest.approx([0.0, 0.8, 1.6, 2.4, 3.2], abs=0.1)


def test_without_an_answer_it_is_asked_again(monkeypatch: pytest.MonkeyPatch) -> None:
    assert asked(monkeypatch, 0.5, None) == pytest.approx([0.0, 3.0, 6.0, 9.0, 12.0], abs=0.02)


@pytest.fixture
def answering(cable) -> Iterator[None]:
    """The cable with a meter that answers READ?."""
    ended = threading.Event()

    def answer() -> None:
        heard = b""
        while not ended.is_set():
            with contextlib.suppress(OSError, TypeError, ValueError):  # while the cable is out
                if select.select([cable._meter], [], [], 0.01)[0]:
                    heard += os.read(cable._meter, 100)
            if b"READ?\n" in heard:
                heard = b""
                cable.send(b"+2.73E-01\n")

    meter = threading.Thread(target=answer)
    meter.start()
    yield
    ended.set()
    meter.join()


def test_asked_again_after_the_cable_was_put_back(cable, answering, monkeypatch) -> None:
    monkeypatch.setattr(module, "RETRY_S", 0.01)
    items: queue.SimpleQueue[PortItem] = queue.SimpleQueue()
    reader = PortReader(PortSettings(cable.url, query="READ?", query_every_s=0.02), SystemClock(), items)
    reader.open()
    reader.start()
    try:
        assert isinstance(items.get(timeout=WAIT_S), Arrival)
        cable.pull()
        while not isinstance(items.get(timeout=WAIT_S), PortLost):
            pass
        cable.plug()
        assert isinstance(items.get(timeout=WAIT_S), PortBack)
        arrival = items.get(timeout=WAIT_S)
        assert isinstance(arrival, Arrival)
    finally:
        reader.stop()


@pytest.mark.parametrize(
    ("query", "sent"),
    [(None, b""), ("READ?", b"READ?\n"), ("READ?\r", b"READ?\r"), ("D\r\n", b"D\r\n"), ("\x1bP", b"\x1bP\n")],
)
def test_what_is_sent(query: str | None, sent: bytes) -> None:
    assert PortSettings("", query=query).query_bytes() == sent


def test_settings_of_earlier_versions_know_no_query() -> None:
    assert PortSettings.from_json({"url": "x", "baud": 1200}) == PortSettings("x", 1200)
    asked = PortSettings("x", query="READ?", query_every_s=1.0, meter="m")
    assert PortSettings.from_json(asked.to_json()) == asked


def test_an_interval_that_cannot_be_is_refused() -> None:
    with pytest.raises(StillvoltError, match="not every 0"):
        open_port(PortSettings("loop://", query="READ?", query_every_s=0.0))
