"""How good the settling detector is, on traces it was not tuned on: `python scripts/bench/detector.py`.

Prints the measures with what is asked of each, a rolling-spread rule and `ruptures` beside them, false alarms in quiet
nights, and the cost per sample. `--appliances WHEEL` adds appliance recordings (ACS-F1) out of aeon's wheel, which
`pip download --no-deps aeon` fetches; the package itself is not installed, since it needs numba and much else.
"""

from __future__ import annotations

import argparse
import io
import math
import sys
import time
import tracemalloc
import zipfile
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
import ruptures

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.settling.detector import Detector
from logger.settling.events import Event, Settled, Step
from logger.settling.replay import replay
from tests.support.metrics import Score, score
from tests.support.traces import REPORT_SEEDS, Trace, draw_meter, quiet_night, recorded_style, varied
from tests.support.traces_held_out import breathing, interrupted, other_meters
from tests.support.traces_wandering import wandering

FAMILIES = (("Varied", varied), ("Recorded style", recorded_style), ("Wandering", wandering))
HELD_OUT = (
    ("Breathing of 1.5 %", breathing), ("Gaps and overloads", interrupted), ("Other meters", other_meters),
)  # fmt: skip
"""Families that no threshold was chosen on."""

DELAY_RATES_HZ = (2.0, 2.5, 3.0, 4.0, 5.0)
DELAY_COUNTS_VOLTS = (0.0001, 0.001, 0.01)
DELAY_NOISES_VOLTS = (0.0005, 0.002, 0.006)
DELAY_SCENE = {
    "first level, noise unknown": (0.0, 20.0),
    "after a step": (20.0, 40.0),
    "after a motion": (46.0, 90.0),
}
"""What comes before a level, and when it begins and ends, seconds."""

ROLLING_S = 5.0
ROLLING_SPREAD_VOLTS = 0.03
"""The rule of thumb in a spreadsheet: settled while the last 5 s span no more than 0.03 V."""


def rolling_spread(times_s: list[float], volts: list[float]) -> list[Event]:
    """Settled spans and steps as a spreadsheet would find them."""
    events: list[Event] = []
    begin = 0
    start: int | None = None
    before: float | None = None
    for i, now_s in enumerate(times_s):
        while times_s[begin] < now_s - ROLLING_S:
            begin += 1
        window = volts[begin : i + 1]
        full = now_s - times_s[0] >= ROLLING_S
        calm = full and max(window) - min(window) <= ROLLING_SPREAD_VOLTS
        if calm and start is None:
            start, known_s = begin, now_s
        if start is not None and (not calm or i == len(times_s) - 1):
            end = i if calm else i - 1
            level = float(np.mean(volts[start : end + 1]))
            if before is not None and abs(level - before) > ROLLING_SPREAD_VOLTS:
                events.append(Step(times_s[start], before, level, 0.0, known_s))
            events.append(Settled(times_s[start], times_s[end], level, 0.01, known_s, end - start + 1))
            before, start = level, None
    return events


def offline_steps(trace: Trace) -> list[Event]:
    """Steps as `ruptures` finds them with the whole trace at hand (PELT, least squares, penalty from the noise)."""
    keep = np.isfinite(trace.volts)
    times, volts = np.array(trace.times_s)[keep], np.array(trace.volts)[keep]
    every = max(1, round(trace.rate_hz / 2.5))
    times, volts = times[::every], volts[::every]
    noise = max(trace.noise_volts, trace.count_volts / 2)
    breaks = [0, *ruptures.KernelCPD("linear", min_size=5).fit(volts).predict(pen=60 * noise**2)]
    levels = [float(np.median(volts[a:b])) for a, b in pairwise(breaks)]
    return [
        Step(float(times[at]), before, after, 0.0, float(times[-1]))
        for at, before, after in zip(breaks[1:-1], levels, levels[1:], strict=False)
        if abs(after - before) > 0.015
    ]


def total(traces: list[Trace], rule: Callable[[Trace], list[Event]]) -> Score:
    """The rule's score over the traces."""
    return sum((score(trace, rule(trace)) for trace in traces), Score())


def detector(trace: Trace) -> list[Event]:
    """The detector over a trace."""
    return replay(trace.times_s, trace.volts)


def detector_of(volts: np.ndarray) -> list[Event]:
    """The detector over values taken as 2.5 samples/s."""
    return replay((np.arange(len(volts)) * 0.4).tolist(), volts.tolist())


def spreadsheet(trace: Trace) -> list[Event]:
    """The rolling rule over a trace."""
    return rolling_spread(trace.times_s, trace.volts)


