"""Ports: listed, set up, opened, and refused with one plain sentence."""

from __future__ import annotations

import contextlib
import os
import socket
import sys
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import serial

from logger.errors import StillvoltError
from logger.meter.port import PortSettings, UsbIdentity, list_ports, open_port
from logger.simulation import SIMULATED_URL

posix_only = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals")


@pytest.fixture
def device() -> Iterator[tuple[int, str]]:
    """The meter's end of a pseudo-terminal and the name of the other end."""
    meter, port = os.openpty()
    yield meter, os.ttyname(port)
    os.close(port)
    os.close(meter)


def refusal(url: str, **settings: Any) -> str:
    with pytest.raises(StillvoltError) as caught:
        open_port(PortSettings(url, **settings))
    assert "Traceback" not in str(caught.value)
    return str(caught.value)


@posix_only
def test_a_device_is_opened_with_its_settings(device: tuple[int, str]) -> None:
    meter, name = device
    settings = PortSettings(name, baud=2400, data_bits=7, parity="O", stop_bits=2.0)
    with contextlib.closing(open_port(settings)) as port:
        assert (port.baudrate, port.bytesize, port.parity, port.stopbits) == (2400, 7, "O", 2)
        os.write(meter, b"0.273 V\r\n")
        assert port.read(9) == b"0.273 V\r\n"


@posix_only
def test_a_second_program_is_refused(device: tuple[int, str]) -> None:
    _, name = device
    with contextlib.closing(open_port(PortSettings(name))):
        assert refusal(name).startswith(f"Another program is using the port {name}.")
    open_port(PortSettings(name)).close()


def test_the_levels_of_dtr_and_rts_are_set_before_opening(monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[tuple[str, bool]] = []

    class Port:
        def __setattr__(self, name: str, value: bool) -> None:
            seen.append((name, value))

        def open(self) -> None:
            seen.append(("open", True))

    monkeypatch.setattr(serial, "serial_for_url", lambda url, **_: Port())
    open_port(PortSettings("/dev/ttyX", dtr=True, rts=False))
    assert seen == [("dtr", True), ("rts", False), ("open", True)]
    seen.clear()
    open_port(PortSettings("/dev/ttyX"))
    assert seen == [("open", True)]


@posix_only
def test_reasons(tmp_path: Path) -> None:
    assert refusal("/dev/ttyNOWHERE").startswith("There is no port /dev/ttyNOWHERE.")
    assert refusal("").startswith("No port was named.")
    assert (
        refusal(str(tmp_path))
        == f"{tmp_path} is not a serial port. `stillvolt ports` lists the ports there are."
    )
    plain = tmp_path / "readings.txt"
    plain.write_text("0.273 V\n")
    assert refusal(str(plain)).startswith(f"{plain} is not a serial port.")
    assert plain.read_text() == "0.273 V\n"
    for kind in ("spy", "loop", "alt", "cp2110", "SPY"):
        said = refusal(f"{kind}:///dev/ttyUSB0?file=written")
        assert said.startswith(f"Nothing is known about ports of the kind {kind.lower()}://.")
    assert refusal("nothing://x").startswith("Nothing is known about ports of the kind nothing://.")
    assert refusal("hwgrep://no-such-adapter").startswith(
        "No port of this computer matches hwgrep://no-such-adapter."
    )
    assert refusal("socket://nohost").startswith("socket://nohost is not of the form socket://host:port.")
    with socket.create_server(("127.0.0.1", 0)) as server:
        free = server.getsockname()[1]
    assert refusal(f"socket://127.0.0.1:{free}").startswith(f"socket://127.0.0.1:{free} does not open")


@posix_only
def test_a_setting_that_the_port_does_not_have(device: tuple[int, str]) -> None:
    assert "cannot be set to 9600 baud, 9 data bits, parity N, 1 stop bits" in refusal(device[1], data_bits=9)


def test_no_permission_names_the_group(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: Any, **__: Any) -> None:
        raise serial.SerialException(13, "could not open port /dev/ttyUSB0: [Errno 13] Permission denied")

    monkeypatch.setattr(serial, "serial_for_url", refuse)
    monkeypatch.setattr(sys, "platform", "linux")
    assert refusal("/dev/ttyUSB0").startswith("You may not use the port /dev/ttyUSB0.")
    assert "dialout" in refusal("/dev/ttyUSB0")


def test_busy_on_windows(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: Any, **__: Any) -> None:
        raise serial.SerialException(
            "could not open port 'COM3': PermissionError(13, 'Access is denied.', None, 5)"
        )

    monkeypatch.setattr(serial, "serial_for_url", refuse)
    assert refusal("COM3").startswith("Another program is using the port COM3.")


def test_the_list_ends_with_the_simulated_house(monkeypatch: pytest.MonkeyPatch) -> None:
    def adapter(device: str, **more: Any) -> SimpleNamespace:
        nothing = {"description": "n/a", "manufacturer": None, "vid": None, "pid": None}
        also = {"serial_number": None, "location": None, "name": device.rsplit("/", 1)[-1]}
        return SimpleNamespace(device=device, **{**nothing, **also, **more})

    class Sorted(SimpleNamespace):
        def __lt__(self, other: SimpleNamespace) -> bool:
            return bool(self.device < other.device)

    found = [
        adapter(
            "/dev/ttyUSB1",
            description="Optical cable",
            manufacturer="Maker",
            vid=1,
            pid=2,
            serial_number="A7",
        ),
        adapter("/dev/ttyS0"),
    ]
    monkeypatch.setattr("serial.tools.list_ports.comports", lambda: [Sorted(**vars(port)) for port in found])
    ports = list_ports()
    assert [port.url for port in ports] == ["/dev/ttyS0", "/dev/ttyUSB1", SIMULATED_URL]
    assert [port.description for port in ports[:2]] == ["serial port", "Optical cable (Maker)"]
    assert ports[1].usb == UsbIdentity(1, 2, "A7", None)


def test_the_same_adapter_is_known_by_its_serial_number_or_its_socket() -> None:
    one = UsbIdentity(1, 2, "A7", "1-1")
    assert one.is_same_device(UsbIdentity(1, 2, "A7", "1-4"))
    assert not one.is_same_device(UsbIdentity(1, 2, "B8", "1-1"))
    nameless = UsbIdentity(1, 2, None, "1-1")
    assert nameless.is_same_device(UsbIdentity(1, 2, None, "1-1"))
    assert not nameless.is_same_device(UsbIdentity(1, 2, None, "1-2"))


def test_settings_as_json_and_back() -> None:
    settings = PortSettings("/dev/ttyUSB0", baud=2400, parity="E", stop_bits=2.0, dtr=True, rts=False)
    assert PortSettings.from_json(settings.to_json()) == settings
    assert PortSettings.from_json({"url": "COM3", "of_a_later_version": 1}) == PortSettings("COM3")
    with pytest.raises(StillvoltError, match="name no port"):
        PortSettings.from_json({"baud": 9600})
