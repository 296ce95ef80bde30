"""A recording that begins by the clock before the last one ended says so; an imported trace has its own dates."""

from __future__ import annotations

import json
from dataclasses import replace
from types import SimpleNamespace

from logger.clock import NS_PER_S
from logger.recording.watch.set_back import clock_notice
from logger.visit.records.imported_trace import ImportedTrace
from logger.visit.records.recording_records import Run

HOUR_NS = 3600 * NS_PER_S
DAY_NS = 24 * HOUR_NS
RUN = Run(
    id=3, started_utc_ns=100 * DAY_NS, zone="UTC", utc_offset_s=0, port="/dev/a", settings="{}", software="",
    ended_utc_ns=100 * DAY_NS + HOUR_NS, end_reason="stopped",
)  # fmt: skip


def notice(now_utc_ns: int, run: Run = RUN, beat_utc_ns: int = 0) -> str:
    log = SimpleNamespace(
        runs=SimpleNamespace(all=lambda: [run]),
        recorder=SimpleNamespace(live=lambda: SimpleNamespace(run_id=3, beat_utc_ns=beat_utc_ns)),
    )
    found = clock_notice(log, "/dev/a", now_utc_ns)  # type: ignore[arg-type]
    return "" if found is None else found.message


def test_a_day_back_between_two_recordings_is_told_with_both_times():
    message = notice(99 * DAY_NS)
    assert "by 1 day and 1 h or more" in message and "start the recording again" in message
    assert notice(100 * DAY_NS + HOUR_NS) == notice(101 * DAY_NS + HOUR_NS) == ""


def test_years_ahead_of_the_last_recording_are_told_and_a_visit_of_months_is_not():
    message = notice(100 * DAY_NS + HOUR_NS + 1826 * DAY_NS)
    assert "1826 days after the last recording of this visit ended" in message
    assert notice(400 * DAY_NS) == ""


def test_what_counts_is_what_the_clock_showed_when_it_ended():
    assert notice(99 * DAY_NS + 2 * HOUR_NS, replace(RUN, clock_set_ns=-DAY_NS)) == "", (
        "set back while it ran"
    )
    cut_off = replace(RUN, ended_utc_ns=None)
    assert notice(100 * DAY_NS + HOUR_NS, cut_off, beat_utc_ns=100 * DAY_NS + 2 * HOUR_NS)


def test_an_imported_or_a_practice_recording_has_dates_of_its_own():
    trace = ImportedTrace("a.csv", "0" * 64, "1970-04-11T00:00:00+00:00")
    assert notice(99 * DAY_NS, replace(RUN, settings=json.dumps(trace.as_settings()))) == ""
    assert notice(99 * DAY_NS, replace(RUN, port="sim://evening")) == ""
