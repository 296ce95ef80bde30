"""Levels under noise of several families, with the true level, to check that the stated uncertainty covers.

A level is held for 14 to 24 s; between two levels something is switched, or the body moves. The truth is the mean of
what the body would have without noise, over the whole time for which the level was held.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.settling.events import Event, Settled
from tests.support.traces import in_counts

Floats = NDArray[np.float64]

FINE_S = 0.02
"""Seconds. Grid on which the voltage is made before the meter samples it; a whole number of them is a sample."""

HELD_S = (14.0, 24.0)
"""Shortest and longest time in seconds for which a level is held."""

LEVELS = 6
"""Levels in a trace."""

DRIFT_VOLTS_PER_S = 0.0006
BREATHING_SHARE = 0.015
"""Amplitude of the breathing as a share of the level."""

AVERAGING_S = 2.0

FAMILIES = (
    "white", "heavy-tailed", "first-order 1 s", "first-order 3 s", "first-order 8 s", "averaging 2 s",
    "mean over 2 s", "drift", "breathing",
)  # fmt: skip
"""Names of the families. Both kinds of a meter's averaging are in it: first-order, and the mean of the last 2 s."""


@dataclass(frozen=True, slots=True)
class HeldLevel:
    """A level that was held.

    Args:
        start_s: from when.
        end_s: until when.
        volts: mean without noise over that time.
    """

    start_s: float
    end_s: float
    volts: float


@dataclass(frozen=True, slots=True)
class LevelTrace:
    """What a meter shows of a few levels, and the levels."""

    times_s: list[float]
    volts: list[float]
    held: list[HeldLevel]
    noise_volts: float
    """Standard deviation of one sample without the meter's count."""


@dataclass(frozen=True, slots=True)
class FoundLevel:
    """A settled span and the level that was held during it."""

    span: Settled
    held: HeldLevel

    @property
    def error_volts(self) -> float:
        """The stated level less the true one."""
        return self.span.volts - self.held.volts


def level_trace(family: str, rate_hz: float, count_volts: float, seed: int) -> LevelTrace:
    """A trace of `LEVELS` levels.

    Args:
        family: one of `FAMILIES`.
        rate_hz: samples per second.
        count_volts: the meter's count.
        seed: everything random follows from it.
    """
    random = np.random.default_rng(
        [seed, FAMILIES.index(family), round(rate_hz * 10), round(count_volts * 1e5)]
    )
    noise_volts = float(np.exp(random.uniform(np.log(0.0005), np.log(0.005))))
    pieces, spans = _course(random)
    ideal = np.concatenate(pieces)
    if family == "drift":
        ideal += DRIFT_VOLTS_PER_S * random.choice([-1, 1]) * (np.arange(len(ideal)) * FINE_S)
        ideal += max(0.0, 0.02 - float(ideal.min()))
    held = [HeldLevel(a * FINE_S, b * FINE_S, float(ideal[a:b].mean())) for a, b in spans]
    every = round(1 / rate_hz / FINE_S)
    noise = _NOISES.get(family, _white)(random, len(ideal), every) * noise_volts
    if family == "breathing":
        ideal = ideal * (1 + BREATHING_SHARE * _breath(random, len(ideal)))
    if family == "averaging 2 s":
        ideal = _first_order(ideal, AVERAGING_S)
    elif family == "mean over 2 s":
        ideal = _mean_over(ideal, AVERAGING_S)
    at = np.arange(random.integers(every), len(ideal), every)
    shown = in_counts(ideal[at] + noise[at], count_volts)
    return LevelTrace((at * FINE_S).tolist(), shown.tolist(), held, noise_volts)


def found_levels(trace: LevelTrace, events: list[Event], shortest_s: float = 0.0) -> list[FoundLevel]:
    """The settled spans with the level that was held in their middle.

    Args:
        trace: what the events were found in.
        events: of the detector.
        shortest_s: spans shorter than this are left out.
    """
    found = []
    for event in events:
        if not isinstance(event, Settled) or event.end_s - event.start_s < shortest_s:
            continue
        middle_s = (event.start_s + event.end_s) / 2
        found += [FoundLevel(event, held) for held in trace.held if held.start_s <= middle_s < held.end_s]
    return found


