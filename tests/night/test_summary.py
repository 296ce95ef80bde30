"""A night summed up: time covered and missed, levels over still time only, hours, motion."""

from __future__ import annotations

import numpy as np
import pytest

from logger.night.analysis.night_record import NightRecord
from logger.night.analysis.repeating_loads import load_of
from logger.night.analysis.summary import summarise
from logger.settling.events import Gap, Motion, Overload, Settled, Step


def night(volts, events, rate_hz=1.0, end_s=None) -> NightRecord:
    times_s = np.arange(len(volts)) / rate_hz
    return NightRecord(times_s, np.asarray(volts, float), tuple(events), end_s or len(volts) / rate_hz)


def test_motion_is_no_part_of_the_level():
    volts = [0.2] * 600 + [2.0] * 60 + [0.05] * 540
    found = summarise(
        night(volts, [
            Settled(0, 599, 0.2, 0.001, 5, 600), Motion(600, 659, 2.0, 670), Settled(660, 1199, 0.05, 0.001, 670, 540),
        ]),
        0.1,
    )  # fmt: skip
    assert (found.still_s, found.motion_s, found.covered_s, found.missed_s) == (1140, 59, 1200, 0)
    assert found.level.p95_volts == 0.2 and found.level.p05_volts == 0.05
    assert found.level.above_target_s == 600
    assert found.longest_still.volts == 0.2
    assert found.motions_per_hour == pytest.approx(3.0)


def test_what_was_missed_is_neither_covered_nor_still():
    times_s = np.concatenate([np.arange(0, 1000), np.arange(4600, 7200)]).astype(float)
    record = NightRecord(
        times_s,
        np.full(len(times_s), 0.3),
        (Settled(0, 999, 0.3, 0.001, 5, 1000), Gap(1000, 4600, 1003), Settled(4600, 7199, 0.3, 0.001, 4605, 2600),
         Overload(7100, 7110, 7100)),
        7200.0,
    )  # fmt: skip
    found = summarise(record, 0.1)
    assert (found.missed, found.overloaded) == (((1000, 4600),), ((7100, 7110),))
    assert (found.missed_s, found.overload_s) == pytest.approx((3600, 10))
    assert found.covered_s == pytest.approx(7200 - 3610)
    assert [hour.motions for hour in found.hours] == [0, 0]
    assert found.hours[0].still_s == pytest.approx(1000)


def test_the_quietest_and_the_highest_hour_need_still_time():
    volts = [0.1] * 3600 + [0.4] * 3600 + [9.0] * 3600
    found = summarise(
        night(volts, [
            Settled(0, 3599.5, 0.1, 0.001, 5, 3600), Step(3600, 0.1, 0.4, 0.002, 3605),
            Settled(3600, 7199.5, 0.4, 0.001, 3605, 3600), Motion(7200, 10799, 9.0, 10799),
        ]),
        0.1,
    )  # fmt: skip
    assert (found.quietest_hour.start_s, found.highest_hour.start_s) == (0.0, 3600.0)
    assert found.hours[2].mean_volts is None and found.hours[2].motions == 1
    assert [step.time_s for step in found.steps] == [3600]


