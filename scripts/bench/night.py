"""Nights of the simulated house, recorded as fast as the computer can, and summed up.

    python scripts/bench/night.py summary [HOURS]    a night at 10 lines/s: how long its summary takes
    python scripts/bench/night.py loads [NIGHTS]     repeating loads compared with the truth of the scene
    python scripts/bench/night.py quiet [NIGHTS]     nights in which nothing switches: loads and steps that are invented
    python scripts/bench/night.py edges [NIGHTS]     nights with an evening and a morning of errands: where these end

Figures are in fixtures/figures/night.md.
"""

from __future__ import annotations

import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from logger.clock import NS_PER_S
from logger.metrology.target import TARGET_VOLTS
from logger.night.analysis.repeating_loads import RepeatingLoad
from logger.night.analysis.summary import NightSummary, summarise
from logger.night.recorded_nights import longest_night
from logger.simulation.fast_forward import FastForward
from logger.simulation.house.scene import Scene, read_scene
from logger.visit import VisitLog

START_UTC_NS = 1_767_225_600 * NS_PER_S

ALLOWED_SHARE = 0.05
"""By how much the period of a load, and its time on, may be wrong."""

MAX_EDGE_OFF_S = 300.0
"""A found edge that is farther off than this needs to be moved by hand: it changes the figures of a night of 7 h."""


def scene_of(script: str, motions_per_hour: float, rate_hz: float) -> Scene:
    """Describe a sleeper in bed and what switches in the house.

    Args:
        script: commands of the scene, one a line; empty where nothing switches.
        motions_per_hour: how often the sleeper moves.
        rate_hz: lines per second of the meter.
    """
    scripted = f'script = """\n{script}\n"""\n' if script else ""
    text = (
        f'title = "bench"\nstart = "Bed, left"\n{scripted}'
        f"[body]\nmotions_per_hour = {motions_per_hour}\nshift = 0.05\nstrength = 0.8\nbreaths_per_minute = 13\n"
    )
    scene = read_scene(text, "bench", None)
    return replace(scene, meter=replace(scene.meter, rate_hz=rate_hz))


def record(folder: Path, scene: Scene, hours: float, seed: int) -> Path:
    """Record a scene; returns the path of the visit log.

    Args:
        folder: where the visit log is made.
        scene: the scene.
        hours: length of the recording.
        seed: of the simulation's random numbers.
    """
    path = folder / f"{seed}.visit"
    VisitLog.create(path).close()
    run = FastForward(path, scene, START_UTC_NS, "UTC", seed)
    run.run(hours * 3600.0)
    run.end()
    return path


def summed_up(path: Path) -> NightSummary:
    """Sum up the longest night of a visit log as the command does."""
    log = VisitLog.open(path)
    found = summarise(longest_night(log).record, TARGET_VOLTS)
    log.close()
    return found


def summary(hours: float) -> None:
    """Print how long a night at 10 lines/s takes to make and to sum up."""
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
    """Print how many loads are found again: periods of 15 to 60 min, on for 20 to 70 %, 7 to 10 h at 2.5 lines/s."""
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
        good = [load for load in found.loads if _is_right(load, 60 * period, 60 * on)]
        found_right += bool(good)
        invented += len(found.loads) - len(good)
        if not good or len(found.loads) > 1:
            print(f"  seed {seed}: {what}, {on} of {period} min: {found.loads}")
    print(f"{nights} nights: the load within 5 % in {found_right}, {invented} others reported")


def _is_right(load: RepeatingLoad, period_s: float, on_s: float) -> bool:
    """Whether a load has the period and the time on of the scene, nearly."""
    return abs(load.period_s / period_s - 1) <= ALLOWED_SHARE and abs(load.on_s / on_s - 1) <= ALLOWED_SHARE


def quiet(nights: int) -> None:
    """Print how many loads and steps are reported in nights of 8 h at 2.5 lines/s in which nothing switches."""
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


def errands(start_s: float, end_s: float, rng: np.random.Generator) -> list[str]:
    """Draw commands for somebody who walks about, stands and sits, and walks at the end of it.

    Args:
        start_s: when it begins.
        end_s: when it ends.
        rng: random numbers.
    """
    script, at_s = [], start_s
    while at_s < end_s:
        walks_s, rests_s = rng.uniform(15.0, 120.0), rng.uniform(10.0, 360.0)
        script += [f"at {round(at_s)} s: walk", f"at {round(min(at_s + walks_s, end_s))} s: stand still"]
        at_s += walks_s + rests_s
    return [*script, f"at {round(end_s - 20)} s: walk", f"at {round(end_s)} s: lie still"]


def edges(nights: int) -> None:
    """Print how far found edges are from the truth: 1 to 3 h of errands, 6 to 8 h in bed, 5 to 30 min of getting up."""
    off_s: list[tuple[float, float]] = []
    for seed in range(nights):
        rng = np.random.default_rng([40, seed])
        lies_s = float(rng.uniform(3600.0, 3 * 3600.0))
        rises_s = lies_s + float(rng.uniform(6 * 3600.0, 8 * 3600.0))
        end_s = rises_s + float(rng.uniform(300.0, 1800.0))
        script = "\n".join([*errands(0.0, lies_s, rng), *errands(rises_s, end_s, rng)])
        with tempfile.TemporaryDirectory() as folder:
            path = record(Path(folder), scene_of(script, rng.uniform(2.0, 10.0), 2.5), end_s / 3600.0, seed)
            log = VisitLog.open(path)
            night = longest_night(log)
            log.close()
        assert night.edges is not None
        begins_s = -night.edges.recording_s[0]
        off_s.append((begins_s - lies_s, begins_s + night.record.end_s - rises_s))
        print(f"  seed {seed}: begins {off_s[-1][0]:+.0f} s, ends {off_s[-1][1]:+.0f} s off", flush=True)
    for name, found in zip(("begins", "ends"), np.abs(np.array(off_s)).T, strict=True):
        print(
            f"{nights} nights, {name}: median {np.median(found):.0f} s off, worst {found.max():.0f} s, "
            f"{(found > MAX_EDGE_OFF_S).sum()} by more than {MAX_EDGE_OFF_S / 60:g} min"
        )


def main() -> None:
    """Run the bench that the command line names."""
    what, *rest = sys.argv[1:] or [""]
    if what == "summary":
        summary(float(rest[0]) if rest else 10.0)
    elif what == "loads":
        loads(int(rest[0]) if rest else 20)
    elif what == "quiet":
        quiet(int(rest[0]) if rest else 100)
    elif what == "edges":
        edges(int(rest[0]) if rest else 40)
    else:
        sys.exit(__doc__)


if __name__ == "__main__":
    main()
