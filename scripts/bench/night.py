"""Nights of the simulated house, recorded as fast as the computer can, and summed up.

python scripts/bench/night.py summary [HOURS]    a night at 10 lines/s: how long its summary takes
python scripts/bench/night.py loads [NIGHTS]     repeating loads against the truth of the scene
python scripts/bench/night.py quiet [NIGHTS]     nights in which nothing switches: loads and steps that were invented
"""

from __future__ import annotations

import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from logger.clock import NS_PER_S
from logger.night.analysis.summary import NightSummary, summarise
from logger.night.recorded_nights import longest_night
from logger.simulation.fast_forward import FastForward
from logger.simulation.house.scene import Scene, read_scene
from logger.visit import VisitLog

START_UTC_NS = 1_767_225_600 * NS_PER_S
TARGET_VOLTS = 0.1


def scene_of(script: str, motions_per_hour: float, rate_hz: float) -> Scene:
    """A sleeper in bed, with what switches in the house."""
    scripted = f'script = """\n{script}\n"""\n' if script else ""
    text = (
        f'title = "bench"\nstart = "Bed, left"\n{scripted}'
        f"[body]\nmotions_per_hour = {motions_per_hour}\nshift = 0.05\nstrength = 0.8\nbreaths_per_minute = 13\n"
    )
    scene = read_scene(text, "bench", None)
    return replace(scene, meter=replace(scene.meter, rate_hz=rate_hz))


def record(folder: Path, scene: Scene, hours: float, seed: int) -> Path:
    """Record it; gives the visit log."""
    path = folder / f"{seed}.visit"
    VisitLog.create(path).close()
    run = FastForward(path, scene, START_UTC_NS, "UTC", seed)
    run.run(hours * 3600.0)
    run.end()
    return path


def summed_up(path: Path) -> NightSummary:
    """As the command does it."""
    log = VisitLog.open(path)
    found = summarise(longest_night(log).record, TARGET_VOLTS)
    log.close()
    return found


def summary(hours: float) -> None:
    script = (
        "every 41 min +- 1 min from 12 min: aquarium heater on\n"
        "every 41 min +- 1 min from 26 min: aquarium heater off"
    )
    with tempfile.TemporaryDirectory() as folder:
        started = time.perf_counter()
        path = record(Path(folder), scene_of(script, 5.0, 10.0), hours, 1)
        made_s = time.perf_counter() - started
        started = time.perf_counter()
        found = summed_up(path)
        took_s = time.perf_counter() - started
    print(
        f"night of {hours:g} h at 10 lines/s: made in {made_s:.0f} s, summed up in {took_s:.2f} s (asked: 2 s)"
    )
    print(f"  {len(found.steps)} steps, loads: {found.loads}")


def loads(nights: int) -> None:
    """Periods of 15 to 60 min, on for 20 to 70 % of it, 7 to 10 h at 2.5 lines/s."""
    found_right = invented = 0
    for seed in range(nights):
        rng = np.random.default_rng([20, seed])
        period = int(rng.integers(15, 60))
        on = max(3, int(period * rng.uniform(0.2, 0.7)))
        at = int(rng.integers(2, period))
        what = str(rng.choice(["aquarium heater", "lamp"]))
        script = (
            f"every {period} min +- 0.5 min from {at} min: {what} on\n"
            f"every {period} min +- 0.5 min from {at + on} min: {what} off"
        )
        with tempfile.TemporaryDirectory() as folder:
            scene = scene_of(script, rng.uniform(2.0, 8.0), 2.5)
            found = summed_up(record(Path(folder), scene, rng.uniform(7.0, 10.0), seed))
        good = [
            load
            for load in found.loads
            if abs(load.period_s / (60 * period) - 1) <= 0.05 and abs(load.on_s / (60 * on) - 1) <= 0.05
        ]
        found_right += bool(good)
        invented += len(found.loads) - len(good)
        if not good or len(found.loads) > 1:
            print(f"  seed {seed}: {what}, {on} of {period} min: {found.loads}")
    print(f"{nights} nights: the load within 5 % in {found_right}, {invented} others told")


def quiet(nights: int) -> None:
    invented = steps = 0
    for seed in range(nights):
        rng = np.random.default_rng([30, seed])
        with tempfile.TemporaryDirectory() as folder:
            scene = scene_of("", rng.uniform(2.0, 10.0), 2.5)
            found = summed_up(record(Path(folder), scene, 8.0, seed))
        invented += len(found.loads)
        steps += len(found.steps)
        if found.loads:
            print(f"  seed {seed}: {found.loads}", flush=True)
    print(
        f"{nights} quiet nights: {invented} loads invented (asked: 0); {steps} steps, where the sleeper turned over"
    )


def main() -> None:
    what, *rest = sys.argv[1:] or [""]
    if what == "summary":
        summary(float(rest[0]) if rest else 10.0)
    elif what == "loads":
        loads(int(rest[0]) if rest else 20)
    elif what == "quiet":
        quiet(int(rest[0]) if rest else 100)
    else:
        sys.exit(__doc__)


if __name__ == "__main__":
    main()
