"""A load that switches within seconds and a level that wanders are of the night; what a body does is motion."""

from __future__ import annotations

import numpy as np
import pytest

from logger.night.analysis.empty_probe import maybe_empty
from logger.night.analysis.lying_stretch import lying_stretch
from logger.night.analysis.night_record import NightRecord
from logger.night.analysis.quiet_stretches import told_switched, with_quiet_stretches
from logger.night.analysis.summary import summarise
from logger.settling.events import Event, Motion, Settled
from tests.support.night_traces import averaged, cycling, moved, times_of, wandering

RATE_HZ = 2.5
HOUR_S = 3600.0


def unsteady(volts, until_s, motions=None):
    """A record of which the detector took the time until then for a motion, and the rest for a level."""
    times_s = np.arange(len(volts)) / RATE_HZ
    end_s = float(times_s[-1])
    motions = [(0.0, until_s)] if motions is None else motions
    events: list[Event] = [Motion(a, b, float(volts.max()), b) for a, b in motions]
    if until_s < end_s:
        events.append(Settled(until_s, end_s, float(volts[-1]), 0.001, until_s + 8.0, 100))
    return NightRecord(times_s, np.round(volts, 3), tuple(events), end_s)


@pytest.mark.parametrize(("on_s", "off_s"), [(5, 5), (3, 4), (8, 6), (10, 10), (15, 9), (10, 60)])
def test_a_load_that_switches_again_and_again_is_no_motion_and_counts_with_both_levels(on_s, off_s):
    times_s = times_of(2 * HOUR_S, RATE_HZ)
    volts = np.where(times_s < 0.8 * HOUR_S, cycling(times_s, on_s, off_s, (2.4, 3.0)), 0.3)
    volts = averaged(volts, RATE_HZ, 0.4) + 0.002 * np.random.default_rng(1).standard_normal(len(volts))
    found = with_quiet_stretches(unsteady(volts, 0.8 * HOUR_S))
    (one,) = found.switched
    assert one.start_s < on_s + off_s and one.end_s == pytest.approx(0.8 * HOUR_S, abs=on_s + off_s)
    assert (one.low_volts, one.high_volts) == pytest.approx((2.4, 3.0), abs=0.02)
    assert one.period_s == pytest.approx(on_s + off_s, abs=0.5) and found.motions == []
    assert lying_stretch(found, (0.0, found.end_s)) == (0.0, found.end_s)
    summary = summarise(found, 0.1)
    assert summary.level.p95_volts > 2.9 and summary.level.p05_volts == pytest.approx(0.3, abs=0.01)
    assert summary.switched_s == pytest.approx(0.8 * HOUR_S, abs=2 * (on_s + off_s))
    assert summary.still_s > 1.97 * HOUR_S and summary.longest_still is not None


def of_a_body(kind, times_s, rng):
    """Values that no load makes."""
    if kind == "noise":
        return 1.0 + 0.2 * rng.standard_normal(len(times_s))
    if kind == "sine":
        return 1.0 + 0.3 * np.sin(2 * np.pi * times_s / 12.0)
    if kind == "ramps":
        return 1.0 + 0.3 * (times_s % 14.0) / 14.0
    if kind == "last digit":
        return np.where(times_s % 9.0 < 5.0, 0.300, 0.310)
    volts = np.full(len(times_s), 0.3)  # sits, stands and walks, each for a while of no fixed length
    at_s, level = 0.0, 0.3
    while at_s < times_s[-1]:
        length_s = float(rng.exponential(25.0)) + 3.0
        inside = (times_s >= at_s) & (times_s < at_s + length_s)
        volts[inside] = level
        if rng.random() < 0.5:
            moved(times_s, volts, at_s, min(length_s, 15.0), rng)
        at_s, level = at_s + length_s, 0.75 - level
    return volts


