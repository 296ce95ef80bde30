"""Made-up traces with the truth beside them, to measure the detector with (see `metrics`).

Two families that share no shape, and a third in `traces_wandering`. `varied` draws a meter (rate, count, averaging,
noise) and a course of events, adds the events up as smooth curves and passes them through the meter's averaging.
`recorded_style` builds the reading straight from sample to sample, as recordings look: held arms, footfalls,
heavy-tailed noise, levels that wander.

Every trace follows from its seed. `TUNING_SEEDS` were used while the detector was made; `REPORT_SEEDS` are for
reporting only.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

TUNING_SEEDS = range(100_000)
REPORT_SEEDS = range(4_000_000, 4_100_000)

NEAR_VOLTS = 0.006
NEAR_SHARE = 0.01
"""The reading counts as still from when the meter's averaging has brought it this close to the level."""

SHOWS_VOLTS = 0.005
"""A motion starts and ends where it stands this much above the level, or as much as the noise."""


@dataclass(frozen=True, slots=True)
class TrueStill:
    """The body lies still and the meter has settled."""

    start_s: float
    end_s: float
    level_volts: float


@dataclass(frozen=True, slots=True)
class TrueMotion:
    """The body moves; `height_volts` is what its peak stands above both levels beside it."""

    start_s: float
    end_s: float
    height_volts: float


@dataclass(frozen=True, slots=True)
class TrueStep:
    """Something was switched; hidden when the body moved meanwhile."""

    time_s: float
    before_volts: float
    after_volts: float
    hidden: bool


