"""Repeating loads are found among other steps; chance is none."""

from __future__ import annotations

import numpy as np
import pytest

from logger.night.analysis.repeating_loads import hidden_load, load_of, repeating_loads
from logger.settling.events import Step


def step(time_s, change_volts, level_volts=0.3):
    return Step(time_s, level_volts, level_volts + change_volts, 0.004, time_s + 5)


def cycle(volts, on_s, period_s, count, start_s=300.0, missing=()):
    out = []
    for i in range(count):
        for time_s, change, part in ((0, volts, "on"), (on_s, -volts, "off")):
            if (i, part) not in missing:
                out.append(step(start_s + i * period_s + time_s, change))
    return out


def test_about_so_many_volts_on_for_so_long_every_so_often():
    (load,) = repeating_loads(cycle(0.07, 840, 2460, 9))
    assert (load.volts, load.on_s, load.period_s, len(load.returns)) == (pytest.approx(0.07), 840, 2460, 9)
    assert load.starts_s[0] == 300.0


def test_returns_that_motion_hid_do_not_break_the_row():
    (load,) = repeating_loads(cycle(0.07, 840, 2460, 9, missing={(2, "on"), (5, "off"), (6, "on")}))
    assert load.period_s == pytest.approx(2460) and load.on_s == 840
    assert len(load.returns) == 9, "one of its two steps is enough to have seen it"


def test_what_was_on_before_and_after_the_recording_counts_and_so_does_half_of_a_return():
    steps = cycle(0.07, 840, 2460, 9, missing={(0, "on"), (3, "off"), (4, "on"), (4, "off"), (8, "off")})
    (load,) = repeating_loads(steps)
    assert len(load.returns) == 8 and load.came(0.0, 2000.0) == 1 and load.returns[0].start_s is None
    assert load.due_s(10200.0, rises=True) == pytest.approx(300 + 4 * 2460)
    assert hidden_load(10140.0, [load]) is load and hidden_load(10500.0, [load]) is None
    assert hidden_load(7680.0, [load]) is None, "its own rise was seen then"


def test_an_hourly_timer_comes_every_hour_however_long_it_is_on():
    short, long = cycle(0.2, 600, 7200, 5, start_s=3600), cycle(0.2, 1200, 7200, 4, start_s=7200)
    (load,) = repeating_loads(sorted(short + long, key=lambda s: s.time_s))
    assert (load.period_s, len(load.returns), set(load.lengths_s)) == (3600, 9, {600.0, 1200.0})


def test_a_period_of_which_every_other_return_was_hidden_in_part_is_not_told_twice_as_long():
    hidden = {(i, "on") for i in range(1, 11, 2)}
    (load,) = repeating_loads(cycle(0.2, 600, 3600, 11, missing=hidden))
    assert load.period_s == pytest.approx(3600) and len(load.returns) == 11


def test_two_loads_of_different_size_are_separated():
    steps = sorted(cycle(0.07, 840, 2460, 9) + cycle(0.25, 300, 1100, 20, start_s=50), key=lambda s: s.time_s)
    large, small = repeating_loads(steps)
    assert (large.volts, large.period_s, small.volts, small.period_s) == pytest.approx(
        (0.25, 1100, 0.07, 2460)
    )


def test_a_lamp_switched_by_hand_is_no_repeating_load():
    times = [600, 900, 4000, 9000, 9100, 20000, 30000, 30400]
    assert repeating_loads([step(t, 0.2 if i % 2 == 0 else -0.2) for i, t in enumerate(times)]) == []
    assert repeating_loads([]) == []
    assert repeating_loads(cycle(0.07, 840, 2460, 2)) == [], "twice is no repetition"


def test_steps_by_chance_are_hardly_ever_a_load():
    rng = np.random.default_rng(1)
    nights_with_load = 0
    for _ in range(300):
        times = np.sort(rng.uniform(0, 36000, rng.integers(0, 40)))
        nights_with_load += bool(
            repeating_loads([step(t, rng.choice([-1, 1]) * rng.uniform(0.03, 0.3)) for t in times])
        )
    assert nights_with_load <= 3


def test_a_load_is_found_among_other_steps_whatever_its_times():
    rng = np.random.default_rng(2)
    right = 0
    for _ in range(60):
        period_s = rng.uniform(600, 4000)
        on_s = period_s * rng.uniform(0.15, 0.8)
        steps = cycle(rng.uniform(0.03, 0.4), on_s, period_s, int(36000 / period_s) - 1)
        steps = [s for s in steps if rng.random() > 0.1]
        steps += [step(t, rng.uniform(-0.3, 0.3)) for t in rng.uniform(0, 36000, 8)]
        found = repeating_loads(sorted(steps, key=lambda s: s.time_s))
        right += any(
            abs(load.period_s / period_s - 1) < 0.05 and abs(load.on_s / on_s - 1) < 0.05 for load in found
        )
    assert right >= 56


def test_a_second_step_of_its_size_near_its_own_is_not_the_loads():
    """Two loads of one size: the other one's fall, four minutes after the load's own, has another owner."""
    own = [
        step(start_s + off_s, volts)
        for start_s in range(0, 20_000, 2_800)
        for off_s, volts in ((0, 0.1), (960, -0.1))
    ]
    other = [step(2_800 + 960 + 240, -0.1), step(2_800 + 1_900, 0.1)]
    (load,) = repeating_loads(sorted(own, key=lambda one: one.time_s))
    assert [load_of(one, [load]) for one in own] == [load] * len(own)
    assert [load_of(one, [load]) for one in other] == [None, None]
    late = step(own[-2].time_s + 2_800 + 60, 0.1)
    assert load_of(late, [load]) is load, "where its own was not seen, one that is near is its"