def line(what: str, value: str, asked: str, good: bool | None) -> bool:
    """Print one measure and return whether it is good enough.

    Args:
        what: its name.
        value: the figure.
        asked: the figure to reach, in words.
        good: whether it is reached; None when nothing is asked.
    """
    print(f"  {what:<54}{value:>22}   {asked:<18}{'' if good is None else 'pass' if good else 'FALLS SHORT'}")
    return good is not False


def show(name: str, found: Score) -> bool:
    """Print a score against what is asked."""
    bad = found.spans_with_evident_motion + found.spans_with_step
    in_u = sorted(abs(error) for error in found.level_errors_in_u)
    print(f"\n{name}: {found.traces} traces")
    return all(
        [
            line("settled for 15 s and more, level right", f"{found.settled_recall:.2%} of {found.long_settled}",
                 ">= 99%", found.settled_recall >= 0.99),
            line("settled spans with a step of 0.03 V inside", f"{found.spans_with_step} of {found.spans}", "0",
                 found.spans_with_step == 0),
            line("settled spans with over 2 s of evident motion", f"{found.spans_with_evident_motion} of {found.spans}",
                 "0", found.spans_with_evident_motion == 0),
            line("  of any motion, also such as looks like a level", f"{found.spans_with_motion} of {found.spans}",
                 "(0)", None),
            line("  movements that look like a level: reported",
                 f"{found.motions_like_levels_found} of {found.motions_like_levels}", "(all)", None),
            line("  steps reported there instead", f"{found.false_steps_at_levels}", "(0)", None),
            line("spans with either, per 1,000", f"{1000 * bad / max(found.spans, 1):.1f}", "0", bad == 0),
            line("motion recall", f"{found.motion_recall:.2%} of {found.motions}", ">= 95%",
                 found.motion_recall >= 0.95),
            line("motion precision", f"{found.motion_precision:.2%} of {found.motions_reported}", ">= 97%",
                 found.motion_precision >= 0.97),
            line("step recall", f"{found.step_recall:.2%} of {found.steps}", ">= 98%", found.step_recall >= 0.98),
            line("step precision", f"{found.step_precision:.2%} of {found.steps_reported}", ">= 98%",
                 found.step_precision >= 0.98),
            line("step size right", f"{found.step_size_right:.2%}", "(all)", None),
            line("settled during drifts", f"{found.settled_in_drift_s:.0f} of {found.drift_s:.0f} s", "(0)", None),
            line("level error in its own u: median, 95%",
                 f"{in_u[len(in_u) // 2]:.2f}, {in_u[int(0.95 * len(in_u))]:.2f}" if in_u else "-", "(0.7, 2)", None),
        ]
    )  # fmt: skip


def show_delay(seeds: range) -> bool:
    """Print the delay at 2.5 samples/s, on meters drawn as always."""
    found = Score()
    for seed in seeds:
        meter = draw_meter(np.random.default_rng(seed + 5_000_000))
        meter = type(meter)(2.5, meter.count_volts, meter.averaging_s, meter.noise_volts, meter.noise)
        trace = varied(seed, meter)
        found += score(trace, detector(trace))
    print("\nDelay from stillness to declaration, 2.5 samples/s")
    return line(
        "median, 95th percentile",
        f"{found.median_delay_s:.1f} s, {found.p95_delay_s:.1f} s",
        "<= 4 s, <= 8 s",
        found.median_delay_s <= 4.0 and found.p95_delay_s <= 8.0,
    )


def _delays_s(
    random: np.random.Generator, rate_hz: float, count_volts: float, noise_volts: float
) -> list[float]:
    """Seconds from stillness to the declaration of each level of `DELAY_SCENE`; infinite where none is declared.

    Args:
        random: what is drawn from.
        rate_hz: samples a second.
        count_volts: the meter's count.
        noise_volts: standard deviation of white noise.
    """
    times_s = np.arange(0.0, 90.0, 1 / rate_hz) + random.uniform(0, 1 / rate_hz)
    least = max(0.06, 8 * noise_volts, 4 * count_volts)
    low = 10 ** random.uniform(-1, 0.5)
    levels = random.permutation([low, low + least * np.exp(random.exponential(0.7))])
    u = (times_s - 40.0) / 6.0
    moves = (u >= 0) & (u < 1)
    clean = np.where(times_s < 20.0, levels[0], levels[1])
    edges = np.minimum(1, 12 * np.minimum(u, 1 - u)[moves])
    clean[moves] += 2 * least * (0.3 + np.abs(np.sin(3 * np.pi * u[moves]))) * edges
    noise = noise_volts * random.standard_normal(len(times_s))
    events = replay(times_s.tolist(), (np.round((clean + noise) / count_volts) * count_volts).tolist())
    return [
        min(
            (
                event.known_at_s - float(times_s[times_s >= start_s][0])
                for event in events
                if isinstance(event, Settled) and min(event.end_s, end_s) - max(event.start_s, start_s) > 2.0
            ),
            default=math.inf,
        )
        for start_s, end_s in DELAY_SCENE.values()
    ]