def white_deviation(noise_volts: float, count_volts: float, samples: int) -> float:
    """Standard deviation of the mean of white noise that was rounded to counts.

    Rounding leaves an error that all samples share, at the level x with the noise s and the count q the sum over k of
    (-1)^k q / (pi k) sin(2 pi k x / q) exp(-2 (pi k s / q)^2), and one that each has for itself.

    Args:
        noise_volts: standard deviation of one sample before it is rounded.
        count_volts: the count.
        samples: number of samples in the mean.
    """
    ratio = noise_volts / count_volts
    shared = sum(np.exp(-((2 * np.pi * k * ratio) ** 2)) / k**2 for k in range(1, 6)) / (2 * np.pi**2)
    return float(np.sqrt(noise_volts**2 / samples + count_volts**2 * (shared + (1 / 12 - shared) / samples)))


def _course(random: np.random.Generator) -> tuple[list[Floats], list[tuple[int, int]]]:
    """The levels and what is between them on the fine grid; also from where to where each level is held."""
    level = float(np.exp(random.uniform(np.log(0.1), np.log(2.0))))
    pieces: list[Floats] = []
    spans = []
    at = 0
    for number in range(LEVELS):
        held = round(random.uniform(*HELD_S) / FINE_S)
        pieces.append(np.full(held, level))
        spans.append((at, at + held))
        at += held
        if number == LEVELS - 1:
            break
        if random.random() < 0.5:
            moving = round(random.uniform(3.0, 8.0) / FINE_S)
            phase = np.linspace(0.0, np.pi, moving)
            height = level * random.uniform(0.3, 1.5)
            pieces.append(level + height * np.sin(phase) ** 2 * (1 + 0.4 * np.sin(5 * phase)))
            at += moving
        change = float(np.exp(random.uniform(np.log(0.08), np.log(0.8))))
        level = level - change if level > change + 0.05 and random.random() < 0.5 else level + change
    return pieces, spans


def _white(random: np.random.Generator, length: int, every: int) -> Floats:
    return random.standard_normal(length)


def _heavy_tailed(random: np.random.Generator, length: int, every: int) -> Floats:
    """Student's t with 3 degrees of freedom, of unit variance."""
    return random.standard_t(3, length) / np.sqrt(3.0)


def _correlated(time_s: float) -> Callable[[np.random.Generator, int, int], Floats]:
    """First-order noise of this correlation time."""

    def noise(random: np.random.Generator, length: int, every: int) -> Floats:
        kept = np.exp(-FINE_S / time_s)
        white = random.standard_normal(length) * np.sqrt(1 - kept * kept)
        white[0] = random.standard_normal()
        return _recursive(white, kept)

    return noise


def _averaged(random: np.random.Generator, length: int, every: int) -> Floats:
    """White noise through the same averaging as the voltage, scaled to unit variance."""
    return _correlated(AVERAGING_S)(random, length, every)


def _moving_mean(random: np.random.Generator, length: int, every: int) -> Floats:
    """The mean of white noise over the last 2 s, scaled to unit variance."""
    window = round(AVERAGING_S / FINE_S)
    sums = np.cumsum(np.concatenate([[0.0], random.standard_normal(length + window)]))
    shown: Floats = (sums[window:] - sums[:-window])[:length] / np.sqrt(window)
    return shown


_NOISES: dict[str, Callable[[np.random.Generator, int, int], Floats]] = {
    "heavy-tailed": _heavy_tailed,
    "first-order 1 s": _correlated(1.0),
    "first-order 3 s": _correlated(3.0),
    "first-order 8 s": _correlated(8.0),
    "averaging 2 s": _averaged,
    "mean over 2 s": _moving_mean,
}


def _breath(random: np.random.Generator, length: int) -> Floats:
    """A sine of unit amplitude with a period of 3 to 6 s that varies by a tenth from moment to moment."""
    period_s = random.uniform(3.0, 6.0)
    wander = np.repeat(random.normal(0.0, 0.1, length // 50 + 1), 50)[:length]
    phase = 2 * np.pi * np.cumsum(FINE_S / (period_s * np.exp(wander)))
    breath: Floats = np.sin(phase + random.uniform(0, 2 * np.pi))
    return breath


def _recursive(values: Floats, kept: float) -> Floats:
    """What a first-order recursion makes of values."""
    out = np.empty_like(values)
    last = 0.0
    for i, value in enumerate(values.tolist()):
        last = kept * last + value
        out[i] = last
    return out


def _first_order(ideal: Floats, time_s: float) -> Floats:
    kept = np.exp(-FINE_S / time_s)
    driven = ideal * (1 - kept)
    driven[0] = ideal[0]
    return _recursive(driven, kept)


def _mean_over(ideal: Floats, time_s: float) -> Floats:
    window = round(time_s / FINE_S)
    sums = np.cumsum(np.concatenate([[0.0], np.full(window, ideal[0]), ideal]))
    shown: Floats = (sums[window + 1 :] - sums[1 : len(sums) - window]) / window
    return shown