@pytest.mark.parametrize("kind", ["noise", "sine", "ramps", "last digit", "sits and stands"])
def test_what_a_body_does_is_no_load_that_switches(kind):
    times_s = times_of(0.7 * HOUR_S, RATE_HZ)
    record = unsteady(of_a_body(kind, times_s, np.random.default_rng(3)), 0.7 * HOUR_S)
    assert with_quiet_stretches(record).switched == ()


def test_a_motion_while_a_load_switches_stays_one():
    rng, times_s = np.random.default_rng(5), times_of(0.6 * HOUR_S, RATE_HZ)
    volts = averaged(cycling(times_s, 5.0, 5.0, (2.4, 3.0)), RATE_HZ, 0.4)
    moved(times_s, volts, 1000.0, 30.0, rng)
    found = with_quiet_stretches(unsteady(volts, 0.6 * HOUR_S))
    (motion,) = found.motions
    assert (motion.start_s, motion.end_s) == pytest.approx((1000.0, 1030.0), abs=8.0)
    assert len(found.switched) == 2
    (told,) = told_switched(found.switched)
    assert (told.start_s, told.end_s) == (found.switched[0].start_s, found.switched[1].end_s)


@pytest.mark.parametrize(("share", "correlation_s"), [(0.02, 600.0), (0.02, 60.0), (0.01, 600.0)])
def test_a_level_that_wanders_slowly_is_of_the_night_and_a_motion_in_it_is_one(share, correlation_s):
    rng, times_s = np.random.default_rng(7), times_of(1.2 * HOUR_S, RATE_HZ)
    volts = 3.0 * wandering(times_s, share, correlation_s, rng) + 0.003 * rng.standard_normal(len(times_s))
    moved(times_s, volts, 2000.0, 12.0, rng)
    found = with_quiet_stretches(unsteady(volts, 1.2 * HOUR_S, [(700.0, 712.0), (2000.0, 2012.0)]))
    assert [(m.start_s, m.end_s) for m in found.motions] == [(2000.0, 2012.0)]
    assert summarise(found, 0.1).wandering_s > 0.9 * found.end_s
    assert not any(a < 2012.0 and b > 2000.0 for a, b in found.wandering)


def test_hours_of_a_load_that_is_noisier_than_the_rest_are_no_motion() -> None:
    """The detector takes all of it for one motion, from the step at its beginning on."""
    rng, times_s = np.random.default_rng(3), times_of(1.2 * HOUR_S, RATE_HZ)
    volts = np.where(times_s < 1.0 * HOUR_S, 5.0 + 0.05 * rng.standard_normal(len(times_s)), 0.3)
    volts[: round(60 * RATE_HZ)] = 0.3
    found = with_quiet_stretches(unsteady(volts, 1.0 * HOUR_S, [(60.0, HOUR_S)]))
    assert sum(m.end_s - m.start_s for m in found.motions) < 30.0
    level = summarise(found, 0.1).level
    assert level is not None and level.p95_volts == pytest.approx(5.08, abs=0.05)


@pytest.mark.parametrize(
    ("motions", "low_volts", "is_doubted"),
    [((0.3, 0.8, 1.2, 1.7), 0.02, True), ((), 0.02, False), ((0.3, 0.8, 1.2, 1.7), 1.0, False)],
)
def test_hours_far_below_the_rest_without_a_motion_are_doubted(motions, low_volts, is_doubted):
    times_s = np.arange(0.0, 7 * HOUR_S)
    volts = np.where(times_s < 2 * HOUR_S, 3.0, low_volts)
    events: list[Event] = [Motion(h * HOUR_S, h * HOUR_S + 10.0, 5.0, h * HOUR_S) for h in (*motions, 1.995)]
    events += [Settled(0.0, 7 * HOUR_S, 3.0, 0.001, 5.0, len(volts))]
    found = maybe_empty(NightRecord(times_s, volts, tuple(events), 7 * HOUR_S))
    assert bool(found) is is_doubted
    if is_doubted:
        assert found[0].stretch == pytest.approx((2 * HOUR_S, 7 * HOUR_S), abs=120.0)
        assert (found[0].volts, found[0].rest_volts) == (low_volts, 3.0)
