"""The small fits, against numpy."""

from __future__ import annotations

import numpy as np
import pytest

from logger.settling.edges import find_edges, is_switching, onset_of_small_step
from logger.settling.line_fit import (
    best_split,
    change_of,
    creeps,
    jitter_of,
    line_through,
    onset_of_ramp,
    onset_of_step,
    split_between,
)

VALUES = (10.0 + np.random.default_rng(1).normal(0, 0.0003, 40) + 0.001 * np.arange(40)).tolist()


def test_the_line_is_numpys() -> None:
    slope, offset = np.polyfit(np.arange(40), VALUES, 1)
    line = line_through(VALUES)
    residuals = np.array(VALUES) - slope * np.arange(40) - offset
    assert line.change == pytest.approx(39 * slope, rel=1e-9)
    assert change_of(VALUES) == pytest.approx(39 * slope, rel=1e-9)
    assert line.mean == pytest.approx(np.mean(VALUES))
    assert line.scatter == pytest.approx(np.sqrt(np.sum(residuals**2) / 38), rel=1e-5)
    assert line.spread == pytest.approx(np.std(VALUES, ddof=1), rel=1e-6)
    assert jitter_of(VALUES) == pytest.approx(np.sqrt(np.mean(np.diff(VALUES) ** 2) / 2))


def test_onsets_and_splits() -> None:
    step = [0.5] * 12 + [0.8] * 7
    assert onset_of_step(step, 0.5) == 12
    assert best_split(step)[0] == 12
    assert split_between([0.5] * 12 + [2.0, 2.0] + [0.8] * 5, 0.5, 0.8) == 12
    ramp = [0.5] * 12 + [0.5 + 0.1 * i for i in range(1, 8)]
    assert onset_of_ramp(ramp, 0.5) == 11, "the last value that is still on the level"


def test_a_slope_creeps_and_a_step_does_not() -> None:
    assert creeps([0.1 * i for i in range(10)])
    assert not creeps([0.0] * 5 + [1.0] * 5)
    assert not creeps([0.0, 1.0])


TIMES = [0.4 * i for i in range(60)]


def path(*levels: tuple[float, int], averaging_s: float = 0.0) -> list[float]:
    targets = [level for level, count in levels for _ in range(count)]
    values, value = [], targets[0]
    keep = np.exp(-0.4 / averaging_s) if averaging_s else 0.0
    for target in targets:
        value = keep * value + (1 - keep) * target
        values.append(float(value))
    return values


@pytest.mark.parametrize("averaging_s", [0.0, 0.5, 1.0, 2.0])
def test_jumps_are_found_through_a_meters_averaging(averaging_s: float) -> None:
    volts = path((0.5, 15), (1.5, 25), (0.9, 20), averaging_s=averaging_s)
    edges = find_edges(TIMES, volts, 0.05)
    assert [edge.moved for edge in edges] == [15, 40]
    assert is_switching(TIMES, volts, edges, 0.003)


def test_a_ramp_has_no_jump() -> None:
    ramp = [0.5 + 0.02 * min(max(i - 10, 0), 40) for i in range(60)]
    assert find_edges(TIMES, ramp, 0.015) == []


def test_a_hump_is_no_switching() -> None:
    hump = [0.5 + np.sin(np.pi * min(max(i - 15, 0), 25) / 25) for i in range(60)]
    assert not is_switching(TIMES, hump, find_edges(TIMES, hump, 0.05), 0.003)


def test_a_small_step_is_told_from_a_ramp() -> None:
    noise = np.random.default_rng(2).normal(0, 0.01, 60)
    step = (noise + np.where(np.arange(60) >= 30, 0.05, 0)).tolist()
    onset_s = onset_of_small_step(TIMES, step, 30, 0.0, 0.05, 0.01)
    assert onset_s == pytest.approx(11.8, abs=0.5)
    ramp = (0.3 * noise + np.clip(0.05 * (np.arange(60) - 12) / 36, 0, 0.05)).tolist()
    assert onset_of_small_step(TIMES, ramp, 30, 0.0, 0.05, 0.003) is None