@pytest.mark.parametrize(
    ("on_s", "is_alike"), [((1790, 1810), True), ((1810, 1790), True), ((3600, 0), False)]
)
def test_hours_go_by_their_mean_and_are_alike_where_they_vary_more_within(on_s, is_alike):
    """A load that is on for half of the time: the median is one of its levels, now this one and now the other."""
    volts = [0.6 if second % 3600 < on_s[second // 3600] else 0.4 for second in range(7200)]
    found = summarise(night(volts, [Settled(0, 7199, 0.5, 0.001, 5, 7200)]), 0.1)
    assert found.hours[0].mean_volts == pytest.approx(0.4 + 0.2 * on_s[0] / 3600)
    assert (found.alike_volts is not None) is is_alike is (found.quietest_hour is None)
    assert ("vary within" in found.why_no_hour) is is_alike


def test_a_steady_hour_is_told_from_one_in_which_something_was_switched():
    volts = [0.3] * 3600 + [0.3 if second < 1900 else 5.0 for second in range(3600)]
    found = summarise(night(volts, [Settled(0, 7199, 0.3, 0.001, 5, 7200)]), 0.1)
    assert found.alike_volts is None and found.quietest_hour.mean_volts == pytest.approx(0.3)
    assert found.highest_hour.mean_volts == pytest.approx(2.519, abs=0.001)


@pytest.mark.parametrize(
    ("still_s", "end_s", "why"),
    [
        (2400, 2400, "the recording is shorter than an hour"),
        (800, 5400, "no whole hour was still for long enough"),
        (5400, 5400, ""),
    ],
)
def test_only_a_whole_hour_is_the_quietest_and_the_highest(still_s: int, end_s: int, why: str) -> None:
    found = summarise(night([0.1] * end_s, [Settled(0, still_s, 0.1, 0.001, 5, still_s)]), 0.1)
    assert found.why_no_hour == why
    hours = [(0.0, 3600.0)] * 2 if not why else []
    assert [(h.start_s, h.end_s) for h in (found.quietest_hour, found.highest_hour) if h] == hours


def test_the_highest_hour_is_the_one_beyond_the_range_and_none_of_those_is_the_quietest():
    times_s = np.concatenate([np.arange(0, 1200.0), np.arange(3600, 7200.0)])
    spans = Settled(0, 1199, 0.05, 0.001, 5, 1200), Settled(3600, 7199, 0.06, 0.001, 3605, 3600)
    record = NightRecord(
        times_s, np.full(len(times_s), 0.05), (spans[0], Overload(1200, 3600, 1200), spans[1]), 7200.0
    )
    found = summarise(record, 0.1)
    assert (found.highest_hour.start_s, found.highest_hour.overload_s) == (0.0, 2400.0)
    assert found.quietest_hour.start_s == 3600.0 and found.missed == ()


def test_a_night_without_a_value_has_a_summary_too():
    found = summarise(NightRecord(np.zeros(0), np.zeros(0), (Gap(0, 100, 3),), 100.0), 0.1)
    assert found.level is None and found.covered_s == 0 and found.missed_s == 100
    assert found.quietest_hour is None and found.longest_still is None and found.motions_per_hour == 0
    assert summarise(NightRecord(np.zeros(0), np.zeros(0), (), 0.0), 0.1).hours == ()


@pytest.mark.parametrize("every_s", [0.1, 3.0, 8.0])
def test_the_sum_of_what_was_missed_is_that_of_the_list_whatever_the_meter(every_s):
    times_s = np.concatenate([np.arange(100.0, 400.0, every_s), np.arange(460.0, 900.0, every_s)])
    last_s = times_s[times_s < 450][-1]
    gaps = (Gap(last_s, 460.0, 460.0), Overload(455.0, 480.0, 455.0))
    found = summarise(NightRecord(times_s, np.full(len(times_s), 0.3), gaps, 1000.0), 0.1)
    assert found.missed == ((0.0, 100.0), (last_s, 455.0), (times_s[-1], 1000.0)), "overlaps count once"
    assert found.covered_s + found.missed_s + found.overload_s == pytest.approx(1000.0)
    assert found.missed_s == pytest.approx(sum(end_s - start_s for start_s, end_s in found.missed))


def test_a_load_that_comes_again_is_known_from_the_whole_recording_whatever_part_is_the_night():
    events = [
        Step(at_s + off_s, 0.3, 0.3 + volts, 0.004, at_s + off_s + 5)
        for at_s in range(600, 7 * 2400, 2400)
        for off_s, volts in ((0, 0.1), (600, -0.1))
    ]
    whole = night([0.3] * 16800, events)
    part = summarise(whole.part(5000.0, 8500.0), 0.1)
    (load,) = part.loads_seen
    assert (load.period_s, load.came(0.0, 3500.0), len(load.returns)) == (2400, 2, 7)
    assert [load_of(step, part.loads) for step in part.steps] == [load] * 4
    (one,) = summarise(whole.part(1300.0, 2900.0), 0.1).loads
    assert summarise(whole.part(1300.0, 2900.0), 0.1).loads_seen == () != (one,)
