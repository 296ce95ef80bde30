"""Digits that stand still say little of the noise: it is hidden by them, or the display is held."""

from __future__ import annotations

import numpy as np
import pytest

from logger.settling.detector import Detector
from logger.settling.events import Settled, Step

RATE_HZ = 4.0


def events_of(*levels: tuple[float, float, float], decimals: int = 3, seed: int = 1) -> list[object]:
    """The events of levels one after the other.

    Args:
        levels: of each, seconds, volts and the standard deviation of its noise as a share of it.
        decimals: that the meter shows.
        seed: of the noise.
    """
    draw = np.random.default_rng(seed)
    volts = np.concatenate(
        [level * (1 + share * draw.standard_normal(round(s * RATE_HZ))) for s, level, share in levels]
    )
    detector, found = Detector(), []
    for number, value in enumerate(volts):
        found += detector.feed(number / RATE_HZ, round(float(value), decimals), 10.0**-decimals)
    return [*found, *detector.finish()]


def still_s(events: list[object], start_s: float) -> float:
    """For how long the trace was settled from a time on."""
    return sum(
        e.end_s - max(e.start_s, start_s) for e in events if isinstance(e, Settled) and e.end_s > start_s
    )


@pytest.mark.parametrize(("low", "high", "share", "decimals"), [(0.02, 2.0, 0.004, 3), (0.05, 3.0, 0.01, 2)])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_noise_in_percent_that_the_digits_of_a_low_level_hid_does_not_hide_the_next_level(
    low: float, high: float, share: float, decimals: int, seed: int
) -> None:
    events = events_of(
        (60.0, low, share), (180.0, high, share), (60.0, 0.5, share), decimals=decimals, seed=seed
    )
    assert still_s(events, 60.0) > 0.75 * 240.0
    steps = [(e.time_s, e.after_volts - e.before_volts) for e in events if isinstance(e, Step)]
    assert [time_s for time_s, _ in steps] == pytest.approx([60, 240], abs=2)
    assert [volts for _, volts in steps] == pytest.approx([high - low, 0.5 - high], abs=0.02)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_held_display_between_two_levels_teaches_no_noise(seed: int) -> None:
    events = events_of((60.0, 2.38, 0.004), (4.0, 2.0, 0.0), (120.0, 2.0, 0.004), seed=seed)
    assert still_s(events, 60.0) > 0.9 * 124.0
