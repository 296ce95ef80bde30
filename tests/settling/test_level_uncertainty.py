"""The uncertainty of a level covers, whatever the noise; what it consists of; and when to hold still for longer."""

from __future__ import annotations

from math import exp, hypot, sqrt

import numpy as np
import pytest

from logger.correlated_noise import cosine_variances, variance_of_mean
from logger.settling.detector import Detector
from logger.settling.events import Settled
from logger.settling.level_uncertainty import (
    LevelUncertainty,
    SpanBlocks,
    hold_longer_s,
    level_uncertainty,
    uncertainty_parts,
)
from logger.settling.replay import replay
from logger.settling.resolution import u_resolution
from logger.settling.wander import LearnedWander
from tests.support.level_families import FAMILIES, found_levels, level_trace, white_deviation

Floats = np.ndarray[tuple[int], np.dtype[np.float64]]

SHORTEST_S = 8.0
SEEDS = range(700_000, 700_004)


def blocks_of(volts: Floats, count_volts: float = 1e-4) -> SpanBlocks:
    """Blocks of one sample every 0.2 s."""
    return SpanBlocks(
        (np.round(volts / count_volts) * count_volts).tolist(), len(volts), 1.0, 0.2, count_volts
    )


def u_of(volts: Floats, count_volts: float = 1e-4) -> LevelUncertainty:
    return level_uncertainty(blocks_of(volts, count_volts), LearnedWander())


def first_order(random: np.random.Generator, length: int, time_s: float) -> Floats:
    kept = np.exp(-0.2 / time_s)
    values = [random.standard_normal()]
    for _ in range(length - 1):
        values.append(kept * values[-1] + sqrt(1 - kept**2) * random.standard_normal())
    return np.array(values)


@pytest.mark.parametrize("family", FAMILIES)
def test_the_stated_uncertainty_covers_the_level_in_every_family(family: str) -> None:
    """A short version of scripts/bench/coverage.py: at least 93 % there; here the 2.5 % point for so few spans."""
    within = spans = 0
    for rate_hz, count_volts in ((2.5, 0.001), (5.0, 0.0001), (10.0, 0.001)):
        for seed in SEEDS:
            trace = level_trace(family, rate_hz, count_volts, seed)
            for level in found_levels(trace, replay(trace.times_s, trace.volts), SHORTEST_S):
                spans += 1
                within += abs(level.error_volts) <= 2 * level.span.u_volts
    # A drift may be noticed before a span is long enough to count; the bound allows for how few there are.
    assert spans >= 25
    assert within / spans >= 0.93 - 1.96 * sqrt(0.93 * 0.07 / spans)


def test_white_noise_is_stated_at_most_half_as_wide_again_as_it_needs() -> None:
    ratios = []
    for seed in SEEDS:
        trace = level_trace("white", 5.0, 0.001, seed)
        for level in found_levels(trace, replay(trace.times_s, trace.volts), SHORTEST_S):
            needed = white_deviation(trace.noise_volts, 0.001, level.span.samples)
            ratios.append(level.span.u_volts / needed)
    assert 1.0 <= np.median(ratios) <= 1.5


def test_slow_noise_is_stated_wider_than_white_noise_of_the_same_scatter() -> None:
    random = np.random.default_rng(1)
    white = np.median([u_of(0.5 + 0.002 * random.standard_normal(90)).u_volts for _ in range(30)])
    slow = np.median([u_of(0.5 + 0.002 * first_order(random, 90, 3.0)).u_volts for _ in range(30)])
    assert slow > 4 * white


def test_what_earlier_spans_taught_narrows_the_next_one() -> None:
    random = np.random.default_rng(2)
    learned = LearnedWander()
    for _ in range(6):
        fit = u_of(0.5 + 0.002 * random.standard_normal(90)).fit
        assert fit is not None
        learned.add(fit)
    spans = [blocks_of(0.5 + 0.002 * random.standard_normal(60)) for _ in range(30)]
    fresh = np.mean([level_uncertainty(span, LearnedWander()).u_volts for span in spans])
    assert np.mean([level_uncertainty(span, learned).u_volts for span in spans]) < 0.95 * fresh


def test_a_value_that_never_changes_is_uncertain_by_half_a_count() -> None:
    found = u_of(np.full(50, 0.27), 0.01)
    assert found.fit is None
    assert found.u_volts == pytest.approx(0.01 / sqrt(12))


def test_noise_above_the_count_averages_the_rounding_out() -> None:
    random = np.random.default_rng(3)
    found = u_of(0.2737 + 0.01 * random.standard_normal(100), 0.01)
    assert found.resolution_volts < 1e-4


def test_two_neighbouring_counts_leave_the_level_between_their_mean_and_the_edge() -> None:
    volts = np.where(np.arange(100) % 10 < 2, 0.28, 0.27)
    # The mean is 0.272, the edge 0.275: rectangular between the two, at most.
    assert u_of(volts, 0.01).resolution_volts == pytest.approx(0.003 / sqrt(3))


