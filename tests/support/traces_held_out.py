"""Families of generated traces whose meters, noise, gaps and breathing no threshold of the detector was chosen on.

`breathing` has levels of 14 to 24 s on which a chest moves the reading by 1.5 % of it; `interrupted` has gaps and
overloads in which the level may change, or the body shift a little; `other_meters` has meters that the other families
have not: a mean over the latest lines instead of a lag, counts that change with the range, pink noise, bursts.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from tests.support.traces import (
    NEAR_SHARE,
    NEAR_VOLTS,
    SHOWS_VOLTS,
    Floats,
    Trace,
    TrueMotion,
    TrueSettled,
    TrueStep,
    Truth,
    in_counts,
)

BREATH_SHARE = 0.015
"""Amplitude of breathing as a share of the level."""

SHIFT_SHARE = 0.03
"""Standard deviation of what a body that shifts a little makes of a level, as a share; cut off at two of them."""


@dataclass
class _Scene:
    """What the body and the wiring do, line by line, before the meter reads it."""

    random: np.random.Generator
    rate_hz: float
    noise_volts: float
    level: float
    now_s: float = 0.0
    times_s: list[Floats] = field(default_factory=list)
    volts: list[Floats] = field(default_factory=list)
    rests: list[tuple[float, float, float]] = field(default_factory=list)
    """Start and end in seconds, and level."""
    truth: Truth = field(default_factory=Truth)

    def _lines(self, length_s: float) -> Floats:
        count = max(round(length_s * self.rate_hz), 1)
        times_s = self.now_s + np.arange(count) / self.rate_hz
        self.now_s += count / self.rate_hz
        self.times_s.append(times_s)
        return times_s

    def rest(self, length_s: float) -> None:
        """Lie still at the level."""
        start_s, times_s = self.now_s, self._lines(length_s)
        self.volts.append(np.full(len(times_s), self.level))
        self.rests.append((start_s, self.now_s, self.level))

    def other_level(self, lowest: float = 0.02, highest: float = 5.0) -> float:
        """A level in volts that is clearly another one."""
        least = max(0.06, 6 * self.noise_volts, 0.15 * self.level)
        while True:
            found = float(np.exp(self.random.uniform(np.log(lowest), np.log(highest))))
            if abs(found - self.level) > least:
                return found

    def switch(self, after: float) -> None:
        """Something is switched: the level is `after` volts from now on."""
        self.truth.steps.append(TrueStep(self.now_s, self.level, after, False))
        self.level = after

    def move(self, length_s: float, after: float | None = None) -> None:
        """Move for a while: reach out, in steps of a second or so with quick changes between, and come back.

        Args:
            length_s: how long.
            after: the level afterwards in volts; None when it stays.
        """
        start_s, times_s = self.now_s, self._lines(length_s)
        u = (times_s - start_s) / length_s
        knots = np.sort(np.append(self.random.uniform(0.05, 0.95, int(length_s / 1.2) + 2), [0.0, 1.0]))
        heights = self.random.uniform(0.3, 1.0, len(knots))
        heights[[0, -1]] = 0.0
        height = max(0.1, 8 * self.noise_volts, 0.2 * self.level) * float(
            np.exp(self.random.exponential(0.8))
        )
        rise = height * np.interp(u, knots, heights)
        base = np.full(len(u), self.level)
        if after is not None:
            at = self.random.uniform(0.2, 0.8)
            base[u >= at] = after
            self.truth.steps.append(TrueStep(start_s + at * length_s, self.level, after, True))
        top = float(np.max(base + rise) - max(self.level, base[-1]))
        shown = times_s[rise > max(SHOWS_VOLTS, self.noise_volts)]
        if len(shown):
            self.truth.motions.append(TrueMotion(float(shown[0]), float(shown[-1]), top))
        self.volts.append(base + rise)
        self.level = float(base[-1])

    def unseen(self, length_s: float, after: float, overload: bool) -> None:
        """Let no voltage be seen for a while; the level may change meanwhile.

        Args:
            length_s: how long.
            after: the level afterwards, volts.
            overload: the meter sends lines beyond its range; else it sends none.
        """
        start_s = self.now_s
        if overload:
            self.volts.append(np.full(len(self._lines(length_s)), np.inf))
            self.truth.overloads.append((start_s, self.now_s))
        else:
            self.now_s += length_s
            self.truth.gaps.append((start_s, self.now_s))
        if abs(after - self.level) > 0.1 * max(after, self.level):
            self.truth.steps.append(TrueStep((start_s + self.now_s) / 2, self.level, after, False))
        self.level = after

    def ideal(self) -> tuple[Floats, Floats]:
        """Times in seconds and volts, shape (samples,) each."""
        return np.concatenate(self.times_s), np.concatenate(self.volts)


def _lagged(times_s: Floats, volts: Floats, lag_s: float) -> Floats:
    """What a meter shows that lags by `lag_s`; after an overload or a gap it begins anew.

    Args:
        times_s: seconds, shape (samples,).
        volts: of the same shape.
        lag_s: time constant; 0 for none.
    """
    shown = volts.copy()
    for i in range(1, len(shown)) if lag_s else ():
        elapsed_s = times_s[i] - times_s[i - 1]
        if np.isfinite(volts[i]) and np.isfinite(shown[i - 1]) and elapsed_s < 2.5:
            shown[i] += np.exp(-elapsed_s / lag_s) * (shown[i - 1] - volts[i])
    return shown


def _mean_of_latest(volts: Floats, count: int) -> Floats:
    """Mean of the latest `count` values of `volts`, shape (samples,): a meter that averages so."""
    padded = np.concatenate([np.full(count - 1, volts[0]), volts])
    return np.asarray(np.convolve(padded, np.full(count, 1 / count), mode="valid"), dtype=np.float64)


def _first_order(random: np.random.Generator, count: int, keep: float) -> Floats:
    noise = random.standard_normal(count)
    for i in range(1, count):
        noise[i] = keep * noise[i - 1] + np.sqrt(1 - keep * keep) * noise[i]
    return noise


def _trace(
    seed: int, label: str, scene: _Scene, clean: Floats, noise: Floats, count_volts: float | Floats
) -> Trace:
    """The trace as the meter shows it.

    Args:
        seed: that it follows from.
        label: what it is.
        scene: what truly happened.
        clean: volts of a meter without noise and count, shape (samples,).
        noise: volts of the same shape.
        count_volts: the meter's count, or one for each sample.
    """
    times_s, _ = scene.ideal()
    seen = np.isfinite(clean)
    shown = np.full(len(clean), np.inf)
    counts = np.broadcast_to(np.asarray(count_volts), clean.shape)
    shown[seen] = [
        float(in_counts(np.array([value]), count)[0])
        for value, count in zip((clean + noise)[seen], counts[seen], strict=True)
    ]
    for start_s, end_s, level in scene.rests:
        inside = (times_s >= start_s - 1e-9) & (times_s < end_s - 1e-9)
        far = np.flatnonzero(np.abs(clean[inside] - level) > max(NEAR_VOLTS, NEAR_SHARE * level) + 1e-9)
        begin_s = float(times_s[inside][far[-1]]) + 1 / scene.rate_hz if len(far) else start_s
        if begin_s < end_s:
            scene.truth.settled.append(TrueSettled(begin_s, end_s, level))
    last_seen = clean.copy()
    for i in np.flatnonzero(~seen):
        last_seen[i] = last_seen[i - 1]
    return Trace(
        seed, label, scene.rate_hz, scene.noise_volts, float(np.max(counts)), times_s.tolist(), shown.tolist(),
        scene.truth, last_seen.tolist(),
    )  # fmt: skip


def breath(random: np.random.Generator, times_s: Floats, is_sine: bool) -> Floats:
    """What breathing makes of a level, as a share of it: a sine, or breaths that differ, with pauses between.

    Args:
        random: what is drawn from.
        times_s: seconds, shape (samples,).
        is_sine: a sine of a period of 3 to 6 s; else breaths of about that length.

    Returns:
        shares, of the same shape; their mean is about zero.
    """
    period_s = random.uniform(3.0, 6.0)
    if is_sine:
        return np.asarray(BREATH_SHARE * np.sin(2 * np.pi * times_s / period_s + random.uniform(0, 7)))
    share = np.zeros(len(times_s))
    start_s = times_s[0] - random.uniform(0, period_s)
    while start_s < times_s[-1]:
        length_s, depth = (
            period_s * np.exp(random.normal(0, 0.12)),
            BREATH_SHARE * np.exp(random.normal(0, 0.2)),
        )
        u = (times_s - start_s) / length_s
        # In for a third, out for almost half, then a pause.
        share += depth * (1 - np.cos(np.pi * u / 0.35)) * ((u >= 0) & (u < 0.35))
        share += depth * (1 + np.cos(np.pi * (u - 0.35) / 0.45)) * ((u >= 0.35) & (u < 0.8))
        start_s += length_s
    return share - share.mean()


def breathing(seed: int, is_sine: bool | None = None) -> Trace:
    """Levels of 0.1 to 3 V, 14 to 24 s each, switched one after the other, on all of which the body breathes.

    Args:
        seed: everything follows from it.
        is_sine: the breathing is a sine; None to draw that.
    """
    random = np.random.default_rng(seed + 21_000_000_000)
    scene = _Scene(random, float(random.choice([2.5, 4.0, 5.0, 10.0])), 10 ** random.uniform(-3.7, -2.4), 1.0)
    scene.level = float(np.exp(random.uniform(np.log(0.1), np.log(3.0))))
    for i in range(random.integers(1, 6)):
        if i:
            scene.switch(scene.other_level(0.1, 3.0))
        scene.rest(random.uniform(14, 24))
    times_s, ideal = scene.ideal()
    sine = bool(random.random() < 0.5) if is_sine is None else is_sine
    lag_s = float(random.choice([0.0, 0.3, 0.6]))
    clean = _lagged(times_s, ideal, lag_s)
    noise = _lagged(times_s, ideal * breath(random, times_s, sine), lag_s)
    noise = noise + scene.noise_volts * random.standard_normal(len(clean))
    count_volts = float(random.choice([0.0001, 0.001, 0.01]))
    return _trace(seed, "breathing sine" if sine else "breathing", scene, clean, noise, count_volts)


def interrupted(seed: int) -> Trace:
    """Gaps and overloads of 4 to 55 s; the level after one differs, agrees, or is that of a body that shifted."""
    random = np.random.default_rng(seed + 22_000_000_000)
    noise_volts = 10 ** random.uniform(-3.5, -2.0)
    scene = _Scene(random, float(random.choice([1.0, 2.0, 3.0, 4.0, 5.0, 7.0, 10.0])), noise_volts, 1.0)
    scene.level = float(np.exp(random.uniform(np.log(0.05), np.log(5.0))))
    scene.rest(random.uniform(14, 40))
    for _ in range(random.integers(2, 6)):
        kind = str(random.choice(["changed", "changed", "same", "shifted", "motion", "switch"]))
        if kind == "motion":
            scene.move(random.uniform(3, 12))
        elif kind == "switch":
            scene.switch(scene.other_level())
        else:
            after = scene.other_level() if kind == "changed" else scene.level
            if kind == "shifted":
                after *= 1 + SHIFT_SHARE * float(np.clip(random.standard_normal(), -2, 2))
            scene.unseen(random.uniform(4, 55), after, bool(random.random() < 0.3))
        scene.rest(random.uniform(14, 40))
    times_s, ideal = scene.ideal()
    clean = _lagged(times_s, ideal, float(random.choice([0.0, 0.3, 0.8])))
    noise = noise_volts * _first_order(random, len(clean), float(random.choice([0.0, 0.0, 0.5, 0.8])))
    return _trace(seed, "interrupted", scene, clean, noise, float(random.choice([0.0001, 0.001, 0.01])))


def other_meters(seed: int) -> Trace:
    """Movements, switchings and both through meters that average over their latest lines and change their count."""
    random = np.random.default_rng(seed + 23_000_000_000)
    rate_hz = float(random.choice([1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 25.0]))
    noise_volts = 10 ** random.uniform(-3.3, -2.1)
    scene = _Scene(random, rate_hz, noise_volts, float(np.exp(random.uniform(np.log(0.05), np.log(4.0)))))
    scene.rest(random.uniform(12, 30))
    for _ in range(random.integers(3, 8)):
        kind = str(random.choice(["motion", "motion", "switch", "both"]))
        if kind == "switch":
            scene.switch(scene.other_level())
        else:
            scene.move(random.uniform(3, 20), scene.other_level() if kind == "both" else None)
        scene.rest(random.uniform(12, 45))
    _, ideal = scene.ideal()
    clean = _mean_of_latest(ideal, max(1, round(rate_hz * random.choice([0.0, 0.5, 1.0, 1.5]))))
    count = len(clean)
    kind = str(random.choice(["white", "uniform", "pink", "bursts"]))
    if kind == "uniform":
        unit = random.uniform(-np.sqrt(3), np.sqrt(3), count)
    elif kind == "pink":
        unit = sum(
            (_first_order(random, count, keep) for keep in (0.0, 0.6, 0.9)), np.zeros(count)
        ) / np.sqrt(3)
    elif kind == "bursts":
        unit = random.standard_normal(count) * np.where(np.arange(count) // 40 % 5 == 3, 1.6, 0.8)
    else:
        unit = random.standard_normal(count)
    # Four digits: the count is a ten-thousandth of the range, and ranges are 0.6, 6 and 60 V.
    counts = np.where(clean < 0.6, 1e-4, np.where(clean < 6.0, 1e-3, 1e-2)) * float(random.choice([1.0, 5.0]))
    return _trace(seed, f"other meters {kind}", scene, clean, noise_volts * unit, counts)
