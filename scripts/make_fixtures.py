"""Makes fixtures/traces/*.csv and fixtures/streams/house_*.txt from seeded simulations of the scenes.

python scripts/make_fixtures.py        the same files every time; run it after a change of the simulated house
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from logger.meter.lines import LineStatus, read_line
from logger.simulation.house.meter_model import FORMATS, LineFormatName
from logger.simulation.house.scene import Scene, load_scene
from logger.simulation.house.scene_run import Simulation

FIXTURES = Path(__file__).resolve().parent.parent / "fixtures"

TRACES = {
    # name: (length in seconds, lines a second, seed)
    "first_minute": (30.0, 10.0, 1),
    "evening": (620.0, 4.0, 2),
    "quiet_night": (8 * 3600.0, 1.0, 3),
}

STREAM_S = 40.0


def scene_at(name: str, rate_hz: float) -> Scene:
    """A scene with a meter of that rate."""
    scene = load_scene(FIXTURES / "scenes" / f"{name}.toml")
    return replace(scene, meter=replace(scene.meter, rate_hz=rate_hz))


def write_trace(name: str, length_s: float, rate_hz: float, seed: int) -> None:
    """The samples alone, as `stillvolt replay` reads them."""
    rows = ["time_s,volts"]
    for line in Simulation(scene_at(name, rate_hz), seed).run(length_s):
        reading = read_line(line.data.strip())
        if reading.status is LineStatus.VOLTS:
            rows.append(f"{line.time_s:.3f},{reading.volts:g}")
    (FIXTURES / "traces" / f"{name}.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")


def write_stream(line_format: LineFormatName) -> None:
    """What a meter with that form of line sends in the evening while it is turned to DC and overloaded."""
    scene = scene_at("evening", 4.0)
    scene = replace(scene, meter=replace(scene.meter, line_format=line_format))
    simulation = Simulation(scene, 4)
    simulation.advance(270.0)
    lines = [line.data for line in simulation.run(STREAM_S)]
    simulation.command("overload")
    lines += [line.data for line in simulation.run(5.0)]
    (FIXTURES / "streams" / f"house_{line_format}.txt").write_bytes(b"".join(lines))


def main() -> None:
    """Writes all files."""
    for folder in ("traces", "streams"):
        (FIXTURES / folder).mkdir(exist_ok=True)
    for name, (length_s, rate_hz, seed) in TRACES.items():
        write_trace(name, length_s, rate_hz, seed)
    for line_format in FORMATS:
        write_stream(line_format)
    for path in sorted((*FIXTURES.glob("traces/*.csv"), *FIXTURES.glob("streams/house_*.txt"))):
        print(f"{path.stat().st_size:>9,} bytes  {path}")


if __name__ == "__main__":
    main()
