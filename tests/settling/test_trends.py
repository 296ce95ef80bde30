"""A trend is no level: neither where it turns nor where it begins with the first sample. The truth is a known line."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from logger.settling.events import Settled
from logger.settling.line_fit import RunningLine, share_of_parabola
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


def _inside(times_s: np.ndarray, values: np.ndarray, span: Settled) -> np.ndarray:
    inside: np.ndarray = values[(times_s >= span.start_s - 1e-6) & (times_s <= span.end_s + 1e-6)]
    return inside


def test_a_drift_too_slow_for_any_window_ends_spans_and_is_in_their_uncertainty() -> None:
    times_s = np.arange(0.0, 400.0, 0.2)
    course = 0.4 + 0.0001 * np.maximum(times_s - 30.0, 0.0)
    found = spans(times_s, course)
    assert sum(span.end_s - span.start_s for span in found) > 0.9 * 400.0
    for span in found:
        rise = float(np.ptp(_inside(times_s, course, span)))
        # A value anywhere on a rise is rectangular about its middle: GUM 4.3.7.
        assert rise < 0.015 and rise / 2 < 2.5 * span.u_volts


@pytest.mark.parametrize(
    "course",
    [
        lambda t: np.interp(t, [0.0, 20.0, 22.0, 24.0, 200.0], [0.5, 0.5, 0.2, 0.5, 0.5]),
        lambda t: 0.4 + 0.010 * np.sin(2 * np.pi * 0.11 * t),
    ],
    ids=["a dip of 4 s", "a swing of 9 s"],
)
def test_a_level_is_the_mean_of_the_lines_between_its_ends(
    course: Callable[[np.ndarray], np.ndarray],
) -> None:
    times_s = np.arange(0.0, 200.0, 0.2)
    clean_volts = course(times_s)
    for span in spans(times_s, clean_volts):
        inside = _inside(times_s, clean_volts, span)
        assert abs(span.volts - inside.mean()) < 3 * span.u_volts
        assert span.samples >= 0.75 * len(inside)


def test_a_running_line_is_the_least_squares_line_of_what_is_left_in_it() -> None:
    random = np.random.default_rng(1)
    positions, values = np.arange(1000.0, 1060.0), 0.4 + 0.001 * random.standard_normal(60)
    first, second = RunningLine(), RunningLine()
    for i in range(60):
        (first if i < 40 else second).add(positions[i], values[i])
    for i in range(30, 40):
        first.remove(positions[i], values[i])
    first.merge(second)
    kept = np.r_[0:30, 40:60]
    slope = np.polyfit(positions[kept], values[kept], 1)[0]
    assert first.rise(59.0) == pytest.approx(59.0 * slope)
    for i in kept:
        first.remove(positions[i], values[i])
    assert first.rise(59.0) == 0.0
