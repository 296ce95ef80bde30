"""`sim://house`: the simulated house as a serial port. pyserial finds this module by its name.

    sim://house?scene=PATH&control=PATH&seed=N&rate_hz=N&counts_mv=N&...

Everything above the port is unaware that no meter is there. Lines come at the pace of the real clock. A house goes
on living while its port is closed and is the same when it is opened again, within one process; another process
starts the scene afresh and replays the lasting effects of the control file's commands.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from urllib.parse import unquote

import serial

from logger.clock import NS_PER_S, Clock, SystemClock
from logger.errors import StillvoltError
from logger.name_list import listed
from logger.simulation.house.control import Control
from logger.simulation.house.meter_model import MeterModel, read_meter
from logger.simulation.house.scene import BUILT_IN_SCENES, Scene, built_in_scene, load_scene
from logger.simulation.house.scene_run import Simulation
from logger.toml_file import TomlByTable
from logger.translation import kept_text, tr

_log = logging.getLogger(__name__)

POLL_CONTROL_EVERY_S = 0.2
"""How often the control file's length is looked at; nothing else happens between two lines."""

WORKED_OUT_AHEAD_S = 0.25
"""Lines are worked out so far ahead, a few at a time: one by one they cost most of what the port costs. A command
shows in the lines at most `POLL_CONTROL_EVERY_S` and this later."""

MAX_WAITING_BYTES = 65_536
"""What nobody reads is dropped beyond this, oldest first."""

CABLE_OUT = kept_text("the cable of the simulated meter is pulled")

NUMBER_PARAMETERS = {
    "rate_hz", "counts_mv", "averaging_s", "noise_mv", "range_volts", "jitter_ms", "auto_power_off_min",
    "input_mohm", "input_pf",
}  # fmt: skip
WORD_PARAMETERS = {"format"}


class LiveHouse:
    """A simulation paced by a clock, with its control file.

    Args:
        simulation: what runs.
        control: where commands come from, or None.
        clock: paces it; its present reading is the simulation's zero.
    """

    def __init__(self, simulation: Simulation, control: Control | None, clock: Clock) -> None:
        self.simulation = simulation
        self._control = control
        self._clock = clock
        self._start_ns = clock.steady_ns()
        self._polled_s = -1.0
        self._ready: list[tuple[float, bytes]] = []
        self.lock = threading.Lock()
        for line in control.new_lines() if control else []:
            self._execute(line, simulation.restore)

    def poll(self) -> bytes:
        """The bytes that have arrived since the last call. Call with `lock` held."""
        now_s = self._now_s()
        simulation = self.simulation
        if self._control and (now_s - self._polled_s >= POLL_CONTROL_EVERY_S):
            self._polled_s = now_s
            for line in self._control.new_lines():
                self._execute(line, simulation.command)
        self._take(now_s)
        due = [data for arrive_s, data in self._ready if arrive_s <= now_s]
        self._ready = self._ready[len(due) :]
        return b"".join(due)

    @property
    def cable_pulled(self) -> bool:
        """Whether nothing comes any more, not even what had been sent before."""
        return not self.simulation.cable_in and not self._ready

    def until_next_s(self) -> float:
        """Seconds until something may be due. Call with `lock` held."""
        now_s = self._now_s()
        next_s = self._ready[0][0] if self._ready else self.simulation.next_line_s
        if self._control:
            next_s = min(next_s, self._polled_s + POLL_CONTROL_EVERY_S)
        return max(0.0, next_s - now_s)

    def _now_s(self) -> float:
        return (self._clock.steady_ns() - self._start_ns) / NS_PER_S

    def _take(self, now_s: float) -> None:
        if now_s >= self.simulation.next_line_s:
            self._ready += [
                (line.time_s, line.data) for line in self.simulation.advance(now_s + WORKED_OUT_AHEAD_S)
            ]

    def _execute(self, line: str, execute: Callable[[str], None]) -> None:
        try:
            execute(line)
        except StillvoltError as error:
            _log.warning("A line of the control file was ignored. %s", error.what)


_houses: dict[tuple[str, Clock], LiveHouse] = {}
_houses_lock = threading.Lock()
_system_clock = SystemClock()


def house_at(url: str, clock: Clock = _system_clock) -> LiveHouse:
    """The house behind a `sim://` URL: the one that lives in this process, or a new one.

    Raises:
        StillvoltError: the URL, its scene or one of its values is wrong.
    """
    with _houses_lock:
        key = (url, clock)
        if key not in _houses:
            _houses[key] = _new_house(url, clock)
        return _houses[key]


def forget_houses() -> None:
    """The next opening of every URL starts afresh."""
    with _houses_lock:
        _houses.clear()


def scene_of(url: str) -> Scene:
    """The scene that a `sim://` URL starts, as it is at its start.

    Raises:
        StillvoltError: as `house_at`.
    """
    return _scene(parameters_of(url))


def _new_house(url: str, clock: Clock) -> LiveHouse:
    given = parameters_of(url)
    scene = _scene(given)
    seed = given.get("seed", "0")
    if not (seed.isdecimal() and len(seed) < 19):
        raise StillvoltError(
            tr("In {url} the seed must be a whole number, not {seed}.").format(url=url, seed=seed)
        )
    control = Control(Path(given["control"])) if "control" in given else None
    return LiveHouse(Simulation(scene, int(seed)), control, clock)


