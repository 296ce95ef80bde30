"""A scene of the simulated house recorded as fast as the computer can, through the recorder's own code.

For nights of practice, for the demo visit, for tests and benches. A ten-hour night at 10 lines/s takes about half a
minute.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from logger import __version__
from logger.clock import NS_PER_S, ManualClock
from logger.meter.description import MeterDescription
from logger.meter.description_toml import as_toml
from logger.meter.port import PortSettings
from logger.meter.reader import Arrival
from logger.recording.recorder import Recorder
from logger.simulation import SIMULATED_URL
from logger.simulation.house.scene import Scene
from logger.simulation.house.scene_run import SimulatedLine, Simulation
from logger.translation import in_language
from logger.visit.records.simulated_run import LIES_AT, simulation_settings
from logger.visit.records.stop_source import TIME_WAS_UP
from logger.visit.storage.run_writer import RunWriter

WRITE_EVERY_S = 10.0
"""Simulated time from one batch to the next: fewer than a real recorder writes, with the same content."""


class FastForward:
    """A recorder on a simulated house, with a clock that moves as fast as lines are made.

    Args:
        visit: an existing visit log.
        scene: used up by this recording.
        start_utc_ns: when it begins.
        zone: IANA name of the time zone that the recording states.
        seed: draws motion and noise.
        meter: the meter description that the recording states; None for none.
        url: the port that the recording states.
        lies_at: place of the house in which somebody sleeps, as the recording states it; empty for none.
    """

    def __init__(
        self,
        visit: Path,
        scene: Scene,
        start_utc_ns: int,
        zone: str = "UTC",
        seed: int = 0,
        meter: MeterDescription | None = None,
        url: str = SIMULATED_URL,
        lies_at: str = "",
    ) -> None:
        self.clock = ManualClock(start_utc_ns)
        self.simulation = Simulation(scene, seed)
        self._start_ns = self.clock.steady_ns()
        offset = datetime.fromtimestamp(start_utc_ns // NS_PER_S, ZoneInfo(zone)).utcoffset()
        settings = PortSettings(url, meter=meter.name if meter else None).to_json()
        settings |= simulation_settings(url, is_origin=True)
        if meter is not None:
            settings |= {"description": as_toml(meter)}
        if lies_at:
            settings |= {LIES_AT: lies_at}
        self._writer = RunWriter(
            visit,
            utc_ns=start_utc_ns,
            zone=zone,
            utc_offset_s=int(offset.total_seconds()) if offset else 0,
            port=url,
            settings=json.dumps(settings),
            software=f"Stillvolt {__version__}",
            pid=0,  # no process of its own, and the same file each time
        )
        self.recorder = Recorder(self._writer, self.clock, self._start_ns, lambda _: None)

    @in_language("en")  # what it keeps is the same in every language
    def run(self, until_s: float, on_progress: Callable[[float], None] | None = None) -> None:
        """Record until so many seconds after the start.

        Args:
            until_s: of simulated time.
            on_progress: is given the simulated time about once a simulated minute.
        """
        while self.simulation.now_s < until_s:
            at_s = min(self.simulation.now_s + WRITE_EVERY_S, until_s)
            for line in self.simulation.advance(at_s):
                self._take(line)
            self._set_clock(at_s)
            self.recorder.tick()
            self.recorder.write()
            if on_progress is not None and int(at_s / 60) != int((at_s - WRITE_EVERY_S) / 60):
                on_progress(at_s)

    def send_command(self, command: str) -> None:
        """Give the house a command now."""
        self.simulation.command(command)

    @in_language("en")
    def end(self, reason: str = TIME_WAS_UP) -> None:
        """Close the run in order."""
        self.recorder.end(reason)
        self._writer.close()

    def _take(self, line: SimulatedLine) -> None:
        self._set_clock(line.time_s)
        self.recorder.handle(Arrival(self.clock.utc_ns(), self.clock.steady_ns(), line.data))

    def _set_clock(self, at_s: float) -> None:
        ahead_ns = self._start_ns + round(at_s * NS_PER_S) - self.clock.steady_ns()
        if ahead_ns > 0:
            self.clock.advance_ns(ahead_ns)
