"""Measures the simulated house: how fast a night is made, and what the port costs while it is recorded.

python scripts/bench/house.py night         a ten-hour night at 10 lines/s
python scripts/bench/house.py port [S]      CPU of reading sim:// at 10 lines/s with a control file, for S seconds
"""

from __future__ import annotations

import queue
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from logger.clock import SystemClock
from logger.meter.port import PortSettings
from logger.meter.reader import Arrival, PortReader
from logger.simulation import register_simulated_port
from logger.simulation.house.scene import load_scene
from logger.simulation.house.scene_run import Simulation

SCENE = Path(__file__).resolve().parents[2] / "fixtures" / "scenes" / "quiet_night.toml"


def night() -> None:
    """Wall time for 360,000 lines."""
    scene = load_scene(SCENE)
    simulation = Simulation(replace(scene, meter=replace(scene.meter, rate_hz=10.0)), 1)
    start_s = time.perf_counter()
    lines = sum(1 for _ in simulation.run(10 * 3600.0))
    print(f"{lines:,} lines of a ten-hour night in {time.perf_counter() - start_s:.2f} s")


def port(length_s: float) -> None:
    """Share of one core that the reader thread and the port use together."""
    register_simulated_port()
    control = Path(tempfile.mkdtemp()) / "control.txt"
    control.touch()
    sink: queue.SimpleQueue[object] = queue.SimpleQueue()
    reader = PortReader(PortSettings(f"sim://house?control={control}"), SystemClock(), sink)  # type: ignore[arg-type]
    reader.open()
    start_s, cpu_s = time.monotonic(), time.process_time()
    reader.start()
    time.sleep(length_s)
    cpu_s = time.process_time() - cpu_s
    passed_s = time.monotonic() - start_s
    reader.stop()
    lines = 0
    while not sink.empty():
        item = sink.get()
        lines += item.data.count(b"\n") if isinstance(item, Arrival) else 0
    print(f"{lines} lines in {passed_s:.1f} s: {100 * cpu_s / passed_s:.2f}% of a core")


if __name__ == "__main__":
    if sys.argv[1:2] == ["night"]:
        night()
    elif sys.argv[1:2] == ["port"]:
        port(float(sys.argv[2]) if len(sys.argv) > 2 else 30.0)
    else:
        sys.exit(__doc__)
