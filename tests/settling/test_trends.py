"""A trend is no level: neither where it turns nor where it begins with the first sample. The truth is a known line."""

from __future__ import annotations

import numpy as np
import pytest

from logger.settling.events import Settled
from logger.settling.line_fit import share_of_parabola
from logger.settling.replay import replay

NOISE_VOLTS = 0.0005


def spans(times_s: np.ndarray, clean_volts: np.ndarray, seed: int = 1) -> list[Settled]:
    """The settled spans of a known course with white noise, in counts of 0.1 mV."""
    noise = NOISE_VOLTS * np.random.default_rng(seed).standard_normal(len(times_s))
    volts = np.round(clean_volts + noise, 4)
    return [event for event in replay(times_s.tolist(), volts.tolist()) if isinstance(event, Settled)]


@pytest.mark.parametrize("first_turn_s", [30.0, 13.0])
def test_the_turns_of_a_triangle_do_not_teach_their_rise_as_noise(first_turn_s: float) -> None:
    times_s = np.arange(0.0, 400.0, 0.2)
    turns_s = [0.0, *np.arange(first_turn_s, 661.0, 30.0)]
    course = np.interp(times_s, turns_s, [0.1 if i % 2 == 0 else 0.9 for i in range(len(turns_s))])
    assert spans(times_s, course) == []


@pytest.mark.parametrize("seed", range(5))
def test_a_drift_from_the_first_sample_on_is_not_settled(seed: int) -> None:
    times_s = np.arange(0.0, 60.0, 0.1)
    assert spans(times_s, 0.4 + 0.001 * times_s, seed) == []


def test_a_parabola_explains_the_turn_of_a_triangle_and_little_of_noise() -> None:
    at = np.linspace(-1.0, 1.0, 401)
    # By hand: the Legendre polynomial P2 has 25/64 of 1/5 in |x|, whose variance is 1/12.
    assert share_of_parabola(np.abs(at).tolist()) == pytest.approx(25 / 64 / 5 * 12, abs=0.01)
    assert share_of_parabola((3.0 * at**2 - at).tolist()) == pytest.approx(1.0)
    assert share_of_parabola(np.random.default_rng(1).standard_normal(400).tolist()) < 0.05
