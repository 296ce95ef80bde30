"""`sim://` as a port: from pyserial's point of view it is one like any other."""

from __future__ import annotations

import contextlib
import logging
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
import serial
from hypothesis import given
from hypothesis import strategies as st

from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.meter import port as port_module
from logger.meter.port import PortSettings, open_port
from logger.simulation.house.control import Control, send_command
from logger.simulation.protocol_sim import Serial, forget_houses, scene_of

SCENES = Path(__file__).resolve().parents[2] / "fixtures" / "scenes"


@pytest.fixture(autouse=True)
def _afresh() -> Iterator[None]:
    forget_houses()
    yield
    forget_houses()


class Paced:
    """A port under a clock that is set by hand."""

    def __init__(self, url: str) -> None:
        self.clock = ManualClock()
        self.port = Serial(url, timeout=0, clock=self.clock)

    def told(self, control: Path, command: str) -> None:
        """Say a command and let the house look at its control file."""
        send_command(control, command)
        self.after(0.25)

    def after(self, seconds: float) -> bytes:
        self.clock.advance_ns(round(seconds * NS_PER_S))
        return self.port.read(100_000)


def level(data: bytes) -> float:
    return float(data.splitlines()[-1].split()[0])


def test_pyserial_finds_it_by_its_url() -> None:
    assert "logger.simulation" in serial.protocol_handler_packages
    with serial.serial_for_url("sim://", timeout=1) as port:
        assert port.read_until(b"\r\n").endswith(b" V AC\r\n")


def test_it_is_listed_and_opens_through_the_port_module() -> None:
    url = port_module.list_ports()[-1].url
    port = open_port(PortSettings(url, baud=2400, data_bits=7, parity="E", dtr=True, rts=False))
    assert (port.dtr, port.rts, port.baudrate) == (True, False, 2400)
    port.close()


def test_lines_come_at_the_pace_of_the_clock() -> None:
    paced = Paced("sim://house?rate_hz=10")
    assert paced.after(0.01).count(b"\n") == 1
    assert paced.after(0.08) == b""  # nothing is due before the next tenth
    assert paced.after(1.0).count(b"\n") == 10
    assert paced.after(60).count(b"\n") == 600


