"""Generated traces with what truly happened in them, to measure the detector with (see `metrics`).

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
"""The reading counts as settled from when the meter's averaging has brought it this close to the level."""

SHOWS_VOLTS = 0.005
"""Volts. A motion starts and ends where it is this much above the level, or as much as the noise."""


@dataclass(frozen=True, slots=True)
class TrueSettled:
    """The body lies still and the meter has settled."""

    start_s: float
    end_s: float
    level_volts: float


@dataclass(frozen=True, slots=True)
class TrueMotion:
    """The body moves; `height_volts` is how far its peak is above both levels beside it."""

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

    settled: list[TrueSettled] = field(default_factory=list)
    motions: list[TrueMotion] = field(default_factory=list)
    steps: list[TrueStep] = field(default_factory=list)
    drifts: list[tuple[float, float]] = field(default_factory=list)
    fidgeting: list[tuple[float, float]] = field(default_factory=list)
    gaps: list[tuple[float, float]] = field(default_factory=list)
    overloads: list[tuple[float, float]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Trace:
    """A trace and its truth. `noise_volts` is the standard deviation of one settled sample, without the count."""

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
    """Times at which the meter sends a line.

    Args:
        random: what is drawn from.
        meter: gives the rate, and how regular it is.
        length_s: length of the trace in seconds.

    Returns:
        seconds, shape (samples,).
    """
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
    """Noise of the meter's standard deviation.

    Args:
        random: what is drawn from.
        meter: gives the kind of noise and its standard deviation.
        times: seconds, shape (samples,).

    Returns:
        volts, of the same shape.
    """
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


class _Course:
    """What happens in a `varied` trace, piece by piece on a fine grid, before the meter reads it."""

    def __init__(self, random: np.random.Generator, meter: Meter) -> None:
        self.random = random
        self.meter = meter
        self.least_volts = max(0.05, 5 * meter.noise_volts)
        """The smallest change that stands out of the meter's noise."""
        self.level = float(np.exp(random.uniform(np.log(0.01), np.log(10.0))))
        self.now_s = 0.0
        self.pieces: list[Floats] = []
        self.quiet: list[tuple[float, float, float]] = []
        """Times at rest: start_s, end_s, level in volts."""
        self.truth = Truth()
        self.overloads: list[tuple[float, float]] = []
        self.cuts: list[tuple[float, float]] = []

    def _add(self, piece: Floats, length_s: float) -> None:
        self.pieces.append(piece)
        self.now_s += length_s

    def _flat(self, length_s: float) -> Floats:
        return np.full(round(length_s / FINE_S), self.level)

    def hold(self, length_s: float) -> None:
        """Rest at the level."""
        self.quiet.append((self.now_s, self.now_s + length_s, self.level))
        self._add(self._flat(length_s), length_s)

    def move(self, length_s: float, height: float, after: float) -> None:
        """Move, and come to the level `after`.

        Args:
            length_s: how long.
            height: how far the reading rises, volts.
            after: the level afterwards, volts; a step is hidden in the movement when it is another one.
        """
        random, count = self.random, round(length_s / FINE_S)
        u = np.linspace(0, 1, count)
        shape = SHAPES[random.integers(len(SHAPES))](random, u, length_s)
        base = np.full(count, self.level)
        if after != self.level:
            at = random.uniform(0.2, 0.8)
            base[u >= at] = after
            self.truth.steps.append(TrueStep(self.now_s + at * length_s, self.level, after, True))
        moving = height * shape / shape.max()
        top = float(np.max(base + moving) - max(self.level, after))
        shown = np.flatnonzero(moving > max(SHOWS_VOLTS, self.meter.noise_volts))
        if len(shown):
            start_s, end_s = (self.now_s + shown[i] * FINE_S for i in (0, -1))
            self.truth.motions.append(TrueMotion(start_s, end_s, top))
        self._add(base + moving, length_s)
        self.level = after

    def other_level(self) -> float:
        """Another level, in volts, far enough away to be found."""
        size = self.least_volts * float(np.exp(self.random.uniform(0.1, np.log(40.0))))
        down = self.level - size > 0.005 and self.random.random() < 0.5
        return self.level - size if down else self.level + size

    def _motion(self) -> None:
        length_s = float(np.exp(self.random.uniform(np.log(2), np.log(45))))
        height = max(0.05, self.least_volts * 1.1) * float(np.exp(self.random.uniform(0.1, 4)))
        self.move(length_s, height, self.level)

    def _switch(self) -> None:
        after = self.other_level()
        self.truth.steps.append(TrueStep(self.now_s, self.level, after, False))
        self.level = after

    def _pair(self) -> None:
        for _ in range(2):
            self._switch()
            self.hold(self.random.uniform(7, 10))

    def _both(self) -> None:
        length_s, height = self.random.uniform(4, 20), self.least_volts * self.random.uniform(3, 30)
        self.move(length_s, height, self.other_level())

    def _ramp(self) -> None:
        length_s = self.random.uniform(15, 60)
        after = self.other_level()
        self.truth.drifts.append((self.now_s, self.now_s + length_s))
        self._add(np.linspace(self.level, after, round(length_s / FINE_S)), length_s)
        self.level = after

    def _gap(self) -> None:
        length_s = self.random.uniform(6, 30)
        self.cuts.append((self.now_s, self.now_s + length_s))
        self._add(self._flat(length_s), length_s)

    def _overload(self) -> None:
        length_s = self.random.uniform(1, 6)
        self.overloads.append((self.now_s, self.now_s + length_s))
        self._add(self._flat(length_s), length_s)

    def _fidgeting(self) -> None:
        length_s = self.random.uniform(30, 60)
        shape = _fidget(self.random, np.linspace(0, 1, round(length_s / FINE_S)), length_s)
        self.truth.fidgeting.append((self.now_s, self.now_s + length_s))
        self._add(self.level + max(0.1, 3 * self.least_volts) * shape, length_s)

    def happen(self) -> None:
        """Let one thing happen, drawn at random, and then rest."""
        things = (
            self._motion, self._motion, self._motion, self._switch, self._switch, self._pair, self._both,
            self._ramp, self._gap, self._overload, self._fidgeting,
        )  # fmt: skip
        things[self.random.choice(len(things))]()
        self.hold(float(self.random.choice([self.random.uniform(7, 15), self.random.uniform(15, 60)])))


def varied(seed: int, meter: Meter | None = None) -> Trace:
    """A trace of two to five minutes with anything that can happen in it."""
    random = np.random.default_rng(seed)
    meter = meter or draw_meter(random)
    course = _Course(random, meter)
    if random.random() < 0.3:
        course.move(random.uniform(3, 15), course.least_volts * random.uniform(1.5, 30), course.level)
    course.hold(random.uniform(12, 40))
    for _ in range(random.integers(3, 8)):
        course.happen()

    smooth = average(np.concatenate(course.pieces), meter.averaging_s, FINE_S)
    truth = course.truth
    truth.settled += settled_parts(smooth, course.quiet, FINE_S)
    times = sample_times(random, meter, course.now_s)
    for start_s, end_s in course.cuts:
        times = times[(times < start_s) | (times >= end_s)]
        truth.gaps.append((start_s, end_s))
    clean = smooth[np.minimum((times / FINE_S).astype(int), len(smooth) - 1)]
    reading = in_counts(clean + noise_at(random, meter, times), meter.count_volts)
    for start_s, end_s in course.overloads:
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


def in_counts(volts: Floats, count_volts: float) -> Floats:
    """What a meter of this count shows: whole counts, nothing below zero."""
    shown: Floats = np.round(np.round(np.maximum(volts, 0.0) / count_volts) * count_volts, 6)
    return shown


def average(ideal: Floats, averaging_s: float, step_s: float) -> Floats:
    """First-order averaging of values at equal distances.

    Args:
        ideal: volts, shape (points,).
        averaging_s: time constant in seconds; 0 for none.
        step_s: seconds between two points.
    """
    if averaging_s <= 0:
        return ideal
    share = 1 - np.exp(-step_s / averaging_s)
    out = np.empty_like(ideal)
    value = ideal[0]
    for i, target in enumerate(ideal):
        value += share * (target - value)
        out[i] = value
    return out


def settled_parts(
    smooth: Floats, quiet: list[tuple[float, float, float]], step_s: float
) -> list[TrueSettled]:
    """The parts of quiet times in which the meter's averaging has come to the level.

    Args:
        smooth: volts after the averaging, shape (points,).
        quiet: start_s, end_s and level in volts of each quiet time.
        step_s: seconds between two points.
    """
    found: list[TrueSettled] = []
    for start_s, end_s, value in quiet:
        reading = smooth[round(start_s / step_s) : round(end_s / step_s)]
        far = np.flatnonzero(np.abs(reading - value) >= max(NEAR_VOLTS, NEAR_SHARE * value))
        begin_s = start_s + (far[-1] + 1) * step_s if len(far) else start_s
        if begin_s < end_s:
            found.append(TrueSettled(begin_s, end_s, value))
    return found


class _Recording:
    """What happens in a `recorded_style` trace, from sample to sample, before the meter's lag and noise."""

    def __init__(self, random: np.random.Generator, rate_hz: float, noise_volts: float, level: float) -> None:
        self.random = random
        self.rate_hz = rate_hz
        self.noise_volts = noise_volts
        self.level = level
        self.now_s = 0.0
        self.times_s: list[float] = []
        self.targets: list[float] = []
        """Volts that the meter would come to, one for each time."""
        self.quiet: list[tuple[int, int, float]] = []
        """Samples at rest: first, one past the last, level in volts."""
        self.truth = Truth()

    def _add(self, volts: float) -> None:
        self.times_s.append(self.now_s)
        self.targets.append(volts)
        self.now_s += 1 / self.rate_hz * self.random.uniform(0.9, 1.1)

    def hold(self, length_s: float) -> None:
        """Rest at the level."""
        first, end_s = len(self.times_s), self.now_s + length_s
        while self.now_s < end_s:
            self._add(self.level)
        self.quiet.append((first, len(self.times_s), self.level))

    def switch(self) -> None:
        """Something is switched."""
        before = self.level
        change = max(0.05, 6 * self.noise_volts) * float(np.exp(self.random.exponential(0.9)))
        up = self.random.random() < 0.5 or before - change < 0.01
        self.level = before + change if up else before - change
        self.truth.steps.append(TrueStep(self.now_s, before, self.level, False))

    def move(self, kind: str) -> None:
        """The body moves: "held arm", "jerks", "turning", or "walk over", which ends at a higher level."""
        random, start_s, before = self.random, self.now_s, self.level
        height = max(0.06, 7 * self.noise_volts) * float(np.exp(random.exponential(1.0)))
        length_s = random.uniform(3, 10) if kind == "held arm" else random.uniform(3, 25)
        after = before
        switch_s = start_s + random.uniform(0.3, 0.8) * length_s
        if kind == "walk over":
            after = before + max(0.06, 7 * self.noise_volts) * float(np.exp(random.exponential(0.9)))
            self.truth.steps.append(TrueStep(switch_s, before, after, True))
        highest, shown_s = 0.0, [start_s]
        pull = tremor = 0.0
        while self.now_s < start_s + length_s:
            u = (self.now_s - start_s) / length_s
            base = after if self.now_s >= switch_s else before
            if kind == "jerks":
                pull = pull * 0.6 + (random.exponential(0.5) if random.random() < 0.45 else 0.0)
            elif kind == "held arm":
                tremor = 0.7 * tremor + random.normal(0, 0.15)
                pull = min(1.0, 5 * u, 5 * (1 - u)) * (1 + tremor)
            else:
                pull = abs(np.sin(np.pi * u * (1 + int(length_s / 5)))) * 0.7 + 0.3 * random.random()
            if height * pull > max(SHOWS_VOLTS, self.noise_volts):
                shown_s.append(self.now_s)
            self._add(base + height * pull)
            highest = max(highest, base + height * pull - max(before, after))
        if len(shown_s) > 1:
            self.truth.motions.append(TrueMotion(shown_s[1], shown_s[-1], float(highest)))
        self.level = after

    def lagged(self, lag_s: float) -> Floats:
        """The readings of a meter without noise that lags by so many seconds; notes where it has settled."""
        times_s, targets = self.times_s, self.targets
        reading = np.array(targets)
        for i in range(1, len(reading)):
            keep = np.exp(-(times_s[i] - times_s[i - 1]) / lag_s) if lag_s else 0.0
            reading[i] = keep * reading[i - 1] + (1 - keep) * targets[i]
        for first, end, volts in self.quiet:
            far = np.flatnonzero(np.abs(reading[first:end] - volts) > max(NEAR_VOLTS, NEAR_SHARE * volts))
            begin = first + (int(far[-1]) + 1 if len(far) else 0)
            if begin < end - 1:
                self.truth.settled.append(TrueSettled(times_s[begin], times_s[end - 1], volts))
        return reading


def recorded_style(seed: int) -> Trace:
    """A trace as recordings look: made sample by sample, with other shapes of motion and heavier tails."""
    random = np.random.default_rng(seed + 7_000_000_000)
    rate_hz = float(random.choice([1.0, 2.5, 2.5, 4.0, 10.0, 15.0]))
    count_volts = float(random.choice([0.001, 0.01, 0.002]))
    noise_volts = float(np.exp(random.uniform(np.log(0.0005), np.log(0.012))))
    freedom = float(random.choice([4.0, 6.0, 30.0]))
    wander_volts = float(random.choice([0.0, 0.001, 0.003]))
    lag_s = float(random.choice([0.0, 0.4, 1.0]))
    recording = _Recording(random, rate_hz, noise_volts, float(random.gamma(1.2, 0.8)) + 0.02)
    recording.hold(random.uniform(10, 30))
    for _ in range(random.integers(3, 7)):
        kind = str(random.choice(["held arm", "jerks", "turning", "switch", "switch", "walk over"]))
        if kind == "switch":
            recording.switch()
        else:
            recording.move(kind)
        recording.hold(random.uniform(9, 45))

    lagged = recording.lagged(lag_s)
    count = len(lagged)
    tails = random.standard_t(freedom, count) * np.sqrt((freedom - 2) / freedom)
    wander = np.zeros(count)
    for i in range(1, count):
        wander[i] = 0.97 * wander[i - 1] + random.normal(0, wander_volts * 0.24)
    reading = in_counts(lagged + noise_volts * tails + wander, count_volts)
    return Trace(
        seed,
        f"recorded-style {rate_hz:g}/s",
        rate_hz,
        float(np.hypot(noise_volts, wander_volts)),
        count_volts,
        [round(time_s, 4) for time_s in recording.times_s],
        reading.tolist(),
        recording.truth,
        lagged.tolist(),
    )


def quiet_night(seed: int, noise: str = "white", hours: float = 8.0, rate_hz: float = 2.5) -> Trace:
    """A night in which nothing happens.

    Args:
        seed: everything follows from it.
        noise: kind of noise of the meter (see `Meter`).
        hours: length of the night.
        rate_hz: samples a second.
    """
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
    reading = in_counts(level + noise_at(random, meter, times), meter.count_volts)
    truth = Truth(settled=[TrueSettled(0.0, float(times[-1]), level)])
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