def parameters_of(url: str) -> dict[str, str]:
    """The values after the question mark. A plus sign is a plus sign: these are paths, not forms.

    Raises:
        StillvoltError: a key is not known, or has no value.
    """
    known = {"scene", "control", "seed"} | NUMBER_PARAMETERS | WORD_PARAMETERS
    given: dict[str, str] = {}
    for part in url.partition("?")[2].split("&"):
        if not part:
            continue
        key, _, value = part.partition("=")
        if key not in known:
            raise StillvoltError(
                tr("In {url} “{key}” is not known.").format(url=url, key=key),
                next_step=tr("Known: {keys}.").format(keys=listed(sorted(known))),
            )
        if not value:
            raise StillvoltError(tr("In {url} {key} has no value.").format(url=url, key=key))
        given[key] = unquote(value)
    return given


def _scene(given: dict[str, str]) -> Scene:
    # Whoever sends commands wants to be the only one who switches.
    name = given.get("scene", "practice" if "control" in given else "lively")
    scene = built_in_scene(name) if name in BUILT_IN_SCENES else load_scene(Path(name))
    return replace(scene, meter=_changed(scene.meter, given))


def _changed(meter: MeterModel, given: dict[str, str]) -> MeterModel:
    values: dict[str, object] = {key: given[key] for key in WORD_PARAMETERS if key in given}
    for key in NUMBER_PARAMETERS & given.keys():
        try:
            values[key] = float(given[key])
        except ValueError:
            raise StillvoltError(
                tr("In the port's URL {key} must be a number, not {value}.").format(key=key, value=given[key])
            ) from None
    return read_meter(TomlByTable(values, tr("The port's URL")), values, plain=meter)


class Serial(serial.SerialBase):
    """The port. Reads like a terminal: up to `size` bytes, fewer when the timeout runs out.

    Args:
        clock: paces the house; the other arguments are pyserial's.
    """

    def __init__(self, *args: object, clock: Clock = _system_clock, **kwargs: object) -> None:
        self._clock = clock
        self._house: LiveHouse | None = None
        self._waiting = bytearray()
        self._quiet_until_ns = 0
        self._wake = threading.Condition()
        self._cancelled = False
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]

    def open(self) -> None:
        """Open the port.

        Raises:
            SerialException: the cable is pulled, or the port is open or not configured.
            StillvoltError: the scene is wrong.
        """
        if self.is_open:
            raise serial.SerialException("Port is already open.")
        if self.port is None:
            raise serial.SerialException("Port must be configured before it can be used.")
        house = house_at(self.port, self._clock)
        with house.lock:
            house.poll()
            if not house.simulation.cable_in:
                raise serial.SerialException(CABLE_OUT)
        self._house = house
        self._waiting.clear()
        self._quiet_until_ns = 0
        self._cancelled = False
        self.is_open = True

    def close(self) -> None:
        """Wakes a read that waits."""
        with self._wake:
            self.is_open = False
            self._wake.notify_all()

    @property
    def in_waiting(self) -> int:
        """Bytes that can be read without waiting."""
        self._receive()
        return len(self._waiting)

    def read(self, size: int = 1, /) -> bytes:
        """Up to `size` bytes."""
        timeout_s = self.timeout
        deadline_ns = None if timeout_s is None else self._clock.steady_ns() + int(timeout_s * NS_PER_S)
        while True:
            due_s = self._receive()
            with self._wake:
                left_s = None if deadline_ns is None else (deadline_ns - self._clock.steady_ns()) / NS_PER_S
                over = left_s is not None and left_s <= 0
                if len(self._waiting) >= size or over or self._cancelled or not self.is_open:
                    self._cancelled = False
                    data = bytes(self._waiting[:size])
                    del self._waiting[:size]
                    return data
                self._wake.wait(due_s if left_s is None else min(due_s, left_s))

    def cancel_read(self) -> None:
        """A read that waits returns what it has."""
        with self._wake:
            self._cancelled = True
            self._wake.notify_all()

    def write(self, data: bytes, /) -> int:  # type: ignore[override]
        """Take the bytes and forget them: the simulated meter does not listen.

        Raises:
            PortNotOpenError: the port is closed.
        """
        if not self.is_open:
            raise serial.PortNotOpenError
        return len(data)

    def flush(self) -> None:
        """Nothing is ever on its way out."""

    @property
    def out_waiting(self) -> int:
        """Nothing is ever on its way out."""
        return 0

    def reset_input_buffer(self) -> None:
        """Forget what has come."""
        self._receive()
        self._waiting.clear()

    def reset_output_buffer(self) -> None:
        """Nothing is ever on its way out."""

    @property
    def cts(self) -> bool:
        """As a cable with three wires: always clear."""
        return True

    dsr = cts
    cd = cts

    @property
    def ri(self) -> bool:
        """Never rings."""
        return False

    def _receive(self) -> float:
        """Take in what has arrived; gives the seconds until more can be due."""
        house = self._house
        if not self.is_open or house is None:
            raise serial.PortNotOpenError
        now_ns = self._clock.steady_ns()
        if now_ns < self._quiet_until_ns:
            return (self._quiet_until_ns - now_ns) / NS_PER_S
        with house.lock:
            data = house.poll()
            pulled = house.cable_pulled
            due_s = house.until_next_s()
        self._quiet_until_ns = 0 if pulled else now_ns + int(due_s * NS_PER_S)
        with self._wake:
            self._waiting += data
            del self._waiting[:-MAX_WAITING_BYTES]
            if pulled and not self._waiting:
                raise serial.SerialException(CABLE_OUT)
        return due_s

    def _reconfigure_port(self) -> None:
        """Any baud rate will do."""

    def _update_dtr_state(self) -> None:
        """The wire ends nowhere."""

    _update_rts_state = _update_break_state = _update_dtr_state


def serial_class_for_url(url: str) -> tuple[str, type[Serial]]:
    """Called by pyserial."""
    return url, Serial