def test_a_read_gives_no_more_than_asked_and_in_waiting_tells_the_rest() -> None:
    paced = Paced("sim://")
    paced.clock.advance_ns(NS_PER_S // 2)
    waiting = paced.port.in_waiting
    first = paced.port.read(1)
    assert len(first) == 1
    assert paced.port.in_waiting == waiting - 1
    paced.port.reset_input_buffer()
    assert paced.port.in_waiting == 0


def test_what_nobody_reads_is_bounded() -> None:
    paced = Paced("sim://house?rate_hz=100")
    paced.clock.advance_ns(120 * NS_PER_S)
    assert 60_000 < paced.port.in_waiting <= 65_536


def test_a_closed_port_refuses() -> None:
    paced = Paced("sim://")
    paced.port.close()
    paced.port.close()
    for use in (lambda: paced.port.read(1), lambda: paced.port.in_waiting, lambda: paced.port.write(b"x")):
        with pytest.raises(serial.SerialException):
            use()


def test_a_waiting_read_ends_when_told() -> None:
    port = Serial("sim://house?rate_hz=0.2", timeout=None)
    got: list[bytes] = []
    reader = threading.Thread(target=lambda: got.append(port.read(1000)))
    reader.start()
    port.cancel_read()
    reader.join(5)
    assert not reader.is_alive()
    port.close()


def test_closing_ends_a_waiting_read() -> None:
    port = Serial("sim://house?rate_hz=0.2", timeout=None)
    ended = threading.Event()

    def read() -> None:
        with contextlib.suppress(serial.SerialException):
            port.read(1000)
        ended.set()

    threading.Thread(target=read).start()
    port.close()
    assert ended.wait(5)


def test_a_command_in_the_control_file_is_carried_out(tmp_path: Path) -> None:
    control = tmp_path / "control.txt"
    paced = Paced(f"sim://house?control={control}")
    before = level(paced.after(3))
    paced.told(control, "lamp on")
    assert level(paced.after(3)) > before + 1.0
    paced.told(control, "everything off")
    assert level(paced.after(3)) < 0.1


def test_half_a_line_waits_for_its_other_half(tmp_path: Path) -> None:
    control = tmp_path / "control.txt"
    paced = Paced(f"sim://house?control={control}")
    before = level(paced.after(3))
    with control.open("a") as file:
        file.write("lamp ")
        file.flush()
        assert level(paced.after(3)) == pytest.approx(before, abs=0.02)
        file.write("on\n")
    paced.after(0.25)
    assert level(paced.after(3)) > before + 1.0


def test_garbage_in_the_control_file_is_ignored_and_reported(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    control = tmp_path / "control.txt"
    paced = Paced(f"sim://house?control={control}")
    before = level(paced.after(3))
    with caplog.at_level(logging.WARNING), control.open("ab") as file:
        file.write(b"\xff\x00\xfe\nchandelier on\n\n# a remark\n" + b"x" * 100_000 + b"\nlamp on\n")
        file.flush()
        paced.after(0.25)
        assert level(paced.after(3)) > before + 1.0
    assert len(caplog.records) == 3
    assert "chandelier" in caplog.text


def test_a_pulled_cable_is_a_lost_port_that_comes_back_to_the_same_house(tmp_path: Path) -> None:
    control = tmp_path / "control.txt"
    url = f"sim://house?control={control}"
    paced = Paced(url)
    paced.told(control, "lamp on")
    with_lamp = level(paced.after(5))
    send_command(control, "pull cable")
    with pytest.raises(serial.SerialException, match="pulled"):
        for _ in range(3):  # what had arrived before is still handed out
            paced.after(1)
    with pytest.raises(serial.SerialException, match="pulled"):
        _ = paced.port.in_waiting
    paced.port.close()
    with pytest.raises(serial.SerialException, match="pulled"):
        Serial(url, timeout=0, clock=paced.clock)
    send_command(control, "plug cable")
    paced.clock.advance_ns(NS_PER_S)
    paced.port = Serial(url, timeout=0, clock=paced.clock)
    assert paced.port.in_waiting == 0  # a real cable does not deliver what was sent before it was plugged in
    assert level(paced.after(2)) == pytest.approx(with_lamp, abs=0.03)


def test_a_reopened_port_goes_on_in_the_same_scene() -> None:
    url = f"sim://house?scene={SCENES / 'first_minute.toml'}"
    paced = Paced(url)
    before = level(paced.after(12))
    paced.port.close()
    paced.clock.advance_ns(8 * NS_PER_S)  # the lamp is switched on at 13 s
    paced.port = Serial(url, timeout=0, clock=paced.clock)
    assert level(paced.after(1)) > before + 0.8


def test_another_process_finds_the_state_in_the_control_file(tmp_path: Path) -> None:
    control = tmp_path / "control.txt"
    control.write_text("lamp on\npull cable\nnonsense\ngo to Desk\neverything off\nmove\noverload\n")
    url = f"sim://house?control={control}"
    clock = ManualClock()
    with pytest.raises(serial.SerialException, match="pulled"):
        Serial(url, timeout=0, clock=clock)
    forget_houses()  # as in a new process
    send_command(control, "plug cable")
    paced = Paced(url)
    shown = paced.after(1)
    assert b"OL" not in shown  # what passed has passed
    assert level(shown) < 0.1
    assert len(paced.after(2).splitlines()) == 20


def test_a_path_may_hold_spaces_and_plus_signs(tmp_path: Path) -> None:
    folder = tmp_path / "my house+garden"
    folder.mkdir()
    scene = folder / "a scene.toml"
    scene.write_text('title = "here"\n')
    assert scene_of(f"sim://house?scene={scene}").title == "here"
    assert scene_of(f"sim://house?scene={str(scene).replace(' ', '%20')}").title == "here"


def test_the_meter_is_set_in_the_url() -> None:
    url = "sim://house?rate_hz=2.5&counts_mv=10&format=comma&averaging_s=0&noise_mv=0&jitter_ms=0"
    meter = scene_of(url).meter
    assert (meter.rate_hz, meter.count_volts, meter.line_format) == (2.5, 0.01, "comma")
    assert Paced(url).after(1).count(b",") == 2


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("scene=/nonexistent.toml", "cannot be read"),
        ("rate_hz=0", "rate_hz must be a number from 0.2 to 200"),
        ("rate_hz=fast", "rate_hz must be a number"),
        ("rate_hz=nan", "rate_hz must be a number"),
        ("seed=-1", "seed must be a whole number"),
        ("color=red", "“color” is not known"),
        ("scene=", "scene has no value"),
        (f"scene={SCENES / 'broken.toml'}", "line 8"),
    ],
)
def test_a_wrong_url_is_told_in_a_sentence(query: str, said: str) -> None:
    with pytest.raises(StillvoltError, match=said):
        open_port(PortSettings(f"sim://house?{query}"))


def test_seeds_differ() -> None:
    first, second, again = (Paced(f"sim://house?seed={seed}").after(5) for seed in (1, 2, 1))
    assert first == again
    assert first != second


@given(st.lists(st.binary(max_size=40), max_size=8))
def test_no_bytes_crash_the_control_file(
    tmp_path_factory: pytest.TempPathFactory, pieces: list[bytes]
) -> None:
    path = tmp_path_factory.mktemp("control") / "file"
    control = Control(path)
    assert control.new_lines() == []
    for n in range(len(pieces)):
        path.write_bytes(b"".join(pieces[: n + 1]))
        for line in control.new_lines():
            assert line
    if pieces:
        path.write_bytes(b"walk\n")  # somebody began the file anew
        assert (
            b"".join(pieces).startswith(b"walk\n")
            or len(b"".join(pieces)) <= 5
            or control.new_lines() == ["walk"]
        )
