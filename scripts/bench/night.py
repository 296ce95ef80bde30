"""Nights of the simulated house, recorded as fast as the computer can, and summed up.

    python scripts/bench/night.py summary [HOURS]    a night at 10 lines/s: how long its summary takes
    python scripts/bench/night.py loads [NIGHTS]     repeating loads compared with the truth of the scene
    python scripts/bench/night.py quiet [NIGHTS]     nights in which nothing switches: loads and steps that are invented
    python scripts/bench/night.py edges [NIGHTS]     nights with an evening and a morning of errands: where these end
    python scripts/bench/night.py unsteady [NIGHTS]  nights that begin with a load that switches or a level that wanders

Figures are in fixtures/figures/night.md.
"""

from __future__ import annotations

import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.clock import NS_PER_S
from logger.metrology.target import TARGET_VOLTS
from logger.night.analysis.lying_stretch import lying_stretch
from logger.night.analysis.night_record import Floats, NightRecord
from logger.night.analysis.quiet_stretches import with_quiet_stretches
from logger.night.analysis.repeating_loads import RepeatingLoad
from logger.night.analysis.summary import NightSummary, summarise
from logger.night.recorded_nights import longest_night
from logger.settling.events import span_s
from logger.settling.replay import replay
from logger.simulation.fast_forward import FastForward
from logger.simulation.house.scene import Scene, read_scene
from logger.visit import VisitLog
from tests.support.night_traces import averaged, cycling, moved, times_of, wandering

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


LOADS_S = ((5, 5), (3, 4), (8, 6), (10, 10), (15, 9), (10, 60))
"""For how long a load is on and off, s."""

WANDERS = ((0.01, 600), (0.02, 600), (0.02, 60))
"""By how much a level wanders, and its correlation time, s."""

UNSTEADY: dict[str, tuple[float, float]] = {
    **{f"load on {on} s, off {off} s": (on, off) for on, off in LOADS_S},
    **{f"wanders by {share:.0%} in {time_s} s": (share, time_s) for share, time_s in WANDERS},
}

TURNS = 3
"""So often an hour the sleeper of an unsteady night turns over."""


def unsteady(nights: int) -> None:
    """Print what is left out of nights of 7 h 20 min in bed that are unsteady until 01:30 and steady from then on."""
    for name, (first, second) in UNSTEADY.items():
        found = np.array([_unsteady_night(first, second, seed) for seed in range(nights)])
        left_out, was_left_out, motions, were_motions, true = found.T
        print(
            f"{name}: left out in the median {np.median(left_out):.0f} min, at worst {left_out.max():.0f} "
            f"(by the detector's levels alone {np.median(was_left_out):.0f} and {was_left_out.max():.0f}); motions "
            f"{motions.sum():.0f} (alone {were_motions.sum():.0f}) of {true.sum():.0f}",
            flush=True,
        )


def _unsteady_night(first: float, second: float, seed: int) -> tuple[float, float, int, int, int]:
    """Return what of the time in bed is left out, and the motions of a night.

    Args:
        first: for how long a load is on, s, or by what share a level wanders.
        second: for how long it is off, s, or the correlation time, s.
        seed: of the random numbers.

    Returns:
        What is left out, min, with and without what `quiet_stretches` adds; the motions found with and without it;
        the motions that there were.
    """
    rate_hz, lies_s, steady_s = 2.5, 900.0, 3 * 3600.0
    rng = np.random.default_rng([50, seed, round(100 * first), round(second)])
    times_s = times_of(7.6 * 3600.0, rate_hz)
    unsteady = 3.0 * wandering(times_s, first, second, rng)
    if first >= 1.0:
        unsteady = averaged(cycling(times_s, first, second, (2.4, 3.0)), rate_hz, 0.4)
    volts: Floats = np.full(len(times_s), 0.3)
    is_unsteady = (times_s >= lies_s) & (times_s < steady_s)
    volts[is_unsteady] = unsteady[is_unsteady]
    moments = [(lies_s - 60.0, 60.0), (times_s[-1] - 90.0, 90.0)]
    turns = rng.uniform(lies_s + 300.0, times_s[-1] - 600.0, round(TURNS * 7.3)).tolist()
    moments += [(at_s, float(rng.uniform(5.0, 25.0))) for at_s in turns]
    for at_s, length_s in moments:
        moved(times_s, volts, at_s, length_s, rng)
    volts *= 1.0 + 0.001 * rng.standard_normal(len(volts))
    np.round(np.abs(volts), 3, out=volts)
    events = sorted(replay(times_s.tolist(), volts.tolist()), key=lambda event: span_s(event)[0])
    alone = NightRecord(times_s, volts, tuple(events), float(times_s[-1]))
    record = with_quiet_stretches(alone)
    whole = (0.0, record.end_s)
    left_out_min = [max(lying_stretch(one, whole)[0] - lies_s, 0.0) / 60.0 for one in (record, alone)]
    return left_out_min[0], left_out_min[1], len(record.motions), len(alone.motions), len(moments)


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
    elif what == "unsteady":
        unsteady(int(rest[0]) if rest else 6)
    else:
        sys.exit(__doc__)


if __name__ == "__main__":
    main()
