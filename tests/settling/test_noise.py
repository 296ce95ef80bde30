"""What is learned about a meter: its count and its noise at several scales."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest

from logger.settling.noise import SCALES, Noise
from logger.settling.resolution import Resolution, u_resolution


def learned(values: list[float]) -> Resolution:
    resolution = Resolution()
    for value in values:
        resolution.add(value)
    return resolution


@pytest.mark.parametrize("count", [0.0001, 0.001, 0.002, 0.005, 0.01])
def test_the_count_is_learned_from_the_values(count: float) -> None:
    draw = random.Random(1)
    values = [round(round(draw.gauss(0.5, 0.03) / count) * count, 6) for _ in range(100)]
    assert learned(values).count_volts == pytest.approx(count, rel=1e-6)


def test_values_on_no_grid_have_next_to_no_count() -> None:
    draw = random.Random(1)
    assert learned([draw.gauss(0.5, 0.01) for _ in range(100)]).count_volts <= 1e-4


@pytest.mark.parametrize(("value", "count"), [(0.273, 0.001), (0.27, 0.01), (0.0, 0.01), (1e-7, 1e-5)])
def test_the_count_of_a_value_that_never_changes_is_that_of_its_digits(value: float, count: float) -> None:
    assert learned([value] * 50).count_volts == pytest.approx(count)


def test_a_coarse_count_is_believed_only_after_a_while() -> None:
    assert learned([0.5, 1.0]).count_volts <= 0.01
    assert learned([0.5, 1.0] * 10).count_volts == pytest.approx(0.5)


def test_the_difference_of_two_values_that_take_turns_is_no_count() -> None:
    assert learned([0.2, 0.7] * 10).count_volts <= 0.01


def test_a_meter_that_changes_range_is_learned_anew() -> None:
    resolution = learned([0.001 * i for i in range(80)] + [6.0])
    resolution.renew()
    assert resolution.count_volts == pytest.approx(0.001)
    for i in range(80):
        resolution.add(round(6 + 0.01 * (i % 5), 2))
    assert resolution.count_volts == pytest.approx(0.01)


def test_half_a_count_either_way_is_rectangular() -> None:
    assert u_resolution(0.01) == pytest.approx(0.01 / math.sqrt(12))


def fed(deviations: list[float]) -> Noise:
    noise = Noise()
    noise.add_window(1.0, 1.0, 10)
    for i in range(0, len(deviations) - 3, 4):
        noise.add_batch(deviations[i : i + 4])
    return noise


def test_white_noise_is_learned_as_white() -> None:
    draw = random.Random(2)
    noise = fed([draw.gauss(0, 1) for _ in range(20_000)])
    for scale, variance in zip(SCALES, noise.variances, strict=True):
        assert variance * scale == pytest.approx(1.0, rel=0.3)


def test_breathing_averages_out_over_its_period_and_not_before() -> None:
    noise = fed([math.sin(2 * math.pi * i / 10) for i in range(20_000)])
    assert noise.variances[1] > 0.5 * noise.variances[0]
    assert noise.variances[3] < 0.02 * noise.variances[0]


def test_the_noise_of_means_over_four_is_that_of_the_means_themselves() -> None:
    """On first-order noise of correlation 0.5, whose means over 16 have 2.75 times the variance of white noise."""
    draw = np.random.default_rng(6)
    values = [draw.normal()]
    for _ in range(19_999):
        values.append(0.5 * values[-1] + np.sqrt(0.75) * draw.normal())
    noise = fed(values)
    of_fours = np.mean(np.reshape(values[-1000:], (-1, 4)).mean(axis=1) ** 2)
    assert noise.variances[1] == pytest.approx(of_fours, rel=0.3)
    # (1 + r) / (1 - r), less 2 r (1 - r^16) / (16 (1 - r)^2)
    assert noise.inflation(40) == pytest.approx(2.75, rel=0.3)


def test_slow_noise_is_expected_to_last_before_it_is_learned() -> None:
    slow, quick = Noise(), Noise()
    slow.add_window(1.0, 0.2, 30)
    quick.add_window(1.0, 1.0, 30)
    assert slow.variances[2] > 1.5 * quick.variances[2]


def test_one_large_deviation_teaches_little() -> None:
    draw = random.Random(3)
    values = [draw.gauss(0, 1) for _ in range(400)]
    assert fed([*values, 100.0, *values[:3]]).sigma_volts < 1.1 * fed(values).sigma_volts


def test_what_was_taken_for_noise_is_forgotten_when_it_is_quiet() -> None:
    draw = random.Random(4)
    noise = fed([draw.gauss(0, 1) for _ in range(400)] + [draw.gauss(0, 0.1) for _ in range(200)])
    assert noise.sigma_volts < 0.25


def test_fewer_samples_to_a_block_make_it_noisier() -> None:
    noise = fed([1.0, -1.0] * 100)
    before = noise.variances[0]
    noise.rescale(4.0)
    assert noise.variances[0] == pytest.approx(4 * before)