def test_tilt_and_the_first_seconds_of_averaging_have_their_parts() -> None:
    random = np.random.default_rng(4)
    noise, at_s = 0.0004 * random.standard_normal(80), 0.2 * np.arange(80)
    tilted = blocks_of(0.5 + noise + 0.0005 * at_s)
    approached = blocks_of(0.5 + noise + 0.006 * np.exp(-at_s / 2.0))
    for blocks, is_tilt in ((tilted, True), (approached, False)):
        whole = level_uncertainty(blocks, LearnedWander())
        parts = uncertainty_parts(blocks, LearnedWander(), whole, was_approached=not is_tilt)
        mine, other = (parts.tilt_volts, parts.averaging_volts)[:: 1 if is_tilt else -1]
        assert mine**2 > 0.7 * whole.wander_volts**2
        assert mine**2 + other**2 <= whole.wander_volts**2 * (1 + 1e-9)


def test_only_the_contract_of_a_growing_span_is_written() -> None:
    random = np.random.default_rng(5)
    detector = Detector()
    for i in range(40):
        detector.feed(0.4 * i, round(0.5 + 0.002 * random.standard_normal(), 4))
    (growing,) = detector.open_events()
    assert isinstance(growing, Settled)
    assert growing.u_resolution_volts < growing.u_volts
    assert growing.u_tilt_volts**2 + growing.u_averaging_volts**2 < growing.u_volts**2


def test_the_parts_are_those_of_the_uncertainty_that_is_reported_whoever_looked_at_it_before() -> None:
    """The recorder asks for the state after each line, and for the growing span more seldom."""
    detector = Detector()
    seen = []
    for i in range(300):
        at_s = 0.2 * i
        detector.feed(at_s, round(0.2 if i < 60 else 0.5 + 0.03 * exp(-(at_s - 12.0) / 2.0), 4))
        if i > 60:
            assert detector.now.u_volts is None or detector.now.u_volts > 0.0
        seen += [e for e in detector.open_events() if isinstance(e, Settled) and e.start_s > 11.0]
    assert max(event.u_averaging_volts for event in seen) > 0.0
    for event in seen:
        parts = hypot(event.u_tilt_volts, event.u_averaging_volts, event.u_resolution_volts)
        assert parts <= event.u_volts * (1 + 1e-9)


def test_a_value_that_wanders_slowly_asks_for_a_longer_hold() -> None:
    random = np.random.default_rng(6)
    wandering = 0.5 + 0.012 * first_order(random, 50, 8.0)
    detector = Detector()
    asked = []
    for i, volts in enumerate(wandering):
        detector.feed(0.2 * i, round(float(volts), 4))
        asked += [e.hold_longer_s for e in detector.open_events() if isinstance(e, Settled)]
    assert max(asked) >= 5.0


@pytest.mark.parametrize(
    ("u_volts", "level_volts", "held_s", "longer_s"),
    [
        (0.004, 0.3, 6.0, 0.0),  # good enough
        (0.006, 2.0, 6.0, 0.0),  # good enough for its size
        (0.010, 0.3, 6.0, 84.0),  # when it will be good enough nobody knows: never longer than 90 s in all
        (0.100, 0.3, 30.0, 60.0),
        (0.100, 0.3, 95.0, 0.0),  # it did not help
    ],
)
def test_how_much_longer_to_hold_at_most(
    u_volts: float, level_volts: float, held_s: float, longer_s: float
) -> None:
    assert hold_longer_s(u_volts, level_volts, held_s) == longer_s


def test_the_cosine_coefficients_of_first_order_noise_have_the_stated_variances() -> None:
    """Against the covariance matrix itself, and in sum with the mean the variance of one value."""
    times, count = np.array([0.5, 3.0, 40.0]), 24
    apart = np.abs(np.subtract.outer(np.arange(count), np.arange(count)))
    angles = np.pi * np.outer(np.arange(1, count), np.arange(count) + 0.5) / count
    transform = np.sqrt(2 / count) * np.cos(angles)
    for time, found in zip(times, cosine_variances(times, count), strict=True):
        rate = 1 / time
        covariance = ((1 - np.exp(-rate)) / rate) ** 2 * np.exp(rate * (1.0 - apart))
        np.fill_diagonal(covariance, 2 * (rate - 1 + np.exp(-rate)) / rate**2)
        assert found == pytest.approx(np.diag(transform @ covariance @ transform.T), rel=1e-9)
        of_mean = float(variance_of_mean(np.array([time / count]))[0])
        assert covariance.mean() == pytest.approx(of_mean, rel=1e-9)


def test_an_uncertainty_is_never_zero():
    """One block of 33 that the fit leaves out differs; and one count was shown, halfway between two learned ones."""
    odd = SpanBlocks([0.27] * 32 + [0.263], 33, 1.0, 0.2, 0.0001)
    assert level_uncertainty(odd, LearnedWander()).u_volts >= 0.007 / 33
    halfway = SpanBlocks([0.275] * 32, 32, 1.0, 0.2, 0.01)
    assert level_uncertainty(halfway, LearnedWander()).u_volts == pytest.approx(u_resolution(0.01))
