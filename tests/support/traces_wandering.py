"""A third family of made-up traces, of other hands than `traces`: movements that swing, jerk or wander at random.

A movement here may be a few noise widths high, last from 2 to 20 s, and be nearly level for seconds: the hardest
case, since a body that is held and a lamp that is on may then read the same (see `metrics.looks_level`).
"""

from __future__ import annotations

import numpy as np

from tests.support.traces import (
    SHOWS_VOLTS,
    Floats,
    Trace,
    TrueMotion,
    TrueStep,
    Truth,
    average,
    in_counts,
    settled_parts,
)

FINE_S = 0.005
EDGE_S = 0.4
"""A movement takes this long to begin and to end."""

LOWEST_VOLTS = 0.02


def _swings(random: np.random.Generator, at_s: Floats) -> Floats:
    shape = np.zeros_like(at_s)
    for _ in range(random.integers(1, 3)):
        frequency, phase = random.uniform(0.1, 0.5), random.uniform(0, 6)
        shape += random.uniform(0.3, 1.0) * np.abs(np.sin(2 * np.pi * frequency * at_s + phase))
    return shape


def _jerks(random: np.random.Generator, at_s: Floats) -> Floats:
    shape = np.zeros_like(at_s)
    length_s = float(at_s[-1])
    for _ in range(max(1, int(0.6 * length_s))):
        centre_s, width_s = random.uniform(0, length_s), random.uniform(0.15, 0.6)
        shape += random.uniform(0.2, 1.0) * np.exp(-0.5 * ((at_s - centre_s) / width_s) ** 2)
    return shape


def _walk_at_random(random: np.random.Generator, at_s: Floats) -> Floats:
    path = np.cumsum(random.standard_normal(len(at_s))) * np.sqrt(FINE_S)
    return np.asarray(np.abs(path - path[0]) + 0.1, dtype=np.float64)


def _movement(random: np.random.Generator, length_s: float, peak_volts: float) -> Floats:
    """A rise that returns, of this length and height."""
    at_s = np.arange(round(length_s / FINE_S), dtype=np.float64) * FINE_S
    shape = (_swings, _jerks, _walk_at_random)[random.integers(3)](random, at_s)
    shape = shape * np.clip(np.minimum(at_s, length_s - at_s) / EDGE_S, 0, 1)
    scaled: Floats = shape / shape.max() * peak_volts
    return scaled


def _first_order(random: np.random.Generator, count: int, keep: float) -> Floats:
    """Noise of unit variance whose neighbours correlate by `keep`."""
    white = random.standard_normal(count)
    noise = np.empty(count)
    value = white[0]
    for i, fresh in enumerate(white):
        value = keep * value + np.sqrt(1 - keep * keep) * fresh if i else fresh
        noise[i] = value
    return noise


def _breath(random: np.random.Generator, count: int) -> Floats:
    """What breathing adds to a body at rest, often nothing."""
    volts = float(random.choice([0, 0, 0.0005, 0.002]))
    start = random.uniform(0, 6)
    phase = start + 2 * np.pi * random.uniform(0.2, 0.3) * FINE_S * np.arange(count)
    return np.asarray(volts * np.sin(phase), dtype=np.float64)


class _Course:
    """What happens in a `wandering` trace, piece by piece on a fine grid, before the meter reads it."""

    def __init__(self, random: np.random.Generator, noise_volts: float) -> None:
        self.random = random
        self.noise_volts = noise_volts
        self.level = float(10 ** random.uniform(-1.3, 0.5))
        self.now_s = 0.0
        self.pieces: list[Floats] = []
        self.quiet: list[tuple[float, float, float]] = []
        """Times at rest: start_s, end_s, level in volts."""
        self.truth = Truth()

    def _add(self, piece: Floats, length_s: float) -> None:
        self.pieces.append(piece)
        self.now_s += length_s

    def _other_level(self) -> float:
        least = max(0.05, 5 * self.noise_volts)
        size = float(10 ** self.random.uniform(np.log10(least), 0.3))
        up = self.random.random() < 0.5 or self.level - size < LOWEST_VOLTS
        return self.level + size if up else self.level - size

    def step(self) -> None:
        """Something is switched."""
        after = self._other_level()
        self.truth.steps.append(TrueStep(self.now_s, self.level, after, False))
        self.level = after

    def rest(self) -> None:
        """The body rests and breathes."""
        length_s = float(self.random.uniform(12, 60))
        count = round(length_s / FINE_S)
        self.quiet.append((self.now_s, self.now_s + length_s, self.level))
        self._add(self.level + _breath(self.random, count), length_s)

    def move(self, hides_step: bool) -> None:
        """The body moves; something may be switched meanwhile."""
        random, length_s = self.random, float(self.random.uniform(2, 20))
        piece = np.full(round(length_s / FINE_S), self.level)
        peak_volts = max(0.06, 6 * self.noise_volts) * float(10 ** random.uniform(0, 1.5))
        if hides_step:
            after, at_s = self._other_level(), random.uniform(0.2, 0.8) * length_s
            piece[round(at_s / FINE_S) :] = after
            self.truth.steps.append(TrueStep(self.now_s + at_s, self.level, after, True))
            self.level = after
        moving = _movement(random, length_s, peak_volts)
        shown_s = self.now_s + np.flatnonzero(moving > max(SHOWS_VOLTS, self.noise_volts)) * FINE_S
        self.truth.motions.append(TrueMotion(shown_s[0], shown_s[-1], peak_volts))
        self._add(piece + moving, length_s)


def wandering(seed: int) -> Trace:
    """A trace of three to eight minutes: settled spans with movements, steps and both between them."""
    random = np.random.default_rng(seed + 3_000_000_000)
    rate_hz = float(random.choice([1, 2, 2.5, 2.5, 4, 5, 10, 20, 50, 100]))
    count_volts = float(random.choice([1e-4, 1e-3, 1e-3, 1e-2]))
    noise_volts = float(random.choice([0.0002, 0.001, 0.002, 0.005, 0.01]))
    keep = float(random.choice([0, 0, 0.5, 0.8] if rate_hz <= 20 else [0, 0.9]))
    averaging_s = float(random.uniform(0.1, 1.0))
    course = _Course(random, noise_volts)
    kinds = ["motion"] if random.random() < 0.5 else []
    for _ in range(random.integers(5, 10)):
        kinds += ["rest", str(random.choice(["motion", "motion", "step", "both"]))]
    for kind in [*kinds, "rest"]:
        if kind == "step":
            course.step()
        elif kind == "rest":
            course.rest()
        else:
            course.move(hides_step=kind == "both")

    smooth = average(np.concatenate(course.pieces), averaging_s, FINE_S)
    course.truth.settled += settled_parts(smooth, course.quiet, FINE_S)
    count = int(course.now_s * rate_hz) - 1
    times = np.arange(count) / rate_hz + random.uniform(0, 1 / rate_hz)
    clean = smooth[np.minimum((times / FINE_S).astype(int), len(smooth) - 1)]
    reading = in_counts(clean + noise_volts * _first_order(random, count, keep), count_volts)
    if random.random() < 0.4:
        times = np.sort(times + random.normal(0, 0.05 / rate_hz, count))
    return Trace(
        seed,
        f"wandering {rate_hz:g}/s correlated {keep:g}",
        rate_hz,
        noise_volts,
        count_volts,
        times.tolist(),
        reading.tolist(),
        course.truth,
        clean.tolist(),
    )
