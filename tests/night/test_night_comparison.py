"""Two nights compared by scatter alone: the uncertainty of a night's level counts its autocorrelation."""

from __future__ import annotations

import numpy as np
import pytest

from logger.correlated_noise import averaged_covariance
from logger.night.analysis.night_comparison import NightVerdict, compare_records, night_level
from logger.night.analysis.night_record import NightRecord
from logger.settling.events import Settled
from scripts.bench.night_test import still_night, verdicts, wandering_volts

ALIKE_PAIRS = 100


def wandering(mean_volts, hours, rng, u_volts=0.02, hold_s=300.0):
    """A level that wanders for minutes around a mean, all of it still."""
    seconds = int(hours * 3600)
    volts = mean_volts + u_volts * wandering_volts(seconds, hold_s, rng)
    span = Settled(0, seconds - 1, mean_volts, 0.001, 5, seconds)
    return NightRecord(np.arange(seconds, dtype=float), volts, (span,), float(seconds))


def test_the_uncertainty_of_a_wandering_level_is_honest():
    """Over many nights the means scatter as their uncertainties predict.

    As independent samples they would have an uncertainty 20 times too small.
    """
    rng = np.random.default_rng(3)
    found = [night_level(wandering(0.3, 4.0, rng)) for _ in range(40)]
    scores = np.array([(level.volts - 0.3) / level.u_volts for level in found])
    assert 0.6 < np.sqrt((scores**2).mean()) < 1.6
    assert all(level.u_volts > 5 * 0.02 / (4 * 3600) ** 0.5 for level in found)


def test_breakers_off_is_distinguished_from_breakers_on_and_alike_nights_are_not():
    rng = np.random.default_rng(4)
    on, off, again = (wandering(v, 3.0, rng) for v in (0.35, 0.12, 0.35))
    fell = compare_records(on, off)
    assert fell.difference.volts == pytest.approx(-0.23, abs=0.03)
    assert fell.difference.significance < 1e-6 and fell.verdict is NightVerdict.LOWER
    assert compare_records(off, on).verdict is NightVerdict.HIGHER
    assert compare_records(on, again).verdict is NightVerdict.NOT_DISTINGUISHABLE


def test_a_night_with_hardly_any_still_time_has_no_level():
    rng = np.random.default_rng(5)
    assert night_level(wandering(0.3, 0.05, rng)) is None


@pytest.mark.parametrize(
    "time_s", [0.0, *(pytest.param(time_s, marks=pytest.mark.long) for time_s in (10.0, 600.0)), 1800.0]
)
def test_alike_nights_are_called_different_as_often_as_the_level_of_the_test_allows(time_s):
    """A few of 100 pairs: more than 11, or none at all, would be a chance of 1 in 150 at 5 %."""
    found = verdicts(ALIKE_PAIRS, time_s, seed=7)
    false = found[NightVerdict.LOWER] + found[NightVerdict.HIGHER]
    assert 1 <= false <= 11
    assert found[NightVerdict.NOT_COMPARABLE] <= 0.2 * ALIKE_PAIRS


def test_a_level_that_wanders_for_hours_gives_no_verdict():
    found = verdicts(20, 4 * 3600.0, seed=8)
    assert found[NightVerdict.NOT_COMPARABLE] >= 15
    rng = np.random.default_rng(9)
    first, second = still_night(8.0, 4 * 3600.0, rng), still_night(8.0, 4 * 3600.0, rng)
    assert compare_records(first, second).before.independent is False


def test_gaps_of_motion_do_not_make_the_level_surer():
    """The same still time spread over the night holds more independent pieces than in one stretch, never fewer."""
    rng = np.random.default_rng(10)
    whole = still_night(8.0, 600.0, rng)
    spread = tuple(Settled(s, s + 900.0, 0.3, 0.001, s + 5.0, 900) for s in np.arange(0.0, 28800.0, 3600.0))
    in_pieces = NightRecord(whole.times_s, whole.volts, spread, whole.end_s)
    one_stretch = NightRecord(
        whole.times_s, whole.volts, (Settled(0.0, 7200.0, 0.3, 0.001, 5.0, 7201),), whole.end_s
    )
    assert night_level(whole).u_volts < night_level(in_pieces).u_volts < night_level(one_stretch).u_volts


def test_constant_nights_differ_for_sure_by_scatter_alone():
    """What meter and count add is no matter of these numbers."""

    def steady(volts):
        times_s = np.arange(7200.0)
        return NightRecord(times_s, np.full(7200, volts), (Settled(0, 7199, volts, 0.001, 5, 7200),), 7200.0)

    found = compare_records(steady(0.300), steady(0.301))
    assert found.difference.u_volts == 0.0 and found.verdict is NightVerdict.HIGHER
    assert compare_records(steady(0.3), steady(0.3)).verdict is NightVerdict.NOT_DISTINGUISHABLE


def test_minutes_of_a_wandering_level_have_the_covariance_of_its_integral():
    """Summed numerically over both minutes."""
    time = 0.7
    middles = (np.arange(600) + 0.5) / 600
    variance, factor = (float(found[0]) for found in averaged_covariance(np.array([time])))
    for apart, expected in ((0, variance), (1, factor * np.exp(-1 / time)), (3, factor * np.exp(-3 / time))):
        summed = np.exp(-np.abs(middles[:, None] - middles - apart) / time).mean()
        assert expected == pytest.approx(summed, rel=1e-4)
