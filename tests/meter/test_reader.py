"""The reader thread over a real terminal device of the kernel: arrivals, losses, returns."""

from __future__ import annotations

import os
import queue
import socket
import threading
from collections.abc import Callable, Iterator

import pytest

from logger.clock import NS_PER_S, ManualClock, SystemClock
from logger.errors import StillvoltError
from logger.meter.port import PortInfo, PortSettings, UsbIdentity
from logger.meter.reader import MID_LINE_NS, Arrival, PortBack, PortItem, PortLost, PortReader

Items = queue.SimpleQueue[PortItem]
WAIT_S = 5.0


class Running:
    """A reader at work, with what it gave."""

    def __init__(self, url: str, **more: object) -> None:
        self.items: Items = queue.SimpleQueue()
        self.clock = ManualClock()
        self.reader = PortReader(PortSettings(url), self.clock, self.items, **more)  # type: ignore[arg-type]
        self.reader.open()
        self.reader.start()

    def next(self) -> PortItem:
        return self.items.get(timeout=WAIT_S)

    def bytes(self, count: int) -> bytes:
        data = b""
        while len(data) < count:
            item = self.next()
            assert isinstance(item, Arrival)
            data += item.data
        return data


@pytest.fixture
def run() -> Iterator[Callable[..., Running]]:
    started: list[Running] = []

    def start(url: str, **more: object) -> Running:
        started.append(Running(url, **more))
        return started[-1]

    yield start
    for running in started:
        running.reader.stop()


def test_bytes_arrive_stamped_by_both_clocks(cable, run) -> None:
    running = run(cable.url)
    running.clock.advance_ns(NS_PER_S)
    cable.send(b"0.273 V\r\n")
    item = running.next()
    assert item == Arrival(running.clock.utc_ns(), NS_PER_S, b"0.273 V\r\n", starts_mid_line=False)


def test_bytes_right_after_the_opening_may_be_the_rest_of_a_line(cable, run) -> None:
    running = run(cable.url)
    running.clock.advance_ns(MID_LINE_NS - 1)
    cable.send(b"73 V\r\n")
    assert running.next().starts_mid_line
    cable.send(b"0.273 V\r\n")
    assert not running.next().starts_mid_line


def test_the_first_opening_that_fails_is_told_to_the_caller(tmp_path) -> None:
    reader = PortReader(PortSettings(str(tmp_path / "nothing")), SystemClock(), queue.SimpleQueue())
    with pytest.raises(StillvoltError, match="There is no port"):
        reader.open()
    reader.stop()


def test_a_cable_pulled_and_put_back_is_a_loss_and_a_return(cable, run) -> None:
    running = run(cable.url)
    cable.send(b"0.1\n")
    running.bytes(4)
    cable.pull()
    lost = running.next()
    assert isinstance(lost, PortLost)
    assert "the cable was pulled or the device was switched off" in lost.reason
    cable.plug()
    assert running.next() == PortBack(running.clock.utc_ns(), running.clock.steady_ns(), cable.url)
    cable.send(b"0.2\n")
    item = running.next()
    assert isinstance(item, Arrival)
    assert (item.data, item.starts_mid_line) == (b"0.2\n", True)


def test_every_one_of_many_pulls_is_recovered(cable, run, monkeypatch) -> None:
    monkeypatch.setattr("logger.meter.reader.RETRY_S", 0.005)
    running = run(cable.url)
    for number in range(100):
        cable.pull()
        assert isinstance(running.next(), PortLost)
        cable.plug()
        assert isinstance(running.next(), PortBack)
        cable.send(b"%d\n" % number)
        assert running.bytes(len(b"%d\n" % number)) == b"%d\n" % number
    assert running.items.empty()


def test_a_usb_adapter_is_found_under_its_new_name(tmp_path, cable, run, monkeypatch) -> None:
    monkeypatch.setattr("logger.meter.reader.RETRY_S", 0.005)
    monkeypatch.setattr(os.path, "realpath", lambda path: path)
    identity = UsbIdentity(1, 2, "A7", "1-1")
    there = [PortInfo(cable.url, "adapter", identity)]
    running = run(cable.url, ports=lambda: list(there))
    cable.pull()
    assert isinstance(running.next(), PortLost)
    cable.path = tmp_path / "ttyOTHER"
    cable.plug()
    there[:] = [
        PortInfo(str(tmp_path / "ttyELSE"), "another", UsbIdentity(1, 2, "B8", "1-1")),
        PortInfo(str(cable.path), "adapter", identity),
    ]
    back = running.next()
    assert isinstance(back, PortBack)
    assert back.url == str(cable.path)
    cable.send(b"0.2\n")
    assert running.bytes(4) == b"0.2\n"