def show_delay_table(trials: int) -> bool:
    """Print the median delay by rate, count and noise; `trials` of each."""
    print(f"\nMedian delay from stillness to declaration, s; {trials} trials a figure")
    counts = ", ".join(f"{1000 * count:g}" for count in DELAY_COUNTS_VOLTS)
    noises = "/".join(f"{1000 * noise:g}" for noise in DELAY_NOISES_VOLTS)
    print(f"Columns: counts of {counts} mV; in each, noise of {noises} mV")
    good = True
    for position, what in enumerate(DELAY_SCENE):
        print(f"  {what}")
        for rate_hz in DELAY_RATES_HZ:
            cells: list[str] = []
            every: list[float] = []
            for count_volts in DELAY_COUNTS_VOLTS:
                medians = []
                for noise_volts in DELAY_NOISES_VOLTS:
                    seed = [
                        REPORT_SEEDS.start,
                        round(10 * rate_hz),
                        round(1e5 * count_volts),
                        round(1e5 * noise_volts),
                    ]
                    random = np.random.default_rng(seed)
                    found = [
                        _delays_s(random, rate_hz, count_volts, noise_volts)[position] for _ in range(trials)
                    ]
                    medians.append(f"{np.median(found):.1f}")
                    every += found
                cells.append("/".join(medians))
            median_s = float(np.median(every))
            good &= line(
                f"  {rate_hz:g}/s: {'  '.join(cells)}", f"all {median_s:.1f}", "<= 4 s", median_s <= 4.0
            )
    return good


def show_nights(seeds: range) -> bool:
    """Print what is found in quiet nights of 8 hours at 2.5 samples/s."""
    print("\nQuiet nights, 8 h at 2.5 samples/s: motions, steps, share of the night settled, cost")
    good = True
    for noise in ("white", "slow", "breathing", "beat"):
        alarms, settled_s, night_s, spent_s, samples = 0, 0.0, 0.0, 0.0, 0
        for seed in seeds:
            trace = quiet_night(seed, noise)
            begun = time.process_time()
            events = detector(trace)
            spent_s += time.process_time() - begun
            samples += len(trace.volts)
            night_s += trace.times_s[-1]
            settled_s += sum(event.end_s - event.start_s for event in events if isinstance(event, Settled))
            alarms += sum(event.kind in ("motion", "step") for event in events)
        value = f"{alarms}, {settled_s / night_s:.2%}, {spent_s / samples * 1e6:.1f} us"
        good &= line(f"{noise}, {len(seeds)} nights", value, "0", alarms == 0)
    return good


def _feed_time_s(trace: Trace) -> float:
    feed = Detector().feed
    begun = time.process_time()
    for time_s, volts in zip(trace.times_s, trace.volts, strict=True):
        feed(time_s, volts)
    return time.process_time() - begun


def show_cost(traces: list[Trace]) -> bool:
    """Print the microseconds for a sample, and memory."""
    print("\nCost on one core")
    spent_s, samples = 0.0, 0
    slow_spent_s, slow_samples = 0.0, 0
    for trace in traces:
        # The least of three: whatever else runs on the machine only ever adds.
        used = min(_feed_time_s(trace) for _ in range(3))
        spent_s, samples = spent_s + used, samples + len(trace.volts)
        if trace.rate_hz <= 5:
            slow_spent_s, slow_samples = slow_spent_s + used, slow_samples + len(trace.volts)
    each, slow_each = spent_s / samples * 1e6, slow_spent_s / slow_samples * 1e6
    good = line("a sample, all rates", f"{each:.1f} us", "<= 10 us", each <= 10)
    good &= line("a sample, meters of 1 to 5 samples/s", f"{slow_each:.1f} us", "<= 10 us", slow_each <= 10)
    detector_ = Detector()
    tracemalloc.start()
    sizes = []
    for i in range(60_000):
        detector_.feed(i * 0.4, 0.5 + 0.003 * math.sin(1.7 * i))
        if i in (9_999, 59_999):
            sizes.append(tracemalloc.get_traced_memory()[0])
    tracemalloc.stop()
    return good & line("memory, 10,000 to 60,000 samples", f"{(sizes[1] - sizes[0]) / 1024:+.0f} KiB", "0",
                       sizes[1] - sizes[0] < 20_000)  # fmt: skip