@dataclass(slots=True)
class Truth:
    """What really happened in a trace. Spans are (start_s, end_s)."""

    still: list[TrueStill] = field(default_factory=list)
    motions: list[TrueMotion] = field(default_factory=list)
    steps: list[TrueStep] = field(default_factory=list)
    drifts: list[tuple[float, float]] = field(default_factory=list)
    restless: list[tuple[float, float]] = field(default_factory=list)
    gaps: list[tuple[float, float]] = field(default_factory=list)
    overloads: list[tuple[float, float]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Trace:
    """A trace and its truth. `noise_volts` is the standard deviation of one still sample, without the count."""

    seed: int
    label: str
    rate_hz: float
    noise_volts: float
    count_volts: float
    times_s: list[float]
    volts: list[float]
    truth: Truth
    clean_volts: list[float]
    """What a meter without noise and count would have shown, at the same times."""


@dataclass(frozen=True, slots=True)
class Meter:
    """What the meter makes of the voltage. The defaults of `varied` draw each of these."""

    rate_hz: float
    count_volts: float
    averaging_s: float
    noise_volts: float
    noise: str
    """white, slow (first-order autoregressive), breathing, beat"""
    timing: str = "even"
    """even, jittered, dropping, changing"""


FINE_S = 0.02
"""Grid on which `varied` adds events up before the meter samples."""

RATES_HZ = (1.0, 2.0, 2.5, 2.5, 2.5, 3.0, 4.0, 5.0, 10.0, 20.0, 50.0, 100.0)


def draw_meter(random: np.random.Generator) -> Meter:
    """A meter at random."""
    return Meter(
        rate_hz=float(random.choice(RATES_HZ)),
        count_volts=float(random.choice([0.0001, 0.001, 0.001, 0.001, 0.01, 0.01, 0.005])),
        averaging_s=float(random.choice([0.0, random.uniform(0.3, 2.0)])),
        noise_volts=float(np.exp(random.uniform(np.log(0.0002), np.log(0.02)))),
        noise=str(random.choice(["white", "white", "slow", "breathing", "beat"])),
        timing=str(random.choice(["even", "even", "jittered", "dropping", "changing"])),
    )


def sample_times(random: np.random.Generator, meter: Meter, length_s: float) -> Floats:
    """Times at which the meter sends a line."""
    rate = meter.rate_hz
    if meter.timing == "changing":
        other = float(random.choice([1.0, 2.5, 5.0, 10.0]))
        turn = random.uniform(0.3, 0.7) * length_s
        times = np.concatenate([np.arange(0, turn, 1 / rate), np.arange(turn, length_s, 1 / other)])
    else:
        times = np.arange(0, length_s, 1 / rate)
    if meter.timing == "jittered":
        times = np.sort(times + random.normal(0, random.uniform(0.05, 0.25) / rate, len(times)))
        times -= times[0]
    elif meter.timing == "dropping":
        times = times[random.random(len(times)) > 0.03]
    rounded: Floats = np.round(times, 4)
    return rounded


def noise_at(random: np.random.Generator, meter: Meter, times: Floats) -> Floats:
    """Noise of the meter's standard deviation at these times."""
    white = random.normal(0, 1, len(times))
    if meter.noise == "white":
        unit = white
    elif meter.noise == "slow":
        tau = random.uniform(0.3, 1.5)
        unit = np.empty(len(times))
        value, last = white[0], times[0]
        for i, time in enumerate(times):
            keep = np.exp(-(time - last) / tau)
            value = keep * value + np.sqrt(1 - keep * keep) * white[i] if i else value
            unit[i], last = value, time
    elif meter.noise == "breathing":
        phase = (
            2 * np.pi * np.cumsum(np.diff(times, prepend=times[0]) * random.normal(0.25, 0.02, len(times)))
        )
        unit = 0.7 * white + np.sin(phase + random.uniform(0, 7))
    else:
        frequency = random.uniform(0.4, 3.0)
        unit = 0.7 * white + np.sin(2 * np.pi * frequency * times + random.uniform(0, 7))
    scaled: Floats = unit * meter.noise_volts
    return scaled


def _bumps(random: np.random.Generator, u: Floats, length_s: float) -> Floats:
    """Arms and legs: overlapping bumps."""
    shape = np.zeros_like(u)
    for _ in range(max(1, int(length_s / 2.5))):
        centre, width = random.uniform(0.1, 0.9), random.uniform(0.08, 0.3)
        shape += random.uniform(0.3, 1.0) * np.exp(-(((u - centre) / width) ** 2))
    return shape * np.sin(np.pi * u) ** 0.5


def _hump(random: np.random.Generator, u: Floats, length_s: float) -> Floats:
    """One slow roll over."""
    return np.asarray(np.sin(np.pi * u ** random.uniform(0.6, 1.6)), dtype=np.float64)


def _walk(random: np.random.Generator, u: Floats, length_s: float) -> Floats:
    """Footfalls, each of its own strength, nearer to and farther from what is live."""
    steps = max(3, int(random.uniform(0.8, 1.8) * length_s))
    strengths = np.exp(random.normal(0, 0.35, steps + 1))
    at = u * steps
    falls = strengths[np.minimum(at.astype(int), steps)] * (1 + 0.6 * np.sin(2 * np.pi * at))
    places = max(3, int(length_s / 3))
    nearness = np.interp(u * places, np.arange(places + 1), random.uniform(0.4, 1.0, places + 1))
    return np.asarray(np.minimum(1, 6 * np.minimum(u, 1 - u)) * falls * nearness, dtype=np.float64)


def _fidget(random: np.random.Generator, u: Floats, length_s: float) -> Floats:
    """Irregular movement without a pause of a second and a half."""
    knots = max(4, int(length_s / 0.8))
    heights = random.gamma(1.5, 1.0, knots + 1)
    heights[0] = heights[-1] = 0.0
    return np.asarray(np.interp(u * knots, np.arange(knots + 1), heights), dtype=np.float64)


SHAPES: tuple[Callable[[np.random.Generator, Floats, float], Floats], ...] = (_bumps, _hump, _walk, _fidget)


def varied(seed: int, meter: Meter | None = None) -> Trace:
    """A trace of two to five minutes with anything that can happen in it."""
    random = np.random.default_rng(seed)
    meter = meter or draw_meter(random)
    least = max(0.05, 5 * meter.noise_volts)
    level = float(np.exp(random.uniform(np.log(0.01), np.log(10.0))))
    truth = Truth()
    pieces: list[Floats] = []
    now = 0.0
    quiet: list[tuple[float, float, float]] = []
    overloads: list[tuple[float, float]] = []
    cuts: list[tuple[float, float]] = []

    def hold(length_s: float) -> None:
        nonlocal now
        pieces.append(np.full(round(length_s / FINE_S), level))
        quiet.append((now, now + length_s, level))
        now += length_s

    def move(length_s: float, height: float, after: float) -> None:
        nonlocal now, level
        count = round(length_s / FINE_S)
        u = np.linspace(0, 1, count)
        shape = SHAPES[random.integers(len(SHAPES))](random, u, length_s)
        base = np.full(count, level)
        if after != level:
            at = random.uniform(0.2, 0.8)
            base[u >= at] = after
            truth.steps.append(TrueStep(now + at * length_s, level, after, True))
        moving = height * shape / shape.max()
        top = float(np.max(base + moving) - max(level, after))
        pieces.append(base + moving)
        shown = np.flatnonzero(moving > max(SHOWS_VOLTS, meter.noise_volts))
        if len(shown):
            truth.motions.append(TrueMotion(now + shown[0] * FINE_S, now + shown[-1] * FINE_S, top))
        now += length_s
        level = after

    def other_level() -> float:
        size = least * float(np.exp(random.uniform(0.1, np.log(40.0))))
        return level - size if level - size > 0.005 and random.random() < 0.5 else level + size

    if random.random() < 0.3:
        move(random.uniform(3, 15), least * random.uniform(1.5, 30), level)
    hold(random.uniform(12, 40))
    for _ in range(random.integers(3, 8)):
        kind = random.choice(
            [
                "motion",
                "motion",
                "motion",
                "step",
                "step",
                "pair",
                "both",
                "ramp",
                "gap",
                "overload",
                "restless",
            ]
        )
        if kind == "motion":
            move(
                float(np.exp(random.uniform(np.log(2), np.log(45)))),
                max(0.05, least * 1.1) * float(np.exp(random.uniform(0.1, 4))), level,
            )  # fmt: skip
        elif kind in ("step", "pair"):
            for _ in range(1 if kind == "step" else 2):
                after = other_level()
                truth.steps.append(TrueStep(now, level, after, False))
                level = after
                if kind == "pair":
                    hold(random.uniform(7, 10))
        elif kind == "both":
            move(random.uniform(4, 20), least * random.uniform(3, 30), other_level())
        elif kind == "ramp":
            length_s = random.uniform(15, 60)
            after = other_level()
            truth.drifts.append((now, now + length_s))
            pieces.append(np.linspace(level, after, round(length_s / FINE_S)))
            now += length_s
            level = after
        elif kind == "gap":
            length_s = random.uniform(6, 30)
            cuts.append((now, now + length_s))
            pieces.append(np.full(round(length_s / FINE_S), level))
            now += length_s
        elif kind == "overload":
            length_s = random.uniform(1, 6)
            overloads.append((now, now + length_s))
            pieces.append(np.full(round(length_s / FINE_S), level))
            now += length_s
        else:
            length_s = random.uniform(30, 60)
            count = round(length_s / FINE_S)
            shape = _fidget(random, np.linspace(0, 1, count), length_s)
            pieces.append(level + max(0.1, 3 * least) * shape)
            truth.restless.append((now, now + length_s))
            now += length_s
        hold(random.choice([random.uniform(7, 15), random.uniform(15, 60)]))

    ideal = np.concatenate(pieces)
    smooth = average(ideal, meter.averaging_s, FINE_S)
    truth.still += settled_parts(smooth, quiet, FINE_S)
    times = sample_times(random, meter, now)
    for start_s, end_s in cuts:
        times = times[(times < start_s) | (times >= end_s)]
        truth.gaps.append((start_s, end_s))
    clean = smooth[np.minimum((times / FINE_S).astype(int), len(smooth) - 1)]
    reading = np.maximum(clean + noise_at(random, meter, times), 0.0)
    reading = np.round(np.round(reading / meter.count_volts) * meter.count_volts, 6)
    for start_s, end_s in overloads:
        inside = (times >= start_s) & (times < end_s)
        reading[inside] = np.inf
        if inside.any():
            truth.overloads.append((start_s, end_s))
    label = f"varied {meter.rate_hz:g}/s {meter.noise} {meter.timing}"
    return Trace(
        seed,
        label,
        meter.rate_hz,
        meter.noise_volts,
        meter.count_volts,
        times.tolist(),
        reading.tolist(),
        truth,
        clean.tolist(),
    )


def average(ideal: Floats, averaging_s: float, step_s: float) -> Floats:
    """First-order averaging of values that are `step_s` apart."""
    if averaging_s <= 0:
        return ideal
    share = 1 - np.exp(-step_s / averaging_s)
    out = np.empty_like(ideal)
    value = ideal[0]
    for i, target in enumerate(ideal):
        value += share * (target - value)
        out[i] = value
    return out


def settled_parts(smooth: Floats, quiet: list[tuple[float, float, float]], step_s: float) -> list[TrueStill]:
    """The parts of quiet times (start_s, end_s, level) in which the meter's averaging has come to the level."""
    found: list[TrueStill] = []
    for start_s, end_s, value in quiet:
        reading = smooth[round(start_s / step_s) : round(end_s / step_s)]
        far = np.flatnonzero(np.abs(reading - value) >= max(NEAR_VOLTS, NEAR_SHARE * value))
        begin_s = start_s + (far[-1] + 1) * step_s if len(far) else start_s
        if begin_s < end_s:
            found.append(TrueStill(begin_s, end_s, value))
    return found


def recorded_style(seed: int) -> Trace:
    """A trace as recordings look: made sample by sample, with other shapes of motion and heavier tails."""
    random = np.random.default_rng(seed + 7_000_000_000)
    rate_hz = float(random.choice([1.0, 2.5, 2.5, 4.0, 10.0, 15.0]))
    count_volts = float(random.choice([0.001, 0.01, 0.002]))
    noise_volts = float(np.exp(random.uniform(np.log(0.0005), np.log(0.012))))
    freedom = float(random.choice([4.0, 6.0, 30.0]))
    wander_volts = float(random.choice([0.0, 0.001, 0.003]))
    lag_s = float(random.choice([0.0, 0.4, 1.0]))
    level = float(random.gamma(1.2, 0.8)) + 0.02
    truth = Truth()
    times: list[float] = []
    targets: list[float] = []
    quiet: list[tuple[int, float]] = []
    now = 0.0

    def add(value: float) -> None:
        nonlocal now
        times.append(now)
        targets.append(value)
        now += 1 / rate_hz * random.uniform(0.9, 1.1)

    def hold(length_s: float) -> None:
        end_s = now + length_s
        quiet.append((len(times), level))
        while now < end_s:
            add(level)
        quiet.append((len(times), level))

    hold(random.uniform(10, 30))
    for _ in range(random.integers(3, 7)):
        kind = random.choice(["held arm", "jerks", "turning", "switch", "switch", "walk over"])
        start_s, before = now, level
        if kind == "switch":
            change = max(0.05, 6 * noise_volts) * float(np.exp(random.exponential(0.9)))
            level = level + change if random.random() < 0.5 or level - change < 0.01 else level - change
            truth.steps.append(TrueStep(now, before, level, False))
        else:
            height = max(0.06, 7 * noise_volts) * float(np.exp(random.exponential(1.0)))
            length_s = random.uniform(3, 10) if kind == "held arm" else random.uniform(3, 25)
            after = level
            switch_s = start_s + random.uniform(0.3, 0.8) * length_s
            if kind == "walk over":
                after = level + max(0.06, 7 * noise_volts) * float(np.exp(random.exponential(0.9)))
                truth.steps.append(TrueStep(switch_s, before, after, True))
            seen, shown = 0.0, [now]
            pull = tremor = 0.0
            while now < start_s + length_s:
                u = (now - start_s) / length_s
                base = after if now >= switch_s else before
                if kind == "jerks":
                    pull = pull * 0.6 + (random.exponential(0.5) if random.random() < 0.45 else 0.0)
                elif kind == "held arm":
                    tremor = 0.7 * tremor + random.normal(0, 0.15)
                    pull = min(1.0, 5 * u, 5 * (1 - u)) * (1 + tremor)
                else:
                    pull = abs(np.sin(np.pi * u * (1 + int(length_s / 5)))) * 0.7 + 0.3 * random.random()
                if height * pull > max(SHOWS_VOLTS, noise_volts):
                    shown.append(now)
                add(base + height * pull)
                seen = max(seen, base + height * pull - max(before, after))
            if len(shown) > 1:
                truth.motions.append(TrueMotion(shown[1], shown[-1], float(seen)))
            level = after
        hold(random.uniform(9, 45))

    lagged = np.array(targets)
    for i in range(1, len(lagged)):
        keep = np.exp(-(times[i] - times[i - 1]) / lag_s) if lag_s else 0.0
        lagged[i] = keep * lagged[i - 1] + (1 - keep) * targets[i]
    for (first, value), (end, _) in zip(quiet[::2], quiet[1::2], strict=True):
        far = np.flatnonzero(np.abs(lagged[first:end] - value) > max(NEAR_VOLTS, NEAR_SHARE * value))
        begin = first + (int(far[-1]) + 1 if len(far) else 0)
        if begin < end - 1:
            truth.still.append(TrueStill(times[begin], times[end - 1], value))
    tails = random.standard_t(freedom, len(times)) * np.sqrt((freedom - 2) / freedom)
    wander = np.zeros(len(times))
    for i in range(1, len(times)):
        wander[i] = 0.97 * wander[i - 1] + random.normal(0, wander_volts * 0.24)
    reading = np.maximum(lagged + noise_volts * tails + wander, 0)
    reading = np.round(np.round(reading / count_volts) * count_volts, 6)
    noise = float(np.hypot(noise_volts, wander_volts))
    label = f"recorded-style {rate_hz:g}/s"
    return Trace(
        seed,
        label,
        rate_hz,
        noise,
        count_volts,
        [round(t, 4) for t in times],
        reading.tolist(),
        truth,
        lagged.tolist(),
    )


def quiet_night(seed: int, noise: str = "white", hours: float = 8.0, rate_hz: float = 2.5) -> Trace:
    """A night in which nothing happens."""
    random = np.random.default_rng(seed + 9_000_000_000)
    meter = Meter(
        rate_hz=rate_hz,
        count_volts=float(random.choice([0.0001, 0.001, 0.01])),
        averaging_s=0.0,
        noise_volts=float(np.exp(random.uniform(np.log(0.0005), np.log(0.02)))),
        noise=noise,
    )
    level = float(np.exp(random.uniform(np.log(0.05), np.log(5.0))))
    times = sample_times(random, meter, hours * 3600)
    reading = np.maximum(level + noise_at(random, meter, times), 0.0)
    reading = np.round(np.round(reading / meter.count_volts) * meter.count_volts, 6)
    truth = Truth(still=[TrueStill(0.0, float(times[-1]), level)])
    return Trace(
        seed,
        f"night {noise}",
        rate_hz,
        meter.noise_volts,
        meter.count_volts,
        times.tolist(),
        reading.tolist(),
        truth,
        [level] * len(times),
    )