def test_another_adapter_under_the_old_name_is_left_alone(cable, run, monkeypatch) -> None:
    monkeypatch.setattr("logger.meter.reader.RETRY_S", 0.005)
    monkeypatch.setattr(os.path, "realpath", lambda path: path)
    there = [PortInfo(cable.url, "adapter", UsbIdentity(1, 2, "A7", "1-1"))]
    looked = threading.Semaphore(0)

    def ports() -> list[PortInfo]:
        looked.release()
        return list(there)

    running = run(cable.url, ports=ports)
    cable.pull()
    assert isinstance(running.next(), PortLost)
    there[:] = [PortInfo(cable.url, "another", UsbIdentity(1, 2, "B8", "1-1"))]
    cable.plug()
    while looked.acquire(blocking=False):
        pass
    for _ in range(3):
        assert looked.acquire(timeout=WAIT_S)
    assert running.items.empty()
    there[:] = [PortInfo(cable.url, "adapter", UsbIdentity(1, 2, "A7", "1-1"))]
    assert isinstance(running.next(), PortBack)


@pytest.mark.parametrize("usb", [None, UsbIdentity(1, 2, None, "1-1")])
def test_a_port_without_a_number_is_the_only_one_that_appeared(
    tmp_path, cable, run, monkeypatch, usb
) -> None:
    monkeypatch.setattr("logger.meter.reader.RETRY_S", 0.005)
    monkeypatch.setattr(os.path, "realpath", lambda path: path)
    moved = None if usb is None else UsbIdentity(1, 2, None, "1-4")
    other = PortInfo(str(tmp_path / "ttyELSE"), "another meter, there all the time", moved)
    there = [PortInfo(cable.url, "adapter", usb), other]
    running = run(cable.url, ports=lambda: list(there))
    old = cable.url
    cable.pull()
    assert isinstance(running.next(), PortLost)
    cable.path = tmp_path / "ttyUSB1"
    cable.plug()
    there[:] = [other, PortInfo(str(cable.path), "adapter", moved)]
    back = running.next()
    assert isinstance(back, PortBack)
    assert (back.url, back.before) == (str(cable.path), old)
    cable.send(b"0.2\n")
    assert running.bytes(4) == b"0.2\n"


def test_of_two_ports_that_appeared_none_is_guessed(tmp_path, cable, run, monkeypatch) -> None:
    monkeypatch.setattr("logger.meter.reader.RETRY_S", 0.005)
    monkeypatch.setattr(os.path, "realpath", lambda path: path)
    looked = threading.Semaphore(0)
    there = [PortInfo(cable.url, "adapter")]

    def ports() -> list[PortInfo]:
        looked.release()
        return list(there)

    running = run(cable.url, ports=ports)
    cable.pull()
    assert isinstance(running.next(), PortLost)
    old = cable.path
    cable.path = tmp_path / "ttyUSB1"
    cable.plug()
    there[:] = [PortInfo(str(cable.path), "one"), PortInfo(str(tmp_path / "ttyUSB2"), "two")]
    while looked.acquire(blocking=False):
        pass
    for _ in range(3):
        assert looked.acquire(timeout=WAIT_S)
    assert running.items.empty()
    cable.pull()
    cable.path = old
    cable.plug()
    back = running.next()
    assert isinstance(back, PortBack) and back.url == str(old)


def test_a_closed_connection_is_a_loss_and_a_new_one_a_return(run) -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        running = run(f"socket://127.0.0.1:{server.getsockname()[1]}")
        meter, _ = server.accept()
        meter.sendall(b"0.1\n")
        assert running.bytes(4) == b"0.1\n"
        meter.close()
        lost = running.next()
        assert isinstance(lost, PortLost)
        assert "the other end closed the connection" in lost.reason
        meter, _ = server.accept()
        assert isinstance(running.next(), PortBack)
        meter.sendall(b"0.2\n")
        assert running.bytes(4) == b"0.2\n"
        meter.close()


@pytest.mark.parametrize(
    "failure", [OSError(5, "Input/output error"), TypeError("None"), ValueError(), KeyError()]
)
def test_whatever_a_driver_raises_is_a_loss_and_what_came_before_is_kept(run, monkeypatch, failure) -> None:
    fails, pause = threading.Event(), threading.Event()

    class Port:
        def read(self, count: int) -> bytes:
            if fails.is_set():
                pause.wait(0.001)
                return b""
            return b"0"

        @property
        def in_waiting(self) -> int:
            fails.set()
            raise failure

        def close(self) -> None:
            raise failure

    monkeypatch.setattr("logger.meter.reader.open_port", lambda settings: Port())
    running = run("driver")
    assert isinstance(running.next(), Arrival)
    assert isinstance(running.next(), PortLost)
    assert isinstance(running.next(), PortBack)


def test_stop_ends_the_thread_and_closes_the_port(cable, run) -> None:
    running = run(cable.url)
    running.reader.stop()
    assert not running.reader._thread.is_alive(), "it would still hold the port"
    again = run(cable.url)
    again.reader.stop()
    again.reader.stop()


def test_stop_while_the_port_is_lost(cable, run) -> None:
    running = run(cable.url)
    cable.pull()
    assert isinstance(running.next(), PortLost)
    running.reader.stop()
    assert not running.reader._thread.is_alive()


def test_a_flood_is_read_whole_and_in_order(cable, run) -> None:
    running = run(cable.url)
    sent = b"".join(b"%06d\r\n" % number for number in range(20_000))
    sender = threading.Thread(
        target=lambda: [cable.send(sent[i : i + 1000]) for i in range(0, len(sent), 1000)]
    )
    sender.start()
    assert running.bytes(len(sent)) == sent
    sender.join()