def show_lamps(seeds: range) -> bool:
    """Print how a lamp is found that goes on and off again, to the level before: the families have hardly any."""
    print(
        "\nA lamp on and off again, reported as two steps (else as a motion), by how long it was on; 2.5 to 20/s"
    )
    good = True
    for shortest_s, longest_s in ((5.0, 8.0), (8.0, 11.0), (11.0, 15.0), (15.0, 40.0)):
        as_steps = 0
        for seed in seeds:
            rng = np.random.default_rng(seed)
            rate_hz, averaging_s = rng.choice([2.5, 5.0, 10.0, 20.0]), rng.uniform(0.1, 1.0)
            height, level, noise = 10 ** rng.uniform(-1, 0.5), 10 ** rng.uniform(-1, 0), 0.001
            on_s, count_volts = rng.uniform(shortest_s, longest_s), 0.001
            times_s = np.arange(0.0, 70.0 + on_s, 1.0 / rate_hz)
            since_on, since_off = np.maximum(times_s - 30.0, 0.0), np.maximum(times_s - 30.0 - on_s, 0.0)
            lit = (
                height
                * (1 - np.exp(-np.minimum(since_on, on_s) / averaging_s))
                * np.exp(-since_off / averaging_s)
            )
            volts = level + lit + noise * rng.standard_normal(len(times_s))
            rounded = np.round(volts / count_volts) * count_volts
            events = replay(times_s.tolist(), rounded.tolist())
            as_steps += sum(isinstance(event, Step) for event in events) == 2
        share = as_steps / len(seeds)
        asked = ">= 98%" if shortest_s >= 15.0 else ""
        good &= line(f"on for {shortest_s:g} to {longest_s:g} s", f"{share:.1%} of {len(seeds)}", asked,
                     share >= 0.98 if asked else None)  # fmt: skip
    return good


def show_appliances(wheel: Path) -> None:
    """Steps in appliance recordings against `ruptures`: ACS-F1 (C. Gisler et al.), out of the wheel of aeon."""
    with zipfile.ZipFile(wheel) as archive:
        text = archive.read("aeon/datasets/data/ACSF1/ACSF1_TRAIN.ts").decode()
    series = [
        np.array([float(x) for x in row.split(":")[0].split(",")])
        for row in io.StringIO(text)
        if row.strip() and row[0] not in "@#"
    ]
    agreed = found = offline = 0
    for values in series:
        # Four quantities take turns in a series; the first is one reading in ten seconds of one of them.
        volts = np.round(0.5 + 0.2 * (values[::4] - values[::4].min()), 3)
        steps = [event for event in detector_of(volts) if isinstance(event, Step)]
        jitter = max(float(np.median(np.abs(np.diff(volts)))), 0.003)
        breaks = ruptures.KernelCPD("linear", min_size=8).fit(volts).predict(pen=60 * jitter**2)[:-1]
        found += len(steps)
        offline += len(breaks)
        agreed += sum(any(abs(step.time_s / 0.4 - at) <= 3 for at in breaks) for step in steps)
    print(f"\nAppliance recordings: {len(series)} series; of {found} steps found {agreed} are within 3 samples of one"
          f" of the {offline} that ruptures finds offline")  # fmt: skip


def main() -> int:
    """Run what is asked for and return the exit code."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--traces", type=int, default=250, help="traces of each family (default 250)")
    parser.add_argument(
        "--nights", type=int, default=3, help="quiet nights of each kind of noise (default 3)"
    )
    parser.add_argument(
        "--trials", type=int, default=20, help="trials of each figure of the delay (default 20)"
    )
    parser.add_argument("--first-seed", type=int, default=REPORT_SEEDS.start, help="seed of the first trace")
    parser.add_argument("--appliances", type=Path, help="aeon's wheel, for the appliance recordings")
    given = parser.parse_args()
    seeds = range(given.first_seed, given.first_seed + given.traces)
    good = True
    first: list[Trace] = []
    for name, family in FAMILIES:
        traces = [family(seed) for seed in seeds]
        first = first or traces
        good &= show(f"{name}, detector", total(traces, detector))
        show(f"{name}, rolling spread of {ROLLING_S:g} s", total(traces, spreadsheet))
        few = traces[: min(60, len(traces))]
        offline = total(few, offline_steps)
        print(f"\n{name}, ruptures offline on {len(few)} traces: step recall {offline.step_recall:.2%}, "
              f"precision {offline.step_precision:.2%}")  # fmt: skip
    for name, family in HELD_OUT:
        good &= show(f"{name}, held out, detector", total([family(seed) for seed in seeds], detector))
    good &= show_delay(seeds)
    good &= show_delay_table(given.trials)
    good &= show_nights(seeds[: given.nights])
    good &= show_lamps(seeds)
    good &= show_cost(first)
    if given.appliances:
        show_appliances(given.appliances)
    print(
        f"\nSeeds {seeds.start} to {seeds.stop - 1}. {'All measures hold.' if good else 'Some measures fall short.'}"
    )
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
