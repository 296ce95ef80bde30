"""Traces of nights whose times of lying are known: loads that switch within seconds, levels that wander, motion."""

from __future__ import annotations

import numpy as np

from logger.night.analysis.night_record import Floats


def times_of(seconds: float, rate_hz: float) -> Floats:
    """Times of the samples of so many seconds."""
    times_s: Floats = np.arange(round(seconds * rate_hz)) / rate_hz
    return times_s


def averaged(volts: Floats, rate_hz: float, time_s: float) -> Floats:
    """What a meter shows that averages over a time, first order.

    Args:
        volts: the truth, shape (n,).
        rate_hz: samples a second.
        time_s: its time constant.
    """
    share = 1.0 - np.exp(-1.0 / rate_hz / time_s)
    shown, now = np.empty(len(volts)), float(volts[0])
    for i, value in enumerate(volts.tolist()):
        now += share * (value - now)
        shown[i] = now
    return shown


def cycling(times_s: Floats, on_s: float, off_s: float, levels_volts: tuple[float, float]) -> Floats:
    """A load that is on and off for so long, again and again.

    Args:
        times_s: times of the samples.
        on_s: for how long it is on.
        off_s: for how long it is off.
        levels_volts: the level while it is off, and while it is on.
    """
    return np.where(times_s % (on_s + off_s) < on_s, levels_volts[1], levels_volts[0])


def wandering(times_s: Floats, share: float, correlation_s: float, rng: np.random.Generator) -> Floats:
    """Factors that wander about 1, first order (Ornstein and Uhlenbeck).

    Args:
        times_s: times of the samples.
        share: their standard deviation.
        correlation_s: their correlation time.
        rng: random numbers.
    """
    kept = np.exp(-np.diff(times_s, prepend=times_s[0]) / correlation_s)
    pushes = np.sqrt(1.0 - kept**2) * rng.standard_normal(len(times_s))
    factors, now = np.empty(len(times_s)), float(rng.standard_normal())
    for i, (keep, push) in enumerate(zip(kept.tolist(), pushes.tolist(), strict=True)):
        now = keep * now + push
        factors[i] = now
    return 1.0 + share * factors


def moved(times_s: Floats, volts: Floats, start_s: float, length_s: float, rng: np.random.Generator) -> None:
    """Raise the values while a body moves, in place: to a multiple, smooth over a second or two.

    Args:
        times_s: times of the samples.
        volts: the values.
        start_s: when it begins to move.
        length_s: for how long.
        rng: random numbers.
    """
    inside = (times_s >= start_s) & (times_s < start_s + length_s)
    pushes = np.convolve(rng.standard_normal(int(inside.sum()) + 4), [0.3, 0.21, 0.15, 0.1, 0.07], "valid")
    volts[inside] += 2.0 * np.abs(pushes) * volts[inside]
