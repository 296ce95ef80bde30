"""Sleep, a clock that somebody set and a busy computer are told apart."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from logger.clock import NS_PER_S, ManualClock, SystemClock, format_duration
from logger.recording.watch.suspend import SuspendWatch


@pytest.fixture
def clock():
    return ManualClock()


def kinds(watch: SuspendWatch) -> list[str]:
    return [change.kind for change in watch.poll()]


def pass_time(watch: SuspendWatch, clock: ManualClock, seconds: float) -> list[str]:
    """An ordinary stretch, looked at once a second."""
    out = []
    for _ in range(round(seconds)):
        clock.advance_ns(NS_PER_S)
        out += kinds(watch)
    return out


def test_an_ordinary_night_says_nothing(clock):
    assert pass_time(SuspendWatch(clock), clock, 36_000) == []


def test_a_sleep_is_told_with_its_length_once(clock):
    watch = SuspendWatch(clock)
    pass_time(watch, clock, 60)
    clock.sleep_ns(80 * 60 * NS_PER_S)
    clock.advance_ns(NS_PER_S // 5)
    (change,) = watch.poll()
    assert change.kind == "sleep" and "1 h 20 min" in change.message and "gap" in change.message
    assert pass_time(watch, clock, 60) == []


@pytest.mark.parametrize(("by_s", "way"), [(3600, "forward"), (-3600, "back"), (0.7, "forward")])
def test_a_clock_that_was_set_is_no_sleep(clock, by_s, way):
    watch = SuspendWatch(clock)
    clock.set_utc_ns(clock.utc_ns() + round(by_s * NS_PER_S))
    (change,) = watch.poll()
    assert change.kind == "clock set" and way in change.message and f"{abs(by_s):.1f} s" in change.message


def test_a_clock_set_while_it_slept_gives_both(clock):
    watch = SuspendWatch(clock)
    clock.sleep_ns(600 * NS_PER_S)
    clock.set_utc_ns(clock.utc_ns() - 30 * NS_PER_S)
    assert kinds(watch) == ["sleep", "clock set"]


def test_a_busy_computer_is_neither(clock):
    watch = SuspendWatch(clock)
    clock.advance_ns(12 * NS_PER_S)
    (change,) = watch.poll()
    assert change.kind == "busy" and "12 s" in change.message


def test_daylight_saving_moves_no_clock():
    # From the zone database: in Vienna the clocks go back by an hour at 01:00 UTC on the last Sunday of October.
    vienna = ZoneInfo("Europe/Vienna")
    start = datetime(2025, 10, 25, 22, 0, tzinfo=vienna)
    clock = ManualClock(utc_ns=int(start.timestamp()) * NS_PER_S)
    watch = SuspendWatch(clock)
    assert pass_time(watch, clock, 10 * 3600) == []
    assert datetime.fromtimestamp(clock.utc_ns() / NS_PER_S, vienna).hour == 7, "nine hours by the wall clock"


def test_the_computers_own_clocks_go_together():
    watch = SuspendWatch(SystemClock())
    assert watch.poll() == []
    clock = SystemClock()
    assert clock.awake_ns() <= clock.steady_ns() + NS_PER_S, "time slept is never negative"


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(12.3, "12 s"), (99.6, "2 min"), (3570, "1 h"), (33_600, "9 h 20 min"), (86_400, "24 h")],
)
def test_lengths_as_people_say_them(seconds, text):
    assert format_duration(seconds) == text
