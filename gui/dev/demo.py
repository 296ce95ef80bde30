"""A visit filled in a moment, through the recorder's own code: for a part opened alone, for tests and pictures."""

from __future__ import annotations

import json
import time
from pathlib import Path

import numpy as np

from logger.clock import NS_PER_S, ManualClock
from logger.meter.description import MeterDescription
from logger.meter.description_toml import as_toml
from logger.meter.reader import Arrival, PortBack, PortLost
from logger.recording.recorder import Recorder
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_ON
from logger.visit.records.fact_names import CONDITION
from logger.visit.storage.run_writer import RunWriter

URL = "sim://house"


class DemoRecorder:
    """Records a made-up trace into a visit log, in no time.

    Args:
        log: the visit log.
        clock: moved on by what is recorded.
        rate_hz: samples a second.
        seed: of the noise.
        meter: the kept meter that it is recorded with.
        url: of the port that it is recorded from.
    """

    def __init__(
        self,
        log: VisitLog,
        clock: ManualClock,
        rate_hz: float = 5.0,
        seed: int = 1,
        meter: MeterDescription | None = None,
        url: str = URL,
    ) -> None:
        self.clock = clock
        self._period_ns = round(NS_PER_S / rate_hz)
        self._random = np.random.default_rng(seed)
        settings = {"url": url}
        if meter is not None:
            settings |= {"meter": meter.name, "description": as_toml(meter)}
        self._writer = RunWriter(
            log.path,
            utc_ns=clock.utc_ns(),
            zone="Europe/Vienna",
            utc_offset_s=3600,
            port=url,
            settings=json.dumps(settings),
            software="demo",
            pid=1,
        )
        self.recorder = Recorder(self._writer, clock, clock.steady_ns(), lambda _: None)

    def still(self, volts: float, seconds: float, noise_volts: float = 0.004) -> None:
        """Lie still at a level.

        Args:
            volts: the level.
            seconds: how long.
            noise_volts: standard deviation of the noise.
        """
        count = self._count(seconds)
        self._send(volts + noise_volts * self._random.standard_normal(count))

    def move(self, volts: float, peak_volts: float, seconds: float) -> None:
        """Move: rises above the level that return to it.

        Args:
            volts: the level it starts from and returns to.
            peak_volts: the highest value.
            seconds: how long.
        """
        count = self._count(seconds)
        rise = np.abs(np.sin(np.linspace(0, 3 * np.pi, count))) * (0.6 + 0.4 * self._random.random(count))
        self._send(volts + (peak_volts - volts) * rise)

    def approach(self, start_volts: float, end_volts: float, seconds: float) -> None:
        """Settle from one level towards another.

        Args:
            start_volts: the level it comes from.
            end_volts: the level it settles at.
            seconds: how long it is recorded: four time constants.
        """
        times = np.linspace(0, 4, self._count(seconds))
        self._send(end_volts + (start_volts - end_volts) * np.exp(-times))

    def lines(self, *lines: bytes) -> None:
        """Send lines as they are."""
        for line in lines:
            self._line(line)
        self.recorder.write()

    def pull_cable(self, seconds: float) -> None:
        """Lose the port for so long."""
        reason = "the device is gone"
        self.recorder.handle(PortLost(self.clock.utc_ns(), self.clock.steady_ns(), reason))
        self.silence(seconds)

    def put_cable_back(self) -> None:
        """Have the port again."""
        self.recorder.handle(PortBack(self.clock.utc_ns(), self.clock.steady_ns(), URL))
        self.recorder.write()

    def silence(self, seconds: float) -> None:
        """Let time pass without a line."""
        for _ in range(max(round(seconds / 0.2), 1)):
            self.clock.advance_ns(NS_PER_S // 5)
            self.recorder.tick()
        self.recorder.write()

    def end(self) -> None:
        """Close the run in order."""
        self.recorder.end("stopped")
        self.close()

    def close(self) -> None:
        """Leave the run as a killed recorder would."""
        self._writer.close()

    def _count(self, seconds: float) -> int:
        return max(round(seconds * NS_PER_S / self._period_ns), 1)

    def _send(self, volts: np.ndarray[tuple[int], np.dtype[np.float64]]) -> None:
        for value in np.maximum(volts, 0.0):
            self._line(f"{value:.3f} V AC".encode())
        self.recorder.write()

    def _line(self, line: bytes) -> None:
        self.clock.advance_ns(self._period_ns)
        self.recorder.handle(Arrival(self.clock.utc_ns(), self.clock.steady_ns(), line + b"\r\n"))


def evening(log: VisitLog, clock: ManualClock) -> DemoRecorder:
    """An evening at the bed and the desk: settled, moved, a lamp plugged in, a cable pulled, four readings."""
    bed, desk, seat, _ = [
        log.spots.add(n)
        for n in ("Bed, lying down", "Desk, seated", "Armchair by the window", "Centre of the room")
    ]
    log.facts.set(CONDITION, EVERYTHING_ON)
    demo = DemoRecorder(log, clock)
    demo.approach(0.9, 0.62, 6)
    demo.still(0.62, 30)
    log.readings.take(desk.id, EVERYTHING_ON)
    demo.move(0.62, 2.1, 6)
    demo.approach(0.8, 0.41, 4)
    demo.still(0.41, 22)
    mistaken = log.readings.take(bed.id, EVERYTHING_ON)
    log.readings.void(mistaken.id, "wrong spot")
    log.readings.take(seat.id, EVERYTHING_ON, stated_unchanged=True)  # where that one was read, says the user
    demo.lines(b"OL", b"OL", b"OL", b"0.41 V DC", b"\x00\xff\x8e")
    demo.pull_cable(6)
    demo.put_cable_back()
    demo.move(0.41, 1.2, 5)
    demo.approach(0.5, 0.27, 4)
    demo.still(0.27, 24)
    log.marks.add("lamp at the bed plugged in")
    demo.still(0.44, 20)
    demo.move(0.44, 1.5, 4)
    demo.still(0.27, 18)
    log.readings.take(bed.id, EVERYTHING_ON)
    demo.still(0.27, 6)
    return demo


def demo_visit(folder: Path) -> tuple[VisitLog, ManualClock]:
    """A visit in that folder with `evening` in it, its recorder still beating."""
    length_s = 190
    clock = ManualClock(time.time_ns() - length_s * NS_PER_S)
    log = VisitLog.create(folder / "demo.visit", clock)
    evening(log, clock).close()
    return log, clock
